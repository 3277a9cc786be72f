"""Sheet goods in projects: what is bought, what it costs, what the verifier says.

All wood, sheets and prices are invented.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from nesting.goods import Sheet
from nesting.limits import Limit
from nesting.parts import Part
from nesting.planfile import plan_to_json
from nesting.project import Project, read_project
from nesting.sheet_plan import cut_sheets, goods_of, lumber_of
from nesting.solve import SolveParams, solve
from nesting.totals import totals_for
from nesting.verify import verify
from stock.boards import Board, Thickness
from stock.errors import InputError
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price, Yard
from tests.strategies import money, yards

QUICK = SolveParams(seconds=1.0, seed=1)
MM = 10  # grid steps
FOUR_QUARTERS = Thickness(Fraction(254, 10), "4/4")


def mm(size):
    return size * MM


SHOP = replace(default_shop(Unit.MM), kerf=mm(3))
PLY = Sheet(
    name="ply", where="East", length=mm(1000), width=mm(500), thickness=mm(6),
    has_grain=True, qty=9, price=Fraction(20),
)  # fmt: skip


def bottom(length, width, qty=1, name="Bottom", species="ply"):
    return Part(
        name=name, qty=qty, length=mm(length), width=mm(width), thickness=mm(6),
        species=species, face="hidden",
    )  # fmt: skip


EAST = (Yard(name="East"),)


def goods(*parts, sheets=(PLY,), shop=SHOP, yards=EAST, **more):
    """A project of sheet goods."""
    return Project(
        name="Drawers", shop=shop, parts=parts, sheets=sheets, yards=yards, **more
    )


def planned(project, seconds=1.0):
    """Plan a project; the verifier must agree."""
    plan = solve(project, replace(QUICK, seconds=seconds))
    assert [str(one) for one in verify(project, plan)] == []
    assert plan.totals.bound <= plan.totals.cost
    return plan


def test_a_project_of_sheet_goods_alone_is_planned_and_proven():
    # 497 + 3 + 500 = 1000: two bottoms side by side, four on no sheet less than two
    plan = planned(goods(bottom(497, 500), bottom(500, 500, 3, "Shelf")))
    assert plan.status == "complete"
    assert [one.board for one in plan.sheets] == ["ply 1", "ply 2", "ply 3"]
    assert plan.totals.cost == plan.totals.bound == 60
    assert plan.totals.bound_name == "whole sheets"


def test_few_tenths_of_a_second_are_enough_for_a_sheet_that_holds_all():
    # two of 800 x 600, four of 500 x 200 and two of 300 x 600 have 1.72 of the 1.79 square
    # metres of 1612 x 1112: 2 x 803 = 1606 and 606 + 2 x 203 = 1012 along its sides. A
    # sheet of 1000 x 1000 holds one of 800 x 600, and costs more than half
    parts = [bottom(800, 600, 2, "A"), bottom(500, 200, 4, "B"), bottom(1000, 90, 1, "C")]
    large = replace(PLY, length=mm(1612), width=mm(1112), price=Fraction(40))
    small = replace(PLY, name="small", length=mm(1000), width=mm(1000), price=Fraction(24))
    named = [replace(one, material="fir") for one in (large, small)]
    parts = [replace(one, species="fir") for one in parts]
    plan = planned(goods(*parts, sheets=tuple(named)), seconds=0.3)
    assert plan.totals.cost == plan.totals.bound == 40


def test_no_boards_are_missed_where_all_parts_are_cut_from_sheets(tmp_path):
    rows = "part,qty,length,width,thickness,species\nBottom,1,300,200,6,ply\n"
    (tmp_path / "parts.csv").write_text(rows)
    (tmp_path / "sheets.csv").write_text(
        "sheet,where,length,width,thickness,grain\nply,rack,1000,500,6,none\n"
    )
    (tmp_path / "shop.csv").write_text("setting,value\nunit,mm\n")
    assert read_project(tmp_path).warnings == ()
    (tmp_path / "parts.csv").write_text(rows + "Leg,4,300,30,20,ash\n")
    (warning,) = read_project(tmp_path).warnings
    assert "no boards and no prices are listed" in str(warning)


def test_more_than_three_stages_are_cut():
    # a windmill is none; this takes a crosscut, a rip, a crosscut, a rip and a crosscut:
    # each step takes a full side off what is left of 1000 x 500
    parts = [
        bottom(300, 500, name="A"), bottom(697, 200, name="B"), bottom(250, 297, name="C"),
        bottom(444, 100, name="D"), bottom(200, 194, name="E"), bottom(241, 194, name="F"),
    ]  # fmt: skip
    plan = planned(goods(*parts))
    assert [one.board for one in plan.sheets] == ["ply 1"]


def test_grain_forbids_turning_and_a_sheet_without_grain_allows_it():
    # 500 x 900 lies on 1000 x 500 only if it is turned
    tall = bottom(500, 900)
    assert planned(goods(tall)).status == "short"
    plain = replace(PLY, has_grain=False)
    plan = planned(goods(tall, sheets=(plain,)))
    assert plan.status == "complete"
    (piece,) = plan.sheets[0].pieces
    assert (piece.length, piece.width) == (mm(900), mm(500))


def test_a_part_that_no_sheet_holds_is_short_with_the_reason():
    plan = planned(goods(bottom(1001, 100), bottom(100, 100, name="Small")))
    assert [one.part for one in plan.short] == ["Bottom"]
    assert "whose sheets are 1000 x 500" in plan.short[0].why
    assert plan.totals.cost == 20


def test_what_too_few_sheets_do_not_hold_is_short():
    plan = planned(goods(bottom(600, 400, 3), sheets=(replace(PLY, qty=2),)))
    assert [(one.part, one.copy) for one in plan.short] == [("Bottom", 3)]
    assert plan.short[0].why == "the sheets at hand do not hold it beside the rest"
    assert plan.totals.bound == plan.totals.cost == 40


def test_trimmed_edges_stay_free_on_all_sides():
    shop = replace(SHOP, sheet_trim=mm(10))
    # 1000 - 2 x 10 = 980 and 500 - 20 = 480 are left
    plan = planned(goods(bottom(980, 480), shop=shop))
    (piece,) = plan.sheets[0].pieces
    assert (piece.x, piece.y) == (mm(10), mm(10))
    short = planned(goods(bottom(981, 480), shop=shop))
    assert "1000 x 500, trimmed at the edges" in short.short[0].why


def test_the_verifier_refuses_a_piece_in_the_trim():
    plan = planned(goods(bottom(990, 490)))
    shop = replace(SHOP, sheet_trim=mm(5))
    rules = {one.rule for one in verify(goods(bottom(990, 490), shop=shop), plan)}
    assert "end trim" in rules


def test_owned_sheets_go_first_at_their_share():
    # one material: a piece of the rack at 30 % of 10.00, sheets at 20.00
    rest = replace(
        PLY, name="rest", where="rack", length=mm(620), width=mm(420), qty=1,
        price=Fraction(10), material="plywood",
    )  # fmt: skip
    bought = replace(PLY, material="plywood")
    parts = (bottom(600, 400, species="plywood"), bottom(900, 400, 1, "Back", "plywood"))
    plan = planned(goods(*parts, sheets=(bought, rest)))
    assert {one.board: one.cost for one in plan.sheets} == {"ply 1": 20, "rest 1": 3}
    assert plan.totals.owned_wood == 3
    assert plan.totals.bound == plan.totals.cost == 23
    # a part that names one sheet keeps to it
    own = planned(goods(bottom(600, 400, 2, species="rest"), sheets=(bought, rest)))
    assert [one.copy for one in own.short] == [2]


def test_the_cheaper_of_two_sizes_is_bought():
    small = replace(PLY, name="small", length=mm(500), price=Fraction(8))
    sheets = tuple(replace(one, material="m") for one in (PLY, small))
    # four of 480 x 480 take two large sheets at 20 or four small ones at 8
    plan = planned(goods(bottom(480, 480, 4, species="m"), sheets=sheets))
    assert plan.totals.bound == plan.totals.cost == 32


def test_trips_and_smallest_orders_of_one_yard_are_paid_once():
    # two sheets 40, trip 7, tax 10 %: 44 + 7; to 100 are missing 60, with tax 66
    yard = Yard(
        name="East", trip_cost=Fraction(7), smallest_order=Fraction(100), tax=Fraction(10)
    )
    plan = planned(goods(bottom(600, 400, 2), yards=(yard,)))
    assert (plan.totals.boards, plan.totals.trips, plan.totals.top_ups) == (44, 7, 66)
    assert plan.totals.cost == 117
    assert plan.totals.bound >= Decimal("116.98")  # top-ups are rounded to cents


def mixed(**asked):
    """Two drawer bottoms, and rails from boards that the same yard sells."""
    boards = tuple(
        Board(
            name=f"B{n}", where="East", species="ash", thickness=FOUR_QUARTERS,
            length=mm(1050), width=mm(150), width2=mm(150), price=Fraction(1000),
        )
        for n in range(1, 4)
    )  # fmt: skip
    rail = Part(
        name="Rail", qty=2, length=mm(900), width=mm(120), thickness=mm(18), species="ash"
    )
    return goods(
        rail, bottom(600, 400, 2), boards=boards, yards=(Yard(name="East", **asked),)
    )


def test_lumber_and_sheets_of_one_yard_share_its_trip():
    # a board: 1050 x 150 x 25.4 mm, 0.00400 m3 at 1000 is 4.00; two of them and two
    # sheets are 48, and one trip 7
    plan = planned(mixed(trip_cost=Fraction(7)), seconds=2)
    assert (plan.totals.boards, plan.totals.trips) == (48, 7)
    assert plan.totals.bound <= plan.totals.cost
    assert plan.totals.bound_name.endswith(" and whole sheets")
    assert float(plan.totals.bound) >= 40 + 7


def test_lumber_and_sheets_of_one_yard_fill_one_smallest_order():
    # 48 of 60: 12 are missing. Sheets alone or lumber alone would lack more
    plan = planned(mixed(smallest_order=Fraction(60)), seconds=2)
    assert plan.totals.top_ups == 12
    assert plan.totals.bound <= plan.totals.cost == plan.totals.to_pay - plan.totals.credit


def test_of_a_smallest_order_lumber_sees_what_sheets_leave():
    project = mixed(smallest_order=Fraction(60), trip_cost=Fraction(7))
    found = cut_sheets(
        project, goods_of(project, 0.0), Limit(2.0), seed=1, gap=0.0, stop=lambda: False
    )
    (yard,) = lumber_of(project, found).yards
    # the bound is two sheets and the trip, 47: no more than 60 - 47 is left to fill, less
    # a cent for the rounding of each of 9 sheets
    assert found.bound == pytest.approx(4700, abs=1)
    assert yard.trip_cost == 0
    assert float(yard.smallest_order) == pytest.approx(12.91)


def test_sheets_are_bought_where_lumber_takes_us_anyway():
    # West sells the same material for 1 less, and its trip costs 9
    west = replace(PLY, name="west ply", where="West", price=Fraction(19), material="m")
    project = mixed(trip_cost=Fraction(9))
    project = replace(
        project,
        parts=tuple(
            replace(part, species="m") if part.species == "ply" else part
            for part in project.parts
        ),
        sheets=(replace(PLY, material="m"), west),
        yards=(*project.yards, Yard(name="West", trip_cost=Fraction(9))),
    )
    plan = planned(project, seconds=2)
    assert {one.where for one in plan.sheets} == {"East"}
    assert plan.totals.trips == 9


def test_time_at_the_saw_counts_for_sheets():
    # 2 bottoms of 600 x 400 take 2 sheets and 2 cuts each; a cut of 36 s at 60 an hour 0.60
    shop = replace(SHOP, shop_rate=Fraction(60), cut_time=Fraction(36))
    listed = (Price(yard="East", species="ash", thickness=FOUR_QUARTERS,
                    price=Fraction(900)),)  # fmt: skip
    plan = planned(goods(bottom(600, 400, 2), shop=shop, prices=listed))
    assert plan.totals.sawing == Decimal("2.40")
    assert plan.totals.cost == Decimal("42.40")
    # n pieces of a sheet take n - 1 cuts at least: none here
    assert plan.totals.bound >= 40


def test_offcuts_of_sheets_are_kept_by_size_and_count_nothing():
    plan = planned(goods(bottom(600, 400)))
    kept = [one for one in plan.sheets[0].offcuts if one.keep]
    # 1000 - 600 - 3 = 397 x 500 stays whole; 500 - 400 - 3 = 97 x 600 is kept as well
    assert [(one.length, one.width) for one in kept] == [
        (mm(600), mm(97)), (mm(397), mm(500)),
    ]  # fmt: skip
    assert all(one.credit == 0 for one in kept)


def test_a_kerf_is_taken_off_every_size_and_nothing_changes():
    # subtract the kerf from all sizes and saw with it: the same demand, so the same plan
    def sizes(kerf):
        shop = replace(SHOP, kerf=kerf)
        sheet = replace(PLY, length=PLY.length - kerf, width=PLY.width - kerf)
        parts = (
            replace(bottom(430, 240, 7), length=mm(430) - kerf, width=mm(240) - kerf),
            replace(bottom(300, 190, 5, "B"), length=mm(300) - kerf, width=mm(190) - kerf),
        )
        return goods(*parts, sheets=(sheet,), shop=shop)

    plain, sawn = planned(sizes(0)), planned(sizes(mm(4)))
    assert goods_of(sizes(0), 0.0).demand == goods_of(sizes(mm(4)), 0.0).demand
    assert plain.totals.cost == sawn.totals.cost
    assert plain.totals.bound == sawn.totals.bound


def test_the_same_steps_give_the_same_sheets():
    project = goods(bottom(430, 240, 9), bottom(310, 190, 14, "B"))
    one, other = (solve(project, SolveParams(steps=500, seed=3)) for _ in range(2))
    assert one.sheets == other.sheets


# --- any project ----------------------------------------------------------------------


@st.composite
def sheet_projects(draw):
    """Sheet goods of one to three kinds, some of one material, and parts of them."""
    places = ("East", "West")
    sheets = tuple(
        Sheet(
            name=f"S{n}", where=draw(st.sampled_from(["rack", *places])),
            length=mm(draw(st.integers(300, 900))), width=mm(draw(st.integers(200, 600))),
            thickness=mm(6), has_grain=True, qty=draw(st.integers(0, 4)),
            price=draw(money(40)), material=draw(st.sampled_from([None, "m", "m"])),
        )
        for n in range(draw(st.integers(1, 3)))
    )  # fmt: skip
    grain = draw(st.booleans())
    names = [name for sheet in sheets for name in sheet.names]
    parts = tuple(
        Part(
            name=f"P{n}", qty=draw(st.integers(1, 4)),
            length=mm(draw(st.integers(60, 500))),
            width=mm(draw(st.integers(40, 400))), thickness=mm(6),
            species=draw(st.sampled_from(names)),
            grain=draw(st.sampled_from(["length", "width", "either"])),
            source=draw(st.sampled_from(["stock"] * 4 + ["offcut"])),
        )
        for n in range(draw(st.integers(1, 5)))
    )  # fmt: skip
    shop = replace(
        SHOP, kerf=mm(draw(st.integers(0, 5))), sheet_trim=mm(draw(st.integers(0, 12))),
        shop_rate=draw(st.sampled_from([Fraction(0), Fraction(40)])),
    )  # fmt: skip
    listed = Price(yard="East", species="ash", thickness=FOUR_QUARTERS,
                   price=Fraction(900))  # fmt: skip
    return Project(
        name="Random", shop=shop, parts=parts, prices=(listed,),
        sheets=tuple(replace(sheet, has_grain=grain) for sheet in sheets),
        yards=tuple(draw(yards(place)) for place in places),
    )  # fmt: skip


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sheet_projects())
def test_any_plan_of_sheets_is_sound_and_not_below_its_bound(project):
    plan = solve(project, replace(QUICK, seconds=0.6))
    note(plan_to_json(plan))
    assert [str(one) for one in verify(project, plan)] == []
    assert plan.totals.bound <= plan.totals.cost
    bound = (plan.totals.bound, plan.totals.bound_name)
    again = totals_for(project, plan.boards, plan.sheets, bound, plan.totals.seconds)
    assert again == plan.totals


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sheet_projects())
def test_sheets_without_grain_cost_no_more(project):
    whole = tuple(replace(part, source="stock", grain="length") for part in project.parts)
    sheets = tuple(replace(sheet, has_grain=True) for sheet in project.sheets)
    grained = replace(project, parts=whole, sheets=sheets)
    free = replace(
        grained, sheets=tuple(replace(sheet, has_grain=False) for sheet in sheets)
    )
    one, other = (solve(each, replace(QUICK, seconds=0.6)) for each in (grained, free))
    assert len(other.short) <= len(one.short)
    if len(other.short) == len(one.short) == 0:
        assert other.totals.bound <= one.totals.cost


# --- the project file -----------------------------------------------------------------

PARTS = "part,length,width,thickness,species,template\n"


def folder(tmp_path, **tables):
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return tmp_path


SHEET_TABLE = (
    "sheet,length,width,thickness,grain,qty,price,material\n"
    "MDF 6,1200,600,6,none,2,9,fibreboard\nMDF rest,700,500,6,none,1,0,fibreboard\n"
)


def test_a_template_is_a_part_more_with_a_margin_all_round(tmp_path):
    project = read_project(
        folder(
            tmp_path, parts=PARTS + "Leg,600,80,20,ash,yes\n", sheets=SHEET_TABLE,
            shop="setting,value\nunit,mm\ntemplate sheet,Fibreboard\ntemplate margin,30\n",
        )
    )  # fmt: skip
    leg, template = project.parts
    assert template.name == "Leg template"
    assert (template.length, template.width) == (mm(660), mm(140))
    assert (template.species, template.thickness, template.qty) == ("fibreboard", mm(6), 1)
    assert leg.template
    assert not template.template
    # the wood is short, the template is cut from the rest on the rack all the same
    plan = planned(project)
    assert [one.part for one in plan.short] == ["Leg"]
    assert [one.board for one in plan.sheets] == ["MDF rest 1"]
    # the verifier asks for it
    without = replace(plan, sheets=())
    assert "copies" in {one.rule for one in verify(project, without)}


def test_templates_without_a_sheet_are_left_out_with_a_warning(tmp_path):
    project = read_project(
        folder(tmp_path, parts=PARTS + "Leg,600,80,20,ash,yes\n", sheets=SHEET_TABLE,
               shop="setting,value\nunit,mm\n")
    )  # fmt: skip
    assert [part.name for part in project.parts] == ["Leg"]
    (warning,) = [one for one in project.warnings if one.column == "template"]
    assert "as template sheet in Shop" in warning.rule


def test_a_template_that_is_listed_is_not_made_twice(tmp_path):
    rows = "Leg,600,80,20,ash,yes\nLeg template,620,90,6,fibreboard,\n"
    project = read_project(
        folder(tmp_path, parts=PARTS + rows, sheets=SHEET_TABLE,
               shop="setting,value\nunit,mm\ntemplate sheet,fibreboard\n")
    )  # fmt: skip
    assert [part.name for part in project.parts] == ["Leg", "Leg template"]
    assert project.parts[1].length == mm(620)
    assert any("is taken for the template" in one.rule for one in project.warnings)


def test_a_template_sheet_that_is_not_listed_is_a_fault_of_its_setting(tmp_path):
    with pytest.raises(InputError) as caught:
        read_project(
            folder(tmp_path, parts=PARTS + "Leg,600,80,20,ash,yes\n", sheets=SHEET_TABLE,
                   shop="setting,value\nunit,mm\ntemplate sheet,fibrebord\n")
        )  # fmt: skip
    (fault,) = caught.value.faults
    assert (fault.row, fault.column, fault.got) == (3, "value", "fibrebord")
    assert "did you mean 'fibreboard'" in fault.rule


def test_sheets_of_one_material_are_alike(tmp_path):
    table = SHEET_TABLE + "MDF 9,1200,600,9,length,2,9,fibreboard\n"
    with pytest.raises(InputError) as caught:
        read_project(folder(tmp_path, parts=PARTS + "A,9,8,6,fibreboard,\n", sheets=table,
                            shop="setting,value\nunit,mm\n"))  # fmt: skip
    found = {(one.row, one.column) for one in caught.value.faults}
    assert {(4, "thickness"), (4, "grain")} <= found
