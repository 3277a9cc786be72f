"""Windows of outlined parts are offered to parts that come from offcuts only."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.cutouts import holds
from nesting.drawn import Drawn
from nesting.parts import Part
from nesting.solve import SolveParams, solve
from nesting.verify import verify
from tests.nesting.test_nests import project_with
from tests.samples import OAK, inch

KERF = 8
SQUARE = ((0, 0), (1000, 0), (1000, 500), (0, 500))


@given(length=st.integers(1, 1100), width=st.integers(1, 600))
def test_a_rectangular_window_holds_what_is_a_saw_cut_smaller_all_round(length, width):
    fits = length <= 1000 - 2 * KERF and width <= 500 - 2 * KERF
    assert holds(SQUARE, length, width, KERF) == fits


@settings(max_examples=40, deadline=None)
@given(length=st.integers(50, 900), width=st.integers(50, 450))
def test_a_right_triangle_holds_what_lies_under_its_slope(length, width):
    # legs 1000 and 500 without a saw cut: x / 1000 + y / 500 <= 1 at the far corner
    triangle = ((0, 0), (1000, 0), (0, 500))
    assert holds(triangle, length, width, 0) == (length / 1000 + width / 500 <= 1)


def test_a_window_in_the_shape_of_an_ell_holds_a_rectangle_in_either_arm():
    ell = ((0, 0), (600, 0), (600, 100), (100, 100), (100, 600), (0, 600))
    assert holds(ell, 600, 100, 0)
    assert holds(ell, 100, 600, 0)
    assert not holds(ell, 101, 101, 0)


def frame(**changes):
    rim = ((0, 0), (inch(20), 0), (inch(20), inch(7)), (0, inch(7)))
    low, high = inch(1), inch(6)
    window = ((low, low), (inch(19), low), (inch(19), high), (low, high))
    given = {
        "name": "Frame", "qty": 1, "length": inch(20), "width": inch(7),
        "thickness": inch("3/4"), "species": OAK, "shape": "outline",
        "outline": "frame.svg", "drawn": Drawn(rim, (window,)),
    }  # fmt: skip
    return Part(**{**given, **changes})


def caul(**changes):
    given = {
        "name": "Caul", "qty": 1, "length": inch(14), "width": inch(3),
        "thickness": inch("3/4"), "species": OAK, "source": "offcut", "face": "hidden",
    }  # fmt: skip
    return Part(**{**given, **changes})


def not_made(host, part):
    """Why a plan from a board that the frame takes whole does not make the other part."""
    project = project_with(host, (24, 7.5))
    project = replace(project, parts=(host, part))
    plan = solve(project, SolveParams(steps=50))
    assert plan.status == "complete"
    assert not verify(project, plan)
    return [one.why for one in plan.not_made]


def test_a_part_that_nothing_left_over_holds_is_offered_a_cut_out():
    (why,) = not_made(frame(), caul())
    assert "the cut-out of Frame 1 would hold it" in why


def test_each_cut_out_is_offered_once():
    first, second = not_made(frame(), caul(qty=2))
    assert "cut-out" in first
    assert "cut-out" not in second


@pytest.mark.parametrize(
    ("host", "part"),
    [
        (frame(), caul(length=inch(18))),  # 18 + 1 of allowance in a window of 18
        (frame(), caul(thickness=inch(1))),
        (frame(face="hidden"), caul(face="show")),
        (frame(), caul(sawing=("quarter",))),
        (frame(drawn=Drawn(frame().drawn.rim)), caul()),
    ],
)
def test_a_cut_out_is_not_offered_where_it_would_not_do(host, part):
    assert all("cut-out" not in why for why in not_made(host, part))
