"""Where a plan is written to, and where it must not be."""

from __future__ import annotations

import os
from pathlib import Path

from stock.errors import Fault, InputError


def default_workbook(project: Path, kind: str) -> Path:
    """Return the workbook of a kind that a project's results go to unless one is named.

    A plan made from a tally sheet is of a kind of its own: the sheet is a plan's workbook.
    """
    return Path(f"{_name(project)}-{kind}.xlsx")


def _name(project: Path) -> str:
    """Return the name of a project: its folder's, or its file's without the ending."""
    return project.resolve().name if project.is_dir() else project.stem


def refuse_outputs(
    project: Path, workbook: Path, json_file: Path | None, tally: Path | None = None
) -> None:
    """Refuse, before hours are spent, to write where a plan can't or mustn't go.

    That is over the project, or over the tally sheet that the plan is made from.

    Raises
    ------
    InputError
        With every fault of both files.
    """
    faults = _output_faults(project, workbook, ".xlsx")
    if json_file:
        faults += _output_faults(project, json_file, ".json")
    if tally and workbook.exists() and workbook.samefile(tally):
        rule = "is the tally sheet itself and is not overwritten: name another with -o"
        faults.append(Fault(str(workbook), None, None, rule))
    if faults:
        raise InputError(faults)


def refuse_output(output: Path, ending: str) -> None:
    """Refuse to write where a file of this kind can't go.

    Raises
    ------
    InputError
        With what speaks against it.
    """
    faults = _output_faults(None, output, ending)
    if faults:
        raise InputError(faults)


def _output_faults(project: Path | None, output: Path, ending: str) -> list[Fault]:
    """Return what speaks against writing to `output`."""
    if output.suffix.lower() != ending:
        rule = f"a file to write here ends in {ending}"
    elif output.is_dir():
        rule = "is a folder"
    elif project and output.exists() and output.samefile(project):
        rule = "is the project itself and is not overwritten"
    elif not output.absolute().parent.is_dir():
        rule = "its folder does not exist"
    elif not os.access(output.absolute().parent, os.W_OK):
        rule = "its folder can't be written to"
    else:
        return []
    return [Fault(str(output), None, None, rule)]
