"""Large neighbourhoods in compiled loops: take boards back, cut them anew, keep what pays.

Ruin and recreate (Schrimpf et al. 2000) under simulated annealing, on flat numbers. Between
moves a plan may lack something, at a price a little above what the linear master says it is
worth to make; so the search can walk through sets of boards that are just too small.
"""

from __future__ import annotations

import math

from nesting.carving import below, chance, copy, is_done, scope, use_section
from nesting.compiled import Real, Whole, compiled
from nesting.packed import (
    ALLOWED,
    BEFORE,
    BEST_CODE,
    BEST_SECTION,
    BEST_SIZE,
    BIN_COST,
    BIN_GOODS,
    BIN_LENGTH,
    BIN_LOG,
    BIN_PLAIN,
    BIN_YARD,
    BINS,
    CODE,
    CODES,
    COST,
    CREDIT,
    FIRST_UNIT,
    GOOD_CODE,
    GOOD_LEFT,
    GOODS,
    HAS_MATCH,
    IS_PANEL,
    ITEMS,
    JOINT,
    KERF,
    LAST_UNIT,
    LAYERS,
    LEAD,
    LEFT,
    LOW,
    LURE,
    MATCH,
    MONEY,
    MOST_SAVED,
    NEED,
    OPEN,
    ORDER,
    PIECE,
    PIECES,
    RANK,
    ROOM,
    SAVED_BIN,
    SAVED_CODE,
    SAVED_COST,
    SAVED_LEFT,
    SAVED_SIZE,
    SEEN,
    SHAKEN,
    SIZE,
    STOP,
    TAX,
    TOUCHED,
    TRIP,
    TRY_LEFT,
    UNITS,
    VALUES,
    VISITS,
    W_USED,
    WAITING,
    WANTED,
    YARDS,
)
from nesting.sections import best_section, end_credit, is_wanted

CANDIDATES = 4
MOST_RUINED = 4


@compiled
def bin_end(P: Whole, R: Real, S: Whole, T: Real, b: int) -> int:
    """Return where the next section of a bin may begin."""
    at, end = b * P[CODE], b * P[CODE] + S[S[SIZE] + b]
    x = 0
    while at < end:
        x = max(x, S[S[CODES] + at + 1] + S[S[CODES] + at + 2] + P[KERF])
        at += S[S[CODES] + at]
    return x


@compiled
def pieces_of(P: Whole, R: Real, S: Whole, T: Real, b: int) -> int:
    """Write where the pieces of a bin stand to `S[PIECES]`; return how many."""
    count = 0
    at, end = b * P[CODE], b * P[CODE] + S[S[SIZE] + b]
    while at < end:
        k = S[CODES] + at + 5
        for _ in range(S[S[CODES] + at + 4]):
            strips = S[k + 2]
            k += 3
            for _ in range(strips):
                pieces = S[k + 1]
                k += 2
                for _ in range(pieces):
                    S[S[PIECES] + count] = k
                    count += 1
                    k += PIECE
        at += S[S[CODES] + at]
    return count


@compiled
def panels_served(P: Whole, R: Real, S: Whole, T: Real, b: int) -> int:
    """Return how many panels a bin gives staves to."""
    pieces, count = pieces_of(P, R, S, T, b), 0
    for sign in range(1, -1, -1):  # once to count, once to forget
        for n in range(pieces):
            unit = S[S[S[PIECES] + n] + 3]
            if unit >= 0:
                if S[S[SEEN] + unit] < sign:
                    count += 1
                S[S[SEEN] + unit] = sign
    return count


@compiled
def bin_yield(P: Whole, R: Real, S: Whole, T: Real, b: int) -> float:
    """Return what a bin's pieces are worth, over its cost."""
    n, v, worth = P[ITEMS], S[VALUES], 0.0
    for number in range(pieces_of(P, R, S, T, b)):
        k = S[S[PIECES] + number]
        i = S[k]
        if P[P[IS_PANEL] + i] == 0:
            worth += T[v + i]
        elif S[k + 3] >= 0:
            worth += T[v + n + i] * S[k + 4] + T[v + 2 * n + i]
    return worth / max(1.0, T[S[COST] + b])


