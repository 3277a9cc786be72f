"""NHLA grades against the printed rules.

CHART: a merchant's chart of the NHLA rule book; AHEC-S: American Hardwood Export
Council, grade summary; NHLA-KD: NHLA rules 2023, kiln dried rule.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.boards import GRADES
from stock.grades import (
    admits_board,
    admits_cutting,
    cutting_units,
    cuttings_allowed,
    defect_limits,
    faces,
    holds,
    units_needed,
    with_extra_cutting,
)

FAS, COMMON1, COMMON2 = faces("FAS")[0], faces("1C")[0], faces("2A")[0]


def test_fas_of_eight_feet():  # GR-01, CHART
    assert (units_needed(FAS, 8), cuttings_allowed(FAS, 8)) == (80, 2)
    assert with_extra_cutting(FAS, 8) == (88, 3)


def test_number_one_common_of_five_feet():  # GR-02, CHART
    assert (units_needed(COMMON1, 5), cuttings_allowed(COMMON1, 5)) == (40, 2)
    assert with_extra_cutting(COMMON1, 5) == (45, 3)


def test_number_two_common_of_eight_feet_has_no_extra_cutting():  # GR-03, CHART
    assert (units_needed(COMMON2, 8), cuttings_allowed(COMMON2, 8)) == (48, 4)
    assert with_extra_cutting(COMMON2, 8) is None


def test_two_cuttings_make_a_number_one_common():  # GR-04, rules of CHART
    pieces = [(Fraction(5), Fraction(72)), (Fraction(3), Fraction(48))]
    assert sum(cutting_units(*piece) for piece in pieces) == 42  # 30 + 12
    assert holds(COMMON1, 5, pieces)
    assert not holds(FAS, 5, pieces)  # 50 units in one piece are needed


def test_fas_boards_are_six_inches_wide_when_green():  # GR-05, AHEC-S
    assert not admits_board(FAS, Fraction(11, 2), Fraction(120), is_kiln_dried=False)
    assert admits_board(FAS, Fraction(6), Fraction(96), is_kiln_dried=False)
    assert not admits_board(FAS, Fraction(6), Fraction(95), is_kiln_dried=False)


def test_dried_boards_may_be_a_quarter_inch_scant():  # GR-06, NHLA-KD
    assert admits_board(FAS, Fraction(23, 4), Fraction(120))
    assert not admits_board(FAS, Fraction(23, 4), Fraction(120), is_kiln_dried=False)


def test_fas_limits_defects_outside_its_cuttings():  # GR-07, CHART: 2 x 8, 8 / 3, 8
    assert defect_limits(8) == {"split": 16, "knot": Fraction(8, 3), "pith": 8}
    assert defect_limits(4)["split"] == 12  # or 12 in, whichever is more


def test_small_pieces_do_not_count():
    # FAS counts 4 in x 5 ft or 3 in x 7 ft; 3 in x 5 ft is neither (AHEC-S)
    assert admits_cutting(FAS, (Fraction(4), Fraction(60)))
    assert admits_cutting(FAS, (Fraction(3), Fraction(84)))
    assert not admits_cutting(FAS, (Fraction(3), Fraction(60)))
    assert not holds(FAS, 4, [(Fraction(3), Fraction(60))] * 9)


def test_an_extra_cutting_must_be_earned():
    # FAS of 8 ft: three pieces of 29 units hold 87, one short of 88 (CHART)
    three = [(Fraction(5), Fraction(29 * 12, 5))] * 3
    assert not holds(FAS, 8, three)
    assert holds(FAS, 8, [*three[:2], (Fraction(5), Fraction(30 * 12, 5))])


def test_selects_are_fas_on_the_better_face_only():  # AHEC-S
    better, poorer = faces("SEL")
    assert better.cuttings == FAS.cuttings
    assert poorer == COMMON1
    assert admits_board(better, Fraction(4), Fraction(72), is_kiln_dried=False)
    assert faces("F1F") == (FAS, COMMON1)


@pytest.mark.parametrize(
    ("name", "surface", "units"),
    # CHART: No. 1 Common of 1 ft is clear (12 units), of 2 ft SM x 9; No. 2A of 1 ft SM x 8
    [("1C", 1, 12), ("1C", 2, 18), ("2A", 1, 8), ("SEL", 2, 22), ("SEL", 3, 33)],
)
def test_small_boards_have_stricter_yields(name, surface, units):
    grade = faces(name)[0]
    assert units_needed(grade, surface) == units
    assert cuttings_allowed(grade, surface) == 1


@pytest.mark.parametrize("name", GRADES)
def test_every_grade_a_board_may_carry_has_its_rule(name):
    assert all(grade.factor for grade in faces(name))


@given(st.integers(3, 16))
def test_a_better_grade_asks_no_less_and_allows_no_more_pieces(surface):
    assert units_needed(FAS, surface) >= units_needed(COMMON1, surface)
    assert units_needed(COMMON1, surface) >= units_needed(COMMON2, surface)
    assert (cuttings_allowed(FAS, surface) or 0) <= (
        cuttings_allowed(COMMON2, surface) or 0
    )
    assert cuttings_allowed(faces("3A")[0], surface) is None
