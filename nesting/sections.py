"""Sections of a bin, in compiled loops: where they may lie, and what fills them."""

from __future__ import annotations

from nesting.between import (
    credit_beside,
    fill_between,
    sound_credit,
    touches,
    unused,
)
from nesting.carving import (
    below,
    chance,
    copy,
    fill,
    gather_options,
    option_size,
    sums_along,
    width_at,
)
from nesting.compiled import Real, Whole, compiled
from nesting.packed import (
    BEST_SECTION,
    BIN_COST,
    BIN_CREDIT,
    BIN_LENGTH,
    BIN_PLAIN,
    BIN_WIDTH2,
    CODE,
    CREDIT,
    EDGES,
    FACE,
    FIRST_MARK,
    FIRST_UNIT,
    FIRST_ZONE,
    HERE,
    IS_PANEL,
    IS_SHORT,
    ITEMS,
    KEEP_LENGTH,
    KEEP_WIDTH,
    KERF,
    LAST_UNIT,
    LEAD,
    LENGTHS,
    LIMITED,
    MARK_END,
    MARK_FORBIDS,
    MARK_HIGH,
    MARK_LOW,
    MARK_START,
    OPTION_ITEM,
    OPTION_LENGTH,
    OPTIONS,
    OTHER,
    PIECE,
    REST,
    SECTION,
    SHORTEST,
    SPANS,
    UNITS,
    ZONE_END,
    ZONE_HIGH,
    ZONE_ITEM,
    ZONE_LOW,
    ZONE_START,
)

MOST_LENGTHS = 9
SELDOM = 0.9  # share of places past a mark that are left out if there is a section before
BESIDE = 0.25  # share of sections on marks that are tried with rips beside the mark only


@compiled
def allowed_in(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    b: int,
    x: int,
    y: int,
    length: int,
    width: int,
    base: int,
    out: int,
) -> int:
    """Mark in `out` the items of `base` that may lie anywhere in a box; return how many."""
    bad = 0
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if touches(P, m, x, y, length, width):
            bad |= P[P[MARK_FORBIDS] + m]
    count = 0
    for i in range(P[ITEMS]):
        S[out + i] = 1 if S[base + i] == 1 and P[P[FACE] + i] & bad == 0 else 0
        if S[out + i] == 1 and P[P[LIMITED] + b * P[ITEMS] + i] == 1:
            S[out + i] = 0
            for z in range(P[P[FIRST_ZONE] + b], P[P[FIRST_ZONE] + b + 1]):
                if (
                    P[P[ZONE_ITEM] + z] == i
                    and P[P[ZONE_START] + z] <= x
                    and x + length <= P[P[ZONE_END] + z]
                    and P[P[ZONE_LOW] + z] <= y
                    and y + width <= P[P[ZONE_HIGH] + z]
                ):
                    S[out + i] = 1
        count += S[out + i]
    return count


@compiled
def list_edges(
    P: Whole, R: Real, S: Whole, T: Real, b: int, x: int, length: int, width: int
) -> int:
    """Write the heights where marks and zones change to `S[EDGES]`, sorted; count them."""
    S[S[EDGES] + 0], S[S[EDGES] + 1] = 0, width
    count = 2
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if x < P[P[MARK_END] + m] and P[P[MARK_START] + m] < x + length:
            for edge in (P[P[MARK_LOW] + m], P[P[MARK_HIGH] + m]):
                if 0 < edge < width:
                    S[S[EDGES] + count] = edge
                    count += 1
    for z in range(P[P[FIRST_ZONE] + b], P[P[FIRST_ZONE] + b + 1]):
        if x < P[P[ZONE_END] + z] and P[P[ZONE_START] + z] < x + length:
            for edge in (P[P[ZONE_LOW] + z], P[P[ZONE_HIGH] + z]):
                if 0 < edge < width:
                    S[S[EDGES] + count] = edge
                    count += 1
    for k in range(1, count):  # few: by insertion
        edge, at = S[S[EDGES] + k], k
        while at > 0 and S[S[EDGES] + at - 1] > edge:
            S[S[EDGES] + at] = S[S[EDGES] + at - 1]
            at -= 1
        S[S[EDGES] + at] = edge
    return count


@compiled
def list_bands(
    P: Whole, R: Real, S: Whole, T: Real, b: int, x: int, length: int, width: int
) -> int:
    """Write the bands between edges to `S[SPANS]`, a kerf apart; 0 if there is no edge."""
    edges = list_edges(P, R, S, T, b, x, length, width)
    if edges == 2:
        return 0
    count = 0
    for k in range(edges - 1):
        low, high = S[S[EDGES] + k], S[S[EDGES] + k + 1]
        if high == low:
            continue
        if count > 0:
            low = max(low, S[S[SPANS] + 2 * count - 1] + P[KERF])
        if high > low:
            S[S[SPANS] + 2 * count], S[S[SPANS] + 2 * count + 1] = low, high
            count += 1
    return count


