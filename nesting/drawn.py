"""A part's outline as drawn: corners on the grid, the grain along x."""

from __future__ import annotations

from dataclasses import dataclass

Ring = tuple[tuple[int, int], ...]  # corners in grid steps, each once, counterclockwise


@dataclass(frozen=True, slots=True)
class Drawn:
    """The outline of a part, curves flattened to straight stretches.

    Attributes
    ----------
    rim
        Its edge: corners (x, y) in grid steps, counterclockwise, the last not repeated.
        The grain runs along x, and the least x and the least y are 0.
    windows
        Edges of cut-outs inside of it, likewise, in the same frame.
    """

    rim: Ring
    windows: tuple[Ring, ...] = ()

    @property
    def length(self) -> int:
        """Extent along the grain, in grid steps."""
        return max(x for x, _ in self.rim)

    @property
    def width(self) -> int:
        """Extent across the grain, in grid steps."""
        return max(y for _, y in self.rim)
