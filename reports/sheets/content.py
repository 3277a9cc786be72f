"""What every sheet is described from: the project, its plan, and the plan as frames."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.milling import set_ups_for
from nesting.parts import Part
from nesting.plan import Plan
from nesting.project import Project
from nesting.set_ups import SetUp
from nesting.taken import Taken
from reports.advice import NO_ADVICE, Advice
from reports.carrying import Haul, hauls_for
from reports.cautions import Caution, cautions_for
from reports.clamping import Schedule, schedule_for
from reports.frames import Frames, frames_for
from reports.seasons import Mover, movers_of
from stock.measures import Unit, format_measure


@dataclass(frozen=True, kw_only=True, slots=True)
class Content:
    """A plan with all that a sheet wants to know about it.

    Attributes
    ----------
    density
        Gives kg/m3 of a species, or None for a wood it doesn't know.
    schedule
        The plan's glue-ups in batches.
    set_ups
        How the machines are set, in the order of the work.
    hauls
        How the wood of each yard comes home, where the shop sets limits.
    movers
        Parts that move with the seasons.
    taken
        What was taken at the yards, if the plan was made from a tally sheet.
    """

    project: Project
    plan: Plan
    frames: Frames
    density: Callable[[str], float | None]
    cautions: tuple[Caution, ...]
    schedule: Schedule
    set_ups: tuple[SetUp, ...] = ()
    hauls: tuple[Haul, ...] = ()
    movers: tuple[Mover, ...] = ()
    taken: Taken | None = None
    advice: Advice = NO_ADVICE

    @property
    def unit(self) -> Unit:
        """The unit of the project."""
        return self.project.unit

    @property
    def unit_name(self) -> str:
        """The unit of the project as a word."""
        return "inches" if self.unit is Unit.INCH else "millimetres"

    def part(self, name: str) -> Part | None:
        """Return the part called `name`, or None."""
        return next((part for part in self.project.parts if part.name == name), None)

    def size(self, *sides: int) -> str:
        """Return sizes as words, exact to the grid, a times sign between them."""
        words = (format_measure(side, self.unit, 64) for side in sides)
        return " \N{MULTIPLICATION SIGN} ".join(words)


def content_for(
    project: Project,
    plan: Plan,
    density: Callable[[str], float | None],
    taken: Taken | None = None,
    advice: Advice = NO_ADVICE,
) -> Content:
    """Return what the sheets of a plan are described from."""
    hauls = hauls_for(project, plan)
    movers = movers_of(project, plan)
    return Content(
        project=project,
        plan=plan,
        frames=frames_for(project, plan),
        density=density,
        cautions=cautions_for(project, plan, density, hauls, movers),
        schedule=schedule_for(project, plan, density),
        set_ups=set_ups_for(project, plan),
        hauls=hauls,
        movers=movers,
        taken=taken,
        advice=advice,
    )


def amount(value: Decimal | Fraction | int | None) -> float | None:
    """Return an exact amount as a cell holds it; None if it was never stated."""
    if value is None or (isinstance(value, Decimal) and not value.is_finite()):
        return None
    return float(value)
