"""The inner loops of the search: strips that fill a clear section, and what is wanted.

Everything here works on flat numbers (`nesting.packed`) and is compiled where the extra is
installed. A section is filled strip by strip with what is still wanted and never with more;
a strip is led by one piece and filled behind it. A look at which rests could still be used
(`sums`) keeps strips and sections from leaving what nothing fits.
"""

from __future__ import annotations

from nesting.compiled import Real, Whole, compiled
from nesting.packed import (
    ACROSS,
    ACROSS_CELL,
    ACROSS_CELLS,
    ALONG,
    ALONG_CELL,
    ALONG_CELLS,
    BEST_ROW,
    BIN_LENGTH,
    BIN_LOG,
    BIN_WIDTH,
    BIN_WIDTH2,
    BINS,
    CACHED,
    CELLS,
    CODE,
    D_USED,
    DONE_ALONG,
    FIRST_UNIT,
    HIGH,
    IS_PANEL,
    IS_SHORT,
    ITEMS,
    JOINT,
    KERF,
    KEY_ACROSS,
    KEY_ALONG,
    LAST_UNIT,
    LAYERS,
    LEAD,
    LOW,
    MATCH,
    NEED,
    OPEN_NET,
    OPTION,
    OPTION_HASH,
    OPTION_ITEM,
    OPTION_LENGTH,
    OPTION_SIZE,
    OPTION_WIDTH,
    OPTIONS,
    PIECE,
    RANDOM,
    ROW,
    ROW_LENGTH,
    SHORTEST,
    SINGLE,
    STEP,
    TRAY,
    TRAY_WORTH,
    UNIT,
    UNITS,
)

LOW32 = 0xFFFFFFFF
MOST_OPTIONS = 32
ENTRY = 9  # numbers of one option on the tray
ROW_ENTRY = 4  # numbers of one piece of a row
NEXT = -1  # for where a piece of a row starts: where the one before it ends
ANY_WIDTH = 1 << 40


@compiled
def chance(S: Whole) -> float:
    """Return a random number from 0 to 1 (xorshift, Marsaglia 2003)."""
    x = S[S[RANDOM]]
    x ^= (x << 13) & LOW32
    x ^= x >> 17
    x ^= (x << 5) & LOW32
    S[S[RANDOM]] = x
    return x / 4294967296.0


@compiled
def below(S: Whole, count: int) -> int:
    """Return a random whole number from 0 to count - 1."""
    return int(chance(S) * count)


@compiled
def copy(S: Whole, source: int, target: int, count: int) -> None:
    """Copy `count` numbers."""
    for k in range(count):
        S[target + k] = S[source + k]


@compiled
def width_at(P: Whole, R: Real, S: Whole, T: Real, b: int, x: int) -> int:
    """Return the width of a bin at x, rounded down."""
    first, last = P[P[BIN_WIDTH] + b], P[P[BIN_WIDTH2] + b]
    return first + (last - first) * x // max(1, P[P[BIN_LENGTH] + b])


@compiled
def scope(P: Whole, R: Real, S: Whole, T: Real, i: int, b: int) -> int:
    """Return what all staves of a unit of item i share if one comes from bin b; or -1."""
    if P[P[MATCH] + i] == 1:
        return b
    return P[BINS] + P[P[BIN_LOG] + b] if P[P[MATCH] + i] == 2 else -1


@compiled
def unit_for(P: Whole, R: Real, S: Whole, T: Real, left: int, i: int, b: int) -> int:
    """Return the unit that the next stave goes to, or -1; begun ones come first."""
    n, u = P[ITEMS], P[UNITS]
    own = scope(P, R, S, T, i, b)
    best, least = -1, 0
    for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
        net = S[left + n + unit]
        if net <= 0:
            continue
        held = S[left + n + u + unit]
        if own >= 0:
            if held not in (-1, own):
                continue
            if held != own:
                net += P[P[NEED] + i]
        if best < 0 or net < least:
            best, least = unit, net
    return best


@compiled
def open_net(P: Whole, R: Real, S: Whole, T: Real, left: int, i: int, b: int) -> int:
    """Return the net width of item i that bin b may still give."""
    n, u = P[ITEMS], P[UNITS]
    own = scope(P, R, S, T, i, b)
    total = 0
    for unit in range(P[P[FIRST_UNIT] + i], P[P[LAST_UNIT] + i]):
        if S[left + n + unit] > 0 and (own < 0 or S[left + n + u + unit] in (-1, own)):
            total += S[left + n + unit]
    return total


