"""From the nodes of a plan file to the records of a plan.

Keys that are ours alone may be missing: amounts that nobody stated become `UNSTATED`,
layers are numbered in file order, and the cuts inside a gang are found from its pieces.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from nesting.plan import (
    COMPLETE,
    NOT_ALIKE,
    ONE_FLITCH,
    ONE_STEP,
    SHORT,
    Cut,
    CutBoard,
    Nested,
    Offcut,
    PanelPlan,
    PanelStave,
    Piece,
    Plan,
    RipCount,
    SetPlan,
    Shortage,
    Totals,
    WindowPiece,
)
from nesting.plannodes import Node

FORMAT = 1
SUMS = ("boards", "trips", "top_ups", "owned_wood", "sawing", "credit")
UNSTATED = Decimal("NaN")
UNSAID = -1  # a count that the file does not give


def plan_in(root: Node) -> Plan:
    """Return the plan under the top node of a file; faults gather in the node."""
    return _completed(_plan_in(root))


def _plan_in(root: Node) -> Plan:
    if root.integer("format") != FORMAT:
        root.fault("format", f"the only known format is {FORMAT}")
    if root.text("unit") != root.unit.value:
        root.fault("unit", f"the project is in {root.unit.value!r}")
    return Plan(
        project=root.text("project"),
        unit=root.unit.value,
        status=root.word("status", (COMPLETE, SHORT)),
        boards=tuple(_board_in(node) for node in root.items("boards")),
        panels=tuple(_panel_in(node) for node in root.items("panels")),
        sets=tuple(_set_in(node) for node in root.items("sets", optional=True)),
        short=_shortages_in(root, "short"),
        not_made=_shortages_in(root, "not_made"),
        sheets=tuple(_board_in(node) for node in root.items("sheets", optional=True)),
        from_windows=tuple(
            _window_piece_in(node) for node in root.items("from_windows", optional=True)
        ),
        totals=_totals_in(root.child("totals")),
        rules=root.texts("rules"),
        notes=root.texts("notes"),
        rips=_rips_in(root),
    )


def _rips_in(root: Node) -> RipCount | None:
    """Return how often the fence is set; None if the file does not say."""
    settings = root.integer("fence_settings", UNSAID)
    before = root.integer("fence_settings_before", settings)
    return None if settings == UNSAID else RipCount(settings=settings, before=before)


def _shortages_in(root: Node, key: str) -> tuple[Shortage, ...]:
    return tuple(
        Shortage(part=node.text("part"), copy=node.integer("copy"), why=node.text("why"))
        for node in root.items(key, optional=True)
    )


def _board_in(node: Node) -> CutBoard:
    name = node.text("board")
    pieces = tuple(_piece_in(piece) for piece in node.items("pieces"))
    gangs = tuple(gang.names() for gang in node.items("gangs", optional=True))
    ganged = [[piece for piece in pieces if piece.name in gang] for gang in gangs]
    return CutBoard(
        board=name,
        where=node.text("where"),
        bought=node.flag("bought"),
        cost=node.number("cost"),
        pay=node.number("pay", UNSTATED),
        board_feet=Fraction(node.number("board_feet")),
        length=node.length("length"),
        width=node.length("width"),
        width2=node.length("width2", node.length("width")),
        pieces=pieces,
        cuts=tuple(_cut_in(cut, ganged) for cut in node.items("cuts")),
        offcuts=tuple(
            _offcut_in(offcut, f"{name}.{number}")
            for number, offcut in enumerate(node.items("offcuts"), 1)
        ),
        gangs=gangs,
        stamp=node.text("stamp", ""),
    )


def _piece_in(node: Node) -> Piece:
    copy, copies = node.integer("copy"), node.integers("copies")
    if copies and copies[0] != copy:
        node.fault("copies", "must begin with the piece's own copy")
    return Piece(
        name=node.text("piece"),
        part=node.text("part"),
        copy=copy,
        role=node.word("role", ("solid", "stave", "layer")),
        layers=node.integer("layers", 1),
        layer=node.integer("layer", 0),
        leaves=node.integer("leaves", 1),
        others=copies[1:],
        nest=tuple(_nested_in(one) for one in node.items("nest", optional=True)),
        **node.rectangle(),
    )


def _window_piece_in(node: Node) -> WindowPiece:
    return WindowPiece(
        name=node.text("piece"),
        part=node.text("part"),
        copy=node.integer("copy"),
        host=node.text("host"),
        host_copy=node.integer("host_copy"),
        **node.rectangle(),
    )


def _nested_in(node: Node) -> Nested:
    return Nested(
        copy=node.integer("copy"),
        x=node.length("x"),
        y=node.length("y"),
        turned=node.flag("turned", default=False),
        mirrored=node.flag("mirrored", default=False),
    )


def _cut_in(node: Node, ganged: list[list[Piece]]) -> Cut:
    cut = Cut(
        order=node.integer("order"),
        kind=node.word("kind", ("crosscut", "rip")),
        at=node.length("at"),
        start=node.length("from"),
        end=node.length("to"),
    )
    parts_gang = cut.kind == "crosscut" and any(_parts(cut, gang) for gang in ganged)
    return replace(cut, after_planing=node.flag("after_planing", default=parts_gang))


def _parts(cut: Cut, gang: list[Piece]) -> bool:
    """Whether a crosscut runs between pieces of a gang, across their strip only."""
    return any(
        cut.start == piece.y
        and cut.end == piece.y + piece.width
        and min(other.x for other in gang) < cut.at < max(other.x for other in gang)
        for piece in gang
    )


def _offcut_in(node: Node, name: str) -> Offcut:
    return Offcut(
        name=node.text("name", name),
        keep=node.flag("keep"),
        credit=node.number("credit", UNSTATED),
        **node.rectangle(),
    )


def _panel_in(node: Node) -> PanelPlan:
    return PanelPlan(
        part=node.text("part"),
        copy=node.integer("copy"),
        layer=node.integer("layer", 0),
        net_width=node.length("net_width"),
        need=node.length("need"),
        length=node.length("length", 0),
        staves=tuple(_stave_in(stave) for stave in node.items("staves")),
        match_cost=_points_in(node),
    )


def _points_in(node: Node) -> tuple[tuple[str, int], ...]:
    return tuple(
        (one.text("term"), round(10 * one.number("points")))
        for one in node.items("match_cost", optional=True)
    )


def _set_in(node: Node) -> SetPlan:
    return SetPlan(
        name=node.text("set"),
        likeness=node.word("likeness", (ONE_FLITCH, ONE_STEP, NOT_ALIKE)),
        source=node.text("source", ""),
        extra_cost=node.number("extra_cost", Decimal(0)),
        why=node.text("why", ""),
        match_cost=_points_in(node),
    )


def _stave_in(node: Node) -> PanelStave:
    return PanelStave(
        piece=node.text("piece"),
        board=node.text("board"),
        width=node.length("width"),
        net_width=node.length("net_width"),
        turned=node.flag("turned", default=False),
        face=node.word_or_none("face", ("bark", "heart")),
        leaf=node.integer("leaf", 0),
    )


def _totals_in(node: Node) -> Totals:
    gap = node.number_or_none("gap")
    return Totals(
        cost=node.number("cost"),
        to_pay=node.number("to_pay"),
        **{name: node.number(name, UNSTATED) for name in SUMS},
        bound=node.number("bound"),
        bound_name=node.text("bound_name", ""),
        gap=None if gap is None else float(gap),
        board_feet_bought=Fraction(node.number("board_feet_bought")),
        board_feet_used=Fraction(node.number("board_feet_used")),
        yield_=float(node.number("yield")),
        boards_bought=node.integer("boards_bought"),
        seconds=float(node.number("seconds", Decimal(0))),
    )


def _completed(plan: Plan) -> Plan:
    """Return the plan with every layer numbered, in file order, and panels measured."""
    lengths = {piece.name: piece.length for board in plan.boards for piece in board.pieces}
    seen: Counter[tuple[str, int]] = Counter()
    panels = []
    for panel in plan.panels:
        seen[panel.part, panel.copy] += 1
        shortest = min((lengths.get(stave.piece, 0) for stave in panel.staves), default=0)
        layer = panel.layer or seen[panel.part, panel.copy]
        panels.append(replace(panel, layer=layer, length=panel.length or shortest))
    layers = {stave.piece: panel.layer for panel in panels for stave in panel.staves}
    boards = tuple(_layers_numbered(board, layers, seen) for board in plan.boards)
    sheets = tuple(_layers_numbered(sheet, layers, seen) for sheet in plan.sheets)
    return replace(plan, boards=boards, panels=tuple(panels), sheets=sheets)


def _layers_numbered(
    board: CutBoard, layers: dict[str, int], seen: Counter[tuple[str, int]]
) -> CutBoard:
    """Return the board with every piece's layer numbered; a stave's is its panel's."""
    pieces = []
    for piece in board.pieces:
        layer = layers.get(piece.name, 1)
        if piece.role == "layer":
            seen[piece.part, piece.copy] += 1
            layer = seen[piece.part, piece.copy]
        pieces.append(replace(piece, layer=piece.layer or layer))
    return replace(board, pieces=tuple(pieces))
