"""How many lines a text takes in a cell, so that a row is made high enough for it.

A spreadsheet does not make rows higher when a file is opened, so this is worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

# Widths of Arial in thousandths of its size, from a space to a tilde: those of Helvetica
# in Adobe's font metrics (Core 14 AFM files), which Arial shares.
_WIDTHS = (
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
)  # fmt: skip
_DIGIT = 556
_OTHER = 1000  # a letter we have no width of is taken as a wide one
_BOLD = 1.1


def text_units(text: str, scale: float = 1.0) -> float:
    """Return the width of a text in digits of plain cell text, the unit of columns.

    `scale` is the size of its letters over that of plain cell text.
    """
    return scale * sum(map(_width, text)) / _DIGIT


def lines_of(text: str, units: float, *, scale: float = 1.0, bold: bool = False) -> int:
    """Return how many lines a text takes in `units` of free width; words stay whole."""
    size = scale * (_BOLD if bold else 1.0)
    return sum(_lines_of_words(line.split(), units, size) for line in text.split("\n"))


def _lines_of_words(words: Sequence[str], units: float, size: float) -> int:
    """Return the lines that words take when filled one after the other."""
    room, space = max(4.0, units), text_units(" ", size)
    lines, filled = 1, 0.0
    for word in words:
        wide = text_units(word, size)
        if filled and filled + space + wide > room:
            lines, filled = lines + 1, 0.0
        filled += wide + (space if filled else 0.0)
        if filled > room:
            extra = math.ceil(filled / room) - 1
            lines, filled = lines + extra, filled - extra * room
    return lines


def _width(letter: str) -> int:
    """Return the width of a letter in thousandths of its size."""
    at = ord(letter) - ord(" ")
    return _WIDTHS[at] if 0 <= at < len(_WIDTHS) else _OTHER
