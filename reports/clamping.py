"""All glue-ups of a plan: which are in clamps together, and when the last comes out.

A batch takes the time to spread the glue of all that is in it, one after another, and the
clamp time after the last; then its clamps are free. Laying out and tightening are not
counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from nesting.batches import Job, batches_for
from nesting.parts import Part
from nesting.plan import PanelPlan, Plan
from nesting.project import Project
from reports.faces import (
    clamping_of_faces,
    face_glue_ml,
    face_spread_minutes,
    faces_for,
)
from reports.glueups import clamping_for, glue_ml, panel_name, spread_minutes, weight_kg
from reports.goes import goes_for
from stock.shop import Shop

Density = Callable[[str], float | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class GlueUp:
    """What goes into clamps at once.

    Attributes
    ----------
    name
        Of the panel, of some staves of it, or of a part glued face to face.
    page
        Name of the panel whose page shows it; empty for a part glued face to face.
    panel
        What comes out, if it is glued edge to edge.
    glue, minutes
        Millilitres of glue, and minutes to spread it.
    weight
        In kg, None where the wood is not known.
    after
        Names of the glue-ups that must be out of their clamps before.
    """

    name: str
    page: str
    part: Part
    panel: PanelPlan | None
    joints: int
    clamps: int
    glue: float
    minutes: float
    weight: float | None
    after: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Batch:
    """Glue-ups that are in clamps together; `done` in minutes from the start of all."""

    number: int
    glueups: tuple[GlueUp, ...]
    minutes: float
    done: float

    @property
    def clamps(self) -> int:
        """How many clamps it takes."""
        return sum(one.clamps for one in self.glueups)


@dataclass(frozen=True, kw_only=True, slots=True)
class Schedule:
    """All batches in order; `least` of them are proven to be needed."""

    batches: tuple[Batch, ...]
    least: int

    @property
    def glueups(self) -> tuple[GlueUp, ...]:
        """Everything that is glued, in the order it goes into clamps."""
        return tuple(one for batch in self.batches for one in batch.glueups)

    @property
    def minutes(self) -> float:
        """From the first glue to the last clamp off."""
        return self.batches[-1].done if self.batches else 0.0

    def batch_of(self, name: str) -> Batch | None:
        """Return the batch that a glue-up is in."""
        inside = (one for one in self.batches if name in {g.name for g in one.glueups})
        return next(inside, None)


def schedule_for(project: Project, plan: Plan, density: Density) -> Schedule:
    """Return the batches of a plan's glue-ups, as few as the shop's clamps allow."""
    glueups = {one.name: one for one in _all(project, plan, density)}
    shop = project.shop
    jobs = [Job(one.name, one.clamps, one.after) for one in glueups.values()]
    found = batches_for(jobs, int(shop.clamps_owned))
    batches: list[Batch] = []
    done = 0.0
    for number, names in enumerate(found.batches, 1):
        inside = tuple(glueups[name] for name in names)
        minutes = sum(one.minutes for one in inside)
        done += minutes + float(shop.clamp_time)
        batches.append(Batch(number=number, glueups=inside, minutes=minutes, done=done))
    return Schedule(batches=tuple(batches), least=found.least)


def layers_in(plan: Plan) -> Mapping[tuple[str, int], int]:
    """Return how many layers the panels of a copy make up, by part and copy."""
    found: dict[tuple[str, int], int] = {}
    for panel in plan.panels:
        key = (panel.part, panel.copy)
        found[key] = max(found.get(key, 1), panel.layer)
    return found


def _all(project: Project, plan: Plan, density: Density) -> Iterator[GlueUp]:
    """Yield everything that is glued: panels in goes, then layers face to face."""
    parts = {part.name: part for part in project.parts}
    layers = layers_in(plan)
    last: dict[tuple[str, int], tuple[str, ...]] = {}
    for panel in plan.panels:
        part = parts.get(panel.part)
        if part is None or len(panel.staves) < 2:
            continue
        thick = -(-part.thickness // layers[panel.part, panel.copy])
        weighs = density(part.species)
        yield from _panel(panel, part, thick, weighs, project.shop)
        key = (panel.part, panel.copy)
        last[key] = (*last.get(key, ()), panel_name(panel))
    for faces in faces_for(project, plan):
        weighs = density(faces.part.species)
        clamping = clamping_of_faces(faces, weighs, project.shop)
        volume = float(faces.length * faces.width * faces.thickness * len(faces.layers))
        yield GlueUp(
            name=f"{faces.name}, layers",
            page="",
            part=faces.part,
            panel=None,
            joints=faces.joints,
            clamps=clamping.count,
            glue=face_glue_ml(faces, project.unit),
            minutes=face_spread_minutes(faces, project.shop),
            weight=None if weighs is None else weight_kg(volume, weighs, project.unit),
            after=last.get((faces.part.name, faces.copy), ()),
        )


def _panel(
    panel: PanelPlan, part: Part, thick: int, density: float | None, shop: Shop
) -> Iterator[GlueUp]:
    """Yield the goes of a panel of staves `thick` grid steps thick."""
    name = panel_name(panel)
    for go in goes_for(panel, shop, name):
        volume = float(go.panel.length * go.panel.net_width * thick)
        yield GlueUp(
            name=go.name,
            page=name,
            part=part,
            panel=go.panel,
            joints=go.joints,
            clamps=len(clamping_for(go.panel, thick, density, shop).clamps),
            glue=glue_ml(go.panel, thick, shop.unit),
            minutes=spread_minutes(go.panel, shop),
            weight=None if density is None else weight_kg(volume, density, shop.unit),
            after=go.after,
        )


def time_words(minutes: float) -> str:
    """Return minutes, rounded up, as hours and minutes."""
    whole = int(-(-round(minutes, 6) // 1))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
