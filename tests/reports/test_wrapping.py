"""How many lines a text takes: letters by their widths, words whole."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.wrapping import lines_of, text_units


def test_letters_are_as_wide_as_in_the_published_metrics():
    # Adobe, Core 14 AFM files, Helvetica: W 944, i 222, m 833, space 278; a digit 556
    assert text_units("Wi m") == pytest.approx((944 + 222 + 278 + 833) / 556)
    assert text_units("0123456789") == 10


def test_texts_wrap_at_words():
    assert lines_of("", 20) == 1
    assert lines_of("short", 20) == 1
    assert lines_of("one two three four five six", 10) == 3
    assert lines_of("first\nsecond", 40) == 2
    assert lines_of("x" * 200, 20) == 9  # an x is 500 / 556: 22 to a line


def test_wide_letters_take_more_lines_than_narrow_ones():
    assert lines_of("W" * 30, 40) == 2  # 51 units
    assert lines_of("i" * 30, 40) == 1  # 12 units
    assert lines_of("W" * 23, 40) == 1
    assert lines_of("W" * 23, 40, bold=True) == 2
    assert lines_of("W" * 23, 40, scale=1.2) == 2


@given(st.lists(st.text("abcWi ", min_size=1, max_size=12), max_size=20), st.floats(5, 99))
def test_no_fewer_lines_than_the_letters_need(words, units):
    text = " ".join(words)
    assert lines_of(text, units) >= text_units(" ".join(text.split())) / (units + 1)
