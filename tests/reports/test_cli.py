"""Commands, exit codes, error lines, Ctrl-C."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

import pytest

from nesting.plan import Plan, Shortage
from nesting.planfile import plan_from_json, plan_to_json
from nesting.project import Project
from nesting.solve import Progress, SolveParams
from reports import cli, watch
from reports.scenarios import copy_scenario
from stock.errors import Fault, InputError, VerificationError
from stock.measures import Unit
from tests.samples import bench_plan, bench_project, block_plan, inch

ROOT = Path(__file__).resolve().parents[2]
CALL = "import sys; from reports.cli import main; sys.exit(main())"

posix = pytest.mark.skipif(os.name == "nt", reason="signals and pipes of POSIX")


@dataclass(frozen=True)
class Result:
    """What a command left: its exit code and what it wrote."""

    exit_code: int
    stdout: str
    stderr: str


def run(*arguments: object) -> Result:
    """Run a command the way a shell would, but inside this process."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = cli.main([str(argument) for argument in arguments])
    return Result(code, out.getvalue(), err.getvalue())


class Shop:
    """A shop whose project and plan are the low bench of the samples, laid out by hand."""

    def __init__(self) -> None:
        self.project: Project | InputError = bench_project()
        self.plan: Plan | Exception = bench_plan()
        self.asked: list[SolveParams] = []

    def read(self, path: Path) -> Project:
        if isinstance(self.project, InputError):
            raise self.project
        return self.project

    def solve(self, project, params, on_progress, should_stop) -> Plan:
        self.asked.append(params)
        on_progress(Progress(0.1, "search", Decimal(106), Decimal(88), 0.2))
        if isinstance(self.plan, Exception):
            raise self.plan
        return self.plan


@pytest.fixture
def shop(monkeypatch, tmp_path) -> Shop:
    """The shop, in an empty folder that holds a project file `bench.xlsx`."""
    shop = Shop()
    monkeypatch.setattr(cli, "read_project", shop.read)
    monkeypatch.setattr(watch, "solve", shop.solve)
    monkeypatch.chdir(tmp_path)
    Path("bench.xlsx").write_bytes(b"stands for a workbook")
    return shop


def files() -> set[str]:
    """What lies in the current folder beside the project."""
    return {path.name for path in Path().iterdir()} - {"bench.xlsx"}


# --- plan -----------------------------------------------------------------------------


def test_a_complete_plan_leaves_with_0_and_writes_workbook_and_plan_file(shop):
    result = run("plan", "bench.xlsx", "--json", "bench.json")
    assert result.exit_code == 0
    assert files() == {"bench-plan.xlsx", "bench.json"}
    assert result.stdout.startswith("plan      Low bench: complete")
    assert result.stdout.endswith("written to bench-plan.xlsx and bench.json\n")
    text = Path("bench.json").read_text(encoding="utf-8")
    read = plan_from_json(text, Unit.INCH)
    assert [board.cuts for board in read.boards] == [b.cuts for b in bench_plan().boards]


def test_progress_goes_to_stderr_only(shop):
    result = run("plan", "bench.xlsx")
    assert "search" in result.stderr
    assert "search" not in result.stdout


def test_a_short_plan_leaves_with_1_and_is_written_all_the_same(shop):
    short = (Shortage(part="Leg", copy=1, why="no wood is left"),)
    shop.plan = replace(bench_plan(), status="short", short=short)
    result = run("plan", "bench.xlsx")
    assert result.exit_code == 1
    assert files() == {"bench-plan.xlsx"}
    assert "1 of Leg: no wood is left" in result.stdout


def test_a_faulty_project_leaves_with_2_and_a_line_per_fault(shop):
    shop.project = InputError(
        [
            Fault("Parts", 3, "qty", "a whole number is expected", "x"),
            Fault("Boards", None, None, "the sheet is missing"),
        ]
    )
    for command in ("plan", "check"):
        result = run(command, "bench.xlsx")
        assert result.exit_code == 2
        assert result.stdout == ""
        assert result.stderr.splitlines() == [
            "Parts, row 3, column 'qty': a whole number is expected, got 'x'",
            "Boards: the sheet is missing",
        ]
    assert files() == set()


def test_a_plan_that_fails_its_own_verification_leaves_with_3_and_writes_nothing(shop):
    shop.plan = VerificationError(["board 'Y1': pieces overlap"])
    result = run("plan", "bench.xlsx", "--json", "bench.json")
    assert result.exit_code == 3
    assert result.stderr.splitlines()[-2] == "board 'Y1': pieces overlap"
    assert "please report" in result.stderr.splitlines()[-1]
    assert files() == set()


