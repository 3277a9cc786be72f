"""Few pieces, few boards: every piece to a strip, every strip to a section, outright.

The three-stage model of Puchinger and Raidl (2007) Eur. J. Oper. Res. 183:1304-1327, by
constraint programming. Shapes are numbered from the widest down; a strip has the number of
its widest shape, a section that of its first strip, so that no two numberings tell the same
plan. It finds the cheapest boards for some thirty solid pieces, and proves it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from nesting.flow import Plans, Sections
from nesting.patterns import Section, Strip
from nesting.problem import Bin, Item, Problem
from nesting.solvers import solver_for

MOST_PIECES = 32
Bools = dict[tuple[int, int], cp_model.IntVar]


@dataclass(frozen=True, slots=True)
class Shape:
    """A piece in one of its sizes; a kerf is added to length and width."""

    piece: int
    item: int
    size: int
    length: int
    width: int


def pack(
    problem: Problem, *, least: int, most: int, seconds: float, seed: int = 1
) -> Plans:
    """Return the cheapest boards that cost `least` to `most` cents, and their sections.

    No plan may cost less than `least`. The bins must be plain and serve whatever fits
    them, and all items be solid.
    """
    model = Model(problem, least, most)
    solver = solver_for(seconds, seed)
    status = solver.solve(model.model)
    if status == cp_model.INFEASIBLE:
        return Plans(None, most + 1)
    bound = max(least, math.ceil(solver.best_objective_bound - 1e-6))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Plans(None, bound)
    return Plans(model.sections(solver), bound)


def shapes_of(problem: Problem) -> list[Shape]:
    """Return the shapes of all pieces that are wanted, from the widest down."""
    pieces = [item for item in problem.items for _ in range(item.units)]
    found = [
        Shape(number, item.index, size, length + problem.kerf, width + problem.kerf)
        for number, item in enumerate(pieces)
        for size, (length, width) in enumerate(item.sizes)
    ]
    return sorted(found, key=lambda one: (-one.width, -one.length, one.piece))


class Model:
    """The model of constraint programming; `i`, `j`, `k` number shapes, strips, sections.

    Attributes
    ----------
    in_strip, in_section, on_board
        Whether shape i is cut from strip j, strip j from section k, section k from the
        board numbered b.
    """

    def __init__(self, problem: Problem, least: int, most: int) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.shapes = shapes_of(problem)
        self.boards = affordable(problem, most)
        self.numbers = range(len(self.shapes))
        self.room = max((one.length + problem.kerf for one in self.boards), default=0)
        self.in_strip = self._bools(self.numbers)
        self.in_section = self._bools(self.numbers)
        self._pieces()
        self._strips()
        self.lengths = [self.model.new_int_var(0, self.room, "") for _ in self.numbers]
        self._sections()
        self.bought = [self.model.new_bool_var("") for _ in self.boards]
        self.on_board = {
            (b, k): self.model.new_bool_var("")
            for b in range(len(self.boards))
            for k in self.numbers
        }
        self._boards()
        self._cost(least, most)

    def _bools(self, numbers: range) -> Bools:
        """Return one variable for each pair of a number and one not above it."""
        return {(j, i): self.model.new_bool_var("") for i in numbers for j in range(i + 1)}

    def _pieces(self) -> None:
        """Cut every piece once, in one of its sizes, from an opened strip."""
        pieces: dict[int, list[cp_model.IntVar]] = {}
        for (j, i), use in self.in_strip.items():
            pieces.setdefault(self.shapes[i].piece, []).append(use)
            if j < i:
                self.model.add_implication(use, self.in_strip[j, j])
        for uses in pieces.values():
            self.model.add_exactly_one(uses)

    def _strips(self) -> None:
        """Put every opened strip, no longer than a board, in one opened section."""
        for j in self.numbers:
            opened = self.in_strip[j, j]
            self.model.add(self._taken(j) <= self.room * opened)
            homes = [self.in_section[k, j] for k in range(j + 1)]
            self.model.add(sum(homes) == opened)
            for k in range(j):
                self.model.add_implication(homes[k], self.in_section[k, k])

    def _taken(self, j: int) -> cp_model.LinearExprT:
        """Return the length of the pieces in strip j."""
        inside = self.numbers[j:]
        return cp_model.LinearExpr.weighted_sum(
            [self.in_strip[j, i] for i in inside], [self.shapes[i].length for i in inside]
        )

    def _sections(self) -> None:
        """Make a section as long as its longest strip."""
        for (k, j), use in self.in_section.items():
            self.model.add(self.lengths[k] >= self._taken(j)).only_enforce_if(use)
        for k in self.numbers:
            self.model.add(self.lengths[k] <= self.room * self.in_section[k, k])

    def _boards(self) -> None:
        """Lay sections on bought boards, within their widths and lengths."""
        kerf = self.problem.kerf
        widths = [one.width + kerf for one in self.boards]
        for k in self.numbers:
            homes = [self.on_board[b, k] for b in range(len(self.boards))]
            self.model.add(sum(homes) == self.in_section[k, k])
            strips = self.numbers[k:]
            across = cp_model.LinearExpr.weighted_sum(
                [self.in_section[k, j] for j in strips],
                [self.shapes[j].width for j in strips],
            )
            self.model.add(across <= cp_model.LinearExpr.weighted_sum(homes, widths))
        for b, one in enumerate(self.boards):
            along = []
            for k in self.numbers:
                here = self.on_board[b, k]
                self.model.add_implication(here, self.bought[b])
                length = self.model.new_int_var(0, one.length + kerf, "")
                self.model.add(length >= self.lengths[k]).only_enforce_if(here)
                along.append(length)
            self.model.add(sum(along) <= (one.length + kerf) * self.bought[b])

    def _cost(self, least: int, most: int) -> None:
        """Buy the first of boards that are alike; pay for a trip once."""
        stacks = [self.problem.stack_of[one.index] for one in self.boards]
        for a, b in pairwise(range(len(self.boards))):
            if stacks[a] == stacks[b]:
                self.model.add_implication(self.bought[b], self.bought[a])
        paid = [one.cost for one in self.boards]
        bought = list(self.bought)
        for yard, cost in self.problem.trips.items():
            visit = self.model.new_bool_var("")
            for one, use in zip(self.boards, self.bought, strict=True):
                if one.yard == yard:
                    self.model.add_implication(use, visit)
            paid.append(cost)
            bought.append(visit)
        total = cp_model.LinearExpr.weighted_sum(bought, paid)
        self.model.add_linear_constraint(total, least, most)
        area = sum(least_area(item) * item.units for item in self.problem.items)
        areas = [one.length * one.width for one in self.boards]
        self.model.add(cp_model.LinearExpr.weighted_sum(self.bought, areas) >= area)
        self.model.minimize(total)

    def sections(self, solver: cp_model.CpSolver) -> Sections:
        """Return what the solver found: the sections of every board that is bought."""
        found: dict[int, list[Section]] = {}
        for (b, k), home in self.on_board.items():
            if solver.value(home):
                found.setdefault(self.boards[b].index, []).append(self._section(solver, k))
        return {index: tuple(sections) for index, sections in found.items()}

    def _section(self, solver: cp_model.CpSolver, k: int) -> Section:
        kerf = self.problem.kerf
        strips = []
        longest = 0
        for j in self.numbers[k:]:
            if not solver.value(self.in_section[k, j]):
                continue
            shapes = [
                self.shapes[i]
                for i in self.numbers[j:]
                if solver.value(self.in_strip[j, i])
            ]
            longest = max(longest, sum(shape.length for shape in shapes))
            pieces = tuple((shape.item, shape.size, False) for shape in shapes)
            strips.append(Strip(self.shapes[j].width - kerf, pieces))
        return Section(longest - kerf, tuple(strips))


def affordable(problem: Problem, most: int) -> list[Bin]:
    """Return the bins that one may buy for `most` cents: of alike ones not too many."""
    pieces = sum(item.units for item in problem.items)
    found: list[Bin] = []
    for stack in problem.stacks:
        cost = problem.bins[stack[0]].cost
        count = min(pieces, most // cost) if cost > 0 else pieces
        found += [problem.bins[index] for index in stack[:count]]
    return found


def least_area(item: Item) -> int:
    """Return the area of a piece in the size that takes least."""
    return min(length * width for length, width in item.sizes)
