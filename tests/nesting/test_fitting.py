"""What a board lacks for a blank, in words; sizes in inches on the 1/64 grid."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.blanks import Blank, blank_for, blanks_for
from nesting.fitting import lacking, misfits, net_feet, serves
from nesting.lacks import end_loss, piece_sizes, usable_length
from nesting.parts import Part
from nesting.project import Project, Sheet
from stock.boards import Board, Mark, Thickness
from stock.measures import Unit
from stock.shop import default_shop
from stock.yards import Price

SHOP = default_shop(Unit.INCH)
FOUR, FIVE = Thickness(Fraction(1), "4/4"), Thickness(Fraction(5, 4), "5/4")


def part(length=48, width=5, thickness="3/4", **changes):
    sizes = {
        name: int(Fraction(size) * 64)
        for name, size in (("length", length), ("width", width), ("thickness", thickness))
    }
    return Part(**{"name": "Rail", "qty": 1, "species": "cherry", **sizes, **changes})


def board(length=96, width=8, width2=None, **changes):
    far = width if width2 is None else width2
    sizes = {"length": length * 64, "width": width * 64, "width2": far * 64}
    return Board(
        **{"name": "B1", "species": "cherry", "thickness": FOUR, **sizes, **changes}
    )


def lacks(made, wood, shop=SHOP):
    blank = blank_for(made, shop)
    found = lacking(made, blank, wood, shop)
    assert serves(made, blank, wood, shop) == (not found)
    return found


def zone(start, end, low, high, tag="quarter", kind="sawing"):
    at = {"start": start * 64, "end": end * 64, "low": low * 64, "high": high * 64}
    return Mark(kind=kind, tag=tag, **at)


def test_a_board_large_and_thick_enough_serves():
    assert lacks(part(), board()) == ()


def test_thickness_is_judged_by_what_the_board_dresses_to():
    assert lacks(part(thickness=1), board()) == (
        "3/16 in of thickness: it dresses to 13/16, 1 is needed",
    )
    assert lacks(part(thickness=1), board(thickness=FIVE)) == ()


def test_end_trim_is_taken_off_both_ends():
    # blank 49 in; 51 - 2 * 1 = 49 will do, 50 will not
    assert lacks(part(), board(51)) == ()
    assert lacks(part(), board(50)) == ("1 in of length: it offers 48, 49 is needed",)


def test_an_end_trim_is_at_least_one_saw_cut():
    thin = replace(SHOP, end_trim=1)
    assert end_loss(thin) == SHOP.kerf
    assert usable_length(board(50), thin) == 50 * 64 - 16
    none = replace(SHOP, end_trim=0)
    assert (end_loss(none), usable_length(board(50), none)) == (0, 50 * 64)


def test_width_is_named_with_what_is_there():
    assert lacks(part(width=6), board(width=6)) == (
        "1/4 in of width: it offers 6, 6 1/4 is needed",
    )


def test_a_lack_of_a_grid_step_is_not_printed_as_nothing():
    blank = Blank(part="Rail", copies=1, thickness=53, sizes=((64, 64),))
    assert lacking(part(), blank, board(), SHOP) == (
        "1/64 in of thickness: it dresses to 13/16, 53/64 is needed",
    )


def test_a_tapered_board_serves_from_its_wide_end():
    # 96 in from 4 to 10 in: 49 in from the wide end's trim reach back to 46 in, where the
    # board is 4 + 6 * 46 / 96 = 6 7/8 in wide
    for wood in (board(width=4, width2=10), board(width=10, width2=4)):
        assert lacks(part(width=6), wood) == ()
        assert lacks(part(width=7), wood) == (
            "3/8 in of width: it offers 6 7/8, 7 1/4 is needed",
        )


def test_another_species_never_serves():
    assert lacks(part(), board(species="walnut")) == (
        "the species: it is walnut, cherry is needed",
    )


def test_an_unknown_sawing_fits_only_any():
    assert lacks(part(sawing=("quarter", "rift")), board()) == (
        "the sawing: it is not known, quarter/rift is needed",
    )
    assert lacks(part(sawing=("quarter", "rift")), board(sawing="plain")) == (
        "the sawing: it is plain, quarter/rift is needed",
    )
    assert lacks(part(sawing=("quarter", "rift")), board(sawing="rift")) == ()
    assert lacks(part(), board()) == ()


def test_a_figure_must_be_among_the_board_s_tags():
    assert lacks(part(figure="fleck"), board(figure=("curl", "fleck"))) == ()
    assert lacks(part(figure="fleck"), board(figure=("curl", "pin"))) == (
        "the figure: it is curl and pin, fleck is needed",
    )


def test_a_zone_adds_a_property_where_it_is_big_enough():
    wanted = part(sawing=("quarter",))
    assert lacks(wanted, board(marks=(zone(0, 60, 0, 6),))) == ()
    assert lacks(wanted, board(marks=(zone(0, 40, 0, 6),))) == (
        # from the end trim at 1 in to 40 in
        "10 in of length: its quarter zone offers 39, 49 is needed",
    )
    assert lacks(wanted, board(marks=(zone(0, 60, 2, 6),))) == (
        "1 1/4 in of width: its quarter zone offers 4, 5 1/4 is needed",
    )


def test_a_zone_never_offers_wood_beyond_a_tapered_edge():
    narrow = board(width=6, width2=4, marks=(zone(40, 96, 0, 6),))
    assert "of width" in lacks(part(40, sawing=("quarter",)), narrow)[0]


def test_two_properties_must_meet_in_one_place():
    marks = (zone(0, 60, 0, 6), zone(0, 60, 0, 8, "fleck", "figure"))
    wanted = part(sawing=("quarter",), figure="fleck")
    assert lacks(wanted, board(marks=marks)) == ()
    apart = (marks[0], zone(60, 96, 0, 8, "fleck", "figure"))
    assert "of length" in lacks(wanted, board(marks=apart))[0]


def test_a_panel_asks_for_one_stave():
    seat = part(width=15)
    assert lacks(seat, board(width=3)) == ()
    assert lacks(seat, board(width=2)) == (
        "5/8 in of width: it offers 2, 2 5/8 is needed",  # 2 1/2 + 1/8
    )


def test_a_panel_narrower_than_a_stave_is_one_piece():
    rail = part(width=1, build="panel")
    # 1 + 1/2 net and 1/8 to joint is 1 5/8, less than the narrowest stave
    assert piece_sizes(blank_for(rail, SHOP), SHOP) == ((49 * 64, 104),)
    assert lacks(rail, board(width=2)) == ()


def test_either_grain_serves_whichever_way_fits():
    wide = part(8, 5, build="solid", grain="either")
    assert lacks(wide, board(12, 8)) == ()  # 9 in long, 5 1/4 wide
    assert lacks(wide, board(9, 9)) == ()  # turned: 6 in long, 8 1/4 wide


def project(*parts, **changes):
    return Project(name="test", shop=SHOP, parts=parts, **changes)


def why(made, *boards, **changes):
    plan = project(made, boards=boards, **changes)
    return [shortage.why for shortage in misfits(plan, blanks_for(plan))]


def test_parts_that_some_board_serves_are_no_misfits():
    assert why(part(), board(20), board()) == []


def test_every_copy_that_fits_nowhere_is_named_once():
    plan = project(part(qty=2, spares=1, width=6), boards=(board(width=6),))
    found = misfits(plan, blanks_for(plan))
    assert [(one.part, one.copy) for one in found] == [
        ("Rail", 1),
        ("Rail", 2),
        ("Rail", 3),
    ]


@pytest.mark.parametrize(
    ("made", "text"),
    [
        (
            part(width=6),
            "needs a blank 49 x 6 1/4 in, 3/4 in thick when dressed, of cherry; "
            "the best board, 'B1', lacks 1/4 in of width: it offers 6, 6 1/4 is needed; "
            "what would do: a wider board or build 'panel'",
        ),
        (
            part(thickness="7/4", build="solid"),
            "needs a blank 49 x 5 1/4 in, 1 3/4 in thick when dressed, of cherry; "
            "the best board, 'B1', lacks 15/16 in of thickness: it dresses to 13/16, "
            "1 3/4 is needed; planed down: none of it does, and build 'solid' admits no "
            "layers; what would do: 8/4 stock or build 'laminate'",
        ),
        (
            part(100, thickness="7/4"),
            "needs a blank 101 x 5 1/4 in, 1 3/4 in thick when dressed, of cherry; "
            "the best board, 'B1', lacks 15/16 in of thickness: it dresses to 13/16, "
            "1 3/4 is needed and 7 in of length: it offers 94, 101 is needed; planed "
            "down, 3 layers: none of it does; what would do: 8/4 stock, and a board 103 "
            "in long",
        ),
        (
            part(100, 5),
            "needs a blank 101 x 5 1/4 in, 3/4 in thick when dressed, of cherry; "
            "the best board, 'B1', lacks 7 in of length: it offers 94, 101 is needed; "
            "what would do: a board 103 in long",
        ),
        (
            part(100, 15, sawing=("quarter",)),
            "needs staves for a panel 101 x 15 1/2 in, 3/4 in thick when dressed, of "
            "cherry; the best board, 'B1', lacks the sawing: it is not known, quarter is "
            "needed and 7 in of length: it offers 94, 101 is needed; what would do: a "
            "board with sawing 'quarter', and a board 103 in long",
        ),
        (
            part(species="oak"),
            "needs a blank 49 x 5 1/4 in, 3/4 in thick when dressed, of oak, and no oak "
            "is listed: add boards or prices of it",
        ),
    ],
)
def test_a_misfit_says_what_is_lacking_and_what_would_do(made, text):
    assert why(made, board(40, 3, name="B0"), board(width=6)) == [text]


def test_without_boards_the_price_lists_are_asked():
    line = Price(
        yard="North", species="cherry", thickness=FOUR, price=Fraction(9), widest=6 * 64
    )
    plan = project(part(), part(name="Wide", width=7), prices=(line,))
    (found,) = misfits(plan, blanks_for(plan))
    assert found.part == "Wide"
    assert "the best board, 'cherry 4/4 from North', lacks 1 1/4 in of width" in found.why


def test_parts_from_offcuts_are_never_missed():
    assert why(part(width=40, build="solid", source="offcut"), board()) == []


PLY = Sheet(
    name="ply", length=96 * 64, width=48 * 64, thickness=32, has_grain=True, qty=1,
    price=Fraction(0),
)  # fmt: skip


def test_a_part_larger_than_its_sheet_is_named():
    cover = part(100, 12, "1/2", species="ply")
    assert why(cover, sheets=(PLY,)) == [
        "needs 100 x 12 in of ply, whose sheets are 96 x 48; what would do: a larger sheet"
    ]
    assert why(replace(cover, length=96 * 64), sheets=(PLY,)) == []
    none = replace(PLY, qty=0)
    assert why(cover, sheets=(none,)) == [
        "needs a sheet of ply, and its qty is 0: say how many there are"
    ]


def test_net_feet_count_blanks_in_the_thinnest_wood_that_serves():
    parts = (part(qty=2), part(name="Leg", width=5, thickness=1))
    plan = project(*parts, boards=(board(), board(name="B2", thickness=FIVE)))
    feet = net_feet(plan, blanks_for(plan))
    # two blanks of 49 x 5 1/4 in 4/4, one in 5/4
    assert feet == {
        ("cherry", FOUR): Fraction(2 * 49 * 21, 4 * 144),
        ("cherry", FIVE): Fraction(49 * 21, 4 * 144) * Fraction(5, 4),
    }


def test_net_feet_without_any_wood_take_the_usual_quarter():
    seat = part(width=15, thickness="7/4", qty=1)
    plan = project(seat, part(name="Jig", source="offcut"), part(name="C", species="ply"),
                   sheets=(PLY,))  # fmt: skip
    feet = net_feet(plan, blanks_for(plan))
    # 8/4 gives 1 3/4: 49 x 15 1/2 x 2 / 144
    assert feet == {("cherry", Thickness(Fraction(2))): Fraction(49 * 31, 144)}


def test_net_feet_count_on_surfaced_wood_only_where_rough_wood_is_thicker_or_will_not_do():
    # 13/16 in surfaced is sawn as 4/4 (NHLA: 4/4 rough, 13/16 in S2S)
    planed = board(name="S", thickness=Thickness(Fraction(13, 16)), surfaced="S2S")
    net = Fraction(49 * 21, 4 * 144)  # one blank of 49 x 5 1/4; both kinds tally as 4/4

    def feet(*boards):
        plan = project(part(), boards=boards)
        return net_feet(plan, blanks_for(plan))

    assert feet(planed, board()) == feet(board(), planed) == {("cherry", FOUR): net}
    assert feet(planed, board(thickness=FIVE)) == {("cherry", planed.thickness): net}
    assert feet(planed, board(width=3)) == {("cherry", planed.thickness): net}
    assert feet(planed) == {("cherry", planed.thickness): net}


def test_net_feet_take_metric_surfaced_wood_for_the_rough_wood_that_planes_to_it():
    # 27 mm rough loses 3/16 in and dresses to 22.2 mm, so 22 mm was sawn as 27
    rough, planed = Thickness(Fraction(27)), Thickness(Fraction(22))
    one = {"name": "P", "species": "ash", "length": 24000, "width": 1500, "width2": 1500}
    boards = (
        Board(**one, thickness=planed, surfaced="S4S"),
        Board(**{**one, "name": "R"}, thickness=rough),
    )
    sizes = {"length": 8000, "width": 1000, "thickness": 200}
    plan = Project(
        name="Metric",
        shop=default_shop(Unit.MM),
        parts=(Part(name="Shelf", qty=1, species="ash", **sizes),),
        boards=boards,
    )
    assert list(net_feet(plan, blanks_for(plan))) == [("ash", rough)]


def test_net_feet_count_every_layer():
    plan = project(part(thickness="3/2", build="laminate"), boards=(board(),))
    assert sum(net_feet(plan, blanks_for(plan)).values()) == Fraction(2 * 49 * 21, 4 * 144)


@given(
    st.integers(1, 120), st.integers(1, 16), st.integers(1, 16), st.integers(1, 100),
    st.integers(1, 20), st.sampled_from(["3/4", "1", "2"]),
)  # fmt: skip
def test_what_serves_has_the_size_that_is_asked_for(length, butt, far, long, wide, thick):
    wood, made = board(length, butt, far), part(long, wide, thick)
    blank = blank_for(made, SHOP)
    if serves(made, blank, wood, SHOP):
        need_length, need_width = piece_sizes(blank, SHOP)[0]
        assert need_length <= wood.length - 2 * 64
        assert need_width <= max(wood.width, wood.width2)
        assert blank.thickness <= 52  # 13/16
    else:
        assert lacking(made, blank, wood, SHOP)


@given(st.integers(30, 120), st.integers(2, 16), st.integers(0, 20))
def test_a_larger_board_never_serves_less(length, width, more):
    made = part()
    blank = blank_for(made, SHOP)
    if serves(made, blank, board(length, width), SHOP):
        assert serves(made, blank, board(length + more, width + more), SHOP)
