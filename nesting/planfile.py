"""Plans as JSON files, out and in; the keys are a public contract, lengths are in units.

A file made by others may lack the keys that are ours alone (`gangs`, `pay`, the parts of
the sums, ...): an amount that nobody stated is read as not-a-number and not written again.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from nesting.plan import (
    Cut,
    CutBoard,
    Offcut,
    PanelPlan,
    Piece,
    Plan,
    RipCount,
    SetPlan,
    Shortage,
    Totals,
    WindowPiece,
)
from nesting.plannodes import root_node
from nesting.planreading import FORMAT, SUMS, plan_in
from stock.errors import InputError
from stock.measures import Unit, steps_per_unit

Json = dict[str, Any]


def write_plan(path: Path, plan: Plan) -> None:
    """Write a plan file aside and rename it, so that it is never half-written."""
    aside = path.with_name(path.name + ".part")
    aside.write_text(plan_to_json(plan), encoding="utf-8")
    aside.replace(path)


def plan_to_json(plan: Plan) -> str:
    """Return a plan as the text of a plan file."""
    scale = steps_per_unit(Unit(plan.unit))
    content = {
        "format": FORMAT,
        "unit": plan.unit,
        "project": plan.project,
        "status": plan.status,
        "boards": [_board_out(board, scale) for board in plan.boards],
        "panels": [_panel_out(panel, scale) for panel in plan.panels],
        "sets": [_set_out(one) for one in plan.sets],
        "short": [_shortage_out(short) for short in plan.short],
        "not_made": [_shortage_out(short) for short in plan.not_made],
        "sheets": [_board_out(sheet, scale) for sheet in plan.sheets],
        **_rips_out(plan.rips),
        **_windows_out(plan.from_windows, scale),
        "totals": _totals_out(plan.totals),
        "rules": list(plan.rules),
        "notes": list(plan.notes),
    }
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def plan_from_json(text: str, unit: Unit) -> Plan:
    """Return the plan in the text of a plan file.

    Raises
    ------
    InputError
        If the text is no JSON, a key is missing, a value is of the wrong kind, a length
        is off the grid, or the file is in another unit than `unit`; with the place of
        every fault.
    """
    root = root_node(text, unit)
    plan = plan_in(root)
    if root.faults:
        raise InputError(root.faults)
    return plan


def _board_out(board: CutBoard, scale: int) -> Json:
    return _stated(
        {
            "board": board.board,
            "where": board.where,
            "bought": board.bought,
            "cost": board.cost,
            "pay": board.pay,
            "board_feet": float(board.board_feet),
            "length": board.length / scale,
            "width": board.width / scale,
            "width2": board.width2 / scale,
            "pieces": [_piece_out(piece, scale) for piece in board.pieces],
            "cuts": [_cut_out(cut, scale) for cut in board.cuts],
            "offcuts": [_offcut_out(offcut, scale) for offcut in board.offcuts],
            "gangs": [list(gang) for gang in board.gangs],
            **({"stamp": board.stamp} if board.stamp else {}),
        }
    )


def _windows_out(pieces: tuple[WindowPiece, ...], scale: int) -> Json:
    """Return what windows of parts give; no key where they give nothing."""
    found = [
        {
            "piece": one.name,
            "part": one.part,
            "copy": one.copy,
            "host": one.host,
            "host_copy": one.host_copy,
            **_rectangle_out(one, scale),
        }
        for one in pieces
    ]
    return {"from_windows": found} if found else {}


def _shortage_out(short: Shortage) -> Json:
    return {"part": short.part, "copy": short.copy, "why": short.why}


def _rectangle_out(shape: Piece | Offcut | WindowPiece, scale: int) -> Json:
    return {
        "x": shape.x / scale,
        "y": shape.y / scale,
        "length": shape.length / scale,
        "width": shape.width / scale,
    }


def _piece_out(piece: Piece, scale: int) -> Json:
    return {
        "piece": piece.name,
        "part": piece.part,
        "copy": piece.copy,
        "role": piece.role,
        **_rectangle_out(piece, scale),
        "layers": piece.layers,
        "layer": piece.layer,
        **_several_out(piece, scale),
    }


def _several_out(piece: Piece, scale: int) -> Json:
    """Return what a piece says of its leaves, or of the copies that lie in it."""
    if piece.nest:
        nest = [
            {
                "copy": one.copy,
                "x": one.x / scale,
                "y": one.y / scale,
                "turned": one.turned,
                "mirrored": one.mirrored,
            }
            for one in piece.nest
        ]
        return {"copies": list(piece.copies), "nest": nest}
    return (
        {"leaves": piece.leaves, "copies": list(piece.copies)} if piece.leaves > 1 else {}
    )


def _cut_out(cut: Cut, scale: int) -> Json:
    return {
        "order": cut.order,
        "kind": cut.kind,
        "at": cut.at / scale,
        "from": cut.start / scale,
        "to": cut.end / scale,
        "after_planing": cut.after_planing,
    }


def _offcut_out(offcut: Offcut, scale: int) -> Json:
    rest = {"keep": offcut.keep, "credit": offcut.credit}
    return _stated({"name": offcut.name, **_rectangle_out(offcut, scale), **rest})


def _panel_out(panel: PanelPlan, scale: int) -> Json:
    return {
        "part": panel.part,
        "copy": panel.copy,
        "layer": panel.layer,
        "net_width": panel.net_width / scale,
        "need": panel.need / scale,
        "length": panel.length / scale,
        "staves": [
            {
                "piece": stave.piece,
                "board": stave.board,
                "width": stave.width / scale,
                "net_width": stave.net_width / scale,
                "turned": stave.turned,
                "face": stave.face,
                **({"leaf": stave.leaf} if stave.leaf else {}),
            }
            for stave in panel.staves
        ],
        "match_cost": _points_out(panel.match_cost),
    }


def _set_out(one: SetPlan) -> Json:
    return {
        "set": one.name,
        "likeness": one.likeness,
        "source": one.source,
        "extra_cost": float(one.extra_cost),
        "why": one.why,
        "match_cost": _points_out(one.match_cost),
    }


def _rips_out(rips: RipCount | None) -> Json:
    """Return how often the fence is set, if the plan says so."""
    if rips is None:
        return {}
    return {"fence_settings": rips.settings, "fence_settings_before": rips.before}


def _points_out(match_cost: tuple[tuple[str, int], ...]) -> list[Json]:
    return [{"term": term, "points": tenths / 10} for term, tenths in match_cost]


def _totals_out(totals: Totals) -> Json:
    return _stated(
        {
            "cost": totals.cost,
            "to_pay": totals.to_pay,
            **{name: getattr(totals, name) for name in SUMS},
            "bound": totals.bound,
            "bound_name": totals.bound_name,
            "gap": totals.gap,
            "board_feet_bought": float(totals.board_feet_bought),
            "board_feet_used": float(totals.board_feet_used),
            "yield": totals.yield_,
            "boards_bought": totals.boards_bought,
            "seconds": totals.seconds,
        }
    )


def _stated(content: Json) -> Json:
    """Turn money into numbers and leave out the amounts that nobody stated."""
    return {
        key: float(value) if isinstance(value, Decimal) else value
        for key, value in content.items()
        if not (isinstance(value, Decimal) and value.is_nan())
    }
