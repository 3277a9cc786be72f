"""A plan as about ten lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from nesting.plan import COMPLETE, CutBoard, Plan
from nesting.project import Project
from nesting.taken import Taken
from reports.advice import NO_ADVICE, Advice, spare_words, yard_words
from reports.carrying import Haul, hauls_for
from reports.carrying_words import advice_for
from reports.costs import price_for
from reports.damp import damp_words
from reports.from_offcuts import made_from_offcuts, not_from_offcuts
from reports.matching import set_words
from reports.nests import nest_lines
from reports.plaintext import counted, labelled, money, named, percent, wood
from reports.seasons import movers_worth_saying, season_words, seasons_for, size_words
from reports.tally_answer import back_words, missing_words, taken_words
from reports.thickness import thickness_words
from stock.boards import RACK

_SHOWN = 12  # parts that are short, before the rest is only counted


def summary(
    project: Project, plan: Plan, taken: Taken | None = None, advice: Advice = NO_ADVICE
) -> str:
    """Return what a maker asks first: what to buy, what it costs, how good it is.

    With what was `taken` at the yards it says what can go back, and what is missing.
    """
    return labelled((*_lines(project, plan, taken), *_advice(advice), *_notes(plan)))


def _lines(project: Project, plan: Plan, taken: Taken | None) -> Iterator[tuple[str, str]]:
    """Yield a label and a text per line, most wanted first."""
    yield "plan", _status(project, plan)
    yield from _shortages(plan)
    if taken:
        yield "tally", taken_words(taken)
        yield "put back", back_words(taken, plan)
        yield from (("missing", line) for line in missing_words(project, plan))
    yield from _shopping(plan)
    yield from _money(project, plan)
    hauls = hauls_for(project, plan)
    yield from _price(project, plan, hauls)
    advice = advice_for(project, hauls)
    yield from (("carry", f"{topic.lower()}: {words}") for topic, words in advice)
    yield "proven", _bound(project, plan)
    if plan.boards or not plan.sheets:
        yield "wood", _wood(project, plan)
    ways = thickness_words(project, plan)
    yield from (("thickness", f"{name}: {words}") for name, words in ways.items())
    yield from (("nests", line) for line in nest_lines(project, plan))
    yield "glue-ups", counted(len(plan.panels), "panel")
    yield from (("set", f"{one.name}: {set_words(one)}") for one in plan.sets)
    yield from _movement(project, plan)
    damp = damp_words(project, plan)
    yield from (("moisture", f"{topic.lower()}: {words}") for topic, words in damp)
    kept = sum(offcut.keep for board in plan.boards for offcut in board.offcuts)
    yield "offcuts", f"{kept} worth keeping"
    yield from _from_offcuts(project, plan)


def _advice(advice: Advice) -> Iterator[tuple[str, str]]:
    """Yield what other yards would cost, and the spare board worth taking."""
    if advice.yards is not None:
        yield "yards", yard_words(advice.yards)
    if advice.spares is not None:
        yield "spare", spare_words(advice.spares)


def _notes(plan: Plan) -> Iterator[tuple[str, str]]:
    yield from (("note", note) for note in plan.notes)


def _status(project: Project, plan: Plan) -> str:
    """Say whether everything is made."""
    left_out = sum(not_from_offcuts(project, plan).values())
    wanted = sum(part.copies for part in project.parts) - left_out
    if plan.status == COMPLETE:
        return f"{plan.project}: complete, {counted(wanted, 'piece')} to make"
    return (
        f"{plan.project}: SHORT, the wood at hand does not make "
        f"{len(plan.short)} of {counted(wanted, 'piece')}"
    )


def _shortages(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield the parts that are short, once per part and reason."""
    grouped: dict[tuple[str, str], list[int]] = {}
    for short in plan.short:
        grouped.setdefault((short.part, short.why), []).append(short.copy)
    for (part, why), copies in list(grouped.items())[:_SHOWN]:
        yield "short", f"{len(copies)} of {part}: {why}"
    if len(grouped) > _SHOWN:
        yield "short", f"and {len(grouped) - _SHOWN} more, listed in the workbook"


