"""Terms of yards that were changed on a tally sheet: trip, smallest order, tax, charges."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from reports.tally_cart import Cart, is_near
from reports.tally_rows import TERMS_ROWS, Entry
from stock.cells import Record, records_of
from stock.yards import Yard

# heading on the sheet -> field of a yard
_FIELDS = {
    "tax": "tax",
    "trip cost": "trip_cost",
    "smallest order": "smallest_order",
    "surfacing, per board foot": "surfacing_charge",
    "straight edge, per board foot": "straight_edge_charge",
}


def add_terms(cart: Cart, entries: Iterable[Entry]) -> None:
    """Note the yards whose terms stand otherwise on the sheet than in the project.

    What is blank stays as listed. Where board feet are counted terms count nothing.
    """
    entries = tuple(entries)
    rows = (entry.row for entry in entries)
    records = records_of(rows, TERMS_ROWS, cart.project.unit, cart.findings)
    yards = {yard.name: yard for yard in cart.project.yards}
    for entry, record in zip(entries, records, strict=True):
        yard = yards.get(entry.yard or "")
        if yard and not cart.project.tariff.by_feet:
            _add_yard(cart, yard, record)


def _add_yard(cart: Cart, yard: Yard, record: Record) -> None:
    """Note one yard if its terms changed."""
    changed = {
        heading: value
        for heading, field in _FIELDS.items()
        if (value := record.get(heading)) is not None
        and not is_near(value, getattr(yard, field))
    }
    if changed:
        fields = {_FIELDS[heading]: value for heading, value in changed.items()}
        cart.yards.append(replace(yard, **fields))
        names = (heading.partition(",")[0] for heading in changed)
        cart.terms.append(f"{' and '.join(names)} at {yard.name}")
