"""A plan as tables: one frame per kind of thing, with the columns named here.

All sizes are whole grid steps (`stock.measures`), money and board feet are exact; sheets
of the report turn them into the project's unit. Rows keep the order of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

from nesting.plan import CutBoard, PanelPlan, Piece, Plan
from nesting.project import Project, Sheet
from reports.breakdown import needed_size
from stock.boards import Board, area_feet

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Frames:
    """The frames of one plan; what each holds is told by the function that makes it."""

    boards: pd.DataFrame
    pieces: pd.DataFrame
    offcuts: pd.DataFrame
    staves: pd.DataFrame
    short: pd.DataFrame


def frames_for(project: Project, plan: Plan) -> Frames:
    """Return every frame of a plan."""
    return Frames(
        boards=boards_frame(project, plan),
        pieces=pieces_frame(plan),
        offcuts=offcuts_frame(project, plan),
        staves=staves_frame(plan),
        short=short_frame(plan),
    )


BOARD_COLUMNS = (
    "board", "kind", "where", "bought", "species", "thickness", "length", "width",
    "width2", "need_length", "need_width", "grade", "sawing", "surfaced", "board_feet",
    "rate", "before_tax", "pay", "cost", "pieces",
)  # fmt: skip


def boards_frame(project: Project, plan: Plan) -> pd.DataFrame:
    """Return one row per board (and sheet of sheet goods) that the plan cuts.

    Columns
    -------
    board, kind, where, bought
        Name; `board` or `sheet`; rack or yard; whether it is paid for.
    species, thickness, grade, sawing, surfaced
        As the project describes the board; `thickness` as the maker wrote it.
    length, width, width2
        Grid steps; `width` at the butt end, `width2` at the far end.
    need_length, need_width
        Smallest clear board that gives the same pieces, grid steps.
    board_feet
        Exact fraction; 0 for sheets.
    rate, before_tax, pay, cost
        Price of a board foot or None; wood and charges; money paid; the objective.
    pieces
        How many pieces come from it.
    """
    tariff = project.tariff
    boards = {board.name: board for board in project.boards}
    rows: list[Record] = []
    for cut in plan.boards:
        board = boards.get(cut.board)
        row = _cut_board(cut, "board", project) | _described(board)
        row["rate"] = tariff.rate(board) if board else None
        row["before_tax"] = tariff.before_tax(board) if board and cut.bought else 0
        rows.append(row)
    rows += [_sheet(cut, project) for cut in plan.sheets]
    return _frame(rows, BOARD_COLUMNS)


PIECE_COLUMNS = (
    "board", "where", "piece", "part", "copy", "role", "layer", "layers", "x", "y",
    "length", "width", "stave", "ganged", "leaves", "copies", "nested",
)  # fmt: skip


def pieces_frame(plan: Plan) -> pd.DataFrame:
    """Return one row per piece that is sawn, board by board.

    Columns
    -------
    board, where, piece, part, copy, role, layer, layers
        Whence, name, and what it becomes, as in the plan.
    x, y, length, width
        Place on the board and rough size, grid steps.
    stave
        Place in its panel, counted from 1 at the left, of the first of its leaves; 0 if
        it is no stave.
    ganged
        Whether it stays in one length with others until planed.
    leaves, copies
        How many leaves are resawn from it, and the copy that each of them is for.
    nested
        How many copies are sawn out of it by their outlines; 0: it is a copy itself.
    """
    places: dict[str, int] = {}
    for panel in plan.panels:
        for at, stave in enumerate(panel.staves, 1):
            places.setdefault(stave.piece, at)
    rows = [
        _piece(cut, piece, places.get(piece.name, 0))
        for cut in (*plan.boards, *plan.sheets)
        for piece in cut.pieces
    ]
    return _frame(rows, PIECE_COLUMNS)


OFFCUT_COLUMNS = (
    "offcut", "board", "species", "thickness", "length", "width", "board_feet", "credit",
)  # fmt: skip


def offcuts_frame(project: Project, plan: Plan) -> pd.DataFrame:
    """Return one row per offcut worth keeping; waste is left out.

    Columns
    -------
    offcut, board, species, thickness
        Its name, whence it comes, and what it is.
    length, width
        Grid steps.
    board_feet, credit
        Exact board feet (0 for sheets); what the plan counts it as worth.
    """
    boards = {board.name: board for board in project.boards}
    rows: list[Record] = []
    for cut in (*plan.boards, *plan.sheets):
        board = boards.get(cut.board)
        sheet = None if board else sheet_of(cut, project)
        for offcut in cut.offcuts:
            if not offcut.keep:
                continue
            area = offcut.length * offcut.width
            rows.append(
                {
                    "offcut": offcut.name,
                    "board": cut.board,
                    "species": board.species if board else sheet.name if sheet else "",
                    "thickness": board.thickness.label if board else "",
                    "length": offcut.length,
                    "width": offcut.width,
                    "board_feet": area_feet(board, area, project.unit) if board else 0,
                    "credit": offcut.credit,
                }
            )
    return _frame(rows, OFFCUT_COLUMNS)


STAVE_COLUMNS = (
    "part", "copy", "layer", "stave", "piece", "board", "x", "y", "length", "width",
    "net_width", "turned", "face",
)  # fmt: skip


def staves_frame(plan: Plan) -> pd.DataFrame:
    """Return one row per stave of a panel, in the order they are glued.

    Columns
    -------
    part, copy, layer, stave, piece, board, turned, face
        As in the plan; `stave` counts from 1 at the left.
    x, y
        Where it lies on its board, grid steps; None if the plan doesn't cut it.
    length, width, net_width
        Rough length and width, and width after jointing, grid steps.
    """
    pieces = {piece.name: piece for cut in plan.boards for piece in cut.pieces}
    rows = [row for panel in plan.panels for row in _staves(panel, pieces)]
    return _frame(rows, STAVE_COLUMNS)


def short_frame(plan: Plan) -> pd.DataFrame:
    """Return one row per part that the wood at hand does not make.

    Columns
    -------
    part, copies, why
        Its name, how many copies are missing, and what would help.
    """
    missing: dict[tuple[str, str], int] = {}
    for short in plan.short:
        key = (short.part, short.why)
        missing[key] = missing.get(key, 0) + 1
    rows = [
        {"part": part, "copies": copies, "why": why}
        for (part, why), copies in missing.items()
    ]
    return _frame(rows, ("part", "copies", "why"))


def records(frame: pd.DataFrame) -> Iterator[Record]:
    """Yield the rows of a frame as dictionaries by column."""
    for row in frame.itertuples(index=False, name=None):
        yield dict(zip(frame.columns, row, strict=True))


def sheet_of(cut: CutBoard, project: Project) -> Sheet | None:
    """Return the kind of sheet goods that a cut sheet is one of, or None.

    Sheets of one kind are numbered: `birch ply 1`, `birch ply 2`.
    """
    kinds = {sheet.name: sheet for sheet in project.sheets}
    return kinds.get(cut.board) or kinds.get(cut.board.rpartition(" ")[0])


def _frame(rows: list[Record], columns: tuple[str, ...]) -> pd.DataFrame:
    """Return rows as a frame of plain objects, so that nothing exact is rounded."""
    return pd.DataFrame(rows, columns=list(columns), dtype=object)


def _cut_board(cut: CutBoard, kind: str, project: Project) -> Record:
    """Return the columns that a cut board itself tells."""
    need_length, need_width = needed_size(cut, project.shop.end_trim)
    return {
        "board": cut.board,
        "kind": kind,
        "where": cut.where,
        "bought": cut.bought,
        "length": cut.length,
        "width": cut.width,
        "width2": cut.width2,
        "need_length": need_length,
        "need_width": need_width,
        "board_feet": cut.board_feet,
        "rate": None,
        "before_tax": 0,
        "pay": cut.pay,
        "cost": cut.cost,
        "pieces": len(cut.pieces),
    }


def _described(board: Board | None) -> Record:
    """Return the columns that the project's own table tells of a board."""
    return {
        "species": board.species if board else "",
        "thickness": board.thickness.label if board else "",
        "grade": board.grade if board else None,
        "sawing": board.sawing if board else None,
        "surfaced": board.surfaced if board else "rough",
    }


