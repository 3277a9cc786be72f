"""Which package may lean on which: read from the imports themselves."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("stock", "nesting", "reports")
# What the verifier may know: the records, the plan file, and the wood.
RECORDS = {"goods", "parts", "plan", "planfile", "plannodes", "planreading", "project"}
FOREIGN = {"click", "numpy", "openpyxl", "ortools", "pandas", "PIL"}


def imports(path: Path) -> set[str]:
    """Full names of the modules a file imports, wherever in the file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            found |= {node.module or ""}
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def roots(path: Path) -> set[str]:
    return {name.partition(".")[0] for name in imports(path)}


def files(package: str) -> list[Path]:
    found = sorted((ROOT / package).rglob("*.py"))
    assert found
    return found


@pytest.mark.parametrize(
    ("package", "fenced"),
    [
        ("stock", {"nesting", "reports", *FOREIGN}),
        ("nesting", {"reports", "pandas", "click", "openpyxl", "PIL"}),
        ("reports", {"ortools"}),
    ],
)
def test_imports_run_one_way(package, fenced):
    """stock <- nesting <- reports; each of the large libraries stays in its layer."""
    reached = {
        (path.name, name) for path in files(package) for name in roots(path) & fenced
    }
    assert reached - {("tables.py", "openpyxl")} == set()


def test_spreadsheets_are_opened_by_one_file_of_stock():
    openers = [
        path.name for path in files("stock") if {"openpyxl", "defusedxml"} & roots(path)
    ]
    assert set(openers) <= {"tables.py"}


def test_the_verifier_knows_records_only():
    """Not the blanks, the problem or the solver, whose mistakes it would share."""
    verifiers = sorted((ROOT / "nesting").glob("verify*.py"))
    assert len(verifiers) > 1
    for path in verifiers:
        known = {
            name.split(".")[1] for name in imports(path) if name.startswith("nesting.")
        }
        strangers = {name for name in known - RECORDS if not name.startswith("verify")}
        assert strangers == set(), path.name
        assert roots(path) & FOREIGN == set(), path.name


def test_the_verifier_reckons_money_itself():
    for path in (ROOT / "nesting").glob("verify*.py"):
        text = path.read_text(encoding="utf-8")
        assert "tariff" not in text.lower(), path.name


def test_no_package_is_a_list_of_other_files_names():
    for package in PACKAGES:
        for path in (ROOT / package).rglob("__init__.py"):
            assert not imports(path), f"{path} re-exports"


TEXTS = (".py", ".md", ".toml", ".csv", ".yml", ".yaml", ".txt", ".cfg")
# A path of one machine: it stands at the start of a word, as a reader would type it.
MACHINE_PATH = re.compile(r"(?<![\w./])/(?:work|home|root|Users)/\w")


def test_no_file_names_a_path_of_one_machine():
    texts = [
        path
        for name in (*PACKAGES, "tests", "docs", "benchmarks")
        for path in (ROOT / name).rglob("*")
        if path.suffix in TEXTS
    ]
    texts += [path for path in ROOT.iterdir() if path.suffix in TEXTS]
    assert len(texts) > 20
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in texts
        for match in MACHINE_PATH.finditer(path.read_text(encoding="utf-8"))
    ]
    assert found == []
