"""The workbook as a file: live formulas with true results, safe words, same bytes."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import zipfile
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from nesting.plan import Plan, Shortage
from nesting.project import Project
from reports.closing import closed
from reports.painter import LONGEST_TEXT, write_text
from reports.seasons import movers_of, room
from reports.sheets.buy import buy_page
from reports.sheets.content import content_for
from reports.workbook import write_workbook
from stock.errors import Fault
from stock.measures import Unit
from stock.moisture import FAHRENHEIT, moisture_at
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
    shelf_plan,
    shelf_project,
)

OURS = (
    "=ROUND",
    "=SUM",
    "=COUNT",
    "=Buy!",
    "=IF(COUNT",
    "=J",
    "=$",
    "=N",
    "=E",
    "=K",
    "=B",
    "=G",
    "=Costs!",
    "=-Offcuts!",
    "=330+C",
    "=0.791+C",
    "=6.34+C",
    "=1.09+C",
    "=1800/D",
    "=MIN(H$",
    "=IF(AND(MIN(",
    '=IF(J10="","",IF(AND(MIN(',
    "=MAX(0,ROUNDUP(",
)


def carried_project() -> Project:
    """The bench with its shelf, a small car, and oil whose amount is left to the label."""
    project = shelf_project()
    shop = replace(project.shop, longest_carried=inch(80), heaviest_carried=Fraction(25))
    oil = replace(project.supplies[0], item="hard oil", unit="tins")
    return replace(project, shop=shop, supplies=(*project.supplies, oil))


def read_project() -> Project:
    """The bench with readings of its boards, held at one edge, in a very dry winter."""
    project = bench_project()
    boards = tuple(replace(board, moisture=7.5) for board in project.boards)
    parts = tuple(replace(part, held="edge") for part in project.parts)
    shop = replace(project.shop, humidity_low=Fraction(15), humidity_high=Fraction(90))
    return replace(project, boards=boards, parts=parts, shop=shop)


SAMPLES = (
    (carried_project, shelf_plan),
    (read_project, bench_plan),
    (bench_project, bench_plan),
    (shelf_project, shelf_plan),
    (block_project, block_plan),
)


def written(folder: Path, project: Project, plan: Plan) -> Path:
    """The workbook of a plan, written into a folder."""
    path = folder / "plan.xlsx"
    write_workbook(path, project, plan)
    return path


def values(path: Path) -> Workbook:
    """A workbook as a viewer sees it that doesn't calculate."""
    return load_workbook(path, data_only=True)


def all_texts(book: Workbook) -> list[str]:
    """Every text of a workbook."""
    return [
        cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str)
    ]


def without_results(path: Path) -> None:
    """Take our results out of a workbook, so that a spreadsheet has to calculate."""
    with zipfile.ZipFile(path) as file:
        content = {name: file.read(name) for name in file.namelist()}
    with zipfile.ZipFile(path, "w") as file:
        for name, data in content.items():
            file.writestr(name, re.sub(rb"</f><v>[^<]*</v>", b"</f>", data))


def find(book: Workbook, sheet: str, label: str) -> float:
    """The last number in the row of a label."""
    for row in book[sheet].iter_rows():
        if any(cell.value == label for cell in row):
            numbers = [cell.value for cell in row if isinstance(cell.value, int | float)]
            return numbers[-1]
    raise AssertionError(f"no row {label!r} on {sheet}")


def test_the_sheets_stand_in_the_order_of_use(tmp_path):
    book = load_workbook(written(tmp_path, shelf_project(), shelf_plan()))
    assert book.sheetnames == [
        "Overview",
        "Buy",
        "Boards",
        "Sheets",
        "Machining",
        "Clamping",
        "Glue-ups",
        "Parts",
        "Offcuts",
        "Costs",
        "Movement",
        "Notes",
    ]
    plain = load_workbook(written(tmp_path, block_project(), block_plan()))
    assert "Sheets" not in plain.sheetnames
    assert "Glue-ups" not in plain.sheetnames
    assert "Costs" not in plain.sheetnames  # nothing has a price
    assert "Movement" not in plain.sheetnames  # no part is wide