@compiled
def give(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    left: int,
    i: int,
    unit: int,
    net: int,
    own: int,
) -> None:
    """Take a stave's net width off a unit; lock it and its layers to a scope."""
    n, u = P[ITEMS], P[UNITS]
    S[left + n + unit] -= net
    S[left + n + 2 * u + unit] += 1
    if own >= 0:
        first = unit - (unit - P[P[FIRST_UNIT] + i]) % P[P[LAYERS] + i]
        for other in range(first, first + P[P[LAYERS] + i]):
            S[left + n + u + other] = own


@compiled
def take_back(
    P: Whole, R: Real, S: Whole, T: Real, left: int, i: int, unit: int, net: int
) -> None:
    """Undo `give`; a unit whose last stave goes is free to be matched anew."""
    n, u = P[ITEMS], P[UNITS]
    S[left + n + unit] += net
    S[left + n + 2 * u + unit] -= 1
    if P[P[MATCH] + i] > 0:
        first = unit - (unit - P[P[FIRST_UNIT] + i]) % P[P[LAYERS] + i]
        count = 0
        for other in range(first, first + P[P[LAYERS] + i]):
            count += S[left + n + 2 * u + other]
        if count == 0:
            for other in range(first, first + P[P[LAYERS] + i]):
                S[left + n + u + other] = -1


@compiled
def use_section(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    left: int,
    b: int,
    code: int,
    at: int,
    sign: int,
) -> None:
    """Take what a section makes off what is wanted (sign 1), or want it again (-1)."""
    bands = S[code + at + 4]
    k = at + 5
    for _ in range(bands):
        strips = S[code + k + 2]
        k += 3
        for _ in range(strips):
            pieces = S[code + k + 1]
            k += 2
            for _ in range(pieces):
                i, unit, net = S[code + k], S[code + k + 3], S[code + k + 4]
                k += PIECE
                if P[P[IS_PANEL] + i] == 0:
                    S[left + i] -= sign
                elif unit >= 0:
                    if sign > 0:
                        give(P, R, S, T, left, i, unit, net, scope(P, R, S, T, i, b))
                    else:
                        take_back(P, R, S, T, left, i, unit, net)


@compiled
def is_done(P: Whole, R: Real, S: Whole, T: Real, left: int) -> bool:
    """Whether nothing is wanted any more."""
    for i in range(P[ITEMS] + P[UNITS]):
        if S[left + i] > 0:
            return False
    return True


# --- sums -----------------------------------------------------------------------------


