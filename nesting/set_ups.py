"""The cuts of a plan by set-up: machine settings kept while several pieces run.

Cuts of one phase (crosscut the boards, rip the sections, crosscut the strips, ...) are done
before those of the next, and within a phase every board's cuts keep their order. So no
cut ever waits for wood that a later set-up frees.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from nesting.leftovers import Leftover, replayed
from nesting.merged import merged
from nesting.plan import Cut, CutBoard

LINE, FENCE, STOP, PLANER = "line", "fence", "stop", "planer"
AFTER = 100  # the first phase of cuts that wait for planing


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """One cut of a set-up, or one piece that is milled in it.

    Attributes
    ----------
    names
        Pieces in the wood that comes off, or the pieces milled.
    leaves
        Pieces in the wood behind the cut, if no cut follows in it.
    board, cut
        The board, and the order of the cut on it; "" and 0 if it is no cut of the plan.
    length, width
        Of the wood that is run over the machine.
    """

    names: tuple[str, ...]
    leaves: tuple[str, ...] = ()
    board: str = ""
    cut: int = 0
    length: int
    width: int


@dataclass(frozen=True, kw_only=True, slots=True)
class SetUp:
    """One setting of a machine, and all that runs through it.

    Attributes
    ----------
    phase
        Which stage of the work it belongs to; stages are done in order.
    way
        `line` (cut where the board is marked), `fence`, `stop` or `planer`.
    setting
        Distance from the fence or the stop to the blade, or thickness; None at a line.
    angle
        Degrees from square that the blade leans.
    """

    phase: int
    way: str
    setting: int | None
    runs: tuple[Run, ...]
    angle: float = 0.0

    @property
    def is_counted(self) -> bool:
        """Whether a machine is set for it; a cut at the line takes no setting."""
        return self.way != LINE


@dataclass(frozen=True, slots=True)
class _Step:
    """One cut of a board: its phase, the cut that begins its phase, how it is set."""

    board: str
    cut: Cut
    phase: int
    head: int
    way: str
    setting: int | None
    run: Run

    @property
    def key(self) -> tuple[str, int | None, str]:
        """What cuts of one set-up share; boards are marked and cut one by one."""
        return self.way, self.setting, self.board if self.phase == 0 else ""


def cutting_set_ups(boards: Iterable[CutBoard], kerf: int) -> tuple[SetUp, ...]:
    """Return the set-ups that take the boards of a plan apart, in an order that works."""
    phases = _by_phase(boards, kerf)
    return tuple(one for phase, some in phases.items() for one in _phase(phase, some))


def fence_settings(boards: Iterable[CutBoard], kerf: int) -> int:
    """Return how often the rip fence is set to take the boards apart."""
    rips = _by_phase(boards, kerf, ("rip",))
    return sum(one.way == FENCE for p, some in rips.items() for one in _phase(p, some))


def rip_settings(board: CutBoard, kerf: int) -> list[tuple[int, Run]]:
    """Return the settings at which the sections of a board are ripped, with what runs."""
    return [
        (step.setting, step.run)
        for step in _steps(board, kerf)
        if step.phase == 1 and step.setting is not None
    ]


def _by_phase(
    boards: Iterable[CutBoard], kerf: int, kinds: Collection[str] = ()
) -> dict[int, list[_Step]]:
    """Return the cuts of boards by phase, in order; of some kinds of cut, or of all."""
    phases: dict[int, list[_Step]] = defaultdict(list)
    for board in boards:
        for step in _steps(board, kerf):
            if not kinds or step.cut.kind in kinds:
                phases[step.phase].append(step)
    return dict(sorted(phases.items()))


def _phase(phase: int, steps: Sequence[_Step]) -> Iterable[SetUp]:
    """Yield the set-ups of one phase: boards one by one, or cuts of one setting."""
    chains: dict[tuple[str, int], list[_Step]] = defaultdict(list)
    for step in steps:
        chains[step.board, step.head].append(step)
    if phase == 0:
        order = tuple(dict.fromkeys(step.key for step in steps))
    else:
        keys = [[step.key for step in chain] for chain in chains.values()]
        order = merged(keys, _rank, lambda key: key[0] == LINE)
    waiting = list(chains.values())
    for way, setting, board in order:
        done = []
        for chain in waiting:
            while chain and chain[0].key == (way, setting, board):
                done.append(chain.pop(0))
        runs = tuple(step.run for step in done)
        yield SetUp(phase=phase, way=way, setting=setting, runs=runs)


def _rank(key: tuple[str, int | None, str]) -> tuple[str, int, str]:
    """Wide and long settings first: what is left gets smaller."""
    way, setting, board = key
    return way, -(setting or 0), board


def _steps(board: CutBoard, kerf: int) -> list[_Step]:
    """Return the cuts of a board in order, with their phases and settings."""
    made: dict[Leftover, _Step] = {}  # the cut that freed a piece of wood
    steps: list[_Step] = []
    woods = list(replayed(board, kerf))
    whole = {wood for _, wood, _ in woods}
    for cut, wood, sides in woods:
        before = made.get(wood)
        phase = _phase_of(cut, before)
        head = before.head if before and before.phase == phase else cut.order
        low, high = sides
        run = Run(
            names=_named(board, low),
            leaves=() if high in whole else _named(board, high),
            board=board.board, cut=cut.order, length=wood.length, width=wood.width,
        )  # fmt: skip
        way, setting = _setting(cut, wood, phase, is_exact=bool(run.names))
        step = _Step(board.board, cut, phase, head, way, setting, run)
        steps.append(step)
        made.update(dict.fromkeys(sides, step))
    return steps


def _phase_of(cut: Cut, before: _Step | None) -> int:
    """Return the phase of a cut: even for crosscuts, odd for rips; none goes back."""
    least = before.phase if before else 0
    if cut.after_planing:
        least = max(least, AFTER)
    return least + (least % 2 != (cut.kind == "rip"))


def _setting(
    cut: Cut, wood: Leftover, phase: int, *, is_exact: bool
) -> tuple[str, int | None]:
    """Return how a cut is set: at the line on whole boards, and where waste comes off."""
    is_rip = cut.kind == "rip"
    off = cut.at - (wood.y if is_rip else wood.x)
    if off <= 0 or phase == 0 or not (is_rip or is_exact):
        return LINE, None
    return (FENCE if is_rip else STOP), off


def _named(board: CutBoard, wood: Leftover) -> tuple[str, ...]:
    """Return the names of the pieces in a piece of wood."""
    return tuple(
        piece.name
        for piece in board.pieces
        if wood.x <= piece.x < wood.x + wood.length
        and wood.y <= piece.y < wood.y + wood.width
    )
