"""From finished sizes to rough wood: the blank a part is milled from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Blank:
    """The rough wood one copy of a part asks for; sizes in grid steps, whole saw steps.

    Attributes
    ----------
    part
        Name of the part.
    copies
        How many are made, spares included.
    layers
        Face-glued layers per copy; 1 unless the part is laminated.
    thickness
        Finished thickness that each piece (or layer) must give when dressed.
    sizes
        Rough length and width of a solid blank, one entry per way the grain may run. For
        a panel: rough length of its staves, and the net width that they must add up to.
    is_panel
        Whether the blank is glued up edge to edge from staves.
    stave_low, stave_high
        Least and greatest rough width of a stave (net limits plus joint allowance).
    single_high
        Greatest rough width of a panel made from one piece of wood.
    is_short
        Whether the blank is shorter than `shortest machined` (for any of its sizes) and
        must stay in one length of wood with others until planed.
    is_sheet
        Whether it is cut from sheet goods rather than lumber.
    """

    part: str
    copies: int
    layers: int = 1
    thickness: int
    sizes: tuple[tuple[int, int], ...]
    is_panel: bool = False
    stave_low: int = 0
    stave_high: int = 0
    single_high: int = 0
    is_short: bool = False
    is_sheet: bool = False

    @property
    def units(self) -> int:
        """Pieces or panels to cut: every layer of every copy."""
        return self.copies * self.layers
