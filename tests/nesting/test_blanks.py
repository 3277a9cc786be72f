"""Blanks: never smaller than the contract, and the way of making that a part asks for.

Sizes are grid steps: 1/64 in or 0.1 mm; the arithmetic stands beside each number.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.blanks import blank_for, blanks_for
from nesting.parts import BUILDS, GRAINS, Part
from nesting.placing import recipes
from nesting.problem import problem_for
from nesting.project import Project, Sheet
from stock.boards import Board, Thickness, dressed_size
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price

INCH, MM = default_shop(Unit.INCH), default_shop(Unit.MM)


def part(length=48, width=5, thickness=1, **changes):
    """A part with sizes in inches."""
    sizes = {
        name: math.ceil(Fraction(size) * 64)
        for name, size in (("length", length), ("width", width), ("thickness", thickness))
    }
    return Part(**{"name": "P", "qty": 1, "species": "cherry", **sizes, **changes})


def inches(*sizes):
    return tuple(int(Fraction(size) * 64) for size in sizes)


def test_a_solid_blank_has_its_crosscut_and_rip_allowance():
    blank = blank_for(part(), INCH)
    assert blank.sizes == (inches(49, "21/4"),)  # 48 + 1, 5 + 1/4
    assert (blank.is_panel, blank.layers, blank.thickness) == (False, 1, 64)


def test_textbook_allowances_give_the_textbook_blank():
    # MI-11: 20 x 100 x 600 mm with 2.5 mm per face, 6 mm and 12 mm (the first rough sizing
    # of a furniture-making textbook) is 25 x 106 x 612 mm
    shop = replace(MM, crosscut_allowance=120, rip_allowance=60, thickness_allowance=50)
    leg = Part(name="L", qty=1, species="oak", length=6000, width=1000, thickness=200)
    assert blank_for(leg, shop).sizes == ((6120, 1060),)
    assert dressed_size(Thickness(Fraction(25)), "rough", shop) == leg.thickness
    assert dressed_size(Thickness(Fraction(249, 10)), "rough", shop) < leg.thickness


def test_a_part_wider_than_the_widest_solid_is_a_panel():
    assert not blank_for(part(width=8), INCH).is_panel
    blank = blank_for(part(width=15), INCH)
    assert blank.is_panel
    assert blank.sizes == (inches(49, "31/2"),)  # 15 + 1/2 net, shared by its staves
    assert (blank.stave_low, blank.stave_high) == inches("21/8", "49/8")  # limits + 1/8
    (single,) = inches("65/8")  # 8 + 1/8
    assert blank.single_high == single


def test_joinery_counts_before_the_build_is_chosen():
    assert blank_for(part(width=8, add_width=1), INCH).is_panel


@pytest.mark.parametrize(
    ("build", "width", "is_panel"), [("solid", 15, 0), ("panel", 3, 1)]
)
def test_a_build_that_is_asked_for_is_kept(build, width, is_panel):
    assert blank_for(part(width=width, build=build), INCH).is_panel == bool(is_panel)


def test_sizes_go_up_to_whole_saw_steps():
    # 5 1/64 + 1/4 = 5 17/64, the next 1/16 is 5 5/16
    blank = blank_for(part(width="321/64"), INCH)
    assert blank.sizes == (inches(49, "85/16"),)


def test_a_bevel_lengthens_the_blank():
    # 3/4 in at 5 degrees runs 0.0656 in, 5/64 on the grid; 48 + 1 + 5/64 goes to 49 1/8
    assert (
        blank_for(part(thickness="3/4", end_angle=5), INCH).sizes[0][0]
        == inches("393/8")[0]
    )


def test_grain_along_the_width_turns_the_blank_with_its_joinery():
    turned = part(20, 6, grain="width", add_length=64, add_width=32)
    # along the grain 6 + 1/2 + 1; across it 20 + 1 is wider than 8: a panel
    blank = blank_for(turned, INCH)
    assert blank.is_panel
    assert blank.sizes == (inches("15/2", "43/2"),)


def test_either_grain_gives_a_solid_blank_both_ways():
    blank = blank_for(part(7, 5, grain="either"), INCH)
    assert blank.sizes == (inches(8, "21/4"), inches(6, "29/4"))


def test_either_grain_on_a_square_is_one_way():
    assert len(blank_for(part(6, 6, grain="either"), INCH).sizes) == 1


def test_a_way_too_wide_for_one_piece_is_dropped_unless_solid_is_asked_for():
    assert blank_for(part(20, 6, grain="either"), INCH).sizes == (inches(21, "25/4"),)
    both = blank_for(part(20, 6, grain="either", build="solid"), INCH).sizes
    assert both == (inches(21, "25/4"), inches(7, "81/4"))


def test_a_panel_of_either_grain_has_its_longer_side_along_it():
    assert blank_for(part(15, 20, grain="either"), INCH).sizes == (inches(21, "31/2"),)


@pytest.mark.parametrize(
    ("dressed", "layers", "layer"),
    [
        ((), 2, 56),  # nothing listed: two layers of 7/8
        ((52,), 3, 38),  # 4/4 gives 13/16 (52): 112 / 2 = 56 is too thick, 112 / 3 = 37.3
        ((52, 68), 2, 56),  # 5/4 gives 1 1/16 (68)
        ((112,), 2, 56),  # thick enough in one, but a laminate has two at least
        ((0,), 2, 56),
    ],
)
def test_a_laminate_has_the_fewest_layers_that_listed_wood_gives(dressed, layers, layer):
    blank = blank_for(part(thickness="7/4", build="laminate"), INCH, dressed)
    assert (blank.layers, blank.thickness, blank.units) == (layers, layer, layers)


def test_layers_are_panels_where_the_part_is_wide():
    assert blank_for(part(width=15, build="laminate"), INCH).is_panel
    assert not blank_for(part(width=5, build="laminate"), INCH).is_panel


def test_a_blank_shorter_than_the_shop_machines_is_short():
    assert blank_for(part(length=10), INCH).is_short  # 11 in
    assert not blank_for(part(length=11), INCH).is_short  # 12 in
    assert blank_for(
        part(20, 6, grain="either", build="solid"), INCH
    ).is_short  # 7 in, turned


def test_shapes_come_out_of_their_bounding_rectangle():
    taper = part(28, 2, shape="taper", ends=inches(2, 1))
    assert blank_for(taper, INCH).sizes == (inches(29, "9/4"),)
    assert blank_for(part(6, 6, shape="octagon"), INCH).sizes == (inches(7, "25/4"),)


def project(*parts, **changes):
    return Project(name="test", shop=INCH, parts=parts, **changes)


PLY = Sheet(
    name="plywood", length=6144, width=3072, thickness=32, has_grain=True, qty=1,
    price=Fraction(40),
)  # fmt: skip


def test_there_is_one_blank_per_part_in_their_order():
    parts = (part(), part(name="Q", source="offcut"), part(name="R", qty=3, spares=1))
    blanks = blanks_for(project(*parts))
    assert [(blank.part, blank.copies) for blank in blanks] == [
        ("P", 1),
        ("Q", 1),
        ("R", 4),
    ]


def test_sheet_goods_are_cut_to_the_finished_size():
    cover = part(20, 12, "1/2", species="plywood", add_length=64)
    (blank,) = blanks_for(project(cover, sheets=(PLY,)))
    assert blank.is_sheet
    assert blank.sizes == (inches(21, 12),)
    (turned,) = blanks_for(project(replace(cover, grain="width"), sheets=(PLY,)))
    assert turned.sizes == (inches(12, 21),)


def test_a_sheet_without_grain_may_be_cut_either_way():
    cover = part(20, 12, "1/2", species="plywood")
    plain = replace(PLY, has_grain=False)
    (blank,) = blanks_for(project(cover, sheets=(plain,)))
    assert blank.sizes == (inches(20, 12), inches(12, 20))


def test_a_panel_takes_the_fewest_staves_of_equal_width():
    # MI-12: 24 + 1/2 in of staves at most 5 in wide, 1/16 lost at each edge: 24.5 / 5 is
    # 4.9, so 5 staves of 4.9 net, ripped 4.9 + 2 x 1/16 = 5.025. In steps of 1/64: 1568 / 5
    # is 313.6, rounded up 314, and 8 more: 322 = 5.03125, less than a step above 5.025.
    shop = replace(INCH, saw_step=1, widest_stave=320, widest_solid=320)
    top = part(40, 24, "3/4", build="panel")
    board = Board(
        name="B", species="cherry", thickness=Thickness(Fraction(1)), length=6000,
        width=640, width2=640,
    )  # fmt: skip
    wood = replace(project(top, boards=(board,)), shop=shop)
    problem = problem_for(wood)
    staves = next(iter(recipes(problem, problem.items[0])))
    assert len(staves) == 5
    assert {wish.sizes[0][1] for wish in staves} == {322}


@pytest.mark.parametrize("source", ["boards", "prices"])
def test_boards_and_prices_both_settle_the_layers(source):
    wood = {"species": "cherry", "thickness": Thickness(Fraction(5, 4))}
    board = Board(name="B", length=6000, width=400, width2=400, **wood)
    line = Price(yard="North", price=Fraction(9), **wood)
    listed = {"boards": (board,)} if source == "boards" else {"prices": (line,)}
    (blank,) = blanks_for(project(part(thickness="7/4", build="laminate"), **listed))
    assert blank.layers == 2


sizes = st.integers(1, 80 * 64)


@given(
    st.builds(
        Part,
        name=st.just("P"),
        qty=st.integers(1, 9),
        spares=st.integers(0, 3),
        species=st.just("cherry"),
        length=sizes,
        width=sizes,
        thickness=st.integers(1, 512),
        grain=st.sampled_from(GRAINS),
        build=st.sampled_from(BUILDS),
        end_angle=st.floats(0, 60),
        add_length=st.integers(0, 640),
        add_width=st.integers(0, 640),
    ),
    st.integers(0, 16),
    st.lists(st.integers(1, 512), max_size=3),
)
def test_a_blank_is_never_smaller_than_the_contract(made, step, dressed):
    shop = replace(INCH, saw_step=step)
    blank = blank_for(made, shop, dressed)
    assert blank.sizes
    assert blank.thickness * blank.layers >= made.thickness
    assert blank.units == blank.layers * (made.qty + made.spares)
    along = made.length + made.add_length
    across = made.width + made.add_width
    ways = {"length": [(along, across)], "width": [(across, along)]}.get(
        made.grain, [(along, across), (across, along)]
    )
    bevel = made.thickness * math.tan(math.radians(made.end_angle)) - 1e-6
    beside = shop.panel_allowance if blank.is_panel else shop.rip_allowance
    for length, width in blank.sizes:
        assert any(
            length >= a + bevel + shop.crosscut_allowance and width >= b + beside
            for a, b in ways
        )
        assert length % max(1, step) == width % max(1, step) == 0
    if made.build in ("auto", "laminate") and not blank.is_panel:
        assert all(w <= shop.up(shop.widest_solid + beside) for _, w in blank.sizes)


@given(st.integers(1, 512), st.lists(st.integers(1, 512), min_size=1))
def test_one_layer_less_would_be_too_thick_for_the_wood(thickness, dressed):
    made = part(thickness=Fraction(thickness, 64), build="laminate")
    blank = blank_for(made, INCH, dressed)
    assert blank.thickness <= max(dressed)
    if blank.layers > 2:
        assert -(-thickness // (blank.layers - 1)) > max(dressed)
