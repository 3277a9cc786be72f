"""Whether a plan's money, board feet and sums are what the project's prices make them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction

from nesting.goods import Sheet
from nesting.plan import CutBoard
from nesting.verify_ledger import Ledger
from nesting.verify_rules import Case, Violation
from stock.boards import Board, area_feet

_HUNDREDTH = Fraction(1, 200) + Fraction(1, 10**9)  # what two decimals may hide


def check_money(case: Case) -> Iterator[Violation]:
    """Yield every amount and sum that the project's prices don't give."""
    ledger = Ledger(case)
    for cut, board in ledger.boards:
        yield from _board(ledger, cut, board)
    for cut, sheet in ledger.sheets:
        yield from _amounts(ledger, cut, sheet, lambda _: 0)
    yield from _totals(case, ledger)
    yield from _bound(case)
    yield from _tally(case, ledger)


def _board(ledger: Ledger, cut: CutBoard, board: Board) -> Iterator[Violation]:
    yield from _amounts(ledger, cut, board, lambda area: ledger.credit(board, area))
    if abs(cut.board_feet - ledger.feet(board)) > _HUNDREDTH:
        text = f"has {float(ledger.feet(board)):.3f} board feet"
        text += f", recorded {float(cut.board_feet):.3f}"
        yield Violation("feet", f"board {cut.board!r}", text)


def _amounts(
    ledger: Ledger, cut: CutBoard, stuff: Board | Sheet, credit: Callable[[int], int]
) -> Iterator[Violation]:
    where = f"board {cut.board!r}"
    yield from _amount("cost", where, cut.cost, ledger.cost(stuff))
    yield from _amount("pay", where, cut.pay, ledger.pay(stuff))
    for offcut in cut.offcuts:
        worth = credit(offcut.length * offcut.width) if offcut.keep else 0
        place = f"{where}, offcut {offcut.name!r}"
        yield from _amount("credit", place, offcut.credit, worth)


def _amount(rule: str, where: str, stated: Decimal, cents: int) -> Iterator[Violation]:
    """Yield a violation if an amount is stated and is another; to the cent."""
    if not stated.is_nan() and stated * 100 != cents:
        text = f"must be {Decimal(cents) / 100:.2f}, is {stated}"
        yield Violation(rule, where, text)


def _totals(case: Case, ledger: Ledger) -> Iterator[Violation]:
    totals = case.plan.totals
    sums = ledger.sums()
    for name, cents in sums.items():
        where = f"totals, {name.replace('_', ' ')}"
        yield from _amount("sums", where, getattr(totals, name), cents)
    cost = sum(sums.values()) - 2 * sums["credit"]
    yield from _amount("total cost", "totals, cost", totals.cost, cost)
    paid = sum(ledger.pay(stuff) for _, stuff in ledger.used)
    paid += ledger.trips() + ledger.top_ups()
    yield from _amount("to pay", "totals, to pay", totals.to_pay, paid)


def _bound(case: Case) -> Iterator[Violation]:
    totals = case.plan.totals
    if totals.bound > totals.cost:
        text = f"{totals.bound} is above the cost {totals.cost}"
        yield Violation("bound", "totals, bound", text)
        return
    gap = None
    if totals.bound > 0:
        gap = Fraction(totals.cost - totals.bound) / Fraction(totals.bound)
    if totals.gap is None or gap is None:
        sound = totals.gap is None and gap is None
    else:
        sound = abs(totals.gap - gap) <= Fraction(1, 2000)
    if not sound:
        shown = "none" if gap is None else f"{float(gap):.4f}"
        yield Violation("bound", "totals, gap", f"must be {shown}, is {totals.gap}")


def _tally(case: Case, ledger: Ledger) -> Iterator[Violation]:
    totals = case.plan.totals
    used = sum((ledger.feet(board) for _, board in ledger.boards), Fraction(0))
    bought = [board for _, board in ledger.boards if not board.is_owned]
    feet = sum((ledger.feet(board) for board in bought), Fraction(0))
    blanks = sum(
        area_feet(board, piece.length * piece.width, case.project.unit)
        for cut, board in ledger.boards
        for piece in cut.pieces
    )
    for name, stated, right in (
        ("board feet used", totals.board_feet_used, used),
        ("board feet bought", totals.board_feet_bought, feet),
        ("boards bought", Fraction(totals.boards_bought), Fraction(len(bought))),
        ("yield", Fraction(totals.yield_), blanks / used if used else Fraction(0)),
    ):
        if abs(stated - right) > _HUNDREDTH:
            text = f"must be {float(right):.3f}, is {float(stated):.3f}"
            yield Violation("tally", f"totals, {name}", text)