@compiled
def longest_row(
    P: Whole, R: Real, S: Whole, T: Real, code: int, at: int, strips: int
) -> int:
    """Return how long a section must be for its rows of pieces, and for its gangs."""
    longest, k = 0, at
    for _ in range(strips):
        pieces = S[code + k + 1]
        k += 2
        total = -P[KERF]
        for _ in range(pieces):
            i = S[code + k]
            total += option_size(P, R, S, T, i, S[code + k + 1]) + P[KERF]
            if P[P[IS_SHORT] + i] == 1:
                longest = max(longest, P[SHORTEST])
            k += PIECE
        longest = max(longest, total)
    return longest


@compiled
def fill_section(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    v: int,
    b: int,
    x: int,
    length: int,
    spans: int,
    left: int,
    ok: int,
    led: int,
    out: int,
) -> float:
    """Write a section with bands in `S[SPANS]` to `out`; its worth, 0 if nothing fits."""
    copy(S, left, S[REST], P[ITEMS] + 3 * P[UNITS])
    total, bands, own, k = 0.0, 0, 0, 5
    for s in range(spans):
        low, height = S[S[SPANS] + 2 * s], S[S[SPANS] + 2 * s + 1] - S[S[SPANS] + 2 * s]
        if k + 3 > P[CODE]:
            break
        use = ok
        if P[P[BIN_PLAIN] + b] == 0:
            use = S[HERE]
            if allowed_in(P, R, S, T, b, x, low, length, height, ok, use) == 0:
                continue
        end, strips, worth = fill(
            P, R, S, T, v, b, length, height, S[REST], use, led, out, k + 3
        )
        if strips == 0:
            continue
        S[out + k], S[out + k + 1], S[out + k + 2] = low, height, strips
        own = max(own, longest_row(P, R, S, T, out, k + 3, strips))
        total += worth
        bands += 1
        k = end
    if bands == 0:
        return 0.0
    S[out], S[out + 1], S[out + 2], S[out + 4] = k, x, min(length, own), bands
    S[out + 3] = int(credit_beside(P, R, S, T, b, out) * CREDIT)
    return total


@compiled
def list_lengths(
    P: Whole, R: Real, S: Whole, T: Real, room: int, left: int, ok: int, led: int
) -> int:
    """Write section lengths worth trying to `S[LENGTHS]`; return how many.

    Lengths of wanted pieces, a random choice of many, and one row of several pieces.
    """
    count = 0
    for k in range(P[OPTIONS]):
        i = P[P[OPTION_ITEM] + k]
        if S[ok + i] == 0 or (led == 1 and S[S[LEAD] + i] == 0):
            continue
        size = P[P[OPTION_LENGTH] + k]
        if P[P[IS_SHORT] + i] == 1:
            size = max(size, P[SHORTEST])
        if size > room or not is_wanted(P, R, S, T, left, i):
            continue
        known = False
        for c in range(count):
            if S[S[LENGTHS] + c] == size:
                known = True
                break
        if not known:
            S[S[LENGTHS] + count] = size
            count += 1
    if count == 0:
        return 0
    longest = 0
    for c in range(1, count):
        if S[S[LENGTHS] + c] > S[S[LENGTHS] + longest]:
            longest = c
    S[S[LENGTHS] + 0], S[S[LENGTHS] + longest] = S[S[LENGTHS] + longest], S[S[LENGTHS] + 0]
    if count > MOST_LENGTHS:
        for c in range(1, MOST_LENGTHS):
            o = c + below(S, count - c)
            S[S[LENGTHS] + c], S[S[LENGTHS] + o] = S[S[LENGTHS] + o], S[S[LENGTHS] + c]
        count = MOST_LENGTHS
    more = room
    if chance(S) < 0.5:
        more = S[S[LENGTHS] + below(S, count)] + S[S[LENGTHS] + below(S, count)] + P[KERF]
    if S[S[LENGTHS] + 0] < more <= room:
        S[S[LENGTHS] + count] = more
        count += 1
    return count


@compiled
def lengths_at_marks(
    P: Whole, R: Real, S: Whole, T: Real, b: int, start: int, stop: int, count: int
) -> int:
    """Add to `S[LENGTHS]` a section up to the next mark, and one some piece beyond it."""
    first, behind = stop, stop
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if P[P[MARK_END] + m] > start and P[P[MARK_START] + m] < first:
            first, behind = P[P[MARK_START] + m], P[P[MARK_END] + m]
    if first >= stop:
        return count
    more = behind - start + S[S[LENGTHS] + below(S, count)]
    least = S[S[LENGTHS] + 0]
    for c in range(1, count):
        least = min(least, S[S[LENGTHS] + c])
    if first - start >= least:
        S[S[LENGTHS] + count] = first - start
        count += 1
    if more <= stop - start:
        S[S[LENGTHS] + count] = more
        count += 1
    return count


@compiled
def is_wanted(P: Whole, R: Real, S: Whole, T: Real, left: int, i: int) -> bool:
    """Whether any of item i is wanted."""
    if P[P[IS_PANEL] + i] == 0:
        return S[left + i] > 0
    for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
        if S[left + P[ITEMS] + unit] > 0:
            return True
    return False


