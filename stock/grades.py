"""NHLA grades: the smallest board, the clear wood it must hold and in how many pieces.

Rules as the trade prints them (grade summary of the American Hardwood Export Council
and a merchant's chart of the NHLA rule book); a grader's full rules know more: the 97 %
rule, boards over 17 ft, species that are graded otherwise. Sizes are in inches, exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

KILN_DRIED_SCANT = Fraction(1, 4)  # of the least width (NHLA rules 2023, kiln dried rule)

Cutting = tuple[Fraction, Fraction]  # width and length of one clear piece


@dataclass(frozen=True, kw_only=True, slots=True)
class Grade:
    """What a grade asks of one face of a board.

    Attributes
    ----------
    width, feet
        Smallest board: inches wide, feet long.
    cuttings
        Smallest clear pieces, any of them: inches wide, feet long.
    factor
        Cutting units needed per square foot of surface measure.
    offset, divisor, most
        Pieces allowed: (surface measure + offset) / divisor, at most `most`; a divisor
        of 0 sets no limit.
    extra_from, extra_to, extra_factor
        Surface measures at which one more piece is allowed if it then holds
        `extra_factor` units per square foot; no such measures if `extra_factor` is 0.
    is_sound
        Whether the pieces need only be sound, not clear.
    """

    name: str
    width: int
    feet: int
    cuttings: tuple[tuple[int, int], ...]
    factor: int
    offset: int = 0
    divisor: int = 0
    most: int = 0
    extra_from: int = 0
    extra_to: int = 0
    extra_factor: int = 0
    is_sound: bool = False


_FAS = Grade(
    name="FAS", width=6, feet=8, cuttings=((4, 5), (3, 7)), factor=10,
    divisor=4, most=4, extra_from=6, extra_to=15, extra_factor=11,
)  # fmt: skip
_1C = Grade(
    name="1C", width=3, feet=4, cuttings=((4, 2), (3, 3)), factor=8,
    offset=1, divisor=3, most=5, extra_from=3, extra_to=10, extra_factor=9,
)  # fmt: skip
_2A = Grade(
    name="2A", width=3, feet=4, cuttings=((3, 2),), factor=6,
    divisor=2, most=7, extra_from=2, extra_to=7, extra_factor=8,
)  # fmt: skip
_2B = Grade(
    name="2B", width=3, feet=4, cuttings=((3, 2),), factor=6,
    divisor=2, most=7, extra_from=2, extra_to=7, extra_factor=8, is_sound=True,
)  # fmt: skip
_3A = Grade(name="3A", width=3, feet=4, cuttings=((3, 2),), factor=4)
_SEL = Grade(
    name="SEL", width=4, feet=6, cuttings=((4, 5), (3, 7)), factor=10,
    divisor=4, most=4, extra_from=6, extra_to=15, extra_factor=11,
)  # fmt: skip

_BOTH_FACES = {
    "FAS": (_FAS, _FAS), "F1F": (_FAS, _1C), "SEL": (_SEL, _1C),
    "1C": (_1C, _1C), "2A": (_2A, _2A), "2B": (_2B, _2B), "3A": (_3A, _3A),
}  # fmt: skip
_SMALL_BOARDS = {("1C", 1): 12, ("1C", 2): 9, ("2A", 1): 8, ("SEL", 2): 11, ("SEL", 3): 11}


def faces(name: str) -> tuple[Grade, Grade]:
    """Return what a grade asks of the better and of the poorer face.

    The poorer face settles FAS and the commons; F1F and selects have an FAS better face
    and a No. 1 Common poorer one. KeyError if there is no such grade.
    """
    return _BOTH_FACES[name]


def cutting_units(width: Fraction, length: Fraction) -> Fraction:
    """Return the cutting units of a piece: one is an inch by a foot, 12 square inches."""
    return width * length / 12


def units_needed(grade: Grade, surface: int) -> int:
    """Return the cutting units a face of this surface measure must hold."""
    return surface * _SMALL_BOARDS.get((grade.name, surface), grade.factor)


def cuttings_allowed(grade: Grade, surface: int) -> int | None:
    """Return in how many pieces the units may be cut, one at least; None for any number.

    The division drops its fraction (NHLA rules, from memory).
    """
    if not grade.divisor:
        return None
    return max(1, min(grade.most, (surface + grade.offset) // grade.divisor))


def with_extra_cutting(grade: Grade, surface: int) -> tuple[int, int] | None:
    """Return units and pieces if one more piece is taken; None where that isn't allowed."""
    allowed = cuttings_allowed(grade, surface)
    if allowed is None or not grade.extra_from <= surface <= grade.extra_to:
        return None
    return surface * grade.extra_factor, allowed + 1


def admits_board(
    grade: Grade, width: Fraction, length: Fraction, *, is_kiln_dried: bool = True
) -> bool:
    """Whether a board is large enough for a grade; dried boards may be 1/4 in scant."""
    scant = KILN_DRIED_SCANT if is_kiln_dried else Fraction(0)
    return width + scant >= grade.width and length >= grade.feet * 12


def admits_cutting(grade: Grade, cutting: Cutting) -> bool:
    """Whether a clear piece is large enough to count for a grade."""
    width, length = cutting
    return any(width >= wide and length >= feet * 12 for wide, feet in grade.cuttings)


def holds(grade: Grade, surface: int, cuttings: Iterable[Cutting]) -> bool:
    """Whether these clear pieces of a face make the grade."""
    pieces = [piece for piece in cuttings if admits_cutting(grade, piece)]
    units = [cutting_units(width, length) for width, length in pieces]
    units.sort(reverse=True)
    allowed = cuttings_allowed(grade, surface)
    if sum(units[:allowed]) >= units_needed(grade, surface):
        return True
    extra = with_extra_cutting(grade, surface)
    return extra is not None and sum(units[: extra[1]]) >= extra[0]


def defect_limits(surface: int) -> dict[str, Fraction]:
    """Return what FAS admits outside its cuttings, in inches.

    The length of all splits together, the mean width of any knot or hole, and the
    length of all pith.
    """
    return {
        "split": Fraction(max(12, 2 * surface)),
        "knot": Fraction(surface, 3),
        "pith": Fraction(surface),
    }
