"""The cutting engine against published instances with known optima.

Sizes are plain numbers, kerf and end trim nought. A piece may be narrower than its strip,
which stands for the free final trim of the literature.
"""

import pytest

from nesting.choose import choose, knapsack
from nesting.columns import kernels_for, relax, rows_for
from nesting.problem import Bin, Item, Problem


def problem_of(boards, pieces, kerf=0):
    """Boards are (length, width, cost in cents); pieces (length, width, qty)."""
    items = tuple(
        Item(index=i, part=f"P{i}", units=qty, sizes=((length, width),))
        for i, (length, width, qty) in enumerate(pieces)
    )
    wanted = frozenset(range(len(items)))
    bins = tuple(
        Bin(
            index=i, name=f"B{i}", yard=None, start=0, length=length, width=width,
            width2=width, cost=cost, goods=0.0, credit=0.0, log=f"B{i}", wanted=wanted,
            limited={},
        )
        for i, (length, width, cost) in enumerate(boards)
    )  # fmt: skip
    return Problem(
        items=items, bins=bins, trips={}, orders={}, kerf=kerf, step=1, shortest=0,
        keep_length=10**6, keep_width=10**6,
    )  # fmt: skip


KNAPSACKS = {
    # Christofides & Whitlock (1977) Oper. Res. 25:30-44, OR-Library cgcut1; the optimum
    # 244 is published, and holds with three stages, crosscut first
    "S1": (
        (15, 10),
        [(8, 4, 2, 66), (3, 7, 1, 35), (8, 2, 3, 24), (3, 4, 5, 17), (3, 3, 2, 11),
         (3, 2, 2, 8), (2, 1, 1, 2)],
        244,
    ),
    # Oliveira & Ferreira (1990) EJOR 44:256-266, OF1; the three-stage
    # crosscut-first optimum was computed by an integer program, not published
    "S3": (
        (70, 40),
        [(29, 5, 1, 145), (9, 39, 4, 351), (55, 9, 1, 495), (31, 15, 1, 465),
         (11, 16, 2, 176), (23, 21, 3, 483), (29, 14, 4, 406), (16, 19, 3, 304),
         (9, 36, 2, 324), (22, 4, 2, 88)],
        2713,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", KNAPSACKS)
def test_one_board_is_filled_to_its_published_optimum(name):
    board, pieces, optimum = KNAPSACKS[name]
    problem = problem_of([(*board, 100)], [piece[:3] for piece in pieces])
    found = knapsack(problem, problem.bins[0], [piece[3] for piece in pieces], seconds=12)
    assert found.value == optimum
    assert found.bound >= optimum


def test_a_kerf_taken_off_every_size_changes_nothing():
    # the kerf identity: subtract k from all sizes of pieces and board and saw with kerf k
    board, pieces, optimum = KNAPSACKS["S3"]
    thin = [(length - 2, width - 2, qty) for length, width, qty, _ in pieces]
    problem = problem_of([(board[0] - 2, board[1] - 2, 100)], thin, kerf=2)
    found = knapsack(problem, problem.bins[0], [piece[3] for piece in pieces], seconds=12)
    assert found.value == optimum


STOCKS = {
    # Wikipedia "Cutting stock problem", the paper machine with 5600 mm rolls: 73 rolls
    "paper5600": (
        [(5600, 1, 76)],
        [(1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18),
         (1930, 20), (2000, 10), (2050, 12), (2100, 14), (2140, 16), (2150, 18),
         (2200, 20)],
        73,
    ),
    # Chvatal (1983) Linear Programming, p. 195: 453 (linear bound 452.25)
    "chvatal100": ([(100, 1, 456)], [(45, 97), (36, 610), (31, 395), (14, 211)], 453),
    # Fourer, Gay, Kernighan, AMPL book, cut.dat: 47
    "ampl110": ([(110, 1, 49)], [(20, 48), (45, 35), (50, 24), (55, 10), (75, 8)], 47),
    # Gilmore & Gomory (1961) Oper. Res. 9:849-859, three stock lengths: cost 170
    "gg61": ([(5, 6, 30), (6, 7, 30), (9, 10, 30)], [(2, 20), (3, 10), (4, 20)], 170),
    # MathWorks cutting-stock example: 89
    "mathworks40": ([(40, 1, 92)], [(8, 90), (12, 111), (16, 55), (20, 30)], 89),
}  # fmt: skip


@pytest.mark.parametrize("name", STOCKS)
def test_stock_is_cut_at_its_published_optimum(name):
    stock, pieces, optimum = STOCKS[name]
    boards = [
        (length, 1, 100 * cost) for length, cost, count in stock for _ in range(count)
    ]
    problem = problem_of(boards, [(length, 1, qty) for length, qty in pieces])
    rows = rows_for(problem)
    relaxed = relax(problem, kernels_for(problem), rows, stop=lambda: False)
    chosen = choose(problem, rows, relaxed.columns, seconds=10, seed=1)
    assert chosen is not None
    assert sum(column.cost for column in chosen) == pytest.approx(100 * optimum)
    assert relaxed.bound <= 100 * optimum + 1e-6
