"""What the cuts of a board leave over, and taking more of it off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.plan import Cut, CutBoard

Box = tuple[int, int, int, int]  # x, y, length, width on the board

WHOLE, SECTION, STRIP, END = range(4)


@dataclass(frozen=True, slots=True)
class Leftover:
    """A rectangle of wood on a board, in grid steps.

    Attributes
    ----------
    stage
        What freed it: `SECTION` a crosscut of the board, `STRIP` a rip of a section, `END`
        a crosscut of a strip; `WHOLE` if it was never cut.
    planed
        The length of wood that it is planed in, if its last cuts wait for planing.
    """

    x: int
    y: int
    length: int
    width: int
    stage: int = WHOLE
    planed: Box | None = None

    @property
    def box(self) -> Box:
        """Its place and size."""
        return (self.x, self.y, self.length, self.width)


Sides = tuple[Leftover, Leftover]


def replayed(cut: CutBoard, kerf: int) -> Iterator[tuple[Cut, Leftover, Sides]]:
    """Yield the cuts of a board in order, each with the wood it is made on.

    And with the wood before and behind it, either of them perhaps without size.
    """
    woods = [Leftover(0, 0, cut.length, max(cut.width, cut.width2))]
    for one in sorted(cut.cuts, key=lambda one: one.order):
        for at, wood in enumerate(woods):
            if _goes_across(one, wood, kerf):
                sides = _halves(one, wood, kerf)
                woods[at : at + 1] = _there(sides)
                yield one, wood, sides
                break


def leftovers_of(cut: CutBoard, kerf: int) -> tuple[Leftover, ...]:
    """Return the wood that the cuts of a board leave without any piece in it."""
    woods = [Leftover(0, 0, cut.length, max(cut.width, cut.width2))]
    for _, wood, sides in replayed(cut, kerf):
        at = woods.index(wood)
        woods[at : at + 1] = _there(sides)
    return tuple(
        wood
        for wood in woods
        if not any(
            wood.x <= piece.x < wood.x + wood.length
            and wood.y <= piece.y < wood.y + wood.width
            for piece in cut.pieces
        )
    )


def freed(
    left: Leftover, kind: str, start: int, size: int, kerf: int, *, waits: bool = False
) -> tuple[tuple[Cut, ...], Leftover, tuple[Leftover, ...]]:
    """Free a span of a leftover, along it by crosscuts or across it by rips.

    Returns the cuts (not counted yet), the wood in the span, and the rest on both sides.
    """
    along = kind == "crosscut"
    low, high = _extent(left, kind)
    wood, cuts, rest = left, [], []
    if start > low:
        cuts.append(_cut(kind, start - kerf, wood, waits=waits))
        other, wood = _halves(cuts[-1], wood, kerf)
        rest.append(other)
    if start + size < high:
        cuts.append(_cut(kind, start + size, wood, waits=waits))
        wood, other = _halves(cuts[-1], wood, kerf)
        rest.append(other)
    stage = max(wood.stage, SECTION if along else STRIP)
    there = tuple(one for one in rest if min(one.length, one.width) > 0)
    return tuple(cuts), replace(wood, stage=stage), there


def _extent(wood: Leftover, kind: str) -> tuple[int, int]:
    """Return the ends of the wood in the direction that a cut moves in."""
    if kind == "crosscut":
        return wood.x, wood.x + wood.length
    return wood.y, wood.y + wood.width


def _cut(kind: str, at: int, wood: Leftover, *, waits: bool) -> Cut:
    start, end = _extent(wood, "rip" if kind == "crosscut" else "crosscut")
    return Cut(order=0, kind=kind, at=at, start=start, end=end, after_planing=waits)


def _goes_across(cut: Cut, wood: Leftover, kerf: int) -> bool:
    """Whether a cut was made on this wood; one that trims may lie partly beside it."""
    low, high = _extent(wood, cut.kind)
    across = _extent(wood, "rip" if cut.kind == "crosscut" else "crosscut")
    return (cut.start, cut.end) == across and low - max(0, kerf - 1) <= cut.at < high


def _there(sides: Sides) -> list[Leftover]:
    """Return the sides of a cut that have any wood in them."""
    return [side for side in sides if min(side.length, side.width) > 0]


def _halves(cut: Cut, wood: Leftover, kerf: int) -> Sides:
    """Return the wood before and behind a cut, either of them perhaps without size."""
    planed = wood.planed or (wood.box if cut.after_planing else None)
    x, y, length, width = wood.box
    beyond = cut.at + kerf
    if cut.kind == "rip":
        stage = max(wood.stage, STRIP)
        return (
            Leftover(x, y, length, cut.at - y, stage, planed),
            Leftover(x, beyond, length, y + width - beyond, stage, planed),
        )
    stage = SECTION if wood.stage <= SECTION else END
    return (
        Leftover(x, y, cut.at - x, width, stage, planed),
        Leftover(beyond, y, x + length - beyond, width, stage, planed),
    )