@pytest.mark.parametrize(("project", "plan"), SAMPLES)
def test_the_same_plan_gives_the_same_bytes(tmp_path, project, plan):
    first = written(tmp_path, project(), plan()).read_bytes()
    assert written(tmp_path, project(), plan()).read_bytes() == first


@pytest.mark.parametrize(("project", "plan"), SAMPLES)
def test_results_of_formulas_stand_in_the_file_and_equal_the_plan(tmp_path, project, plan):
    book = values(written(tmp_path, project(), plan()))
    totals = plan().totals
    assert find(book, "Buy", "to pay for wood, all yards") == float(totals.to_pay)
    assert find(book, "Overview", "cost, which the plan makes small") == float(totals.cost)
    assert find(book, "Overview", "to pay for wood, in money") == float(totals.to_pay)


def test_a_yards_sums_are_those_of_the_plan(tmp_path):
    book = values(written(tmp_path, bench_project(), bench_plan()))
    # 73.14 + 18.55 paid for boards; 3.50 missing to 90.00, with 6 % tax 3.71; trip 12.00
    assert find(book, "Buy", "boards as planned") == 91.69
    assert find(book, "Buy", "up to the yard's smallest order") == 3.71
    assert find(book, "Buy", "trip") == 12
    assert find(book, "Buy", "to pay at Hill yard") == 107.40


