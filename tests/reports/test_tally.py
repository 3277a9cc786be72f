"""A tally sheet filled in at the yard, as a person would, and read back."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from nesting.plan import COMPLETE, SHORT, Plan
from nesting.planfile import plan_to_json
from nesting.project import Project
from nesting.solve import SolveParams, solve
from nesting.taken import Taken, put_back, with_taken
from nesting.verify import verify
from reports import cli
from reports.sheets.cells import TICKED_BOX
from reports.tally import read_tally
from reports.tally_cart import Cart
from reports.workbook import write_workbook
from stock.boards import Board, Mark, Thickness
from stock.cells import Record
from stock.errors import InputError
from stock.measures import Unit, parse_measure, to_unit
from stock.rows import Findings, Row
from stock.shop import default_shop
from stock.yards import Yard
from tests.reports.test_cli import run
from tests.samples import (
    OAK,
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    mm,
    shelf_plan,
    shelf_project,
)

# Rows of the bench's sheet: Y1, Y2, then three rows for what was found instead
Y1, Y2, SPARE = 7, 8, 11

Cells = dict[str, object]


def filled(
    folder: Path,
    cells: Cells,
    project: Project | None = None,
    plan: Plan | None = None,
) -> Path:
    """The workbook of the bench with some cells of its sheet Buy written over."""
    path = folder / "bench-plan.xlsx"
    write_workbook(path, project or bench_project(), plan or bench_plan())
    book = load_workbook(path)
    for at, value in cells.items():
        book["Buy"][at] = value
    book.save(path)
    return path


def read(folder: Path, cells: Cells, project: Project | None = None) -> Taken:
    """What is read from the bench's sheet with some cells written over."""
    return read_tally(filled(folder, cells, project), project or bench_project())


def refused(folder: Path, cells: Cells, project: Project | None = None) -> list[str]:
    """The lines that are said of a sheet that can't be used."""
    path = filled(folder, cells)
    with pytest.raises(InputError) as caught:
        read_tally(path, project or bench_project())
    return [str(fault) for fault in caught.value.faults]


def resaved(path: Path) -> Path:
    """The same workbook as LibreOffice saves it, its formulas calculated."""
    out = path.parent / "out"
    out.mkdir()
    profile = (path.parent / "profile").as_uri()
    subprocess.run(
        [
            "soffice", f"-env:UserInstallation={profile}", "--headless", "--convert-to",
            "xlsx:Calc MS Excel 2007 XML", "--outdir", str(out), str(path),
        ],
        check=True, capture_output=True, timeout=240,
    )  # fmt: skip
    return out / path.name


def two_yards() -> tuple[Project, Plan]:
    """The bench with Y2 at another yard that has no price list."""
    project, plan = bench_project(), bench_plan()
    boards = tuple(
        replace(board, where="Mill") if board.name == "Y2" else board
        for board in project.boards
    )
    cuts = tuple(
        replace(cut, where="Mill") if cut.board == "Y2" else cut for cut in plan.boards
    )
    yards = (*project.yards, Yard(name="Mill"))
    return replace(project, boards=boards, yards=yards), replace(plan, boards=cuts)


# --- ticks and corrections ------------------------------------------------------------


def test_ticked_boards_are_taken_as_listed_and_the_others_left(tmp_path):
    taken = read(tmp_path, {f"A{Y1}": TICKED_BOX})
    assert taken == Taken(boards=(bench_project().board("Y1"),))


@pytest.mark.parametrize("tick", [TICKED_BOX, "x", "X", "yes", 1, True, "\N{CHECK MARK}"])
def test_any_usual_tick_will_do(tmp_path, tick):
    taken = read(tmp_path, {f"A{Y2}": tick})
    assert [board.name for board in taken.boards] == ["Y2"]


@pytest.mark.parametrize("width", [11.25, "11 1/4", '11-1/4"', "11.25"])
def test_a_size_written_over_is_the_real_one_as_number_or_text(tmp_path, width):
    taken = read(tmp_path, {f"A{Y1}": "x", f"F{Y1}": width, f"G{Y1}": "1c"})
    (board,) = taken.boards
    assert (board.length, board.width, board.width2) == (
        inch(96),
        inch("45/4"),
        inch("45/4"),
    )
    assert board.grade == "1C"
    assert taken.corrected == ("Y1",)
    # its knot stays where it is listed, and the maker is told so
    assert board.marks == bench_project().board("Y1").marks
    assert "look at it again" in str(taken.warnings[0])


