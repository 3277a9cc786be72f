"""Too few clamps: how hard they press all the same, and what lets them reach everywhere."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from reports.few_clamps import few_clamps, own_clamps, pressure_of, strip_for
from stock.measures import Unit
from stock.shop import Shop, default_shop
from tests.reports.test_glueups import panel
from tests.samples import inch, mm

OAK = 700.0  # kg/m3: dense, 200 to 300 psi


def owning(clamps: int) -> Shop:
    """A shop with so many clamps of 1000 lbf."""
    return replace(default_shop(Unit.INCH), clamps_owned=Fraction(clamps))


def test_the_shops_own_clamps_press_by_their_number():
    # 3/4 x 61 in = 45.75 sq in: 10 clamps of 1000 lbf press 10 000 / 45.75 = 218.6 psi
    area = inch("3/4") * inch(61)
    assert pressure_of(10, area, owning(10)) == pytest.approx(218.58, abs=0.01)
    assert own_clamps(area, OAK, owning(10)) == (
        "All 10 press 219 psi; usual are 200 psi or more"
    )
    # 9 press 196.7 psi, less than the 200 that the range of dense wood begins at
    assert own_clamps(area, OAK, owning(9)) == (
        "All 9 press 197 psi; usual are 200 psi or more: borrow clamps, or fit the joints"
        " most closely"
    )


def test_metric_shops_are_told_megapascals():
    # 12 clamps of 4000 N on 22 x 1560 mm: 48 000 / 34 320 = 1.399 MPa; 200 psi are 1.379
    shop = replace(
        default_shop(Unit.MM), clamps_owned=Fraction(12), clamp_force=Fraction(4000)
    )
    words = own_clamps(mm(22) * mm(1560), OAK, shop)
    assert words == "All 12 press 1.4 MPa; usual are 1.4 MPa or more"


def test_strips_are_as_wide_as_it_takes():
    # Outer staves of 3 in: s = 6, ceil(57 / 6) + 1 = 11 clamps on 61 in. With strips of
    # 1/2 in s = 7, ceil(57 / 7) + 1 = 10; with 1 in s = 8, ceil(57 / 8) + 1 = 9, and no
    # strip makes it fewer, as the setting allows 8 in at most.
    top = panel(inch(61), [inch(3), inch(4), inch(4), inch(3)])
    widths = [strip_for(top, inch("3/4"), OAK, owning(n)) for n in (11, 10, 9, 8)]
    assert widths == [0, inch("1/2"), inch(1), None]


def test_what_would_help_is_said():
    top = panel(inch(61), [inch(3), inch(4), inch(4), inch(3)])
    assert few_clamps(top, inch("3/4"), OAK, owning(10)).endswith(
        "; a strip 1/2 wide along either edge lets so few reach everywhere"
    )
    assert few_clamps(top, inch("3/4"), OAK, owning(8)).endswith(
        "they can't reach everywhere: borrow clamps"
    )
    assert "strip" not in few_clamps(top, inch("3/4"), OAK, owning(11))
    assert few_clamps(top, inch("3/4"), OAK, owning(1)) == "Borrow clamps"
