"""The records of a plan: what is cut from which board, in which order, at what cost.

All sizes are grid steps; the origin of a board is its butt end at the lower edge, x along
the length, y across the width. Money is exact decimal.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

COMPLETE = "complete"
SHORT = "short"


@dataclass(frozen=True, kw_only=True, slots=True)
class Nested:
    """Where a copy lies in a piece that several are sawn out of.

    Attributes
    ----------
    x, y
        Low corner of its bounding rectangle, from the piece's own low corner.
    turned, mirrored
        Whether it lies end for end (half a turn in the plane), or face down (rolled over
        its length).
    """

    copy: int
    x: int
    y: int
    turned: bool = False
    mirrored: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """A rough rectangle sawn from a board.

    Attributes
    ----------
    name
        Unique in the plan: `Seat 1.2` is the second piece of the first Seat, `Leg 3` the
        third Leg.
    role
        `solid`, `stave` (of a panel) or `layer` (of a laminate; a laminated panel has
        staves).
    layer
        Which layer of a laminate the piece belongs to, from 1; 1 otherwise.
    leaves
        How many leaves are resawn from it; 1: it is not resawn.
    others
        Copies that its further leaves, or outlines, are for. A stave's leaves lie in one
        panel, so its copy comes again for each of them; of a solid piece a leaf may be
        left to spare.
    nest
        Where its copies lie in it, if several are sawn out of it by their outlines.
    """

    name: str
    part: str
    copy: int
    role: str
    x: int
    y: int
    length: int
    width: int
    layers: int = 1
    layer: int = 1
    leaves: int = 1
    others: tuple[int, ...] = ()
    nest: tuple[Nested, ...] = ()

    @property
    def copies(self) -> tuple[int, ...]:
        """Copy of each of its leaves or outlines."""
        return (self.copy, *self.others)


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowPiece:
    """A rough piece that comes out of a window of a finished part, not off a board itself.

    Attributes
    ----------
    name
        Unique in the plan, as that of any piece.
    host, host_copy
        The part whose window it is from, and which copy of it.
    x, y
        Low corner, from the low corner of the host's outline as drawn: x along the grain.
    """

    name: str
    part: str
    copy: int
    host: str
    host_copy: int
    x: int
    y: int
    length: int
    width: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Cut:
    """One straight cut through the piece of wood it is made on.

    A crosscut at `at` turns x in [at, at + kerf] to dust, over y from `start` to `end`; a
    rip turns y in [at, at + kerf] to dust, over x from `start` to `end`. A cut with
    `after_planing` frees a piece from a gang and is made once the gang is planed.
    """

    order: int
    kind: str
    at: int
    start: int
    end: int
    after_planing: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Offcut:
    """A rectangle left over; `keep` if it goes back to the rack, `credit` its worth."""

    name: str
    x: int
    y: int
    length: int
    width: int
    keep: bool
    credit: Decimal = Decimal(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class CutBoard:
    """One board and how it is taken apart.

    Attributes
    ----------
    cost
        What the objective charges for the board, offcut credit not yet taken off.
    pay
        What is paid for it, charges and tax in; 0 if owned.
    gangs
        Names of pieces that stay in one length of wood until planed.
    stamp
        Of a board on the rack: a sign of what it was when it was planned, else empty.
    """

    board: str
    where: str
    bought: bool
    cost: Decimal
    pay: Decimal
    board_feet: Fraction
    length: int
    width: int
    width2: int
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Offcut, ...]
    gangs: tuple[tuple[str, ...], ...] = ()
    stamp: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class PanelStave:
    """A stave in its place in a panel; `net_width` is what is left after jointing.

    Attributes
    ----------
    leaf
        Which leaf of its piece it is, from the bark side, from 1; 0: it is not resawn.
    """

    piece: str
    board: str
    width: int
    net_width: int
    turned: bool = False
    face: str | None = None
    leaf: int = 0

    @property
    def name(self) -> str:
        """Name as it is chalked: a leaf has a letter behind that of its piece."""
        return f"{self.piece}{leaf_letter(self.leaf)}"


def leaf_letter(leaf: int) -> str:
    """Return the letter of a leaf, from the bark side: a, b, ..., then numbers."""
    if not leaf:
        return ""
    return chr(ord("a") + leaf - 1) if leaf <= 26 else f"-{leaf}"


@dataclass(frozen=True, kw_only=True, slots=True)
class PanelPlan:
    """One glued-up panel: its staves from left to right; `need` is the net width asked.

    Attributes
    ----------
    match_cost
        What it counts for not looking like one piece, by term, in tenths of a point.
    """

    part: str
    copy: int
    layer: int = 1
    net_width: int
    need: int
    length: int
    staves: tuple[PanelStave, ...]
    match_cost: tuple[tuple[str, int], ...] = ()


ONE_FLITCH, ONE_STEP, NOT_ALIKE = "one flitch", "one step of tone", "not alike"


@dataclass(frozen=True, kw_only=True, slots=True)
class SetPlan:
    """How alike the parts of a set come out.

    Attributes
    ----------
    likeness
        `one flitch`, `one step of tone` or `not alike`.
    source
        The log or board they come from, the tones they show, or what is in the way.
    extra_cost
        What the plan costs more for it than the cheapest one found.
    why
        Why it is not better, in words; empty if it could not be.
    match_cost
        What its panels count for differing, by term, in tenths of a point.
    """

    name: str
    likeness: str
    source: str
    extra_cost: Decimal = Decimal(0)
    why: str = ""
    match_cost: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Shortage:
    """A copy of a part that the plan does not make, why, and what would help."""

    part: str
    copy: int
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class RipCount:
    """How often the fence is set for all rips, and was before widths were made to agree."""

    settings: int
    before: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Totals:
    """Sums of a plan; money in the project's currency.

    Attributes
    ----------
    cost
        The objective: boards, trips, owned wood, sawing time, less kept offcuts.
    to_pay
        Money that leaves the purse: boards bought, trips, top-ups to smallest orders.
    bound, bound_name
        Proven lower bound on `cost` for making what this plan makes, and its kind.
    gap
        (cost - bound) / bound, or None where the bound is not positive.
    yield_
        Wood in blanks divided by wood used, kept offcuts counted as used.
    """

    cost: Decimal
    to_pay: Decimal
    boards: Decimal
    trips: Decimal
    top_ups: Decimal
    owned_wood: Decimal
    sawing: Decimal
    credit: Decimal
    bound: Decimal
    bound_name: str
    gap: float | None
    board_feet_bought: Fraction
    board_feet_used: Fraction
    yield_: float
    boards_bought: int
    seconds: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """A whole plan.

    Attributes
    ----------
    status
        `complete`, or `short` if the wood at hand does not make everything.
    not_made
        Copies of parts from offcuts that nothing left over holds; a plan without them is
        complete all the same.
    from_windows
        Pieces of parts from offcuts that windows of other parts give.
    rules
        The cutting rules that the bound holds for, in words.
    notes
        Things the maker should know, in words (what to buy when the plan is short).
    """

    project: str
    unit: str
    status: str
    boards: tuple[CutBoard, ...]
    panels: tuple[PanelPlan, ...]
    short: tuple[Shortage, ...] = ()
    sheets: tuple[CutBoard, ...] = ()
    totals: Totals
    rules: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    not_made: tuple[Shortage, ...] = ()
    sets: tuple[SetPlan, ...] = ()
    rips: RipCount | None = None
    from_windows: tuple[WindowPiece, ...] = ()