@compiled
def price_bin(P: Whole, R: Real, S: Whole, T: Real, b: int) -> None:
    """Close up the sections of a plain bin, and set what the bin costs net of credit."""
    if S[S[SIZE] + b] == 0:
        T[S[COST] + b] = 0.0
        return
    at, end = b * P[CODE], b * P[CODE] + S[S[SIZE] + b]
    x, credit = 0, 0.0
    while at < end:
        if P[P[BIN_PLAIN] + b] == 1:
            S[S[CODES] + at + 1] = x
        credit += S[S[CODES] + at + 3] / CREDIT
        x = max(x, S[S[CODES] + at + 1] + S[S[CODES] + at + 2] + P[KERF])
        at += S[S[CODES] + at]
    T[S[COST] + b] = P[P[BIN_COST] + b] - credit - end_credit(P, R, S, T, b, x)
    if T[S[MONEY] + 3] > 0.0:
        T[S[COST] + b] += T[S[MONEY] + 3] * panels_served(P, R, S, T, b)


@compiled
def begun(P: Whole, R: Real, S: Whole, T: Real, b: int, left: int) -> int:
    """Mark in `S[LEAD]` allowed matched items of which a begun unit waits for this bin."""
    n, u = P[ITEMS], P[UNITS]
    count = 0
    for i in range(n):
        S[S[LEAD] + i] = 0
        if P[P[MATCH] + i] == 0 or S[S[ALLOWED] + i] == 0:
            continue
        own = scope(P, R, S, T, i, b)
        for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
            if S[left + n + unit] > 0 and S[left + n + u + unit] == own:
                S[S[LEAD] + i] = 1
        count += S[S[LEAD] + i]
    return count


@compiled
def lead_with(P: Whole, R: Real, S: Whole, T: Real, b: int, left: int) -> int:
    """Mark in `S[LEAD]` the matched item a bin begins with; 1 if there is one."""
    n, u = P[ITEMS], P[UNITS]
    chosen, able = -1, 0
    for i in range(n):
        S[S[LEAD] + i] = 0
        if P[P[MATCH] + i] == 0 or S[S[ALLOWED] + i] == 0:
            continue
        if P[P[ROOM] + b * n + i] < P[P[NEED] + i] * P[P[LAYERS] + i]:
            continue
        for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
            if S[left + n + unit] > 0 and S[left + n + u + unit] == -1:
                able += 1
                if below(S, able) == 0:
                    chosen = i
                break
    if chosen < 0 or chance(S) < 0.5:
        return 0
    S[S[LEAD] + chosen] = 1
    return 1


@compiled
def gap_from(P: Whole, R: Real, S: Whole, T: Real, b: int, x: int) -> tuple[int, int]:
    """Return where the first wood from x on lies that no section takes: start and end.

    A kerf is left to the sections around it.
    """
    start, end = x, b * P[CODE] + S[S[SIZE] + b]
    while True:
        stop, moved, at = P[P[BIN_LENGTH] + b], False, b * P[CODE]
        while at < end:
            low, size = S[S[CODES] + at + 1], S[S[CODES] + at + 2]
            if low <= start + P[KERF] and start < low + size + P[KERF]:
                start, moved = low + size + P[KERF], True
            elif low > start:
                stop = min(stop, low - P[KERF])
            at += S[S[CODES] + at]
        if not moved:
            return start, stop


