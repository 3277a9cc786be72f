"""Published cutting instances in JSON, run through the cutting engines.

One file is one instance: `id`, `kind`, `stages`, `first_cut` (`crosscut`, `rip`, `any`),
`cut_type`, `rotation`, `kerf`, `stock` (length, width, qty, cost), `items` (length,
width, qty, value), `best_known`. Lengths run along the board; a qty of null is unlimited.

Boards are cut in three stages, crosscut first, a piece trimmed to its width for nothing.
Two stages are special cases: rip first is one section as long as the board, crosscut first
is strips of one piece, trimmed to its length. Sheets are cut in any number of stages, of
which all these are special cases. There the best known value is one that ours may pass: a
negative gap.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from nesting.choose import choose
from nesting.columns import kernels_for, relax, rows_for
from nesting.knapsack import knapsack
from nesting.parts import Part
from nesting.plan import COMPLETE
from nesting.problem import Problem
from nesting.project import Project
from nesting.solve import Progress, SolveParams, solve
from nesting.stacks import step_of, up
from stock.boards import Board, Thickness
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Yard
from tests.benchmark import sheets
from tests.benchmark.engine import held_in, problem_of
from tests.benchmark.tables import markdown, median, number, percent

Instance = Mapping[str, Any]
FILLING, CUTTING = "2d-knapsack-guillotine", ("1d-csp", "2d-csp", "2d-vs-csp")
STAGES = {(2, "rip"), (2, "crosscut"), (3, "crosscut")}
WOOD = "published"
BOARDS, SHEETS = "boards", "sheets"


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one instance.

    Attributes
    ----------
    engine
        `boards` or `sheets`.
    value, bound
        What was found and what is proven, in the instance's own unit; None if nothing.
    way
        `one board`, `one sheet`, `patterns` (chosen among columns) or `search` (the
        whole recipe).
    gap
        How much worse than the best known, as a share of it; negative if better.
    """

    name: str
    engine: str
    best_known: int
    value: int | None
    bound: int
    way: str
    seconds: float
    gap: float | None


def read_instances(folder: Path) -> list[Instance]:
    """Return the instances of a folder by name of their files."""
    return [
        json.loads(path.read_text(encoding="utf-8"))
        for path in sorted(folder.glob("*.json"))
    ]


def misfit(instance: Instance) -> str | None:
    """Say why the rules of neither engine cover an instance; None if some do."""
    stages, first = instance["stages"], instance["first_cut"]
    if instance["kind"] not in (FILLING, *CUTTING):
        return f"kind {instance['kind']}: not one of whole pieces in clear boards"
    if instance["rotation"]:
        return "pieces may be turned"
    if instance["kerf"] or any(one["defects"] for one in instance["stock"]):
        return "sawn with a kerf, or in marked boards"
    if instance["kind"] == "1d-csp":
        return None
    if stages != "any" and (stages, first) not in STAGES:
        return f"best known value is for {stages} stages, first cut {first}"
    if instance["cut_type"] != "nonexact":
        return "pieces must be as wide as their strips"
    return None


def engines(instance: Instance) -> tuple[str, ...]:
    """Return the engines that an instance without a misfit is run by.

    Boards may not be cut in any number of stages; one sheet is filled freely only where
    the best known value is for that, and strips of one dimension are no sheets.
    """
    if instance["stages"] == "any":
        return (SHEETS,)
    return (BOARDS, SHEETS) if instance["kind"] in CUTTING[1:] else (BOARDS,)


