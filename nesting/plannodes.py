"""One place in a plan file: typed getters that collect faults and never raise."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from decimal import Decimal, DecimalException
from typing import TypeVar

from stock.errors import Fault, InputError
from stock.measures import Unit, steps_per_unit

_TOLERANCE = Decimal("1e-6")  # of a grid step: what a float may lose on its way
_LARGEST = 10**9
_TINIEST = -15  # decimal place below which an amount is nothing
_T = TypeVar("_T")
_MISSING = object()  # nothing stands at a key
_ABSENT = object()  # stands in for an object whose absence is already told


@dataclass(frozen=True, slots=True)
class Node:
    """A value of a plan file with its path; getters name the key they read.

    Attributes
    ----------
    path
        Where it stands, as in `boards[0].cuts[2]`; empty for the whole file.
    unit
        Unit that lengths are numbers in.
    found
        Faults by place and rule, shared by all nodes of a file.
    """

    value: object
    path: str
    unit: Unit
    found: dict[tuple[str, str], Fault] = field(repr=False)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault found so far, in the order in which they were met."""
        return tuple(self.found.values())

    def fault(self, key: str, rule: str) -> None:
        """Note that the value at `key` breaks `rule`."""
        place = self._place(key)
        got = self._get(key)
        shown = str(got)[:60] if isinstance(got, str | int | Decimal) else None
        self.found.setdefault(
            (place, rule), Fault(f"plan file, {place or 'top'}", None, None, rule, shown)
        )

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text."""
        value = self._get(key, default)
        return value if isinstance(value, str) else self._wrong(key, "must be a text", "")

    def word(self, key: str, words: tuple[str, ...]) -> str:
        """Return one of `words`."""
        value = self._get(key)
        if not isinstance(value, str):
            return self.text(key)
        return (
            value if value in words else self._wrong(key, f"must be {_any_of(words)}", "")
        )

    def word_or_none(self, key: str, words: tuple[str, ...]) -> str | None:
        """Return one of `words`, or None where the key is missing or null."""
        return None if self._is_blank(key) else self.word(key, words)

    def flag(self, key: str, *, default: bool | None = None) -> bool:
        """Return true or false."""
        value = self._get(key, default)
        if isinstance(value, bool):
            return value
        return self._wrong(key, "must be true or false", value=False)

    def number(self, key: str, default: Decimal | None = None) -> Decimal:
        """Return a number of ordinary size."""
        value = self._get(key, default)
        if default is not None and value is default:
            return default
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            return self._wrong(key, "must be a number", Decimal(0))
        number = Decimal(value)
        if not number.is_finite() or number.copy_abs() > _LARGEST:
            return self._wrong(key, f"must not pass {_LARGEST}", Decimal(0))
        return number if number.adjusted() > _TINIEST else Decimal(0)

    def number_or_none(self, key: str) -> Decimal | None:
        """Return a number, or None where the key is missing or null."""
        return None if self._is_blank(key) else self.number(key)

    def integer(self, key: str, default: int | None = None) -> int:
        """Return a whole number."""
        value = self.number(key, None if default is None else Decimal(default))
        whole = int(value)
        return whole if whole == value else self._wrong(key, "must be a whole number", 0)

    def length(self, key: str, default: int | None = None) -> int:
        """Return a length in grid steps; a length between two steps is a fault."""
        if default is not None and self._get(key) is _MISSING:
            return default
        steps = self.number(key) * steps_per_unit(self.unit)
        nearest = round(steps)
        if abs(steps - nearest) > _TOLERANCE:
            grid = "1/64 in" if self.unit is Unit.INCH else "0.1 mm"
            self.fault(key, f"must be a whole multiple of {grid}")
        return nearest

    def rectangle(self) -> dict[str, int]:
        """Return `x, y, length, width` in grid steps."""
        return {key: self.length(key) for key in ("x", "y", "length", "width")}

    def child(self, key: str) -> Node:
        """Return the object at `key`."""
        value = self._get(key)
        if not isinstance(value, dict):
            self.fault(key, "must be an object")
            value = _ABSENT
        return Node(value, self._place(key), self.unit, self.found)

    def items(self, key: str, *, optional: bool = False) -> tuple[Node, ...]:
        """Return what the list at `key` holds; nothing if it may be missing and is."""
        value = self._get(key)
        if value is _MISSING and optional:
            return ()
        if not isinstance(value, list):
            return self._wrong(key, "must be a list", ())
        return tuple(
            Node(item, f"{self._place(key)}[{index}]", self.unit, self.found)
            for index, item in enumerate(value)
        )

    def texts(self, key: str) -> tuple[str, ...]:
        """Return the texts of a list that may be missing."""
        nodes = self.items(key, optional=True)
        return tuple(node.text("") for node in nodes)

    def integers(self, key: str) -> tuple[int, ...]:
        """Return the whole numbers of a list that may be missing."""
        nodes = self.items(key, optional=True)
        return tuple(node.integer("") for node in nodes)

    def names(self) -> tuple[str, ...]:
        """Return the texts that this node, a list, holds."""
        return tuple(node.text("") for node in self.items(""))

    def _get(self, key: str, default: object = None) -> object:
        """Return the value at `key` (of this node itself for the empty key)."""
        if not key:
            return self.value
        missing = _MISSING if default is None else default
        return self.value.get(key, missing) if isinstance(self.value, dict) else missing

    def _is_blank(self, key: str) -> bool:
        return self._get(key) in (None, _MISSING)

    def _place(self, key: str) -> str:
        return ".".join(word for word in (self.path, key) if word)

    def _wrong(self, key: str, rule: str, value: _T) -> _T:
        """Note a fault and return a stand-in, so that reading goes on."""
        if self.value is not _ABSENT:
            missing = self._get(key) is _MISSING
            self.fault(key, f"is missing: {rule}" if missing else rule)
        return value


def root_node(text: str, unit: Unit) -> Node:
    """Return the top of a plan file; InputError if the text is no JSON object."""
    try:
        value = json.loads(text, parse_float=Decimal, parse_constant=_no_constant)
    except (ValueError, RecursionError, DecimalException) as error:
        raise InputError([Fault("plan file", None, None, _unreadable(error))]) from None
    if not isinstance(value, dict):
        raise InputError([Fault("plan file", None, None, "must be an object in braces")])
    return Node(value, "", unit, {})


def _unreadable(error: Exception) -> str:
    """Say why a text is no JSON, in words that do not depend on the reader's insides."""
    if isinstance(error, json.JSONDecodeError):
        return (
            f"is no JSON at line {error.lineno}, column {error.colno}: {error.msg.lower()}"
        )
    if isinstance(error, RecursionError):
        return "is nested too deeply for a plan"
    return "holds a number that no plan can have"


def _any_of(words: tuple[str, ...]) -> str:
    return " or ".join(repr(word) for word in words)


def _no_constant(word: str) -> object:
    raise ValueError(f"{word} is no number")
