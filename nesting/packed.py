"""A problem and its cuttings as flat sequences of numbers, for the compiled loops.

Every record is a few whole numbers behind each other. A bin's sections are written as

    section: size of the record, x, length, credit, bands
    band:    y, height, strips
    strip:   width, pieces
    piece:   item, size, whole, unit, net, start

with lengths in grid steps, credit in 1/10000 cent, `unit` -1 for surplus staves and for
solid pieces, `start` from the section's own start, or -1 behind the piece before it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from nesting.build import net_room
from nesting.compiled import Real, Whole, blank, blank_real, real, whole
from nesting.cuttings import (
    Cut,
    Cutting,
    Give,
    Left,
    cutting_of,
    everything,
)
from nesting.patterns import Band, Strip, Values
from nesting.problem import Item, Problem

FACES = ("show", "second", "hidden")
MATCHES = ("none", "board", "flitch")
CREDIT = 10_000  # of a section's credit, per cent of money
MOST_CELLS = 700
MOST_CODE = 8000
PIECE, STRIP, BAND, HEADER = 6, 2, 3, 5
CACHED = 1024  # tables of sums that are kept
ROW_LENGTH = 64  # pieces in one strip at most
MOST_SAVED = 64  # bins that one move may change


# Where a number, or the place of a list, stands at the head of the problem's numbers.
(
    ITEMS, BINS, UNITS, HAS_MATCH, KERF, STEP, SHORTEST, KEEP_LENGTH, KEEP_WIDTH, OPTIONS,
    YARDS, CODE, ALONG_CELL, ALONG_CELLS, ACROSS_CELL, ACROSS_CELLS, IS_PANEL, LOW, HIGH,
    SINGLE, JOINT, NEED, MATCH, LAYERS, FIRST_UNIT, LAST_UNIT, IS_SHORT, FACE, OPTION_ITEM,
    OPTION_SIZE, OPTION_LENGTH, OPTION_WIDTH, OPTION_HASH, BIN_LENGTH, BIN_WIDTH,
    BIN_WIDTH2, BIN_COST, BIN_YARD, BIN_LOG, BIN_PLAIN, WANTED, LIMITED, ROOM, FIRST_MARK,
    MARK_START, MARK_END, MARK_LOW, MARK_HIGH, MARK_FORBIDS, FIRST_ZONE, ZONE_START,
    ZONE_END, ZONE_LOW, ZONE_HIGH, ZONE_ITEM, BIN_GOODS, BIN_CREDIT, LURE, TRIP, ORDER,
    TAX,
) = range(61)  # fmt: skip
HEAD = 61


class Packed(NamedTuple):
    """What does not change while a search runs: one entry per item, size, bin or mark.

    Attributes
    ----------
    whole
        Numbers, then lists of whole numbers; the head says where each list begins.
    real
        Lists of floating-point numbers, their places in the same head.
    """

    whole: Whole
    real: Real


def packed(problem: Problem, lure: Sequence[float]) -> Packed:
    """Return a problem as flat numbers; `lure` is what each bin promises for its cost."""
    items, bins = problem.items, problem.bins
    options = [(item, s) for item in items for s in range(len(item.sizes))]
    along, across = _cells(problem, options)
    units = sum(item.units for item in items if item.is_panel)
    numbers = {
        ITEMS: len(items), BINS: len(bins), UNITS: units,
        HAS_MATCH: int(any(_is_matched(item) for item in items)),
        KERF: problem.kerf, STEP: problem.step, SHORTEST: problem.shortest,
        KEEP_LENGTH: problem.keep_length, KEEP_WIDTH: problem.keep_width,
        OPTIONS: len(options), YARDS: len(problem.trips), CODE: _code_size(problem),
        ALONG_CELL: along[0], ALONG_CELLS: along[1],
        ACROSS_CELL: across[0], ACROSS_CELLS: across[1],
    }  # fmt: skip
    lists = {**_item_lists(problem), **_option_lists(options), **_bin_lists(problem)}
    orders = [problem.orders[yard] for yard in problem.trips]
    reals = {
        BIN_GOODS: [one.goods for one in bins],
        BIN_CREDIT: [one.credit for one in bins],
        LURE: list(lure),
        TRIP: [float(trip) for trip in problem.trips.values()],
        ORDER: [smallest for smallest, _ in orders],
        TAX: [tax for _, tax in orders],
    }
    head = [0] * HEAD
    flat: list[int] = []
    floats: list[float] = []
    for place, number in numbers.items():
        head[place] = number
    for place, values in lists.items():
        head[place] = HEAD + len(flat)
        flat += values
    for place, amounts in reals.items():
        head[place] = len(floats)
        floats += amounts
    return Packed(whole([*head, *flat]), real([*floats, 0.0]))


def _is_matched(item: Item) -> bool:
    return item.is_panel and item.match != "none"


def _item_lists(problem: Problem) -> dict[int, list[int]]:
    items = problem.items
    firsts = _starts(item.units if item.is_panel else 0 for item in items)
    return {
        IS_PANEL: [int(item.is_panel) for item in items],
        LOW: [item.low for item in items],
        HIGH: [item.high for item in items],
        SINGLE: [item.single for item in items],
        JOINT: [item.joint for item in items],
        NEED: [item.need for item in items],
        MATCH: [MATCHES.index(item.match) for item in items],
        LAYERS: [item.layers for item in items],
        FIRST_UNIT: firsts[:-1],
        LAST_UNIT: firsts[1:],
        IS_SHORT: [int(item.is_short) for item in items],
        FACE: [1 << FACES.index(item.face) for item in items],
    }


def _option_lists(options: Sequence[tuple[Item, int]]) -> dict[int, list[int]]:
    spots = random.Random(1)  # noqa: S311 - names for sets of options, not secrets
    return {
        OPTION_ITEM: [item.index for item, _ in options],
        OPTION_SIZE: [s for _, s in options],
        OPTION_LENGTH: [item.sizes[s][0] for item, s in options],
        OPTION_WIDTH: [item.sizes[s][1] for item, s in options],
        OPTION_HASH: [spots.getrandbits(62) for _ in options],
    }


def _bin_lists(problem: Problem) -> dict[int, list[int]]:
    items, bins = problem.items, problem.bins
    yards, logs = list(problem.trips), sorted({one.log for one in bins})
    marks = [mark for one in bins for mark in one.marks]
    zones = [
        (zone, i) for one in bins for i in sorted(one.limited) for zone in one.limited[i]
    ]
    return {
        BIN_LENGTH: [one.length for one in bins],
        BIN_WIDTH: [one.width for one in bins],
        BIN_WIDTH2: [one.width2 for one in bins],
        BIN_COST: [one.cost for one in bins],
        BIN_YARD: [-1 if one.yard is None else yards.index(one.yard) for one in bins],
        BIN_LOG: [logs.index(one.log) for one in bins],
        BIN_PLAIN: [int(one.is_plain) for one in bins],
        WANTED: [int(item.index in one.wanted) for one in bins for item in items],
        LIMITED: [int(item.index in one.limited) for one in bins for item in items],
        ROOM: [
            net_room(problem, item, one) if _is_matched(item) else 0
            for one in bins
            for item in items
        ],
        FIRST_MARK: _starts(len(one.marks) for one in bins),
        MARK_START: [mark.start for mark in marks],
        MARK_END: [mark.end for mark in marks],
        MARK_LOW: [mark.low for mark in marks],
        MARK_HIGH: [mark.high for mark in marks],
        MARK_FORBIDS: [
            sum(1 << n for n, face in enumerate(FACES) if mark.forbids(face))
            for mark in marks
        ],
        FIRST_ZONE: _starts(sum(len(z) for z in one.limited.values()) for one in bins),
        ZONE_START: [zone.start for zone, _ in zones],
        ZONE_END: [zone.end for zone, _ in zones],
        ZONE_LOW: [zone.low for zone, _ in zones],
        ZONE_HIGH: [zone.high for zone, _ in zones],
        ZONE_ITEM: [i for _, i in zones],
    }


def _cells(
    problem: Problem, options: Sequence[tuple[Item, int]]
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return cell and number of cells of the tables of sums, along and across."""
    kerf = problem.kerf
    lengths = [item.sizes[s][0] + kerf for item, s in options]
    widths = [
        (item.low if item.is_panel else item.sizes[s][1]) + kerf for item, s in options
    ]
    if any(item.is_panel for item in problem.items):
        widths.append(problem.step)
    longest = max(one.length for one in problem.bins) + kerf
    widest = max(max(one.width, one.width2) for one in problem.bins) + kerf
    along, across = _cell(lengths, longest), _cell(widths, widest)
    return (along, longest // along + 1), (across, widest // across + 1)


def _starts(counts: Iterable[int]) -> list[int]:
    found = [0]
    for count in counts:
        found.append(found[-1] + count)
    return found


def _cell(sizes: Sequence[int], most: int) -> int:
    """Return the cell that all sizes are multiples of, or a coarser one if that is tiny.

    Sums only guide the search, so that they may be rounded.
    """
    return max(math.gcd(*sizes), -(-most // MOST_CELLS), 1)


def _code_size(problem: Problem) -> int:
    """Return how many numbers a bin's sections may take."""
    smallest = min(
        (length + problem.kerf) * ((item.low if item.is_panel else width) + problem.kerf)
        for item in problem.items
        for length, width in item.sizes
    )
    largest = max(one.length * max(one.width, one.width2) for one in problem.bins)
    wanted = sum(
        item.units * (2 * item.staves + 2 if item.is_panel else 1) for item in problem.items
    )
    pieces = min(wanted, largest // max(1, smallest) + 1)
    return min(MOST_CODE, 100 + pieces * (PIECE + STRIP + BAND + HEADER))


# Where a list stands at the head of the numbers of a search.
(
    RANDOM, OPTION, UNIT, OPEN_NET, D_USED, ROW, BEST_ROW, REST, ALLOWED, HERE, LEAD,
    LENGTHS, SPANS, EDGES, SECTION, BEST_SECTION, OTHER, KEY_ALONG, ALONG, KEY_ACROSS,
    ACROSS, CODES, SIZE, LEFT, OPEN, BEST_CODE, BEST_SIZE, STOP, SAVED_BIN, SAVED_CODE,
    SAVED_SIZE, SAVED_LEFT, TRY_LEFT, GOOD_LEFT, GOOD_CODE, W_USED, TOUCHED, WAITING,
    VISITS, BEFORE, VALUES, SHAKEN, COST, MONEY, SAVED_COST, GOODS, RANK, TRAY, TRAY_WORTH,
    DONE_ALONG, CELLS, SEEN, PIECES,
) = range(53)  # fmt: skip
STATE_HEAD = 53


class State(NamedTuple):
    """Where a search stands, and its room to work in: whole numbers and others.

    Attributes
    ----------
    whole
        The head, then: per bin its sections (`CODES`, as many numbers as `SIZE` says), what
        is left, the best plan so far, and scratch.
    real
        `VALUES` of a piece, a step of net and a stave of every item; `COST` of every bin,
        cents net of credit; `MONEY`: cost of the state and of the best
        plan, how many of the last steps ended with a complete state, and what each board
        that gives staves to a panel counts beside its cost.
    """

    whole: Whole
    real: Real


def fresh_state(problem: Problem, p: Packed, values: Values, seed: int) -> State:
    """Return a search that has not begun: nothing is cut, every bin is open."""
    head = {k: int(p.whole[k]) for k in (ITEMS, BINS, UNITS, CODE, OPTIONS, YARDS)}
    n, bins, code = head[ITEMS], head[BINS], head[CODE]
    left = packed_left(problem, everything(problem))
    edges = 4 * max(
        2 + 2 * (len(one.marks) + sum(len(z) for z in one.limited.values()))
        for one in problem.bins
    )
    sizes = {
        RANDOM: 1, OPTION: head[OPTIONS], UNIT: n, OPEN_NET: n, D_USED: n,
        ROW: 4 * ROW_LENGTH, BEST_ROW: 4 * ROW_LENGTH, REST: len(left), ALLOWED: n,
        HERE: n, LEAD: n, LENGTHS: head[OPTIONS] + 6, SPANS: edges, EDGES: edges,
        SECTION: code, BEST_SECTION: code, OTHER: code, KEY_ALONG: CACHED,
        DONE_ALONG: CACHED, CELLS: 2 * head[OPTIONS] + 2,
        ALONG: CACHED * int(p.whole[ALONG_CELLS]), KEY_ACROSS: CACHED,
        ACROSS: CACHED * int(p.whole[ACROSS_CELLS]), CODES: bins * code, SIZE: bins,
        LEFT: len(left), OPEN: bins, BEST_CODE: bins * code, BEST_SIZE: bins, STOP: 1,
        SAVED_BIN: bins + 1, SAVED_CODE: min(bins, MOST_SAVED) * code, SAVED_SIZE: bins,
        SAVED_LEFT: len(left), TRY_LEFT: len(left), GOOD_LEFT: len(left),
        GOOD_CODE: code, W_USED: bins, TOUCHED: bins, WAITING: bins,
        VISITS: head[YARDS], BEFORE: len(left), TRAY: 9 * (head[OPTIONS] + 1),
        SEEN: head[UNITS], PIECES: code // PIECE + 1,
    }  # fmt: skip
    reals = {
        VALUES: 3 * n, SHAKEN: 3 * n, COST: bins, MONEY: 4, SAVED_COST: bins,
        GOODS: head[YARDS], RANK: bins, TRAY_WORTH: 2 * (head[OPTIONS] + 1),
    }  # fmt: skip
    places, total, real_total = {}, STATE_HEAD, 0
    for place, size in sizes.items():
        places[place] = total
        total += size
    for place, size in reals.items():
        places[place] = real_total
        real_total += size
    state = State(blank(total), blank_real(real_total))
    for place, start in places.items():
        state.whole[place] = start
    # any seed but nought will do for the generator
    state.whole[state.whole[RANDOM]] = (seed * 2654435761 + 88172645) % (2**32) or 1
    _write(state.whole, int(state.whole[LEFT]), left)
    _write(state.whole, int(state.whole[OPEN]), [1] * bins)
    for number, some in enumerate((values.piece, values.net, values.stave)):
        _write(state.real, int(state.whole[VALUES]) + number * n, some.tolist())
    return state


def _write(target: Whole | Real, at: int, values: Iterable[Any]) -> None:
    for k, value in enumerate(values):
        target[at + k] = value


def packed_left(problem: Problem, left: Left) -> list[int]:
    """Return what is wanted as numbers: pieces per item; units' nets, scopes, staves.

    A scope of -1 is none; 0 and above are bins, from the number of bins on logs.
    """
    units = [
        unit for item in problem.items if item.is_panel for unit in left.panels[item.index]
    ]
    logs = sorted({one.log for one in problem.bins})
    scopes = {f"board {one.name}": one.index for one in problem.bins}
    scopes |= {log: len(problem.bins) + number for number, log in enumerate(logs)}
    return [
        *(left.pieces.get(item.index, 0) for item in problem.items),
        *(net for net, _, _ in units),
        *(scopes[scope] if scope else -1 for _, scope, _ in units),
        *(staves for _, _, staves in units),
    ]


def first_unit(p: Packed, i: int) -> int:
    """Return the number of an item's first unit among all units."""
    return int(p.whole[p.whole[FIRST_UNIT] + i])


def packed_cutting(problem: Problem, p: Packed, cutting: Cutting) -> list[int]:
    """Return the sections of a cutting as numbers."""
    found: list[int] = []
    for cut in cutting.cuts:
        gives = iter(cut.gives)
        body: list[int] = []
        for band in cut.bands:
            body += [band.y, band.height, len(band.strips)]
            for strip in band.strips:
                body += [strip.width, len(strip.pieces)]
                starts = band.starts or (-1,) * len(strip.pieces)
                for (i, size, is_whole), start in zip(strip.pieces, starts, strict=True):
                    give = next(gives) if problem.items[i].is_panel else None
                    unit, net = -1, 0
                    if give is not None:
                        net = give.net
                        unit = give.unit + first_unit(p, i) if give.unit >= 0 else -1
                    body += [i, size, int(is_whole), unit, net, start]
        found += [
            len(body) + HEADER, cut.x, cut.length, round(cut.credit * CREDIT),
            len(cut.bands), *body,
        ]  # fmt: skip
    return found


def unpacked_cutting(
    problem: Problem, p: Packed, index: int, code: Sequence[int]
) -> Cutting:
    """Return numbers as a cutting of bin `index`."""
    numbers = iter(int(number) for number in code)
    cuts = []
    for _ in numbers:
        x, length, credit, bands = (next(numbers) for _ in range(4))
        made: list[Band] = []
        pieces: list[int] = []
        gives: list[Give] = []
        for _ in range(bands):
            y, height, count = (next(numbers) for _ in range(3))
            strips = []
            starts: list[int] = []
            for _ in range(count):
                width, many = next(numbers), next(numbers)
                row: list[tuple[int, int, bool]] = []
                for _ in range(many):
                    i, size, is_whole, unit, net, start = (next(numbers) for _ in range(6))
                    row.append((i, size, bool(is_whole)))
                    starts.append(start)
                    if problem.items[i].is_panel:
                        own = unit - first_unit(p, i) if unit >= 0 else -1
                        gives.append(Give(i, own, net))
                    else:
                        pieces.append(i)
                strips.append(Strip(width, tuple(row)))
            made.append(Band(x, y, length, height, tuple(strips), _between(starts)))
        cuts.append(
            Cut(x, length, tuple(made), tuple(pieces), tuple(gives), credit / CREDIT)
        )
    return cutting_of(problem, index, sorted(cuts, key=lambda cut: cut.x))


def _between(starts: Sequence[int]) -> tuple[int, ...]:
    """Return where the pieces of a band's only row start, if it was cut between marks.

    So it is even without waste among them: a mark may lie above, within the height of the
    band, so its strip must not be widened.
    """
    return tuple(starts) if any(start >= 0 for start in starts) else ()