@compiled
def extend(P: Whole, R: Real, S: Whole, T: Real, v: int, b: int, left: int) -> float:
    """Cut more sections of a bin, of items in `S[ALLOWED]`; return their worth.

    In bins with marks sections stay where they are, and gaps between them are used too.
    """
    led = 0
    if P[HAS_MATCH] == 1:
        led = lead_with(P, R, S, T, b, left)
    keep = led
    length = P[P[BIN_LENGTH] + b]
    x = bin_end(P, R, S, T, b) if P[P[BIN_PLAIN] + b] == 1 else 0
    total = 0.0
    while x < length and not is_done(P, R, S, T, left):
        stop = length
        if P[P[BIN_PLAIN] + b] == 0:
            x, stop = gap_from(P, R, S, T, b, x)
            if x >= length:
                break
        if P[HAS_MATCH] == 1:
            if keep == 0:
                led = 1 if begun(P, R, S, T, b, left) > 0 else 0
            keep = 0
        worth = 0.0
        if led == 1:
            worth = best_section(P, R, S, T, v, b, x, stop, left, S[ALLOWED], 1)
        if worth <= 0.0:
            worth = best_section(P, R, S, T, v, b, x, stop, left, S[ALLOWED], 0)
        if worth <= 0.0 and stop < length:
            x = stop + P[KERF]
            continue
        if worth <= 0.0 or S[S[SIZE] + b] + S[S[BEST_SECTION] + 0] > P[CODE]:
            break
        at = b * P[CODE] + S[S[SIZE] + b]
        copy(S, S[BEST_SECTION], S[CODES] + at, S[S[BEST_SECTION] + 0])
        S[S[SIZE] + b] += S[S[BEST_SECTION] + 0]
        use_section(P, R, S, T, left, b, S[CODES], at, 1)
        total += worth
        x = S[S[CODES] + at + 1] + S[S[CODES] + at + 2] + P[KERF]
    return total


@compiled
def allow(P: Whole, R: Real, S: Whole, T: Real, b: int, left: int, count: int) -> None:
    """Mark in `S[ALLOWED]` what bin b may be cut for: no matched panel it can't finish."""
    n, u = P[ITEMS], P[UNITS]
    for i in range(n):
        S[S[ALLOWED] + i] = P[P[WANTED] + b * n + i]
        if P[P[MATCH] + i] == 0 or S[S[ALLOWED] + i] == 0:
            continue
        own = scope(P, R, S, T, i, b)
        waits = False
        for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
            if S[left + n + unit] > 0 and S[left + n + u + unit] == own:
                waits = True
        if waits:
            continue
        net = P[P[ROOM] + b * n + i]
        if P[P[MATCH] + i] == 2:
            net = 0
            for k in range(count):
                if P[P[BIN_LOG] + S[S[WAITING] + k]] == P[P[BIN_LOG] + b]:
                    net += P[P[ROOM] + S[S[WAITING] + k] * n + i]
        if net < P[P[NEED] + i] * P[P[LAYERS] + i]:
            S[S[ALLOWED] + i] = 0


@compiled
def cut_bin(
    P: Whole, R: Real, S: Whole, T: Real, v: int, b: int, left: int, count: int
) -> float:
    """Cut an empty bin from what is wanted; return its worth, nothing cut if it is 0.

    Panels matched to this very board that stay unfinished are cut without.
    """
    n, u = P[ITEMS], P[UNITS]
    allow(P, R, S, T, b, left, count)
    copy(S, left, S[TRY_LEFT], n + 3 * u)
    for _ in range(3):
        worth = extend(P, R, S, T, v, b, left)
        if P[HAS_MATCH] == 0:
            return worth
        undone = 0
        for i in range(n):
            if P[P[MATCH] + i] == 1:
                for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
                    if S[left + n + unit] > 0 and S[left + n + u + unit] == b:
                        S[S[ALLOWED] + i] = 0
                        undone += 1
        if undone == 0:
            return worth
        S[S[SIZE] + b] = 0
        copy(S, S[TRY_LEFT], left, n + 3 * u)
    return 0.0


# --- several bins ---------------------------------------------------------------------


@compiled
def serves(P: Whole, R: Real, S: Whole, T: Real, b: int, left: int) -> bool:
    """Whether a bin may give anything that is wanted."""
    for i in range(P[ITEMS]):
        if P[P[WANTED] + b * P[ITEMS] + i] == 1 and is_wanted(P, R, S, T, left, i):
            return True
    return False


@compiled
def waits_for(P: Whole, R: Real, S: Whole, T: Real, left: int, log: int) -> int:
    """Whether a begun unit waits for this log (1), for others (0), for none (-1)."""
    n, u = P[ITEMS], P[UNITS]
    found = -1
    for unit in range(u):
        held = S[left + n + u + unit]
        if S[left + n + unit] > 0 and held >= P[BINS]:
            if held == P[BINS] + log:
                return 1
            found = 0
    return found


