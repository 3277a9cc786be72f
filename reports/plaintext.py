"""Plain text for the screen: aligned columns and amounts that a pipe can read."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from stock.measures import BOARD_FEET_PER_M3, Unit

SCREEN = 88
GUTTER = "  "


def aligned(
    headings: Sequence[str], rows: Iterable[Sequence[str]], numbers: Iterable[str] = ()
) -> str:
    """Return a table of aligned columns, headings first.

    Parameters
    ----------
    numbers
        Headings of the columns that are set flush right.
    """
    table = [tuple(headings), *(tuple(row) for row in rows)]
    right = set(numbers)
    widths = [max(len(row[place]) for row in table) for place in range(len(headings))]
    return "\n".join(
        GUTTER.join(
            cell.rjust(width) if heading in right else cell.ljust(width)
            for heading, width, cell in zip(headings, widths, row, strict=True)
        ).rstrip()
        for row in table
    )


def labelled(lines: Iterable[tuple[str, str]]) -> str:
    """Return label and text pairs, the texts aligned and wrapped to the screen."""
    pairs = tuple(lines)
    indent = max(len(label) for label, _ in pairs) + len(GUTTER)
    return "\n".join(
        textwrap.fill(
            text,
            width=SCREEN,
            initial_indent=label.ljust(indent),
            subsequent_indent=" " * indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
        for label, text in pairs
    )


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun: `1 board`, `3 boards`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def named(names: Iterable[str], most: int = 6) -> str:
    """Return names in a row, the surplus only counted."""
    unique = list(dict.fromkeys(names))
    words = ", ".join(unique[:most])
    return words if len(unique) <= most else f"{words} and {len(unique) - most} more"


def ranged(names: Iterable[str], between: str = "; ") -> str:
    """Return names in a row, those that count on from each other as one: `Leg 1 to 4`."""
    spans: list[list[str]] = []
    for name in names:
        if spans and _counts_on(spans[-1][-1], name):
            spans[-1].append(name)
        else:
            spans.append([name])
    words = []
    for span in spans:
        last = re.sub(r".*\D", "", span[-1])
        words += [f"{span[0]} to {last}"] if len(span) > 2 else span
    return between.join(words)


def in_order(names: Iterable[str]) -> list[str]:
    """Return names sorted with their numbers as numbers: `Leg 2` before `Leg 10`."""
    return sorted(
        names,
        key=lambda name: [
            (word.isdigit(), int(word) if word.isdigit() else 0, word)
            for word in re.split(r"(\d+)", name)
        ],
    )


def _counts_on(name: str, following: str) -> bool:
    """Whether two names differ by one in the number that ends them."""
    one, other = (re.fullmatch(r"(.*\D)(\d+)", each) for each in (name, following))
    if not one or not other or one[1] != other[1]:
        return False
    return int(other[2]) == int(one[2]) + 1


def money(amount: Decimal) -> str:
    """Return money with two places; no currency is named, for the project names none."""
    return f"{amount:,.2f}"


def wood(feet: Fraction, unit: Unit) -> str:
    """Return an amount of wood in board feet, in a metric project in cubic metres too."""
    text = f"{float(feet):.1f} board feet"
    if unit is Unit.INCH:
        return text
    return f"{float(feet / BOARD_FEET_PER_M3):.3f} m3 ({text})"


def percent(share: float) -> str:
    """Return a share as a percentage with one place."""
    return f"{100 * share:.1f} %"
