"""Drawn lines joined end to end, to loops that close and to lines that stay open."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from nesting.drawing import Line, Spot
from nesting.strokes import Piece, Points


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """A closed line: its pieces in order, each with whether it runs backwards."""

    names: tuple[str, ...]
    pieces: tuple[tuple[Piece, bool], ...]

    def ring(self, matrix: Points, tolerance: float) -> Points:
        """Return its corners moved by a matrix, flattened; the last is not repeated."""
        runs = []
        for piece, is_back in self.pieces:
            run = piece.moved(matrix).flat(tolerance)
            runs.append((run[::-1] if is_back else run)[:-1])
        return np.concatenate(runs)


@dataclass(frozen=True, slots=True)
class Loose:
    """A line that does not close: where it starts and ends, or where more than two meet."""

    names: tuple[str, ...]
    at: tuple[Spot, ...]
    rule: str


def joined(
    lines: Iterable[Line], near: float
) -> tuple[tuple[Loop, ...], tuple[Loose, ...]]:
    """Return the loops that lines make, and what stays open.

    Lines of the same names are joined where their ends lie no farther apart than `near`,
    in units of the drawing.
    """
    loops: list[Loop] = []
    loose: list[Loose] = []
    by_names: dict[tuple[str, ...], list[Line]] = {}
    for line in lines:
        if _is_dot(line, near):
            continue
        if line.is_closed or math.dist(*line.ends) <= near:
            loops.append(Loop(line.names, tuple((piece, False) for piece in line.pieces)))
        else:
            by_names.setdefault(line.names, []).append(line)
    for names, open_lines in by_names.items():
        for found in _chained(names, open_lines, near):
            if isinstance(found, Loop):
                loops.append(found)
            else:
                loose.append(found)
    return tuple(loops), tuple(loose)


def _is_dot(line: Line, near: float) -> bool:
    """Whether a line goes nowhere."""
    spots = np.concatenate([piece.flat(near) for piece in line.pieces])
    return bool(np.max(np.ptp(spots, axis=0)) <= near)


def _chained(
    names: tuple[str, ...], lines: list[Line], near: float
) -> Iterator[Loop | Loose]:
    """Yield the loops and the open lines that some lines join to."""
    knots = _knots([spot for line in lines for spot in line.ends], near)
    at_knot: dict[int, list[int]] = {}
    for end, knot in enumerate(knots):
        at_knot.setdefault(knot, []).append(end)
    crowded = {knot for knot, ends in at_knot.items() if len(ends) > 2}
    if crowded:
        end = min(min(at_knot[knot]) for knot in crowded)
        spot = lines[end // 2].ends[end % 2]
        yield Loose(names, (spot,), "more than two lines meet")
        return
    left = set(range(len(lines)))
    # from loose ends first, so that an open line is walked from its one end to its other
    starts = sorted(range(2 * len(lines)), key=lambda end: len(at_knot[knots[end]]))
    for start in starts:
        if start // 2 not in left:
            continue
        walked = [start]
        left.remove(start // 2)
        while True:
            tip = walked[-1] ^ 1
            ahead = [end for end in at_knot[knots[tip]] if end != tip and end // 2 in left]
            if not ahead:
                break
            walked.append(ahead[0])
            left.remove(ahead[0] // 2)
        yield _walked(names, lines, walked, is_loop=knots[walked[-1] ^ 1] == knots[start])


def _walked(
    names: tuple[str, ...], lines: list[Line], walked: list[int], *, is_loop: bool
) -> Loop | Loose:
    """Return what a walk from end to end has found; an odd end walks a line backwards."""
    if not is_loop:
        first, last = walked[0], walked[-1] ^ 1
        spots = (lines[first // 2].ends[first % 2], lines[last // 2].ends[last % 2])
        return Loose(names, spots, "the outline is open")
    pieces: list[tuple[Piece, bool]] = []
    for end in walked:
        run = lines[end // 2].pieces
        if end % 2:
            pieces += [(piece, True) for piece in reversed(run)]
        else:
            pieces += [(piece, False) for piece in run]
    return Loop(names, tuple(pieces))


def _knots(spots: list[Spot], near: float) -> list[int]:
    """Return for each spot the number of the knot it belongs to: spots that lie close.

    Spots fall into the cells of a grid; each looks for a knot in its own cell and the
    eight around it.
    """
    cells: dict[tuple[int, int], list[int]] = {}
    middles: list[Spot] = []
    found = []
    for spot in spots:
        column, row = (math.floor(number / near) for number in spot)
        close = (
            knot
            for x in (column - 1, column, column + 1)
            for y in (row - 1, row, row + 1)
            for knot in cells.get((x, y), ())
            if math.dist(spot, middles[knot]) <= near
        )
        knot = next(close, -1)
        if knot < 0:
            knot = len(middles)
            middles.append(spot)
            cells.setdefault((column, row), []).append(knot)
        found.append(knot)
    return found
