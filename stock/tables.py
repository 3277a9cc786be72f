"""Workbooks and CSV files to plain grids of cells, each with its row number.

Nothing is interpreted here. A cell that can't be trusted (a formula that was never
computed, an error value, a date) arrives as `Unusable`, with what to do about it.
"""

from __future__ import annotations

import csv
import datetime
import io
import warnings
import xml.etree.ElementTree as ET
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from stock.errors import Fault, InputError

MOST_ROWS = 100_000
MOST_BYTES = 300_000_000  # unpacked; a project is far below one megabyte

_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    ET.ParseError,
    InvalidFileException,
    ArithmeticError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    EOFError,
    RuntimeError,
    OSError,
)


@dataclass(frozen=True, slots=True)
class Unusable:
    """A cell whose content can't be taken as it is; `rule` says what would be right."""

    text: str
    rule: str

    def __str__(self) -> str:
        """Return what the cell shows."""
        return self.text


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet or CSV file: its rows that hold anything, numbered from 1.

    Attributes
    ----------
    source
        Title of the sheet or name of the file.
    title
        Name of the table: the title, or the file's name without its ending.
    is_text
        Whether it is a CSV file, where a stray cell means a row that was split wrongly.
    """

    source: str
    title: str
    rows: tuple[tuple[int, tuple[object, ...]], ...]
    is_text: bool


def read_grids(path: Path) -> tuple[Grid, ...]:
    """Return the sheets of a workbook, or the CSV files of a folder.

    Raises
    ------
    InputError
        If there is no such file, or it is no workbook and no folder of CSV files, or it
        can't be read, or is larger than any project.
    """
    if path.is_dir():
        return _folder(path)
    if not path.exists():
        raise _refusal(path.name, "there is no such file or folder", str(path))
    if path.suffix.lower() not in (".xlsx", ".xlsm"):
        raise _refusal(
            path.name,
            "a project is an .xlsx workbook, or a folder with parts.csv and other tables",
        )
    return _workbook(path)


def _folder(path: Path) -> tuple[Grid, ...]:
    """Read every CSV file of a folder; what is wrong with any is raised together."""
    files = sorted(file for file in path.iterdir() if file.suffix.lower() == ".csv")
    if not files:
        raise _refusal(
            path.name, "the folder holds no CSV file: it needs parts.csv at least"
        )
    grids: list[Grid] = []
    faults: list[Fault] = []
    for file in files:
        try:
            grids.append(read_csv(file))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return tuple(grids)


def read_csv(file: Path) -> Grid:
    """Return the table of one CSV file in UTF-8, cells parted by commas or semicolons.

    Raises
    ------
    InputError
        If it can't be read, or is no such table.
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise _refusal(
            file.name, "the file is not UTF-8 text: save it as 'CSV UTF-8'"
        ) from None
    except OSError as error:
        raise _refusal(file.name, f"the file can't be read ({error.strerror})") from None
    heading = text.partition("\n")[0]
    parting = ";" if heading.count(";") > heading.count(",") else ","
    try:
        records = enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=parting), 1)
        cells = (
            (number, tuple(cell.strip() or None for cell in row)) for number, row in records
        )
        rows = _filled(cells, file.name)
    except csv.Error as error:
        raise _refusal(file.name, f"the file is not a CSV table ({error})") from None
    return Grid(file.name, file.stem, rows, is_text=True)


def _workbook(path: Path) -> tuple[Grid, ...]:
    """Read every sheet of a workbook twice: the values, and the formulas behind them."""
    try:
        packed = path.read_bytes()  # openpyxl leaves files open when it fails
        _refuse_giants(packed, path.name)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of drop-downs and styles it does not know
            shown = openpyxl.load_workbook(
                io.BytesIO(packed), read_only=True, data_only=True
            )
            typed = openpyxl.load_workbook(io.BytesIO(packed), read_only=True)
            try:
                return tuple(
                    _sheet(sheet, typed[sheet.title]) for sheet in shown.worksheets
                )
            finally:
                shown.close()
                typed.close()
    except InputError:
        raise
    except _BROKEN as error:
        raise _refusal(
            path.name,
            "the file can't be read as an .xlsx workbook; if it has a password, take it "
            f"off, else save it again in a spreadsheet program ({type(error).__name__})",
        ) from None


def _refuse_giants(packed: bytes, name: str) -> None:
    """Refuse a packed file that would unpack to more than any project."""
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        if sum(entry.file_size for entry in archive.infolist()) > MOST_BYTES:
            raise _refusal(name, "the workbook is far larger than any project")


def _sheet(shown: Any, typed: Any) -> Grid:  # noqa: ANN401 (two kinds of openpyxl sheet)
    """Read one sheet; openpyxl's note of its extent is not trusted."""
    shown.reset_dimensions()
    typed.reset_dimensions()
    pairs = zip_longest(shown.iter_rows(), typed.iter_rows(), fillvalue=())
    cells = (
        (number, tuple(_cell(*pair) for pair in zip_longest(values, formulas)))
        for number, (values, formulas) in enumerate(pairs, 1)
    )
    return Grid(shown.title, shown.title, _filled(cells, shown.title), is_text=False)


def _filled(
    rows: Iterable[tuple[int, tuple[object, ...]]], source: str
) -> tuple[tuple[int, tuple[object, ...]], ...]:
    """Return the rows that hold anything; more than any project has are refused."""
    found = []
    for number, cells in rows:
        if any(cell is not None for cell in cells):
            found.append((number, cells))
        if len(found) > MOST_ROWS:
            raise _refusal(source, f"a table has at most {MOST_ROWS} rows")
    return tuple(found)


def _cell(shown: Any, typed: Any) -> object:  # noqa: ANN401 (several kinds of openpyxl cell)
    """Return the value of a cell, or why it can't be used."""
    value = shown.value if shown is not None else None
    kind = getattr(shown, "data_type", "n")
    if value is None:
        return _uncomputed(typed)
    if kind == "e":
        return Unusable(
            str(value), "the formula in this cell fails: mend it, or type the value"
        )
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        return Unusable(
            str(value),
            "the spreadsheet made a date of this: give the cell the format 'text' "
            "and type it again",
        )
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _percent(value, str(getattr(shown, "number_format", "")))
    return value


def _uncomputed(typed: Any) -> Unusable | None:  # noqa: ANN401
    """Return what is wrong with a cell that shows nothing: a formula never computed."""
    if getattr(typed, "data_type", "n") != "f":
        return None
    return Unusable(
        str(typed.value),
        "the formula in this cell has no result yet: "
        "open the workbook in a spreadsheet program and save it",
    )


def _percent(value: float, number_format: str) -> object:
    """Return a cell that shows percents as the text it shows; 0.1 may look like `10%`."""
    if "%" not in number_format:
        return value
    return f"{float(Fraction(repr(value)) * 100):g}%"


def _refusal(source: str, rule: str, got: str | None = None) -> InputError:
    """Return the error for a whole file."""
    return InputError([Fault(source, None, None, rule, got)])
