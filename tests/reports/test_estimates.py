"""The estimate as a command: text, workbook with its chart, processes and a cluster."""

import io
import os
import subprocess
import sys
import zipfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from nesting.estimating import estimate
from nesting.project import read_project
from reports.cli import main
from reports.estimates import bought_by_rules, text_of
from reports.scenarios import copy_scenario
from reports.workbook import write_estimate

ROOT = Path(__file__).parents[2]
PARTS = """part,qty,length,width,thickness,species,build
Slat,6,40,4,3/4,red oak,solid
Top,1,45,16,3/4,red oak,panel
"""
PRICES = """yard,species,thickness,grade,price
A yard,red oak,4/4,FAS,9
A yard,red oak,4/4,1C,6
"""


@pytest.fixture
def folder(tmp_path):
    where = tmp_path / "bench"
    where.mkdir()
    (where / "parts.csv").write_text(PARTS)
    (where / "prices.csv").write_text(PRICES)
    (where / "yards.csv").write_text("yard\nA yard\n")
    return where


@pytest.fixture
def answers(folder):
    content = read_project(folder)
    with ThreadPoolExecutor(1) as pool:
        return content, estimate(content, pool, piles=20, seed=1)


def test_the_command_writes_a_workbook_and_says_what_to_buy(folder, tmp_path, capfd):
    out = tmp_path / "e.xlsx"
    code = main(
        ["estimate", str(folder), "-o", str(out), "--piles", "10", "--workers", "2"]
    )
    said = capfd.readouterr()
    assert code == 0
    assert "board feet of" in said.out
    assert "piles" in said.err
    assert openpyxl.load_workbook(out).sheetnames == ["Estimate", "Piles"]


def test_the_same_seed_says_the_same_with_any_number_of_workers(answers):
    content, first = answers
    with ThreadPoolExecutor(3) as pool:
        again = estimate(content, pool, piles=20, seed=1)
    assert text_of(content, first, piles=20) == text_of(content, again, piles=20)


def test_the_chart_is_native_and_points_at_the_figures(answers, tmp_path):
    content, found = answers
    path = tmp_path / "e.xlsx"
    write_estimate(path, content, found, piles=20)
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as book:
        charts = [name for name in book.namelist() if name.startswith("xl/charts/chart")]
        drawn = book.read(charts[0]).decode()
    assert len(charts) == len(found)
    assert "'Piles'!$B$" in drawn
    points = openpyxl.load_workbook(path)["Piles"]
    shown = [row[:2] for row in points.iter_rows(values_only=True) if row[0] in (50, 90)]
    one = found[0].estimates[0]
    assert shown == [(p, pytest.approx(float(one.feet_for(p)))) for p in (50, 90)]


def test_wood_that_the_rack_holds_needs_no_chart(folder, tmp_path):
    rack = "board,species,thickness,length,width\n"
    rack += "".join(f"R{n},red oak,4/4,144,10\n" for n in range(6))
    (folder / "boards.csv").write_text(rack)
    content = read_project(folder)
    with ThreadPoolExecutor(1) as pool:
        found = estimate(content, pool, piles=10, seed=1)
    path = tmp_path / "e.xlsx"
    write_estimate(path, content, found, piles=10)
    with zipfile.ZipFile(path) as book:
        assert not [name for name in book.namelist() if "charts/chart" in name]
    points = [row[0] for row in openpyxl.load_workbook(path)["Piles"].values]
    assert points[3] == "Nothing has to be bought: the rack holds enough."
    assert "buy nothing: the rack holds enough" in text_of(content, found, piles=10)


def test_figures_that_no_pile_reaches_are_dashes_and_said(answers):
    content, (found, *_) = answers
    text = " ".join(text_of(content, [found], piles=20).split())
    assert "+-: standard error of the 90 % figure" in text
    assert "A dash" not in text
    poor = replace(
        found.estimates[0],
        needs=tuple(replace(need, feet=None) for need in found.estimates[0].needs),
    )
    text = text_of(content, [replace(found, estimates=(poor,), cheapest=None)], piles=20)
    assert "A dash: four times the net is not enough that often." in " ".join(text.split())


def test_usual_rules_stand_beside_the_piles(answers):
    _, found = answers
    one = found[0].estimates[0]
    net = one.kind.feet
    bought = {bought.name: bought.feet for bought in bought_by_rules(one)}
    assert bought["half as much again"] == net * 3 / 2
    assert bought["twice the net"] == 2 * net
    shares = [bought.enough for bought in bought_by_rules(one)]
    assert shares == sorted(shares)


def test_no_price_list_is_an_error_that_says_what_to_add(folder, capsys):
    (folder / "prices.csv").write_text("yard,species,thickness,price\n")
    assert main(["estimate", str(folder), "--piles", "10"]) == 2
    assert "add a line that sells red oak 4/4, for Slat, Top" in capsys.readouterr().err


def test_a_cluster_that_does_not_answer_is_an_error(folder, tmp_path, capsys):
    code = main(
        ["estimate", str(folder), "-o", str(tmp_path / "e.xlsx"), "--cluster", "nowhere"]
    )
    assert code == 2
    assert "no Dask scheduler answers at nowhere" in capsys.readouterr().err


# In a process of its own: the cluster's threads and sockets outlive it for a while, which
# would fail whatever test runs then.
ON_A_CLUSTER = """
import sys
from distributed import LocalCluster
from reports.cli import main

if __name__ == "__main__":
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        code = main([*sys.argv[1:], "--cluster", cluster.scheduler_address])
    sys.exit(code)
"""


def test_a_local_cluster_gives_the_same_answer(folder, tmp_path, capfd):
    script = tmp_path / "on_a_cluster.py"
    script.write_text(ON_A_CLUSTER)
    command = [
        "estimate", str(folder), "-o", str(tmp_path / "e.xlsx"), "--piles", "10"
    ]  # fmt: skip
    there = subprocess.run(
        [sys.executable, str(script), *command], cwd=ROOT, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=240, check=False,
    )  # fmt: skip
    assert there.returncode == 0, there.stderr
    assert main([*command, "--workers", "1"]) == 0
    assert there.stdout == capfd.readouterr().out


def test_the_demo_is_estimated_from_its_price_list(tmp_path, capsys):
    folder = copy_scenario("wall-shelves", tmp_path)
    main(["estimate", str(folder), "-o", str(tmp_path / "e.xlsx"), "--piles", "10"])
    assert "white ash 27" in capsys.readouterr().out
