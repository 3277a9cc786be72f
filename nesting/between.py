"""Strips that pass marks: rows of pieces with waste between them, in compiled loops.

A section that holds a mark need not be ripped beside it: a strip through the mark is cut to
pieces before and behind it, and the mark goes into the waste.
"""

from __future__ import annotations

from nesting.carving import (
    ENTRY,
    ROW_ENTRY,
    chance,
    copy,
    end_row,
    gather_options,
    lay_out,
    option_size,
    stave_width,
    still_open,
    sums_across,
    sums_along,
    write_strip,
)
from nesting.compiled import Real, Whole, compiled
from nesting.packed import (
    ACROSS,
    ACROSS_CELL,
    ALONG,
    ALONG_CELL,
    BEST_ROW,
    BIN_CREDIT,
    BIN_LENGTH,
    CODE,
    CREDIT,
    D_USED,
    FACE,
    FIRST_MARK,
    FIRST_ZONE,
    HERE,
    IS_SHORT,
    ITEMS,
    KEEP_LENGTH,
    KEEP_WIDTH,
    KERF,
    LEAD,
    LIMITED,
    MARK_END,
    MARK_FORBIDS,
    MARK_HIGH,
    MARK_LOW,
    MARK_START,
    PIECE,
    REST,
    ROW,
    ROW_LENGTH,
    SINGLE,
    TRAY,
    TRAY_WORTH,
    UNIT,
    UNITS,
    ZONE_END,
    ZONE_HIGH,
    ZONE_ITEM,
    ZONE_LOW,
    ZONE_START,
)

HIDDEN = 4  # the bit of hidden parts in what a mark forbids


@compiled
def touches(P: Whole, m: int, x: int, y: int, length: int, width: int) -> bool:
    """Whether a box shares any wood with mark m."""
    return (
        x < P[P[MARK_END] + m]
        and P[P[MARK_START] + m] < x + length
        and y < P[P[MARK_HIGH] + m]
        and P[P[MARK_LOW] + m] < y + width
    )


@compiled
def sound_credit(
    P: Whole, R: Real, b: int, x: int, y: int, length: int, width: int
) -> float:
    """Return the credit of a box, in cents: nought if a mark forbids even a hidden part."""
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if P[P[MARK_FORBIDS] + m] & HIDDEN != 0 and touches(P, m, x, y, length, width):
            return 0.0
    return R[P[BIN_CREDIT] + b] * length * width


@compiled
def beside_credit(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    b: int,
    x: int,
    y: int,
    length: int,
    height: int,
    used: int,
) -> float:
    """Return the credit of the strip that a band leaves beside its last one."""
    wide = height - used - P[KERF]
    if wide < P[KEEP_WIDTH] or length < P[KEEP_LENGTH]:
        return 0.0
    return sound_credit(P, R, b, x, y + used + P[KERF], length, wide)


@compiled
def credit_beside(P: Whole, R: Real, S: Whole, T: Real, b: int, code: int) -> float:
    """Return the credit of the strips that the bands of a section leave beside them."""
    x, length, k, credit = S[code + 1], S[code + 2], 5, 0.0
    for _ in range(S[code + 4]):
        y, height, strips = S[code + k], S[code + k + 1], S[code + k + 2]
        k += 3
        used = -P[KERF]
        for _ in range(strips):
            used += S[code + k] + P[KERF]
            k += 2 + PIECE * S[code + k + 1]
        credit += beside_credit(P, R, S, T, b, x, y, length, height, used)
    return credit


@compiled
def in_zone(P: Whole, b: int, i: int, x: int, y: int, length: int, width: int) -> int:
    """Return the first place from x on in a zone of item i that holds a box, or -1."""
    best = -1
    for z in range(P[P[FIRST_ZONE] + b], P[P[FIRST_ZONE] + b + 1]):
        start = max(x, P[P[ZONE_START] + z])
        if (
            P[P[ZONE_ITEM] + z] == i
            and P[P[ZONE_LOW] + z] <= y
            and y + width <= P[P[ZONE_HIGH] + z]
            and start + length <= P[P[ZONE_END] + z]
            and (best < 0 or start < best)
        ):
            best = start
    return best