@compiled
def gives_lead(P: Whole, R: Real, S: Whole, T: Real, code: int) -> bool:
    """Whether a section gives staves of an item of `S[LEAD]`."""
    k = 5
    for _ in range(S[code + 4]):
        strips = S[code + k + 2]
        k += 3
        for _ in range(strips):
            pieces = S[code + k + 1]
            k += 2
            for _ in range(pieces):
                if P[P[IS_PANEL] + S[code + k]] == 1 and S[S[LEAD] + S[code + k]] == 1:
                    return True
                k += PIECE
    return False


@compiled
def end_credit(P: Whole, R: Real, S: Whole, T: Real, b: int, start: int) -> float:
    """Return the credit, in cents, of a bin's clear end from `start` on."""
    length = P[P[BIN_LENGTH] + b] - start
    if R[P[BIN_CREDIT] + b] <= 0 or length < P[KEEP_LENGTH]:
        return 0.0
    width = min(width_at(P, R, S, T, b, start), P[P[BIN_WIDTH2] + b])
    if width < P[KEEP_WIDTH]:
        return 0.0
    return sound_credit(P, R, b, start, 0, length, width)


@compiled
def keep_better(S: Whole, worth: float, other: float) -> float:
    """Make the section in `S[OTHER]` that in `S[SECTION]` if it is worth more."""
    if other <= worth:
        return worth
    copy(S, S[OTHER], S[SECTION], S[S[OTHER] + 0])
    return other


@compiled
def best_section(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    v: int,
    b: int,
    x: int,
    stop: int,
    left: int,
    ok: int,
    led: int,
) -> float:
    """Write the section from x on, or past a mark, worth most per length; its worth.

    It ends at `stop` at the latest, a place where wood ends or another section begins.
    """
    best_score, best_worth = 0.0, 0.0
    starts = 1
    third = second = stop
    if P[P[BIN_PLAIN] + b] == 0:
        for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
            second, third = nearest(x, P[P[MARK_END] + m], second, third)
        for z in range(P[P[FIRST_ZONE] + b], P[P[FIRST_ZONE] + b + 1]):
            second, third = nearest(x, P[P[ZONE_START] + z], second, third)
        starts = 3
    for number in range(starts):
        start = x if number == 0 else second if number == 1 else third
        if start >= stop or (best_worth > 0.0 and chance(S) < SELDOM):
            continue
        count = list_lengths(P, R, S, T, stop - start, left, ok, led)
        if count > 0 and P[P[BIN_PLAIN] + b] == 0:
            count = lengths_at_marks(P, R, S, T, b, start, stop, count)
        options = gather_options(P, R, S, T, b, stop, left, ok)
        along = -1
        if options[0] > 0:
            along = sums_along(P, R, S, T, options[1], options[0], stop)
        for c in range(count):
            length = S[S[LENGTHS] + c]
            width = min(
                width_at(P, R, S, T, b, start), width_at(P, R, S, T, b, start + length)
            )
            if width <= 0:
                continue
            S[S[SPANS]], S[S[SPANS] + 1] = 0, width  # not split at all
            worth = fill_section(
                P, R, S, T, v, b, start, length, 1, left, ok, led, S[SECTION]
            )
            if P[P[BIN_PLAIN] + b] == 0:
                spans = list_bands(P, R, S, T, b, start, length, width)
                if spans > 0 and chance(S) < BESIDE:
                    other = fill_section(
                        P, R, S, T, v, b, start, length, spans, left, ok, led, S[OTHER]
                    )
                    worth = keep_better(S, worth, other)
                if spans > 0:
                    other = fill_between(
                        P, R, S, T, v, b, start, length, width, left, ok, led, S[OTHER]
                    )
                    worth = keep_better(S, worth, other)
            if worth <= 0.0 or (led == 1 and not gives_lead(P, R, S, T, S[SECTION])):
                continue
            taken = start + S[S[SECTION] + 2] + P[KERF] - x
            rest = stop + P[KERF] - x - taken
            waste = 0.0
            if rest > 0 and along >= 0:
                over = unused(P, S, along, rest)
                credit = 0.0
                if stop == P[P[BIN_LENGTH] + b]:
                    credit = end_credit(P, R, S, T, b, stop - over)
                waste = max(
                    0.0, over - credit * P[P[BIN_LENGTH] + b] / max(1, P[P[BIN_COST] + b])
                )
            score = worth / (taken + waste) * (0.95 + 0.1 * chance(S))
            if score > best_score:
                best_score, best_worth = score, worth
                copy(S, S[SECTION], S[BEST_SECTION], S[S[SECTION] + 0])
    return best_worth


@compiled
def nearest(x: int, place: int, second: int, third: int) -> tuple[int, int]:
    """Keep the two nearest different places beyond x."""
    if place <= x or place in (second, third):
        return second, third
    if place < second:
        return place, second
    return second, min(third, place)