@given(st.sampled_from(Unit), st.integers(1, 400_000), st.integers(1, 400_000))
def test_a_size_is_read_back_exactly_as_the_sheet_shows_it(unit, listed, measured):
    project = replace(bench_project(), shop=default_shop(unit))
    cart = Cart(project, Findings())
    size = parse_measure(to_unit(measured, unit), unit)
    record = Record(Row("Buy", 1, {}), {"length": size}, is_whole=True)
    assert cart.size(record, "length", measured) == measured
    assert cart.size(record, "length", listed) == measured


def test_a_price_written_over_counts(tmp_path):
    taken = read(tmp_path, {f"A{Y1}": "x", f"A{Y2}": "x", f"K{Y2}": 7.95})
    assert [board.price for board in taken.boards] == [9, Fraction(795, 100)]


def test_blank_cells_leave_a_board_as_listed(tmp_path):
    taken = read(tmp_path, {f"A{Y2}": "x", f"E{Y2}": None, f"F{Y2}": None, f"G{Y2}": None})
    assert taken.boards == (bench_project().board("Y2"),)


def test_marks_are_cut_to_a_shorter_board_and_reach_its_real_edge(tmp_path):
    project = bench_project()
    y1 = project.board("Y1")
    marks = (
        Mark(kind="split", start=inch(90), end=inch(96), low=0, high=y1.width),
        Mark(kind="knot", start=inch(60), end=inch(62), low=0, high=inch(1)),
        Mark(kind="figure", tag="fleck", start=0, end=inch(96), low=0, high=y1.width),
    )
    boards = tuple(
        replace(board, marks=marks) if board.name == "Y1" else board
        for board in project.boards
    )
    project = replace(project, boards=boards)
    cells: Cells = {f"A{Y1}": "x", f"E{Y1}": 61, f"F{Y1}": 12}
    split, knot, fleck = read_marks(tmp_path, cells, project)
    assert split is None  # it lay in what is not there
    assert knot == replace(marks[1], end=inch(61))
    # a zone of figure grows no further than it was seen
    assert fleck == replace(marks[2], end=inch(61))
    cells = {f"A{Y1}": "x", f"E{Y1}": 97, f"F{Y1}": 12}
    split, knot, fleck = read_marks(tmp_path, cells, project)
    assert split == replace(marks[0], end=inch(97), high=inch(12))
    assert (knot, fleck) == marks[1:]


def read_marks(folder: Path, cells: Cells, project: Project) -> list[Mark | None]:
    """The marks of the one board that is taken, by the kinds split, knot and figure."""
    (board,) = read(folder, cells, project).boards
    by_kind = {mark.kind: mark for mark in board.marks}
    return [by_kind.get(kind) for kind in ("split", "knot", "figure")]


@pytest.mark.parametrize(
    ("cells", "width", "width2"),
    [
        ({}, 160, 150),
        ({"E7": 1300}, 160, 150),
        # half as long: half of the taper of 10 mm is left from the narrow end on
        ({"E7": 600}, 155, 150),
        # measured anew at the narrow end: no more is sure than a parallel board
        ({"F7": 148.5}, 148.5, 148.5),
    ],
)
def test_a_tapered_board_that_measures_otherwise_is_never_wider_than_sure(
    tmp_path, cells, width, width2
):
    project, plan = metric(None)
    path = filled(tmp_path, {"A7": "x", **cells}, project, plan)
    (real,) = read_tally(path, project).boards
    assert (real.width, real.width2) == (mm(Fraction(width)), mm(Fraction(width2)))


def test_a_row_written_over_but_not_ticked_is_told(tmp_path):
    taken = read(tmp_path, {f"A{Y1}": "x", f"F{Y2}": 3})
    assert [board.name for board in taken.boards] == ["Y1"]
    assert [str(one) for one in taken.warnings] == [
        "Buy, row 8: the row is written over but not ticked: the board counts as not taken"
    ]


def test_sheet_goods_count_by_their_ticks(tmp_path):
    project, plan = shelf_project(), shelf_plan()
    sheet = replace(project.sheets[0], where="Hill yard")
    cut = replace(plan.sheets[0], where="Hill yard", bought=True)
    project = replace(project, sheets=(sheet,))
    plan = replace(plan, sheets=(cut, replace(cut, board="birch ply 2")))
    path = filled(tmp_path, {"A10": "x"}, project, plan)
    assert read_tally(path, project) == Taken(sheets={"birch ply": 1})


def ply_bought() -> tuple[Project, Plan]:
    """The shelf whose two sheets are bought, 28.00 each."""
    project, plan = shelf_project(), shelf_plan()
    sheet = replace(project.sheets[0], where="Hill yard")
    cut = replace(plan.sheets[0], where="Hill yard", bought=True)
    plan = replace(plan, sheets=(cut, replace(cut, board="birch ply 2")))
    return replace(project, sheets=(sheet,)), plan


