"""What can hurt somebody or spoil the work in this plan, and the order it matters in.

Points are general (safety notes of authorities, machine manuals, common practice); the
machine's manual, local law and a competent person's instruction come first. Limits: short
12 in / 300 mm and narrow 3/4 in / 20 mm and thin 1/4 in / 6 mm (manuals and a safety
authority differ; these are our choice from them); lifting 23 kg (NIOSH load constant).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from nesting.blanks import blanks_for
from nesting.parts import Part
from nesting.plan import Piece, Plan
from nesting.project import Project
from reports.carrying import Haul
from reports.carrying_words import ON_THE_ROAD, advice_for
from reports.clamping import schedule_for
from reports.damp import damp_words
from reports.glueups import KG_PER_LB, LIFT_KG, panel_name, spread_minutes, weight_kg
from reports.plaintext import named
from reports.seasons import RIGID, Mover, season_words, seasons_for, size_words
from stock.measures import Unit, format_measure, steps_per_unit

STOP, CHECK, NOTE = "STOP", "CHECK", "NOTE"
DRY_PERCENT = 8.0

Density = Callable[[str], float | None]


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to mind: how urgent, what about, what to do."""

    level: str
    topic: str
    words: str


def cautions_for(
    project: Project,
    plan: Plan,
    density: Density,
    hauls: Sequence[Haul] = (),
    movers: Sequence[Mover] = (),
) -> tuple[Caution, ...]:
    """Return the cautions that this plan gives rise to, gravest first.

    `density` gives kg/m3 of a species, or None for a wood it doesn't know. `hauls` is how
    the wood comes home, where the shop sets limits; `movers` are parts that move.
    """
    found = [
        *_short(plan),
        *_unproven(plan),
        *_short_pieces(project, plan),
        *_mixed_gangs(project, plan),
        *_narrow_pieces(project, plan),
        *_thin_parts(project, plan),
        *_heavy(project, plan, density),
        *_sheets(project, plan),
        *_templates(project, plan),
        *_wide_panels(project, plan),
        *_wide_pieces(project, plan),
        *_open_time(project, plan),
        *_few_clamps(project, plan, density),
        *_moisture(project, plan),
        *_damp(project, plan),
        *_held_rigid(project, movers),
        *_resawn(project, plan),
        *_windows(plan),
        *_nests(plan),
        *_layers(plan),
        *_marks(project, plan),
        *_carrying(project, hauls),
    ]
    grades = (STOP, CHECK, NOTE)
    return tuple(sorted(found, key=lambda one: grades.index(one.level)))


# Common practice; makers' manuals and safety authorities say the same, from memory.
SET_UP_RULES = (
    "Fence and mitre gauge are never used together, or the piece is caught between fence"
    " and blade. A stop for crosscuts stands on the gauge, or is a spacer on the fence that"
    " the piece has left before it meets the blade.",
    "Push stick or push block wherever a hand would come near the blade. No test piece, no"
    " part and no gang shorter than the shop machines safely; blade and knives stand still"
    " before anything is set or measured.",
)

