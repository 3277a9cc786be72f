"""One question about movement, answered in a few plain lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reports.plaintext import labelled
from reports.seasons import room, share_free, size_words
from stock.errors import Fault, InputError
from stock.measures import (
    MeasureError,
    Unit,
    format_measure,
    parse_measure,
    steps_per_unit,
)
from stock.moisture import humidity_for, is_checked, moisture_at, scale_of
from stock.movement import (
    LENGTH_PERCENT,
    Rate,
    change,
    held_moisture,
    rate_for,
    rule_for,
    thickness_rate_for,
)
from stock.species import Species, species_named, species_near

MOST_MOISTURE = 200.0  # percent: beyond the greenest wood


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """What is asked; sizes in the unit, humidity and moisture in percent.

    Attributes
    ----------
    rate
        How fast the width of such a board moves.
    sawing
        `plain`, `rift` or `quarter`; None if it is not known.
    temperature
        On the scale that goes with the unit.
    distance
        Of a fixing from where the part is held; None for an outer edge of a part that is
        held at its middle.
    moisture
        Of the wood when it is fitted; None if it is not known.
    """

    species: Species
    rate: Rate
    unit: Unit
    width: float
    sawing: str | None
    before: float
    after: float
    temperature: float
    distance: float | None = None
    moisture: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """A question as it is typed; None where nothing is said."""

    species: str
    unit: str
    width: str
    sawing: str | None
    before: float
    after: float
    temperature: float | None
    distance: str | None
    moisture: float | None


def question_for(asked: Asked) -> Question:
    """Return a question that can be answered.

    Raises
    ------
    InputError
        With everything about it that can't be.
    """
    unit, faults = Unit(asked.unit), list[Fault]()
    species = species_named(asked.species)
    if species is None:
        near = "; ".join(species_near(asked.species))
        rule = "this wood is not known" + (f": did you mean {near}?" if near else "")
        faults.append(Fault("--species", None, None, rule, asked.species))
    rate = rate_for(species, asked.sawing) if species else None
    if species and not rate:
        rule = "no figures of movement are known for this wood"
        faults.append(Fault("--species", None, None, rule, asked.species))
    width = _read("--width", asked.width, unit, faults)
    distance = _read("--distance", asked.distance, unit, faults)
    if width and distance and distance > width:
        rule = "a fixing is no farther from there than the part is wide"
        faults.append(Fault("--distance", None, None, rule, asked.distance))
    usual = scale_of(unit).usual
    warm = usual if asked.temperature is None else asked.temperature
    faults += _bad_air(asked, warm, unit)
    if faults or species is None or rate is None or width is None:
        raise InputError(faults)
    return Question(
        species=species, rate=rate, unit=unit, width=width, sawing=asked.sawing,
        before=asked.before, after=asked.after, temperature=warm, distance=distance,
        moisture=asked.moisture,
    )  # fmt: skip


def _read(option: str, text: str | None, unit: Unit, faults: list[Fault]) -> float | None:
    """Return a size of more than nothing, None if there is none or a fault was found."""
    if text is None:
        return None
    try:
        size = parse_measure(text, unit)
    except MeasureError as problem:
        faults.append(Fault(option, None, None, str(problem), text))
        return None
    if not size:
        faults.append(Fault(option, None, None, "a size is more than 0", text))
    return float(size) or None


def _bad_air(asked: Asked, warm: float, unit: Unit) -> Iterator[Fault]:
    """Yield what no air is, and what no wood holds."""
    scale = scale_of(unit)
    for option, humidity, temperature in (
        ("--from", asked.before, scale.usual),
        ("--to", asked.after, scale.usual),
        ("--temperature", 50.0, warm),
    ):
        try:
            moisture_at(humidity, temperature, scale)
        except ValueError as problem:
            yield Fault(option, None, None, str(problem))
    if asked.moisture is not None and not 0 <= asked.moisture <= MOST_MOISTURE:
        rule = f"a moisture content is from 0 to {MOST_MOISTURE:g} percent"
        yield Fault("--moisture", None, None, rule, f"{asked.moisture:g}")


def answer(asked: Question) -> str:
    """Return the answer as text for the screen.

    Raises
    ------
    ValueError
        If the air is beyond the equation of moisture.
    """
    return labelled(_lines(asked))


def _lines(asked: Question) -> Iterator[tuple[str, str]]:
    """Yield a label and a text per line."""
    scale, rate = scale_of(asked.unit), asked.rate
    start, end = (
        moisture_at(air, asked.temperature, scale) for air in (asked.before, asked.after)
    )
    settled = [held_moisture(asked.species, one) for one in (start, end)]
    yield "wood", f"{asked.species.name}, {_sawing_words(asked.sawing)}"
    yield (
        "moisture",
        f"{start:.1f} % at {asked.before:g} % humidity, {end:.1f} % at {asked.after:g} %"
        f" ({asked.temperature:g} {scale.name})",
    )
    moved = change(asked.width, rate.coefficient, *settled)
    yield "width", _width_words(asked, moved)
    if moved:
        yield "slot", _slot_words(asked, abs(moved))
        yield from _fitting(asked, sorted(settled))
    yield "other", _other_words(asked, settled)
    yield "rule", f"{rule_for(*settled)}; coefficient {rate.coefficient:.5f}"
    yield from (("check", words) for words in _doubts(asked))


def _sawing_words(sawing: str | None) -> str:
    """Return the sawing in words."""
    if sawing is None:
        return "sawing not known: counted as the one that moves most"
    if sawing == "rift":
        return "rift-sawn: rings at 45 degrees, the mean of plain and quarter"
    return f"{sawing}-sawn"


def _width_words(asked: Question, moved: float) -> str:
    """Say what the width does."""
    wide = _size(asked.width, asked.unit)
    if not moved:
        return f"{wide} stays as wide as it is"
    way = "wider" if moved > 0 else "narrower"
    words = f"{wide} becomes {_exact(moved, asked.unit)} {way}"
    if asked.unit is Unit.INCH:
        words += f" (about {size_words(moved, asked.unit)})"
    return words


def _slot_words(asked: Question, moved: float) -> str:
    """Say how long a slot is."""
    distance = asked.width / 2 if asked.distance is None else asked.distance
    travel = moved * distance / asked.width
    where = f"{_size(distance, asked.unit)} from where the part is held"
    if asked.distance is None:
        where = (
            f"at an edge, {_size(distance, asked.unit)} from the middle where it is held"
        )
    return f"{_room(travel, asked.unit)} longer than the screw is thick, for one {where}"


def _fitting(asked: Question, settled: list[float]) -> Iterator[tuple[str, str]]:
    """Yield the gap that a panel needs in its groove, and what its moisture now means."""
    (driest, dampest), rate = settled, asked.rate
    fitted = driest if asked.moisture is None else asked.moisture
    fitted = held_moisture(asked.species, fitted)
    swells = max(0.0, change(asked.width, rate.coefficient, fitted, dampest))
    shrinks = max(0.0, -change(asked.width, rate.coefficient, fitted, driest))
    both, one = (
        _room(swells * share_free(held), asked.unit) for held in ("middle", "edge")
    )
    when = "its driest" if asked.moisture is None else f"{asked.moisture:g} % moisture"
    words = f"a panel fitted at {when} needs no gap in its groove"
    if swells:
        words = (
            f"a panel fitted at {when} needs a gap of {both} in the groove on each side, or"
            f" of {one} on one side if it is held at the other edge"
        )
    if asked.moisture is not None:
        words += f"; it can still shrink by {_exact(shrinks, asked.unit)}"
    yield "groove", words
    if asked.moisture is not None:
        yield "now", _now_words(asked, asked.moisture)


def _now_words(asked: Question, moisture: float) -> str:
    """Say in what air wood of a moisture would stay as it is."""
    air = humidity_for(moisture, asked.temperature, scale_of(asked.unit))
    if air is None:
        return f"{moisture:g} % is wetter than any air keeps it: let it dry first"
    return f"{moisture:g} % moisture is what wood keeps at {air:.0f} % humidity"


def _other_words(asked: Question, settled: list[float]) -> str:
    """Say what the thickness and the length do."""
    along = f"the length hardly moves, {LENGTH_PERCENT:g} % at most from green to bone dry"
    rate = thickness_rate_for(asked.species, asked.sawing)
    if rate is None:
        return along
    thick = 1.0 if asked.unit is Unit.INCH else 25.0
    moved = abs(change(thick, rate.coefficient, *settled))
    return (
        f"a thickness of {_size(thick, asked.unit)} moves by"
        f" {_exact(moved, asked.unit)}; {along}"
    )


def _doubts(asked: Question) -> Iterator[str]:
    """Yield what the answer can't be sure of."""
    if not asked.rate.is_verified:
        yield f"the figures of this wood are not verified: {asked.species.source}"
    if not asked.rate.is_printed:
        yield "no coefficient is printed for this wood: worked out from its shrinkage"
    if not (is_checked(asked.before) and is_checked(asked.after)):
        yield (
            "below 5 and above 85 % humidity the equation of moisture was not compared with"
            " a table"
        )
    yield "figures are means of the species, and single boards differ"


def _size(size: float, unit: Unit) -> str:
    """Return a size that was asked about, in words."""
    return f"{format_measure(round(size * steps_per_unit(unit)), unit, 64)} {unit.value}"


def _exact(size: float, unit: Unit) -> str:
    """Return a change of size as a decimal."""
    places = 3 if unit is Unit.INCH else 2
    return f"{abs(size):.{places}f} {unit.value}"


def _room(size: float, unit: Unit) -> str:
    """Return a slot or a gap, rounded up to what can be marked out."""
    steps = round(room(size, unit) * steps_per_unit(unit))
    return f"{format_measure(steps, unit, 32)} {unit.value}"
