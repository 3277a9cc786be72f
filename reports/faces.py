"""Parts glued face to face: their layers, and the clamps and glue these ask for.

Pressure spreads at about 45 degrees through the outer layer and a stiff board laid on it,
so clamps stand in rows across a wide face. How thick that board is, is our choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.parts import Part
from nesting.plan import PanelPlan, Piece, Plan
from nesting.project import Project
from reports.glueups import (
    end_distance,
    film_ml,
    force_count,
    pounds_force,
    pressure_for,
    reach_at,
    spacing_count,
    square_inches,
)
from stock.measures import Unit, steps_per_unit
from stock.shop import Shop


@dataclass(frozen=True, kw_only=True, slots=True)
class Faces:
    """One copy of a part made of face-glued layers; sizes in grid steps.

    Attributes
    ----------
    layers
        What each layer is, in order: piece and board, or a panel by its layer.
    length, width
        Of the face that is glued, rough.
    thickness
        Of one layer, planed.
    """

    part: Part
    copy: int
    layers: tuple[str, ...]
    length: int
    width: int
    thickness: int

    @property
    def name(self) -> str:
        """Part and copy."""
        return f"{self.part.name} {self.copy}"

    @property
    def joints(self) -> int:
        """How many faces meet another."""
        return len(self.layers) - 1


@dataclass(frozen=True, kw_only=True, slots=True)
class FaceClamping:
    """Clamps on a face: rows across it, by spacing and by pressure; see `Clamping`."""

    rows: int
    by_spacing: int
    by_pressure: int
    spacing: int
    pressure: int

    @property
    def count(self) -> int:
        """How many clamps it takes: whole rows."""
        per_row = -(-max(self.by_spacing, self.by_pressure) // self.rows)
        return self.rows * per_row


def faces_for(project: Project, plan: Plan) -> Iterator[Faces]:
    """Yield every copy that a plan makes of face-glued layers."""
    parts = {part.name: part for part in project.parts}
    solid: dict[tuple[str, int], list[tuple[Piece, str]]] = {}
    for cut in plan.boards:
        for piece in cut.pieces:
            if piece.role == "layer" and piece.part in parts:
                solid.setdefault((piece.part, piece.copy), []).append((piece, cut.board))
    for (name, copy), found in sorted(solid.items()):
        found.sort(key=lambda one: (one[0].layer, one[0].name))
        yield _faces(
            parts[name],
            copy,
            tuple(f"{piece.name} (board {board})" for piece, board in found),
            (max(p.length for p, _ in found), max(p.width for p, _ in found)),
        )
    for (name, copy), panels in sorted(_layered(plan).items()):
        if name in parts:
            yield _faces(
                parts[name],
                copy,
                tuple(f"panel, layer {panel.layer}" for panel in panels),
                (max(p.length for p in panels), max(p.net_width for p in panels)),
            )


def _layered(plan: Plan) -> dict[tuple[str, int], list[PanelPlan]]:
    """Return the panels of copies that have several, layer by layer."""
    found: dict[tuple[str, int], list[PanelPlan]] = {}
    for panel in sorted(plan.panels, key=lambda panel: panel.layer):
        found.setdefault((panel.part, panel.copy), []).append(panel)
    return {key: panels for key, panels in found.items() if len(panels) > 1}


def _faces(part: Part, copy: int, layers: tuple[str, ...], size: tuple[int, int]) -> Faces:
    """Return one copy with the planed thickness of its layers."""
    return Faces(
        part=part, copy=copy, layers=layers, length=size[0], width=size[1],
        thickness=-(-part.thickness // len(layers)),
    )  # fmt: skip


def stiff_board(unit: Unit) -> int:
    """Return how thick a board under the clamps is: 1 1/2 in or 40 mm, our choice."""
    steps = steps_per_unit(unit)
    return 3 * steps // 2 if unit is Unit.INCH else 40 * steps


def clamping_of_faces(faces: Faces, density: float | None, shop: Shop) -> FaceClamping:
    """Return the clamps of face-glued layers, a stiff board on either side.

    All layers are pressed by the same clamps, so the force is that of one face.
    """
    depth = faces.thickness + stiff_board(shop.unit)
    spacing = min(shop.clamp_spacing, reach_at(depth))
    rows = max(1, -(-faces.width // max(1, spacing)))
    margin = end_distance(faces.length, shop.unit)
    pressure = pressure_for(density)
    area = square_inches(faces.length * faces.width, shop.unit)
    return FaceClamping(
        rows=rows,
        by_spacing=rows * spacing_count(faces.length, margin, spacing),
        by_pressure=force_count(pressure, area, pounds_force(shop)),
        spacing=spacing,
        pressure=pressure,
    )


def face_glue_ml(faces: Faces, unit: Unit) -> float:
    """Return the glue between the layers in millilitres, waste and all."""
    return film_ml(faces.length * faces.width * faces.joints, unit)


def face_spread_minutes(faces: Faces, shop: Shop) -> float:
    """Return the minutes that spreading glue on every face takes.

    A face counts as a joint for every 2 in or 50 mm of its width begun (our choice).
    """
    stripe = (2 if shop.unit is Unit.INCH else 50) * steps_per_unit(shop.unit)
    return faces.joints * -(-faces.width // stripe) * float(shop.spread_time) / 60
