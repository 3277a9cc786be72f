"""Staves, panels that are wanted, and the ways in which a stave may lie in one.

A stave lies bark or heart side up, and as sawn or turned end for end. Turning it over
swaps its edges, and so does turning it end for end; either of them alone reverses the way
it wants to be planed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

BARK, HEART = "bark", "heart"
PAIRED = ("book", "slip")  # matches that ask for neighbours in the order of sawing
UPRIGHT = ("rift", "quarter")  # sawings whose rings stand: either side may be up
POINT = 10


@dataclass(frozen=True, kw_only=True, slots=True)
class Stave:
    """A stave as it is sawn; sizes in grid steps.

    Attributes
    ----------
    x, y
        Its place on the board.
    net
        Width when jointed.
    up
        The side that must be up, if the maker knows it.
    is_blind
        Whether its better face must be up, and nobody knows which side that is.
    serves
        Parts that it may be used for.
    knots
        Marks close to an edge: place from its butt end, and the edge (`low`, `high`).
    """

    name: str
    board: str
    x: int = 0
    y: int = 0
    length: int = 0
    width: int
    net: int
    log: str = ""
    order: int | None = None
    sawing: str | None = None
    tone: int | None = None
    figure: tuple[str, ...] = ()
    up: str | None = None
    is_blind: bool = False
    serves: frozenset[str] = frozenset()
    knots: tuple[tuple[int, str], ...] = ()

    @property
    def source(self) -> str:
        """The log that the board is from; a board of no known log is its own."""
        return self.log or self.board

    @property
    def beauty(self) -> int:
        """How much it has to show, from 0 to 3: figure first, then the sawing."""
        return 2 * bool(self.figure) + (self.sawing in UPRIGHT)


@dataclass(frozen=True, kw_only=True, slots=True)
class Demand:
    """A panel that is wanted; sizes in grid steps.

    Attributes
    ----------
    need, finished
        Net width its staves add up to at least, and width of the finished part.
    low, high, single
        Least and greatest rough width of a stave, and of one that is alone.
    """

    name: str
    part: str
    need: int
    finished: int
    low: int = 0
    high: int
    single: int = 0
    sawing: tuple[str, ...] = ()
    figure: str | None = None
    face: str = "show"
    ring: str = "alternate"
    match: str = "none"
    set: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Taste:
    """What counts how much, in tenths of a point, and the limits at a panel's edges.

    Attributes
    ----------
    joint_from_edge, edge_stave
        How far a joint keeps from a finished edge; net width of an outer stave.
    inch
        Grid steps in an inch.
    """

    board: int = 40 * POINT
    flitch: int = 25 * POINT
    tone: int = 10 * POINT
    ring: int = 8 * POINT
    figure: int = 30 * POINT
    knots: int = 12 * POINT
    joint_from_edge: int = 0
    edge_stave: int = 0
    inch: int = 64

    @property
    def tone_step(self) -> int:
        """What a step of tone counts at a joint."""
        return self.tone * 6 // 10

    @property
    def set_flitch(self) -> int:
        """What another log in a set counts."""
        return self.flitch * 8 // 10

    @property
    def set_tone(self) -> int:
        """What a step of tone in a set counts."""
        return self.tone * 8 // 10


@dataclass(frozen=True, slots=True)
class Placed:
    """A stave in its place: end for end or not, and the side that is up (None: either)."""

    stave: Stave
    turned: bool = False
    face: str | None = None

    @property
    def is_flipped(self) -> bool:
        """Whether its edges are swapped, and it wants to be planed the other way."""
        return self.turned != (self.face == HEART)


def ways_to_lie(stave: Stave, demand: Demand) -> tuple[Placed, ...]:
    """Return the ways a stave may lie in a panel."""
    if stave.up:
        faces: tuple[str | None, ...] = (stave.up,)
    elif demand.match in PAIRED:
        faces = (BARK, HEART)
    elif stave.is_blind or stave.sawing in UPRIGHT or demand.ring == "any":
        faces = (None,)
    else:
        faces = (BARK, HEART)
    return tuple(Placed(stave, turned, face) for turned in (False, True) for face in faces)


def may_hold(demand: Demand, staves: Sequence[Stave], *, spare: bool = False) -> bool:
    """Whether staves make a panel: wide enough, within limits, and none too many.

    With `spare` a stave may be more than the panel needs.
    """
    total = sum(stave.net for stave in staves)
    alone = len(staves) == 1
    high = demand.single if alone else demand.high
    fits = all(
        demand.part in stave.serves and (alone or demand.low <= stave.width)
        and stave.width <= high
        for stave in staves
    )  # fmt: skip
    logs = {stave.board if demand.match == "board" else stave.source for stave in staves}
    is_one = demand.match == "none" or len(logs) == 1
    slim = spare or total - min(stave.net for stave in staves) < demand.need
    return fits and is_one and slim and total >= demand.need
