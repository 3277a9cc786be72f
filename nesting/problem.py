"""The problem a solver sees: pieces demanded, boards offered, integers only.

Lengths and widths are grid steps, money is cents. A board's own frame starts where its
end trim stops, so that x = 0 is the first place a piece may start.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from nesting.blanks import Blank
from nesting.fitting import serves
from nesting.goods import Sheet
from nesting.interlock import Nest
from nesting.parts import Part
from nesting.project import Project
from nesting.thickness import blanks_in
from stock.boards import Board, Mark
from stock.yards import Tariff, cents

Likeness = tuple[int | float | str | frozenset[int] | None, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One kind of blank that is wanted.

    Attributes
    ----------
    units
        How many are wanted (layers of laminates counted singly).
    sizes
        Rough (length, width) of a solid piece, one per way the grain may run; for a
        panel one entry: rough length of its staves and the net width they add up to.
    low, high
        Least and greatest rough width of a stave; 0 for solid pieces.
    single
        Rough width at which one piece of wood makes the whole panel; 0 if none may.
    joint
        What a stave loses to jointing.
    match
        `none`, `board` or `flitch`: what all staves of `layers` units must share.
    leaves
        Leaves that are resawn from each piece; of a stave all lie in one panel.
    nest
        How copies lie in each piece, if several are sawn out of one by their outlines.
    first, copies
        How many copies of the part come before these, and how many these are; the latter
        counts for solid pieces that give several copies only.
    """

    index: int
    part: str
    units: int
    sizes: tuple[tuple[int, int], ...]
    is_panel: bool = False
    low: int = 0
    high: int = 0
    single: int = 0
    joint: int = 0
    match: str = "none"
    layers: int = 1
    leaves: int = 1
    nest: Nest | None = None
    first: int = 0
    copies: int = 0
    face: str = "show"
    is_short: bool = False

    @property
    def length(self) -> int:
        """Rough length of the first size."""
        return self.sizes[0][0]

    @property
    def need(self) -> int:
        """Net width of a panel."""
        return self.sizes[0][1]

    @property
    def staves(self) -> int:
        """Fewest staves that make the panel's net width."""
        return -(-self.need // (self.high - self.joint))

    @property
    def area(self) -> int:
        """Rough area of one unit, jointing included for panels."""
        length, width = self.sizes[0]
        return length * (width + self.staves * self.joint if self.is_panel else width)

    @property
    def _per_piece(self) -> int:
        """Copies of a solid part that come out of one piece."""
        return self.nest.copies if self.nest else self.leaves

    def copies_of(self, unit: int) -> tuple[int, ...]:
        """Return the copy that each leaf or outline of a unit is for, counted from 1."""
        if self.is_panel or self._per_piece == 1:
            return (self.first + unit // self.layers + 1,) * self.leaves
        start = self.first + unit * self._per_piece
        stop = min(start + self._per_piece, self.first + self.copies)
        return tuple(range(start + 1, stop + 1))

    def makes(self, copy: int) -> bool:
        """Return whether a copy of the part is one of these."""
        count = self.units // self.layers
        if self._per_piece > 1 and not self.is_panel:
            count = self.copies
        return self.first < copy <= self.first + count


@dataclass(frozen=True, kw_only=True, slots=True)
class Bin:
    """One board (or sheet) that may be cut.

    Attributes
    ----------
    yard
        Yard that sells it, or None if owned.
    start
        Position of the frame's x = 0 on the board.
    length
        Usable length; `width`, `width2` are the widths at both ends of it.
    goods
        What the yard's smallest order counts for it: cents before tax.
    credit
        Cents per square grid step of kept offcut.
    log
        What boards share whose staves may stand in one matched panel.
    wanted
        Items that the board serves somewhere.
    limited
        Items that it serves only inside zones, with the zones' marks.
    """

    index: int
    name: str
    yard: str | None
    start: int
    length: int
    width: int
    width2: int
    cost: int
    goods: float
    credit: float
    log: str
    wanted: frozenset[int]
    limited: Mapping[int, tuple[Mark, ...]]
    marks: tuple[Mark, ...] = ()

    @property
    def narrow(self) -> int:
        """Width that is there over the whole usable length."""
        return min(self.width, self.width2)

    @property
    def likeness(self) -> Likeness:
        """What bins share if a pattern of one is a pattern of the other at the same cost.

        A bin with marks or zones is like no other.
        """
        alone = None if self.is_plain else self.index
        size = (self.length, self.width, self.width2)
        return (*size, self.cost, self.credit, self.yard, self.wanted, alone)

    @property
    def is_plain(self) -> bool:
        """Whether nothing on the board restricts where a piece may lie."""
        return not self.marks and not self.limited and self.width == self.width2

    def width_at(self, x: int) -> int:
        """Width at x of the usable frame, rounded down."""
        return self.width + (self.width2 - self.width) * x // max(1, self.length)

    def allowed(
        self, items: tuple[Item, ...], x: int, y: int, length: int, width: int
    ) -> frozenset[int]:
        """Return the items that may lie anywhere in the rectangle at (x, y)."""
        touching = [mark for mark in self.marks if mark.touches(x, y, length, width)]
        faces = {
            face
            for face in ("show", "second", "hidden")
            if not any(m.forbids(face) for m in touching)
        }
        return frozenset(
            index
            for index in self.wanted
            if items[index].face in faces
            and (
                index not in self.limited
                or any(zone.holds(x, y, length, width) for zone in self.limited[index])
            )
        )


@dataclass(frozen=True, kw_only=True)
class Problem:
    """Items wanted, bins offered, and the shop's rules in grid steps and cents.

    Attributes
    ----------
    trips
        Cents for visiting each yard.
    orders
        Per yard: its smallest order in cents before tax, and one plus its tax.
    """

    items: tuple[Item, ...]
    bins: tuple[Bin, ...]
    trips: Mapping[str, int]
    orders: Mapping[str, tuple[float, float]]
    kerf: int
    step: int
    shortest: int
    keep_length: int
    keep_width: int

    @cached_property
    def stacks(self) -> tuple[tuple[int, ...], ...]:
        """Return the bins by index, those that are alike together."""
        found: dict[Likeness, list[int]] = {}
        for one in self.bins:
            found.setdefault(one.likeness, []).append(one.index)
        return tuple(tuple(stack) for stack in found.values())

    @cached_property
    def stack_of(self) -> tuple[int, ...]:
        """Return, per bin, the number of its stack."""
        numbers = {b: number for number, stack in enumerate(self.stacks) for b in stack}
        return tuple(numbers[one.index] for one in self.bins)

    @cached_property
    def penalties(self) -> tuple[int, ...]:
        """Return, per item, what a missing unit counts in cents: more than it may cost.

        A unit takes no more boards than a panel has staves, each at most the dearest one,
        and a trip to every yard.
        """
        dearest = max((one.cost for one in self.bins), default=0)
        trips = sum(self.trips.values())
        return tuple(
            (2 * dearest + 1000) * max(1, item.staves if item.is_panel else 1)
            + trips
            + item.area // 64
            for item in self.items
        )


def fixed_costs(problem: Problem, bins: Iterable[Bin]) -> float:
    """Return trips to the yards of these bins and top-ups to smallest orders, in cents."""
    goods: dict[str, float] = {}
    for one in bins:
        if one.yard is not None:
            goods[one.yard] = goods.get(one.yard, 0.0) + one.goods
    total = 0.0
    for yard, sold in goods.items():
        smallest, tax = problem.orders[yard]
        total += problem.trips[yard] + max(0.0, smallest - sold) * tax
    return total


@dataclass(frozen=True, slots=True)
class TopUp:
    """What a yard bills at least beyond its goods, so that it may stand in a bound.

    It is no less than `base` less `rate` times the goods of the bins bought there, all in
    cents before tax, and no less than nothing. A plan rounds each top-up to a whole cent,
    so half a cent is let go. `goods` are, per bin, those of the dearest bin that is like
    it: bins that are alike cost the same in whole cents, their goods may differ by less.
    """

    yard: str
    base: float
    rate: float
    goods: Mapping[int, float]

    def least(self, bins: Iterable[int]) -> float:
        """Return what the yard tops up at least for these bins, in cents; 0 for none."""
        bought = [self.goods[b] for b in bins if b in self.goods]
        return max(0.0, self.base - self.rate * sum(bought)) if bought else 0.0


def top_ups(problem: Problem) -> tuple[TopUp, ...]:
    """Return the top-up of every yard that bills a smallest order."""
    most = [max(problem.bins[b].goods for b in stack) for stack in problem.stacks]
    goods = [most[number] for number in problem.stack_of]
    return tuple(
        TopUp(
            yard, smallest * rate - 0.5, rate,
            {one.index: goods[one.index] for one in problem.bins if one.yard == yard},
        )
        for yard, (smallest, rate) in problem.orders.items()
        if smallest > 0
    )  # fmt: skip


def cannot_make(problem: Problem) -> bool:
    """Whether it is plain that the bins can't make everything, whatever is tried.

    Some item is served by no bin, or the bins together have less area than the pieces.
    """
    served = frozenset[int]().union(*(one.wanted for one in problem.bins))
    if any(item.index not in served for item in problem.items):
        return True
    area = sum(one.length * max(one.width, one.width2) for one in problem.bins)
    need = sum(
        item.units * min(length * width for length, width in item.sizes)
        for item in problem.items
    )
    return need > area


def problem_for(project: Project, source: str = "stock") -> Problem:
    """Return the problem of a project's parts from one source, lumber and sheets together.

    Parts made only from offcuts are left out of what stock is bought for; with the source
    `offcut` they are all that is wanted.
    """
    made = [
        (part, blank)
        for part, blank in blanks_in(project)
        if part.source == source and blank.units
    ]
    return problem_of(project, made)


def problem_of(project: Project, made: list[tuple[Part, Blank]]) -> Problem:
    """Return the problem of some blanks of a project's parts."""
    items = tuple(
        _item(index, part, blank, project) for index, (part, blank) in enumerate(made)
    )
    tariff = project.tariff
    bins: list[Bin] = []
    is_paired = any(part.match in ("book", "slip") for part, _ in made)
    pairs = pairs_of(project.boards) if is_paired else None
    for board in project.boards:
        if board.where in project.closed:
            continue
        one = _board_bin(len(bins), board, made, project, tariff, pairs)
        if one.wanted and one.length > 0:
            bins.append(one)
    for sheet in project.sheets:
        if sheet.where in project.closed:
            continue
        for number in range(1, sheet.qty + 1):
            one = _sheet_bin(len(bins), sheet, number, made, project)
            if one.wanted:
                bins.append(one)
    return Problem(
        items=items,
        bins=tuple(bins),
        trips={yard.name: tariff.trip(yard.name) for yard in project.yards},
        orders={
            yard.name: (
                0.0 if tariff.by_feet else float(yard.smallest_order * 100),
                float(1 + yard.tax / 100),
            )
            for yard in project.yards
        },
        kerf=project.shop.kerf,
        step=max(1, project.shop.saw_step),
        shortest=project.shop.shortest_machined,
        keep_length=max(1, project.shop.keep_length),
        keep_width=max(1, project.shop.keep_width),
    )


def _item(index: int, part: Part, blank: Blank, project: Project) -> Item:
    shop = project.shop
    item = Item(
        index=index,
        part=part.name,
        units=blank.units,
        sizes=blank.sizes,
        layers=blank.layers,
        leaves=blank.leaves,
        nest=blank.nest,
        first=blank.first,
        copies=blank.copies,
        face="hidden" if blank.is_sheet else part.face,
        is_short=blank.is_short and not blank.is_sheet,
    )
    if not blank.is_panel:
        return item
    match = {"none": "none", "board": "board"}.get(part.match, "flitch")
    if blank.leaves > 1 and part.match in ("book", "slip"):
        match = "board"  # its leaves are neighbours already
    whole = shop.up(blank.sizes[0][1] + shop.joint_allowance)
    return replace(
        item,
        is_panel=True,
        low=blank.stave_low,
        high=blank.stave_high,
        single=whole if whole <= blank.single_high else 0,
        joint=shop.joint_allowance,
        match=match,
    )


def pairs_of(boards: Iterable[Board]) -> dict[str, str]:
    """Return, per board, a name for it and the one sawn next to it; of each log by twos.

    Leaves of a book or slip match are neighbours in the order of sawing, so where a
    project asks for one, matched panels share a pair of boards rather than a log.
    """
    found: dict[str, str] = {}
    last: Board | None = None
    known = (one for one in boards if one.flitch and one.order is not None)
    for one in sorted(known, key=lambda one: (one.log, one.species, one.order or 0)):
        if (
            last is not None
            and (last.log, last.species) == (one.log, one.species)
            and (last.order or 0) + 1 == one.order
        ):
            found[last.name] = found[one.name] = f"{one.log}, {last.name} and {one.name}"
            last = None
        else:
            last = one
    return found


def _board_bin(
    index: int,
    board: Board,
    made: list[tuple[Part, Blank]],
    project: Project,
    tariff: Tariff,
    pairs: Mapping[str, str] | None,
) -> Bin:
    shop = project.shop
    log = board.log if pairs is None else pairs.get(board.name, f"board {board.name}")
    trim = max(shop.end_trim, shop.kerf) if shop.end_trim else 0
    length = board.length - trim - shop.end_trim
    wanted, limited = set(), {}
    for number, (part, blank) in enumerate(made):
        if blank.is_sheet or not serves(part, blank, board, shop):
            continue
        if part.set and board.name not in project.kept.get(part.set, (board.name,)):
            continue
        wanted.add(number)
        zones = _zones(part, board)
        if zones is not None:
            limited[number] = tuple(_moved(zone, trim) for zone in zones)
    return Bin(
        index=index,
        name=board.name,
        yard=None if board.is_owned else board.where,
        start=trim,
        length=length,
        width=board.width_at(trim),
        width2=board.width_at(board.length - shop.end_trim),
        cost=tariff.cost(board),
        goods=float(tariff.before_tax(board) * 100),
        credit=float(tariff.credit_per_area(board)),
        log=log,
        wanted=frozenset(wanted),
        limited=limited,
        marks=tuple(_moved(mark, trim) for mark in board.marks if mark.is_defect),
    )


def _zones(part: Part, board: Board) -> tuple[Mark, ...] | None:
    """Return the zones a part must stay in on a board; None if it may lie anywhere."""
    sawn = not part.sawing or board.sawing in part.sawing
    figured = part.figure is None or part.figure in board.figure
    if sawn and figured:
        return None
    sawn_zones = [m for m in board.marks if m.kind == "sawing" and m.tag in part.sawing]
    figure_zones = [m for m in board.marks if m.kind == "figure" and m.tag == part.figure]
    if sawn:
        return tuple(figure_zones)
    if figured:
        return tuple(sawn_zones)
    both = (_overlap(a, b) for a in sawn_zones for b in figure_zones)
    return tuple(zone for zone in both if zone is not None)


def _overlap(a: Mark, b: Mark) -> Mark | None:
    start, end = max(a.start, b.start), min(a.end, b.end)
    low, high = max(a.low, b.low), min(a.high, b.high)
    if start >= end or low >= high:
        return None
    return replace(a, start=start, end=end, low=low, high=high)


def _moved(mark: Mark, trim: int) -> Mark:
    return replace(mark, start=mark.start - trim, end=mark.end - trim)


def sheet_cost(project: Project, sheet: Sheet) -> int:
    """Return what the objective charges for a sheet, in cents: its share if owned."""
    if sheet.where == "rack":
        return cents(sheet.price * project.shop.rack_value / 100)
    tax = next(yard.tax for yard in project.yards if yard.name == sheet.where)
    return cents(sheet.price * (1 + tax / 100))


def _trimmed_edges(sheet: Sheet, trim: int) -> tuple[Mark, ...]:
    """Return the edges of a sheet that are trimmed, as marks that no piece may touch."""
    length, width = sheet.length, sheet.width
    edges = (
        (0, trim, 0, width), (length - trim, length, 0, width),
        (0, length, 0, trim), (0, length, width - trim, width),
    )  # fmt: skip
    return tuple(
        Mark(kind="split", start=start, end=end, low=low, high=high)
        for start, end, low, high in edges
        if trim
    )


def _sheet_bin(
    index: int, sheet: Sheet, number: int, made: list[tuple[Part, Blank]], project: Project
) -> Bin:
    owned = sheet.where == "rack"
    return Bin(
        index=index,
        name=f"{sheet.name} {number}",
        yard=None if owned else sheet.where,
        start=0,
        length=sheet.length,
        width=sheet.width,
        width2=sheet.width,
        cost=sheet_cost(project, sheet),
        goods=0.0 if owned else float(sheet.price * 100),
        credit=0.0,
        log=f"sheet {sheet.name}",
        wanted=frozenset(
            i for i, (part, blank) in enumerate(made)
            if blank.is_sheet and part.species in sheet.names
        ),
        limited={},
        marks=_trimmed_edges(sheet, project.shop.sheet_trim),
    )  # fmt: skip
