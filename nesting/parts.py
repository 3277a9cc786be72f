"""A finished piece as drawn."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.drawn import Drawn

GRAINS = ("length", "width", "either")
BUILDS = ("auto", "solid", "panel", "laminate")
HELD = ("middle", "edge", "rigid")
MATCHES = ("none", "board", "flitch", "book", "slip")
SHAPES = ("rectangle", "octagon", "disc", "taper", "outline")


@dataclass(frozen=True, slots=True, order=True)
class Way:
    """How a part comes out of wood: its thickness, and what it shares a blank with.

    Attributes
    ----------
    leaves
        Slices of the part's thickness that are resawn from one piece; 1: it is planed down.
    layers
        Slices that are glued face to face to one copy; 1: none.
    nested
        Copies that one piece holds, interlocked by their outlines; 1: each has its own.
    """

    leaves: int = 1
    layers: int = 1
    nested: int = 1

    @property
    def per_piece(self) -> int:
        """Copies, or leaves of a stave, that come out of one piece."""
        return self.leaves * self.nested


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One row of the Parts table; sizes are finished sizes in grid steps, rounded up.

    Attributes
    ----------
    qty, spares
        Pieces the project needs, and extra pieces made in case of a bad cut.
    sawing
        Sawings that will do, or empty for any.
    shape, ends
        Kind of outline, and for a taper its width at each end (grid steps).
    outline
        File that draws the part, for the shape `outline`.
    drawn
        What that file draws, if it was read: the grain along its x.
    end_angle
        Bevel of both ends, degrees from square.
    source
        `stock`, or `offcut`: made only from what is left over.
    held
        Where the part is held across its grain: `middle` or `edge`, and free to slide
        elsewhere; `rigid` across its whole width; None if nobody said.
    row
        Row of the Parts table, for messages.
    """

    name: str
    qty: int
    spares: int = 0
    length: int
    width: int
    thickness: int
    species: str
    grain: str = "length"
    sawing: tuple[str, ...] = ()
    figure: str | None = None
    face: str = "show"
    build: str = "auto"
    match: str = "none"
    set: str | None = None
    shape: str = "rectangle"
    ends: tuple[int, int] | None = None
    outline: str | None = None
    drawn: Drawn | None = None
    end_angle: float = 0.0
    add_length: int = 0
    add_width: int = 0
    template: bool = False
    source: str = "stock"
    held: str | None = None
    note: str = ""
    row: int | None = None

    @property
    def copies(self) -> int:
        """Pieces to make, spares included."""
        return self.qty + self.spares
