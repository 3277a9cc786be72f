"""Clamps, glue, time and ring sides, against the worked examples of the trade."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.plan import PanelPlan, PanelStave
from reports.glueups import (
    FILM_ML_PER_M2,
    WASTE,
    clamping_for,
    end_distance,
    force_count,
    glue_ml,
    pressure_for,
    ring_sides,
    spacing_count,
    spread_minutes,
    weight_kg,
)
from stock.measures import Unit
from stock.shop import default_shop
from tests.samples import inch, mm

SHOP = default_shop(Unit.INCH)


def panel(length: int, widths: list[int], faces: tuple[str | None, ...] = ()) -> PanelPlan:
    """A panel of staves of these net widths."""
    sides = faces or (None,) * len(widths)
    staves = tuple(
        PanelStave(
            piece=f"Top 1.{at}", board="B", width=width + 8, net_width=width, face=face
        )
        for at, (width, face) in enumerate(zip(widths, sides, strict=True), 1)
    )
    return PanelPlan(
        part="Top", copy=1, net_width=sum(widths), need=sum(widths), length=length,
        staves=staves,
    )  # fmt: skip


def test_spacing_follows_the_45_degree_spread():
    # Formula n = ceil((L - 2e) / s) + 1 with s = 2 w: L 48, e 2, w 4 gives s 8, n 7
    # (pressure spreads at about 45 degrees: trade press; worked by hand).
    assert spacing_count(inch(48), inch(2), inch(8)) == 7


def test_force_of_one_joint_is_what_counts():
    # 3/4 x 48 in at 175 psi is 6300 lbf; with clamps of 1000 lbf: 7 (worked by hand;
    # pressures from an adhesive maker's guide).
    assert force_count(175, 0.75 * 48, 1000) == 7
    assert force_count(175, 0.75 * 48, 6300) == 2  # never fewer than two


def test_pressures_are_the_middle_of_the_adhesive_makers_ranges():
    # softwood 100 to 150, medium 150 to 200, dense 200 to 300 psi (adhesive maker's
    # guide); densities at 12 %: 1120 x specific gravity 0.35, 0.50 (cherry), 0.63 (oak)
    assert pressure_for(1120 * 0.35) == 125
    assert pressure_for(1120 * 0.50) == 175
    assert pressure_for(1120 * 0.63) == 250
    assert pressure_for(None) == 175


def test_the_greater_count_is_placed():
    top = panel(inch(48), [inch(4)] * 4)
    clamping = clamping_for(top, inch("3/4"), 1120 * 0.50, SHOP)
    assert (clamping.by_spacing, clamping.by_pressure) == (7, 7)
    dense = clamping_for(top, inch("3/4"), 1120 * 0.63, SHOP)
    assert dense.by_pressure == 9  # 250 psi x 36 sq in = 9000 lbf
    assert len(dense.clamps) == 9


def test_metric_clamps_press_in_newtons():
    shop = default_shop(Unit.MM)
    top = panel(mm(1219), [mm(100)] * 4)
    # 19.05 x 1219 mm is 36 sq in; 175 psi x 36 = 6299 lbf, clamps of 4450 N = 1000 lbf
    assert clamping_for(top, mm("19.05"), None, shop).by_pressure == 7


@given(
    length=st.integers(min_value=64 * 4, max_value=64 * 200),
    widths=st.lists(st.integers(min_value=64, max_value=640), min_size=2, max_size=9),
)
def test_clamps_stand_within_the_panel_evenly_and_alternate(length, widths):
    clamping = clamping_for(panel(length, widths), 48, None, SHOP)
    places = [clamp.at for clamp in clamping.clamps]
    margin = end_distance(length, Unit.INCH)
    assert places == sorted(places)
    assert places[0] >= margin - 4  # placed to the nearest 1/8 in = 8 steps
    assert places[-1] <= length - margin + 4
    gaps = [b - a for a, b in itertools.pairwise(places)]
    assert max(gaps) <= min(SHOP.clamp_spacing, 2 * min(widths[0], widths[-1])) + 8
    sides = [clamp.is_above for clamp in clamping.clamps]
    assert all(a != b for a, b in itertools.pairwise(sides))


def test_glue_covers_the_joints_with_the_film_of_the_makers():
    # Four joints 3/4 x 48 in are 144 sq in = 1 sq ft: 14.16 ml at 6 mil (231 cubic
    # inches to the gallon; the 6 mil are from memory of makers' data), before waste.
    film = glue_ml(panel(inch(48), [inch(4)] * 5), inch("3/4"), Unit.INCH) / float(WASTE)
    assert film == pytest.approx(14.16, abs=0.01)
    assert float(FILM_ML_PER_M2) == pytest.approx(152.4)


def test_spreading_takes_its_time_per_joint():
    # 20 s for each of the 4 joints of 5 staves
    assert spread_minutes(panel(inch(48), [inch(4)] * 5), SHOP) == pytest.approx(80 / 60)


def test_weight_is_volume_times_density():
    # Walnut 2 x 8 in x 10 ft at 12 %, specific gravity .55: 42.73 lb, 19.38 kg (Wood
    # Handbook, chapter 4, density formula; worked by hand)
    volume = inch(2) * inch(8) * inch(120)
    assert weight_kg(volume, 1120 * 0.55, Unit.INCH) == pytest.approx(19.38, abs=0.01)


def test_ring_sides_follow_the_plan_then_the_habit():
    four = panel(inch(48), [inch(4)] * 4)
    assert ring_sides(four, "alternate", is_plain=True) == (
        "heart",
        "bark",
        "heart",
        "bark",
    )
    assert ring_sides(four, "same", is_plain=True) == ("heart",) * 4
    assert ring_sides(four, "any", is_plain=True) == ("any",) * 4
    assert ring_sides(four, "alternate", is_plain=False) == ("any",) * 4
    settled = panel(inch(48), [inch(4)] * 3, ("bark", "bark", None))
    assert ring_sides(settled, "alternate", is_plain=True) == ("bark", "bark", "heart")


def test_a_clamp_count_never_shrinks_when_a_panel_grows():
    short = clamping_for(panel(inch(30), [inch(4)] * 3), 48, None, SHOP)
    longer = clamping_for(panel(inch(60), [inch(4)] * 3), 48, None, SHOP)
    assert len(longer.clamps) > len(short.clamps)
    weak = replace(SHOP, clamp_force=Fraction(500))
    assert len(clamping_for(panel(inch(30), [inch(4)] * 3), 48, None, weak).clamps) > len(
        short.clamps
    )
