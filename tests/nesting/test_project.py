"""A project file read whole: the documented tables, every fault in place, all at once."""

from __future__ import annotations

import contextlib
import csv
from dataclasses import replace
from fractions import Fraction

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.contract import PRICES, TABLES
from nesting.project import Project, Supply, read_project
from stock.boards import Mark
from stock.errors import InputError
from stock.measures import Unit
from stock.shop import default_shop

PARTS = "part,length,width,thickness,species\n"
SEAT = PARTS + "Seat,48,15,1,cherry\n"
BOARDS = "board,species,thickness,length,width\n"
B1 = BOARDS + "B1,cherry,4/4,96,8\n"


def folder(tmp_path, **tables):
    """Write a folder of CSV files; without parts, a plain one."""
    tables = {"parts": SEAT, "boards": B1, **tables}
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return tmp_path


def read(tmp_path, **tables):
    return read_project(folder(tmp_path, **tables))


def faults(tmp_path, **tables):
    with pytest.raises(InputError) as caught:
        read(tmp_path, **tables)
    return str(caught.value).splitlines()


def warnings(tmp_path, **tables):
    return [str(one) for one in read(tmp_path, **tables).warnings]


def workbook(path, **tables):
    """Write the same CSV texts as the sheets of a workbook, numbers as numbers."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in tables.items():
        sheet = book.create_sheet(name.title())
        for y, row in enumerate(csv.reader(text.splitlines()), 1):
            for x, text_cell in enumerate(row, 1):
                cell = sheet.cell(y, x)
                try:
                    cell.value = float(text_cell)
                except ValueError:
                    cell.value = text_cell or None
                    cell.data_type = "s" if text_cell else "n"
    book.save(path)
    return path


def part(tmp_path, column, cell):
    """The one part of a project whose row fills one more column."""
    quoted = '"' + cell.replace('"', '""') + '"'
    text = f"part,length,width,thickness,species,{column}\nSeat,48,15,1,cherry,{quoted}\n"
    return read(tmp_path, parts=text).parts[0]


# -- the documented tables ------------------------------------------------------------

DOCUMENTED = {
    "Parts": "part qty length width thickness species grain sawing figure face build match "
    "set shape end_angle add_length add_width spare template from held note",
    "Boards": "board where species thickness length width width_2 grade sawing figure tone "
    "flitch order surfaced price moisture photo note",
    "Marks": "board kind from to low high face",
    "Yards": "yard trip_cost smallest_order surfacing_charge straight_edge_charge tax note",
    "Prices": "yard species thickness grade sawing price narrowest widest shortest longest "
    "surfaced available note",
    "Sheets": "sheet where length width thickness grain qty price",
    "Supplies": "item qty unit pack price coverage coats note",
    "Shop": "setting value",
}


def test_the_contract_has_the_documented_columns_in_their_order():
    assert {
        table.name: " ".join(column.name.replace(" ", "_") for column in table.columns)
        for table in TABLES
    } == DOCUMENTED


def test_every_column_says_what_it_means_and_what_blank_means():
    for table in TABLES:
        for column in table.columns:
            assert column.meaning
            assert column.needed or column.default is not None or column.otherwise


def test_a_part_that_fills_only_what_is_required_has_the_documented_defaults(tmp_path):
    (seat,) = read(tmp_path).parts
    assert (seat.name, seat.qty, seat.spares, seat.species) == ("Seat", 1, 0, "cherry")
    assert (seat.length, seat.width, seat.thickness) == (48 * 64, 15 * 64, 64)
    assert (seat.grain, seat.sawing, seat.figure, seat.face) == ("length", (), None, "show")
    assert (seat.build, seat.match, seat.set) == ("auto", "none", None)
    assert (seat.shape, seat.ends, seat.outline, seat.end_angle) == (
        "rectangle",
        None,
        None,
        0,
    )
    assert (seat.add_length, seat.add_width, seat.template) == (0, 0, False)
    assert (seat.source, seat.note, seat.row) == ("stock", "", 2)


def test_a_board_that_fills_only_what_is_required_has_the_documented_defaults(tmp_path):
    (board,) = read(tmp_path).boards
    assert (board.name, board.where, board.is_owned) == ("B1", "rack", True)
    assert (board.length, board.width, board.width2) == (96 * 64, 512, 512)
    assert (board.thickness.nominal, board.thickness.label) == (1, "4/4")
    assert (board.grade, board.sawing, board.figure, board.tone) == (None, None, (), None)
    assert (board.flitch, board.order, board.surfaced) == (None, None, "rough")
    assert (board.price, board.moisture, board.photo, board.note) == (None, None, None, "")
    assert board.marks == ()


def test_a_shop_that_is_not_listed_keeps_its_defaults(tmp_path):
    assert read(tmp_path).shop == default_shop(Unit.INCH)
    assert read(tmp_path, shop="setting,value\nunit,mm\n").shop == default_shop(Unit.MM)
    assert read(tmp_path, shop="setting,value\nkerf,\n").shop == default_shop(Unit.INCH)


def test_the_project_is_called_like_its_file_or_folder(tmp_path):
    assert read(tmp_path).name == tmp_path.name
    assert (
        read_project(workbook(tmp_path / "Bench.xlsx", parts=SEAT, boards=B1)).name
        == "Bench"
    )


@pytest.mark.parametrize(
    ("column", "cell", "field", "value"),
    [
        ("qty", "4", "qty", 4),
        ("grain", "Width", "grain", "width"),
        ("sawing", "rift/quarter", "sawing", ("rift", "quarter")),
        ("sawing", "Any", "sawing", ()),
        ("figure", " Ray  Fleck", "figure", "ray fleck"),
        ("figure", "none", "figure", None),
        ("face", "hidden", "face", "hidden"),
        ("build", "laminate", "build", "laminate"),
        ("match", "book", "match", "book"),
        ("set", "doors", "set", "doors"),
        ("shape", "Octagon", "shape", "octagon"),
        ("shape", "taper 2 1/4 1", "ends", (144, 64)),
        ("shape", "taper 2 1 1/2", "ends", (128, 96)),
        ("shape", "taper 2 1/4 1 1/2", "ends", (144, 96)),
        ("shape", 'taper 3" 50 mm', "ends", (192, 126)),  # 50 / 25.4 * 64 = 125.98
        ("shape", "outline my leg.svg", "outline", "my leg.svg"),
        ("end angle", "5", "end_angle", 5.0),
        ("end angle", "7.5°", "end_angle", 7.5),
        ("add length", "1 1/2", "add_length", 96),
        ("add width", "0", "add_width", 0),
        ("spare", "2", "spares", 2),
        ("template", "YES", "template", True),
        ("from", "offcut", "source", "offcut"),
        ("held", "Rigid", "held", "rigid"),
        ("held", "none", "held", None),
        ("note", "=1+1", "note", "=1+1"),
    ],
)
def test_columns_of_parts_are_read_as_documented(tmp_path, column, cell, field, value):
    assert getattr(part(tmp_path, column, cell), field) == value


@pytest.mark.parametrize(("qty", "spares"), [(1, 1), (10, 1), (11, 2), (20, 2)])
def test_a_percent_of_spares_is_rounded_up(tmp_path, qty, spares):
    text = f"part,qty,length,width,thickness,species,spare\nSeat,{qty},4,4,1,cherry,10%\n"
    assert read(tmp_path, parts=text).parts[0].spares == spares


def test_sizes_of_parts_round_up_and_sizes_of_boards_round_down(tmp_path):
    project = read(
        tmp_path,
        parts=PARTS + "Seat,590 mm,100 mm,20 mm,cherry\n",
        boards=BOARDS + "B1,cherry,4/4,2400 mm,200 mm\n",
    )
    # 590 / 25.4 * 64 = 1486.6; 100: 251.97; 20: 50.39; 2400: 6047.2; 200: 503.9
    seat, board = project.parts[0], project.boards[0]
    assert (seat.length, seat.width, seat.thickness) == (1487, 252, 51)
    assert (board.length, board.width, board.width2) == (6047, 503, 503)


def test_a_defect_grows_and_a_zone_shrinks_by_the_rounding(tmp_path):
    marks = (
        "board,kind,from,to,low,high\n"
        "B1,knot,0.01,0.02,0.01,0.02\n"
        "B1,figure: Curl,0.01,1.01,0.01,1.01\n"
    )
    knot, curl = read(tmp_path, marks=marks).boards[0].marks
    # 0.01 in is 0.64 and 0.02 in 1.28 steps; 1.01 in is 64.64
    assert knot == Mark(kind="knot", start=0, end=2, low=0, high=2)
    assert curl == Mark(kind="figure", tag="curl", start=1, end=64, low=1, high=64)
    assert not curl.is_defect


def test_a_mark_without_limits_reaches_to_the_edges_of_its_board(tmp_path):
    boards = "board,species,thickness,length,width,width 2\nB1,cherry,4/4,96,8,9\n"
    project = read(tmp_path, boards=boards, marks="board,kind,from\nB1,split,90\n")
    assert project.boards[0].marks == (
        Mark(kind="split", start=90 * 64, end=96 * 64, low=0, high=9 * 64),
    )


def test_a_metric_project_prices_by_the_cubic_metre_but_counts_what_there_is_in_feet(
    tmp_path,
):
    project = read(
        tmp_path,
        shop="setting,value\nunit,mm\n",
        yards="yard,surfacing charge\nNorth,0.35\n",
        prices="yard,species,thickness,price,surfaced,available\n"
        "North,cherry,25,1000,S2S,200\n",
        boards="board,where,species,thickness,length,width,surfaced\n"
        "N1,North,cherry,25,2000,200,S2S\n",
    )
    # 25 x 2000 x 200 mm = 1/100 m3, and 144 cubic inches of 25.4 mm to the board foot
    feet = Fraction(10**7) / (144 * Fraction("25.4") ** 3)
    assert project.prices[0].available == 200
    assert project.tariff.before_tax(project.boards[0]) == 10 + feet * Fraction(7, 20)
    assert "board feet" in PRICES.column("available").meaning


def test_the_other_tables_are_read_as_documented(tmp_path):
    project = read(
        tmp_path,
        yards="yard,trip cost,smallest order,surfacing charge,straight edge charge,tax\n"
        "North,25,$100.50,0.35,.25,6.25%\n",
        prices="yard,species,thickness,grade,sawing,price,narrowest,longest,available\n"
        "north,Cherry,5/4,fas,quarter,0.10,5,12 ft,200\n",
        sheets="sheet,length,width,thickness,grain,qty,price\nfibreboard,8',4',1/4,none,2,12.50\n",
        supplies="item,qty,unit,pack,price\nglue,auto,oz,16,8.99\nscrews,24,,100,5\n",
    )
    (yard,), (price,), (sheet,) = project.yards, project.prices, project.sheets
    assert (yard.trip_cost, yard.smallest_order) == (25, Fraction("100.50"))
    assert (yard.surfacing_charge, yard.straight_edge_charge) == (
        Fraction(7, 20),
        Fraction(1, 4),
    )
    assert yard.tax == Fraction(25, 4)
    assert (price.yard, price.species, price.grade) == ("North", "cherry", "FAS")
    assert price.price == Fraction(1, 10)  # exactly a tenth
    assert (price.narrowest, price.widest, price.longest) == (320, None, 144 * 64)
    assert price.available == 200
    assert (sheet.length, sheet.width, sheet.thickness) == (96 * 64, 48 * 64, 16)
    assert (sheet.has_grain, sheet.qty, sheet.price) == (False, 2, Fraction(25, 2))
    assert project.supplies == (
        Supply(item="glue", qty=None, unit="oz", pack=Fraction(16), price=Fraction("8.99")),
        Supply(item="screws", qty=Fraction(24), unit="pieces", pack=Fraction(100),
               price=Fraction(5)),
    )  # fmt: skip


def test_settings_are_read_in_the_project_s_unit(tmp_path):
    shop = read(
        tmp_path,
        shop="Setting,Value\nKERF,3/32\naim,Board Feet\noffcut_value,40%\n"
        "widest stave,5.99\nend trim,0.99\n",
    ).shop
    assert (shop.kerf, shop.aim, shop.offcut_value) == (6, "board feet", 40)
    # a limit rounds down, a loss rounds up: 5.99 in is 383.36 steps, 0.99 in 63.36
    assert (shop.widest_stave, shop.end_trim) == (383, 64)
    metric = read(tmp_path, shop="setting,value\nunit,mm\nkerf,1/8 in\n").shop
    assert metric.kerf == 32  # 3.175 mm


def test_species_that_differ_by_case_are_one_wood(tmp_path):
    project = read(tmp_path, boards=BOARDS + "B1,Cherry,4/4,96,8\n")
    assert {project.parts[0].species, project.boards[0].species} == {"cherry"}


def test_parts_and_boards_are_found_by_name(tmp_path):
    project = read(tmp_path)
    assert project.part("Seat") is project.parts[0]
    assert project.board("B1") is project.boards[0]
    with pytest.raises(KeyError):
        project.part("seat")


# -- both kinds of file ---------------------------------------------------------------

FULL = {
    "parts": "part,qty,length,width,thickness,species,shape,spare,end angle\n"
    "Seat,1,48,15.5,1,cherry,,10%,5\n"
    "=1+1,4,7' 6,1 3/4,1.75,cherry,taper 1 3/4 1,1,\n"
    "Cover,1,12,12,0.5,plywood,,,\n",
    "boards": "board,where,species,thickness,length,width,width 2,figure,order,moisture\n"
    'B1,rack,cherry,4/4,96,9.5,8,"curl, fleck",,7.5\n'
    "2,North,cherry,8/4,96,6,,,3,\n",
    "marks": "board,kind,from,to,low,high\n"
    "B1,knot,10,12.25,0,2\n2,sawing: quarter,0,40,,\n",
    "yards": "yard,trip cost,tax\nNorth,25,6.25\n",
    "prices": "yard,species,thickness,price\nNorth,cherry,8/4,12.55\n",
    "sheets": "sheet,length,width,thickness\nplywood,96,48,0.5\n",
    "supplies": "item,qty,price\nglue,auto,8.99\n",
    "shop": "setting,value\nkerf,0.09375\nring,any\n",
}


def test_a_workbook_and_a_folder_of_csv_files_read_alike(tmp_path):
    from_csv = read_project(folder(tmp_path, **FULL))
    from_book = read_project(workbook(tmp_path / "bench.xlsx", **FULL))
    assert replace(from_book, name=from_csv.name) == from_csv
    assert from_csv.parts[1].name == "=1+1"
    assert from_csv.boards[1].name == "2"


sizes = st.one_of(
    st.integers(1, 99).map(str),
    st.decimals(min_value="0.01", max_value=99, places=2).map(str),
)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(sizes, sizes, st.integers(1, 50)), min_size=1, max_size=5))
def test_any_sizes_read_alike_from_both(tmp_path, rows):
    text = "part,length,width,qty,thickness,species\n" + "".join(
        f"P{n},{length},{width},{qty},1,cherry\n"
        for n, (length, width, qty) in enumerate(rows)
    )
    from_csv = read_project(folder(tmp_path, parts=text))
    from_book = read_project(workbook(tmp_path / "b.xlsx", parts=text, boards=B1))
    assert from_book.parts == from_csv.parts


# -- one malformed table per kind of fault --------------------------------------------

PART_FAULTS = [
    ("qty", "0", "use a number from 1 to 10000, got '0'"),
    ("qty", "2.5", "use a whole number, got '2.5'"),
    ("qty", "many", "use a plain number, got 'many'"),
    ("qty", "1e999999", "use a plain number, got '1e999999'"),
    ("qty", "20000", "use a number from 1 to 10000, got '20000'"),
    ("grain", "across", "use one of length, width, either, got 'across'"),
    ("sawing", "plain/flat", "use one of any, plain, rift, quarter, got 'plain/flat'"),
    ("face", "best", "use one of show, second, hidden, got 'best'"),
    ("build", "glued", "use one of auto, solid, panel, laminate, got 'glued'"),
    ("match", "mirror", "use one of none, board, flitch, book, slip, got 'mirror'"),
    (
        "shape",
        "hexagon",
        "use one of rectangle, octagon, disc, taper A B, outline FILE, got 'hexagon'",
    ),
    (
        "shape",
        "outline",
        "use one of rectangle, octagon, disc, taper A B, outline FILE, got 'outline'",
    ),
    (
        "shape",
        "taper 2",
        "a taper names the width at each end, as in 'taper 2 1 1/4', got 'taper 2'",
    ),
    (
        "shape",
        "taper 16 2",
        "the ends of a taper are not wider than the part, got 'taper 16 2'",
    ),
    ("shape", "taper 0 0", "a taper is wider than 0 at one end at least, got 'taper 0 0'"),
    ("end angle", "85", "use a number from 0 to 80, got '85'"),
    ("end angle", "-5", "use a number from 0 to 80, got '-5'"),
    (
        "add length",
        "7,5",
        "write decimals with a point, not a comma (7.5), and no thousands mark, got '7,5'",
    ),
    ("add width", "-1", "a measure is not negative, got '-1'"),
    ("spare", "-1", "use a number from 0 to 10000, got '-1'"),
    ("spare", "some", "use a plain number, got 'some'"),
    ("template", "perhaps", "use one of yes, no, got 'perhaps'"),
    ("from", "bin", "use one of stock, offcut, got 'bin'"),
    ("held", "glued", "use one of middle, edge, rigid, got 'glued'"),
]


@pytest.mark.parametrize(("column", "cell", "text"), PART_FAULTS)
def test_a_wrong_cell_of_parts_is_named_with_its_place_and_rule(
    tmp_path, column, cell, text
):
    with pytest.raises(InputError) as caught:
        part(tmp_path, column, cell)
    assert str(caught.value) == f"parts.csv, row 2, column '{column}': {text}"


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (",48,15,1,cherry", "column 'part': every row needs this"),
        ("Seat,,15,1,cherry", "column 'length': every row needs this"),
        ("Seat,0,15,1,cherry", "column 'length': a size is more than 0, got '0'"),
        (
            "Seat,long,15,1,cherry",
            "column 'length': not a measure: write it like 23 1/4, 7' 6\" or 590 mm, "
            "got 'long'",
        ),
        ("Seat,48,15,3 yd,cherry",
         "column 'thickness': unknown unit 'yd': use in, ft, mm, cm or m, got '3 yd'"),
        ("Seat,48,15,1,", "column 'species': every row needs this"),
    ],
)  # fmt: skip
def test_required_cells_and_sizes_are_checked(tmp_path, row, fault):
    assert faults(tmp_path, parts=f"{PARTS}{row}\n") == [f"parts.csv, row 2, {fault}"]


@pytest.mark.parametrize(
    ("heading", "cell", "fault"),
    [
        ("tone", "6", "column 'tone': use a number from 1 to 5, got '6'"),
        (
            "grade",
            "AAA",
            "column 'grade': use one of FAS, F1F, SEL, 1C, 2A, 2B, 3A, got 'AAA'",
        ),
        ("sawing", "any", "column 'sawing': use one of plain, rift, quarter, got 'any'"),
        (
            "surfaced",
            "S1S",
            "column 'surfaced': use one of rough, S2S, S3S, S4S, got 'S1S'",
        ),
        ("price", "9 a foot", "column 'price': use a plain number, got '9 a foot'"),
        ("price", "-9", "column 'price': use a number from 0 or more, got '-9'"),
        ("moisture", "130%", "column 'moisture': use a number from 0 to 100, got '130%'"),
        ("width 2", "0", "column 'width 2': a size is more than 0, got '0'"),
        (
            "where",
            "Elm Street",
            "column 'where': use rack or a yard of the table Yards, got 'Elm Street'",
        ),
        (
            "where",
            "Nort",
            "column 'where': use rack or a yard of the table Yards; "
            "did you mean 'North'?, got 'Nort'",
        ),
    ],
)
def test_a_wrong_cell_of_boards_is_named(tmp_path, heading, cell, fault):
    boards = f"board,species,thickness,length,width,{heading}\nB1,cherry,4/4,96,8,{cell}\n"
    yards = "yard\nNorth\n"
    assert faults(tmp_path, boards=boards, yards=yards) == [f"boards.csv, row 2, {fault}"]


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ("B9,knot,1,2,1,2", "column 'board': use a board of the table Boards, got 'B9'"),
        ("B1,hole,1,2,1,2",
         "column 'kind': use one of check, knot, pith, sapwood, sound knot, split, stain, "
         "wane, worm, figure: TAG, sawing: plain, sawing: rift, sawing: quarter, "
         "got 'hole'"),
        ("B1,figure:,1,2,1,2",
         "column 'kind': use one of check, knot, pith, sapwood, sound knot, split, stain, "
         "wane, worm, figure: TAG, sawing: plain, sawing: rift, sawing: quarter, "
         "got 'figure:'"),
        ("B1,knot,1,97,1,2",
         "column 'to': the mark lies on the board, whose length is 96, got '97'"),
        ("B1,knot,1,2,1,8.5",
         "column 'high': the mark lies on the board, whose width is 8, got '8.5'"),
        ("B1,knot,2,2,1,2",
         "column 'to': a mark has some extent: to is more than from, got '2'"),
        ("B1,knot,1,2,3,2",
         "column 'high': a mark has some extent: high is more than low, got '2'"),
    ],
)  # fmt: skip
def test_a_wrong_mark_is_named(tmp_path, row, fault):
    marks = f"board,kind,from,to,low,high\n{row}\n"
    assert faults(tmp_path, marks=marks) == [f"marks.csv, row 2, {fault}"]


def test_marks_of_a_board_that_is_itself_wrong_are_not_complained_of(tmp_path):
    found = faults(
        tmp_path,
        boards=BOARDS + "B1,cherry,4/4,x,8\n",
        marks="board,kind,to\nB1,knot,999\n",
    )
    assert len(found) == 1
    assert found[0].startswith("boards.csv, row 2, column 'length'")


@pytest.mark.parametrize(
    ("table", "text", "fault"),
    [
        ("parts", SEAT + "Seat,20,5,1,cherry\n",
         "parts.csv, row 3, column 'part': the name stands in row 2 already: "
         "names are unique, got 'Seat'"),
        ("boards", B1 + "B1,cherry,4/4,96,8\n",
         "boards.csv, row 3, column 'board': the name stands in row 2 already: "
         "names are unique, got 'B1'"),
        ("yards", "yard\nNorth\nNorth\n",
         "yards.csv, row 3, column 'yard': the name stands in row 2 already: "
         "names are unique, got 'North'"),
        ("yards", "yard\nRack\n",
         "yards.csv, row 2, column 'yard': rack is the shop's own wood: "
         "give the yard another name, got 'Rack'"),
        ("prices", "yard,species,thickness,price\nNorth,cherry,4/4,9\n",
         "prices.csv, row 2, column 'yard': use a yard of the table Yards, got 'North'"),
        ("sheets", "sheet,where,length,width,thickness\nply,North,96,48,1\n",
         "sheets.csv, row 2, column 'where': use rack or a yard of the table Yards, "
         "got 'North'"),
        ("supplies", "item,qty\nglue,some\n",
         "supplies.csv, row 2, column 'qty': use a plain number, or auto, got 'some'"),
        ("supplies", "item,pack\nglue,0\n",
         "supplies.csv, row 2, column 'pack': use a number from 0.001 or more, got '0'"),
        ("shop", "setting,value\nkerv,1\n",
         "shop.csv, row 2, column 'setting': this setting is not known; "
         "did you mean 'kerf'?, got 'kerv'"),
        ("shop", "setting,value\n,1\n",
         "shop.csv, row 2, column 'setting': every row needs this"),
        ("shop", "setting,value\nkerf,1/8\nKerf,1/4\n",
         "shop.csv, row 3, column 'setting': this setting stands in row 2 already, "
         "got 'kerf'"),
        ("shop", "setting,value\nkerf,2\n",
         "shop.csv, row 2, column 'value': kerf: use a size up to 1 in, got '2'"),
        ("shop", "setting,value\nkerf,thin\n",
         "shop.csv, row 2, column 'value': kerf: not a measure: "
         "write it like 23 1/4, 7' 6\" or 590 mm, got 'thin'"),
        ("shop", "setting,value\nring,up\n",
         "shop.csv, row 2, column 'value': ring: use one of alternate, same, any, "
         "got 'up'"),
        ("shop", "setting,value\nconfidence,120\n",
         "shop.csv, row 2, column 'value': confidence: use a number from 0 to 100, "
         "got '120'"),
        ("shop", "setting,value\nwidest stave,0\n",
         "shop.csv, row 2, column 'value': widest stave: use a size of more than 0, "
         "got '0'"),
        ("shop", "setting,value\nnarrowest stave,7\n",
         "shop.csv, row 2, column 'value': narrowest stave is not more than widest stave"),
        ("shop", "setting,value\nhumidity high,20\n",
         "shop.csv, row 2, column 'value': humidity low is not more than humidity high"),
        ("shop", "setting,value\nnarrowest stave,3 1/64\nwidest stave,3 1/64\n",
         "shop.csv, row 2, column 'value': "
         "no whole saw step lies between narrowest and widest stave"),
    ],
)  # fmt: skip
def test_a_wrong_table_is_named(tmp_path, table, text, fault):
    assert faults(tmp_path, **{table: text}) == [fault]


def test_a_yard_holds_boards_of_some_size(tmp_path):
    prices = (
        "yard,species,thickness,price,narrowest,widest,shortest,longest\n"
        "North,cherry,4/4,9,8,6,10,8\n"
    )
    assert faults(tmp_path, yards="yard\nNorth\n", prices=prices) == [
        "prices.csv, row 2, column 'narrowest': the narrowest is not more than the widest, "
        "got '8'",
        "prices.csv, row 2, column 'shortest': the shortest is not more than the longest, "
        "got '10'",
    ]


PLY = "sheet,length,width,thickness\nply,96,48,1/2\n"


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ("Cover,12,12,3/4,ply,",
         "column 'thickness': the part is as thick as the sheet 'ply', got '3/4'"),
        ("Cover,12,12,1/2,PLY,panel",
         "column 'build': a part of sheet goods is cut in one piece: use auto or solid, "
         "got 'panel'"),
    ],
)  # fmt: skip
def test_a_part_of_sheet_goods_agrees_with_its_sheet(tmp_path, row, fault):
    parts = f"part,length,width,thickness,species,build\n{row}\n"
    assert faults(tmp_path, parts=parts, sheets=PLY) == [f"parts.csv, row 2, {fault}"]


def test_a_sheet_part_may_name_its_thickness_in_another_way(tmp_path):
    parts = PARTS + "Cover,12,12,12.7 mm,Ply\n"
    assert read(tmp_path, parts=parts, sheets=PLY).parts[0].species == "ply"


def test_all_faults_of_all_tables_are_reported_together_in_their_order(tmp_path):
    found = faults(
        tmp_path,
        shop="setting,value\nkerv,1\n",
        marks="board,kind\nB7,knot\n",
        boards=BOARDS + "B1,cherry,4/4,96,wide\n",
        parts=PARTS + "Seat,x,15,1,cherry\nLeg,48,y,1,cherry\nSeat,48,1,1,cherry\n",
    )
    assert [line.partition(":")[0] for line in found] == [
        "parts.csv, row 2, column 'length'",
        "parts.csv, row 3, column 'width'",
        "parts.csv, row 4, column 'part'",
        "boards.csv, row 2, column 'width'",
        "marks.csv, row 2, column 'board'",
        "shop.csv, row 2, column 'setting'",
    ]


def test_faults_of_a_workbook_name_the_sheet(tmp_path):
    path = workbook(tmp_path / "b.xlsx", parts=PARTS + "Seat,long,15,1,cherry\n")
    with pytest.raises(InputError, match=r"^Parts, row 2, column 'length': not a measure"):
        read_project(path)


def test_odd_cells_of_a_workbook_are_faults(tmp_path):
    path = workbook(tmp_path / "b.xlsx", parts=SEAT)
    book = openpyxl.load_workbook(path)
    book["Parts"]["B2"].value = True
    book["Parts"]["C2"].value = "=5+10"
    book.save(path)
    with pytest.raises(InputError) as caught:
        read_project(path)
    assert str(caught.value).splitlines() == [
        "Parts, row 2, column 'length': a truth value stands here: "
        "type a number or a text, got 'True'",
        "Parts, row 2, column 'width': the formula in this cell has no result yet: "
        "open the workbook in a spreadsheet program and save it, got '=5+10'",
    ]


def test_a_spreadsheet_s_own_yes_and_percent_will_do(tmp_path):
    parts = (
        "part,length,width,thickness,species,template,spare,qty\nSeat,4,4,1,cherry,,,20\n"
    )
    path = workbook(tmp_path / "b.xlsx", parts=parts, boards=B1)
    book = openpyxl.load_workbook(path)
    book["Parts"]["F2"].value = True
    book["Parts"]["G2"].value = 0.1
    book["Parts"]["G2"].number_format = "0%"
    book.save(path)
    (seat,) = read_project(path).parts
    assert (seat.template, seat.spares) == (True, 2)


# -- warnings -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tables", "warning"),
    [
        (
            {"parts": SEAT + "seat,4,4,1,cherry\n"},
            "parts.csv, row 3, column 'part': the name differs from 'Seat' in row 2 "
            "only by case, got 'seat'",
        ),
        (
            {"parts": PARTS + "Seat,4,4,1,chery\nLeg,4,4,1,chery\n"},
            "parts.csv, row 2, column 'species': no board, price or sheet of this is "
            "listed; did you mean 'cherry'?, got 'chery'",
        ),
        (
            {"boards": BOARDS},
            "parts.csv: no boards and no prices are listed: "
            "the design can be checked, not planned",
        ),
        (
            {
                "parts": PARTS.replace("species", "species,shape")
                + "A,4,3,1,cherry,taper 2 1\n"
            },
            "parts.csv, row 2, column 'shape': neither end of the taper is as wide as the "
            "part: the width rules, got 'taper 2 1'",
        ),
        (
            {"parts": PARTS.replace("species", "species,shape") + "A,4,3,1,cherry,disc\n"},
            "parts.csv, row 2, column 'shape': length and width of a disc differ: "
            "the blank holds both, got 'disc'",
        ),
        (
            {
                "parts": PARTS.replace("species", "species,shape")
                + "A,4,3,1,cherry,outline a.svg\n"
            },
            "parts.csv, row 2, column 'shape': there is no file 'a.svg' beside the "
            "project, got 'outline a.svg'",
        ),
        (
            {
                "boards": BOARDS.replace("width", "width,photo")
                + "B1,cherry,4/4,96,8,b.jpg\n"
            },
            "boards.csv, row 2, column 'photo': there is no file 'b.jpg' beside the "
            "project, got 'b.jpg'",
        ),
        (
            {
                "boards": "board,where,species,thickness,length,width,price\n"
                "B1,North,cherry,4/4,96,8,\nB2,North,cherry,4/4,96,8,9\n",
                "yards": "yard\nNorth\n",
            },
            "boards.csv, row 2, column 'price': no price, here or in Prices of 'North': "
            "the board counts as free",
        ),
    ],
)
def test_what_looks_like_a_slip_is_a_warning(tmp_path, tables, warning):
    assert warnings(tmp_path, **tables) == [warning]


def test_a_sound_project_has_no_warnings(tmp_path):
    assert warnings(tmp_path, **FULL) == []


def test_a_file_that_is_there_is_not_warned_of(tmp_path):
    (tmp_path / "leg.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="48in" height="15in"'
        ' viewBox="0 0 48 15"><rect width="48" height="15"/></svg>'
    )
    assert part(tmp_path, "shape", "outline leg.svg").outline == "leg.svg"
    assert read_project(tmp_path).warnings == ()


# -- nothing a maker types may crash --------------------------------------------------

anything = st.one_of(
    st.text(max_size=12),
    st.sampled_from([
        "", "0", "-1", "1/0", "7,5", "nan", "4/4", "=1+1", "10%", "taper 1 1 1", "rack",
        "figure:", "#N/A", "None", "1e999", "outline \x00", "any/plain",
    ]),
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_whatever_stands_in_a_cell_is_read_or_refused(tmp_path, data):
    table = data.draw(st.sampled_from(TABLES))
    headings = [column.name for column in table.columns]
    row = data.draw(st.lists(anything, min_size=len(headings), max_size=len(headings)))
    folder(tmp_path)
    path = tmp_path / f"{table.name.lower()}.csv"
    with path.open("w", encoding="utf-8", newline="", errors="replace") as file:
        csv.writer(file).writerows([headings, row])
    try:
        with contextlib.suppress(InputError):
            assert isinstance(read_project(tmp_path), Project)
    finally:
        path.unlink()
