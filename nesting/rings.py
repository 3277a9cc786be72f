"""Closed outlines with corners on the grid: area, ways round, crossings; exact integers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.drawn import Ring
from nesting.strokes import Points

Edges = NDArray[np.int64]  # a row per edge: x and y of its start, x and y of its end


def on_grid(corners: Points, least: Points, noise: float) -> Ring:
    """Return corners as a ring on the grid, counterclockwise, without idle corners.

    Every coordinate is rounded up from `least`, so the extents of a drawing are rounded
    up too and no corner moves by a step; what lies within `noise` of the grid is on it.
    """
    steps = np.ceil(corners - least - noise).astype(np.int64)
    ring = _needed([(int(x), int(y)) for x, y in steps])
    return ring if twice_area(ring) >= 0 else (ring[0], *reversed(ring[1:]))


def twice_area(ring: Ring) -> int:
    """Return twice the area of a ring, positive if it runs counterclockwise.

    The shoelace formula.
    """
    return sum(
        x * next_y - next_x * y
        for (x, y), (next_x, next_y) in zip(ring, (*ring[1:], *ring[:1]), strict=True)
    )


def first_crossing(rings: Sequence[Ring]) -> tuple[int, int] | None:
    """Return a corner near which an edge crosses or touches another; None if none does.

    Neighbours along a ring meet in their common corner and nowhere else, since idle
    corners are gone.
    """
    edges, befores = _edges(rings)
    order = np.argsort(np.minimum(edges[:, 0], edges[:, 2]), kind="stable")
    low = np.minimum(edges[:, 0], edges[:, 2])[order]
    for place, edge in enumerate(order):
        high = max(edges[edge, 0], edges[edge, 2])
        others = order[place + 1 : np.searchsorted(low, high, side="right")]
        others = others[(befores[others] != edge) & (others != befores[edge])]
        if len(others) and _meets(edges[edge], edges[others]).any():
            return int(edges[edge, 0]), int(edges[edge, 1])
    return None


def holds(ring: Points, x: float, y: float) -> bool:
    """Whether a point lies inside a ring: a ray from it crosses an odd number of edges."""
    after = np.roll(ring, -1, axis=0)
    is_passed = (ring[:, 1] > y) != (after[:, 1] > y)
    start, end = ring[is_passed], after[is_passed]
    rise = (y - start[:, 1]) / (end[:, 1] - start[:, 1])
    return bool(np.count_nonzero(start[:, 0] + rise * (end[:, 0] - start[:, 0]) > x) % 2)


def distance(ring: Points, x: float, y: float) -> float:
    """Return how far a point lies from the edge of a ring."""
    along = np.roll(ring, -1, axis=0) - ring
    length = np.maximum(np.sum(along**2, axis=1), np.finfo(float).tiny)
    off = np.array([x, y]) - ring
    share = np.clip(np.sum(off * along, axis=1) / length, 0, 1)
    return float(np.min(np.hypot(*(off - share[:, None] * along).T)))


def _needed(corners: list[tuple[int, int]]) -> Ring:
    """Return a ring without corners on a straight edge, and without spikes of no width."""
    kept: list[tuple[int, int]] = []
    for corner in corners:
        while kept and _is_idle(kept, corner):
            kept.pop()
        if not kept or kept[-1] != corner:
            kept.append(corner)
    while len(kept) > 2:
        if kept[0] == kept[-1] or _is_idle(kept, kept[0]):
            kept.pop()
        elif _is_flat(kept[-1], kept[0], kept[1]):
            kept.pop(0)
        else:
            break
    return tuple(kept)


def _is_idle(kept: list[tuple[int, int]], ahead: tuple[int, int]) -> bool:
    """Whether the last corner lies straight between its neighbours, or juts out of them."""
    return len(kept) > 1 and kept[-1] != ahead and _is_flat(kept[-2], kept[-1], ahead)


def _is_flat(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> bool:
    return (b[0] - a[0]) * (c[1] - b[1]) == (b[1] - a[1]) * (c[0] - b[0])


def _edges(rings: Sequence[Ring]) -> tuple[Edges, NDArray[np.int64]]:
    """Return the edges of rings, and for each the number of the edge before it."""
    rows: list[tuple[int, int, int, int]] = []
    befores: list[int] = []
    for ring in rings:
        first = len(rows)
        rows += [
            (*start, *end) for start, end in zip(ring, (*ring[1:], ring[0]), strict=True)
        ]
        befores += [len(rows) - 1, *range(first, len(rows) - 1)]
    return np.array(rows, dtype=np.int64), np.array(befores, dtype=np.int64)


def _meets(edge: NDArray[np.int64], others: Edges) -> NDArray[np.bool_]:
    """Return which of other edges have a point in common with an edge.

    Two segments do if the ends of each lie on both sides of the other, or on it, and
    their extents overlap (Cormen et al., Introduction to Algorithms, chapter 33).
    """
    a, b, c, d = edge[:2], edge[2:], others[:, :2], others[:, 2:]
    splits = _side(a, b, c) * _side(a, b, d) <= 0
    is_split = _side(c, d, a) * _side(c, d, b) <= 0
    overlap = (np.minimum(a, b) <= np.maximum(c, d)) & (
        np.minimum(c, d) <= np.maximum(a, b)
    )
    return np.asarray(splits & is_split & overlap.all(axis=1))


def _side(a: Edges, b: Edges, c: Edges) -> NDArray[np.int64]:
    """Return on which side of the line from a to b c lies: 1 left, -1 right, 0 on it."""
    along, off = b - a, c - a
    turn = along[..., 0] * off[..., 1] - along[..., 1] * off[..., 0]
    return np.asarray(np.sign(turn), dtype=np.int64)
