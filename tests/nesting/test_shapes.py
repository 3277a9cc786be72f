"""Geometry of shapes; expected values are pure geometry, worked out beside them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.parts import Part
from nesting.shapes import (
    bevel_steps,
    bevel_width,
    bounding_size,
    disc_square,
    left_over,
    nested_width,
    octagon_in,
    resaw_thickness,
    taper_angle,
)


def test_the_fourth_piece_of_a_stick_is_short_by_three_kerfs():
    # MI-01: a stick of 96 in less three pieces of 24 and three kerfs of 1/8 leaves 23 5/8;
    # a do-it-yourself page prints the same shortage of 3/8
    assert left_over(96, [24, 24, 24], 0.125) == pytest.approx(23.625, abs=1e-9)


@pytest.mark.parametrize(
    ("thickness", "angle", "run"),
    [
        (0.75, 45, 0.75),  # MI-02
        (20, 15, 5.358984),  # MI-03
        (25, 30, 14.433757),  # MI-04
        (1, 22.5, 0.41421),
        (19, 5, 1.6623),
        (19, 10, 3.3502),
        (0.75, 5, 0.0656),  # the bevel of a splayed leg; common practice, no source
    ],
)
def test_a_bevel_runs_thickness_times_tangent(thickness, angle, run):
    digits = len(f"{run}".partition(".")[2])
    assert bevel_width(thickness, angle) == pytest.approx(run, abs=0.6 * 10**-digits)


def test_leaves_for_a_book_match_lose_their_faces_and_a_kerf():
    # MI-13: two leaves of 3/8, each 1/32 less a face, and a kerf of 1/16 between them:
    # 2 x 3/8 + 4 x 1/32 + 1/16 = 15/16 = 0.9375 in; in steps of 1/64: 24, 4 and 4, 60
    assert resaw_thickness(2, 24, 4, 4) == 60
    assert resaw_thickness(1, 24, 4, 4) == 28  # a single leaf is not sawn


def test_a_bevel_is_rounded_up_to_the_grid_but_not_by_noise():
    assert bevel_steps(48, 45) == 48  # 3/4 in at 45 degrees, exactly 3/4
    assert bevel_steps(48, 5) == 5  # 0.0656 in are 4.2 steps of 1/64
    assert bevel_steps(48, 0) == 0


def test_an_octagon_of_sixty_between_flats():
    octagon = octagon_in(60)
    assert octagon.side == pytest.approx(24.852814, abs=1e-6)  # MI-05
    assert octagon.leg == pytest.approx(17.573593, abs=1e-6)  # MI-05
    assert octagon.corners == pytest.approx(64.9435, abs=1e-4)
    assert octagon.side + 2 * octagon.leg == pytest.approx(60, abs=1e-9)  # MI-06


@given(st.floats(0.1, 1000))
def test_an_octagon_has_eight_equal_sides(square):
    octagon = octagon_in(square)
    assert octagon.side + 2 * octagon.leg == pytest.approx(square)
    assert octagon.leg * math.sqrt(2) == pytest.approx(octagon.side)  # the sloping sides
    assert octagon.corners == pytest.approx(math.hypot(square, octagon.side))


def test_two_tapers_nest_head_to_tail():
    # MI-07: 2 in to 1 in over 28 in, kerf 1/8: 3 + 0.125 / cos 2.0454 degrees
    assert nested_width(2, 1, 28, 0.125) == pytest.approx(3.1250797, abs=1e-6)
    assert taper_angle(2, 1, 28) == pytest.approx(2.0454, abs=1e-4)
    assert nested_width(50, 25, 711, 3.2) == pytest.approx(78.2020, abs=1e-4)


@given(st.floats(0.5, 10), st.floats(0, 10), st.floats(5, 100), st.floats(0, 0.5))
def test_nesting_never_needs_more_than_two_blanks_plus_the_slope_of_the_kerf(
    a, b, length, kerf
):
    wide, narrow = max(a, b), min(a, b)
    nested = nested_width(wide, narrow, length, kerf)
    assert wide + narrow + kerf <= nested + 1e-9
    assert nested <= wide + narrow + kerf / math.cos(math.atan2(wide, length)) + 1e-9


def test_a_disc_comes_from_a_square_with_its_allowance_all_round():
    assert disc_square(12, 0.5) == 13


def part(**changes):
    size = {"length": 1792, "width": 128, "thickness": 64}
    return Part(**{"name": "P", "qty": 1, "species": "cherry", **size, **changes})


def test_a_taper_is_cut_out_of_its_wide_end():
    assert bounding_size(part(shape="taper", ends=(128, 64))) == (1792, 128)
    assert bounding_size(part(shape="taper", ends=(64, 100), width=90)) == (1792, 100)


@pytest.mark.parametrize("shape", ["rectangle", "octagon", "disc", "outline"])
def test_other_shapes_fill_the_size_in_their_columns(shape):
    assert bounding_size(part(shape=shape)) == (1792, 128)
