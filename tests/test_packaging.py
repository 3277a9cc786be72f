"""What an installation holds: every package, and every file that is no code."""

from __future__ import annotations

import tomllib
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PACKAGES = ("stock", "nesting", "reports")


def test_every_package_is_listed():
    found = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for package in PACKAGES
        for path in (ROOT / package).rglob("__init__.py")
    }
    assert set(PYPROJECT["tool"]["setuptools"]["packages"]) == found


def test_every_file_that_is_no_code_is_shipped():
    globs = PYPROJECT["tool"]["setuptools"]["package-data"]
    shipped = {
        path
        for package, patterns in globs.items()
        for pattern in patterns
        for path in (ROOT / package).glob(pattern)
    }
    data = {
        path
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.parent.name != "__pycache__" and path.suffix != ".py"
    }
    assert data - shipped == set()
    assert {path.name for path in shipped} >= {"parts.csv", "boards.csv", "README.md"}


def test_the_command_leads_to_a_function():
    module, _, name = PYPROJECT["project"]["scripts"]["stavewright"].partition(":")
    assert callable(getattr(import_module(module), name))


def test_every_library_that_is_imported_is_asked_for():
    needed = {"click", "openpyxl", "ortools", "pandas"}
    asked = {line.split(">")[0] for line in PYPROJECT["project"]["dependencies"]}
    assert needed <= asked


def test_the_licence_is_there():
    assert (ROOT / PYPROJECT["project"]["license-files"][0]).is_file()
