"""How wide parts move with the seasons: what slots, grooves and gaps have to allow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal

from reports.seasons import (
    FINEST,
    RIGID,
    UNKNOWN,
    Mover,
    Seasons,
    room,
    seasons_for,
    share_free,
)
from reports.sheets.cells import Cell, Row, head_row, heading_row, number, text
from reports.sheets.content import Content
from reports.sheets.page import Page
from stock.measures import Unit
from stock.moisture import Scale, constants_at, is_checked, scale_of
from stock.movement import (
    DAMPEST,
    DRAWN_AT,
    DRIEST,
    LENGTH_PERCENT,
    holds,
)

_WIDTHS = (16.5, 8, 11.5, 10.5, 8, 7, 7, 8.5, 8, 9, 8.5, 8.5, 8.5, 18.5)
_HEAD = head_row(
    "part", "width", "species", "sawing", "moves per %", "EMC dry, %", "EMC damp, %",
    "change in width", "slot longer by", "moisture now, %",
    "from now to driest", "from now to dampest", "groove gap", "note",
    height=38.0,
)  # fmt: skip
_GAP = 8.0
_HELD = {"middle": "held at the middle", "edge": "held at one edge"}
_FIRST = 5  # row of the driest season; the dampest follows


def movement_page(content: Content) -> Page | None:
    """Describe the sheet; None if no part of the plan is wide enough to mind."""
    if not content.movers:
        return None
    shop, unit = content.project.shop, content.unit
    seasons = seasons_for(shop)
    page = Page(name="Movement", widths=_WIDTHS, frozen=2, again=(_HEAD,))
    page.top(
        "Movement",
        f"Lengths in {content.unit_name}. What parts gain across the grain from the driest"
        " to the dampest of the year. Write over humidity, temperature or the moisture"
        " now, and the rest follows.",
    )
    _add_year(page, seasons, scale_of(unit))
    page.add(height=_GAP)
    page.heading("Panels, and solid parts that are wide")
    page.put(_HEAD)
    for mover in content.movers:
        row = _row(len(page.rows) + 1, mover, seasons, unit)
        at = page.next_row(page.height_of(row))
        page.put(_row(at, mover, seasons, unit))
    page.add(height=_GAP)
    rules = [Row(cells=(text(one, "plain", len(_WIDTHS)),)) for one in _rules(seasons)]
    page.table(rules, [heading_row("How to read it", len(_WIDTHS))])
    page.press()
    return page


def _add_year(page: Page, seasons: Seasons, scale: Scale) -> None:
    """Append the driest and the dampest air, and what wood comes to in it."""
    page.heading("The year")
    page.put(
        head_row(
            "season", "humidity %", f"temperature, {scale.name}", "W", "K", "K1", "K2",
            "EMC, %", height=28.0,
        )
    )  # fmt: skip
    for season, air, moisture in (
        ("driest", seasons.dry_air, seasons.driest),
        ("dampest", seasons.damp_air, seasons.dampest),
    ):
        page.put(Row(cells=tuple(_year(page, season, air, moisture, scale))))


def _year(
    page: Page, season: str, air: float, moisture: float, scale: Scale
) -> Iterator[Cell]:
    """Yield one season's air, the constants of the equation, and wood's moisture in it."""
    at = len(page.rows) + 1
    yield text(season, "label")
    yield Cell(value=air, style="input number")
    yield Cell(value=scale.usual, style="input number")
    values = constants_at(scale.usual, scale)
    for value, powers in zip(values, (scale.w, scale.k, scale.k1, scale.k2), strict=True):
        one, first, second = (_plain(factor) for factor in powers)
        formula = f"={one}+C{at}*({first}+C{at}*{second})"
        yield Cell(value=value, style="volume", formula=formula)
    kh = f"E{at}*B{at}/100"
    bound = f"F{at}*{kh}*(1+2*G{at}*{kh})/(1+F{at}*{kh}*(1+G{at}*{kh}))"
    formula = f"=1800/D{at}*({kh}/(1-{kh})+{bound})"
    yield Cell(value=moisture, style="one decimal", formula=formula)


def _row(at: int, mover: Mover, seasons: Seasons, unit: Unit) -> Row:
    """Return one part; its formulas speak of row `at`."""
    part = mover.part
    copies = f" ({mover.copies})" if mover.copies > 1 else ""
    known = mover.coefficient is not None
    return Row(
        cells=(
            text(f"{part.name}{copies}", "label"),
            Cell(value=mover.width, style="length"),
            text(part.species),
            text(mover.sawing),
            number(mover.coefficient, "coefficient"),
            *(_figures(at, mover, seasons, unit) if known else _blank(mover)),
            _note(mover, seasons),
        )
    )


def _figures(at: int, mover: Mover, seasons: Seasons, unit: Unit) -> Iterator[Cell]:
    """Yield what a part of known wood does: moisture, change, slot, reading, gap."""
    full = f"{mover.settled(math.inf):g}"
    driest, dampest = mover.settled(seasons.driest), mover.settled(seasons.dampest)
    dry, damp, now = f"F{at}", f"G{at}", f"MIN(J{at},{full})"
    over, reading = mover.over(seasons), mover.reading
    yield Cell(value=driest, style="one decimal", formula=f"=MIN(H${_FIRST},{full})")
    yield Cell(value=dampest, style="one decimal", formula=f"=MIN(H${_FIRST + 1},{full})")
    yield Cell(value=over, style="change", formula=f"={_change(at, dry, damp)}")
    yield _room(over, f"H{at}", mover, unit)
    yield Cell(value=reading, style="input number")
    swells = over
    for after, value in ((dry, seasons.driest), (damp, seasons.dampest)):
        formula = f'=IF(J{at}="","",{_change(at, now, after)})'
        if reading is None:
            yield Cell(value="", style="change", formula=formula)
        else:
            swells = mover.moved(reading, value)
            yield Cell(value=swells, style="change", formula=formula)
    yield _room(swells, f'IF(J{at}="",H{at},L{at})', mover, unit)


def _blank(mover: Mover) -> Iterator[Cell]:
    """Yield the cells of a part whose wood is not known."""
    for style in ("one decimal", "one decimal", "change", "length"):
        yield Cell(style=style)
    yield Cell(value=mover.reading, style="input number")
    for style in ("change", "change", "length"):
        yield Cell(style=style)


def _change(at: int, before: str, after: str) -> str:
    """Return the formula of a change of width, as `stock.movement.change` works it out."""
    line = f"B{at}*E{at}*({after}-{before})"
    inside = f"AND(MIN({before},{after})>={DRIEST:g},MAX({before},{after})<={DAMPEST:g})"
    return f"IF({inside},{line},{line}/(1+E{at}*({before}-{DRAWN_AT:g})))"


def _room(size: float, source: str, mover: Mover, unit: Unit) -> Cell:
    """Return a slot or a gap, rounded up; none where the part can't move."""
    if mover.part.held == RIGID:
        return text("none", "check word")
    share, finest = share_free(mover.part.held), FINEST[unit]
    formula = f"=MAX(0,ROUNDUP(ROUND({source}*{share * finest:g},6),0))/{finest}"
    style = "tenths" if unit is Unit.MM else "length"
    return Cell(value=room(size * share, unit), style=style, formula=formula)


