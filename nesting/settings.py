"""The Shop table to the settings in force.

Lengths that the shop adds or loses round up to the grid, limits round down.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from stock.cells import plain, read_cell, shown
from stock.errors import Fault
from stock.measures import MM_PER_INCH, Unit, need_steps, supply_steps
from stock.rows import Column, Findings, Row, folded, suggestion
from stock.shop import SETTINGS, Setting, Shop, default_shop

_KINDS = {"word": "word", "length": "measure", "number": "number", "name": "name"}
_MORE_THAN_NOTHING = ("widest stave", "clamp spacing", "jointer width", "planer width")
_LIMITS = (*_MORE_THAN_NOTHING, "widest solid", "longest carried")  # these round down


def shop_from(rows: Iterable[Row], findings: Findings) -> Shop:
    """Return the shop's settings: those listed, and the defaults of the others."""
    known = {folded(setting.name): setting for setting in SETTINGS}
    listed: dict[str, Row] = {}
    for row in rows:
        name = row.cells.get("setting")
        setting = known.get(folded(str(name)))
        if name is None:
            if "setting" in row.cells:
                findings.faults.append(row.fault("setting", "every row needs this"))
        elif setting is None:
            names = [one.name for one in SETTINGS]
            rule = f"this setting is not known{suggestion(str(name), names)}"
            findings.faults.append(row.fault("setting", rule, str(name)))
        elif setting.name in listed:
            rule = f"this setting stands in row {listed[setting.name].number} already"
            findings.faults.append(row.fault("setting", rule, setting.name))
        else:
            listed[setting.name] = row
    return _settled(listed, findings)


def _settled(listed: Mapping[str, Row], findings: Findings) -> Shop:
    """Return the shop with every listed value in place."""
    unit = Unit(_setting_value("unit", listed, Unit.INCH, findings) or "in")
    shop = default_shop(unit)
    changed = {
        setting.field: _setting_value(setting.name, listed, unit, findings)
        for setting in SETTINGS
        if setting.name in listed and setting.name != "unit"
    }
    values = {name: getattr(shop, name) for name in Shop.__dataclass_fields__}
    values |= {name: value for name, value in changed.items() if value is not None}
    shop = Shop(**values)
    findings.faults += _shop_faults(shop, listed)
    return shop


def _setting_value(
    name: str, listed: Mapping[str, Row], unit: Unit, findings: Findings
) -> Any:  # noqa: ANN401 (words, grid steps or exact numbers)
    """Return the value of one setting, None if it is not given or wrong."""
    row = listed.get(name)
    if row is None or row.cells.get("value") is None:
        return None
    setting = next(one for one in SETTINGS if one.name == name)
    cell = row.cells["value"]
    try:
        value: Any = read_cell(cell, _as_column(setting), unit)
        if setting.kind == "length":
            _check_length(value, setting, unit)
            steps = supply_steps if setting.name in _LIMITS else need_steps
            return steps(value, unit)
    except ValueError as error:
        findings.faults.append(row.fault("value", f"{name}: {error}", shown(cell)))
        return None
    return value


def _as_column(setting: Setting) -> Column:
    """Return the column that reads the value of a setting."""
    kind = _KINDS[setting.kind]
    if setting.unit == "percent":
        kind = "percent"
    return Column(
        name=setting.name,
        kind=kind,
        words=setting.words,
        low=setting.low,
        high=setting.high,
        meaning=setting.meaning,
    )


def _check_length(size: Fraction, setting: Setting, unit: Unit) -> None:
    """Refuse a length beyond the setting's range; ranges are kept in inches."""
    scale = MM_PER_INCH if unit is Unit.MM else 1
    if setting.high is not None and size > setting.high * scale:
        raise ValueError(f"use a size up to {plain(setting.high * scale)} {unit.value}")
    if size == 0 and setting.name in _MORE_THAN_NOTHING:
        raise ValueError("use a size of more than 0")


def _shop_faults(shop: Shop, listed: Mapping[str, Row]) -> Iterable[Fault]:
    """Yield settings that contradict each other, at the one that is listed."""
    pairs = (
        ("narrowest stave", "widest stave", shop.narrowest_stave, shop.widest_stave),
        ("humidity low", "humidity high", shop.humidity_low, shop.humidity_high),
    )
    for low, high, least, most in pairs:
        row = listed.get(low) or listed.get(high)
        if least > most and row:
            yield row.fault("value", f"{low} is not more than {high}")
    joint = shop.joint_allowance
    row = (
        listed.get("narrowest stave")
        or listed.get("widest stave")
        or listed.get("saw step")
    )
    narrow, wide = shop.narrowest_stave + joint, shop.widest_stave + joint
    if (
        row
        and shop.narrowest_stave <= shop.widest_stave
        and shop.up(narrow) > shop.down(wide)
    ):
        yield row.fault(
            "value", "no whole saw step lies between narrowest and widest stave"
        )
