"""Parts from offcuts in the reports: where they come from, and what is not made.

The caul of 12 x 2 in goes in the end of board Y2 of the sample bench; one of 45 in is too
long for every leftover (the longest is 44 3/8 in).
"""

from __future__ import annotations

from dataclasses import replace

from nesting.offcut_parts import with_offcut_parts
from nesting.parts import Part
from nesting.plan import Plan
from nesting.project import Project
from reports.from_offcuts import made_from_offcuts, not_from_offcuts
from reports.sheets.content import content_for
from reports.sheets.parts import parts_page
from reports.summary import summary
from reports.workbook import pages_for
from tests.samples import OAK, bench_plan, bench_project, inch


def planned() -> tuple[Project, Plan]:
    """The bench with a caul that fits and two that don't."""
    caul = Part(
        name="Caul", qty=1, length=inch(12), width=inch(2), thickness=inch("3/4"),
        species=OAK, face="hidden", source="offcut",
    )  # fmt: skip
    pole = replace(caul, name="Pole", qty=2, length=inch(45))
    old = bench_project()
    project = replace(old, parts=(*old.parts, caul, pole))
    return project, with_offcut_parts(project, bench_plan())


def texts(page) -> list[str]:
    cells = [cell.value for row in page.rows for cell in row.cells if cell]
    return [value for value in cells if isinstance(value, str)]


def test_copies_are_made_or_not_made():
    project, plan = planned()
    assert made_from_offcuts(project, plan) == {("Caul", 1): "Y2"}
    ((name, why), count), *more = not_from_offcuts(project, plan).items()
    assert (name, count, more) == ("Pole", 2, [])
    assert "46 x 2 1/4 in" in why


def test_a_plan_that_says_nothing_of_what_it_leaves_out_still_counts():
    project, plan = planned()
    silent = replace(plan, not_made=())
    assert not_from_offcuts(project, silent) == {("Pole", "the plan does not say why"): 2}


def test_a_copy_that_is_listed_as_short_is_told_once():
    project, plan = planned()
    short = replace(plan, not_made=(), short=plan.not_made, status="short")
    assert not_from_offcuts(project, short) == {}


def test_the_summary_says_where_they_come_from_and_what_is_not_made():
    """Six pieces of the bench and one caul are made; two poles are not."""
    lines = [" ".join(line.split()) for line in summary(*planned()).splitlines()]
    assert lines[0] == "plan Low bench: complete, 7 pieces to make"
    assert "left over gives 1 of Caul: Y2" in lines
    assert any(
        line.startswith("not made 2 of Pole, wanted from offcuts only: what")
        for line in lines
    )


def test_a_summary_without_parts_from_offcuts_does_not_speak_of_them():
    text = summary(bench_project(), bench_plan())
    assert "left over" not in text
    assert "not made" not in text


def test_the_parts_sheet_traces_them_and_lists_what_is_not_made():
    page = parts_page(content_for(*planned(), lambda _: None))
    found = texts(page)
    assert "from what is left over of Y2" in found
    assert any(one.startswith("NOT MADE: 2, wanted from offcuts only.") for one in found)
    assert not any(one.startswith("SHORT") for one in found)


def test_the_overview_counts_only_what_is_made():
    content = content_for(*planned(), lambda _: None)
    (page,) = [one for one in pages_for(content) if one.name == "Overview"]
    assert (
        "Everything fits: the wood below makes all 7 parts."
        " Wanted from offcuts and not made: 2, see Parts."
    ) in texts(page)
