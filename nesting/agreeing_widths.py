"""The program of widths: strips that share as few settings of the rip fence as it finds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nesting.loose import LooseSection, Strip
from nesting.plan import PanelPlan, Plan
from nesting.project import Project
from nesting.set_ups import rip_settings
from nesting.solvers import solver_for

MOST = 30_000  # pairs of a strip and a width that are weighed

Place = tuple[int, int]  # section, strip
Widths = Mapping[Place, int]


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to look: seconds, and deterministic time that any machine counts alike."""

    seconds: float = 2.0
    work: float = 2.0
    seed: int = 1


def agreed_widths(
    project: Project, plan: Plan, sections: Sequence[LooseSection], patience: Patience
) -> Widths:
    """Return widths for the loose strips in grid steps; nothing if none were found."""
    return _Widths(project, plan, sections).chosen(patience)


class _Widths:
    """The program of widths, in saw steps."""

    def __init__(
        self, project: Project, plan: Plan, sections: Sequence[LooseSection]
    ) -> None:
        self.sections, self.step = sections, max(1, project.shop.saw_step)
        self.joint = project.shop.joint_allowance
        self.model = cp_model.CpModel()
        self.fixed = _fixed_settings(project, plan, sections)
        self.widths: dict[Place, cp_model.IntVar] = {}
        for s, section in enumerate(sections):
            self._section(s, section)
        places = {
            name: place
            for place in self.widths
            for name in sections[place[0]].strips[place[1]].pieces
        }
        for panel in plan.panels:
            self._panel(panel, places)

    def _section(self, s: int, section: LooseSection) -> None:
        """Give each loose strip a width; together they fit the section."""
        room = [section.least, section.most]
        loose = []
        for k, strip in enumerate(section.strips):
            if strip.is_loose:
                low, high = -(-strip.low // self.step), strip.high // self.step
                self.widths[s, k] = self.model.new_int_var(low, high, "")
                loose.append(self.widths[s, k])
            else:
                room = [side - strip.width for side in room]
        together = sum(loose)
        self.model.add(together <= room[1] // self.step)
        self.model.add(together >= -(-room[0] // self.step))

    def _panel(self, panel: PanelPlan, places: Mapping[str, Place]) -> None:
        """Keep a panel as wide as it must be, and no wider than it is."""
        loose = [places[one.piece] for one in panel.staves if one.piece in places]
        if not loose:
            return
        rest = sum(one.net_width for one in panel.staves if one.piece not in places)
        net = rest + sum(self.step * self.widths[place] - self.joint for place in loose)
        self.model.add(net >= panel.need)
        self.model.add(net <= panel.net_width)

    def chosen(self, patience: Patience) -> Widths:
        """Return widths of the loose strips, in grid steps, with few fence settings."""
        ripped = [p for p in self.widths if self._strip_at(p).is_ripped]
        sizes = {place: self._sizes(place) for place in ripped}
        if sum(map(len, sizes.values())) > MOST:
            return {}
        self._count_settings(sizes)
        solver = solver_for(patience.seconds, patience.seed, patience.work)
        if solver.solve(self.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return {}
        return {p: solver.value(width) * self.step for p, width in self.widths.items()}

    def _strip_at(self, place: Place) -> Strip:
        return self.sections[place[0]].strips[place[1]]

    def _sizes(self, place: Place) -> range:
        strip = self._strip_at(place)
        return range(-(-strip.low // self.step), strip.high // self.step + 1)

    def _count_settings(self, sizes: Mapping[Place, range]) -> None:
        """Charge each setting of the fence once, and a little for each step of change."""
        free = {setting // self.step for setting in self.fixed if setting % self.step == 0}
        settings: dict[int, cp_model.IntVar] = defaultdict(
            lambda: self.model.new_bool_var("")
        )
        for place, some in sizes.items():
            chosen = {size: self.model.new_bool_var("") for size in some}
            self.model.add_exactly_one(chosen.values())
            self.model.add(self.widths[place] == sum(n * one for n, one in chosen.items()))
            now = self._strip_at(place).width // self.step
            for size, one in chosen.items():
                if size not in free:
                    self.model.add_implication(one, settings[size])
                self.model.add_hint(one, size == now)
        changes, most = self._changes()
        in_use = {self._strip_at(place).width // self.step for place in sizes}
        for size, one in settings.items():
            self.model.add_hint(one, size in in_use)
        self.model.minimize((most + 1) * sum(settings.values()) + sum(changes))

    def _changes(self) -> tuple[list[cp_model.IntVar], int]:
        """Return by how many steps each width changes, and the most of all together."""
        changes, most = [], 0
        for place, width in self.widths.items():
            now, some = self._strip_at(place).width // self.step, self._sizes(place)
            far = max(now - some[0], some[-1] - now)
            change = self.model.new_int_var(0, far, "")
            self.model.add(change >= width - now)
            self.model.add(change >= now - width)
            self.model.add_hint(width, now)
            changes.append(change)
            most += far
        return changes, most


def _fixed_settings(
    project: Project, plan: Plan, sections: Sequence[LooseSection]
) -> set[int]:
    """Return the settings of the first rips that no loose strip asks for."""
    loose = {
        name
        for section in sections
        for strip in section.strips
        if strip.is_loose
        for name in strip.pieces
    }
    return {
        setting
        for cut in plan.boards
        for setting, run in rip_settings(cut, project.shop.kerf)
        if loose.isdisjoint(run.names)
    }
