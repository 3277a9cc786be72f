"""Text to grid steps and back; the only module that knows the grid.

A measure is an exact whole number of grid steps: 1/64 in, or 0.1 mm. What is needed is
rounded up to the grid, what is there is rounded down.
"""

from __future__ import annotations

import datetime
import enum
import math
import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

MM_PER_INCH = Fraction(254, 10)
BOARD_FEET_PER_M3 = Fraction(10**9) / (MM_PER_INCH**3 * 144)

LARGEST = 1_000_000  # of the project's unit: beyond any board, so a slip of the keys

_EXAMPLES = {
    "in": "write it like 23 1/4, 7' 6\" or 590 mm",
    "mm": "write it like 590, 59 cm or 23 1/4 in",
}
_UNIT_WORDS = {
    "in": "in", "inch": "in", "inches": "in", '"': "in",
    "ft": "ft", "foot": "ft", "feet": "ft", "'": "ft",
    "mm": "mm", "cm": "cm", "m": "m",
}  # fmt: skip
_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
}

_AMOUNT = r"\d+(?:\s+|\s*-\s*)\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+\.?\d*|\.\d+"
_SIZE = re.compile(rf"(?P<amount>{_AMOUNT})\s*(?P<unit>[a-z\"']*)\.?")
_FEET = re.compile(
    rf"(?P<feet>{_AMOUNT})\s*(?:ft|foot|feet|')\.?\s*-?\s*"
    rf"(?P<inches>{_AMOUNT})\s*(?:in|inch|inches|\")?\.?"
)
_QUARTERS = re.compile(r"([1-9]\d?)\s*/\s*4")


class MeasureError(ValueError):
    """Something that can't be read as a measure; the message says what would be right."""


class Unit(enum.Enum):
    """The unit a project is written in."""

    INCH = "in"
    MM = "mm"


def steps_per_unit(unit: Unit) -> int:
    """Return how many grid steps make one inch or one millimetre."""
    return 64 if unit is Unit.INCH else 10


def need_steps(size: Fraction, unit: Unit) -> int:
    """Return `size` (in the project's unit) in grid steps, rounded up."""
    return math.ceil(size * steps_per_unit(unit))


def supply_steps(size: Fraction, unit: Unit) -> int:
    """Return `size` (in the project's unit) in grid steps, rounded down."""
    return math.floor(size * steps_per_unit(unit))


def to_unit(steps: int, unit: Unit) -> float:
    """Return grid steps as a number in the project's unit."""
    return steps / steps_per_unit(unit)


def inch_in(unit: Unit) -> Fraction:
    """Return one inch in the project's unit."""
    return MM_PER_INCH if unit is Unit.MM else Fraction(1)


def parse_measure(value: object, unit: Unit) -> Fraction:
    """Return a measure in the project's unit, exact.

    Accepts numbers (a float counts as the decimal it prints as, so 0.1 is 1/10) and texts
    like `23 1/4`, `7' 6"`, `7 ft 6 in`, `590 mm`, `1.2 m`. A text without a unit is in
    the project's unit.

    Raises
    ------
    MeasureError
        If the value is no size of wood: negative, not finite, a date, a truth value,
        empty, written with a decimal comma, or not a measure at all.
    """
    size = _from_text(value, unit) if isinstance(value, str) else _from_number(value, unit)
    if size > LARGEST:
        raise MeasureError(f"a measure is at most {LARGEST} {unit.value}")
    return size


def parse_thickness(value: object, unit: Unit) -> tuple[Fraction, str]:
    """Return a thickness in the project's unit, exact, and how the trade names it.

    `4/4`, `5/4`, `8/4` are quarters of an inch whatever the project's unit is; all else
    is read as `parse_measure` reads it.

    Raises
    ------
    MeasureError
        If the value is no measure, or zero.
    """
    if isinstance(value, str):
        quarters = _QUARTERS.fullmatch(_plain(value))
        if quarters:
            count = int(quarters[1])
            return Fraction(count, 4) * inch_in(unit), f"{count}/4"
    size = parse_measure(value, unit)
    if size == 0:
        raise MeasureError("a thickness is more than 0")
    label = value.strip() if isinstance(value, str) else _decimal_text(size)
    return size, label