STANDING = (
    Caution(
        NOTE, "First",
        "This report only plans cuts. The manual of each machine, local law and codes, and"
        " the instruction of a competent person come before anything written here. Work"
        " that the law reserves to licensed people is theirs.",
    ),
    Caution(
        NOTE, "Before the saw",
        "A flat face goes down on the table and a straight edge against the fence before"
        " any rip; nothing is ripped or crosscut freehand. Look for metal, loose knots,"
        " splits and wood under stress that closes on the blade.",
    ),
    Caution(
        NOTE, "Guards",
        "Ripping: hood guard, riving knife and the means against kickback that the manual"
        " names; push sticks near the blade. Planing: guards on both sides of the cutter.",
    ),
    Caution(
        NOTE, "Jointing and planing",
        "Stand clear of the line of kickback, work with the grain, take light cuts, never"
        " joint end grain; feed one thickness at a time through the planer. Dull or gummed"
        " knives and blades come off first.",
    ),
    Caution(NOTE, "Fence and stop", SET_UP_RULES[0]),
    Caution(
        NOTE, "Dust",
        "Hardwood dust can cause cancer (IARC group 1). Extraction at the machine and a"
        " respirator as local rules ask; no dry sweeping.",
    ),
    Caution(
        NOTE, "Eyes, ears, hands",
        "Eye and hearing protection; no gloves, loose sleeves or rings near turning"
        " cutters; unplug before changing a blade; don't work the machines alone.",
    ),
    Caution(
        NOTE, "Glue and finish",
        "Air and skin protection as the label says. Rags with oil finishes can catch fire"
        " by themselves: lay them out flat to dry, outdoors.",
    ),
)  # fmt: skip


def _short(plan: Plan) -> Iterator[Caution]:
    by_reason: dict[tuple[str, str], int] = {}
    for short in plan.short:
        by_reason[short.part, short.why] = by_reason.get((short.part, short.why), 0) + 1
    for (part, why), copies in by_reason.items():
        yield Caution(STOP, "Wood is short", f"{copies} of {part} can't be made: {why}")
    if plan.status == "short" and not plan.short:
        yield Caution(STOP, "Wood is short", "The wood at hand does not make everything.")


def _unproven(plan: Plan) -> Iterator[Caution]:
    if plan.totals.gap is None:
        words = "No useful lower bound was found, so how good this plan is isn't proven."
        yield Caution(CHECK, "Not proven", words)


def _short_pieces(project: Project, plan: Plan) -> Iterator[Caution]:
    limit = max(project.shop.shortest_machined, _size(project.unit, "12", 300))
    ganged = {name for cut in plan.boards for gang in cut.gangs for name in gang}
    short = [piece for piece in _lumber(plan) if piece.length < limit]
    alone = [piece.name for piece in short if piece.name not in ganged]
    size = _words(limit, project.unit)
    if alone:
        yield Caution(
            CHECK, "Short pieces",
            f"{named(alone)}: shorter than {size}. Mill a longer piece and cut to length"
            " afterwards, or find another way than jointer and planer; use push blocks.",
        )  # fmt: skip
    if ganged:
        yield Caution(
            NOTE, "Gangs",
            f"{named(sorted(ganged))}: too short to machine singly, so they stay in one"
            " length of wood until planed. Their last crosscuts come after planing.",
        )  # fmt: skip


def _mixed_gangs(project: Project, plan: Plan) -> Iterator[Caution]:
    """Yield the pieces that are thinner than the gang they are planed in."""
    thick = {blank.part: blank.thickness for blank in blanks_for(project)}
    sizes = {piece.name: thick.get(piece.part, 0) for piece in _lumber(plan)}
    thin = [
        name
        for cut in plan.boards
        for gang in cut.gangs
        for name in gang
        if sizes.get(name, 0) < max(sizes.get(other, 0) for other in gang)
    ]
    if thin:
        yield Caution(
            CHECK, "Gangs of two thicknesses",
            f"{named(thin)}: thinner than the rest of their gang, which is planed for the"
            " thickest. Cut apart, they may be too short for the planer: cut thicker ones"
            " off first if the rest stays long enough, or thin them another way.",
        )  # fmt: skip


def _narrow_pieces(project: Project, plan: Plan) -> Iterator[Caution]:
    limit = _size(project.unit, "3/4", 20)
    names = [piece.name for piece in _lumber(plan) if piece.width < limit]
    if names:
        yield Caution(
            CHECK, "Narrow rips",
            f"{named(names)}: narrower than {_words(limit, project.unit)}. Keep the wide"
            " part between blade and fence, or rip on a carrier made for it.",
        )  # fmt: skip


