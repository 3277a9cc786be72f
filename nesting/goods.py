"""Sheet goods: kinds of sheets, and the table that lists them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from nesting.reading import find_doubles, find_unknown, spelled
from stock.boards import RACK
from stock.cells import Record
from stock.errors import Fault
from stock.measures import Unit, supply_steps
from stock.rows import Findings
from stock.shop import Shop


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A kind of sheet goods; sizes in grid steps, price each in exact money.

    Attributes
    ----------
    material
        What it is: parts that name it as their species are cut from any sheet of it.
    """

    name: str
    where: str = "rack"
    length: int
    width: int
    thickness: int
    has_grain: bool
    qty: int
    price: Fraction
    material: str | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """What a part may name to be cut from it."""
        return (self.name,) if self.material is None else (self.name, self.material)

    def clear_size(self, shop: Shop) -> tuple[int, int]:
        """Return what is left of length and width between the trimmed edges.

        The first edge of either direction loses a saw cut at least.
        """
        trim = shop.sheet_trim
        lost = max(trim, shop.kerf) + trim if trim else 0
        return self.length - lost, self.width - lost


def sheets_from(
    records: tuple[Record, ...], yards: list[str], unit: Unit, findings: Findings
) -> tuple[Sheet, ...]:
    """Return the sheet goods."""
    find_doubles(records, "sheet", findings)
    findings.faults += _unlike_sheets(records)
    for record in records:
        find_unknown(record, "where", (RACK, *yards), "a yard of the table Yards", findings)
    return tuple(
        Sheet(
            name=record["sheet"],
            where=spelled(record["where"], (RACK, *yards)) or record["where"],
            length=supply_steps(record["length"], unit),
            width=supply_steps(record["width"], unit),
            thickness=supply_steps(record["thickness"], unit),
            has_grain=record["grain"] == "length",
            qty=record["qty"],
            price=record["price"],
            material=record["material"],
        )
        for record in records
        if record.is_whole
    )


def _unlike_sheets(records: tuple[Record, ...]) -> Iterable[Fault]:
    """Yield a fault for every sheet that differs from one of its name or material."""
    first: dict[str, Record] = {}
    for record in records:
        names = {record.get("sheet"), record.get("material")} - {None}
        for name in sorted(names, key=str):
            other = first.setdefault(str(name), record)
            for column in ("thickness", "grain"):
                if other.get(column) != record.get(column):
                    rule = (
                        f"sheets of {name!r} have the same {column}: the one in row "
                        f"{other.row.number} has another"
                    )
                    yield record.fault(column, rule)
