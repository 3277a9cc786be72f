"""How alike the parts of a set are in a plan, and which boards could make them more so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from nesting.plan import NOT_ALIKE, ONE_FLITCH, ONE_STEP, Plan
from nesting.problem import Problem, problem_for
from nesting.project import Project
from stock.boards import Board

RANKS = {ONE_FLITCH: 2, ONE_STEP: 1, NOT_ALIKE: 0}


@dataclass(frozen=True, slots=True)
class Source:
    """Boards that a whole set could come from.

    Attributes
    ----------
    name
        The log (or board), or the tones.
    """

    likeness: str
    name: str
    boards: frozenset[str]


def sets_of(project: Project) -> dict[str, tuple[str, ...]]:
    """Return the parts of every set of two pieces or more that are cut from boards."""
    sheets = {name for sheet in project.sheets for name in sheet.names}
    parts: dict[str, list[str]] = defaultdict(list)
    copies: dict[str, int] = defaultdict(int)
    for part in project.parts:
        if part.set and part.species not in sheets and part.source == "stock":
            parts[part.set].append(part.name)
            copies[part.set] += part.copies
    return {name: tuple(some) for name, some in parts.items() if copies[name] > 1}


def likeness_in(project: Project, plan: Plan, parts: tuple[str, ...]) -> tuple[str, str]:
    """Return how alike these parts come out in a plan, and what they come from."""
    boards = {
        board.name: board
        for cut in plan.boards
        for board in [project.board(cut.board)]
        if any(piece.part in parts for piece in cut.pieces)
    }
    logs = sorted({board.log for board in boards.values()})
    tones = {board.tone for board in boards.values()}
    if len(logs) == 1:
        return ONE_FLITCH, logs[0]
    shown = tone_words(tones)
    known = [tone for tone in tones if tone is not None]
    if known and None not in tones and max(known) - min(known) < 2:
        return ONE_STEP, shown
    return NOT_ALIKE, f"{', '.join(logs)}; {shown}"


def tone_words(tones: set[int | None]) -> str:
    """Return tones in words."""
    if tones == {None}:
        return "tone not known"
    known = sorted(tone for tone in tones if tone is not None)
    more = " and not known" if None in tones else ""
    return f"tone {' and '.join(map(str, known))}{more}"


def flitches_for(project: Project, parts: tuple[str, ...]) -> list[Source]:
    """Return the logs that may be large enough for a set, the one with most wood first."""
    boards: dict[str, set[str]] = defaultdict(set)
    for board in _offered(project):
        boards[board.log].add(board.name)
    sources = [Source(ONE_FLITCH, log, frozenset(some)) for log, some in boards.items()]
    return list(_large_enough(project, parts, sources))


def tones_for(project: Project, parts: tuple[str, ...]) -> list[Source]:
    """Return the pairs of tones that may be enough for a set, most wood first."""
    sources = []
    for tone in range(1, 5):
        near = [one.name for one in _offered(project) if one.tone in (tone, tone + 1)]
        words = f"tone {tone} and {tone + 1}"
        sources.append(Source(ONE_STEP, words, frozenset(near)))
    return list(_large_enough(project, parts, sources))


def _offered(project: Project) -> Iterator[Board]:
    return (board for board in project.boards if board.where not in project.closed)


def _large_enough(
    project: Project, parts: tuple[str, ...], sources: list[Source]
) -> Iterator[Source]:
    problem = problem_for(project)
    spare = {source.name: _spare(problem, parts, source.boards) for source in sources}
    for source in sorted(sources, key=lambda one: (-spare[one.name], one.name)):
        if spare[source.name] >= 0 and source.boards:
            yield source


def _spare(problem: Problem, parts: tuple[str, ...], boards: frozenset[str]) -> int:
    """Return how much area boards have beyond that of parts; below 0 if a part has none."""
    items = [item for item in problem.items if item.part in parts]
    asked = {item.index for item in items}
    need = sum(item.units * item.area for item in items)
    bins = [one for one in problem.bins if one.name in boards and asked & one.wanted]
    served = frozenset[int]().union(*(one.wanted for one in bins))
    area = sum(one.length * max(one.width, one.width2) for one in bins)
    return area - need if asked <= served else -1


def kept_to(project: Project, name: str, source: Source) -> Project:
    """Return the project with a set kept to the boards of a source."""
    kept: Mapping[str, frozenset[str]] = {**project.kept, name: source.boards}
    return replace(project, kept=kept)