def test_every_formula_has_a_result_or_is_empty_text(tmp_path):
    path = written(tmp_path, bench_project(), bench_plan())
    live, seen = load_workbook(path), values(path)
    formulas = [
        (sheet.title, cell.coordinate)
        for sheet in live
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(formulas) > 30
    empty = [place for place in formulas if seen[place[0]][place[1]].value is None]
    # Spare rows stay empty until their sizes are filled in: 3 rows of 3 sums, on one sheet.
    # The seat has no reading of moisture: two changes from it stay empty until it is typed.
    assert Counter(sheet for sheet, _ in empty) == {"Buy": 9, "Movement": 2}


def test_formulas_of_a_board_speak_of_its_own_row_and_of_its_yards_terms():
    page = buy_page(content_for(bench_project(), bench_plan(), lambda _: None))
    row = next(
        r for r in page.rows if r.cells and r.cells[0] and r.cells[0].style == "tick"
    )
    at = page.rows.index(row) + 1
    formulas = [cell.formula for cell in row.cells if cell and cell.formula]
    assert formulas[:2] == [f"=E{at}*F{at}*1.0/144", f"=J{at}*K{at}"]
    assert formulas[3].startswith(f"=ROUND((L{at}+M{at})*(1+$B$")


def test_words_of_the_user_never_become_formulas_links_or_errors(tmp_path):
    nasty = ("=1+1", "+cmd|'x'!A1", "-2", "@SUM(1)", "#N/A", "<b>&amp;\x07", "\tx")
    project, plan = bench_project(), bench_plan()
    boards = tuple(replace(board, note=nasty[0]) for board in project.boards)
    parts = tuple(replace(part, note=nasty[1]) for part in project.parts)
    yards = tuple(replace(yard, note=nasty[2]) for yard in project.yards)
    supplies = tuple(replace(one, unit=nasty[4], note=nasty[3]) for one in project.supplies)
    warnings = (Fault("Parts", 2, None, nasty[5]),)
    project = replace(
        project, name=nasty[0], boards=boards, parts=parts, yards=yards,
        supplies=supplies, warnings=warnings,
    )  # fmt: skip
    plan = replace(plan, project=nasty[0], notes=nasty, rules=nasty)
    book = load_workbook(written(tmp_path, project, plan))
    known = set()
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "e"
                if cell.data_type == "f":
                    known.add(cell.value)
                    assert cell.value.startswith(OURS)
    assert nasty[0] not in known
    assert book["Overview"]["A1"].value == "=1+1"
    assert book["Overview"]["A1"].quotePrefix


def test_a_text_is_cut_where_a_spreadsheet_would_break():
    sheet = Workbook().active
    write_text(sheet["A1"], "x" * (LONGEST_TEXT + 5))
    assert len(sheet["A1"].value) == LONGEST_TEXT


def test_every_picture_has_words_for_those_who_do_not_see_it(tmp_path):
    path = written(tmp_path, shelf_project(), shelf_plan())
    with zipfile.ZipFile(path) as file:
        names = [one for one in file.namelist() if one.startswith("xl/drawings/drawing")]
        text = "".join(file.read(name).decode() for name in names)
        pictures = [one for one in file.namelist() if one.startswith("xl/media/")]
    # 3 boards, 1 sheet, 1 panel with face and end
    assert len(pictures) == 6
    words = re.findall(r'descr="([^"]+)"', text)
    assert len(words) == 6
    assert all(len(one) > 40 for one in words)


def test_lengths_are_numbers_with_reduced_fractions(tmp_path):
    book = load_workbook(written(tmp_path, bench_project(), bench_plan()))
    sheet = book["Parts"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == 5.125]
    assert cells
    assert {cell.number_format for cell in cells} == {"# ??/??"}


def test_millimetres_are_whole_unless_they_are_not(tmp_path):
    project, plan = block_project(), block_plan()
    board = replace(plan.boards[0], cuts=(replace(plan.boards[0].cuts[0], at=225),))
    book = load_workbook(written(tmp_path, project, replace(plan, boards=(board,))))
    formats = {
        cell.value: cell.number_format
        for row in book["Boards"].iter_rows()
        for cell in row
        if isinstance(cell.value, int | float)
    }
    assert formats[22.5] == "0.0"
    assert formats[160] == "0"


def test_sheets_print_landscape_one_page_wide_with_titles(tmp_path):
    book = load_workbook(written(tmp_path, shelf_project(), shelf_plan()))
    for sheet in book:
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.print_title_rows
        assert sheet.print_area
        assert sheet.freeze_panes
        # set page breaks count only where the spreadsheet does not scale by itself
        setup = sheet.sheet_properties.pageSetUpPr
        assert setup is None or not setup.fitToPage
        assert 80 <= sheet.page_setup.scale <= 95
        widths = sum(one.width for one in sheet.column_dimensions.values())
        assert widths <= 138


def test_links_lead_to_sheets_that_are_there(tmp_path):
    book = load_workbook(written(tmp_path, shelf_project(), shelf_plan()))
    links = [
        cell.hyperlink.location
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.hyperlink
    ]
    targets = {link.rpartition("!")[0].strip("'") for link in links}
    assert targets == {
        "Notes", "Buy", "Boards", "Sheets", "Parts", "Clamping", "Glue-ups", "Offcuts",
        "Movement", "Machining",
    }  # fmt: skip


def test_tick_boxes_are_lists_of_two_boxes(tmp_path):
    book = load_workbook(written(tmp_path, bench_project(), bench_plan()))
    lists = [
        one.formula1 for sheet in book for one in sheet.data_validations.dataValidation
    ]
    assert set(lists) == {'"\N{BALLOT BOX},\N{BALLOT BOX WITH X}"'}
    # Overview, Buy, Boards, Machining, Clamping, Glue-ups, Offcuts
    assert len(lists) == 7


def test_a_short_plan_is_loud_about_it(tmp_path):
    short = (Shortage(part="Leg", copy=4, why="no board is long enough"),)
    plan = replace(bench_plan(), status="short", short=short, notes=("buy one more board",))
    texts = all_texts(values(written(tmp_path, bench_project(), plan)))
    assert any(one.startswith("NOT ENOUGH WOOD: 1 of 6 parts") for one in texts)
    assert "1 of Leg can't be made: no board is long enough" in texts
    assert "STOP" in texts
    assert "buy one more board" in texts


def test_a_plan_without_a_bound_says_that_nobody_knows(tmp_path):
    totals = replace(bench_plan().totals, gap=None, bound=Decimal(0))
    plan = replace(bench_plan(), totals=totals)
    texts = all_texts(values(written(tmp_path, bench_project(), plan)))
    assert any(one.startswith("No useful lower bound was found") for one in texts)


def test_nothing_half_written_is_left_when_writing_fails(tmp_path, monkeypatch):
    path = written(tmp_path, bench_project(), bench_plan())
    before = path.read_bytes()

    def broken(_source: object, _target: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("reports.workbook.os.replace", broken)
    with pytest.raises(OSError, match="disk full"):
        write_workbook(path, shelf_project(), shelf_plan())
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_sums_that_a_plan_file_did_not_state_stay_empty(tmp_path):
    unstated = Decimal("NaN")
    totals = replace(bench_plan().totals, trips=unstated, sawing=unstated)
    path = written(tmp_path, bench_project(), replace(bench_plan(), totals=totals))
    sheet = values(path)["Overview"]
    row = next(r for r in sheet.iter_rows() if r[0].value == "time at the saws")
    assert row[2].value is None


@settings(max_examples=25, deadline=None)
@given(
    st.one_of(
        st.none(),
        st.floats(allow_nan=False, allow_infinity=False),
        st.integers(),
        st.text(alphabet="ab<>&\"' ", max_size=9),
    )
)
def test_any_result_is_read_back_as_it_was(result):
    book = Workbook()
    book.active["B2"] = "=1+1"
    raw = io.BytesIO()
    book.save(raw)
    data = closed(raw.getvalue(), {("Sheet", "B2"): result}, ["Sheet"])
    back = load_workbook(io.BytesIO(data), data_only=True)["Sheet"]["B2"].value
    if isinstance(result, str):
        assert (back or "") == result
    else:
        assert back == result


def recalculated(path: Path) -> Workbook:
    """A workbook as LibreOffice calculates it."""
    out = path.parent / "out"
    profile = (path.parent / "profile").as_uri()
    subprocess.run(
        [
            "soffice", f"-env:UserInstallation={profile}", "--headless", "--convert-to",
            "xlsx:Calc MS Excel 2007 XML", "--outdir", str(out), str(path),
        ],
        check=True, capture_output=True, timeout=240,
    )  # fmt: skip
    return values(out / path.name)


@pytest.mark.slow
@pytest.mark.parametrize(("project", "plan"), SAMPLES)
@pytest.mark.skipif(not shutil.which("soffice"), reason="no LibreOffice to recalculate")
def test_an_independent_spreadsheet_calculates_the_same(tmp_path, project, plan):
    path = written(tmp_path, project(), plan())
    ours = values(path)
    without_results(path)
    theirs = recalculated(path)
    live = load_workbook(path)
    compared = 0
    for sheet in live:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f":
                    continue
                mine = ours[sheet.title][cell.coordinate].value
                other = theirs[sheet.title][cell.coordinate].value
                compared += 1
                if isinstance(mine, int | float):
                    assert other == pytest.approx(mine, abs=1e-9), cell.coordinate
                else:
                    assert (other or "") == (mine or ""), cell.coordinate
    assert compared >= 8


@pytest.mark.slow
@pytest.mark.skipif(not shutil.which("soffice"), reason="no LibreOffice to recalculate")
@pytest.mark.parametrize(
    ("dry", "damp", "reading"), [(40, 70, 9.0), (20, 95, 5.0), (35, 65, 33.0)]
)
def test_movement_follows_what_is_written_over_it(tmp_path, dry, damp, reading):
    path = written(tmp_path, bench_project(), bench_plan())
    book = load_workbook(path)
    sheet = book["Movement"]
    at = next(row[0].row for row in sheet.iter_rows() if row[0].value == "Seat")
    sheet["B5"], sheet["B6"], sheet["C5"], sheet[f"J{at}"] = dry, damp, 60, reading
    book.save(path)
    found = recalculated(path)["Movement"]
    driest = moisture_at(dry, 60, FAHRENHEIT)
    dampest = moisture_at(damp, 70, FAHRENHEIT)
    (seat,) = movers_of(bench_project(), bench_plan())
    expected = {
        "F": driest,
        "G": dampest,
        "H": seat.moved(driest, dampest),
        "I": room(seat.moved(driest, dampest) / 2, Unit.INCH),
        "K": seat.moved(reading, driest),
        "L": seat.moved(reading, dampest),
        "M": room(seat.moved(reading, dampest) / 2, Unit.INCH),
    }
    got = {column: found[f"{column}{at}"].value for column in expected}
    assert got == pytest.approx(expected, abs=1e-9)
