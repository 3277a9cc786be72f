"""What else a finished plan's maker may ask, in words: other yards, a spare board."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from nesting.alternatives import Alternative, Comparison
from nesting.spares import Spares
from reports.plaintext import money

_NAMED = 12  # boards, before the rest is only counted


@dataclass(frozen=True, kw_only=True, slots=True)
class Advice:
    """What was found out beside a plan; None where nothing was asked or time was short."""

    yards: Comparison | None = None
    spares: Spares | None = None


NO_ADVICE = Advice()


def yard_words(comparison: Comparison) -> str:
    """Return what the next best choice of yards would cost, in a sentence or two."""
    second = comparison.second
    parts = []
    if second is None or second.cost is None:
        parts.append("no other choice of yards was found that makes everything")
    else:
        more = second.cost - comparison.cost
        parts.append(
            f"next best is {kind_words(second)} ({buys_at(second)}): "
            f"{money(second.cost)}, {money(more)} more"
        )
    if comparison.is_best:
        parts.append("no other choice of yards costs less, that is proven")
    elif second is not None:
        parts.append(f"no plan {kind_words(second)} costs less than {money(second.bound)}")
    needed = [one.yard for one in comparison.others if one.cannot]
    parts += [f"nothing makes everything without {yard}" for yard in needed]
    return "; ".join(parts)


def kind_words(one: Alternative) -> str:
    """Return what sets a choice of yards apart from the plan's."""
    return f"without {one.yard}" if one.is_without else f"with {one.yard}"


def buys_at(one: Alternative) -> str:
    """Return where the cheapest plan of another choice of yards buys."""
    return f"buying at {_listed(one.yards)}" if one.yards else "from the rack alone"


def spare_words(spares: Spares) -> str:
    """Return which spare board is worth taking, and what no spare was found for."""
    worst = spares.worst
    parts = []
    if worst is not None:
        parts.append(
            f"{worst.by} from {worst.where}, {money(worst.extra)} more, could stand in for "
            f"{_listed(spares.stands_in, 'or')}"
        )
    if spares.at_hand:
        parts.append(f"the rack has a board for {_listed(spares.at_hand, 'or')}")
    if spares.far and worst is not None and worst.is_near:
        parts.append(f"only another yard has one for {_listed(spares.far, 'or')}")
    if spares.lost:
        parts.append(f"no single board left was found for {_listed(spares.lost, 'or')}")
    return "; ".join(parts)


def _listed(names: Iterable[str], last: str = "and") -> str:
    """Return names as a list in words; of many only the first."""
    names = tuple(names)
    if len(names) > _NAMED:
        names = (*names[:_NAMED], f"{len(names) - _NAMED} more")
    return f" {last} ".join([", ".join(names[:-1]), names[-1]]) if names[1:] else names[0]
