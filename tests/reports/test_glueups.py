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
    GRAMS_PER_M2_PER_LB,
    GRAMS_PER_ML,
    MPA_PER_PSI,
    NEWTONS_PER_LBF,
    WASTE,
    clamping_for,
    end_distance,
    force_count,
    glue_ml,
    pressure_for,
    pressures_for,
    reach_at,
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
    # GL-03: a board of 6 in is pressed over 12 in at its joint (pressure spreads at about
    # 45 degrees: trade press). GL-04: n = ceil((L - 2e) / s) + 1 with s = 2 w; L 48, e 2,
    # w 4, no strip beside it: s 8, n 7 (worked by hand).
    assert reach_at(inch(6)) == inch(12)
    assert spacing_count(inch(48), inch(2), reach_at(inch(4))) == 7


def test_a_strip_along_the_edges_spreads_the_pressure_further():
    # Outer stave 3 in: s = 6, ceil(44 / 6) + 1 = 9; with a strip of 1 in s = 2 x 4 = 8: 7.
    # Wider strips do not help, as the shop's clamps stand 8 in apart at most.
    top = panel(inch(48), [inch(3)] * 4)
    counts = [
        clamping_for(top, inch("3/4"), None, SHOP, inch(strip)).by_spacing
        for strip in (0, 1, 2)
    ]
    assert counts == [9, 7, 7]


@pytest.mark.parametrize(("density", "count"), [(560, 4), (700, 5)])
def test_a_panel_of_17_by_24_takes_about_five_clamps(density, count):
    # About five in all is common practice, no source. Four staves of 4 1/4: s = 8 by the
    # setting, ceil((24 - 4) / 8) + 1 = 4; 3/4 x 24 = 18 sq in, at 175 psi 3150 lbf: 4
    # clamps of 1000 lbf, at 250 psi (dense wood) 4500 lbf: 5. With outer staves of 2 1/2
    # in s = 5 and ceil(20 / 5) + 1 = 5 in any wood.
    top = panel(inch(24), [inch("17/4")] * 4)
    assert len(clamping_for(top, inch("3/4"), density, SHOP).clamps) == count
    slim = panel(inch(24), [inch("5/2"), inch(6), inch(6), inch("5/2")])
    assert len(clamping_for(slim, inch("3/4"), density, SHOP).clamps) == 5


@given(st.lists(st.integers(min_value=128, max_value=640), min_size=1, max_size=9))
def test_a_stack_of_joints_shares_one_force(between):
    # What presses one joint presses the next one too: more staves, same force.
    two = panel(inch(48), [inch(4), inch(4)])
    many = panel(inch(48), [inch(4), *between, inch(4)])
    ways = [clamping_for(top, inch("3/4"), 700, SHOP) for top in (two, many)]
    assert len({way.by_pressure for way in ways}) == 1


def test_force_of_one_joint_is_what_counts():
    # GL-01, GL-02: 3/4 x 48 in at 175 psi is 6300 lbf = 28.024 kN; with clamps of 1000
    # lbf: 7 (worked by hand; pressures from an adhesive maker's guide).
    assert pytest.approx(28.024, abs=0.01) == 6300 * NEWTONS_PER_LBF / 1000
    assert force_count(175, 36, 6299) == 2
    assert force_count(175, 36 * 3, 6299) == 4  # 18 900 lbf: 3 x 6299 is 3 lbf too little
    assert force_count(175, 0.75 * 48, 1000) == 7
    assert force_count(175, 0.75 * 48, 6300) == 2  # never fewer than two


def test_pressures_are_the_middle_of_the_adhesive_makers_ranges():
    # softwood 100 to 150, medium 150 to 200, dense 200 to 300 psi (adhesive maker's
    # guide); densities at 12 %: 1120 x specific gravity 0.35, 0.50 (cherry), 0.63 (oak)
    assert pressure_for(1120 * 0.35) == 125
    assert pressure_for(1120 * 0.50) == 175
    assert pressure_for(1120 * 0.63) == 250
    assert pressure_for(None) == 175
    assert [pressures_for(d) for d in (400, 560, 700, None)] == [
        (100, 150), (150, 200), (200, 300), (150, 200),
    ]  # fmt: skip


def test_pressures_are_the_same_in_either_system():
    # GL-08: 100 and 247 psi, the handbook's least and greatest, are 0.6895 and 1.7030 MPa
    assert pytest.approx(0.6895, abs=1e-4) == 100 * MPA_PER_PSI
    assert pytest.approx(1.7030, abs=1e-4) == 247 * MPA_PER_PSI


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
    # GL-06.
    film = glue_ml(panel(inch(48), [inch(4)] * 5), inch("3/4"), Unit.INCH) / float(WASTE)
    assert film == pytest.approx(14.16, abs=0.01)
    assert float(FILM_ML_PER_M2) == pytest.approx(152.4)


def test_a_gallon_covers_what_its_volume_says():
    # GL-05: a US gallon is 231 cubic inches, 3785.411784 ml; a film of 6 mil on a square
    # foot is 144 x 0.006 = 0.864 cubic inches, 231 / 0.864 = 267.361 square feet
    square_foot = panel(inch(12), [inch(4)] * 2)  # one joint, 12 x 12 in
    film = glue_ml(square_foot, inch(12), Unit.INCH) / float(WASTE)
    assert 3785.411784 / film == pytest.approx(267.361, abs=0.01)


def test_labels_in_pounds_and_in_grams_agree():
    # GL-07: 1 lb on 1000 square feet is 453.59237 g on 92.90304 m2
    assert float(GRAMS_PER_M2_PER_LB) == pytest.approx(4.882428, abs=1e-5)
    # the film of 152.4 ml/m2 at 1.1 g/ml (from memory of makers' data) weighs 168 g/m2
    assert float(FILM_ML_PER_M2 * GRAMS_PER_ML) == pytest.approx(167.6, abs=0.1)


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
