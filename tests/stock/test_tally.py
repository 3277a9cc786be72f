"""Tallies of the trade against printed examples.

Sources: AHEC-M: American Hardwood Export Council, measurement page; MEAS-VN and GRADE-EX,
TERM: merchants' measuring and grading pages; KING: C. A. King, Elements of Woodwork;
NHLA-KD: NHLA, Kiln Dried Rules and Shrinkage Allowances (2025); WBIN, ETB: lumber
dimension tables; YARD-4: a yard's page on kiln loss.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.tally import (
    dried_feet,
    export_feet,
    export_tally,
    kiln_dried_minimum,
    surface_feet,
    surface_measure,
    surface_measures,
    surfaced_thickness,
)


@pytest.mark.parametrize(
    ("width", "feet", "expected"),
    [
        (Fraction(25, 4), Fraction(8), 4),  # BM-01, AHEC-M
        (Fraction(13, 2), Fraction(8), 4),  # BM-02, MEAS-VN
        (Fraction(8), Fraction(12), 8),  # BM-03, MEAS-VN
        (Fraction(10), Fraction(13), 11),  # BM-04, MEAS-VN: 10.83
        (
            Fraction(103, 16),
            Fraction(43, 4),
            5,
        ),  # BM-05, GRADE-EX: 10 ft 9 in counts as 10 ft
    ],
)
def test_surface_measure_agrees_with_printed_boards(width, feet, expected):
    assert surface_measure(width, feet * 12) == expected


def test_board_feet_are_surface_measure_times_thickness():
    assert surface_feet(4, Fraction(2)) == 8  # BM-01, AHEC-M: 2 in x 6 1/4 in x 8 ft
    assert surface_feet(
        surface_measure(Fraction(10), Fraction(156)), Fraction(5, 4)
    ) == Fraction(55, 4)  # BM-13: 13.75


def test_stock_under_an_inch_counts_as_an_inch():
    assert surface_feet(5, Fraction(3, 4)) == 5  # BM-08, TERM


def test_exact_halves_go_down_and_up_in_turn():
    # BM-09, KING: 5 in x 6 ft is 2.5 each; that the first goes down is our choice
    size = (Fraction(5), Fraction(72))
    assert surface_measures([size, size]) == (2, 3)
    assert surface_measures([size, (Fraction(8), Fraction(144)), size, size]) == (
        2,
        8,
        3,
        2,
    )


@given(st.lists(st.tuples(st.integers(3, 16), st.integers(48, 200)), max_size=30))
def test_a_tally_of_many_boards_is_not_a_half_foot_off_per_board(sizes):
    found = surface_measures([(Fraction(w), Fraction(length)) for w, length in sizes])
    raw = [Fraction(w * (length // 12), 12) for w, length in sizes]
    assert all(abs(a - b) <= Fraction(1, 2) for a, b in zip(found, raw, strict=True))
    halves = [
        a - b for a, b in zip(found, raw, strict=True) if abs(a - b) == Fraction(1, 2)
    ]
    assert abs(sum(halves)) <= Fraction(1, 2)


def test_an_export_tally_records_whole_inches_and_whole_feet():
    # BM-06, AHEC-M: 5 1/4 in x 8 1/2 ft is recorded as 5 in x 8 ft
    assert export_tally([(Fraction(21, 4), Fraction(102))]) == ((5, 8),)
    assert export_feet(5, 8, Fraction(1)) == Fraction(10, 3)  # 3.3333


def test_an_export_tally_rounds_half_inches_in_turn():
    boards = [(Fraction(11, 2), Fraction(96))] * 2
    assert export_tally(boards) == ((5, 8), (6, 8))


def test_a_thousand_green_feet_lose_eighty_in_the_kiln():
    assert dried_feet(Fraction(1000)) == 920  # BM-14, YARD-4


@pytest.mark.parametrize(
    ("nominal", "expected"),
    # BM-16, NHLA-KD: 4/4 and 5/4 as printed, 8/4 by its rule
    [
        (Fraction(1), Fraction(15, 16)),
        (Fraction(5, 4), Fraction(19, 16)),
        (Fraction(7, 4), Fraction(27, 16)),
        (Fraction(2), Fraction(15, 8)),
    ],
)
def test_dried_rough_stock_may_be_scant(nominal, expected):
    assert kiln_dried_minimum(nominal) == expected


SURFACED = [
    # BM-15 and the table of WBIN and ETB; 10/4 is BM-17, from memory of the NHLA rules
    (Fraction(1, 2), Fraction(5, 16)),
    (Fraction(5, 8), Fraction(7, 16)),
    (Fraction(3, 4), Fraction(9, 16)),
    (Fraction(1), Fraction(13, 16)),
    (Fraction(5, 4), Fraction(17, 16)),
    (Fraction(3, 2), Fraction(21, 16)),
    (Fraction(7, 4), Fraction(3, 2)),
    (Fraction(2), Fraction(7, 4)),
    (Fraction(5, 2), Fraction(9, 4)),
    (Fraction(3), Fraction(11, 4)),
    (Fraction(7, 2), Fraction(13, 4)),
    (Fraction(4), Fraction(15, 4)),
]


@pytest.mark.parametrize(("nominal", "expected"), SURFACED)
def test_surfaced_sizes_are_those_of_the_published_table(nominal, expected):
    assert surfaced_thickness(nominal) == expected