@compiled
def sums_along(
    P: Whole, R: Real, S: Whole, T: Real, key: int, count: int, length: int
) -> int:
    """Return where the table of sums of the options' lengths begins, up to a length.

    Per cell of a rest, how many cells of it no sum of lengths uses. What is there of a
    table already is gone on with.
    """
    slot = key % CACHED
    at = slot * P[ALONG_CELLS]
    table = S[ALONG] + at
    if S[S[KEY_ALONG] + slot] != key:
        S[S[KEY_ALONG] + slot] = key
        S[S[DONE_ALONG] + slot] = 0
    done, cell = S[S[DONE_ALONG] + slot], P[ALONG_CELL]
    most = min((length + P[KERF]) // cell, P[ALONG_CELLS] - 1)
    if done >= most:
        return at
    sizes = 0
    for c in range(count):
        size = P[P[OPTION_LENGTH] + S[S[OPTION] + c]] + P[KERF]
        sizes = put_in(S, -(-size // cell), 0, sizes)
    last = done - S[table + done]
    for v in range(done + 1, most + 1):
        for c in range(sizes):
            size = S[S[CELLS] + 2 * c]
            if size > v:
                break
            if S[table + v - size] == 0:
                last = v
                break
        S[table + v] = v - last
    S[S[DONE_ALONG] + slot] = most
    return at


@compiled
def put_in(S: Whole, low: int, spread: int, count: int) -> int:
    """Put a size, and how much more it may be, among `count` others, least first.

    Return how many there are then; one that is known already is left out.
    """
    cells = S[CELLS]
    at = count
    while at > 0 and S[cells + 2 * at - 2] > low:
        at -= 1
    if at > 0 and S[cells + 2 * at - 2] == low and S[cells + 2 * at - 1] >= spread:
        return count
    for k in range(count, at, -1):
        S[cells + 2 * k], S[cells + 2 * k + 1] = S[cells + 2 * k - 2], S[cells + 2 * k - 1]
    S[cells + 2 * at], S[cells + 2 * at + 1] = low, spread
    return count + 1


@compiled
def sums_across(P: Whole, R: Real, S: Whole, T: Real, key: int, count: int) -> int:
    """Return where the table of sums of the options' widths begins."""
    cells = P[ACROSS_CELLS]
    slot = key % CACHED
    at = slot * cells
    if S[S[KEY_ACROSS] + slot] == key:
        return at
    S[S[KEY_ACROSS] + slot] = key
    cell, table, sizes = P[ACROSS_CELL], S[ACROSS] + at, 0
    for c in range(count):
        k = S[S[OPTION] + c]
        i = P[P[OPTION_ITEM] + k]
        low = high = P[P[OPTION_WIDTH] + k]
        if P[P[IS_PANEL] + i] == 1:
            low, high = P[P[LOW] + i], P[P[HIGH] + i]
        low, high = -(-(low + P[KERF]) // cell), -(-(high + P[KERF]) // cell)
        sizes = put_in(S, low, high - low, sizes)
    last = 0
    for v in range(1, cells):
        for c in range(sizes):
            low = S[S[CELLS] + 2 * c]
            if low > v:
                break
            # the greatest sum not above v - low must not lie too far below it
            if S[table + v - low] <= S[S[CELLS] + 2 * c + 1]:
                last = v
                break
        S[table + v] = v - last
    return at


# --- one section ----------------------------------------------------------------------


@compiled
def stave_width(P: Whole, R: Real, S: Whole, T: Real, i: int, room: int, net: int) -> int:
    """Return the width for the next stave, 0 if none fits.

    As wide as the room allows, but neither so that the panel's rest is too narrow for
    a stave, nor so that the room beside it is.
    """
    step, joint, low = P[STEP], P[P[JOINT] + i], P[P[LOW] + i]
    if P[P[SINGLE] + i] > 0 and net == P[P[NEED] + i] and P[P[SINGLE] + i] <= room:
        return P[P[SINGLE] + i]
    top = min(P[P[HIGH] + i], room // step * step)
    if top < low:
        return 0
    want = -(-(net + joint) // step) * step
    if want <= top:
        return max(want, low)
    beside = room - top - P[KERF]
    if 0 < beside < low and room >= 2 * low + P[KERF]:
        top = max(low, (room - P[KERF]) // 2 // step * step)
    if want - top + joint < low:
        top = max(low, want + joint - low)
    return min(top, P[P[HIGH] + i])


@compiled
def fill_row(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    lead: int,
    length: int,
    room: int,
    left: int,
    count: int,
    along: int,
) -> tuple[int, int, float]:
    """Write a strip led by option `lead` of the tray; return pieces, width and value."""
    tray, worths, row, used = S[TRAY], S[TRAY_WORTH], S[ROW], S[D_USED]
    kerf, cell, table = P[KERF], P[ALONG_CELL], S[ALONG] + along
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
    S[row], S[row + 1], S[row + 2], S[row + 3] = i, lead, is_whole, NEXT
    made = 1
    S[used + i] += 1
    rest = length + kerf - S[q + 2]  # of lengths with a kerf added
    while made < ROW_LENGTH:
        best, best_score, best_value = -1, 0.0, 0.0
        for c in range(count):
            q = tray + ENTRY * c
            size = S[q + 2]
            if size > rest:
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
            after = rest - size
            cells = after // cell
            score = worth / (size + after - (cells - S[table + cells]) * cell)
            if best < 0 or score > best_score:
                best, best_score, best_value = c, score, worth
        if best < 0:
            break
        q = tray + ENTRY * best
        k = row + ROW_ENTRY * made
        S[k], S[k + 1], S[k + 2], S[k + 3] = S[q + 1], best, 0, NEXT
        made += 1
        S[used + S[q + 1]] += 1
        value += best_value
        rest -= S[q + 2]
    end_row(S, made)
    return made, width, value


@compiled
def end_row(S: Whole, made: int) -> None:
    """Forget what a row took of each item; turn places on the tray into sizes."""
    for c in range(made):
        k = S[ROW] + ROW_ENTRY * c
        S[S[D_USED] + S[k]] = 0
        S[k + 1] = S[S[TRAY] + ENTRY * S[k + 1] + 8]


@compiled
def lay_out(P: Whole, R: Real, S: Whole, T: Real, v: int, left: int, count: int) -> None:
    """Lay the options out on the tray, shortest first: what rows need to know of each."""
    option = S[OPTION]
    for k in range(1, count):  # few: by insertion
        o, at = S[option + k], k
        size = P[P[OPTION_LENGTH] + o]
        while at > 0 and P[P[OPTION_LENGTH] + S[option + at - 1]] > size:
            S[option + at] = S[option + at - 1]
            at -= 1
        S[option + at] = o
    for c in range(count):
        o, q, t = S[option + c], S[TRAY] + ENTRY * c, S[TRAY_WORTH] + 2 * c
        i = P[P[OPTION_ITEM] + o]
        S[q], S[q + 1], S[q + 2] = o, i, P[P[OPTION_LENGTH] + o] + P[KERF]
        S[q + 5], S[q + 8] = P[P[IS_PANEL] + i], P[P[OPTION_SIZE] + o]
        if S[q + 5] == 1:
            S[q + 3], S[q + 4] = P[P[LOW] + i], P[P[HIGH] + i]
            S[q + 6], S[q + 7] = P[P[JOINT] + i], S[S[OPEN_NET] + i]
            T[t], T[t + 1] = T[v + 2 * P[ITEMS] + i], T[v + P[ITEMS] + i]
        else:
            S[q + 3], S[q + 4] = P[P[OPTION_WIDTH] + o], ANY_WIDTH
            S[q + 6], S[q + 7] = 0, S[left + i]
            T[t], T[t + 1] = T[v + i], 0.0


@compiled
def look(P: Whole, R: Real, S: Whole, T: Real, left: int, i: int, b: int) -> bool:
    """Note what bin b may still give of item i; whether it is anything."""
    if P[P[IS_PANEL] + i] == 0:
        return S[left + i] > 0
    S[S[UNIT] + i] = unit_for(P, R, S, T, left, i, b)
    S[S[OPEN_NET] + i] = open_net(P, R, S, T, left, i, b)
    return S[S[UNIT] + i] >= 0


@compiled
def gather_options(
    P: Whole, R: Real, S: Whole, T: Real, b: int, length: int, left: int, ok: int
) -> tuple[int, int]:
    """Write the options of a section to `S[OPTION]`; return their number and their key.

    Of many a random choice is taken; those nearly as long as the section come first.
    """
    gang = length < P[SHORTEST]
    count, key, near = 0, 0, 0
    for k in range(P[OPTIONS]):
        i = P[P[OPTION_ITEM] + k]
        if (
            S[ok + i] == 0
            or P[P[OPTION_LENGTH] + k] > length
            or (gang and P[P[IS_SHORT] + i] == 1)
        ):
            continue
        if not look(P, R, S, T, left, i, b):
            continue
        S[S[OPTION] + count] = k
        if 4 * P[P[OPTION_LENGTH] + k] >= 3 * length:
            S[S[OPTION] + count], S[S[OPTION] + near] = S[S[OPTION] + near], k
            near += 1
        count += 1
    if count > MOST_OPTIONS:
        first = min(near, MOST_OPTIONS * 2 // 3)
        for c in range(first):
            o = c + below(S, near - c)
            S[S[OPTION] + c], S[S[OPTION] + o] = S[S[OPTION] + o], S[S[OPTION] + c]
        for c in range(first, MOST_OPTIONS):
            o = c + below(S, count - c)
            S[S[OPTION] + c], S[S[OPTION] + o] = S[S[OPTION] + o], S[S[OPTION] + c]
        count = MOST_OPTIONS
    for c in range(count):
        key ^= P[P[OPTION_HASH] + S[S[OPTION] + c]]
    return count, key


@compiled
def write_strip(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    b: int,
    left: int,
    made: int,
    width: int,
    out: int,
    at: int,
) -> int:
    """Write `S[BEST_ROW]` as a strip at `at`, its staves given to units; return the end."""
    S[out + at], S[out + at + 1] = width, made
    k = at + 2
    for c in range(made):
        row = S[BEST_ROW] + ROW_ENTRY * c
        i, size, is_whole, place = S[row], S[row + 1], S[row + 2], S[row + 3]
        unit, net = -1, 0
        if P[P[IS_PANEL] + i] == 0:
            S[left + i] -= 1
        else:
            net = P[P[NEED] + i] if is_whole == 1 else width - P[P[JOINT] + i]
            unit = unit_for(P, R, S, T, left, i, b)
            if unit >= 0:
                give(P, R, S, T, left, i, unit, net, scope(P, R, S, T, i, b))
        S[out + k], S[out + k + 1], S[out + k + 2] = i, size, is_whole
        S[out + k + 3], S[out + k + 4], S[out + k + 5] = unit, net, place
        k += PIECE
    return k


@compiled
def spread(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    v: int,
    b: int,
    left: int,
    spare: int,
    out: int,
    at: int,
    strips: int,
) -> float:
    """Share spare width among staves whose panels want it; return what that is worth."""
    n, step = P[ITEMS], P[STEP]
    worth = 0.0
    k = at
    for _ in range(strips):
        pieces, first = S[out + k + 1], k + 2
        for c in range(pieces):
            piece = first + PIECE * c
            i, unit = S[out + piece], S[out + piece + 3]
            if (
                P[P[IS_PANEL] + i] == 0
                or unit < 0
                or S[out + piece + 2] == 1
                or spare < step
            ):
                continue
            wanted = S[left + n + unit]
            if wanted <= 0:
                continue
            high = S[out + k] + spare
            for other in range(pieces):
                j = S[out + first + PIECE * other]
                if P[P[IS_PANEL] + j] == 1:
                    high = min(high, P[P[HIGH] + j])
            more = min(high - S[out + k], -(-wanted // step) * step, spare // step * step)
            if more <= 0:
                continue
            S[out + k] += more
            spare -= more
            for other in range(pieces):
                place = first + PIECE * other
                j = S[out + place]
                if P[P[IS_PANEL] + j] == 1 and S[out + place + 2] == 0:
                    S[out + place + 4] += more
                    if S[out + place + 3] >= 0:
                        before = S[left + n + S[out + place + 3]]
                        worth += T[v + P[ITEMS] + j] * max(0, min(more, before))
                        S[left + n + S[out + place + 3]] -= more
        k = first + PIECE * pieces
    return worth


@compiled
def fill(
    P: Whole,
    R: Real,
    S: Whole,
    T: Real,
    v: int,
    b: int,
    length: int,
    width: int,
    left: int,
    ok: int,
    led: int,
    out: int,
    at: int,
) -> tuple[int, int, float]:
    """Write strips that fill a section from `at`; return the end, strips and worth.

    What they make is taken off `left`. With `led`, items of `S[LEAD]` are cut first.
    """
    count, key = gather_options(P, R, S, T, b, length, left, ok)
    if count == 0:
        return at, 0, 0.0
    along = sums_along(P, R, S, T, key, count, length)
    across = sums_across(P, R, S, T, key, count)
    lay_out(P, R, S, T, v, left, count)
    room, worth, strips, k = width, 0.0, 0, at
    while count > 0:
        best, best_width, best_value, best_score = 0, 0, 0.0, 0.0
        for c in range(count):
            if led == 1 and S[S[LEAD] + S[S[TRAY] + ENTRY * c + 1]] == 0:
                continue
            made, wide, value = fill_row(P, R, S, T, c, length, room, left, count, along)
            if made == 0:
                continue
            rest = room - wide
            taken = wide + P[KERF]
            if rest > 0:
                cells = rest // P[ACROSS_CELL]
                taken += rest - (cells - S[S[ACROSS] + across + cells]) * P[ACROSS_CELL]
            score = value / taken * (0.9 + 0.2 * chance(S))
            if best == 0 or score > best_score:
                best, best_width, best_value, best_score = made, wide, value, score
                copy(S, S[ROW], S[BEST_ROW], ROW_ENTRY * made)
        if best == 0 and led == 1:
            led = 0
            continue
        if best == 0 or k + 2 + PIECE * best > P[CODE]:
            break
        k = write_strip(P, R, S, T, b, left, best, best_width, out, k)
        strips += 1
        room -= best_width + P[KERF]
        worth += best_value
        count = still_open(P, R, S, T, b, left, count)
    if strips == 0:
        return at, 0, 0.0
    worth += spread(P, R, S, T, v, b, left, room + P[KERF], out, at, strips)
    return k, strips, worth


@compiled
def still_open(P: Whole, R: Real, S: Whole, T: Real, b: int, left: int, count: int) -> int:
    """Drop options of which nothing is wanted any more; return how many are left."""
    kept = 0
    for c in range(count):
        q, t = S[TRAY] + ENTRY * c, S[TRAY_WORTH] + 2 * c
        i = S[q + 1]
        if not look(P, R, S, T, left, i, b):
            continue
        S[q + 7] = S[S[OPEN_NET] + i] if S[q + 5] == 1 else S[left + i]
        if kept < c:
            copy(S, q, S[TRAY] + ENTRY * kept, ENTRY)
            T[S[TRAY_WORTH] + 2 * kept], T[S[TRAY_WORTH] + 2 * kept + 1] = T[t], T[t + 1]
        kept += 1
    return kept


@compiled
def option_size(P: Whole, R: Real, S: Whole, T: Real, i: int, size: int) -> int:
    """Return the length of a size of item i: the options of an item lie side by side."""
    low, high = 0, P[OPTIONS] - 1
    while low < high:
        middle = (low + high) // 2
        if P[P[OPTION_ITEM] + middle] < i:
            low = middle + 1
        else:
            high = middle
    return P[P[OPTION_LENGTH] + low + size]