def format_measure(steps: int, unit: Unit, denominator: int = 16) -> str:
    """Return grid steps as a maker writes them, without the unit.

    Inches are reduced mixed fractions, rounded to the nearest 1/`denominator` (halves
    up; 64 is exact). Millimetres are whole, with one decimal where they are not.
    """
    if unit is Unit.MM:
        whole, tenth = divmod(abs(steps), 10)
        text = f"{whole}.{tenth}" if tenth else str(whole)
    else:
        ticks = math.floor(Fraction(abs(steps) * denominator, 64) + Fraction(1, 2))
        text = _mixed(Fraction(ticks, denominator))
    return f"-{text}" if steps < 0 and text != "0" else text


def _from_number(value: object, unit: Unit) -> Fraction:
    """Read a number from a cell; anything else is refused with the reason."""
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        raise MeasureError(
            "a measure is expected, but the spreadsheet made a date of it: "
            "give the cell the format 'text' and type it again"
        )
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | Fraction):
        raise MeasureError(f"a measure is a number or a text: {_EXAMPLES[unit.value]}")
    if isinstance(value, float | Decimal) and not math.isfinite(value):
        raise MeasureError("a measure is a finite number")
    size = Fraction(repr(value)) if isinstance(value, float) else Fraction(value)
    if size < 0:
        raise MeasureError("a measure is not negative")
    return size


def _from_text(text: str, unit: Unit) -> Fraction:
    """Read a text such as `23 1/4`, `7' 6"` or `590 mm`."""
    plain = _plain(text)
    _refuse_slips(plain, unit)
    feet = _FEET.fullmatch(plain)
    if feet:
        inches = 12 * _amount(feet["feet"]) + _amount(feet["inches"])
        return _convert(inches, "in", unit)
    size = _SIZE.fullmatch(plain)
    if not size:
        raise MeasureError(f"not a measure: {_EXAMPLES[unit.value]}")
    word = size["unit"]
    if word and word not in _UNIT_WORDS:
        raise MeasureError(f"unknown unit {word!r}: use in, ft, mm, cm or m")
    return _convert(_amount(size["amount"]), _UNIT_WORDS.get(word, unit.value), unit)


def _refuse_slips(plain: str, unit: Unit) -> None:
    """Refuse the usual slips with a message of their own."""
    if not plain:
        raise MeasureError(f"a measure is missing: {_EXAMPLES[unit.value]}")
    if len(plain) > 40:
        raise MeasureError(f"too long for a measure: {_EXAMPLES[unit.value]}")
    if re.search(r"\d\s*,\s*\d", plain):
        raise MeasureError(
            "write decimals with a point, not a comma (7.5), and no thousands mark"
        )
    if plain.startswith("-"):
        raise MeasureError("a measure is not negative")


def _plain(text: str) -> str:
    """Return a text in lower case ASCII: fractions, primes, dashes and spaces unified."""
    spread = "".join(
        f" {char}" if unicodedata.decomposition(char).startswith("<fraction>") else char
        for char in text.strip()
    )
    plain = unicodedata.normalize("NFKC", spread).lower()
    for odd, usual in _ODD_MARKS.items():
        plain = plain.replace(odd, usual)
    return " ".join(plain.split())


_ODD_MARKS = {
    "\N{FRACTION SLASH}": "/",
    "\N{DIVISION SLASH}": "/",
    "\N{MINUS SIGN}": "-",
    "\N{EN DASH}": "-",
    "\N{HYPHEN}": "-",
    "\N{NON-BREAKING HYPHEN}": "-",
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{DOUBLE PRIME}": '"',
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{LEFT SINGLE QUOTATION MARK}": "'",
    "\N{PRIME}": "'",
    "''": '"',
}


def _amount(text: str) -> Fraction:
    """Return the value of `23 1/4`, `23-1/4`, `1/2`, `7.5` or `12`."""
    whole, slash, below = text.partition("/")
    if not slash:
        return Fraction(Decimal(text))
    words = whole.replace("-", " ").split()
    if int(below) == 0:
        raise MeasureError("the lower number of a fraction is not 0")
    return (Fraction(words[0]) if len(words) == 2 else Fraction(0)) + Fraction(
        int(words[-1]), int(below)
    )


def _convert(amount: Fraction, word: str, unit: Unit) -> Fraction:
    """Return an amount given in `word` in the project's unit."""
    return amount * _MM[word] / _MM[unit.value]


def _mixed(number: Fraction) -> str:
    """Return a number as a mixed fraction: `23 1/4`, `1/2`, `7`."""
    whole, rest = divmod(number, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def _decimal_text(number: Fraction) -> str:
    """Return a number as a short decimal: `27`, `20.5`."""
    return f"{float(number):.6f}".rstrip("0").rstrip(".")