def _note(mover: Mover, seasons: Seasons) -> Cell:
    """Return what else a row wants to say."""
    if mover.coefficient is None:
        return text("CHECK: no figures known for this wood", "check")
    words = list(_remarks(mover, seasons))
    if mover.part.held == RIGID:
        return text(", ".join(["CHECK: held rigid, it may split", *words]), "check")
    return text(", ".join(words) or None)


def _remarks(mover: Mover, seasons: Seasons) -> Iterator[str]:
    """Yield remarks on where a part is held, when it is fitted, and on its figures."""
    if mover.part.held in _HELD:
        yield _HELD[mover.part.held]
    if mover.reading is not None:
        yield _fitted(mover.reading, seasons)
    if UNKNOWN in mover.sawing and mover.species:
        yield "sawing as plain"
    if not mover.is_printed:
        yield "figure from shrinkage"
    if not mover.is_verified:
        yield "figure not verified"
    if not holds(mover.settled(seasons.driest), mover.settled(seasons.dampest)):
        yield f"beyond {DRIEST:g} to {DAMPEST:g} % moisture"


def _fitted(reading: float, seasons: Seasons) -> str:
    """Say where in its year a part is fitted: that tells which way it will go."""
    span = seasons.dampest - seasons.driest
    if reading > seasons.dampest:
        return "wetter than its dampest: let it dry"
    if reading < seasons.driest:
        return "drier than its driest: it only swells"
    if reading <= seasons.driest + span / 4:
        return "near its driest: it mostly swells"
    if reading >= seasons.dampest - span / 4:
        return "near its dampest: it mostly shrinks"
    return "moves both ways"


def _rules(seasons: Seasons) -> Iterator[str]:
    """Yield how the figures are worked out and what to do with them."""
    yield (
        "Change in width: width times coefficient times change of moisture, from"
        f" {DRIEST:g} to {DAMPEST:g} % moisture (Wood Handbook, chapter 13); beyond that"
        " its general formula, with the shrinkage that the coefficient stands for."
        " Coefficients are means of the species: single boards differ."
    )
    yield (
        "EMC: the moisture content that wood comes to in such air after weeks or months"
        " (Wood Handbook, equation 4-5); a finish slows it, and does not stop it."
    )
    if not (is_checked(seasons.dry_air) and is_checked(seasons.damp_air)):
        yield (
            "CHECK: the equation of moisture was compared with the handbook's table from"
            " 5 to 85 % humidity only; your air goes beyond."
        )
    yield (
        "Sawing: plain-sawn staves count with the tangential coefficient, quarter-sawn with"
        " the radial, rift with the mean of both, and each stave by its width, as what they"
        " move by adds up. Not known counts as plain, which moves most."
    )
    yield (
        "Slots: a slot at the outer edge is so much longer than the screw is thick; halfway"
        " out half of that is enough. A screw in the moving part starts, near its driest,"
        " at the end of its slot towards where the part is held, near its dampest at the"
        " other. A part counts as held at the middle unless Parts says otherwise."
    )
    yield (
        "Grooves: a panel leaves the gap free at the bottom of its groove when it is"
        " fitted, on each side if it is held at the middle, and its tongue is longer by"
        " what it shrinks, so that no light shows. No glue in the groove. Where the"
        " moisture now is blank, the part counts as fitted at its driest."
    )
    yield (
        "Thickness moves too, by the other coefficient, and is small. Along the grain wood"
        f" hardly moves: {LENGTH_PERCENT:g} % at most from green to bone dry."
    )


def _plain(number: float) -> str:
    """Return a number as formulas take it, without an exponent."""
    return format(Decimal(repr(number)), "f")
