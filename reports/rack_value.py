"""What the rack holds and is worth, by species and thickness, and what lies longest."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.project import Project
from nesting.racked import board_in_unit, price_in
from reports.plaintext import aligned, counted, money
from reports.rack_views import feet
from stock.measures import BOARD_FEET_PER_M3, Unit, inch_in
from stock.rack_boards import RackBoard

_CENT = Decimal("0.01")


@dataclass(frozen=True, kw_only=True, slots=True)
class Holding:
    """Boards of one species and thickness.

    Attributes
    ----------
    feet
        Board feet, exact.
    money
        What those with a price are worth at it, exact.
    priceless
        How many have no price and are not in `money`.
    days
        Mean age in days, by board feet.
    oldest
        Greatest age in days.
    """

    species: str
    thickness: str
    boards: int
    feet: Fraction
    money: Fraction
    priceless: int
    days: int
    oldest: int


def priced(boards: Iterable[RackBoard], project: Project) -> tuple[RackBoard, ...]:
    """Return boards with what a project's yards ask as the price of those without one."""
    return tuple(_priced(one, project) for one in boards)


def holdings(boards: Iterable[RackBoard], day: str) -> tuple[Holding, ...]:
    """Return what lies on the rack by species and thickness, on a day."""
    kinds: dict[tuple[str, Fraction], list[RackBoard]] = {}
    for one in boards:
        inches = one.board.thickness.nominal / inch_in(one.unit)
        kinds.setdefault((one.board.species.casefold(), inches), []).append(one)
    return tuple(_holding(kinds[kind], day) for kind in sorted(kinds))


def worth(one: RackBoard) -> Fraction | None:
    """Return what a board is worth at its own price, exact; None without one."""
    price = one.board.price
    if price is None:
        return None
    per_foot = price / BOARD_FEET_PER_M3 if one.unit is Unit.MM else price
    return per_foot * one.feet


def age(one: RackBoard, day: str) -> int:
    """Return for how many days a board's wood has been in the shop."""
    came, now = (datetime.date.fromisoformat(text) for text in (one.since, day))
    return max(0, (now - came).days)


def value_text(boards: Sequence[RackBoard], day: str, longest: int) -> str:
    """Return the value of the rack as aligned columns, and the boards that lie longest."""
    if not boards:
        return "nothing lies on the rack"
    found = holdings(boards, day)
    heads = ("species", "thick", "boards", "board feet", "m3", "money", "no price",
             "days, mean", "oldest")  # fmt: skip
    rows = [
        (one.species, one.thickness, str(one.boards), feet(one.feet), _volume(one.feet),
         _money(one.money), str(one.priceless or ""), str(one.days), str(one.oldest))
        for one in found
    ]  # fmt: skip
    every = sum((one.feet for one in found), Fraction(0))
    amount = sum((one.money for one in found), Fraction(0))
    priceless = sum(one.priceless for one in found)
    rows.append(
        ("together", "", str(len(boards)), feet(every), _volume(every), _money(amount),
         str(priceless or ""), "", "")
    )  # fmt: skip
    lines = [aligned(heads, rows, heads[2:])]
    if priceless:
        few = counted(priceless, "board")
        lines.append(f"{few} without a price: not counted in the money")
    lines += ["", "what has lain longest:", _longest(boards, day, longest)]
    return "\n".join(lines)


def _priced(one: RackBoard, project: Project) -> RackBoard:
    asked = project.tariff.asked(board_in_unit(one, project.unit))
    if one.board.price is not None or asked is None:
        return one
    return one.with_board(price=price_in(asked, project.unit, one.unit))


def _holding(boards: Sequence[RackBoard], day: str) -> Holding:
    known = [value for value in map(worth, boards) if value is not None]
    every = sum((one.feet for one in boards), Fraction(0))
    weighed = sum((one.feet * age(one, day) for one in boards), Fraction(0))
    return Holding(
        species=boards[0].board.species,
        thickness=boards[0].board.thickness.label,
        boards=len(boards),
        feet=every,
        money=sum(known, Fraction(0)),
        priceless=len(boards) - len(known),
        days=round(weighed / every) if every else 0,
        oldest=max(age(one, day) for one in boards),
    )


def _longest(boards: Iterable[RackBoard], day: str, most: int) -> str:
    """Return the boards that lie longest, the oldest first."""
    oldest = sorted(boards, key=lambda one: (one.since, one.name))[:most]
    heads = ("board", "place", "species", "thick", "board feet", "since", "days")
    rows = [
        (one.name, one.board.place or "", one.board.species, one.board.thickness.label,
         feet(one.feet), one.since, str(age(one, day)))
        for one in oldest
    ]  # fmt: skip
    return aligned(heads, rows, ("board feet", "days"))


def _volume(amount: Fraction) -> str:
    return f"{float(amount / BOARD_FEET_PER_M3):.4f}"


def _money(amount: Fraction) -> str:
    return money((Decimal(amount.numerator) / amount.denominator).quantize(_CENT))
