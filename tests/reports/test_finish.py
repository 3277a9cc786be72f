"""Finish: the area that is seen, and whole packs that cover it in all its coats."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.project import Project, Supply
from reports.finish import show_area
from reports.supplies import Need, needs_for
from tests.samples import bench_plan, bench_project, block_project

# Seat 2 (48 x 14 + 48 x 3/4 + 14 x 3/4) = 1437; four legs of 2 (10 x 2 + 10 x 3/4 +
# 2 x 3/4) = 58; rail 2 (40 x 3 + 40 x 3/4 + 3 x 3/4) = 304 1/2 square inches:
# together 1973 1/2 / 144 square feet
AREA = Fraction("1973.5") / 144
OIL = Supply(
    item="hard oil", qty=None, unit="ml", pack=Fraction(250), price=Fraction("12.5")
)


def need(project: Project, **terms: object) -> Need:
    (found,) = needs_for(
        replace(project, supplies=(replace(OIL, **terms),)),  # type: ignore[arg-type]
        bench_plan(),
    )
    return found


def test_all_sides_of_what_is_seen_are_finished():
    project = bench_project()
    assert {part.face for part in project.parts} <= {"show", "second"}
    assert show_area(project) == AREA


def test_hidden_parts_get_no_finish():
    project = bench_project()
    hidden = tuple(
        replace(part, face="hidden") if part.name == "Rail" else part
        for part in project.parts
    )
    assert show_area(replace(project, parts=hidden)) == AREA - Fraction("304.5") / 144


def test_a_metric_project_counts_square_metres():
    # two blocks of 2 (200 x 60 + 200 x 40 + 60 x 40) = 44800 square millimetres
    assert show_area(block_project()) == Fraction("0.0896")


def test_finish_is_bought_in_whole_packs_by_the_shops_coverage():
    # 13.705 sq ft x 2 coats / 400 sq ft a gallon = 0.06852 gallons of 3785.41 ml: 259.4
    # ml, so two packs of 250
    found = need(bench_project())
    assert found.quantity == Fraction("259.4")
    assert (found.packs, found.cost) == (2, Decimal(25))
    assert found.remark == (
        "show area about 13.7 square feet, 2 coats, 400 square feet a gallon; see the label"
    )


def test_one_coat_less_is_one_pack_less():
    found = need(bench_project(), coats=Fraction(1))
    assert (found.quantity, found.packs) == (Fraction("129.7"), 1)
    assert "1 coat," in found.remark


def test_a_finish_may_say_itself_how_far_it_goes():
    # 13.705 x 3 / 30 = 1.3705 tins
    found = need(
        bench_project(),
        unit="tin", pack=Fraction(1), coverage=Fraction(30), coats=Fraction(3),
    )  # fmt: skip
    assert (found.quantity, found.packs) == (Fraction("1.4"), 2)
    assert found.remark.endswith("3 coats, 30 square feet a tin")


@pytest.mark.parametrize(
    ("unit", "coverage", "said"),
    [
        ("tin", 400, "say in the column coverage how far one 'tin' goes"),
        ("ml", 0, "the label says how far it goes"),
    ],
)
def test_what_is_not_known_is_not_guessed(unit: str, coverage: int, said: str):
    project = bench_project()
    shop = replace(project.shop, finish_coverage=Fraction(coverage))
    found = need(replace(project, shop=shop), unit=unit)
    assert (found.quantity, found.packs, found.cost) == (None, None, Decimal(0))
    assert found.remark.endswith(said)
