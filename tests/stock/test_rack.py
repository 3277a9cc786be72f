"""The rack's ledger: entries add up, undo keeps history, bad files stay as they are."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from stock import rack_file
from stock.boards import Board, Mark, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.rack import Rack, open_rack
from stock.rack_boards import RackBoard, board_in, board_text, stamp
from stock.rack_check import check_rack, feet_of
from stock.rack_entries import Step
from stock.rack_place import usual_place


def oak(name: str, length: int = 60 * 64, width: int = 6 * 64, **more) -> RackBoard:
    """A board of oak, 4/4; 60 x 6 in are 2 1/2 board feet."""
    board = Board(
        name=name, species="white oak", thickness=Thickness(Fraction(1), "4/4"),
        length=length, width=width, width2=width, **more,
    )  # fmt: skip
    return RackBoard(board=board, unit=Unit.INCH, since="2026-03-09", source="the mill")


def put(rack: Rack, *boards: RackBoard) -> None:
    rack.book("add", "a test", lambda _: [Step(puts=((None, one),)) for one in boards])


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "rack.sqlite"


@pytest.fixture
def rack(path):
    with open_rack(path, makes=True) as opened:
        yield opened


# --- what a board is, on file -----------------------------------------------------------


def full_board() -> RackBoard:
    knot = Mark(kind="knot", start=64, end=96, low=0, high=40, face="one")
    zone = Mark(kind="figure", tag="fleck", start=0, end=640, low=0, high=384)
    board = Board(
        name="Ä 7", species="white oak", thickness=Thickness(Fraction(127, 4), "5/4"),
        length=31_115, width=2_035, width2=1_999, grade="FAS", sawing="rift",
        figure=("fleck", "ray"), tone=3, flitch="H7", order=2, surfaced="S2S",
        price=Fraction(1, 3), moisture=7.5, place="rung 2", photo="a.png", note="x",
        marks=(knot, zone),
    )  # fmt: skip
    return RackBoard(
        board=board, unit=Unit.MM, since="2026-03-09", source="the mill", held="Bench"
    )


def test_a_board_comes_back_from_its_text_exactly_as_it_was():
    one = full_board()
    back = board_in(board_text(one))
    assert back == one
    assert back.board.thickness.label == "5/4"  # not part of a comparison
    assert board_text(back) == board_text(one)


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"unit": "in"}', "1"])
def test_a_text_that_is_no_board_is_refused_as_such(text):
    with pytest.raises(ValueError, match="this is no board"):
        board_in(text)


def test_a_stamp_goes_by_what_cuts_go_by_and_by_nothing_else():
    one = full_board()
    same = replace(
        one.with_board(note="y", place="rung 9", moisture=9.0, price=None), held=None
    )
    assert stamp(same) == stamp(one)
    other_words = one.with_board(
        species="White Oak", thickness=Thickness(Fraction(127, 4), "31.75")
    )
    assert stamp(other_words) == stamp(one)
    assert stamp(one.with_board(species="ash")) != stamp(one)
    assert stamp(one.with_board(width2=1_998)) != stamp(one)
    assert stamp(one.with_board(marks=one.board.marks[:1])) != stamp(one)


# --- entries ----------------------------------------------------------------------------


def test_the_state_is_what_the_entries_add_up_to(rack):
    put(rack, oak("R1"), oak("R2"))
    number = rack.state().number("r1")
    rack.book("note", "dry", lambda state: [
        Step(puts=((number, state.boards[number].with_board(moisture=8.0)),))
    ])  # fmt: skip
    assert rack.state().boards[number].board.moisture == 8.0
    assert rack.state(before=2).boards[number].board.moisture is None
    assert [entry.kind for entry in rack.entries()] == ["add", "note"]
    assert check_rack(rack) == ()


def test_feet_that_came_lie_here_or_were_used_or_lost(rack):
    """60 x 6 in are 5/2 board feet; 24 x 6 in kept are 1, used 5/4, the rest 1/4."""
    put(rack, oak("R1"))
    rest = oak("R1 offcut 1", length=24 * 64)
    entry = rack.book(
        "cut", "t", lambda _: [Step(puts=((1, None), (None, rest)), used=Fraction(5, 4))]
    )
    assert (entry.came, entry.used, entry.lost) == (0, Fraction(5, 4), Fraction(1, 4))
    assert feet_of(rack.entries()) == (Fraction(5, 2), Fraction(5, 4), Fraction(1, 4))


def test_a_board_that_gives_more_than_its_tally_counts_brings_the_rest_in(rack):
    """A taper counts at a third: 8 to 4 in counts 5 1/3; wood beyond that is not lost."""
    taper = oak("T").with_board(width=8 * 64, width2=4 * 64)
    put(rack, taper)
    entry = rack.book("cut", "t", lambda _: [Step(puts=((1, None),), used=Fraction(5, 2))])
    assert taper.feet == Fraction(60 * 16, 3 * 144)
    assert (entry.came, entry.lost) == (Fraction(5, 2) - taper.feet, 0)
    assert check_rack(rack) == ()


def test_undo_goes_back_entry_by_entry_and_loses_no_history(rack):
    put(rack, oak("R1"))
    put(rack, oak("R2"))
    assert rack.undo("slip").undoes == 2
    assert [one.name for one in rack.state().boards.values()] == ["R1"]
    assert rack.undo("slip").undoes == 1
    assert rack.state().boards == {}
    with pytest.raises(InputError, match="no entry to take back"):
        rack.undo("slip")
    assert [entry.kind for entry in rack.entries()] == ["add", "add", "undo", "undo"]
    assert feet_of(rack.entries()) == (0, 0, 0)
    assert check_rack(rack) == ()


def test_two_boards_never_share_a_name_whatever_its_case(rack):
    put(rack, oak("R1"))
    for boards in ([oak("r1")], [oak("R2"), oak("R2")]):
        with pytest.raises(InputError, match="already: give this one another name"):
            put(rack, *boards)
    assert len(rack.entries()) == 1
    rack.book("gone", "t", lambda _: [Step(puts=((1, None),))])
    put(rack, oak("R1"))  # the first R1 is gone
    assert check_rack(rack) == ()


def test_a_board_without_a_size_or_with_a_mark_beside_it_is_refused(rack):
    beside = Mark(kind="knot", start=0, end=99_999, low=0, high=9)
    for one, rule in (
        (oak("A", length=0), "has no size"),
        (oak("A", marks=(beside,)), "lie"),
    ):
        with pytest.raises(InputError, match=rule):
            put(rack, one)
    assert rack.entries() == ()


def test_no_board_changes_twice_in_one_entry(rack):
    put(rack, oak("A"))
    with pytest.raises(InputError, match="twice in one entry"):
        rack.book("gone", "t", lambda _: [Step(puts=((1, None),))] * 2)
    assert len(rack.entries()) == 1


def test_an_entry_that_fails_half_way_leaves_nothing(rack):
    put(rack, oak("R1"))

    def decide(state):
        yield Step(puts=((None, oak("R2")),))
        raise InputError([])

    with pytest.raises(InputError):
        rack.book("add", "t", decide)
    assert len(rack.entries()) == 1
    put(rack, oak("R2"))


# --- files that are no rack -------------------------------------------------------------


def refused(path: Path) -> str:
    """What opening a file is refused with; the file and its folder stay as they were."""
    before = {file.name: file.read_bytes() for file in path.parent.iterdir()}
    with pytest.raises(InputError) as caught:
        open_rack(path, makes=True)
    assert {file.name: file.read_bytes() for file in path.parent.iterdir()} == before
    (fault,) = caught.value.faults
    return fault.rule


def made(path: Path, boards: int = 40) -> Path:
    """A rack with an entry per board."""
    with open_rack(path, makes=True) as rack:
        for n in range(boards):
            put(rack, oak(f"R{n}", note="x" * 200))
    return path


@pytest.mark.parametrize(
    "content", [b"", b"board,where\n", b"SQLite format 3\x00", b"\0" * 4096]
)
def test_a_file_that_is_no_database_is_refused_and_left(path, content):
    path.write_bytes(content)
    assert "not a rack" in refused(path)


@pytest.mark.parametrize("mode", ["DELETE", "WAL"])
def test_a_database_of_another_program_is_refused_and_left(path, mode):
    base = sqlite3.connect(path)
    base.execute(f"PRAGMA journal_mode = {mode}")
    base.execute("CREATE TABLE songs (name TEXT)")
    base.commit()
    base.close()
    assert refused(path) == "this is a database of another program, not a rack"


def test_a_rack_of_a_newer_version_is_refused_and_left(path):
    made(path)
    base = sqlite3.connect(path)
    base.execute(f"PRAGMA user_version = {rack_file.VERSION + 1}")
    base.close()
    assert "use the newer stavewright" in refused(path)


def test_a_rack_with_its_end_cut_off_is_refused_and_left(path):
    whole = made(path).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    assert "damaged" in refused(path)


@pytest.mark.parametrize("page", [1, 2, 5])
def test_a_rack_with_a_page_of_noise_is_refused_and_left(path, page):
    whole = bytearray(made(path).read_bytes())
    whole[page * 4096 : (page + 1) * 4096] = bytes(n * 37 % 251 for n in range(4096))
    path.write_bytes(bytes(whole))
    assert "damaged" in refused(path)


def test_one_letter_changed_in_an_entry_is_found(path):
    """SQLite finds nothing wrong with such a file; the seals do."""
    whole = made(path).read_bytes()
    assert whole.count(b'"name": "R7"') == 1
    path.write_bytes(whole.replace(b'"name": "R7"', b'"name": "R8"'))
    assert "entry 8 is not as it was booked" in refused(path)


@given(st.data())
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_byte_is_spoiled_the_rack_is_refused_or_says_the_same(tmp_path, data):
    """And the file is left as it is either way."""
    sound = tmp_path / "sound.sqlite"
    if not sound.exists():
        made(sound, boards=6)
    whole = bytearray(sound.read_bytes())
    at = data.draw(st.one_of(st.integers(0, 99), st.integers(0, len(whole) - 1)))
    whole[at] ^= data.draw(st.integers(1, 255))
    path = tmp_path / "spoiled" / "rack.sqlite"
    shutil.rmtree(path.parent, ignore_errors=True)
    path.parent.mkdir()
    path.write_bytes(bytes(whole))
    try:
        with open_rack(path) as rack, open_rack(sound) as other:
            assert rack.entries() == other.entries()
            assert check_rack(rack) == ()
    except InputError as error:
        event(error.faults[0].rule[:40])
    assert path.read_bytes() == bytes(whole)


def test_there_is_no_rack_until_something_is_put_there(path):
    with pytest.raises(InputError, match="no rack here yet"):
        open_rack(path)
    assert list(path.parent.iterdir()) == []


# --- ledgers that contradict themselves -------------------------------------------------

BREAKS = {
    "was not as it says": "UPDATE changes SET before = (SELECT after FROM changes WHERE"
    " entry = 1) WHERE entry = 2",
    "do not add up": "UPDATE entries SET came = '7/2' WHERE entry = 2",
    "two boards are called": "UPDATE changes SET after = (SELECT after FROM changes WHERE"
    " entry = 1) WHERE entry = 2",
    "should": "UPDATE entries SET entry = 9 WHERE entry = 4",
    "no other entry does": "UPDATE entries SET undoes = 1 WHERE entry = 2",
    "a second time": "UPDATE entries SET undoes = 3 WHERE entry = 5",
    "which is none before it": "UPDATE entries SET undoes = 5 WHERE entry = 4",
    "does not leave what was there": "UPDATE changes SET board = 2 WHERE entry = 4",
}  # fmt: skip


@pytest.mark.parametrize("fault", BREAKS)
def test_the_check_finds_an_entry_that_contradicts_the_others(path, fault):
    with open_rack(path, makes=True) as rack:
        put(rack, oak("R1"))
        put(rack, oak("R2", length=64 * 64))
        put(rack, oak("R3"))
        rack.undo("slip")
        rack.undo("slip")
        assert check_rack(rack) == ()
    base = sqlite3.connect(path)
    base.execute(BREAKS[fault])
    base.commit()
    with pytest.raises(InputError, match="not as it was booked"):
        open_rack(path)
    rack = Rack(path, base)  # past the seals, which found it already
    found = check_rack(rack)
    base.close()
    assert any(line.endswith(f"{fault}") or fault in line for line in found), found


# --- versions ---------------------------------------------------------------------------


def first_version(path: Path) -> None:
    """A rack as version 1 wrote it: with the same tables, but without seals."""
    made(path, boards=3)
    base = sqlite3.connect(path)
    base.execute("DROP INDEX changes_by_board")
    base.execute("ALTER TABLE entries DROP COLUMN seal")
    base.execute("PRAGMA user_version = 1")
    base.commit()
    base.execute("VACUUM")
    base.close()


def test_a_rack_of_version_1_is_brought_up_with_the_old_one_kept_beside_it(path):
    first_version(path)
    with open_rack(path) as rack:
        assert check_rack(rack) == ()
        assert len(rack.entries()) == 3
        put(rack, oak("R9"))
    kept = path.with_name("rack-version-1.sqlite")
    base = sqlite3.connect(kept)
    assert base.execute("PRAGMA user_version").fetchone() == (1,)
    assert base.execute("SELECT count(*) FROM entries").fetchone() == (3,)
    base.close()
    assert {file.name for file in path.parent.iterdir()} == {path.name, kept.name}


def test_a_kept_copy_is_never_written_over(path):
    kept = path.with_name("rack-version-1.sqlite")
    kept.write_bytes(b"precious")
    first_version(path)
    open_rack(path).close()
    assert kept.read_bytes() == b"precious"
    assert path.with_name("rack-version-1-2.sqlite").exists()


def test_a_step_that_fails_leaves_the_old_rack(path, monkeypatch):
    first_version(path)
    before = path.read_bytes()

    def fails(base):
        rack_file._add_seals(base)
        raise sqlite3.OperationalError("the disk is full")

    monkeypatch.setitem(rack_file._STEPS, 1, fails)
    with pytest.raises(InputError, match="the disk is full"):
        open_rack(path)
    assert path.read_bytes() == before


# --- where it lies ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("platform", "told", "place"),
    [
        ("linux", {"HOME": "/h/ann"}, "/h/ann/.local/share/stavewright/rack.sqlite"),
        ("linux", {"HOME": "/h/ann", "XDG_DATA_HOME": "/d"}, "/d/stavewright/rack.sqlite"),
        ("linux", {"HOME": "/h/ann", "XDG_DATA_HOME": "d"},
         "/h/ann/.local/share/stavewright/rack.sqlite"),
        ("darwin", {"HOME": "/h/ann"},
         "/h/ann/Library/Application Support/stavewright/rack.sqlite"),
        ("win32", {"HOME": "/h/ann", "LOCALAPPDATA": "/h/ann/AppData/Local"},
         "/h/ann/AppData/Local/stavewright/rack.sqlite"),
    ],
)  # fmt: skip
def test_the_usual_place_is_the_folder_for_data_of_the_platform(platform, told, place):
    assert usual_place(platform, told).as_posix() == place
