"""What came is what lies on the rack, was used or lost, after any sequence of commands."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from hypothesis import event, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from nesting.plan import CutBoard, Offcut, Piece, Plan
from nesting.rack_cuts import cutting, released, reservation
from nesting.racked import board_in_unit, stamped
from stock.boards import Board, Mark, Thickness, area_feet
from stock.errors import InputError
from stock.measures import Unit, inch_in
from stock.rack import Rack, open_rack
from stock.rack_boards import RackBoard, resized, stamp, with_marks_inside
from stock.rack_check import check_rack, feet_of
from stock.rack_entries import UNDO, Step
from tests.samples import bench_plan, bench_project

DAY = "2026-03-09"
PROJECTS = ("Bench", "Desk")


@st.composite
def rack_boards(draw) -> RackBoard:
    """Boards in either unit, tapered, thin, surfaced and marked in all ways."""
    unit = draw(st.sampled_from(list(Unit)))
    inch = 64 if unit is Unit.INCH else 254
    length = draw(st.integers(10 * inch, 120 * inch))
    width, width2 = (draw(st.integers(2 * inch, 12 * inch)) for _ in range(2))
    quarters = draw(st.integers(2, 12))
    start, low = draw(st.integers(0, length - 1)), draw(st.integers(0, width - 1))
    mark = Mark(
        kind=draw(st.sampled_from(["knot", "stain", "figure"])), start=start, low=low,
        end=draw(st.integers(start + 1, length)), high=draw(st.integers(low + 1, width)),
    )  # fmt: skip
    board = Board(
        name=draw(st.sampled_from("ABCDEFGHIJKLMNOP")), species="oak", length=length,
        width=width,
        width2=draw(st.sampled_from([width, width2])), marks=(mark,),
        thickness=Thickness(Fraction(quarters, 4) * inch_in(unit), f"{quarters}/4"),
        surfaced=draw(st.sampled_from(["rough", "S2S"])),
    )  # fmt: skip
    return RackBoard(board=with_marks_inside(board), unit=unit, since=DAY)


def cut_board(one: RackBoard, unit: Unit, shares: tuple[int, ...], *, bought: bool):
    """Cut a board by shares of its length: piece, kept offcut, waste, in turn.

    Pieces and offcuts are as wide as the board all along.
    """
    board = board_in_unit(one, unit)
    width = min(board.width, board.width2)
    pieces, offcuts, x = [], [], 0
    for place, share in enumerate(shares):
        length = board.length * share // (sum(shares) + 1)
        if length == 0 or width == 0:
            continue
        if place % 3 == 0:
            pieces.append(
                Piece(name=f"{one.name} {place}", part="P", copy=1, role="solid", x=x, y=0,
                      length=length, width=width)
            )  # fmt: skip
        else:
            offcuts.append(
                Offcut(name=f"{one.name} offcut {place}", x=x, y=0, length=length,
                       width=width, keep=place % 3 == 1)
            )  # fmt: skip
        x += length + 1
    sample = bench_plan().boards[0]
    return replace(
        sample, board=one.name, bought=bought, length=board.length, width=board.width,
        width2=board.width2, pieces=tuple(pieces), cuts=(), offcuts=tuple(offcuts),
        gangs=(),
    )  # fmt: skip


def plan_of(cuts: list[CutBoard], unit: Unit, project: str) -> Plan:
    return replace(
        bench_plan(), project=project, unit=unit.value, boards=tuple(cuts), panels=()
    )


shares = st.lists(st.integers(0, 9), min_size=1, max_size=7).map(tuple)
units = st.sampled_from(list(Unit))
projects = st.sampled_from(PROJECTS)


class Books(RuleBasedStateMachine):
    """A rack, its commands in any order, and what must always hold."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "rack.sqlite"
        self.rack = self.open()
        self.past: list[dict[int, RackBoard]] = []  # before each entry that stands

    def open(self) -> Rack:
        """Open the rack; sums don't hang on whether the disk has written them yet."""
        rack = open_rack(self.path, makes=True)
        rack._base.execute("PRAGMA synchronous = OFF")
        return rack

    def teardown(self) -> None:
        self.rack.close()
        self.folder.cleanup()

    def book(self, kind: str, decide):
        """Book an entry and return it, or see it refused with nothing changed."""
        before, entries = dict(self.rack.state().boards), len(self.rack.entries())
        try:
            entry = self.rack.book(kind, "a test", decide)
        except InputError:
            event(f"{kind} refused")
            assert self.rack.state().boards == before
            assert len(self.rack.entries()) == entries
            return None
        event(f"{kind} booked")
        self.past.append(before)
        return entry

    def some(self, data) -> tuple[int, RackBoard]:
        boards = self.rack.state().boards
        number = data.draw(st.sampled_from(sorted(boards)))
        return number, boards[number]

    def has_boards(self) -> bool:
        return bool(self.rack.state().boards)

    @rule(boards=st.lists(rack_boards(), min_size=1, max_size=3))
    def import_boards(self, boards):
        self.book("import", lambda _: [Step(puts=((None, one),)) for one in boards])

    @precondition(has_boards)
    @rule(data=st.data(), unit=units, project=projects)
    def reserve(self, data, unit, project):
        _, one = self.some(data)
        plan = plan_of([cut_board(one, unit, (1,), bought=False)], unit, project)
        plan = stamped(plan, {one.name: stamp(one)})
        self.book("reserve", lambda state: reservation(state, plan))

    @rule(project=projects)
    def release(self, project):
        self.book("release", lambda state: released(state, project))

    @precondition(has_boards)
    @rule(data=st.data(), unit=units, project=projects, shares=st.tuples(shares, shares))
    def cut(self, data, unit, project, shares):
        own = {one.name: one for _, one in (self.some(data), self.some(data))}
        cuts = [
            cut_board(one, unit, share, bought=False)
            for one, share in zip(own.values(), shares, strict=False)
        ]
        plan = plan_of(cuts, unit, project)
        entry = self.book("cut", lambda state: cutting(state, plan, None, DAY))
        if entry and all(one.board.width == one.board.width2 for one in own.values()):
            # no more comes out of a board than it is; the tally of a taper counts less
            assert entry.came == 0

    @rule(one=rack_boards(), unit=units, shares=shares, project=projects)
    def cut_what_was_bought(self, one, unit, shares, project):
        """A board that never lay on the rack: only its offcuts do."""
        listed = replace(board_in_unit(one, unit), where="Hill yard")
        content = replace(
            bench_project(), boards=(listed,), shop=replace(bench_project().shop, unit=unit)
        )
        here = replace(one, board=replace(listed, where="rack"), unit=unit)
        plan = plan_of([cut_board(here, unit, shares, bought=True)], unit, project)
        entry = self.book("cut", lambda state: cutting(state, plan, content, DAY))
        if entry and one.name in names_of(self.past[-1]):
            event("bought board lay there")
        elif entry and listed.width == listed.width2:
            assert entry.came == tally(here)

    @precondition(has_boards)
    @rule(data=st.data(), percent=st.floats(0, 100))
    def moisture(self, data, percent):
        number, one = self.some(data)
        step = Step(puts=((number, one.with_board(moisture=percent)),))
        self.book("moisture", lambda _: [step])

    @precondition(has_boards)
    @rule(data=st.data(), sizes=st.tuples(*[st.integers(64, 9000)] * 3), gone=st.booleans())
    def count(self, data, sizes, gone):
        (first, one), (second, _) = self.some(data), self.some(data)
        steps = [Step(puts=((first, resized(one, *sizes)),))]
        if gone and first != second:
            steps.append(Step(puts=((second, None),)))
        self.book("count", lambda _: steps)

    @rule()
    def undo(self):
        if not self.past:
            return
        self.rack.undo("a test")
        assert self.rack.state().boards == self.past.pop()

    @rule()
    def close_and_open_again(self):
        before = self.rack.state()
        self.rack.close()
        self.rack = self.open()
        assert self.rack.state() == before

    @invariant()
    def what_came_is_what_lies_here_and_what_was_used_and_lost(self):
        """Summed here from sizes alone, not by what the ledger counts itself."""
        entries = self.rack.entries()
        came, used, lost = feet_of(entries)
        lies = sum((tally(one) for one in self.rack.state().boards.values()), Fraction(0))
        assert came == lies + used + lost
        assert min(used, lost) >= 0
        assert check_rack(self.rack) == ()
        assert sum(entry.kind != UNDO for entry in entries) >= len(self.past)

    @invariant()
    def entries_that_stand_tell_the_state(self):
        assert len(self.rack.entries()) == self.rack.state().entry


def names_of(boards: dict[int, RackBoard]) -> set[str]:
    return {one.name for one in boards.values()}


def tally(one: RackBoard) -> Fraction:
    """Board feet from sizes: narrow end and a third of the taper, times length, by 144."""
    narrow, wide = sorted((one.board.width, one.board.width2))
    return area_feet(
        one.board, one.board.length * (narrow + Fraction(wide - narrow, 3)), one.unit
    )


TestBooks = Books.TestCase
TestBooks.settings = settings(max_examples=80, stateful_step_count=20, deadline=None)