@compiled
def clear_from(
    P: Whole, R: Real, S: Whole, T: Real, b: int, i: int, x: int, y: int,
    length: int, width: int,
) -> int:  # fmt: skip
    """Return the first place from x on where a piece of item i may lie, or -1.

    It is x itself or leaves room for a cut, for what lies between is sawn off.
    """
    place = x
    while True:
        moved = place
        for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
            if P[P[MARK_FORBIDS] + m] & P[P[FACE] + i] == 0:
                continue
            if touches(P, m, moved, y, length, width):
                moved = max(P[P[MARK_END] + m], x + P[KERF])
        if P[P[LIMITED] + b * P[ITEMS] + i] == 1:
            start = in_zone(P, b, i, moved, y, length, width)
            if start < 0:
                return -1
            if start > moved:
                moved = max(start, x + P[KERF])
        if moved == place:
            return place
        if moved + length > P[P[BIN_LENGTH] + b]:
            return -1
        place = moved


@compiled
def unused(P: Whole, S: Whole, along: int, rest: int) -> int:
    """Return how much of a length, kerfs added, no row of the options uses."""
    if rest <= 0:
        return 0
    cells = rest // P[ALONG_CELL]
    return rest - (cells - S[S[ALONG] + along + cells]) * P[ALONG_CELL]


@compiled
def unused_between(
    P: Whole, R: Real, S: Whole, T: Real, b: int, i: int, x: int, end: int, y: int,
    width: int, along: int,
) -> int:  # fmt: skip
    """Return how much of a strip from x to `end` is left over, before and behind a mark.

    `end` has a kerf added. Only the next mark counts that item i must keep clear of.
    """
    first = -1
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if P[P[MARK_FORBIDS] + m] & P[P[FACE] + i] != 0 and touches(
            P, m, x, y, end - x, width
        ):
            if first < 0 or P[P[MARK_START] + m] < P[P[MARK_START] + first]:
                first = m
    if first < 0:
        return unused(P, S, along, end - x)
    start, stop = P[P[MARK_START] + first] + P[KERF], P[P[MARK_END] + first]
    return unused(P, S, along, start - x) + unused(P, S, along, end - max(x, stop))


@compiled
def row_between(
    P: Whole, R: Real, S: Whole, T: Real, b: int, lead: int, x: int, length: int, y: int,
    room: int, left: int, count: int, along: int,
) -> tuple[int, int, float]:  # fmt: skip
    """Write a strip at y, its pieces clear of marks; return pieces, width and value.

    Widths and values are worked out as in `fill_row`, written out here and there: calls to
    functions that both share made a cut take 15 to 20 % longer, as measured.
    """
    tray, worths, row, used = S[TRAY], S[TRAY_WORTH], S[ROW], S[D_USED]
    kerf, end = P[KERF], x + length + P[KERF]
    q = tray + ENTRY * lead
    i = S[q + 1]
    is_whole = 0
    if S[q + 5] == 1:
        net = S[left + P[ITEMS] + S[S[UNIT] + i]]
        width = stave_width(P, R, S, T, i, room, net)
        if width == 0:
            return 0, 0, 0.0
        if width == P[P[SINGLE] + i] and width > S[q + 4]:
            is_whole = 1
        value = T[worths + 2 * lead] + T[worths + 2 * lead + 1] * min(net, width - S[q + 6])
    else:
        width = S[q + 3]
        if width > room:
            return 0, 0, 0.0
        value = T[worths + 2 * lead]
    place = clear_from(P, R, S, T, b, i, x, y, S[q + 2] - kerf, width)
    if place < 0 or place + S[q + 2] > end:
        return 0, 0, 0.0
    S[row], S[row + 1], S[row + 2], S[row + 3] = i, lead, is_whole, place - x
    made = 1
    S[used + i] += 1
    at = place + S[q + 2]
    while made < ROW_LENGTH:
        best, best_place, best_score, best_value = -1, 0, 0.0, 0.0
        for c in range(count):
            q = tray + ENTRY * c
            size = S[q + 2]
            if at + size > end:
                break
            if width < S[q + 3] or width > S[q + 4]:
                continue
            if S[q + 5] == 1:
                net = width - S[q + 6]
                useful = min(net, S[q + 7] - S[used + S[q + 1]] * net)
                if useful <= 0:
                    continue
                worth = T[worths + 2 * c] + T[worths + 2 * c + 1] * useful
            elif S[q + 7] <= S[used + S[q + 1]]:
                continue
            else:
                worth = T[worths + 2 * c]
            place = clear_from(P, R, S, T, b, S[q + 1], at, y, size - kerf, width)
            if place < 0 or place + size > end:
                continue
            after = unused_between(
                P, R, S, T, b, S[q + 1], place + size, end, y, width, along
            )
            score = worth / (place + size - at + after)
            if best < 0 or score > best_score:
                best, best_place, best_score, best_value = c, place, score, worth
        if best < 0:
            break
        q, k = tray + ENTRY * best, row + ROW_ENTRY * made
        S[k], S[k + 1], S[k + 2], S[k + 3] = S[q + 1], best, 0, best_place - x
        made += 1
        S[used + S[q + 1]] += 1
        value += best_value
        at = best_place + S[q + 2]
    end_row(S, made)
    return made, width, value