def test_a_bug_is_not_mistaken_for_a_shortage(shop):
    shop.plan = ZeroDivisionError("a bug")
    result = run("plan", "bench.xlsx")
    assert result.exit_code == 70
    assert "Traceback" in result.stderr
    assert files() == set()


def test_options_reach_the_search_in_its_own_units(shop):
    run("plan", "bench.xlsx", "--time", "7", "--seed", "3", "--gap", "2")
    assert shop.asked == [SolveParams(seconds=7.0, seed=3, gap=0.02)]


def test_defaults_are_those_of_the_search(shop):
    run("plan", "bench.xlsx")
    assert shop.asked == [SolveParams()]


def test_the_workbook_of_a_folder_is_named_after_the_folder(shop):
    Path("low bench").mkdir()
    assert run("plan", "low bench").exit_code == 0
    assert files() == {"low bench", "low bench-plan.xlsx"}


def test_warnings_of_the_project_are_shown_beside_the_plan(shop):
    warning = Fault("Boards", 1, "widht", "unknown column; the nearest is 'width'")
    shop.project = replace(bench_project(), warnings=(warning,))
    result = run("plan", "bench.xlsx")
    assert f"note: {warning}" in result.stderr


@pytest.mark.parametrize(
    ("options", "reason"),
    [
        (("-o", "bench.xlsx"), "is the project itself and is not overwritten"),
        (("-o", "./bench.xlsx"), "is the project itself and is not overwritten"),
        (("-o", "plan.csv"), "ends in .xlsx"),
        (("--json", "parts.csv"), "ends in .json"),
        (("-o", "nowhere/plan.xlsx"), "its folder does not exist"),
    ],
)
def test_an_output_that_will_not_do_is_refused_before_the_search(shop, options, reason):
    result = run("plan", "bench.xlsx", *options)
    assert result.exit_code == 2
    assert reason in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert shop.asked == []
    assert Path("bench.xlsx").read_bytes() == b"stands for a workbook"


@pytest.mark.parametrize(
    "call",
    [
        ("plan",),
        ("plan", "not-there"),
        ("plan", "bench.xlsx", "--time", "nan"),
        ("plan", "bench.xlsx", "--time", "0"),
        ("plan", "bench.xlsx", "--time", "inf"),
        ("plan", "bench.xlsx", "--gap", "-1"),
        ("plan", "bench.xlsx", "--seed", "1.5"),
        ("plan", "bench.xlsx", "--unknown"),
        ("verify", "bench.xlsx"),
        ("demo", "no-such-demo"),
        ("unknown",),
    ],
)
def test_a_wrong_call_leaves_with_2_and_one_line(shop, call):
    result = run(*call)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "Traceback" not in result.stderr
    assert files() == set()


def test_a_folder_that_can_not_be_written_is_one_line(shop, monkeypatch):
    def refuse(*_args):
        raise PermissionError(13, "Permission denied", "bench-plan.xlsx")

    monkeypatch.setattr(cli, "write_workbook", refuse)
    result = run("plan", "bench.xlsx")
    assert result.exit_code == 2
    assert result.stderr.splitlines()[-1].endswith("'bench-plan.xlsx'")


# --- check ----------------------------------------------------------------------------


def test_check_shows_blanks_panels_and_net_wood(shop):
    result = run("check", "bench.xlsx")
    assert result.exit_code == 0
    text = result.stdout
    # rail: 40 + 1 in long, 3 + 1/4 in wide; seat: 48 + 1 in, net 14 + 1/2 in
    assert "Rail     1  41 x 3 1/4" in text
    assert "Seat     1  49      14 1/2" in text
    # net: (41 x 3 1/4 + 4 x 11 x 2 1/4 + 49 x 14 1/2) / 144 = 942.75 / 144 = 6.5; listed:
    # 23/3 + 25/12 + 5/2 = 12.25
    assert text.splitlines()[-1].split() == ["white", "oak", "4/4", "6.5", "12.2"]


def test_check_leaves_with_1_when_no_board_gives_a_part(shop):
    project = bench_project()
    long = tuple(
        replace(part, length=inch(120)) if part.name == "Rail" else part
        for part in project.parts
    )
    shop.project = replace(project, parts=long)
    result = run("check", "bench.xlsx")
    assert result.exit_code == 1
    assert "STOP: no listed wood gives\n1 of Rail: " in result.stdout
    assert files() == set()


def test_check_shows_warnings_among_its_results(shop):
    warning = Fault("Boards", 1, "widht", "unknown column; the nearest is 'width'")
    shop.project = replace(bench_project(), warnings=(warning,))
    result = run("check", "bench.xlsx")
    assert (result.exit_code, str(warning) in result.stdout) == (0, True)


