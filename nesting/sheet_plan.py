"""A project's sheet goods: which sheets to take, and how each is cut.

Sheets are cut right through, cut after cut, in any number of stages. What they cost stands
beside the lumber: trips and smallest orders of a yard that sells both are shared.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from nesting.blanks import Blank, blanks_for
from nesting.fitting import misfits
from nesting.goods import Sheet
from nesting.limits import Limit
from nesting.parts import Part
from nesting.plan import COMPLETE, SHORT, CutBoard, Offcut, Piece, Plan, Shortage
from nesting.problem import sheet_cost
from nesting.project import Project
from nesting.sheet_bound import whole_bound
from nesting.sheet_demand import Demand, Pattern
from nesting.sheet_layout import Box, Laid, lay
from nesting.sheet_sizes import Stock, Want
from nesting.sheet_stock import Cut, cut_stock
from nesting.totals import totals_for
from stock.boards import RACK
from stock.yards import Yard

NOISE = 1e-6  # of a cent, for sums of floating point; bounds come in hundredths of cents
WHOLE_SHEETS = "whole sheets"
RULES = (
    "sheets are cut right through, cut after cut, in any number of stages, a kerf apart; "
    "they are bought and charged whole, and what is kept of them counts nothing",
)
NOT_HELD = "the sheets at hand do not hold it beside the rest"


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetGoods:
    """What is asked of sheet goods, in the order of the project's parts and sheets."""

    demand: Demand
    parts: tuple[Part, ...]
    sheets: tuple[Sheet, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class CutSheets:
    """How sheets are cut.

    Attributes
    ----------
    bound
        Proven least cost in cents for making what is made: sheets and cuts, trips and
        top-ups of yards that sell no lumber, and trips that nothing can do without.
    forced
        Yards that no plan can do without, whose trips are in the bound.
    """

    sheets: tuple[CutBoard, ...] = ()
    short: tuple[Shortage, ...] = ()
    bound: float = 0.0
    forced: frozenset[str] = frozenset()


def has_sheet_parts(project: Project) -> bool:
    """Whether any part that is bought for is cut from sheet goods."""
    return any(
        part.source == "stock" and project.sheets_for(part.species)
        for part in project.parts
    )


def goods_of(project: Project, per_cut: float) -> SheetGoods:
    """Return what a project asks of sheet goods; `per_cut` is in cents."""
    shop = project.shop
    made = [
        (part, blank)
        for part, blank in zip(project.parts, blanks_for(project), strict=True)
        if blank.is_sheet and part.source == "stock"
    ]
    sheets = tuple(
        one for one in project.sheets if one.qty and one.where not in project.closed
    )
    lumber = frozenset(one.where for one in project.boards if one.where != RACK)
    stocks = tuple(_stock(project, one, made) for one in sheets)
    wants = tuple(_want(blank, shop.kerf) for _, blank in made)
    demand = Demand(
        wants=wants,
        stocks=stocks,
        trips={one.name: project.tariff.trip(one.name) for one in project.yards},
        orders={
            yard: asked for yard, asked in _orders(project).items() if yard not in lumber
        },
        per_cut=per_cut,
        trims=2 if shop.sheet_trim else 0,
        apart=lumber - _forced(wants, stocks),
    )
    return SheetGoods(demand=demand, parts=tuple(part for part, _ in made), sheets=sheets)


def _orders(project: Project) -> dict[str, tuple[float, float]]:
    """Return what each yard bills at least, in cents before tax, and one plus its tax."""
    if project.tariff.by_feet:
        return {}
    return {
        one.name: (float(one.smallest_order * 100), float(1 + one.tax / 100))
        for one in project.yards
        if one.smallest_order
    }


def _want(blank: Blank, kerf: int) -> Want:
    return Want(tuple((x + kerf, y + kerf) for x, y in blank.sizes), blank.units)


def _stock(project: Project, sheet: Sheet, made: Iterable[tuple[Part, Blank]]) -> Stock:
    kerf, (length, width) = project.shop.kerf, sheet.clear_size(project.shop)
    return Stock(
        length=length + kerf,
        width=width + kerf,
        cost=sheet_cost(project, sheet),
        count=sheet.qty,
        serves=frozenset(
            number
            for number, (part, blank) in enumerate(made)
            if part.species in sheet.names
            and any(x <= length and y <= width for x, y in blank.sizes)
        ),
        yard=None if sheet.where == RACK else sheet.where,
        goods=0.0 if sheet.where == RACK else float(sheet.price * 100),
    )


def _forced(wants: Iterable[Want], stocks: Iterable[Stock]) -> frozenset[str]:
    """Return yards that alone sell what some piece is cut from."""
    found = set()
    for number, want in enumerate(wants):
        yards = {one.yard for one in stocks if number in one.serves and want.count}
        if len(yards) == 1:
            found |= yards - {None}
    return frozenset(one for one in found if one)


def cut_sheets(
    project: Project, goods: SheetGoods, limit: Limit, *, seed: int, gap: float,
    stop: Callable[[], bool],
) -> CutSheets:  # fmt: skip
    """Return the cheapest way found to cut a project's sheet goods, with its bound."""
    demand = goods.demand
    if not demand.stocks or not demand.pieces:
        return CutSheets(short=tuple(_shortages(project, goods, Counter())))
    cut = cut_stock(demand, limit, seed=seed, gap=gap, stop=stop)
    made = Counter[int]()
    sheets = []
    used: Counter[int] = Counter()
    for pattern in cut.patterns:
        used[pattern.stock] += 1
        sheets.append(_record(project, goods, pattern, used[pattern.stock], made))
        made += pattern.holds
    short = tuple(_shortages(project, goods, made))
    forced = _forced(demand.wants, demand.stocks)
    bound = cut.bound
    if short:
        forced, bound = frozenset[str](), _bound_if_short(goods, cut, made, limit)
    return CutSheets(sheets=tuple(sheets), short=short, bound=bound, forced=forced)


def _bound_if_short(goods: SheetGoods, cut: Cut, made: Counter[int], limit: Limit) -> float:
    """Return the bound for what is made, no yard taken for one that nothing can miss."""
    demand = replace(goods.demand, apart=frozenset(goods.demand.trips))
    units = [made[n] for n in range(len(demand.wants))]
    return whole_bound(
        demand, cut.rulings, units, seconds=limit.time(0.1, 0.5), work=limit.work
    )


def _shortages(
    project: Project, goods: SheetGoods, made: Counter[int]
) -> Iterator[Shortage]:
    """Yield every copy that is not made, with the reason."""
    fits = {one.part: one.why for one in misfits(project, blanks_for(project))}
    for number, part in enumerate(goods.parts):
        for copy in range(made[number] + 1, part.copies + 1):
            why = fits.get(part.name, NOT_HELD)
            yield Shortage(part=part.name, copy=copy, why=why)


# --- records --------------------------------------------------------------------------


def _record(
    project: Project, goods: SheetGoods, pattern: Pattern, number: int, made: Counter[int]
) -> CutBoard:
    """Return the record of one sheet; `made` is what the sheets before it give."""
    sheet, shop = goods.sheets[pattern.stock], project.shop
    wants = goods.demand.wants
    size = (sheet.length, sheet.width)
    laid = lay(wants, pattern.tree, size, shop.kerf, shop.sheet_trim)
    name = f"{sheet.name} {number}"
    bought = sheet.where != RACK
    cost = Decimal(sheet_cost(project, sheet)) / 100
    return CutBoard(
        board=name,
        where=sheet.where,
        bought=bought,
        cost=cost,
        pay=cost if bought else Decimal(0),
        board_feet=Fraction(0),
        length=sheet.length,
        width=sheet.width,
        width2=sheet.width,
        pieces=tuple(_pieces(goods, laid, made)),
        cuts=tuple(laid.cuts),
        offcuts=tuple(_offcuts(project, name, laid.left)),
    )


def _pieces(goods: SheetGoods, laid: Laid, made: Counter[int]) -> Iterator[Piece]:
    """Yield the pieces of a sheet; copies count on from what was made before."""
    copies = Counter(made)
    for leaf, (x, y, length, width) in laid.pieces:
        part = goods.parts[leaf.want]
        copies[leaf.want] += 1
        copy = copies[leaf.want]
        yield Piece(
            name=f"{part.name} {copy}", part=part.name, copy=copy, role="solid",
            x=x, y=y, length=length, width=width,
        )  # fmt: skip


def _offcuts(project: Project, name: str, left: Iterable[Box]) -> Iterator[Offcut]:
    """Yield what is left over; what is large enough is kept, and counts nothing."""
    kept = 0
    least = max(1, project.shop.keep_length), max(1, project.shop.keep_width)
    for x, y, length, width in sorted(left):
        keep = length >= least[0] and width >= least[1]
        kept += keep
        yield Offcut(
            name=f"{name} offcut {kept}" if keep else "",
            x=x, y=y, length=length, width=width, keep=keep,
        )  # fmt: skip


# --- beside lumber --------------------------------------------------------------------


def lumber_of(project: Project, cut: CutSheets) -> Project:
    """Return a project without its sheet goods, as the search for boards sees it.

    A trip that the sheets force costs nothing more. Of each smallest order goes what the
    sheets cost at least, wherever they are bought, and a cent a sheet for rounding. So the
    sum of both bounds holds: what a plan buys in sheets beyond that bound at a yard saves
    no more at its smallest order.
    """
    parts = tuple(
        part
        for part in project.parts
        if part.source != "stock" or not project.sheets_for(part.species)
    )
    wanted = {part.species for part in project.parts}
    counts: Counter[str] = Counter()
    for sheet in project.sheets:
        if wanted.intersection(sheet.names):
            counts[sheet.where] += sheet.qty
    yards = tuple(
        replace(
            one,
            trip_cost=Fraction(0) if one.name in cut.forced else one.trip_cost,
            smallest_order=_left_to_order(one, cut.bound, counts[one.name]),
        )
        for one in project.yards
    )
    return replace(project, parts=parts, yards=yards, sheets=())


def _left_to_order(yard: Yard, bound: float, sheets: int) -> Fraction:
    """Return what of a smallest order is left when so many sheets are on offer there."""
    if not sheets:
        return yard.smallest_order
    least = (Fraction(bound) + sheets) / 100
    return max(Fraction(0), yard.smallest_order - least / (1 + yard.tax / 100))


def after_lumber(project: Project, goods: SheetGoods, plan: Plan) -> SheetGoods | None:
    """Return what is asked of sheets once boards are bought; None if nothing changes.

    Trips to their yards cost nothing more, and their goods count for smallest orders.
    """
    demand, tariff = goods.demand, project.tariff
    sold: dict[str, float] = defaultdict(float)
    for one in plan.boards:
        if one.bought:
            sold[one.where] += float(tariff.before_tax(project.board(one.board)) * 100)
    places = [
        {one.yard for one in demand.stocks if number in one.serves}
        for number in range(len(demand.wants))
    ]
    billed = _orders(project)
    asks = any(demand.trips.get(yard) or yard in billed for yard in sold)
    if not asks or all(len(yards) < 2 for yards in places):
        return None
    orders = {
        yard: (max(0.0, smallest - sold.get(yard, 0.0)), tax)
        for yard, (smallest, tax) in billed.items()
    }
    trips = {yard: 0 if yard in sold else cost for yard, cost in demand.trips.items()}
    return replace(goods, demand=replace(demand, trips=trips, orders=orders))


def joined(project: Project, plan: Plan, cut: CutSheets, seconds: float) -> Plan:
    """Return a plan of lumber with the sheets in it; both bounds add up."""
    least = plan.totals.bound + Decimal(math.floor(cut.bound + NOISE)) / 100
    names = [plan.totals.bound_name] if plan.boards else []
    totals = totals_for(
        project, plan.boards, cut.sheets, (least, " and ".join([*names, WHOLE_SHEETS])),
        plan.totals.seconds + seconds,
    )  # fmt: skip
    order = {part.name: number for number, part in enumerate(project.parts)}
    short = sorted((*plan.short, *cut.short), key=lambda one: (order[one.part], one.copy))
    rules = [rule for rule in plan.rules if not rule.startswith("no purchase below")]
    return replace(
        plan,
        status=SHORT if short else COMPLETE,
        short=tuple(short),
        sheets=cut.sheets,
        totals=totals,
        rules=(*(rules if plan.boards else ()), *RULES),
    )
