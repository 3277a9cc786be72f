"""Copies of one outline in one blank: closed forms, brute force, properties."""

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.interlock import FEW, Laid, laid_ring, nests_of, outer_of
from nesting.shapes import nested_width

KERF = 8
INCH = 64


def taper(length, wide, narrow):
    """One edge straight along x, the other sloped."""
    return ((0, 0), (length, 0), (length, narrow), (0, wide))


def bracket(stretches=16):
    """A band of 90 that follows a cosine of 120 over 600: an S of our own making."""
    low = [
        (round(600 * k / stretches), round(60 * (1 - math.cos(math.pi * k / stretches))))
        for k in range(stretches + 1)
    ]
    return tuple(low + [(x, y + 90) for x, y in reversed(low)])


def nests(ring, *, most=2, may_mirror=False, beyond=0, beside=0, step=1):
    return nests_of(
        ring, KERF, beyond=beyond, beside=beside, step=step, may_mirror=may_mirror,
        most=most,
    )  # fmt: skip


def copies(ring, nest):
    return [shapely.Polygon(laid_ring(ring, laid)) for laid in nest.places]


def assert_sound(ring, nest):
    """All copies lie within the nest, a saw cut apart, whole and unbent."""
    laid = copies(ring, nest)
    room = shapely.box(0, 0, nest.length, nest.width)
    area = shapely.Polygon(ring).area
    for one in laid:
        assert one.is_valid
        assert one.exterior.is_ccw
        assert one.area == area
        assert room.covers(one)
    for one, other in combinations(laid, 2):
        assert one.distance(other) >= KERF - 1e-9
    assert shapely.union_all(laid).bounds == (0, 0, nest.length, nest.width)


def test_two_tapers_lie_head_to_tail_in_the_width_that_geometry_says():
    # plane geometry: 2 + 1 + (1/8) / cos(atan(1/28)) = 3.1250797 in, here in steps of 1/64
    assert nested_width(2, 1, 28, 1 / 8) == pytest.approx(3.1250797, abs=1e-6)
    ring = taper(28 * INCH, 2 * INCH, INCH)
    (nest,) = nests(ring, step=INCH)
    assert_sound(ring, nest)
    exact = nested_width(2 * INCH, INCH, 28 * INCH, KERF)
    slope = 1 / 28  # what sliding along the grain by one step gains across it
    assert exact - slope * (nest.length - 28 * INCH) <= nest.width <= math.ceil(exact)
    assert sorted(laid.is_turned for laid in nest.places) == [False, True]


def test_four_tapers_lie_in_two_pairs_a_cut_apart():
    ring = taper(28 * INCH, 2 * INCH, INCH)
    two, _, four = nests(ring, most=4, step=INCH)
    assert_sound(ring, four)
    assert four.width <= 2 * two.width + KERF


def test_rectangles_gain_nothing():
    ring = ((0, 0), (100, 0), (100, 40), (0, 40))
    for nest in nests(ring, most=4):
        assert_sound(ring, nest)
        rows = {40 * n + KERF * (n - 1) for n in (1, 2, 3, 4)}
        columns = {100 * n + KERF * (n - 1) for n in (1, 2, 3, 4)}
        assert nest.length in columns
        assert nest.width in rows


def test_right_triangles_make_a_rectangle_with_a_cut_along_the_slope():
    # two legs of 300 and 400: the cut of 8 across the slope of 500 is 8 * 500 / 300 along
    # one leg and 8 * 500 / 400 along the other; either one is added
    ring = ((0, 0), (400, 0), (0, 300))
    (nest,) = nests(ring)
    assert_sound(ring, nest)
    across = 400 * (300 + math.ceil(KERF * 500 / 400))
    along = (400 + math.ceil(KERF * 500 / 300)) * 300
    assert nest.length * nest.width <= min(across, along)


