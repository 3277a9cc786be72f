"""Errors that a maker can act on: what is wrong, where, and what would be right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class ShopError(Exception):
    """Anything stavewright has to tell its user; never a bug of its own."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in one place of an input file.

    Attributes
    ----------
    source
        Sheet of a workbook or name of a CSV file, as the user knows it.
    row
        Row number as a spreadsheet shows it (headings are row 1), or None.
    column
        Column heading, or None where the whole row or sheet is meant.
    rule
        What is accepted: a lower-case sentence without a full stop.
    got
        What stood there, or None.
    """

    source: str
    row: int | None
    column: str | None
    rule: str
    got: str | None = None

    def __str__(self) -> str:
        """Return the fault as one line: place, rule, what was got."""
        place = self.source
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", column {self.column!r}"
        line = f"{place}: {self.rule}"
        return line if self.got is None else f"{line}, got {self.got!r}"


class InputError(ShopError, ValueError):
    """Input that can't be used; carries every fault that was found, in file order."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class VerificationError(ShopError):
    """A plan of our own that the verifier refused: a bug, so nothing is written."""

    def __init__(self, violations: Iterable[object]) -> None:
        self.violations: tuple[object, ...] = tuple(violations)
        super().__init__("\n".join(str(violation) for violation in self.violations))