@compiled
def candidates(
    P: Whole, R: Real, S: Whole, T: Real, left: int, count: int, most: int
) -> int:
    """Move the bins worth trying next to the front of `S[WAITING]`; return how many.

    Logs that a matched panel is bound to go first.
    """
    bound = 0
    if P[HAS_MATCH] == 1:
        for k in range(count):
            b = S[S[WAITING] + k]
            if waits_for(P, R, S, T, left, P[P[BIN_LOG] + b]) == 1 and serves(
                P, R, S, T, b, left
            ):
                bound = 1
    found = 0
    for k in range(count):
        b = S[S[WAITING] + k]
        if not serves(P, R, S, T, b, left):
            continue
        if bound == 1 and waits_for(P, R, S, T, left, P[P[BIN_LOG] + b]) != 1:
            continue
        S[S[WAITING] + k], S[S[WAITING] + found] = S[S[WAITING] + found], b
        found += 1
    if found <= most:
        return found
    for k in range(found):
        b = S[S[WAITING] + k]
        T[S[RANK] + b] = R[P[LURE] + b] * (0.75 + 0.5 * chance(S))
    for c in range(most):
        best = c
        for k in range(c + 1, found):
            if T[S[RANK] + S[S[WAITING] + k]] > T[S[RANK] + S[S[WAITING] + best]]:
                best = k
        S[S[WAITING] + c], S[S[WAITING] + best] = S[S[WAITING] + best], S[S[WAITING] + c]
    return most


@compiled
def build(
    P: Whole, R: Real, S: Whole, T: Real, v: int, most: int, among: int = CANDIDATES
) -> None:
    """Cut up to `most` more open bins until nothing is wanted.

    Each is the best of some tried, `among` so many at most.
    """
    n, left = P[ITEMS] + 3 * P[UNITS], S[LEFT]
    count = 0
    for y in range(P[YARDS]):
        S[S[VISITS] + y] = 0
    for b in range(P[BINS]):
        if S[S[SIZE] + b] > 0:
            if P[P[BIN_YARD] + b] >= 0:
                S[S[VISITS] + P[P[BIN_YARD] + b]] = 1
        elif S[S[OPEN] + b] == 1:
            S[S[WAITING] + count] = b
            count += 1
    made = 0
    while (
        count > 0
        and made < most
        and S[S[SAVED_BIN] + 0] < MOST_SAVED
        and not is_done(P, R, S, T, left)
    ):
        tried = candidates(P, R, S, T, left, count, among)
        if tried == 0:
            return
        copy(S, left, S[BEFORE], n)
        best, best_score, best_size = -1, 0.0, 0
        for k in range(tried):
            b = S[S[WAITING] + k]
            worth = cut_bin(P, R, S, T, v, b, left, count)
            if worth > 0.0 and S[S[SIZE] + b] > 0:
                price_bin(P, R, S, T, b)
                yard = P[P[BIN_YARD] + b]
                trip = R[P[TRIP] + yard] if yard >= 0 and S[S[VISITS] + yard] == 0 else 0.0
                score = worth / max(1.0, T[S[COST] + b] + 0.3 * trip)
                score *= 0.95 + 0.1 * chance(S)
                if best < 0 or score > best_score:
                    best, best_score, best_size = k, score, S[S[SIZE] + b]
                    copy(S, S[CODES] + b * P[CODE], S[GOOD_CODE], best_size)
                    copy(S, left, S[GOOD_LEFT], n)
            S[S[SIZE] + b] = 0
            T[S[COST] + b] = 0.0
            copy(S, S[BEFORE], left, n)
        if best < 0:  # none of these gives anything: try others
            for k in range(tried):
                count -= 1
                S[S[WAITING] + k] = S[S[WAITING] + count]
            continue
        b = S[S[WAITING] + best]
        save_bin(P, R, S, T, b)
        copy(S, S[GOOD_CODE], S[CODES] + b * P[CODE], best_size)
        copy(S, S[GOOD_LEFT], left, n)
        S[S[SIZE] + b] = best_size
        price_bin(P, R, S, T, b)
        count -= 1
        S[S[WAITING] + best] = S[S[WAITING] + count]
        if P[P[BIN_YARD] + b] >= 0:
            S[S[VISITS] + P[P[BIN_YARD] + b]] = 1
        made += 1