def _thin_parts(project: Project, plan: Plan) -> Iterator[Caution]:
    limit = _size(project.unit, "1/4", 6)
    made = {piece.part for piece in _lumber(plan)}
    names = [p.name for p in project.parts if p.name in made and p.thickness < limit]
    if names:
        yield Caution(
            CHECK, "Thin parts",
            f"{named(names)}: thinner than {_words(limit, project.unit)}. Too thin for"
            " most jointers and planers without a carrier; see the manuals.",
        )  # fmt: skip


def _heavy(project: Project, plan: Plan, density: Density) -> Iterator[Caution]:
    heavy, unknown = [], []
    for name, species, volume in _loads(project, plan):
        known = density(species)
        if known is None:
            unknown.append(species)
        elif (weight := weight_kg(volume, known, project.unit)) > LIFT_KG:
            heavy.append(f"{name} (about {weight_words(weight, project.unit)})")
    if heavy:
        limit = weight_words(LIFT_KG, project.unit)
        yield Caution(
            CHECK, "Heavy", f"{named(heavy)}: over {limit}. Lift with two people."
        )
    if unknown:
        words = f"No density is known for {named(unknown)}; weigh before lifting alone."
        yield Caution(NOTE, "Weight not known", words)


def _sheets(project: Project, plan: Plan) -> Iterator[Caution]:
    """Yield what to mind with whole sheets: large ones, their dust.

    Sheets from 60 in or 1500 mm on either side count as large (our choice; common practice
    asks for a helper with whole sheets).
    """
    limit = _size(project.unit, "60", 1500)
    large = [one.board for one in plan.sheets if max(one.length, one.width) >= limit]
    if large:
        yield Caution(
            CHECK, "Large sheets",
            f"{named(large)}: {_words(limit, project.unit)} or longer, too large to handle"
            " alone. Two people, and support beside and behind the saw; a sheet that sags"
            " or turns pinches the blade and is thrown back. Break it down with a guided"
            " saw on a flat bed if the table is small; the machine's manual goes first.",
        )  # fmt: skip
    if plan.sheets:
        yield Caution(
            NOTE, "Dust of sheet goods",
            "Fibreboard and plywood give fine dust with resin in it: extraction at the"
            " saw and the router and a respirator, as local rules and its maker's data"
            " ask.",
        )  # fmt: skip


def _templates(project: Project, plan: Plan) -> Iterator[Caution]:
    made = {piece.part for cut in plan.sheets for piece in cut.pieces}
    wanted = [f"{part.name} template" for part in project.parts if part.template]
    names = [name for name in wanted if name in made]
    if names:
        yield Caution(
            NOTE, "Templates",
            f"{named(names)}: the part's outline with a margin to clamp and guide by."
            " Shape and sand it before it guides a router, clamp work and template, feed"
            " against the cutter, and take light cuts; see the router's manual.",
        )  # fmt: skip


def weight_words(weight: float, unit: Unit) -> str:
    """Return a weight (kg) as words in the project's system."""
    return f"{weight:.0f} kg" if unit is Unit.MM else f"{weight / KG_PER_LB:.0f} lb"


def _loads(project: Project, plan: Plan) -> Iterator[tuple[str, str, float]]:
    """Yield what gets lifted whole: name, species, cubic grid steps."""
    boards = {board.name: board for board in project.boards}
    for cut in plan.boards:
        board = boards.get(cut.board)
        if board:
            area = cut.length * (cut.width + cut.width2) / 2
            thick = float(board.thickness.nominal) * steps_per_unit(project.unit)
            yield f"board {cut.board}", board.species, area * thick
    for panel in plan.panels:
        part = _part(project, panel.part)
        if part:
            volume = float(panel.length * panel.net_width * part.thickness)
            yield f"panel {panel_name(panel)}", part.species, volume


