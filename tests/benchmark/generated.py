"""Whole projects of our own making, the same for the same size and seed.

All wood, prices and parts are invented. Boards are straight-edged and of the size of
grade FAS (6 in x 8 ft at least: AHEC grade summary of the NHLA rules); how sizes spread is
our guess. The yard asks 9 per board foot, the rack is charged at 2. No blank is short, so
that no gangs are needed, which the simple planners do not know.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.parts import Part
from nesting.project import Project
from stock.boards import RACK, Board, Mark, Thickness
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price, Yard

INCH = 64
EIGHTH, QUARTER = INCH // 8, INCH // 4
YARD = "Invented yard"
SPECIES = "white oak"
FOUR_QUARTERS = Thickness(Fraction(1), "4/4")
ASKED, CHARGED = 9, 2  # per board foot at the yard, and of the rack


@dataclass(frozen=True, slots=True)
class Size:
    """How large a project is: pieces, panels, boards, and the most copies of one part."""

    parts: int
    panels: int
    boards: int
    most: int


SIZES = {
    "small": Size(parts=20, panels=5, boards=16, most=4),
    "medium": Size(parts=78, panels=14, boards=40, most=6),
    "large": Size(parts=1509, panels=206, boards=516, most=16),
    "huge": Size(parts=5994, panels=798, boards=2000, most=30),
}


def project_for(name: str, seed: int, *, marks: bool = False) -> Project:
    """Return the project of a named size and a seed."""
    return project_of(SIZES[name], seed, marks=marks, name=f"{name} {seed}")


def project_of(size: Size, seed: int, *, marks: bool, name: str = "generated") -> Project:
    """Return a project of any size; marks do not change parts and boards otherwise."""
    rng = random.Random(f"{size} {seed}")
    parts = [
        *(_solid(rng, f"Part {n}", qty) for n, qty in _lots(rng, size.parts, size.most)),
        *(_panel(rng, f"Panel {n}", qty) for n, qty in _lots(rng, size.panels, size.most)),
    ]
    boards = tuple(_board(rng, f"B{n}") for n in range(1, size.boards + 1))
    if marks:
        spots = random.Random(f"marks {size} {seed}")
        boards = tuple(replace(one, marks=_marks(spots, one)) for one in boards)
    # the reader's own range does not matter here: 9 per board foot x 200/9 percent = 2
    shop = replace(default_shop(Unit.INCH), rack_value=Fraction(100 * CHARGED, ASKED))
    price = Price(
        yard=YARD, species=SPECIES, thickness=FOUR_QUARTERS, price=Fraction(ASKED)
    )
    return Project(
        name=name, shop=shop, parts=tuple(parts), boards=boards,
        yards=(Yard(name=YARD, trip_cost=Fraction(12)),), prices=(price,),
    )  # fmt: skip


def _lots(rng: random.Random, total: int, most: int) -> list[tuple[int, int]]:
    """Return numbered quantities, 1 to `most` each, that add up to `total`."""
    found: list[tuple[int, int]] = []
    while total > 0:
        qty = min(total, rng.randint(1, most))
        found.append((len(found) + 1, qty))
        total -= qty
    return found


def _solid(rng: random.Random, name: str, qty: int) -> Part:
    return Part(
        name=name, qty=qty, species=SPECIES, build="solid", thickness=3 * QUARTER,
        length=rng.randint(12 * 8, 54 * 8) * EIGHTH,
        width=round(rng.triangular(1.5, 7, 2.5) * 8) * EIGHTH,
        face=rng.choices(["show", "second", "hidden"], [6, 3, 1])[0],
    )  # fmt: skip


def _panel(rng: random.Random, name: str, qty: int) -> Part:
    return Part(
        name=name, qty=qty, species=SPECIES, build="panel", thickness=3 * QUARTER,
        length=rng.randint(15 * 8, 60 * 8) * EIGHTH,
        width=rng.randint(9 * 8, 24 * 8) * EIGHTH,
    )  # fmt: skip


def _board(rng: random.Random, name: str) -> Board:
    feet = rng.choices(range(8, 15), [2, 1, 4, 1, 4, 1, 2])[0]
    width = round(rng.triangular(6, 13, 7.5) * 8) * EIGHTH
    return Board(
        name=name, where=RACK if rng.random() < 0.3 else YARD, species=SPECIES,
        thickness=FOUR_QUARTERS, length=feet * 12 * INCH + rng.randint(0, 8) * QUARTER,
        width=width, width2=width, grade="FAS",
    )  # fmt: skip


def _marks(rng: random.Random, board: Board) -> tuple[Mark, ...]:
    """Return up to three marks, 1.7 on average, of a few square inches each."""
    found = []
    for _ in range(rng.choices([0, 1, 2, 3], [1, 3, 4, 2])[0]):
        start = rng.randint(0, board.length - 6 * INCH)
        low = rng.randint(0, board.width - 2 * INCH)
        found.append(
            Mark(
                kind=rng.choice(["knot", "knot", "check", "stain"]),
                start=start, end=start + rng.randint(4, 20) * QUARTER,
                low=low, high=low + rng.randint(2, 8) * QUARTER,
            )
        )  # fmt: skip
    return tuple(found)
