"""The demo projects that are shipped with the program; all of their wood is invented."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from stock.errors import Fault, InputError

FIRST_SCENARIO = "hall-bench"


def scenario_names() -> tuple[str, ...]:
    """Return the names of the shipped demo projects, in alphabetical order."""
    return tuple(sorted(folder.name for folder in _shelf().iterdir() if folder.is_dir()))


def copy_scenario(name: str, into: Path) -> Path:
    """Copy a demo project to the folder `into / name` and return that folder.

    Files that are there already and say the same are left alone, so that a demo may be
    run twice in one place.

    Raises
    ------
    InputError
        If a file of the same name says something else, or can't be read or written. No
        file is written then.
    """
    folder = into / name
    contents = {
        item.name: item.read_bytes()
        for item in sorted((_shelf() / name).iterdir(), key=lambda item: item.name)
        if item.is_file()
    }
    _refuse_others(folder, contents)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, content in contents.items():
            (folder / file).write_bytes(content)
    except OSError as problem:
        raise InputError(
            [_fault(folder, f"can't be written: {problem.strerror}")]
        ) from None
    return folder


def _refuse_others(folder: Path, contents: dict[str, bytes]) -> None:
    """Refuse to touch files that are not the demo's own."""
    faults = [
        _fault(
            folder / file,
            "is there already and differs from the demo's own: name another folder with "
            f"--into, or plan it as it is with: stavewright plan {folder}",
        )
        for file, content in contents.items()
        if _differs(folder / file, content)
    ]
    if faults:
        raise InputError(faults)


def _differs(path: Path, content: bytes) -> bool:
    """Whether something else than `content` stands at `path`."""
    if not path.exists():
        return False
    return not path.is_file() or path.read_bytes() != content


def _shelf() -> Traversable:
    """Return the folder of the demos inside the installed package."""
    return files("reports") / "demo"


def _fault(path: Path, rule: str) -> Fault:
    return Fault(str(path), None, None, rule)
