"""Tables in Markdown, and what stands in their cells."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from decimal import Decimal


def markdown(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table as Markdown."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def percent(share: float | None, places: int = 1) -> str:
    """Return a share of one as a percentage; a dash if there is none."""
    return "-" if share is None else f"{100 * share:.{places}f} %"


def number(value: float | Decimal | None, places: int) -> str:
    """Return a number with so many decimals; a dash if there is none."""
    return "-" if value is None else f"{value:.{places}f}"


def median(values: Iterable[float | Decimal | None]) -> float | None:
    """Return the median of the values that are there; None if there are none."""
    known = [float(value) for value in values if value is not None]
    return statistics.median(known) if known else None
