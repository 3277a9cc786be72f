"""Species of wood: density, shrinkage and coefficients of movement, each with its source.

The figures are species means from `species.csv`; single boards differ. A row says where
its figures come from and whether every one of them was seen in print.
"""

from __future__ import annotations

import csv
import difflib
import functools
import re
from dataclasses import dataclass
from pathlib import Path

from stock.boards import Board
from stock.measures import MM_PER_INCH, Unit, steps_per_unit

KG_PER_LB = 0.45359237
LB_PER_FT3_OF_WATER = 62.43  # as the Wood Handbook prints it

_FIGURES = frozenset({"SG", "R", "T", "CR", "CT"})
_FILE = Path(__file__).with_name("species.csv")


@dataclass(frozen=True, kw_only=True, slots=True)
class Species:
    """One species, or one commercial group of species.

    Attributes
    ----------
    name
        Trade name as the handbook orders it: `Oak, white (commercial group)`.
    specific_gravity
        On oven-dry mass and volume at 12 % moisture.
    radial_shrinkage, tangential_shrinkage
        Percent of the green size, green to oven-dry; None if not known.
    radial_coefficient, tangential_coefficient
        Change of size per percent of moisture, as a fraction of the size, valid between
        6 and 14 %; None if not known.
    is_verified
        Whether all five numbers were seen in print; otherwise `source` says which not.
    """

    name: str
    botanical: str
    specific_gravity: float
    radial_shrinkage: float | None
    tangential_shrinkage: float | None
    radial_coefficient: float | None
    tangential_coefficient: float | None
    source: str
    is_verified: bool

    @property
    def unseen(self) -> frozenset[str]:
        """Figures not seen in print, as `source` lists them: SG, R, T, CR, CT."""
        if self.is_verified:
            return frozenset()
        listed = re.search(r"not verified: ([A-Z ]+)", self.source)
        return frozenset(listed[1].split()) if listed else _FIGURES


@functools.cache
def all_species() -> tuple[Species, ...]:
    """Return every species of the table, in its order."""
    with _FILE.open(encoding="utf-8", newline="") as file:
        return tuple(_species(row) for row in csv.DictReader(file))


def species_named(name: str) -> Species | None:
    """Return the species a maker means, or None if none or several could be meant.

    The order of words, case and the comma don't matter (`white oak`, `Oak, white`), nor
    do words that are not needed to tell one species (`cherry`); a name in brackets and
    the botanical name do as well.
    """
    asked = _words(name)
    for names in (_full_names, _other_names):
        exact = [one for one in all_species() if asked in names(one)]
        if exact:
            return exact[0] if len(exact) == 1 else None
    near = [one for one in all_species() if asked and asked <= _words(one.name)]
    return near[0] if len(near) == 1 else None


def species_near(name: str, most: int = 4) -> tuple[str, ...]:
    """Return names of known species that are like a name nobody knows, the likest first.

    Those that share a word with it, else those with a word spelled nearly so.
    """
    asked = _words(name)
    names = [one.name for one in all_species()]
    words = sorted({word for one in names for word in _words(one)})
    alike = {
        near
        for word in sorted(asked)
        for near in difflib.get_close_matches(word, words, n=3, cutoff=0.7)
    }
    for meant in (asked, alike):
        found = [one for one in names if meant & _words(one)]
        if found:
            found.sort(key=lambda one: -len(meant & _words(one)))
            return tuple(found[:most])
    return ()


def density(species: Species) -> float:
    """Return the density at 12 % moisture, in kilograms per cubic metre."""
    return density_at(species.specific_gravity, 12)


def density_at(gravity: float, moisture: float) -> float:
    """Return the density at a moisture content in percent, in kilograms per cubic metre.

    Parameters
    ----------
    gravity
        Specific gravity on oven-dry mass and volume at that moisture.

    Notes
    -----
    `1000 G (1 + M / 100)`: Wood Handbook FPL-GTR-190, chapter 4.
    """
    return 1000 * gravity * (1 + moisture / 100)


def weight(board: Board, species: Species, unit: Unit) -> float:
    """Return the weight of a board at 12 % moisture, in kilograms.

    Its thickness counts as named, a tapered board by its mean width.
    """
    steps = steps_per_unit(unit)
    mean_width = (board.width + board.width2) / 2
    volume = float(board.thickness.nominal) * board.length / steps * mean_width / steps
    metre = 1000 if unit is Unit.MM else 1000 / float(MM_PER_INCH)
    return volume / metre**3 * density(species)


def _species(row: dict[str, str]) -> Species:
    """Turn a row of the file into a species."""
    return Species(
        name=row["species"],
        botanical=row["botanical"],
        specific_gravity=float(row["specific_gravity_12"]),
        radial_shrinkage=_number(row["radial_shrink_pct"]),
        tangential_shrinkage=_number(row["tangential_shrink_pct"]),
        radial_coefficient=_number(row["coef_radial"]),
        tangential_coefficient=_number(row["coef_tangential"]),
        source=row["source"],
        is_verified=row["verified"] == "yes",
    )


def _number(text: str) -> float | None:
    return float(text) if text else None


def _words(text: str) -> frozenset[str]:
    """Return the words of a name, whatever their order and case."""
    return frozenset(re.findall(r"\w+", text.casefold()))


def _full_names(species: Species) -> tuple[frozenset[str], ...]:
    """Return the names that stand for one species: with and without its bracket."""
    return _words(species.name), _words(species.name.partition("(")[0])


def _other_names(species: Species) -> tuple[frozenset[str], ...]:
    """Return the name in brackets and the botanical name."""
    return _words(species.name.partition("(")[2]), _words(species.botanical)
