"""What else the project buys: quantities of supplies, glue and finish worked out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.plan import Plan
from nesting.project import Project, Supply
from reports.finish import finish_needed, ml_in
from reports.glueups import FILM_ML_PER_M2, WASTE, glue_ml
from stock.measures import Unit, steps_per_unit


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
    edges = sum(
        glue_ml(panel, parts[panel.part].thickness, project.unit)
        for panel in plan.panels
        if panel.part in parts
    )
    metre = Fraction(1000) if project.unit is Unit.MM else 1000 / Fraction("25.4")
    step = metre * steps_per_unit(project.unit)
    faces = Fraction(0)
    for cut in plan.boards:
        for piece in cut.pieces:
            # Each layer after the first is glued to the one before it.
            if piece.layer > 1:
                faces += Fraction(piece.length * piece.width) / step**2
    return edges + float(faces * FILM_ML_PER_M2 * WASTE)


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