def _wide_panels(project: Project, plan: Plan) -> Iterator[Caution]:
    planer = project.shop.planer_width
    names = [panel_name(p) for p in plan.panels if p.net_width > planer]
    if names:
        yield Caution(
            CHECK, "Wide panels",
            f"{named(names)}: wider than the planer ({_words(planer, project.unit)}). Glue"
            " up in halves that fit and join them last, or flatten by hand or on a drum"
            " sander.",
        )  # fmt: skip


def _wide_pieces(project: Project, plan: Plan) -> Iterator[Caution]:
    jointer = project.shop.jointer_width
    names = [piece.name for piece in _lumber(plan) if piece.width > jointer]
    if names:
        yield Caution(
            CHECK, "Wide pieces",
            f"{named(names)}: wider than the jointer ({_words(jointer, project.unit)}) and"
            " can't be faced in one pass. Flatten on a planer sled or by hand; never take"
            " the guard off to gain width.",
        )  # fmt: skip


def _open_time(project: Project, plan: Plan) -> Iterator[Caution]:
    limit = float(project.shop.open_time)
    names = [panel_name(p) for p in plan.panels if spread_minutes(p, project.shop) > limit]
    if names:
        yield Caution(
            CHECK, "Open time",
            f"{named(names)}: spreading takes longer than the glue stays open"
            f" ({limit:.3g} min). Glue in the goes that the sheet Glue-ups lists.",
        )  # fmt: skip


def _few_clamps(project: Project, plan: Plan, density: Density) -> Iterator[Caution]:
    owned = project.shop.clamps_owned
    glueups = schedule_for(project, plan, density).glueups
    names = [one.name for one in glueups if one.clamps > owned]
    if names:
        yield Caution(
            CHECK, "Clamps",
            f"{named(names)}: more clamps than the shop owns ({float(owned):g}). What"
            " those do, and what would help, stands on the sheets Clamping and Glue-ups.",
        )  # fmt: skip


def _moisture(project: Project, plan: Plan) -> Iterator[Caution]:
    used = {cut.board for cut in plan.boards}
    wet = [
        f"{board.name} ({board.moisture:g} %)"
        for board in project.boards
        if board.name in used
        and board.moisture is not None
        and board.moisture > DRY_PERCENT
    ]
    if wet:
        yield Caution(
            CHECK, "Moisture",
            f"{named(wet)}: above the 6 to 8 % usual for furniture (Wood Handbook). Let"
            " it settle in the shop before milling and gluing.",
        )  # fmt: skip


def _damp(project: Project, plan: Plan) -> Iterator[Caution]:
    for topic, words in damp_words(project, plan):
        yield Caution(CHECK, topic, words)


def _held_rigid(project: Project, movers: Sequence[Mover]) -> Iterator[Caution]:
    """Yield wide parts that are held fast across the grain, and so can't move."""
    seasons = seasons_for(project.shop)
    for mover in movers:
        if mover.part.held != RIGID:
            continue
        width = _words(round(mover.width * steps_per_unit(project.unit)), project.unit)
        size = "an amount that is not known"
        if mover.coefficient is not None:
            size = f"about {size_words(mover.over(seasons), project.unit)}"
        yield Caution(
            CHECK, "Held rigid",
            f"{mover.part.name}: fast across all of its {width}, but it moves by {size}"
            f" {season_words(seasons)}. Wood held so may split, or push its joints apart."
            " Hold it at the middle or one edge and let the rest slide: slotted holes, or"
            " a groove without glue.",
        )  # fmt: skip


