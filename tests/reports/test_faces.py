"""Layers glued face to face: what they are, and what clamps and glue they take."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reports.clamping import layers_in
from reports.faces import (
    Faces,
    clamping_of_faces,
    face_glue_ml,
    face_spread_minutes,
    faces_for,
    stiff_board,
)
from stock.measures import Unit
from stock.shop import default_shop
from tests.samples import (
    bench_plan,
    bench_project,
    block_plan,
    block_project,
    inch,
)

SHOP = default_shop(Unit.INCH)


def leg(length: int = 18, width: str = "5/2", layers: int = 2) -> Faces:
    """A leg of layers 3/4 in thick."""
    part = replace(bench_project().part("Leg"), thickness=layers * inch("3/4"))
    return Faces(
        part=part, copy=1, layers=tuple(f"Leg 1.{at}" for at in range(1, layers + 1)),
        length=inch(length), width=inch(width), thickness=inch("3/4"),
    )  # fmt: skip


def test_layers_are_gathered_copy_by_copy():
    first, second = faces_for(block_project(), block_plan())
    assert first.layers == ("Block 1.1 (board A1)", "Block 1.2 (board A1)")
    assert (second.name, second.joints) == ("Block 2", 1)
    assert (first.length, first.width) == (2250, 660)  # 225 x 66 mm


def test_layers_that_are_panels_are_gathered_too():
    plan = bench_plan()
    (seat,) = plan.panels
    thick = replace(plan, panels=(seat, replace(seat, layer=2)))
    (faces,) = faces_for(bench_project(), thick)
    assert faces.layers == ("panel, layer 1", "panel, layer 2")
    assert (faces.length, faces.width, faces.thickness) == (3136, 928, 24)  # 3/8 in each
    assert layers_in(thick) == {("Seat", 1): 2}
    assert list(faces_for(bench_project(), plan)) == []


def test_clamps_press_through_the_layer_and_a_stiff_board():
    # Depth 3/4 + 1 1/2 = 2 1/4 in: s = 4 1/2; one row across 2 1/2 in; along 18 in, 2 from
    # each end: ceil(14 / 4.5) + 1 = 5. Pressure: 18 x 2 1/2 = 45 sq in at 250 psi is
    # 11 250 lbf: 12 clamps of 1000 lbf. At 125 psi 5625 lbf: 6.
    assert stiff_board(Unit.INCH) == inch("3/2")
    dense = clamping_of_faces(leg(), 700, SHOP)
    assert (dense.rows, dense.by_spacing, dense.by_pressure, dense.count) == (1, 5, 12, 12)
    assert clamping_of_faces(leg(), 400, SHOP).count == 6


def test_wide_faces_take_whole_rows():
    # 10 in wide: ceil(10 / 4.5) = 3 rows of 5 are 15; 180 sq in at 125 psi are 22 500
    # lbf: 23 clamps, in whole rows of 8: 24
    wide = clamping_of_faces(leg(width="10"), 400, SHOP)
    assert (wide.rows, wide.by_spacing, wide.by_pressure, wide.count) == (3, 15, 23, 24)


def test_the_same_clamps_press_all_layers():
    two, four = (clamping_of_faces(leg(layers=n), 700, SHOP) for n in (2, 4))
    assert two == four


def test_glue_and_time_grow_with_each_face():
    # 18 x 2 1/2 in = 45 sq in = 0.029032 m2, 152.4 ml/m2, half more: 6.637 ml a face
    assert face_glue_ml(leg(), Unit.INCH) == pytest.approx(6.637, abs=0.001)
    assert face_glue_ml(leg(layers=3), Unit.INCH) == pytest.approx(13.273, abs=0.001)
    # 2 1/2 in are two stripes of 2 in begun: 2 x 20 s
    assert face_spread_minutes(leg(), SHOP) == pytest.approx(40 / 60)
    assert face_spread_minutes(leg(width="2", layers=3), SHOP) == pytest.approx(40 / 60)
