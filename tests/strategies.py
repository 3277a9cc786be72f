"""Small random projects, always valid: any of them may be planned without a fault."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from nesting.parts import Part
from nesting.project import Project, Sheet
from stock.boards import DEFECTS, Board, Mark, Thickness
from stock.measures import Unit, inch_in
from stock.shop import Shop, default_shop
from stock.yards import Price, Yard

SPECIES = ("ash", "ash", "ash", "white oak")
YARDS = ("Hill yard", "Mill yard")
SHEET = "birch ply"
# 1/2, 3/4, 1 and 1 3/4 in; 12, 19, 25 and 45 mm
THICKNESSES = {Unit.INCH: (32, 48, 48, 64, 112), Unit.MM: (120, 190, 190, 250, 450)}


def quarters(unit: Unit, low: float, high: float) -> st.SearchStrategy[int]:
    """Sizes in grid steps between `low` and `high` inches, by the quarter inch.

    In millimetres a quarter inch is taken as 6.4 mm, to stay on the grid.
    """
    step = 16 if unit is Unit.INCH else 64
    return st.integers(round(low * 4), round(high * 4)).map(lambda count: count * step)


def shops(unit: Unit) -> st.SearchStrategy[Shop]:
    """Shops that differ from the default in saws, trims, gangs and what they keep."""
    inch = 64 if unit is Unit.INCH else 254
    return st.builds(
        replace,
        st.just(default_shop(unit)),
        kerf=st.sampled_from([0, inch // 16, inch // 8, inch // 4]),
        end_trim=st.sampled_from([0, inch // 16, inch]),
        shortest_machined=st.sampled_from([0, 12 * inch]),
        keep_length=st.sampled_from([6 * inch, 12 * inch]),
        shop_rate=st.sampled_from([Fraction(0), Fraction(35)]),
        rack_value=st.sampled_from([Fraction(0), Fraction(30), Fraction(100)]),
        offcut_value=st.sampled_from([Fraction(0), Fraction(50), Fraction(100)]),
        aim=st.sampled_from(["money", "money", "money", "board feet"]),
        widest_stave=quarters(unit, 4, 6),
    )


def parts(unit: Unit, name: str) -> st.SearchStrategy[Part]:
    """Parts of lumber: solid, panels, laminates; every face, grain and match."""
    return st.builds(
        Part,
        name=st.just(name),
        qty=st.integers(1, 3),
        spares=st.sampled_from([0, 0, 0, 1]),
        length=quarters(unit, 3, 36),
        width=quarters(unit, 1, 12),
        thickness=st.sampled_from(THICKNESSES[unit]),
        species=st.sampled_from(SPECIES),
        grain=st.sampled_from(["length", "length", "length", "width", "either"]),
        sawing=st.sampled_from([(), (), (), (), (), ("quarter",), ("rift", "quarter")]),
        figure=st.sampled_from([None, None, None, None, "fleck"]),
        face=st.sampled_from(["show", "second", "hidden"]),
        build=st.sampled_from(["auto", "auto", "solid", "panel", "laminate"]),
        match=st.sampled_from(["none", "none", "board", "flitch", "book"]),
        end_angle=st.sampled_from([0.0, 0.0, 5.0, 22.5]),
        add_length=st.sampled_from([0, 32]),
        source=st.sampled_from(["stock", "stock", "stock", "stock", "offcut"]),
    )


@st.composite
def marks(draw: st.DrawFn, length: int, width: int) -> Mark:
    """A defect or a zone somewhere on a board of this size."""
    start = draw(st.integers(0, length - 2))
    low = draw(st.integers(0, width - 2))
    kind, tag = draw(
        st.sampled_from(
            [*((kind, None) for kind in sorted(DEFECTS)), ("sawing", "quarter"),
             ("figure", "fleck")]
        )
    )  # fmt: skip
    large = tag is not None
    return Mark(
        kind=kind,
        tag=tag,
        start=start,
        end=draw(st.integers(start + 1, length if large else min(length, start + 300))),
        low=low,
        high=draw(st.integers(low + 1, width if large else min(width, low + 200))),
        face=draw(st.sampled_from(["both", "one"])),
    )


@st.composite
def boards(draw: st.DrawFn, unit: Unit, name: str, yards: tuple[str, ...]) -> Board:
    """A board of the rack or of a yard; some taper, some are marked, some surfaced."""
    length = draw(quarters(unit, 30, 96))
    width = draw(quarters(unit, 3, 12))
    where = draw(st.sampled_from(["rack", *yards]))
    label = draw(st.sampled_from(["4/4", "5/4", "8/4"]))
    size = Fraction(int(label[0]), 4) * inch_in(unit)
    asked = draw(st.integers(100, 1500)) if where != "rack" else None
    per_foot = 1 if unit is Unit.INCH else 400
    return Board(
        name=name,
        where=where,
        species=draw(st.sampled_from(SPECIES)),
        thickness=Thickness(size, label),
        length=length,
        width=width,
        width2=draw(st.just(width) | quarters(unit, 3, 12)),
        grade=draw(st.sampled_from([None, "FAS", "1C"])),
        sawing=draw(st.sampled_from([None, "plain", "rift", "quarter"])),
        figure=draw(st.sampled_from([(), (), ("fleck",)])),
        tone=draw(st.sampled_from([None, 1, 3])),
        flitch=draw(st.sampled_from([None, "F1", "F2"])),
        surfaced=draw(st.sampled_from(["rough", "rough", "S2S", "S4S"])),
        price=None if asked is None else Fraction(asked, 100) * per_foot,
        marks=tuple(draw(st.lists(marks(length, width), max_size=2))),
    )


def money(high: int) -> st.SearchStrategy[Fraction]:
    """Amounts of whole cents up to `high`."""
    return st.integers(0, high * 100).map(lambda cents: Fraction(cents, 100))


def yards(name: str) -> st.SearchStrategy[Yard]:
    """Yards with trips, smallest orders, charges and taxes, or none of them."""
    return st.builds(
        Yard,
        name=st.just(name),
        trip_cost=st.just(Fraction(0)) | money(20),
        smallest_order=st.just(Fraction(0)) | money(80),
        surfacing_charge=st.just(Fraction(0)) | money(1),
        straight_edge_charge=st.just(Fraction(0)) | money(1),
        tax=st.sampled_from([Fraction(0), Fraction(6), Fraction(825, 100)]),
    )


@st.composite
def sheets(draw: st.DrawFn, unit: Unit, places: tuple[str, ...]) -> tuple[Sheet, Part]:
    """Sheet goods in small sheets, and a part that asks for them."""
    thickness = draw(quarters(unit, 0.25, 0.75))
    sheet = Sheet(
        name=SHEET,
        where=draw(st.sampled_from(["rack", *places])),
        length=draw(quarters(unit, 24, 48)),
        width=draw(quarters(unit, 12, 24)),
        thickness=thickness,
        has_grain=draw(st.booleans()),
        qty=draw(st.integers(1, 3)),
        price=draw(money(60)),
    )
    part = Part(
        name="Shelf",
        qty=draw(st.integers(1, 4)),
        length=draw(quarters(unit, 4, 24)),
        width=draw(quarters(unit, 3, 14)),
        thickness=thickness,
        species=SHEET,
        grain=draw(st.sampled_from(["length", "width", "either"])),
    )
    return sheet, part


@st.composite
def projects(draw: st.DrawFn) -> Project:
    """A project of one to six parts and two to eight boards, now and then with sheets."""
    unit = draw(st.sampled_from(list(Unit)))
    places = YARDS[: draw(st.integers(0, 2))]
    wanted = tuple(
        draw(parts(unit, f"Part {letter}"))
        for letter in "ABCDEF"[: draw(st.integers(1, 6))]
    )
    stock = tuple(
        draw(boards(unit, f"B{number}", places))
        for number in range(1, 1 + draw(st.integers(2, 8)))
    )
    goods: tuple[Sheet, ...] = ()
    if draw(st.integers(0, 3)) == 0:
        sheet, shelf = draw(sheets(unit, places))
        goods, wanted = (sheet,), (*wanted, shelf)
    listed = tuple(
        Price(yard=place, species="ash", thickness=Thickness(inch_in(unit), "4/4"),
              price=draw(money(12)))
        for place in places
        if draw(st.booleans())
    )  # fmt: skip
    return Project(
        name="Random",
        shop=draw(shops(unit)),
        parts=wanted,
        boards=stock,
        yards=tuple(draw(yards(place)) for place in places),
        prices=listed,
        sheets=goods,
    )
