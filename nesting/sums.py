"""What sums of sizes reach: how much of a rest nothing could use any more."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

Sizes = frozenset[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Sums:
    """All sums of some sizes, each as often as wanted, on a grid of cells.

    Attributes
    ----------
    unused
        Per whole cells of a rest, how many of them the greatest sum leaves unused.
    """

    cell: int
    unused: tuple[int, ...]

    def waste(self, rest: int) -> int:
        """Return how much of a rest no sum uses."""
        cells = rest // self.cell
        return rest - (cells - self.unused[cells]) * self.cell


@lru_cache(maxsize=20_000)
def sums_of(sizes: Sizes, limit: int, step: int = 0) -> Sums:
    """Return the sums of sizes up to a limit; searches ask for the same ones often.

    A size is a least and a greatest width, the kerf added; any a number of steps above
    the least will do.
    """
    ranges = any(low < high for low, high in sizes)
    numbers = [number for size in sizes for number in size]
    cell = math.gcd(*numbers, step if ranges else 0) or 1
    cells = limit // cell
    mask = (1 << (cells + 1)) - 1
    reached = 1
    for low, high in sizes:
        for _ in range(cells // max(1, low // cell)):
            more = reached | _spread(reached << low // cell, (high - low) // cell) & mask
            if more == reached:
                break
            reached = more
    unused: list[int] = []
    last = 0
    for number, digit in enumerate(reversed(f"{reached:0{cells + 1}b}")):
        if digit == "1":
            last = number
        unused.append(number - last)
    return Sums(cell, tuple(unused))


def _spread(bits: int, span: int) -> int:
    """Return bits with each repeated in the next `span` places."""
    done = 0
    while done < span:
        more = min(done + 1, span - done)
        bits |= bits << more
        done += more
    return bits
