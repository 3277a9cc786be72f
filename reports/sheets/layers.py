"""The part of the clamping sheet about parts that are glued face to face."""

from __future__ import annotations

from collections.abc import Iterator

from reports.faces import Faces, clamping_of_faces, faces_for, stiff_board
from reports.few_clamps import own_clamps
from reports.sheets.cells import HEAD, TICK_ROW, Cell, head_row, length, text
from reports.sheets.content import Content
from reports.sheets.page import Page


def add_layers(page: Page, content: Content) -> None:
    """Append the parts glued face to face."""
    every = list(faces_for(content.project, content.plan))
    if not every:
        return
    page.keep(HEAD + 4 * TICK_ROW)
    page.heading("Layers, glued face to face")
    head = head_row(
        ("part", 2), "layers, outermost first", "rows", "face length", "face width",
        "apart at most", "clamps", ("why", 2), height=HEAD,
    )  # fmt: skip
    page.put(head)
    page.again = (head,)
    for faces in every:
        page.next_row()
        page.add(*_cells(faces, content))
    page.again = ()
    stiff = content.size(stiff_board(content.unit))
    page.paragraph(
        f"Clamps press on stiff boards, {stiff} thick or more, on both faces, their rows"
        " side by side, from the middle outwards. Let the layers settle under light"
        " pressure, see that they have not slid, then tighten."
    )


def _cells(faces: Faces, content: Content) -> Iterator[Cell]:
    """Yield the cells of one part of layers."""
    density = content.density(faces.part.species)
    clamping = clamping_of_faces(faces, density, content.project.shop)
    yield text(faces.name, "label", span=2)
    yield text("; ".join(faces.layers))
    yield Cell(value=clamping.rows, style="count")
    yield length(faces.length, content.unit)
    yield length(faces.width, content.unit)
    yield length(clamping.spacing, content.unit)
    yield Cell(value=clamping.count, style="count")
    words = f"{clamping.by_spacing} by spacing, {clamping.by_pressure} for the pressure"
    shop = content.project.shop
    few = clamping.count > shop.clamps_owned
    if few:
        words += f". CHECK: {own_clamps(faces.length * faces.width, density, shop)}"
    yield text(words, "check" if few else "text", span=2)
