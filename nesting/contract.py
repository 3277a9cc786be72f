"""The tables of a project file as data: columns, kinds, defaults, words, meanings.

The reader, the starter workbook and the documentation all go by these tuples, so that
they can't disagree. The settings of the Shop table are in `stock.shop.SETTINGS`.
"""

from __future__ import annotations

from fractions import Fraction

from nesting.parts import BUILDS, GRAINS, HELD, MATCHES
from stock.boards import FACES, GRADES, RACK, SAWINGS, SURFACINGS
from stock.rows import Column, Table

_ZERO = Fraction(0)
_ONE = Fraction(1)
_HUNDRED = Fraction(100)
MOST_PIECES = 10_000  # of one part: beyond any shop's job, so a slip of the keys

SHAPE_WORDS = ("rectangle", "octagon", "disc", "taper A B", "outline FILE")


def _note(meaning: str) -> Column:
    return Column(name="note", kind="text", otherwise="none", meaning=meaning)


PARTS = Table(
    name="Parts",
    needed=True,
    meaning="one row per different part",
    columns=(
        Column(name="part", kind="name", needed=True, meaning="name, unique"),
        Column(name="qty", kind="count", default="1", low=_ONE, high=Fraction(MOST_PIECES),
               meaning="pieces per project"),
        Column(name="length", kind="measure", needed=True,
               meaning="finished size, with the grain unless grain says otherwise"),
        Column(name="width", kind="measure", needed=True, meaning="finished size"),
        Column(name="thickness", kind="measure", needed=True, meaning="finished size"),
        Column(name="species", kind="name", needed=True,
               meaning="wood species, or the name of a sheet material from Sheets"),
        Column(name="grain", kind="word", default="length", words=GRAINS,
               meaning="column that the grain runs along: length, width, or either"),
        Column(name="sawing", kind="sawing", default="any", words=("any", *SAWINGS),
               meaning="any, or the sawings that will do, joined by /"),
        Column(name="figure", kind="tag", otherwise="none",
               meaning="tag that the board must carry, as fleck or curl"),
        Column(name="face", kind="word", default="show", words=FACES,
               meaning="show: clear wood on the face; second: sound knots and colour "
                       "allowed; hidden: anything sound"),
        Column(name="build", kind="word", default="auto", words=BUILDS,
               meaning="solid: one piece of wood; panel: staves glued edge to edge; "
                       "laminate: layers glued face to face"),
        Column(name="match", kind="word", default="none", words=MATCHES,
               meaning="how the staves of one panel relate: board: all from one board; "
                       "flitch: from one log; book, slip: neighbours opened or slid"),
        Column(name="set", kind="name", otherwise="none",
               meaning="name of a matched set: its parts should look alike"),
        Column(name="shape", kind="shape", default="rectangle", words=SHAPE_WORDS,
               meaning="outline of the part; a taper names its width at each end, an "
                       "outline a drawing (DXF or SVG), also as FILE#NAME and with "
                       "grain DEGREES behind it"),
        Column(name="end angle", kind="angle", default="0", low=_ZERO, high=Fraction(80),
               meaning="bevel of both ends in degrees from square; lengthens the blank"),
        Column(name="add length", kind="measure", default="0", low=_ZERO,
               meaning="joinery beyond the finished length, total"),
        Column(name="add width", kind="measure", default="0", low=_ZERO,
               meaning="joinery beyond the finished width, total"),
        Column(name="spare", kind="spare", default="0", high=Fraction(MOST_PIECES),
               meaning="extra pieces in case of a bad cut: a number, or a percent of qty"),
        Column(name="template", kind="flag", default="no", words=("yes", "no"),
               meaning="yes: a router template of this part is wanted in sheet material"),
        Column(name="from", kind="word", default="stock", words=("stock", "offcut"),
               meaning="offcut: made only from what is left over, never bought for"),
        Column(name="held", kind="word", otherwise="none", words=HELD,
               meaning="where it is held across its grain: middle or edge, and free to "
                       "slide elsewhere; rigid: across its whole width"),
        _note("printed beside the part"),
    ),
)  # fmt: skip