# --- verify ---------------------------------------------------------------------------


def test_a_sound_plan_file_is_accepted(shop):
    Path("plan.json").write_text(plan_to_json(bench_plan()), encoding="utf-8")
    result = run("verify", "bench.xlsx", "plan.json")
    assert (result.exit_code, result.stderr) == (0, "")
    # boards Y1, Y2, R1; three staves, four legs, one rail
    assert result.stdout == "accepted: 3 boards, 8 pieces, 1 panel, cost 105.70\n"


def test_a_plan_file_that_breaks_rules_is_refused_with_a_line_each(shop):
    content = json.loads(plan_to_json(bench_plan()))
    content["boards"][0]["pieces"][2]["y"] = 0.0  # the rail onto the knot, off its rips
    Path("plan.json").write_text(json.dumps(content), encoding="utf-8")
    result = run("verify", "bench.xlsx", "plan.json")
    *broken, last = result.stdout.splitlines()
    assert result.exit_code == 1
    assert any("Rail 1" in line for line in broken)
    assert last == f"refused: {len(broken)} rules broken"


@pytest.mark.parametrize(
    "content", [b"{", b"[]", b"\xff\xfe", plan_to_json(block_plan()).encode()]
)
def test_a_file_that_is_no_plan_of_this_project_is_wrong_input(shop, content):
    Path("plan.json").write_bytes(content)
    result = run("verify", "bench.xlsx", "plan.json")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


# --- progress and Ctrl-C --------------------------------------------------------------


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def news(seconds: float, cost: int | None = 106, phase: str = "search") -> Progress:
    return Progress(seconds, phase, None if cost is None else Decimal(cost), None, None)


def test_a_terminal_sees_one_line_redrawn():
    stream = Terminal()
    line = watch.ProgressLine(stream)
    line.show(news(1, None))
    line.show(news(2))
    line.close()
    text = stream.getvalue()
    assert (text.count("\n"), text.count("\r")) == (1, 2)
    assert "cost 106.00" in text.split("\r")[-1]


def test_a_terminal_sees_time_go_by():
    stream = Terminal()
    line = watch.ProgressLine(stream)
    line.tick(0.5)  # nothing is known yet
    line.show(news(1))
    line.tick(3.5)
    assert [text.split()[0] for text in stream.getvalue().split("\r")[1:]] == ["1.0", "3.5"]


def test_a_shorter_line_wipes_out_a_longer_one():
    stream = Terminal()
    line = watch.ProgressLine(stream)
    line.show(news(1, 1_000_000))
    line.show(news(2, None))
    before, after = stream.getvalue().split("\r")[1:]
    assert len(after) >= len(before)


def test_a_word_between_starts_on_a_line_of_its_own():
    stream = Terminal()
    line = watch.ProgressLine(stream)
    line.show(news(1))
    line.say("stopping\n")
    assert stream.getvalue().splitlines()[-1] == "stopping"


def test_a_pipe_sees_a_line_per_phase_and_then_one_now_and_then():
    stream = io.StringIO()
    line = watch.ProgressLine(stream)
    for seconds in range(0, 24, 2):  # quiet for 10 s: seconds 0, 10 and 20 are shown
        line.show(news(seconds))
    line.show(news(24, phase="layout"))
    line.tick(30.0)
    line.tick(34.0)  # 10 s after the last line
    line.close()
    shown = [text.split()[0] for text in stream.getvalue().splitlines()]
    assert shown == ["0.0", "10.0", "20.0", "24.0", "34.0"]


def test_progress_names_cost_bound_and_gap():
    progress = Progress(3.0, "search", Decimal("105.70"), Decimal(88), 0.2)
    assert watch.progress_text(progress) == (
        "  3.0 s  cost 105.70  at least 88.00  gap 20.0 %  search"
    )


def test_progress_keeps_still_about_what_is_not_known():
    assert watch.progress_text(news(0.2, None)) == "  0.2 s  no plan yet  search"


SCRIPT = """
import sys, time
from pathlib import Path
from nesting.solve import Progress
from reports import cli, watch
from reports.scenarios import copy_scenario
from tests.samples import bench_plan, bench_project

def solve(project, params, on_progress, should_stop):
    on_progress(Progress(0.0, "ready", None, None, None))
    while not (should_stop() and {obeys}):
        time.sleep(0.02)
    return bench_plan()

watch.solve = solve
cli.read_project = lambda path: bench_project()
sys.exit(cli.main())
"""


