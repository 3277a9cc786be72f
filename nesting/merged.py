"""One order for many lists: each list in its own order, equal entries done together.

The shortest such order is a shortest common supersequence. It is built entry by entry; of
the orders begun some go on, those that could end soonest first: few at first, and more if
the order that comes out is longer than it would have to be by counting entries.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import groupby
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

WORK = 40_000  # entries of lists looked at for one more entry of the order
FEW, MOST = 4, 120  # orders that go on

K = TypeVar("K", bound=Hashable)
State = NDArray[np.int64]  # how far each list is done
Order = tuple[State, tuple[int, ...]]


def merged(
    lists: Sequence[Sequence[K]], rank: Callable[[K], Any], is_free: Callable[[K], bool]
) -> tuple[K, ...]:
    """Return an order that holds every list as a subsequence, as short as is found.

    Parameters
    ----------
    rank
        Which entry goes first where either would do.
    is_free
        Whether an entry does not count: it is taken as soon as it heads a list.
    """
    short = {tuple(one for one, _ in groupby(some)) for some in lists} - {()}
    chains = sorted(short, key=lambda chain: [rank(one) for one in chain])
    if not chains:
        return ()
    search = _Search(chains, rank, is_free)
    found, count = search.order(FEW)
    most = max(FEW, min(MOST, WORK // (len(chains) * len(search.entries))))
    if count > search.least and most > FEW:
        found = min((found, count), search.order(most), key=lambda one: one[1])[0]
    return tuple(search.entries[at] for at in found)


class _Search(Generic[K]):
    """The lists as numbers, and what is left of each from any place on.

    Attributes
    ----------
    heads
        All lists behind each other, -1 at the end of each; `begins` is where each starts.
    tails
        How often each entry that counts still comes in a list, from each place on.
    """

    def __init__(
        self,
        chains: Sequence[Sequence[K]],
        rank: Callable[[K], Any],
        is_free: Callable[[K], bool],
    ) -> None:
        self.entries = sorted({one for chain in chains for one in chain}, key=rank)
        number = {one: at for at, one in enumerate(self.entries)}
        self.free = [at for at, one in enumerate(self.entries) if is_free(one)]
        sizes = [len(chain) + 1 for chain in chains]
        self.begins = np.cumsum([0, *sizes[:-1]])
        self.heads = np.array([n for c in chains for n in (*map(number.get, c), -1)])
        self.tails = np.zeros((len(self.heads), len(self.entries)), dtype=np.int64)
        for at in range(len(self.heads) - 2, -1, -1):
            if self.heads[at] >= 0:
                self.tails[at] = self.tails[at + 1]
                self.tails[at, self.heads[at]] += 1
        self.tails[:, self.free] = 0
        self.least = self._missing(np.zeros(len(chains), dtype=np.int64))[0]

    def order(self, most: int) -> tuple[tuple[int, ...], int]:
        """Return an order, and how many of its entries count; `most` orders go on."""
        start = np.zeros(len(self.begins), dtype=np.int64)
        orders = [self._rid((start, ()))]
        count = 0
        while not self._is_done(orders[0][0]):
            orders = self._longer(orders)[:most]
            count += 1
        return orders[0][1], count

    def _is_done(self, state: State) -> bool:
        return bool((self.heads[self.begins + state] < 0).all())

    def _longer(self, orders: list[Order]) -> list[Order]:
        """Return orders that are one counted entry longer, the most hopeful first."""
        found: dict[bytes, Order] = {}
        for state, order in orders:
            heads = self.heads[self.begins + state]
            for entry in np.unique(heads[heads >= 0]):
                after = self._rid((state + (heads == entry), (*order, int(entry))))
                found.setdefault(after[0].tobytes(), after)
        return sorted(found.values(), key=lambda one: self._missing(one[0]))

    def _rid(self, begun: Order) -> Order:
        """Return an order with the free entries taken that head lists now."""
        state, order = begun
        while True:
            heads = self.heads[self.begins + state]
            free = next((one for one in self.free if (heads == one).any()), None)
            if free is None:
                return state, order
            state, order = state + (heads == free), (*order, free)

    def _missing(self, state: State) -> tuple[int, int]:
        """Return how many entries are missing at least, and how many lists have left."""
        tails = self.tails[self.begins + state]
        return int(tails.max(axis=0).sum()), int(tails.sum())
