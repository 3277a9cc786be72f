"""Patterns of boards that are not the same all over: marks, zones, tapers.

A section of such a board is split into bands, rectangles from which only those items are
cut that every mark and zone in the band allows. Crosscutting the marks out and ripping
beside them are both tried along the board, and so is ripping the whole board first and
cutting each strip between its marks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nesting.patterns import Strip, Tables
from nesting.problem import Bin, Problem
from stock.boards import Mark

TableFor = Callable[[frozenset[int], float], Tables | None]


@dataclass(frozen=True, slots=True)
class Band:
    """A rectangle of a section that is ripped on its own, in the bin's usable frame.

    Attributes
    ----------
    x, y, length, height
        Where it lies; all bands of a section share x and length.
    strips
        Its strips from y up, a kerf between neighbours.
    starts
        For a strip cut between marks: where each of its pieces starts, from x. Empty if
        the pieces follow each other from x.
    """

    x: int
    y: int
    length: int
    height: int
    strips: tuple[Strip, ...]
    starts: tuple[int, ...] = ()


Pattern = tuple[Band, ...]


def pattern_for(problem: Problem, one: Bin, tables: TableFor) -> tuple[float, Pattern]:
    """Return a valuable pattern of a bin and its value, offcut credit not counted."""
    first = _crosscut_first(problem, one, tables)
    second = _rip_first(problem, one, tables)
    return max(first, second, key=lambda found: found[0])


def _crosscut_first(problem: Problem, one: Bin, tables: TableFor) -> tuple[float, Pattern]:
    """Lay sections from the butt end on, in front of, beside and behind marks."""
    every = tables(one.wanted, one.credit)
    if every is None:
        return 0.0, ()
    lengths = sorted({int(n) for n in every.lengths if n <= one.length})
    stops = sorted({m.end for m in one.marks if 0 < m.end < one.length} | {
        z.start for zones in one.limited.values() for z in zones if 0 < z.start < one.length
    })  # fmt: skip
    best: dict[int, tuple[float, int, tuple[Band, ...]]] = {0: (0.0, -1, ())}
    top = (0.0, 0)
    waiting = [0]
    lead = -1.0
    regions: dict[tuple[int, int], tuple[float, tuple[Band, ...]]] = {}
    while waiting:
        waiting.sort()
        x = waiting.pop(0)
        value = best[x][0]
        if value < lead - 1e-9:
            continue
        lead = max(lead, value)
        if value > top[0]:
            top = (value, x)
        for stop in stops:
            if stop > x:
                _reach(best, waiting, stop, (value, x, ()))
                break
        for length in lengths:
            if x + length > one.length:
                break
            if (x, length) not in regions:
                regions[x, length] = _bands(problem, one, x, length, tables)
            gain, bands = regions[x, length]
            if gain > 0:
                _reach(best, waiting, x + length + problem.kerf, (value + gain, x, bands))
    value, x = max(((found[0], -place) for place, found in best.items()))
    x = -x
    bands_found: list[Band] = []
    while x > 0:
        _, before, bands = best[x]
        bands_found = [*bands, *bands_found]
        x = before
    return value, tuple(bands_found)


def _reach(
    best: dict[int, tuple[float, int, tuple[Band, ...]]],
    waiting: list[int],
    place: int,
    found: tuple[float, int, tuple[Band, ...]],
) -> None:
    """Keep the best way to arrive at a place."""
    known = best.get(place)
    if known is None:
        waiting.append(place)
    if known is None or found[0] > known[0]:
        best[place] = found


def _bands(
    problem: Problem, one: Bin, x: int, length: int, tables: TableFor
) -> tuple[float, tuple[Band, ...]]:
    """Split a section into bands as valuably as its marks allow."""
    width = min(one.width_at(x), one.width_at(x + length))
    places = _edges(one, x, length, width)
    nothing: tuple[float, tuple[Band, ...]] = (0.0, ())
    free = [nothing]  # best up to each place, with a kerf's room below it
    full = [nothing]  # best up to each place, perhaps with a band right below it
    for j in range(1, len(places)):
        wide = places[j] - places[j - 1] >= problem.kerf
        free.append(full[j - 1] if wide else free[j - 1])
        found = full[j - 1]
        for i in range(j):
            for before, low in ((free[i], places[i]), (full[i], places[i] + problem.kerf)):
                start = 0 if i == 0 else low
                gain, band = _band(problem, one, (x, start, length, places[j] - start), tables)
                if band is not None and before[0] + gain > found[0]:
                    found = (before[0] + gain, (*before[1], band))
        full.append(found)
    return full[-1]


def _edges(one: Bin, x: int, length: int, width: int) -> list[int]:
    """Return where across a section marks and zones begin and end, borders included."""
    edges = {0, width}
    zones = [zone for zones in one.limited.values() for zone in zones]
    for mark in (*one.marks, *zones):
        if mark.touches(x, 0, length, width):
            edges.update((mark.low, mark.high))
    return sorted(edge for edge in edges if 0 <= edge <= width)


def _band(
    problem: Problem, one: Bin, box: tuple[int, int, int, int], tables: TableFor
) -> tuple[float, Band | None]:
    """Return the value of one band (x, y, length, height) and how it is ripped."""
    x, y, length, height = box
    if height <= 0:
        return 0.0, None
    allowed = one.allowed(problem.items, x, y, length, height)
    table = tables(allowed, one.credit) if allowed else None
    if table is None:
        return 0.0, None
    s = int(np.searchsorted(table.lengths, length, side="right")) - 1
    gain = float(table.rips[table.cells(height), s]) if s >= 0 else 0.0
    if gain <= 0:
        return 0.0, None
    return gain, Band(x, y, length, height, table.section(s, height).strips)


def _rip_first(problem: Problem, one: Bin, tables: TableFor) -> tuple[float, Pattern]:
    """Rip the whole board into strips and cut each strip between its marks."""
    allowed = one.wanted - frozenset(one.limited)
    table = tables(allowed, one.credit) if allowed else None
    if table is None or not len(table.kernel.widths):
        return 0.0, ()
    kernel, step = table.kernel, max(1, problem.step)
    worth: dict[tuple[tuple[int, ...], int], float] = {}
    top = one.narrow
    marks = [m for m in one.marks if m.start < one.length and m.end > 0]
    best: list[float] = [0.0]
    choice: list[int | None] = [None]
    for y in range(step, top + problem.kerf + step, step):
        best.append(best[-1])
        choice.append(None)
        for w, cells in enumerate(kernel.widths):
            low = y - int(cells) * kernel.cell
            if low < 0:
                break
            high = low + int(kernel.actual[w])
            if high > top or low % step:
                continue
            touched = tuple(i for i, m in enumerate(marks) if m.low < high and m.high > low)
            if (touched, w) not in worth:
                worth[touched, w] = sum(
                    float(table.strips[kernel.index(end - start), w])
                    for start, end in _between(problem, one, [marks[i] for i in touched])
                )
            value = best[low // step] + worth[touched, w]
            if value > best[-1]:
                best[-1], choice[-1] = value, w
    return best[-1], _rip_bands(problem, one, table, marks, choice)


def _between(problem: Problem, one: Bin, marks: list[Mark]) -> list[tuple[int, int]]:
    """Return the clear stretches of a strip that these marks cross."""
    stretches = []
    start = 0
    for mark in sorted(marks, key=lambda mark: mark.start):
        if mark.start > start:
            stretches.append((start, mark.start))
        start = max(start, mark.end, mark.start + problem.kerf)
    if start < one.length:
        stretches.append((start, one.length))
    return stretches


def _rip_bands(
    problem: Problem, one: Bin, table: Tables, marks: list[Mark], choice: list[int | None]
) -> Pattern:
    """Return the strips that `choice` (a strip candidate per place) stands for."""
    kernel, step = table.kernel, max(1, problem.step)
    bands: list[Band] = []
    place = len(choice) - 1
    while place > 0:
        w = choice[place]
        if w is None:
            place -= 1
            continue
        low = place * step - int(kernel.widths[w]) * kernel.cell
        width = int(kernel.actual[w])
        touched = [m for m in marks if m.low < low + width and m.high > low]
        pieces: list[tuple[int, int, bool]] = []
        starts: list[int] = []
        for start, end in _between(problem, one, touched):
            x = start
            for piece in table.strip_pieces(kernel.index(end - start), w):
                pieces.append(piece)
                starts.append(x)
                x += problem.items[piece[0]].sizes[piece[1]][0] + problem.kerf
        if pieces:
            strip = Strip(width, tuple(pieces))
            bands.append(Band(0, low, one.length, width, (strip,), tuple(starts)))
        place = low // step
    return tuple(reversed(bands))
