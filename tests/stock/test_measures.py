"""Measures: what makers write, exactly; expected values are plain arithmetic.

25.4 mm to the inch is exact by definition; a foot is 12 in.
"""

from __future__ import annotations

import contextlib
import datetime
import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stock.measures import (
    BOARD_FEET_PER_M3,
    MeasureError,
    Unit,
    format_measure,
    need_steps,
    parse_measure,
    parse_thickness,
    supply_steps,
    to_unit,
)

INCH, MM = Unit.INCH, Unit.MM
units = st.sampled_from([INCH, MM])
sizes = st.fractions(min_value=0, max_value=10_000)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("23 1/4", Fraction(93, 4)),
        ("23-1/4", Fraction(93, 4)),
        ("23 - 1/4", Fraction(93, 4)),
        ('23 1/4"', Fraction(93, 4)),
        ("1/2", Fraction(1, 2)),
        ("7' 6\"", Fraction(90)),
        ("7'6", Fraction(90)),
        ("7' 6 1/2\"", Fraction(181, 2)),
        ("7 ft 6 in", Fraction(90)),
        ("7 ft. 6 in.", Fraction(90)),
        ("7 FEET", Fraction(84)),
        ("590 mm", Fraction(5900, 254)),
        ("59 cm", Fraction(5900, 254)),
        ("1.2 m", Fraction(12000, 254)),
        ("0.75 in", Fraction(3, 4)),
        (".5", Fraction(1, 2)),
        ("12", Fraction(12)),
        ("23¼", Fraction(93, 4)),
        ("23 ¼\N{DOUBLE PRIME}", Fraction(93, 4)),
        ("¾", Fraction(3, 4)),
        ("7\N{PRIME} 6\N{DOUBLE PRIME}", Fraction(90)),
        ("7\N{RIGHT SINGLE QUOTATION MARK} 6\N{RIGHT DOUBLE QUOTATION MARK}", Fraction(90)),
        ("1\N{FRACTION SLASH}2", Fraction(1, 2)),
        ("2 \N{EN DASH} 1/2", Fraction(5, 2)),
        ("23\xa01/4", Fraction(93, 4)),
    ],
)
def test_texts_of_the_trade_are_read_exactly_in_inches(text, inches):
    assert parse_measure(text, INCH) == inches


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("590", Fraction(590)),
        ("59 cm", Fraction(590)),
        ("1.2 m", Fraction(1200)),
        ("23 1/4 in", Fraction(93, 4) * Fraction(254, 10)),
        ("7' 6\"", 90 * Fraction(254, 10)),
        ("0.75 in", Fraction(1905, 100)),
    ],
)
def test_a_metric_project_reads_the_same_texts_in_millimetres(text, mm):
    assert parse_measure(text, MM) == mm


def test_numbers_are_read_as_the_decimal_they_print_as():
    assert parse_measure(0.1, INCH) == Fraction(1, 10)  # not 0.1000000000000000055...
    assert parse_measure(23.25, INCH) == Fraction(93, 4)
    assert parse_measure(7, MM) == Fraction(7)
    assert parse_measure(Decimal("2.5"), MM) == Fraction(5, 2)
    assert parse_measure(Fraction(1, 3), INCH) == Fraction(1, 3)


WRITE_INCH = "write it like 23 1/4, 7' 6\" or 590 mm"


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("", f"a measure is missing: {WRITE_INCH}"),
        ("  ", f"a measure is missing: {WRITE_INCH}"),
        ("long", f"not a measure: {WRITE_INCH}"),
        ("=1+1", f"not a measure: {WRITE_INCH}"),
        ("1e3", f"not a measure: {WRITE_INCH}"),
        ("1/2 1/4", f"not a measure: {WRITE_INCH}"),
        ("1/2/4", f"not a measure: {WRITE_INCH}"),
        ("nan", f"not a measure: {WRITE_INCH}"),
        ("1" * 41, f"too long for a measure: {WRITE_INCH}"),
        ("3 yd", "unknown unit 'yd': use in, ft, mm, cm or m"),
        ("1/0", "the lower number of a fraction is not 0"),
        ("-3", "a measure is not negative"),
        ("\N{MINUS SIGN}3", "a measure is not negative"),
        (-0.5, "a measure is not negative"),
        ("7,5", "write decimals with a point, not a comma (7.5), and no thousands mark"),
        ("1,200", "write decimals with a point, not a comma (7.5), and no thousands mark"),
        (math.nan, "a measure is a finite number"),
        (math.inf, "a measure is a finite number"),
        (Decimal("NaN"), "a measure is a finite number"),
        (True, f"a measure is a number or a text: {WRITE_INCH}"),
        (None, f"a measure is a number or a text: {WRITE_INCH}"),
        (b"12", f"a measure is a number or a text: {WRITE_INCH}"),
        (1_000_001, "a measure is at most 1000000 in"),
        (1e300, "a measure is at most 1000000 in"),
        (
            datetime.date(2026, 1, 2),
            "a measure is expected, but the spreadsheet made a date of it: "
            "give the cell the format 'text' and type it again",
        ),
    ],
)
def test_what_is_no_size_is_refused_with_what_would_be_right(value, message):
    with pytest.raises(MeasureError) as caught:
        parse_measure(value, INCH)
    assert str(caught.value) == message


