"""What to mind about carrying the wood home, in words.

A vehicle's own manual and local law on overhang and tying down come before any of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.carrying import Carried
from nesting.project import Project
from reports.carrying import NOT_KNOWN, TOO_HEAVY, Haul, in_unit, weight_unit
from reports.plaintext import named
from stock.measures import Unit, format_measure

# Limits of vehicles and of the law differ: we only say where to look (common practice).
ON_THE_ROAD = (
    "The vehicle's manual says what it and its roof may carry, people and tools counted;"
    " local law says how far wood may stick out and how that is marked. Tie wood down so"
    " that it can't slide forward or lift, and lift heavy pieces with two people."
)


def advice_for(project: Project, hauls: Sequence[Haul]) -> Iterator[tuple[str, str]]:
    """Yield what to mind about carrying, as topic and words; nothing without a limit."""
    longest = project.shop.longest_carried
    limit = "" if longest is None else _size(longest, project.unit)
    long = [one for haul in hauls for one in haul.boards if one.is_too_long]
    if long:
        names = named(_long_words(one, project.unit) for one in long)
        yield (
            "Too long to carry",
            f"{names}: longer than the {limit} that can be carried, and no crosscut of the"
            " plan helps. Carry it otherwise, or take another board.",
        )
    cut = [cut_words(one, project.unit) for haul in hauls for one in haul.cut]
    if cut:
        yield (
            "Crosscut at the yard",
            f"{named(cut)}: longer than the {limit} that can be carried. Ask the yard to"
            " crosscut there, from the butt end: the plan cuts there anyway. See Buy.",
        )
    for haul in hauls:
        yield from _weights(project, haul)


def trips_words(haul: Haul, unit: Unit) -> str:
    """Say how many loads a yard's wood takes and what further trips cost."""
    if haul.loads is None or haul.most is None or haul.count < 2:
        return ""
    total = sum(item.grams or 0 for item in haul.items if item.load)
    words = (
        f"about {weight_words(total, unit)} go in {haul.count} loads of at most"
        f" {weight_words(haul.most, unit)}"
    )
    if haul.loads.least < haul.count:
        words += f" (maybe in fewer, but not in fewer than {haul.loads.least})"
    else:
        words += " (fewer don't do)"
    if haul.further_trips:
        words += (
            f". Each trip beyond the first costs its {float(haul.yard.trip_cost):,.2f}"
            f" again: {float(haul.further_trips):,.2f}, in the price of the project, not in"
            " the cost that the plan makes small"
        )
    return words


def weight_words(grams: int, unit: Unit) -> str:
    """Return a weight as words."""
    return f"{in_unit(grams, unit):,.0f} {weight_unit(unit)}"


def cut_words(one: Carried, unit: Unit) -> str:
    """Return a board and where it is crosscut at the yard, from its butt end."""
    places = ", ".join(format_measure(cut.at, unit, 64) for cut in one.cuts)
    return f"{one.board.board} at {places} {unit.value}"


def _weights(project: Project, haul: Haul) -> Iterator[tuple[str, str]]:
    """Yield what to mind about the weights of one yard's wood."""
    unit = project.unit
    heavy = [item for item in haul.items if item.remark == TOO_HEAVY]
    if heavy and haul.most is not None:
        words = [f"{one.board} ({weight_words(one.grams or 0, unit)})" for one in heavy]
        yield (
            "Too heavy to carry",
            f"{named(words)}: above the {weight_words(haul.most, unit)} of a load. Carry"
            " it otherwise, or take another board.",
        )
    unknown = [item.board for item in haul.items if item.remark == NOT_KNOWN]
    if unknown:
        yield (
            "Load not known",
            f"{named(unknown)}: no density is known, so no load counts them. Weigh them"
            f" at {haul.yard.name}.",
        )
    trips = trips_words(haul, unit)
    if trips:
        yield "More than one load", f"{haul.yard.name}: {trips}."


def _long_words(one: Carried, unit: Unit) -> str:
    """Return a board and the length of it that has to stay whole."""
    return f"{one.board.board} ({_size(one.section, unit)})"


def _size(steps: int, unit: Unit) -> str:
    """Return a length with its unit."""
    return f"{format_measure(steps, unit, 64)} {unit.value}"
