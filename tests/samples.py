"""Small projects with sound plans, laid out by hand; all wood, yards and prices are ours.

Every size is exact. In inches one step is 1/64 in: kerf 1/8 in = 8, end trim 1 in = 64.
In millimetres one step is 0.1 mm: kerf 3 mm = 30, end trim 25 mm = 250. The sums beside
the plans are the arithmetic of the cutting and money rules, done on paper.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from nesting.parts import Part
from nesting.plan import (
    Cut,
    CutBoard,
    Offcut,
    PanelPlan,
    PanelStave,
    Piece,
    Plan,
    Totals,
)
from nesting.project import Project, Sheet, Supply
from stock.boards import Board, Mark, Thickness
from stock.measures import Unit, need_steps
from stock.shop import default_shop
from stock.yards import Price, Yard

OAK = "white oak"
QUARTERS_4 = Thickness(Fraction(1), "4/4")


def inch(size: float | Fraction | str) -> int:
    """Grid steps of a size in inches; a fraction may be written as text."""
    return need_steps(Fraction(size), Unit.INCH)


def mm(size: float | Fraction | str) -> int:
    """Grid steps of a size in millimetres."""
    return need_steps(Fraction(size), Unit.MM)


def crosscut(
    order: int, at: int, start: int, end: int, *, after_planing: bool = False
) -> Cut:
    """A cut across the length: takes x from `at` to `at` + kerf."""
    return Cut(
        order=order,
        kind="crosscut",
        at=at,
        start=start,
        end=end,
        after_planing=after_planing,
    )


def rip(order: int, at: int, start: int, end: int) -> Cut:
    """A cut along the length: takes y from `at` to `at` + kerf."""
    return Cut(order=order, kind="rip", at=at, start=start, end=end)


def offcut(
    name: str, x: int, y: int, length: int, width: int, credit: str | None = None
) -> Offcut:
    """A leftover rectangle; it is kept if a credit is named, else waste."""
    return Offcut(
        name=name, x=x, y=y, length=length, width=width,
        keep=credit is not None, credit=Decimal(credit or 0),
    )  # fmt: skip


# --- a low bench, in inches -----------------------------------------------------------


def bench_project() -> Project:
    """A low bench: a seat of edge-glued staves, four short legs, one rail.

    Wood: one board on the rack, two at a yard that has a trip cost, a smallest order and
    6 % tax. Board Y1 has a knot where a rail would otherwise be laid.
    """
    shop = replace(default_shop(Unit.INCH), shop_rate=Fraction(36))
    parts = (
        Part(
            name="Seat", qty=1, length=inch(48), width=inch(14), thickness=inch("3/4"),
            species=OAK, build="panel", row=2,
        ),
        Part(
            name="Leg", qty=4, length=inch(10), width=inch(2), thickness=inch("3/4"),
            species=OAK, face="second", build="solid", row=3,
        ),
        Part(
            name="Rail", qty=1, length=inch(40), width=inch(3), thickness=inch("3/4"),
            species=OAK, note="show side out", row=4,
        ),
    )  # fmt: skip
    knot = Mark(
        kind="knot", start=inch(60), end=inch(62), low=inch("1/2"), high=inch("7/4")
    )
    boards = (
        Board(
            name="R1", species=OAK, thickness=QUARTERS_4, length=inch(60),
            width=inch(6), width2=inch(6), grade="FAS", sawing="plain", tone=2,
        ),
        Board(
            name="Y1", where="Hill yard", species=OAK,
            thickness=QUARTERS_4, length=inch(96),
            width=inch("23/2"), width2=inch("23/2"), grade="FAS", sawing="plain", tone=2,
            flitch="H7", order=1, price=Fraction(9), marks=(knot,),
        ),
        Board(
            name="Y2", where="Hill yard", species=OAK,
            thickness=QUARTERS_4, length=inch(60), width=inch(5), width2=inch(5),
            grade="1C", tone=3, price=Fraction(84, 10),
        ),
    )  # fmt: skip
    yard = Yard(
        name="Hill yard",
        trip_cost=Fraction(12),
        smallest_order=Fraction(90),
        tax=Fraction(6),
    )
    price = Price(
        yard="Hill yard", species=OAK, thickness=QUARTERS_4, grade="FAS",
        price=Fraction(93, 10), narrowest=inch(6), widest=inch(11),
        shortest=inch(72), longest=inch(144), available=Fraction(60),
    )  # fmt: skip
    supplies = (
        Supply(item="glue", qty=None, unit="oz", pack=Fraction(8), price=Fraction(7)),
        Supply(
            item="screws",
            qty=Fraction(12),
            unit="piece",
            pack=Fraction(50),
            price=Fraction(4),
        ),
    )
    return Project(
        name="Low bench", shop=shop, parts=parts, boards=boards,
        yards=(yard,), prices=(price,), supplies=supplies,
    )  # fmt: skip


def bench_plan() -> Plan:
    """A sound plan of the low bench.

    Boards: Y1 is 96 x 11 1/2 / 144 = 23/3 board feet at 9.00 = 69.00, with tax 73.14; Y2
    is 60 x 5 / 144 = 25/12 at 8.40 = 17.50, with tax 18.55. The yard bills 90.00 at least,
    so 3.50 is missing, with tax 3.71. R1 is 2.5 board feet; oak 4/4 is asked at 9.00, 8.40
    and 9.30, in the mean 8.90, of which 30 % are 2.67: 6.675, in whole cents 6.68.
    Sawing: 16 cuts of 30 s at 36 per hour are 0.30 each. Cost: 91.69 + 12.00 + 3.71 + 6.68
    + 4.80 - 13.18 = 105.70. To pay: 91.69 + 12.00 + 3.71 = 107.40.
    Pieces: staves 49 x (5 1/8 + 5 1/8 + 4 5/8) = 728.875, legs 4 x 11 x 2 1/4 = 99, rail
    41 x 3 1/4 = 133.25 square inches: 961.125 / 144 board feet of 12.25.
    The bound was set by hand, to have one below the cost.
    """
    totals = Totals(
        cost=Decimal("105.70"), to_pay=Decimal("107.40"), boards=Decimal("91.69"),
        trips=Decimal("12.00"), top_ups=Decimal("3.71"), owned_wood=Decimal("6.68"),
        sawing=Decimal("4.80"), credit=Decimal("13.18"),
        bound=Decimal("88.00"), bound_name="set by hand", gap=float(Fraction("17.70") / 88),
        board_feet_bought=Fraction(39, 4), board_feet_used=Fraction(49, 4),
        yield_=float(Fraction("961.125") / 144 / Fraction(49, 4)),
        boards_bought=2, seconds=0.0,
    )  # fmt: skip
    seat = PanelPlan(
        part="Seat", copy=1, net_width=928, need=928, length=3136,  # 14 + 1/2 in wide
        staves=(
            PanelStave(piece="Seat 1.1", board="Y1", width=328, net_width=320, face="bark"),
            PanelStave(
                piece="Seat 1.3", board="R1", width=296, net_width=288, face="heart",
            ),
            PanelStave(
                piece="Seat 1.2", board="Y1", width=328, net_width=320,
                turned=True, face="bark",
            ),
        ),
    )  # fmt: skip
    return Plan(
        project="Low bench", unit="in", status="complete", boards=(_y1(), _y2(), _r1()),
        panels=(seat,), totals=totals,
        rules=("crosscut the board, rip the sections, crosscut the strips",),
    )  # fmt: skip


def _stave(name: str, x: int, y: int, width: int) -> Piece:
    return Piece(
        name=name, part="Seat", copy=1, role="stave", x=x, y=y, length=3136, width=width
    )


def _y1() -> CutBoard:
    """96 x 11 1/2 in: two staves, the rail beside the knot, a kept offcut of 41 x 6 in.

    Credit: 41 x 6 / 144 board feet x 9.00 x 50 % = 7.6875, in cents rounded down 7.68.
    """
    return CutBoard(
        board="Y1", where="Hill yard", bought=True, cost=Decimal("73.14"),
        pay=Decimal("73.14"), board_feet=Fraction(23, 3),
        length=inch(96), width=inch("23/2"), width2=inch("23/2"),
        pieces=(
            _stave("Seat 1.1", 64, 0, 328),
            _stave("Seat 1.2", 64, 336, 328),
            Piece(
                name="Rail 1", part="Rail", copy=1, role="solid",
                x=3208, y=136, length=2624, width=208,  # 41 x 3 1/4 in
            ),
        ),
        cuts=(
            crosscut(1, 56, 0, 736),
            crosscut(2, 3200, 0, 736),
            crosscut(3, 5832, 0, 736),
            rip(4, 328, 64, 3200),
            rip(5, 664, 64, 3200),
            rip(6, 128, 3208, 5832),
            rip(7, 344, 3208, 5832),
        ),
        offcuts=(
            offcut("Y1.1", 3208, 352, 2624, 384, "7.68"),
            offcut("Y1.2", 0, 0, 56, 736),
            offcut("Y1.3", 64, 672, 3136, 64),
            offcut("Y1.4", 3208, 0, 2624, 128),
            offcut("Y1.5", 5840, 0, 304, 736),
        ),
    )  # fmt: skip


def _y2() -> CutBoard:
    """60 x 5 in: four legs of 11 x 2 1/4 in that stay in one length until planed.

    Credits at 8.40 x 50 %: 14 1/2 x 5 / 144 -> 2.1145.. -> 2.11; 44 3/8 x 2 5/8 / 144
    -> 3.3974.. -> 3.39.
    """
    names = tuple(f"Leg {copy}" for copy in range(1, 5))
    return CutBoard(
        board="Y2", where="Hill yard", bought=True, cost=Decimal("18.55"),
        pay=Decimal("18.55"), board_feet=Fraction(25, 12),
        length=inch(60), width=inch(5), width2=inch(5),
        pieces=tuple(
            Piece(
                name=name, part="Leg", copy=copy, role="solid",
                x=64 + 712 * (copy - 1), y=0, length=704, width=144,
            )
            for copy, name in enumerate(names, 1)
        ),
        cuts=(
            crosscut(1, 56, 0, 320),
            crosscut(2, 2904, 0, 320),
            rip(3, 144, 64, 2904),
            crosscut(4, 768, 0, 144, after_planing=True),
            crosscut(5, 1480, 0, 144, after_planing=True),
            crosscut(6, 2192, 0, 144, after_planing=True),
        ),
        offcuts=(
            offcut("Y2.1", 2912, 0, 928, 320, "2.11"),
            offcut("Y2.2", 64, 152, 2840, 168, "3.39"),
            offcut("Y2.3", 0, 0, 56, 320),
        ),
        gangs=(names,),
    )  # fmt: skip


def _r1() -> CutBoard:
    """60 x 6 in from the rack: the third stave."""
    return CutBoard(
        board="R1", where="rack", bought=False, cost=Decimal("6.68"), pay=Decimal(0),
        board_feet=Fraction(5, 2), length=inch(60), width=inch(6), width2=inch(6),
        pieces=(_stave("Seat 1.3", 64, 0, 296),),
        cuts=(crosscut(1, 56, 0, 384), crosscut(2, 3200, 0, 384), rip(3, 296, 64, 3200)),
        offcuts=(
            offcut("R1.1", 0, 0, 56, 384),
            offcut("R1.2", 64, 304, 3136, 80),
            offcut("R1.3", 3208, 0, 632, 384),
        ),
    )  # fmt: skip


# --- the bench with a shelf of sheet goods --------------------------------------------


def shelf_project() -> Project:
    """The low bench with a shelf and two ends of plywood that lies in the rack."""
    ply = Sheet(
        name="birch ply", length=inch(48), width=inch(24), thickness=inch("1/2"),
        has_grain=True, qty=2, price=Fraction(28),
    )  # fmt: skip
    end = Part(
        name="End", qty=2, length=inch(20), width=inch(10), thickness=inch("1/2"),
        species="birch ply", row=5,
    )  # fmt: skip
    shelf = replace(
        end, name="Shelf", qty=1, length=inch(10), width=inch(18), grain="width"
    )
    bench = bench_project()
    return replace(bench, parts=(*bench.parts, end, replace(shelf, row=6)), sheets=(ply,))


def shelf_plan() -> Plan:
    """A sound plan of the bench with its shelf.

    The sheet is owned: 30 % of 28.00 = 8.40, so owned wood is 6.68 + 8.40 = 15.08. It takes
    5 cuts more: sawing is 21 x 0.30 = 6.30. Cost: 105.70 + 8.40 + 1.50 = 115.60.
    """
    sheet = CutBoard(
        board="birch ply 1", where="rack", bought=False, cost=Decimal("8.40"),
        pay=Decimal(0), board_feet=Fraction(0),
        length=inch(48), width=inch(24), width2=inch(24),
        pieces=(
            _sheet_piece("End 1", 1, 0, 0, 1280),
            _sheet_piece("End 2", 2, 1288, 0, 1280),
            _sheet_piece("Shelf 1", 1, 0, 648, 1152),
        ),
        cuts=(
            rip(1, 640, 0, 3072),
            crosscut(2, 1280, 0, 640),
            crosscut(3, 2568, 0, 640),
            crosscut(4, 1152, 648, 1536),
            rip(5, 1288, 0, 1152),
        ),
        offcuts=(
            offcut("birch ply 1.1", 1160, 648, 1912, 888, "0"),
            offcut("birch ply 1.2", 0, 1296, 1152, 240, "0"),
            offcut("birch ply 1.3", 2576, 0, 496, 640),
        ),
    )  # fmt: skip
    bench = bench_plan()
    totals = replace(
        bench.totals, cost=Decimal("115.60"), owned_wood=Decimal("15.08"),
        sawing=Decimal("6.30"), gap=float(Fraction("27.60") / 88),
    )  # fmt: skip
    return replace(bench, sheets=(sheet,), totals=totals)


def _sheet_piece(name: str, copy: int, x: int, y: int, length: int) -> Piece:
    return Piece(
        name=name, part=name.split(maxsplit=1)[0], copy=copy, role="solid",
        x=x, y=y, length=length, width=640,
    )  # fmt: skip


# --- two blocks, in millimetres -------------------------------------------------------


def block_project() -> Project:
    """Two blocks, each of two layers, from one tapered board that has no price.

    Nothing has a price, so a board foot counts as one unit of money. A rough board of
    27 mm gives 27 - 3/16 in = 22.2 mm, two layers 44.4 mm for a block of 40 mm.
    """
    block = Part(
        name="Block", qty=2, length=mm(200), width=mm(60), thickness=mm(40),
        species="ash", face="second", build="laminate", row=2,
    )  # fmt: skip
    board = Board(
        name="A1", species="ash", thickness=Thickness(Fraction(27), "27"),
        length=mm(1200), width=mm(160), width2=mm(150),
    )  # fmt: skip
    return Project(
        name="Blocks", shop=default_shop(Unit.MM), parts=(block,), boards=(board,)
    )


def block_plan() -> Plan:
    """A sound plan of the blocks: four layers of 225 x 66 mm in one gang.

    Tally: 27 mm x 1200 mm x (150 + 10/3) mm = 4 968 000 mm3, and a board foot is
    144 x 25.4^3 mm3: 2.105.. board feet. Kept: 909 mm x 83.2 mm, as the board is
    160 - 7.8 mm wide there; 27 x 909 x 83.2 mm3 x 50 % = 0.4326.. -> 0.43.
    """
    foot = Fraction("25.4") ** 3 * 144
    feet = 4_968_000 / foot
    names = ("Block 1.1", "Block 1.2", "Block 2.1", "Block 2.2")
    board = CutBoard(
        board="A1", where="rack", bought=False, cost=Decimal("2.11"), pay=Decimal(0),
        board_feet=feet, length=mm(1200), width=mm(160), width2=mm(150),
        pieces=tuple(
            Piece(
                name=name, part="Block", copy=1 + index // 2, role="layer",
                x=250 + 2280 * index, y=0, length=2250, width=660,
                layers=2, layer=1 + index % 2,
            )
            for index, name in enumerate(names)
        ),
        cuts=(
            crosscut(1, 220, 0, 1600),
            crosscut(2, 9340, 0, 1600),
            rip(3, 660, 250, 9340),
            crosscut(4, 2500, 0, 660, after_planing=True),
            crosscut(5, 4780, 0, 660, after_planing=True),
            crosscut(6, 7060, 0, 660, after_planing=True),
        ),
        offcuts=(
            offcut("A1.1", 250, 690, 9090, 832, "0.43"),
            offcut("A1.2", 0, 0, 220, 1598),
            offcut("A1.3", 9370, 0, 2630, 1500),
        ),
        gangs=(names,),
    )  # fmt: skip
    totals = Totals(
        cost=Decimal("1.68"), to_pay=Decimal(0), boards=Decimal(0), trips=Decimal(0),
        top_ups=Decimal(0), owned_wood=Decimal("2.11"), sawing=Decimal(0),
        credit=Decimal("0.43"), bound=Decimal("1.25"), bound_name="set by hand",
        gap=float(Fraction("0.43") / Fraction("1.25")), board_feet_bought=Fraction(0),
        board_feet_used=feet,
        yield_=float(4 * 27 * 225 * 66 / foot / feet), boards_bought=0, seconds=0.0,
    )  # fmt: skip
    return Plan(
        project="Blocks", unit="mm", status="complete", boards=(board,), panels=(),
        totals=totals, rules=("crosscut the board, rip the sections, crosscut the strips",),
    )  # fmt: skip