def test_the_price_of_sheet_goods_is_read_from_their_rows(tmp_path):
    project, plan = ply_bought()
    cells = {"A9": "x", "K9": 31, "A10": "x", "K10": "31.00"}
    taken = read_tally(filled(tmp_path, cells, project, plan), project)
    assert taken == Taken(
        sheets={"birch ply": 2}, prices={"birch ply": Fraction(31)},
        terms=("price of birch ply",),
    )  # fmt: skip
    (sheet,) = with_taken(project, taken).sheets
    assert (sheet.qty, sheet.price) == (2, 31)


def test_two_prices_of_one_kind_of_sheet_are_refused_and_one_left_behind_is_told(tmp_path):
    project, plan = ply_bought()
    path = filled(tmp_path, {"A9": "x", "K9": 31, "A10": "x"}, project, plan)
    with pytest.raises(InputError) as caught:
        read_tally(path, project)
    (fault,) = caught.value.faults
    assert "all sheets of 'birch ply' have one price" in str(fault)
    (tmp_path / "again").mkdir()
    path = filled(tmp_path / "again", {"A9": "x", "K10": 31}, project, plan)
    (warning,) = read_tally(path, project).warnings
    assert "the price is written over but the row not ticked" in str(warning)


# --- terms of a yard ------------------------------------------------------------------

# The row of the bench's sheet with the terms of Hill yard: tax in B, trip cost in C,
# smallest order in D, the charges for surfacing in F and for straight edges in H
TERMS = 5


def test_terms_of_a_yard_are_read_and_named(tmp_path):
    cells: Cells = {
        f"A{Y1}": "x", f"B{TERMS}": 0.075, f"C{TERMS}": 30, f"D{TERMS}": "100",
        f"F{TERMS}": 0.5, f"H{TERMS}": 0.25,
    }  # fmt: skip
    taken = read(tmp_path, cells)
    (yard,) = taken.yards
    assert (yard.tax, yard.trip_cost, yard.smallest_order) == (Fraction("7.5"), 30, 100)
    assert (yard.surfacing_charge, yard.straight_edge_charge) == (
        Fraction("0.5"),
        Fraction("0.25"),
    )
    assert taken.terms == (
        "tax and trip cost and smallest order and surfacing and straight edge at Hill yard",
    )


@pytest.mark.parametrize("tax", [0.08, "8%", "8 %", "8"])
def test_a_tax_is_read_however_it_is_written(tmp_path, tax):
    (yard,) = read(tmp_path, {f"A{Y1}": "x", f"B{TERMS}": tax}).yards
    assert yard.tax == 8


def test_terms_that_are_blank_or_as_listed_stay(tmp_path):
    taken = read(tmp_path, {f"A{Y1}": "x", f"B{TERMS}": None, f"C{TERMS}": 12})
    assert (taken.yards, taken.terms) == ((), ())


def test_terms_that_are_none_are_refused_with_the_rest(tmp_path):
    (line,) = refused(tmp_path, {f"A{Y1}": "x", f"C{TERMS}": "a lot"})
    assert line.startswith(f"Buy, row {TERMS}, column 'trip cost': use a plain number")
    assert "800%" in refused(tmp_path, {f"A{Y1}": "x", f"B{TERMS}": 8})[0]


def test_a_plan_pays_the_terms_of_the_sheet(tmp_path):
    # Y1 is 23/3 board feet at 9.00: 69.00, with 10 % tax 75.90; 90.00 - 69.00 to the
    # smallest order and tax 23.10; two trips 24.00
    cells: Cells = {f"A{Y1}": "x", f"B{TERMS}": 0.1, f"C{TERMS}": 24}
    project = bench_project()
    parts = tuple(part for part in project.parts if part.name != "Seat")
    project = replace(project, parts=parts, boards=project.boards[1:])
    real = with_taken(project, read(tmp_path, cells))
    plan = solve(real, SolveParams(steps=100))
    assert verify(real, plan) == ()
    totals = plan.totals
    assert (float(totals.boards), float(totals.trips)) == (75.90, 24.0)
    assert float(totals.top_ups) == 23.10


# --- what was found instead -----------------------------------------------------------


