"""The project as a packing of rectangles, by rectpack: staves equal, a kerf added to each.

Its packings need not come apart in cuts that go right through, so some of them could not
be sawn at all: it is a rival with more freedom and no search.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from typing import Any

import rectpack

from nesting.project import Project
from stock.boards import Board
from stock.shop import Shop
from tests.benchmark.layouts import Box, Layout, Sawn, Want, layout_cost, usable, wants_for

MANY = 400  # more pieces than that are packed by the quicker rules
SORTS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE)
CAREFUL = (rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.GuillotineBssfSas)
QUICK = (rectpack.GuillotineBssfSas, rectpack.GuillotineBlsfSlas)


@dataclass(frozen=True, slots=True)
class Packed:
    """The cheapest packing found, None if none holds everything."""

    layout: Layout | None
    cost: Decimal | None


def best_packing(project: Project, *, seconds: float) -> Packed:
    """Return the cheapest of a few rules and board orders; one at least is tried."""
    end = time.monotonic() + seconds
    wants = wants_for(project)
    is_quick = sum(want.count for want in wants) > MANY
    rules = product(QUICK if is_quick else CAREFUL, SORTS, (-1, 1))
    best = Packed(None, None)
    for number, (rule, sort, sense) in enumerate(rules):
        if number and time.monotonic() > end:
            break
        # cheap wood first, then large boards first or small ones first
        boards = sorted(
            project.boards, key=lambda b: (not b.is_owned, sense * b.length * b.width)
        )
        fit = rectpack.PackingBin.BFF if is_quick else rectpack.PackingBin.BBF
        packer = rectpack.newPacker(
            bin_algo=fit, pack_algo=rule, sort_algo=sort, rotation=False
        )
        layout = _packed(packer, project, boards, wants)
        cost = layout_cost(project, layout.sawn) if layout.is_complete else None
        if cost is not None and (best.cost is None or cost < best.cost):
            best = Packed(layout, cost)
    return best


def _packed(
    packer: Any,
    project: Project,
    boards: list[Board],
    wants: tuple[Want, ...],
) -> Layout:
    """Return what a packer makes of the wants, on boards in this order."""
    shop, kerf = project.shop, project.shop.kerf
    bins = [(board, box) for board in boards for box in clear_lengths(board, shop)]
    for number, (_, (_, _, length, width)) in enumerate(bins):
        packer.add_bin(length + kerf, width + kerf, bid=number)
    for index, want in enumerate(wants):
        for _ in range(want.count):
            packer.add_rect(want.length + kerf, want.width + kerf, rid=index)
    packer.pack()
    missing = [want.count for want in wants]
    pieces: dict[int, list[tuple[int, Box]]] = {}
    for one in packer:
        _, (x, y, _, _) = bins[one.bid]
        for spot in one:
            missing[spot.rid] -= 1
            box = (x + spot.x, y + spot.y, spot.width - kerf, spot.height - kerf)
            pieces.setdefault(one.bid, []).append((spot.rid, box))
    return Layout(wants, tuple(_sawn(bins, pieces, shop)), tuple(missing))


def _sawn(
    bins: list[tuple[Board, Box]], pieces: dict[int, list[tuple[int, Box]]], shop: Shop
) -> Iterator[Sawn]:
    """Yield the boards in use; what is left of their other bins is left over too."""
    used = {bins[number][0].name for number in pieces}
    by_board: dict[str, tuple[list[tuple[int, Box]], list[Box]]] = {}
    for number, (board, box) in enumerate(bins):
        if board.name in used:
            placed = pieces.get(number, [])
            held, left = by_board.setdefault(board.name, ([], []))
            held += placed
            left += empty_boxes(box, [spot for _, spot in placed], shop)
    for name, (held, left) in by_board.items():
        yield Sawn(name, tuple(held), tuple(left))


def clear_lengths(board: Board, shop: Shop) -> list[Box]:
    """Return the lengths of a board between its marks, full width, a kerf apart."""
    x, y, length, width = usable(board, shop)
    stop = x + length
    found = []
    for mark in sorted(board.marks, key=lambda mark: mark.start):
        found.append((x, y, min(mark.start, stop) - x, width))
        x = max(x, mark.end, mark.start + shop.kerf)
    found.append((x, y, stop - x, width))
    return [box for box in found if box[2] > 0]


def empty_boxes(box: Box, pieces: list[Box], shop: Shop) -> list[Box]:
    """Return free rectangles that could be kept, largest first, a kerf from all else."""
    kerf = shop.kerf
    free = [box]
    for piece in pieces:
        free = _cut_out(free, piece, kerf)
    found = []
    while True:
        free = [b for b in free if b[2] >= shop.keep_length and b[3] >= shop.keep_width]
        if not free:
            return found
        largest = max(free, key=lambda b: b[2] * b[3])
        found.append(largest)
        free = _cut_out(free, largest, kerf)


def _cut_out(free: list[Box], piece: Box, kerf: int) -> list[Box]:
    """Return the largest free rectangles left once a piece is taken, kerf and all."""
    px, py, pl, pw = piece
    left, right, low, high = px - kerf, px + pl + kerf, py - kerf, py + pw + kerf
    found: list[Box] = []
    for x, y, length, width in free:
        if right <= x or x + length <= left or high <= y or y + width <= low:
            found.append((x, y, length, width))
            continue
        found += [
            (x, y, left - x, width),
            (right, y, x + length - right, width),
            (x, y, length, low - y),
            (x, high, length, y + width - high),
        ]
    found = [b for b in dict.fromkeys(found) if b[2] > 0 and b[3] > 0]
    return [b for b in found if not any(b != o and _holds(o, b) for o in found)]


def _holds(outer: Box, inner: Box) -> bool:
    return (
        outer[0] <= inner[0]
        and outer[1] <= inner[1]
        and inner[0] + inner[2] <= outer[0] + outer[2]
        and inner[1] + inner[3] <= outer[1] + outer[3]
    )
