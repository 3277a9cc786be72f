"""The sheet of what to buy unseen, with a chart of confidence against board feet."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.legend import Legend
from openpyxl.workbook import Workbook

from nesting.estimating import SHARES, Answer
from nesting.project import Project
from reports.cautions import STANDING
from reports.estimates import NEVER, Line, advice, bought_by_rules, line_of
from reports.sheets.cells import (
    HEAD,
    HEADING,
    SUBTITLE,
    Cell,
    Row,
    head_row,
    heading_row,
    text,
)
from reports.sheets.notes import add_cautions
from reports.sheets.page import Page

STEPS = tuple(range(5, 100, 5))  # percent at which the chart has its points
CHART_ROWS = 17  # rows of 15 points that a chart covers

_WIDTHS = (22.0, 20, 9, 9, 9, 9, 11, 9, 9, 12, 14)
_COLOURS = ("1E1B18", "8C2F1B", "6B645C", "C4A05A", "5A7F9C", "8FAF8B")
_DASHES = ("solid", "dash", "sysDot", "dashDot", "lgDash", "sysDash")


def estimate_page(project: Project, answers: Sequence[Answer], *, piles: int) -> Page:
    """Describe the sheet; `names` tells the row where each kind's chart goes."""
    page = Page(name="Estimate", widths=_WIDTHS, frozen=2)
    confidence = float(project.shop.confidence)
    page.top(
        "What to buy unseen",
        f"{piles} random piles per line of the price lists, in board feet by the exact"
        f" tally. Buy: enough in {confidence:g} % of the piles, rounded up.",
    )
    for number, answer in enumerate(answers):
        _add_kind(page, project, answer, number)
    _add_notes(page)
    add_cautions(page, "At every job", STANDING)
    return page


def points_page(answers: Sequence[Answer]) -> Page:
    """Describe the sheet that the charts take their points from."""
    widest = max(len(answer.estimates) for answer in answers)
    page = Page(name="Piles", widths=(14.0, *([16.0] * max(2, widest))), frozen=2)
    page.top("Piles", "Board feet that are enough for a share of the piles, per source.")
    for number, answer in enumerate(answers):
        page.heading(answer.kind.label)
        if not _is_bought(answer):
            page.paragraph("Nothing has to be bought: the rack holds enough.", "plain bold")
            continue
        names = [f"{one.source.yard}, {one.source.label}" for one in answer.estimates]
        page.put(head_row("percent", *names, height=HEAD))
        page.names[f"head {number}"] = len(page.rows)
        for share in STEPS:
            page.add(
                Cell(value=share, style="count"),
                *(_feet(one.feet_for(share)) for one in answer.estimates),
            )
    return page


def add_charts(book: Workbook, page: Page, points: Page, answers: Sequence[Answer]) -> None:
    """Put a native chart under each kind of wood of a painted sheet."""
    sheet: Any = book[page.name]
    data: Any = book[points.name]
    for number, answer in enumerate(answers):
        if not _is_bought(answer):
            continue
        head = points.names[f"head {number}"]
        chart = ScatterChart()
        chart.title = answer.kind.label
        chart.style = 2
        chart.x_axis.title = "board feet bought"
        chart.y_axis.title = "enough, percent of the piles"
        chart.x_axis.delete = chart.y_axis.delete = False
        chart.y_axis.scaling.min, chart.y_axis.scaling.max = 0, 100
        chart.height, chart.width = 9, 24  # cm
        chart.legend = Legend(legendPos="b")
        shares = Reference(data, min_col=1, min_row=head + 1, max_row=head + len(STEPS))
        for column in range(len(answer.estimates)):
            feet = Reference(
                data, min_col=column + 2, min_row=head + 1, max_row=head + len(STEPS)
            )
            one = answer.estimates[column]
            series = Series(shares, feet, title=f"{one.source.yard}, {one.source.label}")
            series.marker.symbol = "none"
            series.smooth = False
            line = series.graphicalProperties.line
            line.solidFill = _COLOURS[column % len(_COLOURS)]
            line.dashStyle = _DASHES[column % len(_DASHES)]
            line.width = 22_000
            chart.series.append(series)
        sheet.add_chart(chart, f"A{page.names[f'chart {number}']}")


def _add_kind(page: Page, project: Project, answer: Answer, number: int) -> None:
    """Append one kind: its sources, what to buy, the usual rules, room for the chart."""
    kind = answer.kind
    lines = [line_of(project, answer, one) for one in answer.estimates]
    head = head_row(
        "yard", "grade", *(f"{share} %" for share in SHARES), "error of 90 %", "buy",
        "boards", "cost", "", height=HEAD,
    )  # fmt: skip
    page.table(
        [_line_row(line) for line in lines],
        [heading_row(kind.label, len(page.widths)), head],
    )
    page.paragraph(_sentence(project, answer), "plain bold")
    if not _is_bought(answer):
        return
    if answer.cheapest is not None:
        rows = [
            Row(
                cells=(
                    text(bought.name, span=2),
                    Cell(value=float(bought.feet), style="one decimal"),
                    Cell(value=bought.enough, style="percent", span=2),
                )
            )
            for bought in bought_by_rules(answer.cheapest)
        ]
        page.table(rows, [head_row(("usual rule", 2), "buys", ("enough in", 2))])
    page.add(height=8)
    page.keep(CHART_ROWS * 15.0)
    page.names[f"chart {number}"] = len(page.rows) + 1
    for _ in range(CHART_ROWS):
        page.add()


def _is_bought(answer: Answer) -> bool:
    """Whether any pile of any source has to be bought from."""
    return any(need.feet != 0 for one in answer.estimates for need in one.needs)


def _line_row(line: Line) -> Row:
    return Row(
        cells=(
            text(line.yard),
            text(line.source),
            *(_feet(feet) for feet in line.shares),
            Cell(value=line.error, style="one decimal"),
            _feet(line.buy, "total count"),
            Cell(value=line.boards, style="count"),
            Cell(value=None if line.pay is None else float(line.pay), style="money"),
            text("cheapest", "fine") if line.is_cheapest else text(None),
        )
    )


def _feet(feet: Fraction | None, style: str = "one decimal") -> Cell:
    """Return a cell of board feet; empty where the piles do not reach."""
    return Cell(value=None if feet is None else float(feet), style=style)


def _sentence(project: Project, answer: Answer) -> str:
    """Return what to buy in words."""
    feet = float(answer.kind.feet)
    owned = float(answer.estimates[0].rack_feet)
    words = f"The blanks hold {feet:.1f} board feet"
    words += f", the rack {owned:.1f} of its own." if owned else "."
    if answer.cheapest is None:
        return f"{words} No grade on offer makes everything often enough: {NEVER} unseen."
    line = line_of(project, answer, answer.cheapest)
    said = advice(project, line)
    return f"{words} {said[0].upper()}{said[1:]}."


def _add_notes(page: Page) -> None:
    """Append how the figures come about, and what they leave out."""
    page.keep(HEADING + 6 * SUBTITLE)
    page.heading("How sure this is")
    for words in (
        "Boards are drawn at random within the limits of the price list: surface measure "
        "and share of defects have the published means of each grade (kiln-dried red oak); "
        "how they spread, and where defects lie, is our assumption. Your yard may differ.",
        "A pile is cut by a short search. A careful plan of the real boards mostly needs "
        "less: plan again at the yard with the boards you find.",
        "An empty cell: even four times the net board feet are not enough that often.",
        "Figure and logs are not drawn: they count as there where a part asks for them.",
    ):
        page.paragraph(words)
    page.add(height=8)