def _resawn(project: Project, plan: Plan) -> Iterator[Caution]:
    """Yield what to mind where wood is resawn: it stands tall, and leaves move."""
    pieces = [piece for piece in _lumber(plan) if piece.leaves > 1]
    if not pieces:
        return
    tall = _words(max(piece.width for piece in pieces), project.unit)
    short = _words(min(piece.length for piece in pieces), project.unit)
    words = (
        f"{named(piece.part for piece in pieces)}: pieces up to {tall} wide, from {short}"
        " long, are resawn on edge. Flatten one face and one edge first; a tall fence, the"
        " guard down to the wood, push blocks, and hands never in line with the blade: the"
        " wood can spring, pinch it or tip over. The shorter, narrower or taller a piece,"
        " the more so: where the saw's manual draws a line, use another method."
    )
    if project.shop.resaw_height is None:
        words += (
            " Nobody said how tall your saw is: check that it takes them, or set"
            " `resaw height`."
        )
    words += (
        " Fresh leaves move: let them settle with air on both faces before they are"
        " flattened and planed, and keep thin ones off the jointer."
    )
    yield Caution(CHECK, "Resawing", words)


def _windows(plan: Plan) -> Iterator[Caution]:
    """Yield what to mind where parts are cut from what comes out of windows."""
    names = [one.name for one in plan.from_windows]
    if names:
        yield Caution(
            CHECK, "From windows",
            f"{named(names)}: cut from what is sawn out of the window of another part, so"
            " small and of odd shape. Hold it in a jig or cut it by hand; it has no"
            " straight edge for a fence, and never goes freehand over a table saw. Start"
            " the window from a drilled hole and keep the saw to its line.",
        )  # fmt: skip


def _nests(plan: Plan) -> Iterator[Caution]:
    """Yield what to mind where copies are sawn out of one piece by their outlines."""
    parts = [piece.part for piece in _lumber(plan) if piece.nest]
    if parts:
        yield Caution(
            CHECK, "Nested copies",
            f"{named(parts)}: copies interlock in one piece, one saw cut apart. Dress it"
            " and do all joinery that needs straight edges first; lay the outlines out as"
            " drawn, then saw along the cut between them on the band saw, the piece flat"
            " on its table, and leave the lines to be cleaned up. Small copies are"
            " dangerous to hold at a machine once they are free: clean them up by hand or"
            " in a holder, as the machine's manual says.",
        )  # fmt: skip


def _layers(plan: Plan) -> Iterator[Caution]:
    parts = [
        piece.part for piece in _lumber(plan) if piece.role == "layer" or piece.layer > 1
    ]
    if parts:
        yield Caution(
            NOTE, "Layers",
            f"{named(parts)}: glued face to face. Dress the faces just before gluing and"
            " spread the clamps over the face. Resawing thick wood: a tall fence, a push"
            " block, and wood that has rested; it can spring and pinch the blade.",
        )  # fmt: skip


def _marks(project: Project, plan: Plan) -> Iterator[Caution]:
    used = {cut.board for cut in plan.boards}
    marked = [
        board.name
        for board in project.boards
        if board.name in used and any(mark.is_defect for mark in board.marks)
    ]
    if marked:
        yield Caution(
            NOTE, "Marked boards",
            f"{named(marked)}: knots and splits lie beside the cuts. Loose pieces can fly:"
            " knock out what is loose, and keep clear of the blade's line.",
        )  # fmt: skip


def _carrying(project: Project, hauls: Sequence[Haul]) -> Iterator[Caution]:
    for topic, words in advice_for(project, hauls):
        yield Caution(CHECK, topic, words)
    if hauls:
        yield Caution(NOTE, "On the road", ON_THE_ROAD)


def _lumber(plan: Plan) -> list[Piece]:
    """Return every piece cut from lumber (sheet goods have rules of their own)."""
    return [piece for cut in plan.boards for piece in cut.pieces]


def _part(project: Project, name: str) -> Part | None:
    """Return the part called `name`, or None."""
    return next((part for part in project.parts if part.name == name), None)


def _size(unit: Unit, inches: str, mm: int) -> int:
    """Return a limit in grid steps: the round figure of either system."""
    return int(Fraction(inches) * 64) if unit is Unit.INCH else mm * 10


def _words(size: int, unit: Unit) -> str:
    """Return a size with its unit."""
    return f"{format_measure(size, unit)} {unit.value}"