# --- moves ----------------------------------------------------------------------------


@compiled
def save_bin(P: Whole, R: Real, S: Whole, T: Real, b: int) -> None:
    """Remember a bin before it changes; `S[SAVED_BIN]` begins with how many there are."""
    count = S[S[SAVED_BIN] + 0]
    for k in range(count):
        if S[S[SAVED_BIN] + 1 + k] == b:
            return
    S[S[SAVED_BIN] + 1 + count] = b
    S[S[SAVED_SIZE] + count] = S[S[SIZE] + b]
    T[S[SAVED_COST] + count] = T[S[COST] + b]
    copy(S, S[CODES] + b * P[CODE], S[SAVED_CODE] + count * P[CODE], S[S[SIZE] + b])
    S[S[SAVED_BIN] + 0] = count + 1


@compiled
def revert(P: Whole, R: Real, S: Whole, T: Real) -> None:
    """Take the last move back."""
    for k in range(S[S[SAVED_BIN] + 0]):
        b = S[S[SAVED_BIN] + 1 + k]
        S[S[SIZE] + b], T[S[COST] + b] = S[S[SAVED_SIZE] + k], T[S[SAVED_COST] + k]
        copy(S, S[SAVED_CODE] + k * P[CODE], S[CODES] + b * P[CODE], S[S[SIZE] + b])
    copy(S, S[SAVED_LEFT], S[LEFT], P[ITEMS] + 3 * P[UNITS])


@compiled
def total_cost(P: Whole, R: Real, S: Whole, T: Real, v: int, greed: float) -> float:
    """Return a state's cost in cents, lacks counted at `greed` times their value."""
    for y in range(P[YARDS]):
        T[S[GOODS] + y], S[S[VISITS] + y] = 0.0, 0
    total = 0.0
    for b in range(P[BINS]):
        if S[S[SIZE] + b] > 0:
            total += T[S[COST] + b]
            if P[P[BIN_YARD] + b] >= 0:
                T[S[GOODS] + P[P[BIN_YARD] + b]] += R[P[BIN_GOODS] + b]
                S[S[VISITS] + P[P[BIN_YARD] + b]] = 1
    for y in range(P[YARDS]):
        if S[S[VISITS] + y] == 1:
            total += (
                R[P[TRIP] + y] + max(0.0, R[P[ORDER] + y] - T[S[GOODS] + y]) * R[P[TAX] + y]
            )
    for i in range(P[ITEMS]):
        if P[P[IS_PANEL] + i] == 0:
            total += greed * S[S[LEFT] + i] * T[v + i]
            continue
        for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
            net = S[S[LEFT] + P[ITEMS] + unit]
            if net > 0:
                total += greed * (
                    T[v + P[ITEMS] + i] * max(net, P[P[LOW] + i] - P[P[JOINT] + i])
                    + T[v + 2 * P[ITEMS] + i]
                )
    return total


@compiled
def ruin_bin(P: Whole, R: Real, S: Whole, T: Real, b: int, whole: int) -> None:
    """Take sections of a bin back: all, any of a plain bin, the last ones of another."""
    save_bin(P, R, S, T, b)
    first = b * P[CODE]
    at, end, to = first, first + S[S[SIZE] + b], first
    sections = 0
    while at < end:
        sections += 1
        at += S[S[CODES] + at]
    stay = below(S, sections + 1)
    luck = 0.0 if P[P[BIN_PLAIN] + b] == 1 else chance(S)
    at, number = first, 0
    while at < end:
        size = S[S[CODES] + at]
        keep = False
        if whole == 0:
            keep = chance(S) < 0.5 if luck < 0.7 else number < stay
        if keep:
            if to < at:
                copy(S, S[CODES] + at, S[CODES] + to, size)
            to += size
        else:
            use_section(P, R, S, T, S[LEFT], b, S[CODES], at, -1)
        at += size
        number += 1
    S[S[SIZE] + b] = to - first
    price_bin(P, R, S, T, b)


