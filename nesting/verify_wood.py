"""Whether every piece comes from wood that serves its part."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from nesting.parts import Part
from nesting.plan import CutBoard, Piece
from nesting.verify_rules import Case, Violation, piece_place
from stock.boards import RACK, Board, dressed_thickness


def check_wood(case: Case) -> Iterator[Violation]:
    """Yield boards that are not the project's, and pieces from wood that won't do."""
    yield from _records(case)
    units = case.units()
    for cut, board, piece, part in case.lumber():
        where = piece_place(cut, piece)
        layers = len(units[piece.part, piece.copy])
        yield from _thickness(case, where, board, part, layers)
        yield from _leaves(case, where, board, part, piece.leaves)
        yield from wood_faults(case, where, board, piece, part)
    yield from _sheet_wood(case)
    yield from _matches(case)


def wood_faults(
    case: Case, where: str, board: Board, piece: Piece, part: Part
) -> Iterator[Violation]:
    """Yield why the wood of a piece, wherever in it, does not serve a part."""
    if board.species != part.species:
        text = f"is {board.species}, must be {part.species}"
        yield Violation("species", where, text)
    yield from _properties(where, board, piece, part)
    yield from _marks(case, where, board, piece, part)


def _records(case: Case) -> Iterator[Violation]:
    uses = Counter(cut.board for cut in (*case.plan.boards, *case.plan.sheets))
    for name, count in uses.items():
        if count > 1:
            yield Violation("boards", f"board {name!r}", f"is used {count} times")
    for cut in case.plan.boards:
        board = case.boards.get(cut.board)
        if board is None:
            yield Violation(
                "boards", f"board {cut.board!r}", "the project has no such board"
            )
        else:
            sizes = (board.length, board.width, board.width2)
            yield from _record(case, cut, board.where, sizes)
    for cut in case.plan.sheets:
        sheet = case.sheet_of(cut.board)
        if sheet is None:
            yield Violation(
                "boards", f"sheet {cut.board!r}", "the project has no such sheet"
            )
        else:
            sizes = (sheet.length, sheet.width, sheet.width)
            yield from _record(case, cut, sheet.where, sizes)


def _record(
    case: Case, cut: CutBoard, place: str, sizes: tuple[int, int, int]
) -> Iterator[Violation]:
    """Yield what a plan records otherwise; a far width like the first is not stated."""
    where = f"board {cut.board!r}"
    if cut.where != place or cut.bought != (place != RACK):
        yield Violation("boards", where, f"lies at {place!r}, recorded at {cut.where!r}")
    length, width, width2 = sizes
    recorded = (cut.length, cut.width)
    if recorded != (length, width) or cut.width2 not in (width2, cut.width):
        text = f"is {case.size(length)} x {case.size(width)}, recorded as "
        yield Violation("boards", where, text + " x ".join(map(case.size, recorded)))


def _thickness(
    case: Case, where: str, board: Board, part: Part, layers: int
) -> Iterator[Violation]:
    dressed = dressed_thickness(board, case.project.shop)
    count = layers if part.build in ("auto", "laminate") else 1
    if dressed * count < part.thickness:
        text = f"{count} x {case.size(dressed)} is less than {case.size(part.thickness)}"
        yield Violation("thickness", where, f"dressed thickness {text}")


def _leaves(
    case: Case, where: str, board: Board, part: Part, leaves: int
) -> Iterator[Violation]:
    """Yield a piece that is too thin for its leaves; its outer faces are dressed."""
    shop = case.project.shop
    between = shop.kerf + shop.resaw_allowance
    need = leaves * part.thickness + (leaves - 1) * between
    dressed = dressed_thickness(board, shop)
    if leaves > 1 and dressed < need:
        text = f"thickness {case.size(dressed)} is less than {case.size(need)}"
        yield Violation("thickness", where, f"dressed {text} for {leaves} leaves")


def _properties(where: str, board: Board, piece: Piece, part: Part) -> Iterator[Violation]:
    sawn = not part.sawing or board.sawing in part.sawing
    if not sawn and not any(_zoned(board, piece, "sawing", one) for one in part.sawing):
        text = f"is {board.sawing or 'not known'}, must be {' or '.join(part.sawing)}"
        yield Violation("sawing", where, f"its sawing {text}")
    figured = part.figure is None or part.figure in board.figure
    if not figured and not _zoned(board, piece, "figure", part.figure):
        yield Violation("figure", where, f"does not show the figure {part.figure!r}")


def _zoned(board: Board, piece: Piece, kind: str, tag: str | None) -> bool:
    """Whether one zone of the board lends the whole piece a property."""
    return any(
        mark.kind == kind
        and mark.tag == tag
        and mark.holds(piece.x, piece.y, piece.length, piece.width)
        for mark in board.marks
    )


def _marks(
    case: Case, where: str, board: Board, piece: Piece, part: Part
) -> Iterator[Violation]:
    for mark in board.marks:
        touched = mark.touches(piece.x, piece.y, piece.length, piece.width)
        if touched and mark.forbids(part.face):
            text = f"touches the {mark.kind} at {case.size(mark.start)}"
            yield Violation("marks", where, f"{text}, face {part.face!r}")


def _sheet_wood(case: Case) -> Iterator[Violation]:
    for cut in case.plan.sheets:
        sheet = case.sheet_of(cut.board)
        for piece in cut.pieces:
            part = case.parts.get(piece.part)
            if sheet is None or part is None:
                continue
            where = piece_place(cut, piece)
            if part.species not in sheet.names:
                text = f"is {sheet.name}, must be {part.species}"
                yield Violation("species", where, text)
            elif part.thickness != sheet.thickness:
                text = f"the sheet is {case.size(sheet.thickness)} thick"
                yield Violation("thickness", where, text)


def _matches(case: Case) -> Iterator[Violation]:
    sources: dict[tuple[str, int], set[str]] = defaultdict(set)
    for _, board, piece, part in case.lumber():
        if piece.role == "stave" and part.match != "none":
            source = f"board {board.name}" if part.match == "board" else board.log
            sources[piece.part, piece.copy].add(source)
    for (name, copy), found in sources.items():
        if len(found) > 1:
            text = f"its staves come from {', '.join(sorted(found))}"
            yield Violation("match", f"part {name!r}, copy {copy}", text)
