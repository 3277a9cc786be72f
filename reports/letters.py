"""The letters of drawings: the face that Pillow ships, its measures, what it can print."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from PIL import ImageFont

DPI = 200
PER_POINT = DPI / 72  # pixels


def text_width(text: str, size: float) -> float:
    """Return the width of a text on paper, in points."""
    return font_of(size).getlength(printable(text)) / PER_POINT


def fitted_size(
    text: str, room: float, high: float, *, largest: float = 9.0
) -> float | None:
    """Return the largest size from `largest` down to 6 at which a text fits, or None.

    `room` and `high` are the free width and height in points.
    """
    size = largest
    while size >= 6.0:
        if size + 1.0 <= high and text_width(text, size) + 3.0 <= room:
            return size
        size -= 0.5
    return None


@lru_cache(maxsize=32)
def font_of(size: float) -> ImageFont.FreeTypeFont:
    """Return the face that Pillow ships, `size` in points on paper."""
    font = ImageFont.load_default(size * PER_POINT)
    if not isinstance(font, ImageFont.FreeTypeFont):  # pragma: no cover
        raise TypeError("Pillow was built without FreeType, which drawings need")
    return font


def printable(text: str) -> str:
    """Return a text in the letters that the face holds; accents and fractions unfold."""
    plain = unicodedata.normalize("NFKD", text.replace("\N{MULTIPLICATION SIGN}", "x"))
    plain = plain.replace("\N{FRACTION SLASH}", "/")
    kept = "".join(char for char in plain if not unicodedata.combining(char))
    return "".join(char if " " <= char <= "~" else "?" for char in kept)
