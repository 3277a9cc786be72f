"""Set-ups: which cuts share a setting, in an order in which no cut waits for its wood."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from nesting.merged import merged
from nesting.milling import (
    EVEN,
    GLUED,
    GLUED_WIDTH,
    LENGTH,
    PLANE,
    WIDTH,
    set_ups_for,
)
from nesting.plan import CutBoard, Plan
from nesting.set_ups import (
    AFTER,
    FENCE,
    LINE,
    PLANER,
    STOP,
    SetUp,
    cutting_set_ups,
    fence_settings,
)
from nesting.solve import SolveParams, solve
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    shelf_plan,
    shelf_project,
)
from tests.strategies import projects

QUICK = SolveParams(seconds=0.5, seed=1)
few = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def told(set_ups: tuple[SetUp, ...]) -> list[tuple[str, int | None, list[str]]]:
    """Way, setting and what comes off, for short."""
    return [
        (one.way, one.setting, [" + ".join(run.names) for run in one.runs])
        for one in set_ups
    ]


def test_the_set_ups_of_a_bench_worked_by_hand():
    # Y1: staves of 5 1/8 twice, and in another section 2 in of waste (beside the knot)
    # and the rail, 3 1/4; Y2: the legs' strip, 2 1/4; R1: a stave of 4 5/8. Wide ones
    # first, but the rail only once its waste is off.
    legs = "Leg 1 + Leg 2 + Leg 3 + Leg 4"
    assert told(cutting_set_ups(bench_plan().boards, inch("1/8"))) == [
        (LINE, None, ["", "Seat 1.1 + Seat 1.2", "Rail 1"]),
        (LINE, None, ["", legs]),
        (LINE, None, ["", "Seat 1.3"]),
        (FENCE, inch("41/8"), ["Seat 1.1", "Seat 1.2"]),
        (FENCE, inch("37/8"), ["Seat 1.3"]),
        (FENCE, inch("9/4"), [legs]),
        (FENCE, inch(2), [""]),
        (FENCE, inch("13/4"), ["Rail 1"]),
        (STOP, inch(11), ["Leg 1", "Leg 2", "Leg 3"]),
    ]
    assert fence_settings(bench_plan().boards, inch("1/8")) == 5


def test_what_is_left_behind_the_last_cut_is_told():
    last = cutting_set_ups(bench_plan().boards, inch("1/8"))[-1]
    assert [run.leaves for run in last.runs] == [(), (), ("Leg 4",)]


def test_the_whole_work_on_a_bench_worked_by_hand():
    # Thickness 3/4 throughout. Legs are ripped to 2 in as one gang, and cut to 10 in each;
    # the seat is trimmed from 14 1/2 to 14 wide once it is glued.
    milled = set_ups_for(bench_project(), bench_plan())[8:]
    three_quarters, seat = inch("3/4"), ["Seat 1"]
    legs = "Leg 1 + Leg 2 + Leg 3 + Leg 4"
    assert [one.phase for one in milled] == [
        EVEN, PLANE, WIDTH, WIDTH, AFTER, GLUED, GLUED_WIDTH, LENGTH, LENGTH, LENGTH,
    ]  # fmt: skip
    assert told(milled) == [
        (PLANER, three_quarters, ["Seat 1.1", "Seat 1.2", "Seat 1.3"]),
        (PLANER, three_quarters, ["Rail 1", legs]),
        (FENCE, inch(3), ["Rail 1"]),
        (FENCE, inch(2), [legs]),
        (STOP, inch(11), ["Leg 1", "Leg 2", "Leg 3"]),
        (PLANER, three_quarters, seat),
        (FENCE, inch(14), seat),
        (STOP, inch(48), seat),
        (STOP, inch(40), ["Rail 1"]),
        (STOP, inch(10), ["Leg 1", "Leg 2", "Leg 3", "Leg 4"]),
    ]


def test_layers_are_planed_in_their_gang_and_trimmed_once_glued():
    # two blocks of two layers: 40 mm from 2 x 20 mm; 225 x 66 mm rough, 200 x 60 mm trimmed
    milled = told(set_ups_for(block_project(), block_plan()))[2:]
    gang, both = "Block 1.1 + Block 1.2 + Block 2.1 + Block 2.2", ["Block 1", "Block 2"]
    assert milled == [
        (PLANER, 200, [gang]),
        (STOP, 2250, ["Block 1.1", "Block 1.2", "Block 2.1"]),
        (PLANER, 400, both),
        (FENCE, 600, both),
        (STOP, 2000, both),
    ]


def test_sheet_goods_are_neither_faced_nor_planed():
    found = set_ups_for(shelf_project(), shelf_plan())
    goods = [one for one in found if any("End 1" in run.names for run in one.runs)]
    assert [(one.way, one.setting) for one in goods] == [
        (FENCE, inch(10)),
        (STOP, inch(20)),
    ]


# --- an order that works --------------------------------------------------------------


@dataclass
class Saw:
    """Boards as rectangles (x, y, x end, y end); a cut needs one that it goes across."""

    kerf: int
    woods: dict[str, list[tuple[int, int, int, int]]]

    def make(self, board: CutBoard, order: int) -> int:
        """Make a cut; return how far it lies from the near edge of its wood."""
        (cut,) = [one for one in board.cuts if one.order == order]
        woods = self.woods[board.board]
        is_rip = cut.kind == "rip"
        for at, (x, y, x_end, y_end) in enumerate(woods):
            across = (x, x_end) if is_rip else (y, y_end)
            low, high = (y, y_end) if is_rip else (x, x_end)
            if (cut.start, cut.end) == across and low - self.kerf < cut.at < high:
                end = cut.at + self.kerf
                sides = (
                    [(x, y, x_end, cut.at), (x, end, x_end, y_end)]
                    if is_rip
                    else [(x, y, cut.at, y_end), (end, y, x_end, y_end)]
                )
                woods[at : at + 1] = [s for s in sides if s[0] < s[2] and s[1] < s[3]]
                return cut.at - low
        raise AssertionError(f"cut {order} of {board.board} needs wood that is not free")


@few
@given(projects())
def test_no_set_up_needs_what_is_not_there_yet(project):
    plan = solve(project, QUICK)
    work = set_ups_for(project, plan)
    check_cuts(plan, work, project.shop.kerf)
    check_milling(plan, work)


def check_cuts(plan: Plan, work: tuple[SetUp, ...], kerf: int) -> None:
    """Every cut finds its wood, lies as far off as it is set, and frees the pieces."""
    cut = {one.board: one for one in (*plan.boards, *plan.sheets)}
    wood = {n: [(0, 0, b.length, max(b.width, b.width2))] for n, b in cut.items()}
    saw, made = Saw(kerf, wood), 0
    for one in work:
        for run in one.runs:
            if run.board:
                assert one.setting in (None, saw.make(cut[run.board], run.cut))
                made += 1
    assert made == sum(len(board.cuts) for board in cut.values())
    for board in cut.values():
        for piece in board.pieces:
            box = (piece.x, piece.y, piece.x + piece.length, piece.y + piece.width)
            assert box in saw.woods[board.board]


def check_milling(plan: Plan, work: tuple[SetUp, ...]) -> None:
    """Pieces are planed, then ripped, then cut to length; gangs whole until cut apart."""
    milled = [
        (at, one.way, r) for at, one in enumerate(work) for r in one.runs if not r.cut
    ]
    cut = {(r.board, r.cut): at for at, one in enumerate(work) for r in one.runs if r.cut}
    for board in plan.boards:
        ganged = {name for gang in board.gangs if len(gang) > 1 for name in gang}
        late = [cut[board.board, one.order] for one in board.cuts if one.after_planing]
        for piece in board.pieces:
            own = [(at, way, run) for at, way, run in milled if piece.name in run.names]
            ways = [way for way, _ in groupby(way for _, way, _ in own)]
            trims = [FENCE, STOP] if piece.role == "solid" else []
            assert ways in ([PLANER, *trims], [PLANER, FENCE, PLANER, *trims])
            for at, _, run in own if piece.name in ganged else ():
                is_whole = len(run.names) > 1
                assert at < min(late) if is_whole else at > max(late)


# --- one order for many lists ---------------------------------------------------------

letters = st.text("ABCD", max_size=7)


def order_of(lists: list[str]) -> tuple[str, ...]:
    return merged(lists, lambda letter: letter, lambda letter: letter == "-")


def holds(order: tuple[str, ...], one: str) -> bool:
    """Whether a list, its equal neighbours as one, is a subsequence of an order."""
    rest = iter(order)
    return all(letter in rest for letter, _ in groupby(one))


@given(st.lists(letters, max_size=6))
def test_the_order_holds_every_list(lists):
    order = order_of(lists)
    assert all(holds(order, one) for one in lists)


def common(one: str, other: str) -> int:
    """Length of the longest common subsequence, by the usual recurrence."""
    row = [0] * (len(other) + 1)
    for a in one:
        above, row = row, [0]
        for at, b in enumerate(other):
            row.append(above[at] + 1 if a == b else max(above[at + 1], row[-1]))
    return row[-1]


@given(letters, letters)
@example("ABCBDAB", "BDCABA")
def test_two_lists_take_as_many_entries_as_the_closed_form_says(one, other):
    # shortest common supersequence of two lists: m + n less their longest common
    # subsequence (textbooks; ABCBDAB and BDCABA, with 4 in common, are Cormen et al.'s)
    one, other = ("".join(letter for letter, _ in groupby(each)) for each in (one, other))
    assert len(order_of([one, other])) == len(one) + len(other) - common(one, other)


def shortest(lists: list[str]) -> int:
    """Length of a shortest common supersequence, by looking at all of them."""
    states, count = {tuple(lists)}, 0
    while not any(not any(state) for state in states):
        count += 1
        states = {
            tuple(one[1:] if one[:1] == letter else one for one in state)
            for state in states
            for letter in {one[0] for one in state if one}
        }
    return count


@given(st.lists(st.text("ABC", max_size=4), min_size=3, max_size=4))
def test_few_short_lists_get_a_shortest_order(lists):
    lists = ["".join(letter for letter, _ in groupby(each)) for each in lists]
    assert len(order_of(lists)) == shortest(lists)


@given(st.lists(st.text("AB-", max_size=6), max_size=5))
def test_free_entries_never_cost_a_counted_one_more(lists):
    order = order_of(lists)
    assert all(holds(order, one) for one in lists)
    bare = [one.replace("-", "") for one in lists]
    counted = sum(letter != "-" for letter in order)
    assert counted >= len(order_of(bare))


def test_the_same_lists_in_another_order_come_out_alike():
    assert order_of(["AB", "BA", "CA"]) == order_of(["CA", "AB", "BA"])
