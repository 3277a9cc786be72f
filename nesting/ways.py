"""The ways to cut one more piece from a leftover of a board.

Three stages of cuts hold here as everywhere: a section may be crosscut and ripped again, a
strip ripped and crosscut, the end of a strip only crosscut, so that a piece from it is as
wide as the strip.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from nesting.leftovers import SECTION, STRIP, Box, Leftover, freed
from nesting.plan import Cut
from nesting.problem import Bin, Item


@dataclass(frozen=True, slots=True)
class Wish:
    """A piece that is wanted.

    Attributes
    ----------
    sizes
        Least rough (length, width), one per way the grain may run.
    widest
        Greatest rough width, None if any will do.
    shortest
        Length of wood that shorter pieces are planed in.
    """

    item: int
    sizes: tuple[tuple[int, int], ...]
    widest: int | None = None
    shortest: int = 0


@dataclass(frozen=True, slots=True)
class Way:
    """One way to cut a piece free: its place, the cuts (not counted yet), what is left."""

    box: Box
    cuts: tuple[Cut, ...]
    rest: tuple[Leftover, ...]
    planed: Box | None


def ways(
    one: Bin, items: tuple[Item, ...], kerf: int, left: Leftover, wish: Wish
) -> Iterator[Way]:
    """Yield ways to cut a wished piece from a leftover of a board."""
    finder = _Finder(one, items, kerf, wish)
    for size in wish.sizes:
        yield from finder.ways(left, size)


@dataclass(frozen=True, slots=True)
class _Finder:
    """Looks for places of one wished piece on one board."""

    one: Bin
    items: tuple[Item, ...]
    kerf: int
    wish: Wish

    def ways(self, left: Leftover, size: tuple[int, int]) -> Iterator[Way]:
        """Yield ways at the stage that the leftover has come to.

        Wood of a gang is planed before it is cut again, so it is only crosscut: what comes
        from it was planed as wide as it is.
        """
        if left.planed is not None:
            yield from self._in_strip(left, size)
        elif left.stage <= SECTION:
            yield from self._by_sections(left, size)
        elif left.stage == STRIP:
            yield from self._by_strips(left, size)
        else:
            yield from self._in_strip(left, size)

    def _by_sections(self, left: Leftover, size: tuple[int, int]) -> Iterator[Way]:
        """Crosscut a section as short as may be, or as long as the leftover is."""
        start, stop = self._reach(left)
        least = max(size[0], self.wish.shortest if self._is_short(size) else 0)
        spans = {
            (x, least) for x in self._spots(left.x, start, stop, least, self._along(left))
        }
        if stop - start > least:
            spans |= {(x, stop - x) for x in self._spots(left.x, start, stop, stop - start)}
        for x, length in sorted(spans):
            cuts, section, rest = freed(left, "crosscut", x, length, self.kerf)
            for way in self._by_strips(section, size):
                yield replace(way, cuts=cuts + way.cuts, rest=rest + way.rest)

    def _by_strips(self, left: Leftover, size: tuple[int, int]) -> Iterator[Way]:
        """Rip a strip as wide as the piece."""
        length, width = size
        start, stop = self._reach(left)
        if stop - start < length:
            return
        clear = sorted((self._clear(start, length), self._clear(stop - length, length)))
        top = min(left.y + left.width, clear[1])
        edges = [*self._across(left), (clear[0], clear[0])]
        for y in self._spots(left.y, left.y, top, width, edges):
            cuts, strip, rest = freed(left, "rip", y, width, self.kerf)
            for way in self._in_strip(strip, size):
                yield replace(way, cuts=cuts + way.cuts, rest=rest + way.rest)

    def _in_strip(self, left: Leftover, size: tuple[int, int]) -> Iterator[Way]:
        """Crosscut a strip; a short piece only where it can stay in until planed."""
        length, width = size
        widest = self.wish.widest
        if left.width < width or (widest is not None and left.width > widest):
            return
        if self._is_short(size) and not self._can_be_planed(left):
            return
        waits = left.planed is not None or self._is_short(size)
        start, stop = self._reach(left)
        for x in self._spots(left.x, start, stop, length, self._along(left)):
            if not self._may_lie(x, left.y, length, left.width):
                continue
            cuts, piece, rest = freed(left, "crosscut", x, length, self.kerf, waits=waits)
            yield Way(piece.box, cuts, rest, piece.planed)

    def _is_short(self, size: tuple[int, int]) -> bool:
        return size[0] < self.wish.shortest

    def _can_be_planed(self, left: Leftover) -> bool:
        """Whether a strip is long enough for the planer, and of full width all along."""
        if left.planed is not None:
            return True
        start, stop = self._reach(left)
        return (
            stop - start == left.length >= self.wish.shortest
            and left.y + left.width <= self._clear(left.x, left.length)
        )

    def _may_lie(self, x: int, y: int, length: int, width: int) -> bool:
        """Whether the piece may lie there: on the board, and where its wood serves."""
        if y + width > self._clear(x, length):
            return False
        place = (x - self.one.start, y, length, width)
        return self.wish.item in self.one.allowed(self.items, *place)

    def _reach(self, left: Leftover) -> tuple[int, int]:
        """Return the stretch of a leftover that lies between the end trims."""
        stop = self.one.start + self.one.length
        return max(left.x, self.one.start), min(left.x + left.length, stop)

    def _clear(self, x: int, length: int) -> int:
        """Width that is there over a stretch of the board."""
        at = x - self.one.start
        return min(self.one.width_at(at), self.one.width_at(at + length))

    def _along(self, left: Leftover) -> list[tuple[int, int]]:
        """Return where marks and zones begin and end along a leftover."""
        start = self.one.start
        zones = self.one.limited.get(self.wish.item, ())
        return [
            (start + mark.start, start + mark.end)
            for mark in (*self.one.marks, *zones)
            if mark.touches(left.x - start, left.y, left.length, left.width)
        ]

    def _across(self, left: Leftover) -> list[tuple[int, int]]:
        """Return where marks and zones begin and end across a leftover."""
        zones = self.one.limited.get(self.wish.item, ())
        return [
            (mark.low, mark.high)
            for mark in (*self.one.marks, *zones)
            if mark.touches(left.x - self.one.start, left.y, left.length, left.width)
        ]

    def _spots(
        self,
        wood: int,
        start: int,
        stop: int,
        size: int,
        edges: Iterable[tuple[int, int]] = (),
    ) -> list[int]:
        """Return where to begin between `start` and `stop`: at the ends, and at edges.

        From the start of the wood it is nothing or a kerf at least, or the saw would cut
        beside the wood.
        """
        found = {start, stop - size}
        for low, high in edges:
            found |= {low, high, low - size, high - size}
        moved = {wood + self.kerf if wood < at < wood + self.kerf else at for at in found}
        return sorted(at for at in moved if start <= at <= stop - size)
