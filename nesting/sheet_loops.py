"""Compiled loops: fill all rectangles of a grid with no more of each piece than wanted."""

from __future__ import annotations

from nesting.compiled import Real, Whole, compiled

ALONG, ACROSS, ONE, SAME_LENGTH, SAME_WIDTH = 1, 2, 3, 4, 5  # what a rectangle is made of


@compiled
def go_together(most: Whole, held: Whole, one: int, other: int) -> bool:
    """Whether two rectangles together hold no more of each piece than is wanted."""
    kinds = len(most)
    for kind in range(kinds):
        if held[one * kinds + kind] + held[other * kinds + kind] > most[kind]:
            return False
    return True


@compiled
def fill_counted(
    xs: Whole,
    ys: Whole,
    rest_x: Whole,
    rest_y: Whole,
    ways: Whole,
    most: Whole,
    values: Real,
    best: Real,
    made: Whole,
    place: Whole,
    held: Whole,
) -> None:
    """Fill `best`, `made`, `place` and `held`, rectangle after rectangle, from small on.

    Each rectangle keeps one way only, the most valuable that is met, with its pieces
    counted in `held`: two are put together if they hold no more than `most` of each. So
    this is no proof, but a good way. Rectangle (i, j) is number i * len(ys) + j; `ways`
    has four numbers each: piece, way, length, width.
    """
    wide, kinds = len(ys), len(most)
    for i in range(1, len(xs)):
        for j in range(1, wide):
            cell = i * wide + j
            worth = best[cell - wide]
            how, at = SAME_WIDTH, cell - wide
            if best[cell - 1] > worth:
                worth, how, at = best[cell - 1], SAME_LENGTH, cell - 1
            for way in range(0, len(ways), 4):
                kind = ways[way]
                fits = ways[way + 2] <= xs[i] and ways[way + 3] <= ys[j]
                if fits and values[kind] > worth and most[kind] > 0:
                    worth, how, at = values[kind], ONE, way
            a = 1
            while a < i and 2 * xs[a] <= xs[i]:
                one, other = a * wide + j, rest_x[i * len(xs) + a] * wide + j
                both = best[one] + best[other]
                if both > worth and go_together(most, held, one, other):
                    worth, how, at = both, ALONG, a
                a += 1
            a = 1
            while a < j and 2 * ys[a] <= ys[j]:
                one, other = i * wide + a, i * wide + rest_y[j * wide + a]
                both = best[one] + best[other]
                if both > worth and go_together(most, held, one, other):
                    worth, how, at = both, ACROSS, a
                a += 1
            best[cell] = worth
            made[cell] = how
            place[cell] = at
            one, other = 0, 0
            if how == ALONG:
                one, other = at * wide + j, rest_x[i * len(xs) + at] * wide + j
            elif how == ACROSS:
                one, other = i * wide + at, i * wide + rest_y[j * wide + at]
            elif how != ONE:
                one = at
            for kind in range(kinds):
                held[cell * kinds + kind] = (
                    held[one * kinds + kind] + held[other * kinds + kind]
                )
            if how == ONE:
                held[cell * kinds + ways[at]] = 1
