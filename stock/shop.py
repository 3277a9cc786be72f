"""The shop's settings: how its saws, clamps and habits turn a drawing into rough wood."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from stock.measures import Unit, steps_per_unit

Kind = Literal["word", "length", "number", "name"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting:
    """One line of the Shop table.

    Attributes
    ----------
    name
        Heading the maker writes in the column `setting`.
    kind
        `word` (one of `words`), `length` (a measure), `number`, or `name` of something.
    inch, mm
        Defaults in a project in inches and in millimetres; None leaves it blank.
    low, high
        Accepted range; for lengths in the project's unit as (inch, mm) alike: `low` and
        `high` are in inches and scaled by 25.4 in a metric project.
    meaning
        One sentence for the maker.
    """

    name: str
    kind: Kind
    inch: str | None
    mm: str | None
    unit: str = ""
    words: tuple[str, ...] = ()
    low: Fraction | None = None
    high: Fraction | None = None
    meaning: str

    @property
    def field(self) -> str:
        """Name of the attribute of `Shop` that holds the setting."""
        return self.name.replace(" ", "_")


def _length(
    name: str, inch: str | None, mm: str | None, meaning: str, high: int
) -> Setting:
    return Setting(
        name=name, kind="length", inch=inch, mm=mm, meaning=meaning,
        low=Fraction(0), high=Fraction(high),
    )  # fmt: skip


def _number(name: str, default: str | None, unit: str, meaning: str, high: int,
            *, mm: str | None = None, low: int = 0) -> Setting:  # fmt: skip
    return Setting(
        name=name, kind="number", inch=default, mm=mm or default, unit=unit,
        meaning=meaning, low=Fraction(low), high=Fraction(high),
    )  # fmt: skip


def _word(name: str, words: tuple[str, ...], meaning: str) -> Setting:
    return Setting(
        name=name, kind="word", inch=words[0], mm=words[0], words=words, meaning=meaning
    )


SETTINGS: tuple[Setting, ...] = (
    _word("unit", ("in", "mm"), "the unit of every measure in the project"),
    _word("aim", ("money", "board feet"), "what the plan makes small"),
    _length("kerf", "1/8", "3", "width of one saw cut", 1),
    _length("saw step", "1/16", "1", "rough blanks are cut to whole steps of this", 1),
    _length("end trim", "1", "25", "lost at each board end to checks and snipe", 24),
    _length("sheet trim", "0", "0", "lost at each edge of a sheet", 6),
    Setting(
        name="template sheet",
        kind="name",
        inch=None,
        mm=None,
        meaning="sheet of the table Sheets that router templates are cut from",
    ),
    _length(
        "template margin", "1 1/2", "40", "added to each side of a router template", 12
    ),
    _length("crosscut allowance", "1", "25", "added to the length of a rough blank", 12),
    _length("rip allowance", "1/4", "6", "added to the width of a rough solid blank", 4),
    _length("joint allowance", "1/8", "3", "width a stave loses to jointing both edges", 2),
    _length("panel allowance", "1/2", "12", "added to the width of a glued-up panel", 6),
    _length(
        "thickness allowance",
        None,
        None,
        "lost from a rough face pair; blank: the NHLA surfaced size",
        2,
    ),
    _length("resaw allowance", "1/8", "3", "lost per resawn layer beyond the kerf", 1),
    _length(
        "resaw height",
        None,
        None,
        "widest piece that is resawn; blank: any; 0: nothing is resawn",
        60,
    ),
    _length("narrowest stave", "2 1/2", "60", "narrowest stave of a panel, jointed", 48),
    _length("widest stave", "6", "150", "widest stave of a panel, jointed", 48),
    _length("widest solid", "8", "200", "widest part made of one piece", 60),
    _length(
        "shortest machined",
        "12",
        "300",
        "shorter blanks stay ganged end to end until planed",
        48,
    ),
    _length("jointer width", "8", "200", "wider pieces can't be faced in one pass", 60),
    _length("planer width", "15", "380", "wider pieces can't be dressed in one pass", 80),
    _length("keep length", "12", "300", "an offcut this long goes back to the rack", 200),
    _length("keep width", "2 1/2", "60", "an offcut this wide goes back to the rack", 60),
    _number(
        "offcut value", "50", "percent", "of the price, what a kept offcut is worth", 100
    ),
    _number(
        "rack value", "30", "percent", "of the yard price, charged for owned wood", 100
    ),
    _number("shop rate", "0", "per hour", "price of an hour at the saws", 10_000),
    _number("cut time", "30", "seconds", "for one cut, to price sawing", 3600),
    _word("ring", ("alternate", "same", "any"), "heart side of neighbouring staves"),
    _length("joint from edge", "1", "25", "least from a joint to a finished edge", 12),
    _length("edge stave", "3", "75", "least net width of an outer stave", 24),
    _number("board weight", "40", "points", "what another board in a panel counts", 1000),
    _number("flitch weight", "25", "points", "what another log in a panel counts", 1000),
    _number("tone weight", "10", "points", "what a step of tone in a panel counts", 1000),
    _number("figure weight", "30", "points", "what a stave without figure counts", 1000),
    _number(
        "knot weight", "12", "points", "what marks beside each other at a joint count", 1000
    ),
    _number("set premium", "10", "percent", "more cost allowed to make a set alike", 1000),
    _number("figure premium", "5", "percent", "more cost allowed for better figure", 1000),
    _number(
        "panel premium",
        "1",
        "percent",
        "more cost allowed for panels from fewer boards",
        100,
    ),
    _number(
        "clamp force", "1000", "lbf or N", "force of one clamp", 1_000_000, mm="4450", low=1
    ),
    _length("clamp spacing", "8", "200", "widest spacing of clamps", 48),
    _number("clamps owned", "12", "clamps", "how many clamps the shop has", 10_000),
    _number("open time", "10", "minutes", "open time of the glue", 600),
    _number("spread time", "20", "seconds", "to spread glue on one joint", 3600),
    # both are common practice, no source: the label of a finish is the better word
    _number(
        "finish coverage",
        "400",
        "square feet a gallon or square metres a litre",
        "area that finish covers with one coat; 0: not worked out",
        100_000,
        mm="10",
    ),
    _number("finish coats", "2", "coats", "coats of finish", 100, low=1),
    # 30 to 60 minutes by an adhesive maker, 30 to 90 by a retailer (PVA, joints at rest).
    _number("clamp time", "60", "minutes", "in clamps before a glue-up comes out", 10_000),
    _number("confidence", "90", "percent", "for buying unseen", 100),
    _length("longest carried", None, None, "longest board the vehicle takes", 400),
    _number(
        "heaviest carried", None, "lb or kg", "heaviest load the vehicle takes", 100_000
    ),
    _number("humidity low", "35", "percent", "driest season, relative humidity", 100),
    _number("humidity high", "65", "percent", "dampest season, relative humidity", 100),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Shop:
    """The settings in force; lengths in grid steps, numbers as the table's unit says."""

    unit: Unit
    aim: str
    kerf: int
    saw_step: int
    end_trim: int
    sheet_trim: int
    template_sheet: str | None
    template_margin: int
    crosscut_allowance: int
    rip_allowance: int
    joint_allowance: int
    panel_allowance: int
    thickness_allowance: int | None
    resaw_allowance: int
    resaw_height: int | None
    narrowest_stave: int
    widest_stave: int
    widest_solid: int
    shortest_machined: int
    jointer_width: int
    planer_width: int
    keep_length: int
    keep_width: int
    offcut_value: Fraction
    rack_value: Fraction
    shop_rate: Fraction
    cut_time: Fraction
    ring: str
    joint_from_edge: int
    edge_stave: int
    board_weight: Fraction
    flitch_weight: Fraction
    tone_weight: Fraction
    figure_weight: Fraction
    knot_weight: Fraction
    set_premium: Fraction
    figure_premium: Fraction
    panel_premium: Fraction
    clamp_force: Fraction
    clamp_spacing: int
    clamps_owned: Fraction
    open_time: Fraction
    spread_time: Fraction
    finish_coverage: Fraction
    finish_coats: Fraction
    clamp_time: Fraction
    confidence: Fraction
    longest_carried: int | None
    heaviest_carried: Fraction | None
    humidity_low: Fraction
    humidity_high: Fraction

    def up(self, size: int) -> int:
        """Round a needed size up to a whole saw step."""
        step = max(1, self.saw_step)
        return -(-size // step) * step

    def down(self, size: int) -> int:
        """Round an available size down to a whole saw step."""
        step = max(1, self.saw_step)
        return size // step * step


def default_shop(unit: Unit) -> Shop:
    """Return the settings of a shop that leaves its table blank."""
    values: dict[str, object] = {}
    for setting in SETTINGS:
        text = setting.inch if unit is Unit.INCH else setting.mm
        values[setting.field] = _default(setting, text, unit)
    values["unit"] = unit
    return Shop(**values)  # type: ignore[arg-type]


def _default(setting: Setting, text: str | None, unit: Unit) -> object:
    """Turn a default of the table above into a value of `Shop`."""
    if text is None or setting.kind == "word":
        return text
    number = sum((Fraction(word) for word in text.split()), Fraction(0))
    if setting.kind == "number":
        return number
    return int(number * steps_per_unit(unit))
