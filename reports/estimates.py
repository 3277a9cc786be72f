"""What to buy unseen, as text for the screen and as rows for the sheet."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.estimating import SHARES, Answer, Estimate
from nesting.project import Project
from reports.plaintext import SCREEN, aligned, money, percent, wood
from stock.addons import RULES, with_add_on
from stock.measures import BOARD_FEET_PER_M3, Unit

NEVER = "not from this"


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One source as it is shown; board feet, None where the piles do not reach.

    Attributes
    ----------
    shares
        Board feet that are enough for each of `SHARES`.
    buy
        What to buy for the shop's confidence: rounded up to whole board feet.
    error
        Standard error of the 90 % figure, in board feet.
    """

    yard: str
    source: str
    shares: tuple[Fraction | None, ...]
    buy: Fraction | None
    boards: int | None
    pay: Decimal | None
    error: float | None
    is_cheapest: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Bought:
    """A usual rule: what it would buy, and for which share of the piles that is enough."""

    name: str
    feet: Fraction
    enough: float


def line_of(project: Project, answer: Answer, one: Estimate) -> Line:
    """Return one estimate as a line."""
    confidence = project.shop.confidence
    feet, boards = one.feet_for(confidence), one.boards_for(confidence)
    buy = None if feet is None else Fraction(math.ceil(feet))
    return Line(
        yard=one.source.yard,
        source=one.source.label,
        shares=tuple(one.feet_for(share) for share in SHARES),
        buy=buy,
        boards=boards,
        pay=None if buy is None else Decimal(one.pay_for(buy)) / 100,
        error=one.error_at(90),
        is_cheapest=one is answer.cheapest,
    )


def bought_by_rules(one: Estimate) -> tuple[Bought, ...]:
    """Return what the usual rules would buy, the rack's own wood taken off."""
    found = []
    for rule in RULES:
        total = with_add_on(one.kind.feet, rule.percent)
        feet = max(Fraction(0), total - one.rack_feet)
        found.append(Bought(name=rule.name, feet=feet, enough=one.enough(feet)))
    return tuple(found)


def text_of(project: Project, answers: Sequence[Answer], *, piles: int) -> str:
    """Return the answer for the screen."""
    blocks = [_block(project, answer) for answer in answers]
    confidence = float(project.shop.confidence)
    words = (
        f"{piles} random piles per line; buy: enough in {confidence:g} % of them, rounded"
        " up; +-: standard error of the 90 % figure. In board feet, exact tally, what the"
        " rack gives taken off; cost with charges and tax, without trips."
    )
    if any(one.feet_for(95) is None for answer in answers for one in answer.estimates):
        words += " A dash: four times the net is not enough that often."
    blocks.append(textwrap.fill(words, SCREEN))
    return "\n\n".join(blocks)


def _block(project: Project, answer: Answer) -> str:
    """Return one kind of wood: its sources, and the usual rules beside the cheapest."""
    kind = answer.kind
    lines = [line_of(project, answer, one) for one in answer.estimates]
    head = ("yard", "grade", *(f"{s} %" for s in SHARES), "+-", "buy", "boards", "cost", "")
    rows = [
        (
            line.yard, line.source, *map(_feet, line.shares), _error(line.error),
            _feet(line.buy, 0), "-" if line.boards is None else str(line.boards),
            "-" if line.pay is None else money(line.pay),
            "cheapest" if line.is_cheapest else "",
        )
        for line in lines
    ]  # fmt: skip
    table = aligned(head, rows, {*head[2:-1]})
    title = f"{kind.label}: {wood(kind.feet, project.unit)} in the blanks"
    if answer.estimates[0].rack_feet:
        title += f", {wood(answer.estimates[0].rack_feet, project.unit)} on the rack"
    return "\n".join([title, table, *_advice(project, answer)])


def _advice(project: Project, answer: Answer) -> Iterator[str]:
    """Yield what to buy, and how the usual rules would have done."""
    one = answer.cheapest
    if one is None:
        yield "no grade on offer makes everything often enough: look at the boards first"
        return
    line = line_of(project, answer, one)
    yield advice(project, line)
    if line.buy:
        said = ", ".join(
            f"{bought.name} ({float(bought.feet):.0f} board feet) {percent(bought.enough)}"
            for bought in bought_by_rules(one)
        )
        words = f"the usual rules buy enough in this share of its piles: {said}"
        yield textwrap.fill(words, SCREEN)


def advice(project: Project, line: Line) -> str:
    """Return what to buy of a source, in words."""
    if not line.buy:
        return "buy nothing: the rack holds enough"
    return f"buy {amount(line.buy, project.unit)} of {line.source} at {line.yard}"


def amount(feet: Fraction | None, unit: Unit) -> str:
    """Return whole board feet in words, in a metric project in cubic metres too."""
    if feet is None:
        return NEVER
    text = f"{int(feet)} board feet"
    if unit is Unit.INCH:
        return text
    return f"{float(math.ceil(1000 * feet / BOARD_FEET_PER_M3)) / 1000:.3f} m3 ({text})"


def _feet(feet: Fraction | None, places: int = 1) -> str:
    return "-" if feet is None else f"{float(feet):.{places}f}"


def _error(error: float | None) -> str:
    return "-" if error is None else f"{error:.1f}"