def test_a_found_board_is_of_the_wood_it_is_in_place_of(tmp_path):
    cells: Cells = {
        f"A{Y1}": "x", f"B{SPARE}": "long one", f"C{SPARE}": "y2", f"E{SPARE}": "60 1/2",
        f"F{SPARE}": 5.25, f"G{SPARE}": "FAS",
        f"H{SPARE}": "knot 20 to 26; check 0 to 3 across 1 to 2 one face",
    }  # fmt: skip
    taken = read(tmp_path, cells)
    assert taken.found == ("long one",)
    assert taken.boards[1] == Board(
        name="long one", where="Hill yard", species=OAK,
        thickness=Thickness(Fraction(1), "4/4"), length=inch("121/2"),
        width=inch("21/4"), width2=inch("21/4"), grade="FAS",
        marks=(
            Mark(kind="knot", start=inch(20), end=inch(26), low=0, high=inch("21/4")),
            Mark(kind="check", start=0, end=inch(3), low=inch(1), high=inch(2), face="one"),
        ),
    )  # fmt: skip
    # the yard's list asks 9.30 for FAS
    real = with_taken(bench_project(), taken)
    assert real.tariff.rate(real.board("long one")) == Fraction(93, 10)


def test_boards_without_a_name_get_one_that_nobody_has(tmp_path):
    cells: Cells = {}
    for row, name in zip(range(SPARE, SPARE + 3), (None, "Found 1", None), strict=True):
        cells |= {f"B{row}": name, f"E{row}": 60, f"F{row}": 5, f"K{row}": 8}
    assert read(tmp_path, cells).found == ("found 2", "Found 1", "found 3")


def test_without_a_price_a_found_board_costs_what_it_is_in_place_of(tmp_path):
    # No list names a price for ungraded oak; Y2 is asked at 8.40
    sizes: Cells = {f"E{SPARE}": 60, f"F{SPARE}": 5}
    (board,) = read(tmp_path, {f"C{SPARE}": "Y2", **sizes}).boards
    assert board.price == Fraction(84, 10)
    # in place of nothing: the dearest of what the sheet lists, Y1 at 9.00
    (board,) = read(tmp_path, sizes).boards
    assert board.price == 9
    (board,) = read(tmp_path, {f"K{SPARE}": "8.75", **sizes}).boards
    assert board.price == Fraction(875, 100)


def test_a_thickness_written_in_makes_rough_wood_of_it(tmp_path):
    project = bench_project()
    boards = tuple(replace(board, surfaced="S2S") for board in project.boards)
    project = replace(project, boards=boards)
    cells: Cells = {
        f"D{SPARE}": "5/4", f"E{SPARE}": 60, f"F{SPARE}": 5,
        f"E{SPARE + 1}": 60, f"F{SPARE + 1}": 5,
    }  # fmt: skip
    thick, same = read(tmp_path, cells, project).boards
    assert (thick.thickness.label, thick.surfaced) == ("5/4", "rough")
    assert (same.thickness.label, same.surfaced) == ("4/4", "S2S")


def test_a_board_of_the_project_that_the_sheet_does_not_list_can_be_written_in(tmp_path):
    project = bench_project()
    y3 = replace(
        project.board("Y1"), name="Y3", length=inch(80), sawing="quarter", marks=()
    )
    project = replace(project, boards=(*project.boards, y3))
    taken = read(tmp_path, {f"B{SPARE}": "y3", f"H{SPARE}": "check 0 to 2"}, project)
    check = Mark(kind="check", start=0, end=inch(2), low=0, high=inch("23/2"))
    assert taken.boards == (replace(y3, marks=(check,)),)


def test_a_found_board_is_at_the_yard_whose_heading_is_above_it(tmp_path):
    project, plan = two_yards()
    # Mill's table: heading 21, terms 22 and 23, head 24, Y2 25, how 26, head 27
    path = filled(tmp_path, {"E28": 50, "F28": 6, "C28": "Y1"}, project, plan)
    (board,) = read_tally(path, project).boards
    assert board.where == "Mill"


def metric(price: Fraction | None) -> tuple[Project, Plan]:
    """The blocks with their board at a yard that asks a price per cubic metre."""
    project, plan = block_project(), block_plan()
    board = replace(project.boards[0], where="Bridge yard", price=price)
    project = replace(project, boards=(board,), yards=(Yard(name="Bridge yard"),))
    cut = replace(plan.boards[0], where="Bridge yard", bought=True)
    return project, replace(plan, boards=(cut,))