def interrupted(folder: Path, times: int, *, obeys: bool) -> tuple[int, str]:
    """Plan in a process of its own, press Ctrl-C; return its exit code and stderr."""
    (folder / "bench.xlsx").write_bytes(b"")
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT.format(obeys=obeys), "plan", "bench.xlsx"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        watchdog = threading.Timer(60, process.kill)
        watchdog.start()
        assert process.stderr is not None
        lines = [process.stderr.readline()]  # ready: the search has begun
        for _ in range(times):
            process.send_signal(signal.SIGINT)
            lines.append(process.stderr.readline())
        lines.append(process.stderr.read())
        code = process.wait()
        watchdog.cancel()
    return code, "".join(lines)


@posix
def test_one_ctrl_c_keeps_the_best_plan(tmp_path):
    code, errors = interrupted(tmp_path, 1, obeys=True)
    assert code == 0
    assert "the best plan so far is kept" in errors
    assert (tmp_path / "bench-plan.xlsx").exists()


COMPARING = """
import sys, time
from nesting.solve import Progress
from reports import cli, watch
from tests.samples import bench_plan, bench_project

def compare(project, plan, params, on_progress, should_stop):
    on_progress(Progress(1.0, "comparing: without Hill yard", None, None, None))
    while not should_stop():
        time.sleep(0.02)
    return plan, None

watch.solve = lambda *_: bench_plan()
watch.compare = compare
cli.read_project = lambda path: bench_project()
sys.exit(cli.main())
"""


