"""Sums of sizes, against trying every number of each size."""

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from nesting.sums import sums_of

SIZES = st.frozensets(
    st.tuples(st.integers(2, 9), st.integers(0, 4)).map(lambda s: (s[0], s[0] + s[1])),
    min_size=1,
    max_size=3,
)


def used(sizes, rest):
    """The greatest sum that fits a rest, by trying all counts of all sizes."""
    widths = sorted({width for low, high in sizes for width in range(low, high + 1)})
    best = 0
    for counts in product(*(range(rest // width + 1) for width in widths[:4])):
        total = sum(count * width for count, width in zip(counts, widths, strict=False))
        if total <= rest:
            best = max(best, total)
    return best


@given(
    sizes=st.frozensets(st.integers(2, 9), min_size=1, max_size=3), rest=st.integers(0, 24)
)
def test_what_no_sum_of_fixed_sizes_uses_is_waste(sizes, rest):
    pairs = frozenset((size, size) for size in sizes)
    assert sums_of(pairs, 24).waste(rest) == rest - used(pairs, rest)


@given(sizes=SIZES, rest=st.integers(0, 18))
def test_a_size_with_a_range_may_have_any_width_in_it(sizes, rest):
    singles = frozenset(
        (width, width) for low, high in sizes for width in range(low, high + 1)
    )
    assert sums_of(sizes, 18, 1).waste(rest) == sums_of(singles, 18).waste(rest)


def test_a_rest_between_cells_is_waste():
    # sizes 4 and 8 make cells of 4: of a rest of 11 they use 8
    assert sums_of(frozenset({(4, 4), (8, 8)}), 20).waste(11) == 3


def test_nothing_uses_anything_where_no_size_is_wanted():
    assert sums_of(frozenset(), 10).waste(7) == 7