def test_a_metric_sheet_is_read_in_millimetres_and_prices_per_cubic_metre(tmp_path):
    project, plan = metric(Fraction(1000))
    # A1 stands in row 7, what was found instead from row 10 on; marks in column H
    cells: Cells = {"E10": "1.2004 m", "F10": 151.25, "H10": "check 0 to 20.04; stain"}
    path = filled(tmp_path, cells, project, plan)
    (board,) = read_tally(path, project).boards
    # what is there rounds down to 0.1 mm, and a defect grows
    assert (board.length, board.width, board.price) == (12004, 1512, 1000)
    assert [(mark.kind, mark.end, mark.high) for mark in board.marks] == [
        ("check", 201, 1512),
        ("stain", 12004, 1512),
    ]


def test_where_board_feet_are_counted_prices_are_left_alone_and_none_is_missed(tmp_path):
    project, plan = metric(None)
    path = filled(tmp_path, {"E10": 1200, "F10": 150, "L10": 900}, project, plan)
    taken = read_tally(path, project)
    assert [board.price for board in taken.boards] == [None]
    assert taken.warnings == ()


def test_a_board_that_would_count_as_free_is_told(tmp_path):
    project = bench_project()
    boards = tuple(replace(board, price=None) for board in project.boards)
    project = replace(project, boards=boards)  # the list asks for FAS, and Y2 is 1C
    taken = read(tmp_path, {"A7": "x", "A8": "x"}, project)
    assert [str(one) for one in taken.warnings] == [
        "Buy, row 8, column 'price': no price is known for this board: it counts as free"
    ]


# --- faults ---------------------------------------------------------------------------


def test_an_untouched_sheet_is_refused(tmp_path):
    assert refused(tmp_path, {}) == [
        "Buy: nothing is ticked and nothing is written in: tick what lies in the cart"
    ]


def test_a_sheet_of_another_project_is_refused(tmp_path):
    said = refused(tmp_path, {f"A{Y1}": "x"}, block_project())
    assert len(said) == 2
    assert said[0].startswith("Buy, row 7, column 'board': the project has no board")
    assert said[1].startswith("Buy, row 8, column 'board': the project has no board")


def test_the_same_names_on_other_wood_are_noticed(tmp_path):
    project = bench_project()
    boards = [
        replace(project.boards[1], species="ash"),
        replace(project.boards[2], thickness=Thickness(Fraction(2), "8/4")),
    ]
    said = refused(tmp_path, {f"A{Y1}": "x"}, replace(project, boards=tuple(boards)))
    assert said[0].startswith("Buy, row 7, column 'species': the project has 'ash' here")
    assert said[1].startswith("Buy, row 8, column 'thick': the project has '8/4' here")


def test_a_board_ticked_and_replaced_is_refused(tmp_path):
    cells: Cells = {f"A{Y2}": "x", f"C{SPARE}": "Y2", f"E{SPARE}": 60, f"F{SPARE}": 5}
    assert refused(tmp_path, cells) == [
        "Buy, row 11, column 'in place of': row 8 ticks that board as taken too: which of"
        " both is it?, got 'Y2'"
    ]


def test_all_faults_are_told_at_once_in_the_order_of_the_rows(tmp_path):
    cells: Cells = {
        f"A{Y1}": "maybe", f"F{Y2}": "5,5", f"G{Y2}": "prime",
        f"A{SPARE}": "x",
        f"C{SPARE + 1}": "Y9", f"F{SPARE + 1}": 5, f"H{SPARE + 1}": "bump 3 to 4",
        f"E{SPARE + 2}": 60, f"F{SPARE + 2}": 5, f"H{SPARE + 2}": "knot 50 to 61; split",
    }  # fmt: skip
    said = refused(tmp_path, cells)
    assert [line.split(":")[0] for line in said] == [
        "Buy, row 7, column 'A'",
        "Buy, row 8, column 'width'",
        "Buy, row 8, column 'grade'",
        "Buy, row 11, column 'A'",
        "Buy, row 12, column 'in place of'",
        "Buy, row 12, column 'length'",
        "Buy, row 13, column 'marks'",
    ]
    assert said[4] == (
        "Buy, row 12, column 'in place of': use the name of one board of the project,"
        " or a species, got 'Y9'"
    )


def test_a_mark_lies_on_its_board(tmp_path):
    cells: Cells = {
        f"E{SPARE}": 60, f"F{SPARE}": 5, f"H{SPARE}": "knot 50 to 61 across 4 to 6",
    }  # fmt: skip
    assert [line.partition(": ")[2] for line in refused(tmp_path, cells)] == [
        "the mark 'knot' lies on the board, whose length is 60, got "
        "'knot 50 to 61 across 4 to 6'",
        "the mark 'knot' lies on the board, whose width is 5, got "
        "'knot 50 to 61 across 4 to 6'",
    ]


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (
            {"B11": "Y2", "E11": 60, "F11": 5},
            "this board stands on the sheet: tick it there",
        ),
        ({"B11": "R1", "E11": 60, "F11": 5}, "'rack' has a board of this name"),
        ({"E11": 60, "F11": 0.75}, "a board is not thicker than wide"),
        ({"E11": "=2*30", "F11": 5}, "the formula in this cell has no result yet"),
        ({"A7": "x", "B8": "Y1", "A8": "x", "E8": 96}, "is taken in row 7 already"),
        ({"A7": "x", "H10": "remark"}, "the column is missing"),
    ],
)
def test_slips_are_told_apart(tmp_path, cells, said):
    assert said in refused(tmp_path, cells)[0]


