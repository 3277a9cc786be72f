"""Wood far from the shop's air, and panels of unlike moisture."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from nesting.project import Project
from reports.cautions import CHECK, cautions_for
from reports.damp import damp_words
from reports.summary import summary
from tests.samples import bench_plan, bench_project


def read(**readings: float) -> Project:
    """The low bench with readings of its boards; its seat is of R1 and Y1.

    Its shop has 35 to 65 % humidity, in which wood comes to 6.9 to 12.0 % at 70 F (Wood
    Handbook equation 4-5, see `stock.moisture`; its table has 12.0 at 65 %).
    """
    project = bench_project()
    boards = (replace(b, moisture=readings.get(b.name)) for b in project.boards)
    return replace(project, boards=tuple(boards))


def topics(project: Project) -> list[str]:
    return [topic for topic, _ in damp_words(project, bench_plan())]


def test_without_readings_nothing_is_said():
    assert topics(read()) == []


@pytest.mark.parametrize(
    ("reading", "far"), [(5.8, True), (6.2, False), (12.9, False), (13.1, True)]
)
def test_wood_more_than_a_point_outside_of_the_shops_range_is_far(reading, far):
    assert topics(read(Y2=reading)) == (["Moisture and the shop"] if far else [])


def test_the_range_is_that_of_the_shops_own_air():
    """At 30 % wood comes to 6.2 %, at 40 % to 7.7 % (Wood Handbook, 70 F)."""
    project = read(Y2=9.0)
    shop = replace(project.shop, humidity_low=Fraction(30), humidity_high=Fraction(40))
    ((topic, words),) = damp_words(replace(project, shop=shop), bench_plan())
    assert topic == "Moisture and the shop"
    assert words.startswith("Y2 (9 %): the shop's air takes wood to 6.2 to 7.7 %.")


@pytest.mark.parametrize(("damp", "told"), [(9.0, False), (9.1, True)])
def test_boards_of_one_panel_are_at_most_two_points_apart(damp, told):
    assert topics(read(R1=7.0, Y1=damp)) == (["Moisture within a panel"] if told else [])
    # Y2 gives legs, which no panel holds
    assert topics(read(R1=7.0, Y2=damp)) == []


def test_both_are_cautions_and_stand_on_the_screen():
    project = read(R1=7.0, Y1=14.0)
    found = {one.topic: one for one in cautions_for(project, bench_plan(), lambda _: 700.0)}
    assert found["Moisture and the shop"].level == CHECK
    assert found["Moisture within a panel"].words.startswith("Seat 1 (R1 7 %, Y1 14 %)")
    text = " ".join(summary(project, bench_plan()).split())
    assert "moisture and the shop: Y1 (14 %)" in text
    assert "moisture within a panel: Seat 1 (R1 7 %, Y1 14 %)" in text
