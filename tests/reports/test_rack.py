"""The commands of the rack, as a maker types them."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from nesting.plan import Plan
from nesting.planfile import write_plan
from nesting.racked import stamped
from reports import cli, rack_work, watch
from reports.rack_count import counted_stock
from reports.rack_export import write_boards, write_count
from reports.rack_reading import read_incoming
from reports.rack_value import holdings, value_text
from reports.scenarios import copy_scenario
from reports.workbook import write_workbook
from stock.boards import Board, Mark, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.rack import open_rack
from stock.rack_boards import RackBoard, stamp
from stock.rack_check import check_rack
from tests.samples import bench_plan, bench_project, inch, mm
from tests.stock.test_rack import full_board, oak, put

DAY = "2026-03-09"


def run(*arguments: object) -> tuple[int, str, str]:
    """Run a command the way a shell would: exit code, output, errors."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = cli.main([str(argument) for argument in arguments])
    return code, out.getvalue(), err.getvalue()


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch) -> Path:
    """An empty folder to work in, where the rack's usual place is too."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path))
    return tmp_path


def rack_with(*boards: RackBoard) -> Path:
    path = Path("rack.sqlite")
    with open_rack(path, makes=True) as rack:
        put(rack, *boards)
    return path


def boards_in(path: Path) -> dict[str, RackBoard]:
    with open_rack(path) as rack:
        assert check_rack(rack) == ()
        return {one.name: one for one in rack.state().boards.values()}


# --- in, list, show, undo ----------------------------------------------------------------


def test_the_demo_comes_onto_the_usual_rack_and_is_listed(here):
    copy_scenario("hall-bench", Path())
    code, out, _ = run("rack", "import", "hall-bench")
    assert code == 0
    assert out.startswith("entry 1: 4 boards, 10.46 board feet, to ")
    assert "at yards and so not taken: H1" in out
    assert [file.name for file in here.rglob("*.sqlite")] == ["rack.sqlite"]
    code, out, _ = run("rack", "list")
    assert code == 0
    assert out.splitlines()[1].split() == [
        "R1", "upper", "rungs", "white", "oak", "4/4", "51", "7/8", "in", "5", "3/8",
        "1.94", "plain", "7.5", "%",
    ]  # fmt: skip
    assert out.splitlines()[-1] == "4 boards, 10.46 board feet"


def test_the_list_is_filtered_whatever_the_case(here):
    path = rack_with(
        oak("A", place="rung 1", sawing="rift"),
        oak("B", place="rung 2", sawing="plain"),
        replace(oak("C"), held="Desk").with_board(species="ash"),
    )

    def names(*options: str) -> list[str]:
        _, out, _ = run("rack", "list", "--csv", "--rack", path, *options)
        return pd.read_csv(io.StringIO(out))["board"].tolist()

    assert names() == ["A", "B", "C"]
    assert names("--species", "White Oak") == ["A", "B"]
    assert names("--place", "RUNG 2") == ["B"]
    assert names("--sawing", "rift") == ["A"]
    assert names("--thickness", "8/4") == []
    assert names("--thickness", "1") == names("--thickness", "25.4 mm") == ["A", "B", "C"]
    assert run("rack", "list", "--thickness", "fat", "--rack", path)[0] == 2
    assert names("--free") == ["A", "B"]


def test_the_csv_table_reads_back_as_numbers(here):
    """60 x 6 in, 4/4: 2.5 board feet, which are 2.5 / 423.776 m3."""
    path = rack_with(oak("A", tone=3), full_board())
    table = pd.read_csv(io.StringIO(run("rack", "list", "--csv", "--rack", path)[1]))
    row = table.set_index("board").loc["A"]
    assert (row["length"], row["width"], row["unit"], row["board_feet"]) == (
        60,
        6,
        "in",
        2.5,
    )
    assert row["m3"] == pytest.approx(2.5 / 423.776, rel=1e-5)
    assert table.set_index("board").loc["Ä 7", "length"] == 3111.5


def test_a_board_is_added_shown_and_taken_back(here):
    code, out, _ = run(
        "rack", "add", "R9", "--species", "walnut", "--thickness", "5/4", "--length",
        "60 1/2", "--width", "7", "--marks", "knot 20 to 26 across 1 to 3 one face",
        "--from", "the old barn", "--since", "2020-01-31", "--price", "9.50",
        "--figure", "curl, ray", "--reason", "found behind the door",
    )  # fmt: skip
    assert (code, out[:24]) == (0, "entry 1: 1 board, 3.68 b")
    code, out, _ = run("rack", "show", "r9")
    assert code == 0
    lines = [" ".join(line.split()) for line in out.splitlines()]
    assert lines == [
        "board R9",
        "wood walnut 5/4, 60 1/2 x 7 in, 3.68 board feet",
        "shows curl, ray, rough",
        "marks knot 20 to 26 across 1 to 3 one face",
        "from the old barn, since 2020-01-31",
        lines[-1],
    ]
    assert lines[-1].endswith(
        "entry 1, add: came onto the rack, 3.68 board feet (found behind the door)"
    )
    code, out, _ = run("rack", "undo")
    assert out.startswith("entry 2: takes back entry 1 of ")
    assert run("rack", "list")[1] == "no such board lies on the rack\n"
    assert "no longer on the rack" in run("rack", "show", "R9")[1]


def test_faults_of_a_board_are_all_told_and_nothing_is_booked(here):
    code, out, err = run(
        "rack", "add", "R9", "--species", "walnut", "--thickness", "x", "--length", "60,5",
        "--width", "7", "--sawing", "flat", "--marks", "knot",
    )  # fmt: skip
    assert (code, out) == (2, "")
    assert [line.split(":")[0] for line in err.splitlines()] == [
        "rack add, column 'thickness'", "rack add, column 'length'",
        "rack add, column 'sawing'", "rack add, column 'marks'",
    ]  # fmt: skip
    assert list(here.rglob("*.sqlite")) == []


def test_a_mark_beside_the_board_is_refused(here):
    code, _, err = run(
        "rack", "add", "R9", "--species", "ash", "--thickness", "4/4", "--length", "60",
        "--width", "7", "--marks", "knot 50 to 70",
    )  # fmt: skip
    assert code == 2
    assert "the mark 'knot' does not lie on the board" in err


@pytest.mark.parametrize(
    "command", [["list"], ["show", "R1"], ["undo"], ["check"], ["value"]]
)
def test_what_only_looks_makes_no_rack(here, command):
    code, _, err = run("rack", *command)
    assert code == 2
    assert "there is no rack here yet" in err
    assert list(here.iterdir()) == []


def test_the_check_says_what_came_and_what_became_of_it(here):
    path = rack_with(oak("A"), oak("B"))
    code, out, _ = run("rack", "check", "--rack", path)
    assert code == 0
    assert out == (
        "sound: 1 entry, 2 boards; 5.00 board feet came in, 5.00 lie here, 0.00 used,"
        " 0.00 lost\n"
    )
    path.write_bytes(path.read_bytes()[:5000])
    code, out, err = run("rack", "check", "--rack", path)
    assert (code, out) == (2, "")
    assert "damaged" in err


def test_boards_of_one_csv_file_come_in_in_the_unit_that_is_named(here):
    Path("wood.csv").write_text(
        "board,species,thickness,length,width\nM1,ash,27,1800,190\n", encoding="utf-8"
    )
    assert run("rack", "import", "wood.csv", "--unit", "mm", "--rack", "r.sqlite")[0] == 0
    one = boards_in(Path("r.sqlite"))["M1"]
    assert (one.unit, one.board.length, one.board.width) == (Unit.MM, mm(1800), mm(190))


def test_boards_listed_at_a_yard_come_only_if_all_are_asked_for(here):
    Path("wood.csv").write_text(
        "board,where,species,thickness,length,width\nY1,Mill,ash,4/4,80,6\n",
        encoding="utf-8",
    )
    code, _, err = run("rack", "import", "wood.csv", "--rack", "r.sqlite")
    assert code == 2
    assert "take those at yards too with --all" in err
    run("rack", "import", "wood.csv", "--all", "--rack", "r.sqlite")
    one = boards_in(Path("r.sqlite"))["Y1"]
    assert (one.board.where, one.source) == ("rack", "bought at Mill")


def test_what_is_ticked_on_a_sheet_buy_comes_in_as_it_was_measured(here, monkeypatch):
    """Y2 is ticked and measured 58 in; the yard asks 8.40 for it. Y1 stays there."""
    write_workbook(Path("plan.xlsx"), bench_project(), bench_plan())
    book = openpyxl.load_workbook("plan.xlsx")
    sheet = book["Buy"]
    for row in sheet.iter_rows():
        if row[1].value == "Y2":
            row[0].value, row[4].value = "x", 58
    book.save("plan.xlsx")
    code, _, err = run("rack", "import", "plan.xlsx", "--rack", "r.sqlite")
    assert code == 2
    assert "name the project that it was made for with --project" in err
    monkeypatch.setattr("reports.rack_reading.read_project", lambda _: bench_project())
    Path("bench.xlsx").touch()
    code, _, _ = run(
        "rack", "import", "plan.xlsx", "--project", "bench.xlsx", "--rack", "r.sqlite"
    )
    assert code == 0
    (one,) = boards_in(Path("r.sqlite")).values()
    assert (one.name, one.board.length, one.board.price) == (
        "Y2",
        inch(58),
        Fraction(84, 10),
    )
    assert one.source == "bought at Hill yard"


# --- with a plan -------------------------------------------------------------------------


R1 = RackBoard(board=bench_project().board("R1"), unit=Unit.INCH, since=DAY)


@pytest.fixture
def bench(monkeypatch) -> Path:
    """A shop that plans the low bench of the samples, whose own rack is this one."""
    bare = replace(bench_project(), boards=bench_project().boards[1:])
    monkeypatch.setattr(cli, "read_project", lambda _: bare)
    monkeypatch.setattr(rack_work, "read_project", lambda _: bench_project())
    monkeypatch.setattr(watch, "solve", lambda *_: bench_plan())
    Path("bench.xlsx").write_bytes(b"stands for a workbook")
    return rack_with(R1, oak("Spare"))


def test_a_plan_with_the_rack_is_verified_with_it_and_not_without(bench):
    code, out, _ = run("plan", "bench.xlsx", "--rack", bench, "--json", "p.json")
    assert code == 0
    assert "1 board: R1" in out
    boards = json.loads(Path("p.json").read_text(encoding="utf-8"))["boards"]
    assert {one["board"]: one.get("stamp") for one in boards} == {
        "Y1": None, "Y2": None, "R1": stamp(R1)
    }  # fmt: skip
    assert run("verify", "bench.xlsx", "p.json", "--rack", bench)[0] == 0
    code, out, _ = run("verify", "bench.xlsx", "p.json")
    assert code == 1
    assert "the project has no such board" in out


def test_the_usual_rack_serves_where_none_is_named(bench, here):
    usual = here / "data" / "stavewright" / "rack.sqlite"
    usual.parent.mkdir(parents=True)
    bench.rename(usual)
    write_plan(Path("p.json"), bench_plan())
    assert run("verify", "bench.xlsx", "p.json", "--rack")[0] == 0


def planned() -> Plan:
    return stamped(bench_plan(), {"R1": stamp(R1)})


def test_reserve_cut_list_and_undo_as_a_maker_goes(bench):
    write_plan(Path("p.json"), planned())
    code, out, _ = run("rack", "reserve", "p.json", "--rack", bench)
    assert (code, out) == (0, "entry 2: 1 board for Low bench: R1\n")
    assert boards_in(bench)["R1"].held == "Low bench"
    code, out, _ = run("rack", "cut", "p.json", "--project", "bench.xlsx", "--rack", bench)
    assert code == 0
    kept = {
        offcut.name for cut in bench_plan().boards for offcut in cut.offcuts if offcut.keep
    }
    assert set(boards_in(bench)) == {"Spare", *kept}
    code, out, err = run("rack", "cut", "p.json", "--rack", bench)
    assert code == 2
    assert "this plan was cut already, by entry 3" in err
    assert run("rack", "undo", "--rack", bench)[0] == 0
    assert boards_in(bench)["R1"].held == "Low bench"
    assert run("rack", "cut", "p.json", "--rack", bench)[0] == 0
    assert set(boards_in(bench)) == {"Spare"}  # R1 leaves nothing to keep


def test_what_was_bought_is_named_if_it_is_not_booked(bench):
    write_plan(Path("p.json"), planned())
    _, out, _ = run("rack", "cut", "p.json", "--rack", bench)
    assert out.splitlines()[-1] == (
        "note: bought and so not booked; with --project their offcuts come too: Y1, Y2"
    )


def test_a_plan_of_a_board_that_changed_since_is_refused(bench):
    write_plan(Path("p.json"), planned())
    with open_rack(bench) as rack:
        rack.undo("t")
        put(rack, R1.with_board(length=inch(50)))
    code, _, err = run("rack", "cut", "p.json", "--rack", bench)
    assert code == 2
    assert err == (
        "board 'R1': this board is 50 x 6 in now and was planned as 60 x 6 in: plan again\n"
    )


def test_what_others_reserved_is_free_after_it_is_released(bench):
    write_plan(Path("p.json"), replace(planned(), project="Desk"))
    run("rack", "reserve", "p.json", "--rack", bench)
    write_plan(Path("q.json"), planned())
    code, _, err = run("rack", "reserve", "q.json", "--rack", bench)
    assert (code, err) == (2, "board 'R1': this board is reserved for Desk\n")
    code, out, _ = run("rack", "release", "Desk", "--rack", bench)
    assert (code, out) == (0, "entry 3: 1 board free again\n")
    assert run("rack", "reserve", "q.json", "--rack", bench)[0] == 0
    assert run("rack", "release", "Desk", "--rack", bench)[2].endswith(
        "nothing on the rack would change\n"
    )


def test_a_file_that_is_no_plan_is_refused(bench):
    Path("p.json").write_text("[1]", encoding="utf-8")
    code, _, err = run("rack", "reserve", "p.json", "--rack", bench)
    assert (code, err) == (2, "p.json: is no plan file\n")


# --- moisture ----------------------------------------------------------------------------


def test_readings_are_kept_with_their_dates(here):
    path = rack_with(oak("A"))
    for percent in ("11", "9.5"):
        assert run("rack", "moisture", "a", percent, "--rack", path)[0] == 0
    out = run("rack", "show", "A", "--rack", path)[1]
    assert [line.split(": ")[1].split(" (")[0] for line in out.splitlines()[-2:]] == [
        "moisture 11 %", "moisture 9.5 %"
    ]  # fmt: skip
    assert run("rack", "moisture", "A", "101", "--rack", path)[0] == 2
    assert run("rack", "moisture", "B", "9", "--rack", path)[0] == 2


# --- taking stock ------------------------------------------------------------------------


def fill(path: Path, cells: dict[str, dict[str, object]], new: list[object] = ()) -> None:
    """Fill in a count sheet: per board what to write under which head, and a new board."""
    book = openpyxl.load_workbook(path)
    sheet = book["Count"]
    heads: dict[str, int] = {}
    is_new = False
    for row in sheet.iter_rows():
        words = {str(cell.value): cell.column - 1 for cell in row if cell.value is not None}
        if "board" in words or "new board" in words:
            heads, is_new = words, "new board" in words
        elif is_new and new and row[0].value == "\N{BALLOT BOX}":
            for head, value in new:
                row[
                    next(at for name, at in heads.items() if name.startswith(head))
                ].value = value
            new = ()
        for head, value in cells.get(row[1].value, {}).items():
            row[heads[head] if head else 0].value = value
    book.save(path)


def counting(*boards: RackBoard) -> tuple[Path, Path]:
    path = rack_with(*boards)
    sheet = Path("rack-count.xlsx")
    assert run("rack", "count", "--rack", path)[1] == (
        f"{len(boards)} board{'s' if len(boards) > 1 else ''}, written to rack-count.xlsx\n"
    )
    return path, sheet


def test_a_sheet_as_it_was_printed_changes_nothing(here):
    path, sheet = counting(oak("A"), full_board(), oak("T").with_board(width2=inch(5)))
    code, out, _ = run("rack", "adjust", sheet, "--rack", path)
    assert code == 0
    assert out.splitlines()[0] == "all that was looked at is as booked"
    assert out.splitlines()[1].startswith("neither ticked nor gone, left as booked: A")
    assert len(boards_in(path)) == 3


def test_what_was_counted_is_booked(here):
    """B is gone, 2 1/2 board feet lost; A lost 10 of 60 in: 10 x 6 / 144 more."""
    metric = full_board().with_board(name="M")
    path, sheet = counting(oak("A"), oak("B"), oak("C"), metric)
    fill(
        sheet,
        {
            "A": {"": "x", "length now": 50, "place now": "rung 3", "moisture now": 8.5},
            "B": {"gone": "x"},
            "C": {"": "x"},
            "M": {"": "x", "width now": "200 mm", "far width now": "190 mm"},
        },
        [("new", "N"), ("species", "ash"), ("thick", "8/4"), ("length", 40), ("width", 5),
         ("place", "floor"), ("marks", "knot 1 to 2")],
    )  # fmt: skip
    code, out, _ = run("rack", "adjust", sheet, "--rack", path)
    assert (code, out) == (0, "entry 2: 2 otherwise: A, M; 1 gone: B; 1 new: N\n")
    boards = boards_in(path)
    assert set(boards) == {"A", "C", "M", "N"}
    a = boards["A"].board
    assert (a.length, a.width, a.place, a.moisture) == (inch(50), inch(6), "rung 3", 8.5)
    m = boards["M"].board
    assert (m.length, m.width, m.width2) == (31_115, mm(200), mm(190))
    assert boards["C"] == oak("C")
    assert (boards["N"].board.place, len(boards["N"].board.marks)) == ("floor", 1)
    with open_rack(path) as rack:
        entry = rack.entries()[-1]
    metric_loss = metric.feet - boards["M"].feet
    assert entry.lost == Fraction(5, 2) + Fraction(60, 144) + metric_loss
    assert entry.came == boards["N"].feet


def test_a_board_that_changed_after_the_printing_is_refused_and_nothing_booked(here):
    path, sheet = counting(oak("A"), oak("B"))
    fill(sheet, {"A": {"gone": "x"}, "B": {"gone": "x"}})
    with open_rack(path) as rack:
        rack.undo("t")
        put(rack, oak("A", length=inch(59)), oak("B"))
    code, _, err = run("rack", "adjust", sheet, "--rack", path)
    assert code == 2
    assert "this board changed after the sheet was printed: print it anew, got 'A'" in err
    assert set(boards_in(path)) == {"A", "B"}


@pytest.mark.parametrize(
    ("cells", "rule"),
    [
        ({"": "x", "gone": "x"}, "ticked or measured, and gone"),
        ({"length now": 50, "gone": "x"}, "ticked or measured, and gone"),
        ({"": "perhaps"}, "is ticked with the box from its list, or x"),
        ({"": "x", "length now": "long"}, "not a measure"),
        ({"": "x", "moisture now": 130}, "use a number from 0 to 100"),
        ({"": "x", "width now": 5}, "of a tapered board fill in both widths"),
    ],
)
def test_what_a_count_sheet_says_twice_or_wrongly_is_refused(here, cells, rule):
    path, sheet = counting(oak("A").with_board(width2=inch(5)))
    fill(sheet, {"A": cells})
    code, _, err = run("rack", "adjust", sheet, "--rack", path)
    assert code == 2
    assert rule in err
    assert err.startswith("Count, row ")


def test_a_row_that_was_copied_is_refused(here):
    path, sheet = counting(oak("A"), oak("B"))
    fill(sheet, {"A": {"gone": "x"}, "B": {"gone": "x", "board": "A"}})
    code, _, err = run("rack", "adjust", sheet, "--rack", path)
    assert code == 2
    assert "this board stands twice: keep one, got 'A'" in err
    assert set(boards_in(path)) == {"A", "B"}


def test_a_workbook_without_the_sheet_is_refused(here):
    path = rack_with(oak("A"))
    write_boards(Path("e.xlsx"), [oak("A")])
    code, _, err = run("rack", "adjust", "e.xlsx", "--rack", path)
    assert code == 2
    assert "there is no sheet 'Count'" in err


def test_marks_of_a_board_that_got_shorter_stay_on_it(here):
    """A check that ran to the end of 60 in runs to the end of 50; a knot at 55 is gone."""
    check = Mark(kind="check", start=inch(45), end=inch(60), low=0, high=inch(6))
    knot = Mark(kind="knot", start=inch(55), end=inch(56), low=0, high=inch(1))
    path, sheet = counting(oak("A", marks=(check, knot)))
    fill(sheet, {"A": {"": "x", "length now": 50}})
    run("rack", "adjust", sheet, "--rack", path)
    assert boards_in(path)["A"].board.marks == (replace(check, end=inch(50)),)


def test_the_sheet_names_every_board_and_fits_its_page(here):
    write_count(Path("c.xlsx"), [oak(f"R{n}") for n in range(60)], 7)
    sheet = openpyxl.load_workbook("c.xlsx")["Count"]
    names = {row[1].value for row in sheet.iter_rows()}
    assert {f"R{n}" for n in range(60)} <= names
    assert sum(sheet.column_dimensions[key].width for key in "ABCDEFGHIJKLMNOP") <= 138
    with open_rack(rack_with(*(oak(f"R{n}") for n in range(60)))) as rack:
        found = counted_stock(Path("c.xlsx"), rack.state(), DAY)
    assert (found.steps, len(found.unseen)) == ([], 60)


# --- worth -------------------------------------------------------------------------------


def test_the_value_is_by_species_and_thickness_with_age_by_board_feet():
    """60 x 6 in are 2.5 board feet at 8.00; 120 x 6 in are 5, without a price.

    Ages 10 and 40 days: (2.5 x 10 + 5 x 40) / 7.5 = 30.
    """
    old = replace(oak("B", length=inch(120)), since="2026-01-29")
    young = replace(oak("A", price=Fraction(8)), since="2026-02-28")
    (one,) = holdings([old, young], "2026-03-10")
    assert (one.species, one.thickness, one.boards) == ("white oak", "4/4", 2)
    assert (one.feet, one.money, one.priceless) == (Fraction(15, 2), 20, 1)
    assert (one.days, one.oldest) == (30, 40)


def test_a_metric_price_is_per_cubic_metre():
    """1 x 0.2 x 0.05 m is 0.01 m3: at 1500.00 it is worth 15.00."""
    board = Board(
        name="M", species="ash", thickness=Thickness(Fraction(50), "50"), length=mm(1000),
        width=mm(200), width2=mm(200), price=Fraction(1500),
    )  # fmt: skip
    (one,) = holdings([RackBoard(board=board, unit=Unit.MM, since=DAY)], DAY)
    assert one.money == 15
    assert float(one.feet) == pytest.approx(4.23776, abs=1e-5)


def test_what_lies_longest_comes_first():
    days = {"A": "2026-01-09", "B": "2026-01-03", "C": "2026-01-07"}
    boards = [replace(oak(name), since=day) for name, day in days.items()]
    text = value_text(boards, DAY, 2)
    longest = text.splitlines()[-2:]
    assert [line.split()[0] for line in longest] == ["B", "C"]
    assert longest[0].endswith("2026-01-03    65")


# --- out again ---------------------------------------------------------------------------


def test_an_export_reads_back_as_it_was(here):
    metric = full_board().with_board(price=Fraction(1500), name="=M")
    write_boards(Path("e.xlsx"), [metric])
    (back,) = read_incoming(Path("e.xlsx"), unit=Unit.INCH, since=DAY).boards
    assert back.board == metric.board
    assert back.unit is Unit.MM
    marked = oak(
        "A", marks=(Mark(kind="knot", start=1, end=65, low=3, high=9, face="one"),)
    )
    write_boards(Path("f.xlsx"), [marked, oak("B", figure=("ray", "curl"))])
    one, two = read_incoming(Path("f.xlsx"), unit=Unit.MM, since=DAY).boards
    assert (one.board, two.board) == (marked.board, oak("B", figure=("ray", "curl")).board)


def test_boards_of_the_other_unit_are_exported_with_theirs(here):
    """2000 mm are 78 in and 47.37 / 64: 78 47/64 in once they are read in inches."""
    ash = Board(
        name="M", species="ash", thickness=Thickness(Fraction(27), "27"), length=mm(2000),
        width=mm(254), width2=mm(254),
    )  # fmt: skip
    metric = RackBoard(board=ash, unit=Unit.MM, since=DAY)
    write_boards(Path("e.xlsx"), [oak("A"), oak("B"), metric])
    sheet = openpyxl.load_workbook("e.xlsx")["Boards"]
    heads = [cell.value for cell in sheet[1]]
    row = dict(zip(heads, [cell.value for cell in sheet[4]], strict=True))
    assert (row["board"], row["thickness"], row["length"]) == ("M", "27 mm", "2000 mm")
    back = read_incoming(Path("e.xlsx"), unit=Unit.INCH, since=DAY).boards[2]
    assert (back.board.length, back.board.width) == (78 * 64 + 47, inch(10))
    assert back.board.thickness.nominal == Fraction(270, 254)


def test_an_export_refuses_a_place_that_is_none(here):
    path = rack_with(oak("A"))
    code, _, err = run("rack", "export", "e.csv", "--rack", path)
    assert (code, err) == (2, "e.csv: a file to write here ends in .xlsx\n")


def test_an_import_of_names_that_lie_there_is_refused_whole(here):
    path = rack_with(oak("A"))
    write_boards(Path("e.xlsx"), [oak("a"), oak("B")])
    with pytest.raises(InputError), open_rack(path) as rack:
        put(rack, *read_incoming(Path("e.xlsx"), unit=Unit.INCH, since=DAY).boards)
    assert set(boards_in(path)) == {"A"}


def test_a_real_plan_from_nothing_but_the_rack_goes_all_the_way(here):
    """One shelf from one marked board: planned beside the knot, reserved, cut, undone."""
    Path("shelf").mkdir()
    Path("shelf/parts.csv").write_text(
        "part,length,width,thickness,species,build\nShelf,30,5,3/4,ash,solid\n",
        encoding="utf-8",
    )
    added = ("rack", "add", "A", "--species", "Ash", "--thickness", "4/4", "--rack", "r.db")
    knot = ("--marks", "knot 2 to 30; knot 80 to 81 across 0 to 1")
    assert run(*added, "--length", "96", "--width", "6", *knot)[0] == 0
    plan = ("plan", "shelf", "--rack", "r.db", "--steps", "20", "--json", "p.json")
    code, out, err = run(*plan)
    assert code == 0, err
    assert "rack      1 board: A" in out
    assert run("verify", "shelf", "p.json", "--rack", "r.db")[0] == 0
    assert run("rack", "reserve", "p.json", "--rack", "r.db")[0] == 0
    assert run(*plan)[0] == 0  # its own reservation does not keep it from planning again
    assert run("rack", "cut", "p.json", "--rack", "r.db")[0] == 0
    (offcut,) = boards_in(Path("r.db")).values()
    assert offcut.name == "A offcut 1"
    assert offcut.source.startswith("offcut of A, ")
    assert offcut.board.length < inch(96) - inch(31)
    code, _, err = run("rack", "reserve", "p.json", "--rack", "r.db")
    assert (code, err) == (2, "board 'A': this board is no longer on the rack\n")
    assert run("rack", "undo", "--rack", "r.db")[0] == 0
    assert boards_in(Path("r.db"))["A"].held == "shelf"