def test_the_kind_of_wood_is_asked_for_where_a_yard_sells_several(tmp_path):
    project = bench_project()
    ash = replace(
        project.board("Y2"), species="ash", thickness=Thickness(Fraction(2), "8/4")
    )
    project = replace(project, boards=(*project.boards[:2], ash))
    path = filled(tmp_path, {"E11": 60, "F11": 5}, project)
    with pytest.raises(InputError) as caught:
        read_tally(path, project)
    assert str(caught.value) == (
        "Buy, row 11, column 'in place of': fill in which board it is in place of: the "
        "sheet lists white oak and ash"
    )
    oak = replace(ash, species=OAK)
    project = replace(project, boards=(*project.boards[:2], oak))
    path = filled(tmp_path, {"E11": 60, "F11": 5}, project)
    with pytest.raises(InputError) as caught:
        read_tally(path, project)
    assert "column 'thick': fill in the thickness" in str(caught.value)


def test_wood_found_under_a_yard_that_the_project_does_not_know_is_refused(tmp_path):
    project, plan = two_yards()
    path = filled(tmp_path, {"A7": "x", "E28": 50, "F28": 6, "C28": "Y1"}, project, plan)
    with pytest.raises(InputError) as caught:
        read_tally(path, replace(project, yards=project.yards[:1]))
    assert "Buy, row 28: no heading above this row" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "said"), [("x.ods", "is the workbook"), ("x.xlsx", "Buy")]
)
def test_another_file_is_no_tally_sheet(tmp_path, name, said):
    path = filled(tmp_path, {})
    if name.endswith("xlsx"):
        book = load_workbook(path)
        book.remove(book["Buy"])
        book.save(path)
    shutil.move(path, tmp_path / name)
    with pytest.raises(InputError, match=said):
        read_tally(tmp_path / name, bench_project())


def test_only_the_sheet_buy_is_needed(tmp_path):
    path = filled(tmp_path, {f"A{Y1}": "x"})
    book = load_workbook(path)
    for sheet in book.sheetnames:
        if sheet != "Buy":
            book.remove(book[sheet])
    book["Buy"].insert_rows(8, 2)
    book["Buy"].insert_cols(3)
    book.save(path)
    assert [board.name for board in read_tally(path, bench_project()).boards] == ["Y1"]


# --- the way round --------------------------------------------------------------------

# Ticked: Y1, whose real width is 8 in. In place of Y2 a board 62 x 5 1/2 in was found,
# with a knot across it from 55 to 56 in, and another, 30 x 4 in, was taken to be safe.
# The seat needs the one found: R1 gives 5 7/8 in net, Y1 at most two staves of together
# 8 - 1/8 kerf - 2/8 joints = 7 5/8 in, and 14 1/2 are asked. The rest of Y1, 45 x 8 in,
# holds the rail (41 x 3 1/4) and, beside it, the legs (11 x 2 1/4, three in a row).
BY_HAND: Cells = {
    f"A{Y1}": TICKED_BOX, f"F{Y1}": "8",
    f"C{SPARE}": "Y2", f"E{SPARE}": "62", f"F{SPARE}": "5 1/2",
    f"H{SPARE}": "knot 55 to 56",
    f"B{SPARE + 1}": "short", f"C{SPARE + 1}": "Y2", f"E{SPARE + 1}": 30,
    f"F{SPARE + 1}": 4,
}  # fmt: skip


def check_bench(path: Path) -> tuple[Taken, Plan]:
    """Read the sheet filled in by hand, plan again, and check boards and plan."""
    project = bench_project()
    taken = read_tally(path, project)
    y1, found, short = taken.boards
    assert (y1.name, y1.length, y1.width) == ("Y1", inch(96), inch(8))
    assert (found.name, found.length, found.width) == ("found 1", inch(62), inch("11/2"))
    assert found.marks == (
        Mark(kind="knot", start=inch(55), end=inch(56), low=0, high=inch("11/2")),
    )
    assert (short.name, short.length, short.width) == ("short", inch(30), inch(4))
    assert (taken.corrected, taken.found) == (("Y1",), ("found 1", "short"))
    real = with_taken(project, taken)
    plan = solve(real, SolveParams(steps=200))
    assert plan.status == COMPLETE
    assert verify(real, plan) == ()
    assert {board.board for board in plan.boards} == {"R1", "Y1", "found 1"}
    return taken, plan


