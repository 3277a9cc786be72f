"""What else the project buys: quantities of supplies, glue and finish worked out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.plan import Plan
from nesting.project import Project, Supply
from reports.clamping import layers_in
from reports.faces import face_glue_ml, faces_for
from reports.finish import finish_needed, ml_in
from reports.glueups import glue_ml


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """A supply and how much of it the plan needs.

    Attributes
    ----------
    quantity
        In the supply's unit; None where it can't be worked out.
    packs
        Whole packs that hold it; None likewise.
    remark
        Where the quantity comes from.
    """

    supply: Supply
    quantity: Fraction | None
    packs: int | None
    remark: str

    @property
    def cost(self) -> Decimal:
        """Return what the packs cost, in whole cents."""
        exact = (self.packs or 0) * self.supply.price
        return Decimal(math.floor(exact * 100 + Fraction(1, 2))) / 100


def needs_for(project: Project, plan: Plan) -> Iterator[Need]:
    """Yield every supply of a project with the quantity that the plan needs."""
    for supply in project.supplies:
        quantity, remark = _quantity(supply, project, plan)
        packs = None
        if quantity is not None and supply.pack > 0:
            packs = math.ceil(quantity / supply.pack)
        yield Need(supply=supply, quantity=quantity, packs=packs, remark=remark)


def glue_for(project: Project, plan: Plan) -> float:
    """Return the glue of all panels and laminates in millilitres, waste and all."""
    parts = {part.name: part for part in project.parts}
    layers = layers_in(plan)
    edges = sum(
        glue_ml(
            panel,
            -(-parts[panel.part].thickness // layers[panel.part, panel.copy]),
            project.unit,
        )
        for panel in plan.panels
        if panel.part in parts
    )
    faces = sum(face_glue_ml(one, project.unit) for one in faces_for(project, plan))
    return edges + faces


def _quantity(supply: Supply, project: Project, plan: Plan) -> tuple[Fraction | None, str]:
    """Return how much of a supply is needed, and whence the figure."""
    if supply.qty is not None:
        return supply.qty, supply.note
    if "glue" in supply.item.lower():
        needed = glue_for(project, plan)
        words = f"for the joints of this plan: about {needed:.0f} ml"
        per_unit = ml_in(supply.unit)
        if per_unit is None:
            return None, f"{words}; the unit {supply.unit!r} isn't one we convert"
        return Fraction(math.ceil(needed / float(per_unit) * 10), 10), words
    return finish_needed(supply, project)
