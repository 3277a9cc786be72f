"""Buying unseen: kinds of wood, piles, and the figures drawn from them."""

import random
import statistics
from concurrent.futures import Executor, Future
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.estimating import Estimate, estimate
from nesting.parts import Part
from nesting.piles import Need, job_for, needs_of
from nesting.project import Project, read_project
from nesting.unseen import kinds_of, on_the_rack, sources_for
from stock.boards import Board, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price, Yard

INCH = 64
FOUR = Thickness(Fraction(1), "4/4")
EIGHT = Thickness(Fraction(2), "8/4")


class Here(Executor):
    """Runs what it is given at once."""

    def submit(self, fn, /, *args, **kwargs):
        future = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def part(name, length, width, qty=1, **more):
    more = {"thickness": INCH * 3 // 4, "build": "solid", **more}
    return Part(
        name=name, qty=qty, length=length * INCH, width=width * INCH,
        species="red oak", **more,
    )  # fmt: skip


def price(grade, amount, thickness=FOUR, **more):
    return Price(
        yard="A yard", species="red oak", thickness=thickness, grade=grade,
        price=Fraction(amount), **more,
    )  # fmt: skip


def project(*parts, prices, boards=(), **settings):
    shop = replace(default_shop(Unit.INCH), **settings)
    return Project(
        name="a bench", shop=shop, parts=parts, boards=boards, prices=prices,
        yards=(Yard(name="A yard", tax=Fraction(5)),),
    )  # fmt: skip


BENCH = project(
    part("Slat", 40, 4, qty=8), part("Leg", 17, 3, qty=4),
    part("Top", 45, 16, build="panel"),
    prices=(price("FAS", 9), price("1C", 6)),
)  # fmt: skip


def job(content=BENCH, *, source=0, picks=False, seed=1):
    (kind,) = kinds_of(content)
    rack = on_the_rack(content, (kind,))[0]
    return job_for(
        content, kind, sources_for(content, kind)[source], rack, seed=seed, picks=picks
    )


# --- kinds ----------------------------------------------------------------------------


def test_parts_are_grouped_by_the_thinnest_wood_sold_that_serves_them():
    content = project(
        part("Thin", 20, 3), part("Thick", 20, 3, thickness=INCH * 3 // 2),
        prices=(price("FAS", 9), price("FAS", 11, EIGHT)),
    )  # fmt: skip
    found = {kind.thickness: kind.parts for kind in kinds_of(content)}
    assert found == {FOUR: ("Thin",), EIGHT: ("Thick",)}


def test_net_feet_are_those_of_the_blanks():
    content = project(part("Slat", 23, Fraction(23, 4), qty=2), prices=(price("FAS", 9),))
    (kind,) = kinds_of(content)
    # 23 + 1 by 5 3/4 + 1/4 in: 144 square inches each, of 4/4: one board foot each
    assert kind.feet == 2


def test_grades_next_to_each_other_in_price_are_mixed():
    content = replace(BENCH, prices=(price("2A", 4), price("FAS", 9), price("1C", 6)))
    (kind,) = kinds_of(content)
    labels = [source.label for source in sources_for(content, kind)]
    assert labels == ["2A", "FAS", "1C", "FAS and 1C", "1C and 2A"]


def test_a_kind_that_nobody_sells_is_refused_with_its_parts():
    content = project(part("Slat", 40, 4), prices=())
    with pytest.raises(InputError, match=r"Prices.*red oak 4/4, for Slat"):
        estimate(content, Here(), piles=10, seed=1)


def test_a_rack_board_goes_to_the_most_demanding_kind_it_serves():
    own = Board(
        name="R1", species="red oak", thickness=FOUR, length=60 * INCH, width=6 * INCH,
        width2=6 * INCH, sawing="quarter",
    )  # fmt: skip
    content = project(
        part("Slat", 40, 4), part("Front", 30, 4, sawing=("quarter",)),
        prices=(price("FAS", 9), price("FAS", 12, sawing="quarter")), boards=(own,),
    )  # fmt: skip
    kinds = kinds_of(content)
    assert [kind.sawing for kind in kinds] == [("quarter",), ()]
    assert on_the_rack(content, kinds) == ((own,), ())
    assert [s.label for s in sources_for(content, kinds[0])] == ["FAS quarter"]


# --- piles ----------------------------------------------------------------------------


@pytest.mark.parametrize("picks", [False, True])
@pytest.mark.parametrize("source", [0, 1])
def test_no_pile_needs_less_than_its_proven_bound(source, picks):
    needs = needs_of(job(source=source, picks=picks), range(6))
    assert all(need.feet is None or need.feet >= need.least for need in needs)
    assert any(need.feet is not None for need in needs)
    net = kinds_of(BENCH)[0].feet
    assert statistics.mean(float(need.least) for need in needs) > 0.95 * float(net)


def test_picking_the_best_boards_takes_less_than_the_first_ones():
    first = needs_of(job(), range(6))
    best = needs_of(job(picks=True), range(6))
    pairs = [(a.feet, b.feet) for a, b in zip(first, best, strict=True)]
    assert all(b <= a for a, b in pairs)
    assert sum(float(a - b) for a, b in pairs) > 0


def test_the_same_seed_gives_the_same_needs_in_any_order():
    again = needs_of(job(), [4, 2])
    assert needs_of(job(), [2, 3, 4])[::2] == again[::-1]
    assert needs_of(job(seed=2), [2]) != again[1:]


def test_pay_is_the_price_of_the_boards_with_tax():
    for need in needs_of(job(), range(4)):
        # 9.00 a board foot and 5 % tax, each board to the cent
        assert need.pay == pytest.approx(float(need.feet) * 945, abs=need.boards)


def test_the_rack_is_cut_first():
    own = Board(
        name="R1", species="red oak", thickness=FOUR, length=144 * INCH, width=10 * INCH,
        width2=10 * INCH,
    )  # fmt: skip
    boards = tuple(replace(own, name=f"R{n}") for n in range(8))  # 80 board feet
    needs = needs_of(job(replace(BENCH, boards=boards)), range(3))
    assert [(need.boards, need.feet, need.pay) for need in needs] == [(0, 0, 0)] * 3


def test_what_no_board_of_a_grade_can_give_is_never_enough():
    content = project(part("Long", 190, 4), prices=(price("1C", 6, longest=100 * INCH),))
    needs = needs_of(job(content), range(3))
    assert [need.feet for need in needs] == [None] * 3


def test_the_plain_search_answers_too(monkeypatch):
    monkeypatch.setattr("nesting.piles.IS_COMPILED", False)
    for picks in (False, True):
        for need in needs_of(job(picks=picks), range(2)):
            assert need.feet >= need.least


# --- figures --------------------------------------------------------------------------


def needs(feet):
    return tuple(
        Need(boards=1, feet=None if f is None else Fraction(f), pay=0, least=Fraction(0))
        for f in feet
    )


def figures(feet):
    (kind,) = kinds_of(BENCH)
    source = sources_for(BENCH, kind)[0]
    return Estimate(kind=kind, source=source, needs=needs(feet), rack_feet=Fraction(0))


def test_a_figure_is_the_smallest_that_so_many_piles_do_not_exceed():
    one = figures([5, 1, 4, 2, 3, 10, 9, 8, 7, 6])
    assert [one.feet_for(share) for share in (50, 80, 90, 95, 100)] == [5, 8, 9, 10, 10]
    assert one.enough(Fraction(9)) == 0.9


def test_a_pile_that_is_never_enough_counts_as_beyond_every_figure():
    one = figures([1, 2, 3, 4, 5, 6, 7, 8, None, None])
    assert [one.feet_for(share) for share in (80, 81)] == [8, None]
    assert one.enough(Fraction(100)) == 0.8
    assert one.error_at(90) is None


@given(st.lists(st.integers(1, 500), min_size=1, max_size=60), st.integers(1, 100))
def test_a_figure_is_enough_for_its_share_and_the_one_before_is_not(feet, share):
    one = figures(feet)
    found = one.feet_for(share)
    assert 100 * one.enough(found) >= share - 1e-9
    assert 100 * one.enough(found - 1) < share


def test_the_error_is_about_that_of_figures_drawn_again_and_again():
    # uniform from 0 to 1000: the standard error of the 90 % figure of n = 400 is
    # sqrt(p (1 - p) / n) / density = sqrt(0.09 / 400) * 1000 = 15 (order statistics)
    rng = random.Random(1)
    errors = [figures([rng.randint(0, 1000) for _ in range(400)]).error_at(90)
              for _ in range(30)]  # fmt: skip
    assert statistics.mean(errors) == pytest.approx(15, rel=0.25)


def test_the_cheapest_grade_is_that_of_the_least_cost_at_the_shop_s_confidence():
    answers = estimate(BENCH, Here(), piles=12, seed=1)
    (answer,) = answers
    costs = {
        one.source.label: one.pay_for(feet)
        for one in answer.estimates
        if (feet := one.feet_for(90)) is not None
    }
    assert answer.cheapest.source.label == min(costs, key=costs.get)
    assert {one.source.label for one in answer.estimates} == {"FAS", "1C", "FAS and 1C"}


def test_progress_ends_with_all_piles():
    seen = []
    estimate(BENCH, Here(), piles=15, seed=1, on_progress=lambda *done: seen.append(done))
    assert seen[-1] == (45, 45)
    assert seen == sorted(seen)


@pytest.mark.parametrize("name", ["hall-bench", "wall-shelves"])
def test_demos_can_be_estimated(name):
    content = read_project(Path(__file__).parents[2] / "reports" / "demo" / name)
    assert all(sources_for(content, kind) for kind in kinds_of(content))
