"""One board of lumber: its size, what it shows, what is wrong with it, its tally."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stock.measures import Unit, inch_in, steps_per_unit
from stock.shop import Shop

RACK = "rack"

SOUND_MARKS = frozenset({"sound knot", "sapwood", "stain"})
UNSOUND_MARKS = frozenset({"knot", "split", "wane", "worm", "pith", "check"})
DEFECTS = SOUND_MARKS | UNSOUND_MARKS
FACES = ("show", "second", "hidden")
SAWINGS = ("plain", "rift", "quarter")
GRADES = ("FAS", "F1F", "SEL", "1C", "2A", "2B", "3A")
SURFACINGS = ("rough", "S2S", "S3S", "S4S")


@dataclass(frozen=True, slots=True, order=True)
class Thickness:
    """Thickness of a board as it is named in the trade.

    Attributes
    ----------
    nominal
        Exact thickness in the project's unit (4/4 is 1 in or 25.4 mm).
    label
        How the maker wrote it (`4/4`, `27`); not part of comparisons.
    """

    nominal: Fraction
    label: str = ""

    def __eq__(self, other: object) -> bool:
        """Two thicknesses are the same when their size is, however written."""
        return isinstance(other, Thickness) and self.nominal == other.nominal

    def __hash__(self) -> int:
        """Hash by size alone, to agree with equality."""
        return hash(self.nominal)


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """A place on a board that is worse (a defect) or better (a zone) than the rest.

    Attributes
    ----------
    kind
        A defect of `DEFECTS`, or `figure` or `sawing` for a zone that adds a property.
    tag
        The property a zone adds (`fleck`, `quarter`); None for a defect.
    start, end
        Extent along the length from the butt end, in grid steps.
    low, high
        Extent across the width from the lower edge, in grid steps.
    face
        `both`, or `one`: seen on the poorer face only.
    """

    kind: str
    tag: str | None = None
    start: int
    end: int
    low: int
    high: int
    face: str = "both"

    @property
    def is_defect(self) -> bool:
        """Whether the mark takes something away."""
        return self.kind in DEFECTS

    def forbids(self, face: str) -> bool:
        """Whether a part whose face class is `face` must stay clear of this mark.

        Unsound wood is refused everywhere, but worm holes pass where nobody looks (a
        sound cutting admits them; NHLA Rules Book, from memory). Sound knots, sapwood
        and stain spoil a show face only, and only if the better face has them too.
        """
        if self.kind in SOUND_MARKS:
            return face == "show" and self.face == "both"
        if self.kind == "worm":
            return face != "hidden"
        return self.kind in UNSOUND_MARKS

    def touches(self, x: int, y: int, length: int, width: int) -> bool:
        """Whether the rectangle at (x, y) shares any wood with the mark."""
        return (
            x < self.end
            and self.start < x + length
            and y < self.high
            and self.low < y + width
        )

    def holds(self, x: int, y: int, length: int, width: int) -> bool:
        """Whether the rectangle at (x, y) lies wholly inside the mark."""
        return (
            self.start <= x
            and x + length <= self.end
            and self.low <= y
            and y + width <= self.high
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Board:
    """One piece of lumber, owned or on offer; lengths and widths in grid steps.

    Attributes
    ----------
    where
        `rack`, or the yard that offers the board.
    width, width2
        Width at the butt end (x = 0) and at the far end; the lower edge is straight.
    price
        Price per board foot (per cubic metre in a metric project) over Prices, or None.
    place
        Where it lies in the shop, in the maker's words.
    """

    name: str
    where: str = RACK
    species: str
    thickness: Thickness
    length: int
    width: int
    width2: int
    grade: str | None = None
    sawing: str | None = None
    figure: tuple[str, ...] = ()
    tone: int | None = None
    flitch: str | None = None
    order: int | None = None
    surfaced: str = "rough"
    price: Fraction | None = None
    moisture: float | None = None
    place: str | None = None
    photo: str | None = None
    note: str = ""
    marks: tuple[Mark, ...] = ()

    @property
    def is_owned(self) -> bool:
        """Whether the board already lies on the shop's rack."""
        return self.where == RACK

    @property
    def log(self) -> str:
        """Name of the log the board is known to come from; its own name if unknown."""
        return f"flitch {self.flitch}" if self.flitch else f"board {self.name}"

    def width_between(self, start: int, end: int) -> int:
        """Clear width over the whole stretch from `start` to `end`, rounded down."""
        return min(self.width_at(start), self.width_at(end))

    def width_at(self, x: int) -> int:
        """Width at position x (grid steps), rounded down to the grid."""
        return self.width + (self.width2 - self.width) * x // self.length


def dressed_thickness(board: Board, shop: Shop) -> int:
    """Return the thickest finished part a board gives, in grid steps, rounded down.

    A rough board loses `thickness allowance`; where that is blank, it gives the surfaced
    (S2S) size of the NHLA rules: 3/16 in less than nominal up to 1 1/2 in, 1/4 in less
    above. A surfaced board gives its real thickness.
    """
    return dressed_size(board.thickness, board.surfaced, shop)


def dressed_size(thickness: Thickness, surfaced: str, shop: Shop) -> int:
    """Return what stock of this thickness dresses to, as `dressed_thickness` does."""
    nominal = thickness.nominal * steps_per_unit(shop.unit)
    if surfaced != "rough":
        return int(nominal)
    if shop.thickness_allowance is not None:
        return max(0, int(nominal) - shop.thickness_allowance)
    inch = inch_in(shop.unit) * steps_per_unit(shop.unit)
    loss = Fraction(3, 16) if nominal <= Fraction(3, 2) * inch else Fraction(1, 4)
    return max(0, int(nominal - loss * inch))


def rough_quarter(dressed: Fraction) -> Fraction:
    """Return the rough thickness (inches) that a surfaced thickness was sawn as.

    The thinnest whole quarter of an inch, 1 in at least, whose surfaced (S2S) size is
    not below `dressed` inches.
    """
    quarters = 4
    while True:
        rough = Fraction(quarters, 4)
        loss = Fraction(3, 16) if rough <= Fraction(3, 2) else Fraction(1, 4)
        if rough - loss >= dressed:
            return rough
        quarters += 1


def tally_thickness(board: Board, unit: Unit) -> Fraction:
    """Return the thickness a board is sold by, in inches.

    In inches lumber under 1 in counts as 1 in, and surfaced lumber as the rough quarter
    it was made from (common practice). Metric boards count as they measure.
    """
    inches = board.thickness.nominal / inch_in(unit)
    if unit is Unit.MM:
        return inches
    if board.surfaced != "rough":
        return rough_quarter(inches)
    return max(Fraction(1), inches)


def tally_width(board: Board) -> Fraction:
    """Return the width a board is sold by, in grid steps.

    A tapered board counts by its width one third of the length from the narrow end
    (NHLA measurement, from memory).
    """
    narrow, wide = sorted((board.width, board.width2))
    return narrow + Fraction(wide - narrow, 3)


def board_feet(board: Board, unit: Unit) -> Fraction:
    """Return the board feet of a board, exact tally (144 cubic inches to the foot)."""
    return area_feet(board, board.length * tally_width(board), unit)


def area_feet(board: Board, area: Fraction | int, unit: Unit) -> Fraction:
    """Return the board feet under `area` (square grid steps) of a board's face."""
    inch = inch_in(unit) * steps_per_unit(unit)
    return tally_thickness(board, unit) * area / (inch * inch * 144)