def _sheet(cut: CutBoard, project: Project) -> Record:
    """Return a sheet of sheet goods as a row of boards; it has a price each."""
    sheet = sheet_of(cut, project)
    row = _cut_board(cut, "sheet", project) | _described(None)
    row["species"] = sheet.name if sheet else cut.board
    row["rate"] = sheet.price if sheet else None
    row["before_tax"] = sheet.price if sheet and cut.bought else 0
    return row


def _piece(cut: CutBoard, piece: Piece, stave: int) -> Record:
    """Return one piece as a row."""
    return {
        "board": cut.board,
        "where": cut.where,
        "piece": piece.name,
        "part": piece.part,
        "copy": piece.copy,
        "role": piece.role,
        "layer": piece.layer,
        "layers": piece.layers,
        "x": piece.x,
        "y": piece.y,
        "length": piece.length,
        "width": piece.width,
        "stave": stave,
        "ganged": any(piece.name in gang for gang in cut.gangs),
        "leaves": piece.leaves,
        "copies": piece.copies,
        "nested": len(piece.nest),
    }


def _staves(panel: PanelPlan, pieces: dict[str, Piece]) -> Iterator[Record]:
    """Yield the staves of one panel as rows."""
    for at, stave in enumerate(panel.staves, 1):
        piece = pieces.get(stave.piece)
        yield {
            "part": panel.part,
            "copy": panel.copy,
            "layer": panel.layer,
            "stave": at,
            "piece": stave.name,
            "board": stave.board,
            "x": piece.x if piece else None,
            "y": piece.y if piece else None,
            "length": panel.length,
            "width": stave.width,
            "net_width": stave.net_width,
            "turned": stave.turned,
            "face": stave.face,
        }
