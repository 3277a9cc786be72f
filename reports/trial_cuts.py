"""Test pieces: the waste or offcut of a plan that each set-up is tried on first.

A test piece has the thickness of the wood that follows it, is free by then, sound, long
enough to machine and wide enough for what is cut off it. The same piece serves set-up
after set-up and gets smaller; pieces in use are taken first, then waste, then offcuts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.leftovers import replayed
from nesting.plan import CutBoard, Offcut, Plan
from nesting.project import Project
from nesting.set_ups import FENCE, PLANER, STOP, Run, SetUp
from reports.frames import sheet_of
from stock.measures import Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class Trial:
    """A piece of waste, or an offcut, that set-ups are tried on; sizes in grid steps.

    Attributes
    ----------
    number
        What the maker writes on it: T1, T2, ...
    name
        Of the offcut if it is one to keep, else empty.
    x, y
        Its place on the board.
    length, width
        Before the set-up that is tried on it.
    """

    number: int
    board: str
    name: str
    x: int
    y: int
    length: int
    width: int


@dataclass(frozen=True, kw_only=True, slots=True)
class _Scrap:
    """What a test piece may come from.

    Attributes
    ----------
    stuff
        What wood of one thickness has in common.
    freed
        Number of the set-up that frees it.
    planed
        What it was last planed to, None if it never was.
    """

    piece: Trial
    stuff: str
    freed: int
    planed: int | None = None


def least_length(shortest: int, unit: Unit) -> int:
    """Return the least length of a test piece: what is safe to machine, 12 in or 300 mm."""
    return max(shortest, 12 * 64 if unit is Unit.INCH else 3000)


def least_width(unit: Unit) -> int:
    """Return the least width of a test piece, 3/4 in or 20 mm, as of any narrow piece."""
    return int(Fraction(3, 4) * 64) if unit is Unit.INCH else 200


def needed_size(project: Project, one: SetUp) -> tuple[int, int]:
    """Return the least length and width of wood that a set-up can be tried on."""
    shop, setting = project.shop, one.setting or 0
    long = least_length(shop.shortest_machined, project.unit)
    wide = least_width(project.unit)
    if one.way == FENCE:  # a piece is never wider than long along the fence
        wide = max(wide, setting + shop.kerf)
        long = max(long, wide)
    elif one.way == STOP:
        long = max(long, setting + shop.kerf)
    return long, wide


def trials_for(
    project: Project,
    plan: Plan,
    set_ups: Sequence[SetUp],
    taken: Collection[tuple[str, int]] = (),
) -> tuple[Trial | None, ...]:
    """Return the test piece of each set-up, None where no wood of the plan serves.

    Parameters
    ----------
    taken
        Offcuts, by board and number, that something else is made from.
    """
    bench = _Bench(project, plan, set_ups, taken)
    return tuple(bench.piece_for(at, one) for at, one in enumerate(set_ups))


class _Bench:
    """The waste that lies about, and what of it is in use."""

    def __init__(
        self,
        project: Project,
        plan: Plan,
        set_ups: Sequence[SetUp],
        taken: Collection[tuple[str, int]],
    ) -> None:
        self.project = project
        self.freed = {
            (run.board, run.cut): at
            for at, one in enumerate(set_ups)
            for run in one.runs
            if run.cut
        }
        cut = (*plan.boards, *plan.sheets)
        self.stuff = {one.board: _stuff(project, one) for one in cut}
        self.homes = _homes(plan)
        self.scraps = [scrap for one in cut for scrap in self._scraps(one, taken)]
        self.scraps.sort(key=lambda one: one.piece.length * one.piece.width)
        self.count = 0

    def _scraps(
        self, cut: CutBoard, taken: Collection[tuple[str, int]]
    ) -> Iterator[_Scrap]:
        """Yield the leftovers of a board that are sound, clear of its checked ends."""
        marks = next((b.marks for b in self.project.boards if b.name == cut.board), None)
        trim = 0 if marks is None else self.project.shop.end_trim
        for number, offcut in enumerate(cut.offcuts):
            begin = max(offcut.x, trim)
            length = min(offcut.x + offcut.length, cut.length - trim) - begin
            box = (begin, offcut.y, length, offcut.width)
            is_sound = not any(m.forbids("hidden") and m.touches(*box) for m in marks or ())
            freed = self._freed(cut, offcut)
            if (cut.board, number) in taken or not is_sound or freed is None:
                continue
            piece = Trial(
                number=0, board=cut.board, name=offcut.name if offcut.keep else "",
                x=begin, y=offcut.y, length=length, width=offcut.width,
            )  # fmt: skip
            yield _Scrap(piece=piece, stuff=self.stuff[cut.board], freed=freed)

    def _freed(self, cut: CutBoard, offcut: Offcut) -> int | None:
        """Return the set-up whose cut frees a leftover; None if none does."""
        freed = None
        for one, wood, _ in replayed(cut, self.project.shop.kerf):
            across = wood.y <= offcut.y < wood.y + wood.width
            if across and wood.x <= offcut.x < wood.x + wood.length:
                freed = self.freed.get((cut.board, one.order))
        return freed

    def piece_for(self, at: int, one: SetUp) -> Trial | None:
        """Return the test piece of the set-up with this number, and take it into use."""
        stuff = self._stuff_of(one)
        if not one.is_counted or stuff is None:
            return None
        fitting = [s for s in self.scraps if self._serves(s, at, one, stuff)]
        if not fitting:
            return None
        scrap = min(fitting, key=lambda s: (s.piece.number == 0, s.piece.name != ""))
        piece = scrap.piece
        if not piece.number:
            self.count += 1
            piece = replace(piece, number=self.count)
        self.scraps[self.scraps.index(scrap)] = self._after(scrap, piece, one)
        return piece

    def _stuff_of(self, one: SetUp) -> str | None:
        """Return what most of the wood of a set-up is; None for a laminate."""
        found = Counter(stuff for run in one.runs for stuff in self._of_run(run))
        return found.most_common(1)[0][0] if found else None

    def _of_run(self, run: Run) -> set[str]:
        boards = {run.board} if run.board else {self.homes.get(n, "") for n in run.names}
        return {self.stuff[board] for board in boards if board in self.stuff}

    def _serves(self, scrap: _Scrap, at: int, one: SetUp, stuff: str) -> bool:
        """Whether a scrap is free, as thick and large enough."""
        long, wide = needed_size(self.project, one)
        piece, setting = scrap.piece, one.setting or 0
        if one.way == FENCE:  # wood wider than long turns at the fence
            long = max(long, piece.width)
        is_thick = one.way != PLANER or scrap.planed is None or scrap.planed >= setting
        is_large = piece.length >= long and piece.width >= wide
        return scrap.freed < at and scrap.stuff == stuff and is_large and is_thick

    def _after(self, scrap: _Scrap, piece: Trial, one: SetUp) -> _Scrap:
        """Return the larger part of a test piece once its cut is made."""
        setting = one.setting or 0
        if one.way == PLANER:
            return replace(scrap, piece=piece, planed=setting)
        off = setting + self.project.shop.kerf
        if one.way == FENCE:
            piece = replace(piece, width=max(setting, piece.width - off))
        else:
            piece = replace(piece, length=max(setting, piece.length - off))
        return replace(scrap, piece=piece)


def _stuff(project: Project, cut: CutBoard) -> str:
    """Return what wood must have in common to be as thick: all of it comes off alike."""
    board = next((one for one in project.boards if one.name == cut.board), None)
    if board:
        return f"{board.thickness.label} {board.surfaced}"
    kind = sheet_of(cut, project)
    return kind.name if kind else cut.board


def _homes(plan: Plan) -> dict[str, str]:
    """Return a board that each piece or panel comes from; laminates are of no board."""
    homes = {piece.name: cut.board for cut in plan.boards for piece in cut.pieces}
    layered = {(panel.part, panel.copy) for panel in plan.panels if panel.layer > 1}
    for panel in plan.panels:
        name = f"{panel.part} {panel.copy}"
        if (panel.part, panel.copy) in layered:
            name += f".{panel.layer}"
        homes.setdefault(name, panel.staves[0].board)
    return homes