def _shopping(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield what to buy, a line per yard and kind, and what is taken from the rack."""
    if not any(board.bought for board in (*plan.boards, *plan.sheets)):
        yield "buy", "nothing"
    lines = (*_places(plan.boards, "board"), *_places(plan.sheets, "sheet"))
    yield from sorted(lines, key=lambda line: line[0])  # what to buy before the rack


def _places(boards: Iterable[CutBoard], kind: str) -> Iterator[tuple[str, str]]:
    """Yield the boards of one kind by place."""
    places: dict[str, list[str]] = {}
    for board in boards:
        places.setdefault(board.where if board.bought else RACK, []).append(board.board)
    for place, names in places.items():
        text = f"{counted(len(names), kind)}: {', '.join(names)}"
        yield ("rack", text) if place == RACK else ("buy", f"{place}: {text}")


def _from_offcuts(project: Project, plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield where the parts from offcuts come from, and which of them are not made."""
    made = made_from_offcuts(project, plan)
    for name in dict.fromkeys(part for part, _ in made):
        homes = [boards for (part, _), boards in made.items() if part == name]
        places = ", ".join(dict.fromkeys(homes))
        yield "left over", f"gives {len(homes)} of {name}: {places}"
    for (name, why), count in not_from_offcuts(project, plan).items():
        yield "not made", f"{count} of {name}, wanted from offcuts only: {why}"


def _money(project: Project, plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield what leaves the purse, and what the plan makes small."""
    totals = plan.totals
    extras = [
        f"{name} {money(amount)}"
        for name, amount in (("trips", totals.trips), ("smallest orders", totals.top_ups))
        if amount.is_finite() and amount
    ]
    of_which = f", of which {', '.join(extras)}" if extras else ""
    yield "to pay", money(totals.to_pay) + of_which
    if project.tariff.by_feet:
        yield "cost", f"{money(totals.cost)} board feet, less kept offcuts"
    else:
        yield (
            "cost",
            f"{money(totals.cost)} with owned wood {_or_nothing(totals.owned_wood)} and "
            f"sawing {_or_nothing(totals.sawing)}, "
            f"less kept offcuts {_or_nothing(totals.credit)}",
        )


def _price(
    project: Project, plan: Plan, hauls: Sequence[Haul]
) -> Iterator[tuple[str, str]]:
    """Yield what the whole project costs, if it says more than the cost of the wood."""
    price = price_for(project, plan, hauls)
    if not project.supplies and not project.shop.shop_rate and not price.further_trips:
        return
    less = (
        f", without {named(price.not_counted)}, amount not known"
        if price.not_counted
        else ""
    )
    further = (
        f" and further trips {money(price.further_trips)}" if price.further_trips else ""
    )
    yield (
        "price",
        f"{money(price.total)} for the whole project: to pay {money(price.paid)} with"
        f" supplies {money(price.supplies)}{less}{further}; owned wood"
        f" {money(price.owned)}; sawing {money(price.sawing)}. Less what goes back on the"
        f" rack {money(price.less_rack)}",
    )


def _or_nothing(amount: Decimal) -> str:
    """Return an amount, or that a plan file did not state it."""
    return money(amount) if amount.is_finite() else "(not stated)"


def _bound(project: Project, plan: Plan) -> str:
    """Say in plain words how good the plan is known to be."""
    totals = plan.totals
    what = "takes less than" if project.tariff.by_feet else "costs less than"
    if totals.gap is None:
        return "nothing: no useful lower bound was found"
    if totals.cost <= totals.bound:
        return "the best there is: no plan under the same cutting rules costs less"
    near = (
        f"is within {percent(totals.gap)} of that"
        if totals.gap < 1
        else f"is {1 + totals.gap:.1f} times that"
    )
    least = f"{what} {money(totals.bound)}"
    return f"no plan under the same cutting rules {least}; this one {near}"


def _movement(project: Project, plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield what the seasons do to the widest movers."""
    seasons = seasons_for(project.shop)
    most: dict[str, float] = {}
    for mover in movers_worth_saying(project, plan):
        most[mover.part.name] = max(most.get(mover.part.name, 0.0), mover.over(seasons))
    sizes = [f"{name} {size_words(size, project.unit)}" for name, size in most.items()]
    if sizes:
        yield "movement", f"across the grain {season_words(seasons)}: {named(sizes)}"


def _wood(project: Project, plan: Plan) -> str:
    """Say how much wood is bought and used, and how well."""
    totals = plan.totals
    return (
        f"{wood(totals.board_feet_bought, project.unit)} bought, "
        f"{wood(totals.board_feet_used, project.unit)} cut up, "
        f"{percent(totals.yield_)} of it ends in blanks"
    )