@compiled
def next_edge(P: Whole, b: int, x: int, length: int, y: int, top: int, high: int) -> int:
    """Return the next edge of a mark above y, its low one or its high one; or `top`."""
    best = top
    for m in range(P[P[FIRST_MARK] + b], P[P[FIRST_MARK] + b + 1]):
        if x < P[P[MARK_END] + m] and P[P[MARK_START] + m] < x + length:
            edge = P[P[MARK_HIGH] + m] if high == 1 else P[P[MARK_LOW] + m]
            if y < edge < best:
                best = edge
    return best


@compiled
def fill_between(
    P: Whole, R: Real, S: Whole, T: Real, v: int, b: int, x: int, length: int, width: int,
    left: int, ok: int, led: int, out: int,
) -> float:  # fmt: skip
    """Write a section to `out` whose strips pass marks, with waste in their rows.

    Each strip is a band of its own: none may be moved or widened. Return the worth, 0 if
    nothing fits. Short pieces are left to sections without marks: gangs stay in one length.
    """
    copy(S, left, S[REST], P[ITEMS] + 3 * P[UNITS])
    for i in range(P[ITEMS]):
        S[S[HERE] + i] = S[ok + i] if P[P[IS_SHORT] + i] == 0 else 0
    rest = S[REST]
    count, key = gather_options(P, R, S, T, b, length, rest, S[HERE])
    if count == 0:
        return 0.0
    along = sums_along(P, R, S, T, key, count, length)
    across = sums_across(P, R, S, T, key, count)
    lay_out(P, R, S, T, v, rest, count)
    total, bands, own, k, y, last = 0.0, 0, 0, 5, 0, 0
    while count > 0 and y < width:
        room = width - y
        if chance(S) < 0.5:
            room = next_edge(P, b, x, length, y, width, 0) - y
        best, best_width, best_value, best_score = 0, 0, 0.0, 0.0
        for c in range(count):
            if led == 1 and S[S[LEAD] + S[S[TRAY] + ENTRY * c + 1]] == 0:
                continue
            made, wide, value = row_between(
                P, R, S, T, b, c, x, length, y, room, rest, count, along
            )
            if made == 0:
                continue
            over = width - y - wide
            taken = wide + P[KERF]
            if over > 0:
                cells = over // P[ACROSS_CELL]
                taken += over - (cells - S[S[ACROSS] + across + cells]) * P[ACROSS_CELL]
            score = value / taken * (0.9 + 0.2 * chance(S))
            if best == 0 or score > best_score:
                best, best_width, best_value, best_score = made, wide, value, score
                copy(S, S[ROW], S[BEST_ROW], ROW_ENTRY * made)
        if best == 0 and led == 1:
            led = 0
            continue
        if best == 0:  # go on above the next mark
            edge = next_edge(P, b, x, length, y, width, 1)
            y = max(edge, y + P[KERF])
            continue
        if k + 3 + 2 + PIECE * best > P[CODE]:
            break
        last = k
        S[out + k], S[out + k + 1], S[out + k + 2] = y, best_width, 1
        k = write_strip(P, R, S, T, b, rest, best, best_width, out, k + 3)
        end = S[BEST_ROW] + ROW_ENTRY * (best - 1)
        own = max(own, S[end + 3] + option_size(P, R, S, T, S[end], S[end + 1]))
        bands += 1
        total += best_value
        y += best_width + P[KERF]
        count = still_open(P, R, S, T, b, rest, count)
    if bands == 0:
        return 0.0
    S[out + last + 1] = width - S[out + last]  # what lies above may be kept
    S[out], S[out + 1], S[out + 2], S[out + 4] = k, x, own, bands
    S[out + 3] = int(credit_beside(P, R, S, T, b, out) * CREDIT)
    return total
