"""A small project with resawn wood and a sound plan, laid out by hand; all wood is ours.

Two slats are leaves of one piece, and a book-matched lid is two leaves of one stave. 8/4
dresses to 1 3/4 in (NHLA), which is 2 x 3/4 + 1/8 of kerf + 1/8 of resaw allowance. One
step is 1/64 in.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from nesting.parts import Part
from nesting.plan import CutBoard, PanelPlan, PanelStave, Piece, Plan, Totals
from nesting.project import Project
from stock.boards import Board, Thickness
from stock.measures import Unit
from stock.shop import default_shop
from tests.samples import OAK, crosscut, inch, offcut, rip

QUARTERS_8 = Thickness(Fraction(2), "8/4")


def resawn_project() -> Project:
    """Two slats and a lid, and two boards of 8/4 on the rack, 30 x 4 in each."""
    parts = (
        Part(name="Slat", qty=2, length=inch(20), width=inch(3), thickness=inch("3/4"),
             species=OAK, build="solid"),
        Part(name="Lid", qty=1, length=inch(20), width=inch(7), thickness=inch("3/4"),
             species=OAK, build="panel", match="book"),
    )  # fmt: skip
    boards = tuple(
        Board(name=name, species=OAK, thickness=QUARTERS_8, length=inch(30), width=inch(4),
              width2=inch(4), price=Fraction(9))
        for name in ("T1", "T2")
    )  # fmt: skip
    shop = replace(default_shop(Unit.INCH), shop_rate=Fraction(36))
    return Project(name="Leaves", shop=shop, parts=parts, boards=boards)


def resawn_plan() -> Plan:
    """A sound plan of it.

    A board is 2 x 4 x 30 / 144 = 5/3 board feet at 9.00, of which 30 % are 4.50. Sawing:
    3 cuts and one that resaws, on each board, 8 times 30 s at 36 an hour are 2.40. Pieces:
    21 x 3 1/4 + 21 x 3 7/8 = 149.625 of 240 square inches. Net width of the lid: 3 3/4 in
    twice are the 7 1/2 in that 7 in and the panel allowance ask for.
    """
    slats = Piece(
        name="Slat 1", part="Slat", copy=1, role="solid",
        x=64, y=0, length=1344, width=208, leaves=2, others=(2,),
    )  # fmt: skip
    stave = Piece(
        name="Lid 1.1", part="Lid", copy=1, role="stave",
        x=64, y=0, length=1344, width=248, leaves=2, others=(1,),
    )  # fmt: skip
    lid = PanelPlan(
        part="Lid", copy=1, net_width=480, need=480, length=1344,
        staves=tuple(
            PanelStave(piece="Lid 1.1", board="T2", width=248, net_width=240, face=face,
                       leaf=leaf)
            for leaf, face in ((1, "heart"), (2, "bark"))
        ),
    )  # fmt: skip
    totals = Totals(
        cost=Decimal("11.40"), to_pay=Decimal(0), boards=Decimal(0), trips=Decimal(0),
        top_ups=Decimal(0), owned_wood=Decimal("9.00"), sawing=Decimal("2.40"),
        credit=Decimal(0), bound=Decimal("10.00"), bound_name="set by hand",
        gap=float(Fraction("1.40") / 10), board_feet_bought=Fraction(0),
        board_feet_used=Fraction(10, 3), yield_=float(Fraction("149.625") / 240),
        boards_bought=0, seconds=0.0,
    )  # fmt: skip
    return Plan(
        project="Leaves", unit="in", status="complete",
        boards=(_board("T1", slats), _board("T2", stave)), panels=(lid,), totals=totals,
    )  # fmt: skip


def _board(name: str, piece: Piece) -> CutBoard:
    """One board with one piece at its lower edge; a rip on the top edge leaves nothing."""
    top = piece.width
    strip = (offcut("", 64, top + 8, 1344, 248 - top),) if top < 248 else ()
    return CutBoard(
        board=name, where="rack", bought=False, cost=Decimal("4.50"), pay=Decimal(0),
        board_feet=Fraction(5, 3), length=inch(30), width=inch(4), width2=inch(4),
        pieces=(piece,),
        cuts=(crosscut(1, 56, 0, 256), crosscut(2, 1408, 0, 256), rip(3, top, 64, 1408)),
        offcuts=(offcut("", 0, 0, 56, 256), *strip, offcut("", 1416, 0, 504, 256)),
    )  # fmt: skip