BOARDS = Table(
    name="Boards",
    meaning="one row per real board, owned or on offer",
    columns=(
        Column(name="board", kind="name", needed=True, meaning="name, unique"),
        Column(name="where", kind="name", default=RACK,
               meaning="rack if it is owned, else the name of a yard"),
        Column(name="species", kind="name", needed=True, meaning="wood species"),
        Column(name="thickness", kind="thickness", needed=True,
               meaning="rough thickness, as 4/4; the actual thickness if surfaced"),
        Column(name="length", kind="measure", needed=True, meaning="length of the board"),
        Column(name="width", kind="measure", needed=True,
               meaning="width at the butt end, of the narrow end if width 2 is blank"),
        Column(name="width 2", kind="measure", otherwise="the column width",
               meaning="width at the far end of a tapered board"),
        Column(name="grade", kind="word", otherwise="none", words=GRADES,
               meaning="NHLA grade"),
        Column(name="sawing", kind="word", otherwise="none", words=SAWINGS,
               meaning="angle of the rings to the face; not known: fits only any"),
        Column(name="figure", kind="tags", otherwise="none",
               meaning="tags of what the surface shows, parted by commas"),
        Column(name="tone", kind="count", otherwise="none", low=_ONE, high=Fraction(5),
               meaning="1 (pale) to 5 (dark)"),
        Column(name="flitch", kind="name", otherwise="none",
               meaning="name of the flitch or log"),
        Column(name="order", kind="count", otherwise="none", low=_ZERO,
               meaning="place of the board in the sawing order of its flitch"),
        Column(name="surfaced", kind="word", default="rough", words=SURFACINGS,
               meaning="how far the board is planed and straightened"),
        Column(name="price", kind="money", otherwise="from Prices; 0 for rack",
               meaning="per board foot, per cubic metre in a metric project"),
        Column(name="moisture", kind="percent", otherwise="none", high=_HUNDRED,
               meaning="last reading, percent"),
        Column(name="photo", kind="text", otherwise="none",
               meaning="picture of the face, path relative to the project"),
        _note("printed beside the board"),
    ),
)  # fmt: skip

MARKS = Table(
    name="Marks",
    meaning="defects and figure zones on boards",
    columns=(
        Column(name="board", kind="name", needed=True, meaning="name of a board"),
        Column(name="kind", kind="mark", needed=True,
               meaning="a defect, or figure: TAG or sawing: quarter for a zone that adds "
                       "a property"),
        Column(name="from", kind="measure", default="0", low=_ZERO,
               meaning="start along the length, from the butt end"),
        Column(name="to", kind="measure", otherwise="the board's length", low=_ZERO,
               meaning="end along the length, from the butt end"),
        Column(name="low", kind="measure", default="0", low=_ZERO,
               meaning="start across the width, from the lower edge"),
        Column(name="high", kind="measure", otherwise="the board's width", low=_ZERO,
               meaning="end across the width, from the lower edge"),
        Column(name="face", kind="word", default="both", words=("one", "both"),
               meaning="one: seen on the poorer face only"),
    ),
)  # fmt: skip

YARDS = Table(
    name="Yards",
    meaning="places that sell wood",
    columns=(
        Column(name="yard", kind="name", needed=True, meaning="name, unique"),
        Column(name="trip cost", kind="money", default="0", meaning="of going there, once"),
        Column(name="smallest order", kind="money", default="0",
               meaning="the yard bills at least this much per order"),
        Column(name="surfacing charge", kind="money", default="0",
               meaning="per board foot in either unit, for boards listed as surfaced"),
        Column(name="straight edge charge", kind="money", default="0",
               meaning="per board foot, for boards listed as straight-edged"),
        Column(name="tax", kind="percent", default="0", high=_HUNDRED,
               meaning="percent, on everything bought there"),
        _note("printed beside the yard"),
    ),
)  # fmt: skip