def test_a_sheet_filled_in_by_hand_is_planned_again(tmp_path):
    taken, plan = check_bench(filled(tmp_path, BY_HAND))
    assert put_back(taken, plan) == (("short",), {})


@pytest.mark.skipif(not shutil.which("soffice"), reason="no LibreOffice to save with")
def test_a_sheet_saved_by_another_spreadsheet_reads_the_same(tmp_path):
    path = filled(tmp_path, BY_HAND)
    again = resaved(path)
    assert read_tally(again, bench_project()) == read_tally(path, bench_project())
    # what LibreOffice calculates of the corrected board: 96 x 8 / 144 = 16/3 board feet
    shown = load_workbook(again, data_only=True)["Buy"]
    assert shown[f"J{Y1}"].value == pytest.approx(16 / 3)


@pytest.fixture
def bench(monkeypatch, tmp_path) -> Path:
    """A folder with the bench's project, read from the samples."""
    monkeypatch.setattr(cli, "read_project", lambda _: bench_project())
    monkeypatch.chdir(tmp_path)
    Path("bench.xlsx").write_bytes(b"stands for a workbook")
    return tmp_path


def test_the_command_plans_verifies_and_says_what_can_go_back(bench):
    filled(bench, BY_HAND)
    call = ("--tally", "bench-plan.xlsx")
    result = run("plan", "bench.xlsx", *call, "--steps", "200", "--json", "real.json")
    assert (result.exit_code, "short: not needed by this plan" in result.stdout) == (
        0,
        True,
    )
    assert "3 boards taken: 0 as listed, 1 measured otherwise (Y1)" in result.stdout
    book = load_workbook("bench-tallied.xlsx")
    words = [row[0].value for row in book["Overview"]["A1:A6"]]
    assert words[3:5] == ["TAKEN", "PUT BACK"]
    assert book["Overview"]["B5"].value == "short: not needed by this plan"
    assert run("verify", "bench.xlsx", "real.json", *call).exit_code == 0
    assert run("verify", "bench.xlsx", "real.json").exit_code == 1


def test_what_is_still_missing_leaves_with_1_and_says_what_to_look_for(bench):
    filled(bench, {f"A{Y2}": "x"})
    result = run("plan", "bench.xlsx", "--tally", "bench-plan.xlsx", "--steps", "100")
    assert result.exit_code == 1
    # the seat of 14 1/2 in net finds no wood beside R1 and Y2
    assert (
        "missing   1 of Seat: staves that make 49 x 14 1/2 in, 3/4 thick" in result.stdout
    )
    assert "buy about" in result.stdout
    shown = load_workbook("bench-tallied.xlsx")["Overview"]
    assert "MISSING" in [row[0].value for row in shown["A1:A9"]]


# --- another trip ---------------------------------------------------------------------


def tallied(folder: Path, cells: Cells) -> tuple[Path, Taken, Plan]:
    """The workbook of a plan made from a sheet filled in, what was taken, the plan."""
    taken = read_tally(filled(folder, cells), bench_project())
    real = with_taken(bench_project(), taken)
    plan = solve(real, SolveParams(steps=200))
    path = folder / "bench-tallied.xlsx"
    write_workbook(path, real, plan, taken)
    return path, taken, plan


def same_wood(one: Taken, other: Taken, names: set[str]) -> None:
    """Check that the boards of these names, and all that was changed, are the same."""
    boards = {board.name: board for board in one.boards if board.name in names}
    again = {board.name: board for board in other.boards}
    assert again.keys() == boards.keys()
    for name, board in boards.items():
        # a price that came from the list stands written in the row now
        assert replace(again[name], price=None) == replace(board, price=None)
    assert (other.yards, other.terms) == (one.yards, one.terms)


def test_the_sheet_of_a_tallied_plan_says_what_was_taken(tmp_path):
    cells = {**BY_HAND, f"C{TERMS}": 24}
    path, taken, plan = tallied(tmp_path, cells)
    again = read_tally(path, bench_project())
    # what went back stands on the sheet no more
    cut = {board.board for board in plan.boards if board.bought}
    assert {"Y1", "found 1"} <= cut
    same_wood(taken, again, cut)
    assert again.corrected == ("Y1",)
    real = with_taken(bench_project(), again)
    assert verify(real, plan) == ()
    sheet = load_workbook(path)["Buy"]
    assert "is ticked: leave it so" in sheet["A2"].value
    ticks = [row[0].value for row in sheet.iter_rows(max_col=1)]
    assert ticks.count(TICKED_BOX) == len(cut)