def brute_force(ring, pitch, *, may_mirror):
    """Return the least area of two copies over all shifts of a grid, by trying them."""
    length, width = (max(p[k] for p in ring) for k in (0, 1))
    fixed = shapely.Polygon(ring)
    shapely.prepare(fixed)
    shifts = np.array(
        [
            (x, y)
            for x in range(0, length + KERF + pitch, pitch)
            for y in range(-width - KERF - pitch, width + KERF + pitch, pitch)
        ]
    )
    best = math.inf
    for turned in (False, True):
        for mirrored in (False, True) if may_mirror else (False,):
            other = np.array(laid_ring(ring, Laid(0, 0, turned, mirrored)))
            own = np.array([length, width])
            size = np.maximum(shifts + own, own) - np.minimum(shifts, 0)
            area = size.prod(axis=1)
            for at in np.argsort(area, kind="stable"):
                if area[at] >= best:
                    break
                if fixed.distance(shapely.Polygon(other + shifts[at])) >= KERF:
                    best = area[at]
                    break
    return best


@pytest.mark.parametrize("may_mirror", [False, True])
def test_no_shift_of_brackets_on_a_fine_grid_takes_a_hundredth_less_room(may_mirror):
    ring = bracket()
    (nest,) = nests(ring, may_mirror=may_mirror)
    assert_sound(ring, nest)
    least = brute_force(ring, 4, may_mirror=may_mirror)
    assert nest.length * nest.width <= 1.01 * least
    # and each of them saves wood: two brackets alone take a box each
    assert nest.length * nest.width < 2 * 600 * 210


def test_copies_lie_face_down_only_where_they_may():
    ring = ((0, 0), (300, 0), (300, 40), (40, 40), (40, 200), (0, 200))  # an L
    for may_mirror in (False, True):
        for nest in nests(ring, most=3, may_mirror=may_mirror):
            assert_sound(ring, nest)
            assert may_mirror or not any(laid.is_mirrored for laid in nest.places)


def test_room_is_counted_with_allowances_in_whole_steps():
    # Two right triangles of legs 100: side by side along the grain or across it comes to
    # the same, but the blank is longer by 200 anyway, so more width costs more.
    ring = ((0, 0), (100, 0), (0, 100))
    (nest,) = nests(ring, beyond=200)
    assert nest.width <= nest.length


@settings(max_examples=25, deadline=None)
@given(
    radii=st.lists(st.integers(30, 150), min_size=4, max_size=9),
    may_mirror=st.booleans(),
    most=st.integers(2, 3),
)
def test_copies_of_any_outline_keep_a_saw_cut_apart(radii, may_mirror, most):
    turns = [2 * math.pi * k / len(radii) for k in range(len(radii))]
    points = np.array(
        [
            (round(r * math.cos(t)), round(r * math.sin(t)))
            for r, t in zip(radii, turns, strict=True)
        ]
    )
    points -= points.min(axis=0)
    ring = tuple((int(x), int(y)) for x, y in points)
    body = shapely.Polygon(ring)
    assume(body.is_valid and body.area > 0)
    for nest in nests(ring, most=most, may_mirror=may_mirror):
        assert_sound(ring, nest)
        side = max(p[0] for p in ring) + KERF
        assert nest.length * nest.width <= (side * nest.copies - KERF) * max(
            p[1] for p in ring
        )


def wave(stretches):
    """A band of 900 along a sine of 600 over 5000, as a drawn spline is flattened."""
    low = [
        (round(5000 * k / stretches), 600 + round(600 * math.sin(math.tau * k / stretches)))
        for k in range(stretches + 1)
    ]
    return tuple(low + [(x, y + 900) for x, y in reversed(low)])


def test_an_outline_of_many_corners_is_nested_by_a_coarser_one_around_it():
    ring = wave(300)
    body = shapely.Polygon(ring)
    outer = outer_of(body)
    assert len(outer.exterior.coords) < len(ring) / 3
    assert outer.covers(body)
    # within 2 x 4 steps beside it, the corners of a mitre a little more
    assert outer.hausdorff_distance(body) <= 12
    few = shapely.Polygon(wave((FEW - 4) // 2))
    assert outer_of(few) is few


def test_nests_of_many_corners_are_sound_and_hardly_larger():
    """The band lies on itself: two copies take 900 and a cut more across at most."""
    ring = wave(300)
    (nest,) = nests(ring)
    assert_sound(ring, nest)
    closest = shapely.Polygon(ring).bounds[3] + 900 + KERF
    # stacked as drawn, vertical distance of the bands is 900 where they run level, and more
    # cut where they slope: a cut of 8 across a slope of tan = 0.754 is 8 / cos = 10.1
    assert nest.length * nest.width <= 5000 * (closest + 3) * 1.01