@posix
def test_ctrl_c_while_yards_are_compared_keeps_the_plan_and_leaves_them_out(tmp_path):
    (tmp_path / "bench.xlsx").write_bytes(b"")
    with subprocess.Popen(
        [sys.executable, "-c", COMPARING, "plan", "bench.xlsx"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        watchdog = threading.Timer(60, process.kill)
        watchdog.start()
        assert process.stderr is not None
        assert "comparing" in process.stderr.readline()
        process.send_signal(signal.SIGINT)
        out, errors = process.communicate()
        watchdog.cancel()
    assert process.returncode == 0, errors
    assert (tmp_path / "bench-plan.xlsx").exists()
    labels = [line.split()[0] for line in out.splitlines()]
    assert "plan" in labels
    assert not {"yards", "spare"} & set(labels)


@posix
def test_a_second_ctrl_c_gives_up_and_writes_nothing(tmp_path):
    code, errors = interrupted(tmp_path, 2, obeys=False)
    assert code == 130
    assert errors.splitlines()[-1] == "given up"
    assert {path.name for path in tmp_path.iterdir()} == {"bench.xlsx"}


@posix
def test_ctrl_c_is_heard_while_the_real_search_runs(tmp_path):
    copy_scenario("hall-bench", tmp_path)
    with subprocess.Popen(
        [sys.executable, "-c", CALL, "plan", "hall-bench", "--time", "120", "--gap", "0"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        watchdog = threading.Timer(100, process.kill)
        watchdog.start()
        assert process.stderr is not None
        process.stderr.readline()  # the search has begun
        time.sleep(4)
        process.send_signal(signal.SIGINT)
        errors = process.stderr.read()
        code = process.wait()
        watchdog.cancel()
    assert code in {0, 1}, errors
    assert (tmp_path / "hall-bench-plan.xlsx").exists()


def test_no_solver_takes_ctrl_c_for_itself():
    # CP-SAT does so unless told otherwise, and then aborts the process when it is run
    # beside the main thread (seen with ortools 9.15)
    for path in (ROOT / "nesting").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert text.count("CpSolver(") == text.count("catch_sigint_signal = False"), path


@posix
def test_a_reader_that_goes_away_is_no_shortage_of_wood():
    with subprocess.Popen(
        [
            sys.executable,
            "-c",
            CALL,
            "--help",
        ],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        errors = process.stderr.read()
        code = process.wait(timeout=60)
    assert (code, "Traceback" in errors) == (141, False)


# --- help -----------------------------------------------------------------------------


# --- movement -------------------------------------------------------------------------


def movement(*options: object) -> Result:
    return run("movement", *options)


def test_movement_answers_what_a_walnut_panel_does_over_the_year():
    # 70 F: 6.94 % at 35 % and 11.96 % at 65 % (Wood Handbook equation 4-5); walnut
    # tangential .00274 (its table 13-5): 18 x .00274 x 5.019 = 0.2475 in; half of it,
    # 0.124, up to the next 1/32 in is 1/8 in, all of it 1/4 in
    result = movement("--species", "WALNUT", "--width", 18, "--sawing", "plain",
                      "--from", 35, "--to", 65)  # fmt: skip
    assert result.exit_code == 0
    text = " ".join(result.stdout.split())
    assert "6.9 % at 35 % humidity, 12.0 % at 65 % (70 F)" in text
    assert "18 in becomes 0.248 in wider (about 1/4 in)" in text
    assert "slot 1/8 in longer than the screw is thick" in text
    assert "a gap of 1/8 in in the groove on each side, or of 1/4 in on one side" in text
    assert "width times coefficient times change of moisture" in text
    assert "coefficient 0.00274" in text
    assert "not verified" not in text
    # the defaults are those of the settings, which are the same figures
    assert (
        movement("--species", "walnut", "--width", "18 in", "--sawing", "plain") == result
    )


def test_movement_the_other_way_is_as_much_narrower():
    result = movement("--species", "walnut", "--width", 18, "--from", 65, "--to", 35)
    assert "18 in becomes 0.248 in narrower" in result.stdout
    still = movement("--species", "walnut", "--width", 18, "--from", 50, "--to", 50)
    assert "18 in stays as wide as it is" in still.stdout
    assert "slot" not in still.stdout


def test_movement_speaks_millimetres_and_counts_from_the_moisture_it_is_told():
    # 20 C: 12.0 % at 65 %, 7.0 % at 35 %; ash .00274: 450 x .00274 x 3.00 = 3.7 mm more
    # from 9 %, half of it to the next 0.5 mm is 2 mm; 200 of 450 mm x 6.21 is 2.8 mm
    result = movement("--species", "white ash", "--width", "45 cm", "--unit", "mm",
                      "--moisture", 9, "--distance", 200)  # fmt: skip
    text = " ".join(result.stdout.split())
    assert "450 mm becomes 6.21 mm wider" in text
    assert "slot 3 mm longer than the screw is thick, for one 200 mm from where" in text
    assert "fitted at 9 % moisture needs a gap of 2 mm in the groove on each side" in text
    assert "it can still shrink by 2.51 mm" in text
    assert "9 % moisture is what wood keeps at 48 % humidity" in text


def test_movement_of_wet_wood_needs_no_gap():
    result = movement("--species", "cherry", "--width", 9, "--moisture", 50)
    text = " ".join(result.stdout.split())
    assert "fitted at 50 % moisture needs no gap in its groove" in text
    assert "50 % is wetter than any air keeps it: let it dry first" in text


def test_movement_says_what_it_is_not_sure_of():
    text = " ".join(movement("--species", "tulipwood", "--width", 9).stdout.split())
    assert "the figures of this wood are not verified" in text
    assert "sawing not known: counted as the one that moves most" in text
    text = " ".join(movement("--species", "African mahogany", "--width", 9).stdout.split())
    assert "no coefficient is printed for this wood" in text
    text = " ".join(
        movement("--species", "cherry", "--width", 9, "--sawing", "rift", "--to", 95,
                 "--temperature", 60).stdout.split()
    )  # fmt: skip
    assert "rift-sawn: rings at 45 degrees" in text
    assert "general formula from the shrinkage" in text
    assert "above 85 % humidity the equation of moisture was not compared" in text


@pytest.mark.parametrize(
    ("options", "lines"),
    [
        (
            ("--species", "oak", "--width", 3),
            ["--species: this wood is not known: did you mean Oak, red (commercial group); "
             "Oak, white (commercial group); Oak, European?, got 'oak'"],
        ),
        (
            ("--species", "brass", "--width", "3x", "--distance", 0, "--from", 101,
             "--temperature", 10, "--moisture", "nan"),
            ["--species: this wood is not known, got 'brass'",
             "--width: unknown unit 'x': use in, ft, mm, cm or m, got '3x'",
             "--distance: a size is more than 0, got '0'",
             "--from: relative humidity is from 0 to 100 percent, got 101",
             "--temperature: the equation holds from 30 to 130 degrees F, got 10",
             "--moisture: a moisture content is from 0 to 200 percent, got 'nan'"],
        ),
        (
            ("--species", "cherry", "--width", 3, "--distance", 4),
            ["--distance: a fixing is no farther from there than the part is wide, "
             "got '4'"],
        ),
    ],
)  # fmt: skip
def test_a_question_that_can_not_be_answered_is_wrong_input_a_line_each(options, lines):
    result = movement(*options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == lines


def test_without_a_command_the_help_is_shown():
    result = run()
    assert result.exit_code == 0
    assert "stavewright demo" in result.stdout


def test_the_version_is_told():
    assert run("--version").stdout == f"stavewright {cli.version()}\n"


def test_the_module_runs_as_the_program_does(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "reports.cli", "check", "nowhere"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "nowhere" in done.stderr
