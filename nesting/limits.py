"""How long a search may go on: by the clock, or by steps that are the same everywhere."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

# What the solvers may do, in their own units, where steps and not seconds are the limit.
NODES = 100  # of a branch-and-bound tree
WORK = 2.0  # CP-SAT's deterministic time
AGES = 3600.0  # seconds, where something else is to end a solver


@dataclass(slots=True)
class Limit:
    """A limit, and how much of it is gone.

    Attributes
    ----------
    seconds
        Time limit, wall clock; without meaning if there are steps.
    steps
        Steps of the search, 0 for none: what is found is then the same on any machine.
    done
        Steps made so far.
    paused
        Seconds that do not count.
    """

    seconds: float
    steps: int = 0
    done: int = 0
    paused: float = 0.0
    start: float = field(default_factory=time.monotonic)

    @property
    def is_steady(self) -> bool:
        """Whether nothing depends on the clock."""
        return self.steps > 0

    @property
    def elapsed(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self.start

    def pause(self, seconds: float) -> None:
        """Leave out seconds that nothing was searched in."""
        self.start += seconds
        self.paused += seconds

    @property
    def wall(self) -> float:
        """Seconds since the start, pauses counted."""
        return self.elapsed + self.paused

    @property
    def share(self) -> float:
        """The share of the limit that is gone."""
        if self.is_steady:
            return self.done / self.steps
        return self.elapsed / self.seconds

    def time(self, share: float, least: float = 0.0) -> float:
        """Return how many seconds a solver gets for a share of the limit."""
        return AGES if self.is_steady else max(least, share * self.seconds)

    @property
    def nodes(self) -> int:
        """How many nodes an integer program may look at; 0 for any number."""
        return NODES if self.is_steady else 0

    @property
    def work(self) -> float:
        """How much deterministic time CP-SAT gets; 0 for any amount."""
        return WORK if self.is_steady else 0.0