@compiled
def ruin(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
) -> int:
    """Take sections or whole bins back; list in `S[TOUCHED]` those to be cut again."""
    used = 0
    for b in range(P[BINS]):
        if S[S[SIZE] + b] > 0:
            S[S[W_USED] + used] = b
            used += 1
    if used == 0:
        return 0
    whole = 1 if chance(S) < 0.4 else 0
    most = min(used, 1 + below(S, 3 if whole == 1 else MOST_RUINED))
    for k in range(most):
        o = k + below(S, used - k)
        if chance(S) < 0.7:
            p = k + below(S, used - k)
            one, other = S[S[W_USED] + o], S[S[W_USED] + p]
            if bin_yield(P, R, S, T, other) < bin_yield(P, R, S, T, one):
                o = p
        S[S[W_USED] + k], S[S[W_USED] + o] = S[S[W_USED] + o], S[S[W_USED] + k]
        S[S[TOUCHED] + k] = S[S[W_USED] + k]
        ruin_bin(P, R, S, T, S[S[TOUCHED] + k], whole)
    if whole == 1 and chance(S) < 0.6:
        most -= 1
        S[S[TOUCHED] + 0] = S[S[TOUCHED] + most]
    return most


@compiled
def recreate(P: Whole, R: Real, S: Whole, T: Real, v: int, touched: int) -> None:
    """Cut the touched bins anew; then add bins, mostly until nothing lacks."""
    for k in range(touched):
        o = k + below(S, touched - k)
        S[S[TOUCHED] + k], S[S[TOUCHED] + o] = S[S[TOUCHED] + o], S[S[TOUCHED] + k]
        b = S[S[TOUCHED] + k]
        for i in range(P[ITEMS]):
            S[S[ALLOWED] + i] = P[P[WANTED] + b * P[ITEMS] + i]
        extend(P, R, S, T, v, b, S[LEFT])
        price_bin(P, R, S, T, b)
    if is_done(P, R, S, T, S[LEFT]):
        return
    most = P[BINS]
    if chance(S) >= 0.7:
        most = below(S, 2)
    if most > 0:
        build(P, R, S, T, v, most)


@compiled
def keep_best(P: Whole, R: Real, S: Whole, T: Real, cost: float) -> None:
    """Remember the state as the best complete plan."""
    T[S[MONEY] + 1] = cost
    for b in range(P[BINS]):
        S[S[BEST_SIZE] + b] = S[S[SIZE] + b]
        if S[S[SIZE] + b] > 0:
            copy(S, S[CODES] + b * P[CODE], S[BEST_CODE] + b * P[CODE], S[S[SIZE] + b])


@compiled
def steps(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    v: int,
    count: int,
    heat: float,
    greed: float,
) -> int:
    """Try `count` neighbourhoods; return how often the best complete plan got better.

    `heat` is the temperature of acceptance as a share of the best cost.
    """
    better = 0
    T[S[MONEY] + 2] = 0.0
    shaken = S[SHAKEN]
    for _ in range(count):
        if S[S[STOP] + 0] != 0:
            break
        shake = 0.3 * chance(S) * chance(S)
        for i in range(P[ITEMS]):
            factor = 1 + shake * (2 * chance(S) - 1)
            T[shaken + i] = T[v + i] * factor
            T[shaken + P[ITEMS] + i] = T[v + P[ITEMS] + i] * factor
            T[shaken + 2 * P[ITEMS] + i] = T[v + 2 * P[ITEMS] + i] * factor
        S[S[SAVED_BIN] + 0] = 0
        copy(S, S[LEFT], S[SAVED_LEFT], P[ITEMS] + 3 * P[UNITS])
        touched = ruin(P, R, S, T)
        recreate(P, R, S, T, shaken, touched)
        cost = total_cost(P, R, S, T, v, greed)
        rise = cost - T[S[MONEY]]
        degrees = heat * abs(T[S[MONEY] + 1])
        if is_done(P, R, S, T, S[LEFT]) and cost < T[S[MONEY] + 1] - 1e-6:
            keep_best(P, R, S, T, cost)
            better += 1
        if rise <= 0 or (degrees > 0 and chance(S) < math.exp(-rise / degrees)):
            T[S[MONEY]] = cost
        else:
            revert(P, R, S, T)
        if is_done(P, R, S, T, S[LEFT]):
            T[S[MONEY] + 2] += 1
    return better
