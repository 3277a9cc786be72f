"""Files to grids: what is read as it stands, and what is refused with a way out."""

from __future__ import annotations

import datetime
import zipfile

import openpyxl
import pytest

from stock import tables
from stock.errors import InputError
from stock.rows import Column, Findings, Table, folded, nearest, read_tables
from stock.tables import Unusable, read_grids

PARTS = Table(
    name="Parts",
    needed=True,
    meaning="one row per part",
    columns=(
        Column(name="part", kind="name", needed=True, meaning="name"),
        Column(name="end angle", kind="angle", meaning="bevel"),
    ),
)
BOARDS = Table(
    name="Boards",
    meaning="one row per board",
    columns=(Column(name="board", kind="name", needed=True, meaning="name"),),
)


def workbook(folder, **sheets):
    """Write a workbook with these sheets, each a list of rows."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = folder / "bench.xlsx"
    book.save(path)
    return path


def csv_folder(folder, **texts):
    """Write a folder of CSV files."""
    for title, text in texts.items():
        (folder / f"{title}.csv").write_text(text, encoding="utf-8")
    return folder


def refusal(path):
    with pytest.raises(InputError) as caught:
        read_grids(path)
    return str(caught.value)


def read(path, *contracts):
    findings = Findings()
    rows = read_tables(path, contracts or (PARTS, BOARDS), findings)
    return (
        rows,
        [str(one) for one in findings.faults],
        [str(one) for one in findings.warnings],
    )


def test_a_missing_file_is_said_to_be_missing(tmp_path):
    path = tmp_path / "nowhere.xlsx"
    assert refusal(path) == (f"nowhere.xlsx: there is no such file or folder, got '{path}'")


def test_another_kind_of_file_is_told_what_a_project_is(tmp_path):
    path = tmp_path / "parts.csv"
    path.write_text("part\nSeat\n")
    assert refusal(path) == (
        "parts.csv: a project is an .xlsx workbook, "
        "or a folder with parts.csv and other tables"
    )


def test_an_empty_folder_is_told_what_it_lacks(tmp_path):
    assert refusal(tmp_path) == (
        f"{tmp_path.name}: the folder holds no CSV file: it needs parts.csv at least"
    )


UNREADABLE = (
    "bench.xlsx: the file can't be read as an .xlsx workbook; if it has a password, "
    "take it off, else save it again in a spreadsheet program"
)


@pytest.mark.parametrize(
    "content", [b"", b"PK\x03\x04", b"\xd0\xcf\x11\xe0" * 200, b"part"]
)
def test_a_file_that_is_no_workbook_is_refused_in_one_line(tmp_path, content):
    path = tmp_path / "bench.xlsx"
    path.write_bytes(content)
    assert refusal(path) == f"{UNREADABLE} (BadZipFile)"


def test_a_zip_without_a_workbook_inside_is_refused(tmp_path):
    path = tmp_path / "bench.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("notes.txt", "no workbook")
    assert refusal(path) == f"{UNREADABLE} (KeyError)"


@pytest.mark.parametrize("name", ["xl/workbook.xml", "xl/worksheets/sheet1.xml"])
def test_entities_are_never_expanded(tmp_path, name):
    path = workbook(tmp_path, Parts=[["part"], ["Seat"]])
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path) as sound, zipfile.ZipFile(bomb, "w") as broken:
        for member in sound.namelist():
            content = sound.read(member)
            if member == name:
                content = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]>' + content
            broken.writestr(member, content)
    assert refusal(bomb).startswith(UNREADABLE.replace("bench", "bomb"))


@pytest.mark.parametrize("cut", range(1, 10))
def test_a_truncated_workbook_is_refused_not_a_crash(tmp_path, cut):
    path = workbook(tmp_path, Parts=[["part"], ["Seat"]])
    content = path.read_bytes()
    path.write_bytes(content[: len(content) * cut // 10])
    assert refusal(path).startswith(UNREADABLE)


def test_a_workbook_of_absurd_size_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "MOST_BYTES", 1000)
    path = workbook(tmp_path, Parts=[["part"], ["Seat"]])
    assert refusal(path) == "bench.xlsx: the workbook is far larger than any project"


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_more_rows_than_any_project_are_refused(tmp_path, monkeypatch, kind):
    monkeypatch.setattr(tables, "MOST_ROWS", 3)
    rows = [["part"], ["a"], ["b"], ["c"]]
    if kind == "xlsx":
        assert (
            refusal(workbook(tmp_path, Parts=rows)) == "Parts: a table has at most 3 rows"
        )
    else:
        path = csv_folder(tmp_path, parts="part\na\nb\nc\n")
        assert refusal(path) == "parts.csv: a table has at most 3 rows"


def test_a_csv_in_another_encoding_is_told_how_to_be_saved(tmp_path):
    (tmp_path / "parts.csv").write_bytes("part\nBüro\n".encode("cp1252"))
    (tmp_path / "boards.csv").write_bytes("board\nÖl\n".encode("utf-16"))
    assert refusal(tmp_path).splitlines() == [
        "boards.csv: the file is not UTF-8 text: save it as 'CSV UTF-8'",
        "parts.csv: the file is not UTF-8 text: save it as 'CSV UTF-8'",
    ]


def test_a_field_that_is_never_closed_is_refused(tmp_path):
    csv_folder(tmp_path, parts='part\n"' + "x" * 200_000)
    assert refusal(tmp_path) == (
        "parts.csv: the file is not a CSV table (field larger than field limit (131072))"
    )


@pytest.mark.parametrize(
    "text",
    [
        "part,end angle\nSeat,5\n",
        "part;end angle\nSeat;5\n",
        "\ufeffpart,end angle\r\nSeat,5\r\n",
        "End_Angle,PART\n5,Seat\n",
        ' end angle ,"part"\n5,"Seat"\n',
        "part,end angle\n\n , \nSeat,5\n\n",
    ],
)
def test_headings_and_marks_of_a_csv_are_taken_tolerantly(tmp_path, text):
    rows, faults, warnings = read(csv_folder(tmp_path, parts=text))
    assert [dict(row.cells) for row in rows["Parts"]] == [
        {"part": "Seat", "end angle": "5"}
    ]
    assert faults == warnings == []


def test_rows_are_numbered_as_a_spreadsheet_shows_them(tmp_path):
    path = csv_folder(tmp_path, parts="part\n\nSeat\n\nLeg\n")
    assert [row.number for row in read(path)[0]["Parts"]] == [3, 5]
    book = workbook(tmp_path, Parts=[["part"], [], ["Seat"], [], ["Leg"]])
    assert [row.number for row in read(book)[0]["Parts"]] == [3, 5]


def test_a_comma_inside_a_text_without_quotes_is_noticed(tmp_path):
    path = csv_folder(tmp_path, parts="part,end angle\nSeat,7,5\n")
    assert read(path)[1] == [
        "parts.csv, row 2: the row has more cells than headings: "
        "put texts with commas in quotes"
    ]


def test_notes_beside_a_sheet_are_left_alone(tmp_path):
    path = workbook(tmp_path, Parts=[["part"], ["Seat", None, "look here"]])
    assert read(path)[1:] == ([], [])


def test_an_unknown_column_is_a_warning_that_names_the_nearest(tmp_path):
    path = csv_folder(tmp_path, parts="part,end angel,colour\nSeat,5,red\n")
    assert read(path)[2] == [
        "parts.csv, row 1, column 'end angel': this column is not known and not read; "
        "did you mean 'end angle'?",
        "parts.csv, row 1, column 'colour': this column is not known and not read",
    ]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "parts.csv, row 1: row 1 holds the headings, and it is blank"),
        ("\npart\nSeat\n", "parts.csv, row 1: row 1 holds the headings, and it is blank"),
        ("part\n", "parts.csv: the table has no rows: it needs one row per part"),
        (
            "end angle\n5\n",
            "parts.csv, row 1, column 'part': "
            "the column is missing, and every row needs it",
        ),
        (
            "part,Part\na,b\n",
            "parts.csv, row 1, column 'part': the column stands twice: keep one",
        ),
    ],
)
def test_wrong_headings_are_faults(tmp_path, text, fault):
    assert read(csv_folder(tmp_path, parts=text))[1] == [fault]


def test_a_missing_table_is_named(tmp_path):
    path = csv_folder(tmp_path, boards="board\nB1\n")
    assert read(path)[1] == [f"{tmp_path.name}: the table 'Parts' is missing"]


def test_a_sheet_with_nearly_the_right_title_is_pointed_out(tmp_path):
    path = workbook(tmp_path, Parts=[["part"], ["Seat"]], Bords=[["board"]], Diary=[["x"]])
    rows, faults, warnings = read(path)
    assert (rows["Boards"], faults) == ((), [])
    assert warnings == ["Bords: this table is not read; did you mean 'Boards'?"]


def test_two_sheets_of_one_name_are_a_fault(tmp_path):
    path = workbook(tmp_path, Parts=[["part"], ["Seat"]], parts_=[["part"], ["Leg"]])
    assert read(path)[1] == ["parts_: there are two tables 'Parts': keep one"]


def cell_of(tmp_path, value, number_format=None, kind=None):
    """What one cell of a workbook reads as."""
    path = workbook(tmp_path, Parts=[["part"], ["x"]])
    book = openpyxl.load_workbook(path)
    cell = book["Parts"]["A2"]
    cell.value = value
    if number_format:
        cell.number_format = number_format
    if kind:
        cell.data_type = kind
    book.save(path)
    (grid,) = read_grids(path)
    return grid.rows[1][1][0] if len(grid.rows) > 1 else None


def test_texts_and_numbers_of_a_workbook_are_read_as_they_stand(tmp_path):
    assert cell_of(tmp_path, " Seat ") == "Seat"
    assert cell_of(tmp_path, 23.25) == 23.25
    assert cell_of(tmp_path, True) is True
    assert cell_of(tmp_path, "   ") is None


def test_a_text_that_looks_like_a_formula_stays_text(tmp_path):
    assert cell_of(tmp_path, "=1+1", kind="s") == "=1+1"


def test_a_percent_is_read_as_it_is_shown(tmp_path):
    assert cell_of(tmp_path, 0.1, "0%") == "10%"
    assert cell_of(tmp_path, 0.125, "0.0%") == "12.5%"
    assert cell_of(tmp_path, 0.1) == 0.1


def test_a_formula_without_a_result_says_to_save_the_file(tmp_path):
    assert cell_of(tmp_path, "=1+1") == Unusable(
        "=1+1",
        "the formula in this cell has no result yet: "
        "open the workbook in a spreadsheet program and save it",
    )


def test_a_formula_with_a_result_counts_as_its_result(tmp_path):
    path = workbook(tmp_path, Parts=[["part"], ["=1+1"]])
    saved = tmp_path / "saved.xlsx"
    with zipfile.ZipFile(path) as plain, zipfile.ZipFile(saved, "w") as computed:
        for name in plain.namelist():
            content = (
                plain.read(name)
                .replace(b"<v></v>", b"<v>2</v>")
                .replace(b"<v/>", b"<v>2</v>")
            )
            computed.writestr(name, content.replace(b"<v />", b"<v>2</v>"))
    (grid,) = read_grids(saved)
    assert grid.rows[1] == (2, (2,))


@pytest.mark.parametrize(
    "value", [datetime.date(2026, 3, 4), datetime.datetime(2026, 3, 4), datetime.time(7, 6)]
)
def test_a_date_says_how_to_keep_a_fraction_a_fraction(tmp_path, value):
    found = cell_of(tmp_path, value)
    assert isinstance(found, Unusable)
    assert found.rule == (
        "the spreadsheet made a date of this: "
        "give the cell the format 'text' and type it again"
    )


def test_an_error_value_says_what_to_do(tmp_path):
    assert cell_of(tmp_path, "#N/A", kind="e") == Unusable(
        "#N/A", "the formula in this cell fails: mend it, or type the value"
    )


def test_a_sheet_that_lies_about_its_extent_is_read_whole(tmp_path):
    path = workbook(tmp_path, Parts=[["part"], ["Seat"], ["Leg"]])
    lying = tmp_path / "lying.xlsx"
    with zipfile.ZipFile(path) as sound, zipfile.ZipFile(lying, "w") as changed:
        for name in sound.namelist():
            content = sound.read(name).replace(b'ref="A1:A3"', b'ref="A1:A1"')
            changed.writestr(name, content)
    assert len(read_grids(lying)[0].rows) == 3


def test_names_are_compared_without_case_spaces_and_underscores():
    assert folded("Add_Length ") == folded("add length")
    assert nearest("lenght", ["length", "width"]) == "length"
    assert nearest("colour", ["length", "width"]) is None