def run(instance: Instance, seconds: float, engine: str = BOARDS) -> Result:
    """Fill the board, or cut the cheapest stock for the demand, in about `seconds`."""
    ways: dict[tuple[str, bool], Callable[..., tuple[int | None, int, str]]] = {
        (BOARDS, True): _filled, (BOARDS, False): _cut,
        (SHEETS, True): sheets.filled, (SHEETS, False): sheets.cut,
    }  # fmt: skip
    is_filling = instance["kind"] == FILLING
    begun = time.monotonic()
    value, bound, way = ways[engine, is_filling](instance, seconds)
    took = time.monotonic() - begun
    sign, known = -1 if is_filling else 1, instance["best_known"]
    assert value is None or sign * value >= sign * bound, "better than is proven possible"
    gap = None if value is None else sign * (value - known) / known
    return Result(instance["id"], engine, known, value, bound, way, took, gap)


def _filled(instance: Instance, seconds: float) -> tuple[int, int, str]:
    (stock,) = instance["stock"]
    room = stock["length"] * stock["width"]
    pieces = [
        (one["length"], one["width"], one["qty"] or room // (one["length"] * one["width"]))
        for one in instance["items"]
    ]
    problem = problem_of([(stock["length"], stock["width"], 100)], pieces)
    values = [one["value"] for one in instance["items"]]
    found = knapsack(problem, problem.bins[0], values, seconds=seconds)
    held = held_in(problem, problem.bins[0], found.sections)
    assert all(count <= problem.items[i].units for i, count in held.items())
    assert found.value == sum(values[i] * count for i, count in held.items())
    return found.value, found.bound, "one board"


def _cut(instance: Instance, seconds: float) -> tuple[int | None, int, str]:
    """Choose among the columns first; search if that is not proven to be the best."""
    begun = time.monotonic()
    boards = boards_for(instance)
    problem = problem_of(
        [(length, width, 100 * cost) for length, width, cost in boards],
        [(one["length"], one["width"], one["qty"]) for one in instance["items"]],
    )
    rows = rows_for(problem)

    def late() -> bool:
        return time.monotonic() - begun > 0.2 * seconds

    relaxed = relax(problem, kernels_for(problem), rows, stop=late)
    step = step_of(problem)
    bound = up(relaxed.bound, step) // 100
    value = _chosen(problem, rows, relaxed.columns, 0.05 * seconds)
    way = "patterns"
    if value is None or value > bound:
        rest = max(1.0, 0.95 * seconds - (time.monotonic() - begun))
        found, proven = _searched(
            instance, boards, rest, lambda least: up(100 * least, step) // 100
        )
        bound = max(bound, proven)
        if found is not None and (value is None or found < value):
            value, way = found, "search"
    return value, bound, way


def boards_for(instance: Instance) -> list[tuple[int, int, int]]:
    """Return stock (length, width, cost), as many of a kind as hold all that fits them."""
    found = []
    for stock in instance["stock"]:
        most = shelved(instance["items"], stock["length"], stock["width"])
        if stock["qty"] is not None:
            most = min(most, stock["qty"])
        found += [(stock["length"], stock["width"], stock["cost"])] * most
    return found


def shelved(items: Iterable[Mapping[str, int]], length: int, width: int) -> int:
    """Return how many boards the pieces that fit take: longest first, in the first section
    and board with room (first fit by decreasing height, Coffman et al. 1980).
    """
    pieces = sorted(
        (
            (one["length"], one["width"])
            for one in items
            for _ in range(one["qty"])
            if one["length"] <= length and one["width"] <= width
        ),
        reverse=True,
    )
    sections: list[list[int]] = []  # length, width still free
    for along, across in pieces:
        for section in sections:
            if across <= section[1]:
                section[1] -= across
                break
        else:
            sections.append([along, width - across])
    boards: list[int] = []
    for along, _ in sections:
        for place, free in enumerate(boards):
            if along <= free:
                boards[place] -= along
                break
        else:
            boards.append(length - along)
    return len(boards)


def _chosen(problem: Problem, rows: Any, columns: Any, seconds: float) -> int | None:
    """Return what the best choice of columns costs, its pieces counted."""
    chosen = choose(problem, rows, columns, seconds=seconds)
    if chosen is None:
        return None
    used = [column.bin for column in chosen]
    assert len(used) == len(set(used))
    held: Counter[int] = Counter()
    for column in chosen:
        held += held_in(problem, problem.bins[column.bin], column.sections)
    assert all(held[item.index] >= item.units for item in problem.items)
    return sum(problem.bins[index].cost for index in used) // 100


def _searched(
    instance: Instance,
    boards: list[tuple[int, int, int]],
    seconds: float,
    up: Callable[[float], int],
) -> tuple[int | None, int]:
    """Plan the instance as a project; stop as soon as a whole plan meets the bound."""
    seen: list[Progress] = []

    def is_best() -> bool:
        last = seen[-1] if seen else None
        if last is None or last.cost is None or last.bound is None:
            return False
        return last.cost <= up(float(last.bound))

    plan = solve(
        project_of(instance, boards),
        SolveParams(seconds=seconds, gap=0.0),
        on_progress=seen.append,
        should_stop=is_best,
    )
    cost = int(plan.totals.cost) if plan.status == COMPLETE else None
    return cost, up(float(plan.totals.bound))


def project_of(instance: Instance, boards: list[tuple[int, int, int]]) -> Project:
    """Return an instance as a project of clear boards in a shop that loses no wood."""
    shop = replace(
        default_shop(Unit.INCH), kerf=0, saw_step=1, end_trim=0, crosscut_allowance=0,
        rip_allowance=0, shortest_machined=0, offcut_value=Fraction(0), resaw_height=0,
    )  # fmt: skip
    parts = tuple(
        Part(
            name=f"P{number}", qty=one["qty"], length=one["length"], width=one["width"],
            thickness=1, species=WOOD, build="solid",
        )
        for number, one in enumerate(instance["items"])
    )  # fmt: skip
    return Project(
        name=instance["id"], shop=shop, parts=parts, yards=(Yard(name=WOOD),),
        boards=tuple(_board(f"B{n}", *sizes) for n, sizes in enumerate(boards)),
    )  # fmt: skip


def _board(name: str, length: int, width: int, cost: int) -> Board:
    """Return a board of 1 in, priced so that it costs `cost`: 64 steps to the inch."""
    feet = Fraction(length * width, 64 * 64 * 144)
    return Board(
        name=name, where=WOOD, species=WOOD, thickness=Thickness(Fraction(1), "4/4"),
        length=length, width=width, width2=width, price=cost / feet,
    )  # fmt: skip


# --- the table ------------------------------------------------------------------------


LEGEND = (
    "Boards are cut in three stages, crosscut first, sheets in any number; ours and our "
    "bound are for that. Where the best known value is for fewer stages, which are a "
    "special case, ours may pass it (a negative gap).\n"
)


def report(results: list[Result], misfits: list[tuple[str, str]]) -> str:
    """Return both tables: what was run, and what was not, with the reason."""
    heads = (
        "instance", "engine", "best known", "ours", "gap", "our bound", "found by",
        "seconds",
    )  # fmt: skip
    rows = [
        (
            one.name, one.engine, str(one.best_known), str(one.value or "-"),
            percent(one.gap, 2), str(one.bound), one.way, number(one.seconds, 1),
        )
        for one in results
    ]  # fmt: skip
    text = markdown(heads, [*rows, *_middles(results)])
    met = sum(1 for one in results if one.gap is not None and one.gap <= 0)
    text += f"\n\n{met} of {len(results)} runs meet the best known value.\n{LEGEND}"
    if misfits:
        text += "\nNot run:\n\n" + markdown(("instance", "why"), misfits) + "\n"
    return text


def _middles(results: list[Result]) -> list[tuple[str, ...]]:
    """Return a row with the medians of each engine."""
    found = []
    for engine in sorted({one.engine for one in results}):
        own = [one for one in results if one.engine == engine]
        gap, took = median(one.gap for one in own), median(one.seconds for one in own)
        found.append(("median", engine, "", "", percent(gap, 2), "", "", number(took, 1)))
    return found