PRICES = Table(
    name="Prices",
    meaning="what a yard sells unseen",
    columns=(
        Column(name="yard", kind="name", needed=True, meaning="name of a yard"),
        Column(name="species", kind="name", needed=True, meaning="wood species"),
        Column(name="thickness", kind="thickness", needed=True,
               meaning="rough thickness, as 4/4; the actual thickness if surfaced"),
        Column(name="grade", kind="word", otherwise="any", words=GRADES,
               meaning="NHLA grade"),
        Column(name="sawing", kind="word", otherwise="any", words=SAWINGS,
               meaning="angle of the rings to the face"),
        Column(name="price", kind="money", needed=True,
               meaning="per board foot, per cubic metre in a metric project"),
        Column(name="narrowest", kind="measure", otherwise="no limit",
               meaning="narrowest board the yard usually holds"),
        Column(name="widest", kind="measure", otherwise="no limit",
               meaning="widest board the yard usually holds"),
        Column(name="shortest", kind="measure", otherwise="no limit",
               meaning="shortest board the yard usually holds"),
        Column(name="longest", kind="measure", otherwise="no limit",
               meaning="longest board the yard usually holds"),
        Column(name="surfaced", kind="word", default="rough", words=SURFACINGS,
               meaning="how far the boards are planed and straightened"),
        Column(name="available", kind="number", otherwise="no limit",
               meaning="how much there is, in board feet in either unit"),
        _note("printed beside the price"),
    ),
)  # fmt: skip

SHEETS = Table(
    name="Sheets",
    meaning="sheet goods: plywood, fibreboard for templates",
    columns=(
        Column(name="sheet", kind="name", needed=True, meaning="name, unique"),
        Column(name="where", kind="name", default=RACK,
               meaning="rack if it is owned, else the name of a yard"),
        Column(name="length", kind="measure", needed=True, meaning="length of one sheet"),
        Column(name="width", kind="measure", needed=True, meaning="width of one sheet"),
        Column(name="thickness", kind="measure", needed=True,
               meaning="thickness; parts of this sheet name the same"),
        Column(name="grain", kind="word", default="length", words=("length", "none"),
               meaning="way the grain of the face runs"),
        Column(name="qty", kind="count", default="1", low=_ZERO, high=Fraction(MOST_PIECES),
               meaning="how many there are"),
        Column(name="price", kind="money", default="0", meaning="of one sheet"),
    ),
)  # fmt: skip

SUPPLIES = Table(
    name="Supplies",
    meaning="what else the project buys",
    columns=(
        Column(name="item", kind="name", needed=True, meaning="what it is"),
        Column(name="qty", kind="supply", default="1",
               meaning="a number, or auto for glue and finish, computed from areas"),
        Column(name="unit", kind="name", default="pieces", meaning="what qty counts"),
        Column(name="pack", kind="number", default="1", low=Fraction(1, 1000),
               meaning="size of one pack"),
        Column(name="price", kind="money", default="0", meaning="of one pack"),
        Column(name="coverage", kind="number", otherwise="by finish coverage of Shop",
               low=Fraction(1, 1000),
               meaning="of a finish: square feet (square metres in a metric project) that"
               " one unit covers with one coat"),
        Column(name="coats", kind="number", otherwise="finish coats of Shop",
               low=Fraction(1), high=Fraction(100), meaning="of a finish: how many coats"),
        _note("printed beside the item"),
    ),
)  # fmt: skip

SHOP = Table(
    name="Shop",
    meaning="the shop's settings; what is not listed keeps its default",
    columns=(
        Column(name="setting", kind="name", needed=True, meaning="name of a setting"),
        Column(name="value", kind="text", otherwise="the default", meaning="its value"),
    ),
)

TABLES = (PARTS, BOARDS, MARKS, YARDS, PRICES, SHEETS, SUPPLIES, SHOP)