def test_what_is_found_on_another_trip_is_written_below_the_rest(tmp_path):
    path, _, _ = tallied(tmp_path, BY_HAND)
    book = load_workbook(path)
    sheet = book["Buy"]
    names = [sheet[f"B{number}"].value for number in range(1, 40)]
    at = max(names.index(name) + 1 for name in ("found 1", "short") if name in names)
    sheet[f"B{at + 1}"], sheet[f"C{at + 1}"] = "second trip", "white oak"
    sheet[f"E{at + 1}"], sheet[f"F{at + 1}"] = 50, 6
    sheet[f"B{at + 2}"] = "Y2"  # a board of the project, named
    book.save(path)
    taken = read_tally(path, bench_project())
    assert {board.name for board in taken.boards[:-2]} >= {"Y1", "found 1"}
    second, y2 = taken.boards[-2:]
    assert (second.species, second.where) == (OAK, "Hill yard")
    assert (second.thickness, second.surfaced) == (Thickness(Fraction(1)), "rough")
    assert y2 == bench_project().board("Y2")


def test_a_board_named_on_the_sheet_keeps_its_new_marks_on_another_trip(tmp_path):
    # Y2 is written in below Y1, with a knot; its own row is deleted
    path = filled(tmp_path, {})
    book = load_workbook(path)
    sheet = book["Buy"]
    sheet[f"A{Y1}"] = TICKED_BOX
    for column in "ABCDEFGHIJKLMN":
        sheet[f"{column}{Y2}"] = None
    sheet[f"B{SPARE}"], sheet[f"H{SPARE}"] = "Y2", "knot 55 to 56"
    book.save(path)
    taken = read_tally(path, bench_project())
    real = with_taken(bench_project(), taken)
    plan = solve(real, SolveParams(steps=200))
    assert {"Y1", "Y2"} <= {board.board for board in plan.boards}
    path = tmp_path / "bench-tallied.xlsx"
    write_workbook(path, real, plan, taken)
    same_wood(taken, read_tally(path, bench_project()), {"Y1", "Y2"})


@pytest.mark.skipif(not shutil.which("soffice"), reason="no LibreOffice to save with")
def test_the_sums_of_a_tallied_sheet_are_those_that_a_spreadsheet_calculates(tmp_path):
    path, _, plan = tallied(tmp_path, {**BY_HAND, f"C{TERMS}": 24})
    ours = load_workbook(path, data_only=True)
    theirs = load_workbook(resaved(path), data_only=True)
    paid = float(plan.totals.to_pay)
    for name in ("Buy", "Overview", "Costs"):
        for row in ours[name].iter_rows():
            for cell in row:
                if isinstance(cell.value, int | float):
                    value = theirs[name][cell.coordinate].value
                    assert value == pytest.approx(cell.value, abs=0.005), cell.coordinate
    pay = [row[13].value for row in ours["Buy"].iter_rows(max_col=14)]
    assert any(isinstance(one, int | float) and abs(one - paid) < 0.005 for one in pay)


def test_the_tally_sheet_is_never_written_over(bench):
    path = filled(bench, {f"A{Y1}": "x"})
    before = path.read_bytes()
    call = ("plan", "bench.xlsx", "--tally", "bench-plan.xlsx", "-o", "bench-plan.xlsx")
    result = run(*call)
    assert result.exit_code == 2
    assert "is the tally sheet itself" in result.stderr
    assert path.read_bytes() == before


def test_a_faulty_tally_sheet_leaves_with_2_and_writes_nothing(bench):
    filled(bench, {})
    Path("plan.json").write_text(plan_to_json(bench_plan()), encoding="utf-8")
    for call in (("plan", "bench.xlsx"), ("verify", "bench.xlsx", "plan.json")):
        result = run(*call, "--tally", "bench-plan.xlsx")
        assert result.exit_code == 2
        assert result.stderr.startswith("Buy: nothing is ticked")
    assert not Path("bench-tallied.xlsx").exists()


def test_a_plan_of_the_taken_boards_only_may_be_short(tmp_path):
    taken = read(tmp_path, {f"A{Y2}": "x"})
    plan = solve(with_taken(bench_project(), taken), SolveParams(steps=100))
    assert plan.status == SHORT
