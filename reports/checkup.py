"""What a project asks for before anything is planned: blanks, panels, wood, misfits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from nesting.blanks import Blank
from nesting.fitting import net_feet
from nesting.parts import Part
from nesting.plan import Shortage
from nesting.project import Project
from reports.plaintext import aligned, counted
from stock.boards import Thickness, board_feet
from stock.measures import BOARD_FEET_PER_M3, Unit, format_measure


def checkup(project: Project, blanks: tuple[Blank, ...], lost: tuple[Shortage, ...]) -> str:
    """Return the tables of a check as text, an empty line between them."""
    return "\n\n".join(_tables(project, blanks, lost))


def _tables(
    project: Project, blanks: tuple[Blank, ...], lost: tuple[Shortage, ...]
) -> Iterator[str]:
    """Yield the tables that have something to say."""
    yield _headline(project)
    if project.warnings:
        yield "\n".join(["Warnings", *map(str, project.warnings)])
    lumber = [blank for blank in blanks if not blank.is_sheet]
    solid = [blank for blank in lumber if not blank.is_panel]
    panels = [blank for blank in lumber if blank.is_panel]
    sheets = [blank for blank in blanks if blank.is_sheet]
    unit = project.unit.value
    if solid:
        yield f"Blanks (rough, {unit}; length with the grain)\n" + _solid(project, solid)
    if panels:
        yield f"Panels to glue up ({unit})\n" + _panels(project, panels)
    if sheets:
        yield f"From sheet goods ({unit})\n" + _sheets(project, sheets)
    if lumber:
        yield "Wood in blanks, nothing wasted yet\n" + _wood(project, lumber)
    if lost:
        yield "STOP: no listed wood gives\n" + _lost(lost)


def _headline(project: Project) -> str:
    pieces = sum(part.copies for part in project.parts)
    places = len({board.where for board in project.boards})
    return (
        f"{project.name}: {counted(len(project.parts), 'part')}, "
        f"{counted(pieces, 'piece')} to make; {counted(len(project.boards), 'board')} "
        f"in {counted(places, 'place')}"
    )


def _solid(project: Project, blanks: Iterable[Blank]) -> str:
    """Lay out the blanks that are one piece of wood."""
    rows = []
    for blank in blanks:
        part = project.part(blank.part)
        ways = " or ".join(
            f"{_size(project, length)} x {_size(project, width)}"
            for length, width in blank.sizes
        )
        remarks = _remarks(part, blank)
        rows.append(
            (part.name, str(blank.units), ways, _size(project, blank.thickness),
             part.species, remarks)
        )  # fmt: skip
    heads = ("part", "make", "length x width", "dress to", "species", "remarks")
    return aligned(heads, rows, numbers=("make",))


def _panels(project: Project, blanks: Iterable[Blank]) -> str:
    """Lay out the blanks that are glued up from staves."""
    rows = []
    for blank in blanks:
        part = project.part(blank.part)
        length, net = blank.sizes[0]
        limits = f"{_size(project, blank.stave_low)} to {_size(project, blank.stave_high)}"
        rows.append(
            (part.name, str(blank.units), _size(project, length), _size(project, net),
             limits, _size(project, blank.thickness), part.species, _remarks(part, blank))
        )  # fmt: skip
    heads = (
        "part", "make", "length", "net width", "staves, rough", "dress to", "species",
        "remarks",
    )  # fmt: skip
    return aligned(heads, rows, numbers=("make",))


def _sheets(project: Project, blanks: Iterable[Blank]) -> str:
    """Lay out what is cut from sheet goods."""
    rows = []
    for blank in blanks:
        length, width = blank.sizes[0]
        sizes = f"{_size(project, length)} x {_size(project, width)}"
        rows.append((blank.part, str(blank.units), sizes, project.part(blank.part).species))
    return aligned(("part", "make", "length x width", "sheet"), rows, numbers=("make",))


def _wood(project: Project, blanks: Iterable[Blank]) -> str:
    """Lay out net and listed wood by species and thickness."""
    net = net_feet(project, blanks)
    listed: dict[tuple[str, Thickness], Fraction] = {}
    for board in project.boards:
        key = (board.species, board.thickness)
        listed[key] = listed.get(key, Fraction(0)) + board_feet(board, project.unit)
    wanted = {species for species, _ in net}
    rows = [
        (
            key[0],
            key[1].label,
            _feet(project, net.get(key)),
            _feet(project, listed.get(key)),
        )
        for key in sorted({*net, *listed})
        if key[0] in wanted
    ]
    unit = "bd ft" if project.unit is Unit.INCH else "m3"
    heads = ("species", "thickness", f"net {unit}", f"listed {unit}")
    return aligned(heads, rows, numbers=heads[1:])


def _feet(project: Project, feet: Fraction | None) -> str:
    """Return an amount of wood as the project counts it, or a dash for none."""
    if feet is None:
        return "-"
    if project.unit is Unit.INCH:
        return f"{float(feet):.1f}"
    return f"{float(feet / BOARD_FEET_PER_M3):.3f}"


def _lost(lost: Iterable[Shortage]) -> str:
    """Lay out what no board gives, once per part."""
    grouped: dict[tuple[str, str], int] = {}
    for short in lost:
        grouped[short.part, short.why] = grouped.get((short.part, short.why), 0) + 1
    return "\n".join(f"{count} of {part}: {why}" for (part, why), count in grouped.items())


def _remarks(part: Part, blank: Blank) -> str:
    """Say what narrows the choice of wood, and what changes the work."""
    words = [
        part.face,
        "/".join(part.sawing),
        part.figure or "",
        f"{blank.layers} layers to a part" if blank.layers > 1 else "",
        f"match {part.match}" if part.match != "none" else "",
        f"set {part.set}" if part.set else "",
        "stays ganged until planed" if blank.is_short else "",
        "from offcuts only" if part.source == "offcut" else "",
    ]
    return ", ".join(word for word in words if word)


def _size(project: Project, steps: int) -> str:
    return format_measure(steps, project.unit, 64)