def test_the_example_in_a_message_is_in_the_project_s_unit():
    with pytest.raises(MeasureError, match=r"write it like 590, 59 cm or 23 1/4 in"):
        parse_measure("long", MM)


@pytest.mark.parametrize(
    ("value", "inch", "mm", "label"),
    [
        ("4/4", Fraction(1), Fraction(254, 10), "4/4"),
        ("5/4", Fraction(5, 4), Fraction(3175, 100), "5/4"),
        (" 8 / 4 ", Fraction(2), Fraction(508, 10), "8/4"),
        ("16/4", Fraction(4), Fraction(1016, 10), "16/4"),
        ("¾", Fraction(3, 4), Fraction(1905, 100), "3/4"),
        (27, Fraction(27), Fraction(27), "27"),
        (20.5, Fraction(41, 2), Fraction(41, 2), "20.5"),
        ("27 mm", Fraction(270, 254), Fraction(27), "27 mm"),
        ("1 1/4", Fraction(5, 4), Fraction(5, 4), "1 1/4"),
    ],
)
def test_quarters_are_quarters_of_an_inch_in_either_unit(value, inch, mm, label):
    assert parse_thickness(value, INCH) == (inch, label)
    assert parse_thickness(value, MM) == (mm, label)


def test_a_thickness_is_more_than_nothing():
    with pytest.raises(MeasureError, match="a thickness is more than 0"):
        parse_thickness(0, INCH)


@pytest.mark.parametrize(
    ("steps", "text"),
    [
        (0, "0"),
        (64, "1"),
        (32, "1/2"),
        (23 * 64 + 16, "23 1/4"),
        (4, "1/16"),
        (2, "1/16"),  # 1/32 lies between 0 and 1/16: halves go up
        (1, "0"),
        (-80, "-1 1/4"),
    ],
)
def test_inches_are_written_as_reduced_fractions(steps, text):
    assert format_measure(steps, INCH) == text


def test_a_finer_fraction_can_be_asked_for():
    assert format_measure(2, INCH, 32) == "1/32"
    assert format_measure(1, INCH, 64) == "1/64"


def test_millimetres_are_whole_with_a_decimal_only_where_needed():
    assert format_measure(5900, MM) == "590"
    assert format_measure(5905, MM) == "590.5"
    assert format_measure(-5, MM) == "-0.5"


def test_steps_are_a_number_in_the_unit():
    assert to_unit(96, INCH) == 1.5
    assert to_unit(255, MM) == 25.5


@given(st.integers(0, 10**6))
def test_what_is_written_exactly_is_read_back_the_same(steps):
    assert need_steps(parse_measure(format_measure(steps, INCH, 64), INCH), INCH) == steps
    assert need_steps(parse_measure(format_measure(steps, MM), MM), MM) == steps


@given(st.integers(0, 10**6))
def test_a_sixteenth_is_never_more_than_half_of_one_away(steps):
    assert abs(
        parse_measure(format_measure(steps, INCH), INCH) - Fraction(steps, 64)
    ) <= Fraction(1, 32)


@given(sizes, units)
def test_need_rounds_up_and_supply_down_by_less_than_a_step(size, unit):
    step = Fraction(1, 64) if unit is INCH else Fraction(1, 10)
    need, supply = need_steps(size, unit) * step, supply_steps(size, unit) * step
    assert supply <= size <= need
    assert need - size < step
    assert size - supply < step


@given(st.text(max_size=50))
def test_any_text_is_read_or_refused_never_a_crash(text):
    with contextlib.suppress(MeasureError):
        assert parse_measure(text, INCH) >= 0


def test_a_cubic_metre_holds_423_776_board_feet():
    # BM-10, BM-11: 12 * 12 * 1 in of 25.4 mm are 2.359737216 cubic decimetres
    assert float(1000 / BOARD_FEET_PER_M3) == pytest.approx(2.359737216, abs=1e-9)
    assert float(BOARD_FEET_PER_M3) == pytest.approx(423.776001, abs=1e-5)
