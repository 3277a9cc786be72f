"""One order for many lists: each list in its own order, equal entries done together.

The shortest such order is a shortest common supersequence. It is built entry by entry; of
the orders begun, as many as time allows go on, those that could end soonest first. While
none had to be dropped, the first to end is as short as any.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from itertools import groupby
from typing import Any, Generic, TypeVar

WORK = 60_000  # entries of lists looked at for one more entry of the order
MOST = 200  # orders that go on

K = TypeVar("K", bound=Hashable)
State = tuple[int, ...]  # how far each list is done


def merged(
    lists: Sequence[Sequence[K]], rank: Callable[[K], Any], is_free: Callable[[K], bool]
) -> tuple[tuple[K, ...], bool]:
    """Return an order that holds every list as a subsequence, and whether it is shortest.

    Parameters
    ----------
    rank
        Which entry goes first where either would do.
    is_free
        Whether an entry does not count: it is taken as soon as it heads a list.
    """
    short = {tuple(one for one, _ in groupby(some)) for some in lists}
    chains = sorted(short - {()}, key=lambda chain: [rank(one) for one in chain])
    entries = sorted({one for chain in chains for one in chain}, key=rank)
    search = _Search(chains, [one for one in entries if not is_free(one)], is_free)
    orders = [search.rid(((0,) * len(chains), ()))]
    is_shortest = True
    while True:
        done = next((one for one in orders if search.is_done(one[0])), None)
        if done is not None:
            return done[1], is_shortest
        orders, dropped = search.longer(orders)
        is_shortest &= not dropped


class _Search(Generic[K]):
    """The lists, and what is left of each from any place on."""

    def __init__(
        self, chains: Sequence[Sequence[K]], entries: list[K], is_free: Callable[[K], bool]
    ) -> None:
        self.chains, self.entries, self.is_free = chains, entries, is_free
        self.tails = [
            [
                Counter(x for x in chain[at:] if not is_free(x))
                for at in range(len(chain) + 1)
            ]
            for chain in chains
        ]
        work = max(1, len(chains) * len(entries))
        self.most = max(1, min(MOST, WORK // work))

    def is_done(self, state: State) -> bool:
        return all(at == len(c) for at, c in zip(state, self.chains, strict=True))

    def longer(
        self, orders: list[tuple[State, tuple[K, ...]]]
    ) -> tuple[list[tuple[State, tuple[K, ...]]], bool]:
        """Return the best orders one counted entry longer, and if some fell out."""
        found: dict[State, tuple[K, ...]] = {}
        for state, order in orders:
            for entry in self.entries:
                after = self._after(state, entry)
                if after != state:
                    after, path = self.rid((after, (*order, entry)))
                    found.setdefault(after, path)
        ranked = sorted(found.items(), key=lambda one: self._left(one[0]))
        return ranked[: self.most], len(ranked) > self.most

    def rid(self, begun: tuple[State, tuple[K, ...]]) -> tuple[State, tuple[K, ...]]:
        """Return an order with the free entries taken that head lists now."""
        state, order = begun
        while True:
            free = next((x for x in self._heads(state) if self.is_free(x)), None)
            if free is None:
                return state, order
            state, order = self._after(state, free), (*order, free)

    def _heads(self, state: State) -> list[K]:
        pairs = zip(state, self.chains, strict=True)
        return [chain[at] for at, chain in pairs if at < len(chain)]

    def _after(self, state: State, entry: K) -> State:
        """Return the state with `entry` taken off every list that it heads."""
        pairs = zip(state, self.chains, strict=True)
        return tuple(
            at + 1 if at < len(chain) and chain[at] == entry else at for at, chain in pairs
        )

    def _left(self, state: State) -> tuple[int, int]:
        """Return how many entries are missing at least, and how many lists have left."""
        tails = [tail[at] for at, tail in zip(state, self.tails, strict=True)]
        most = sum(max(tail[entry] for tail in tails) for entry in self.entries)
        return most, sum(tail.total() for tail in tails)
