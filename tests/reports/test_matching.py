"""What the report says of sets and of panels that match."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from nesting.plan import SetPlan
from reports.matching import panel_words, set_words
from reports.sheets.content import content_for
from reports.sheets.notes import notes_page
from tests.samples import bench_plan, bench_project

ALIKE = SetPlan(
    name="top", likeness="one step of tone", source="tone 2 and 3",
    extra_cost=Decimal("3.5"), why="one flitch: no such wood is enough for all of it",
)  # fmt: skip


def test_a_set_says_what_it_is_what_it_costs_and_why_it_is_no_better():
    assert set_words(ALIKE) == (
        "one step of tone: tone 2 and 3; 3.50 more than a plan without this wish "
        "(one flitch: no such wood is enough for all of it)"
    )
    flitch = replace(
        ALIKE, likeness="one flitch", source="flitch H7", extra_cost=Decimal(0)
    )
    assert set_words(flitch) == "one flitch: flitch H7"


def test_a_panel_lists_its_points_the_most_first():
    """Tenths of a point in the plan: 400 + 45 + 20 are 46.5 points."""
    panel = bench_plan().panels[0]
    terms = (("joints", 45), ("boards", 400), ("widths", 20))
    counted = replace(panel, match_cost=terms)
    assert panel_words(counted) == "46.5 points: boards 40, joints 4.5, widths 2"
    assert panel_words(panel) == "0 points"


def test_the_notes_have_a_row_per_set_and_panel():
    plan = replace(bench_plan(), sets=(ALIKE,))
    page = notes_page(content_for(bench_project(), plan, lambda _: None))
    rows = [[cell.value for cell in row.cells] for row in page.rows]
    assert ["set", "top", set_words(ALIKE)] in rows
    assert ["panel", "Seat", "0 points"] in rows or ["panel", "Seat 1", "0 points"] in rows
