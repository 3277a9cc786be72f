"""Whether a rack's ledger holds together: what each entry says against all before it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction

from stock.rack import Rack
from stock.rack_boards import RackBoard, board_faults
from stock.rack_entries import UNDO, Entry


def check_rack(rack: Rack) -> tuple[str, ...]:
    """Return what does not hold in a ledger, in words; nothing if it is sound."""
    seals = (f"entry {n}: is not as it was booked" for n in rack.broken_seals())
    return (*seals, *broken_entries(rack.entries()))


def broken_entries(entries: Iterable[Entry]) -> Iterator[str]:
    """Yield each entry that contradicts itself or those before it."""
    boards: dict[int, RackBoard | None] = {}
    names: Counter[str] = Counter()
    known: dict[int, Entry] = {}
    for place, entry in enumerate(entries, 1):
        where = f"entry {entry.number}"
        if entry.number != place:
            yield f"{where}: stands where entry {place} should"
        for one in entry.changes:
            if boards.get(one.board) != one.before:
                yield f"{where}: board number {one.board} was not as it says"
            names.subtract(_names(boards.get(one.board)))
            names.update(_names(one.after))
            boards[one.board] = one.after
            if one.after:
                yield from (f"{where}: {fault}" for fault in board_faults(one.after))
        if not _balances(entry):
            yield f"{where}: board feet that came, went and lie there do not add up"
        come = {name for one in entry.changes for name in _names(one.after)}
        for name in sorted(name for name in come if names[name] > 1):
            yield f"{where}: two boards are called {name!r}"
        yield from (f"{where}: {fault}" for fault in _undo_faults(entry, known))
        known[entry.number] = entry


def feet_of(entries: Iterable[Entry]) -> tuple[Fraction, Fraction, Fraction]:
    """Return the board feet that came in, were used, and were lost, over all entries."""
    every = tuple(entries)
    came = sum((entry.came for entry in every), Fraction(0))
    used = sum((entry.used for entry in every), Fraction(0))
    return came, used, sum((entry.lost for entry in every), Fraction(0))


def _names(one: RackBoard | None) -> tuple[str, ...]:
    """Return the name of a board as names are compared, none for no board."""
    return (one.name.casefold(),) if one else ()


def _balances(entry: Entry) -> bool:
    """Whether what came is what was used and lost, and what the rack has more."""
    grown = sum(
        (
            (one.after.feet if one.after else Fraction(0))
            - (one.before.feet if one.before else Fraction(0))
            for one in entry.changes
        ),
        Fraction(0),
    )
    booked = (entry.came, entry.used, entry.lost)
    backwards = entry.kind == UNDO
    one_way = all(part <= 0 if backwards else part >= 0 for part in booked)
    return one_way and entry.came == grown + entry.used + entry.lost


def _undo_faults(entry: Entry, known: dict[int, Entry]) -> Iterator[str]:
    """Yield what is wrong with an entry that takes another back."""
    if (entry.kind == UNDO) != (entry.undoes is not None):
        yield "an entry that takes back names the other, and no other entry does"
    if entry.undoes is None:
        return
    other = known.get(entry.undoes)
    if other is None or other.kind == UNDO:
        yield f"takes back entry {entry.undoes}, which is none before it"
        return
    if any(one.undoes == entry.undoes for one in known.values()):
        yield f"takes back entry {entry.undoes} a second time"
    turned = {(one.board, one.after, one.before) for one in entry.changes}
    if turned != {(one.board, one.before, one.after) for one in other.changes}:
        yield f"does not leave what was there before entry {entry.undoes}"
    booked = (-entry.came, -entry.used, -entry.lost)
    if booked != (other.came, other.used, other.lost):
        yield f"does not take back the board feet of entry {entry.undoes}"
