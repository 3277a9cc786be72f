"""What the page of a panel says beside its drawing and its tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.parts import Part
from nesting.plan import PanelPlan
from nesting.shapes import resaw_thickness
from reports.cauls import caul_length, caul_pairs
from reports.cautions import weight_words
from reports.few_clamps import few_clamps
from reports.glueups import (
    LIFT_KG,
    MPA_PER_PSI,
    Clamping,
    glue_ml,
    panel_name,
    spread_minutes,
    weight_kg,
)
from reports.goes import goes_for, most_joints, parts_for_planer, stave_words
from reports.matching import panel_words, planing_words
from reports.plaintext import counted
from reports.seasons import seasons_for, size_words
from reports.sheets.cells import Cell, Row, text
from reports.sheets.content import Content
from stock.boards import Board
from stock.measures import Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class PanelPage:
    """One panel with all that its page tells; its staves are `thickness` grid steps."""

    content: Content
    panel: PanelPlan
    part: Part
    thickness: int
    clamping: Clamping
    sides: tuple[str, ...]
    boards: tuple[Board, ...]


def fact_rows(one: PanelPage) -> Iterator[Row]:
    """Yield what else the bench wants to know, two facts to a row."""
    yield Row(height=6)
    facts = list(_all_facts(one))
    half = -(-len(facts) // 2)
    for at in range(half):
        right = facts[at + half] if at + half < len(facts) else ("", "", "text")
        yield Row(cells=(*_fact(facts[at], 2, 5), *_fact(right, 1, 6)))


def _fact(fact: tuple[str, str, str], *spans: int) -> tuple[Cell, Cell]:
    """Return one fact as a label and its words."""
    label, words, style = fact
    return (text(label or None, "label", spans[0]), text(words or None, style, spans[1]))


def _all_facts(one: PanelPage) -> Iterator[tuple[str, str, str]]:
    """Yield label, words and style of each fact."""
    yield "match", match_words(one.part, one.boards), "text"
    yield from _season(one)
    if len(one.panel.staves) < 2:
        yield "joints", "none: the panel is one piece of wood", "text"
        yield from _weight(one)
        return
    if one.part.match in {"book", "slip"}:
        yield "if resawn", _leaf_words(one), "text"
    yield "likeness", panel_words(one.panel), "text"
    yield "side up", _side_words(one), "text"
    yield "planing", planing_words(one.panel), "text"
    words = "draw it across the dry staves, apex on stave 1, before gluing"
    yield "triangle", words, "text"
    yield _clamps(one)
    yield "pressure", _pressure_words(one.clamping, one.content.unit), "text"
    yield "cauls", _caul_words(one), "text"
    yield "glue", _glue_words(one), "text"
    yield _open_time(one)
    yield "batch", _batch_words(one), "text"
    yield from _planer(one)
    yield from _weight(one)


def _season(one: PanelPage) -> Iterator[tuple[str, str, str]]:
    """Yield how far the panel moves over the year, if that is known."""
    content = one.content
    seasons = seasons_for(content.project.shop)
    known = [
        mover.over(seasons) for mover in content.movers
        if mover.part.name == one.part.name and mover.coefficient is not None
    ]  # fmt: skip
    if known:
        upto = "up to " if len(known) > 1 else ""
        size = size_words(max(known), content.unit)
        words = f"{upto}{size} wider in the dampest season than in the driest"
        yield "season", f"{words}: see the sheet Movement", "text"


def _clamps(one: PanelPage) -> tuple[str, str, str]:
    """Return how many clamps, why, and what to do with fewer."""
    content, clamping, shop = one.content, one.clamping, one.content.project.shop
    apart = content.size(clamping.spacing)
    words = f"{len(clamping.clamps)}: {clamping.by_spacing} to stand {apart} apart at most,"
    words += f" {clamping.by_pressure} for the pressure; each must open over"
    words += f" {content.size(one.panel.net_width)}"
    if len(clamping.clamps) <= shop.clamps_owned:
        return "clamps", words, "text"
    density = content.density(one.part.species)
    advice = few_clamps(one.panel, one.thickness, density, shop)
    words += f". CHECK: the shop owns {float(shop.clamps_owned):g}. {advice}"
    return "clamps", words, "check"


def _caul_words(one: PanelPage) -> str:
    """Return how many cauls of which length."""
    shop = one.content.project.shop
    pairs = caul_pairs(one.panel.length, shop.unit)
    size = one.content.size(caul_length(one.panel, shop))
    return f"{counted(pairs, 'pair')}, {size} long or longer: see the sheet Clamping"


def _glue_words(one: PanelPage) -> str:
    """Return the glue of all joints, and of one."""
    joints = len(one.panel.staves) - 1
    glue = glue_ml(one.panel, one.thickness, one.content.unit)
    if joints == 1:
        return f"about {glue:.1f} ml for the one joint"
    return f"about {glue:.0f} ml: {glue / joints:.1f} ml for each of {joints} joints"


def _open_time(one: PanelPage) -> tuple[str, str, str]:
    """Return whether the glue stays open long enough, and which goes to glue in if not."""
    shop, panel = one.content.project.shop, one.panel
    minutes, limit = spread_minutes(panel, shop), float(shop.open_time)
    joints = counted(len(panel.staves) - 1, "joint")
    takes = "take" if len(panel.staves) > 2 else "takes"
    words = f"{joints} {takes} {minutes:.1f} min to spread; open {limit:.3g} min"
    if minutes <= limit:
        return "open time", words, "text"
    return "open time", f"CHECK: {words}. {_goes_words(one)}", "check"


def _goes_words(one: PanelPage) -> str:
    """Return the goes that the open time allows, or that none is."""
    shop = one.content.project.shop
    most = most_joints(shop)
    if most < 1:
        return "Not even one joint can be spread in that time: take a slower glue"
    goes = goes_for(one.panel, shop, panel_name(one.panel))
    words = f"Glue in {len(goes)} goes, {counted(most, 'joint')} at most in each:"
    for go in goes[:-1]:
        fits = go.panel.net_width <= shop.planer_width
        wide = one.content.size(go.panel.net_width)
        words += f" {stave_words(go.staves)} ({wide} wide"
        words += ");" if fits else ", too wide for the planer);"
    return f"{words} last of all join these"


def _batch_words(one: PanelPage) -> str:
    """Return when the panel is in clamps, and with what."""
    schedule, name = one.content.schedule, panel_name(one.panel)
    batch = schedule.batch_of(name)
    if batch is None:
        return "see the sheet Clamping"
    others = [other.name for other in batch.glueups if other.name != name]
    words = f"{batch.number} of {len(schedule.batches)}"
    return f"{words}, with {'; '.join(others)}" if others else f"{words}, alone"


def _planer(one: PanelPage) -> Iterator[tuple[str, str, str]]:
    """Yield what to do with a panel that is wider than the planer."""
    content, panel = one.content, one.panel
    planer = content.project.shop.planer_width
    if panel.net_width <= planer:
        return
    words = f"CHECK: wider than the planer ({content.size(planer)}): flatten by hand or on"
    words += " a drum sander"
    parts = parts_for_planer(panel, planer)
    if parts:
        listed = ", ".join(map(stave_words, parts))
        words += f", or glue {listed} first, plane them, and join them last"
    yield "planer", words, "check"


def _leaf_words(one: PanelPage) -> str:
    """Return how thick the wood is that two leaves are resawn from."""
    content, shop = one.content, one.content.project.shop
    thick = resaw_thickness(2, one.thickness, shop.resaw_allowance, shop.kerf)
    leaf = content.size(one.thickness)
    return f"two leaves of {leaf} come from wood {content.size(thick)} thick"


def _side_words(one: PanelPage) -> str:
    """Return who says which side of a stave goes up."""
    if all(stave.face for stave in one.panel.staves):
        return "as the plan says"
    if set(one.sides) == {"any"}:
        return "any: look for the better face"
    return f"suggested by the shop's habit ({one.content.project.shop.ring})"


def _pressure_words(clamping: Clamping, unit: Unit) -> str:
    """Return the pressure on a joint in the project's system."""
    psi = clamping.pressure
    figure = f"{psi} psi" if unit is Unit.INCH else f"{psi * MPA_PER_PSI:.1f} MPa"
    return f"{figure} is usual for this wood; thin, well-fitted joints do with less"


def _weight(one: PanelPage) -> Iterator[tuple[str, str, str]]:
    """Yield the weight of the glued blank, if the wood is known."""
    density = one.content.density(one.part.species)
    if density is None:
        yield "weight", f"not known for {one.part.species}", "text"
        return
    unit = one.content.unit
    volume = float(one.panel.length * one.panel.net_width * one.part.thickness)
    weight = weight_kg(volume, density, unit)
    words = f"about {weight_words(weight, unit)} when planed"
    heavy = weight > LIFT_KG
    yield "weight", words + (": two people" if heavy else ""), "check" if heavy else "text"


def match_words(part: Part, boards: Sequence[Board]) -> str:
    """Return how the staves of a panel relate, asked and got."""
    names = list(dict.fromkeys(board.name for board in boards))
    logs = {board.log for board in boards}
    if len(names) == 1:
        got = f"all from board {names[0]}"
    elif len(logs) == 1:
        got = f"boards {', '.join(names)}, all of {next(iter(logs))}"
    else:
        got = f"boards {', '.join(names)}"
    asked = f"asked: {part.match}; " if part.match != "none" else ""
    in_set = f"; set {part.set}" if part.set else ""
    return f"{asked}{got}{in_set}"
