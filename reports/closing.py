"""Finishes a workbook file: results of formulas in their cells, times pinned.

openpyxl stores no results of formulas, so a viewer that doesn't calculate would show
nothing; and it stamps the time, so the same plan would never give the same bytes. One
pass over the zip mends both.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import escape

from reports.sheets.cells import Value

_ZIP_TIME = (1980, 1, 1, 0, 0, 0)
_PINNED = "2000-01-01T00:00:00Z"
_TIMES = re.compile(r"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:\2>)")
_FORMULA = re.compile(
    r'<c r="(?P<cell>[A-Z]+\d+)"(?P<rest>[^>]*)>'
    r"<f>(?P<formula>[^<]*)</f>(?:<v\s*/>|<v></v>)</c>"
)
_TYPE = re.compile(r' t="[a-z]+"')


def closed(raw: bytes, results: Mapping[tuple[str, str], Value], names: list[str]) -> bytes:
    """Return a workbook file with formula results written and times pinned.

    `results` are by sheet name and cell; `names` are the sheets in order, which is the
    order of openpyxl's files.
    """
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(raw)) as source,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            data = _mended(entry.filename, source.read(entry), results, names)
            info = zipfile.ZipInfo(entry.filename, _ZIP_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(info, data)
    return out.getvalue()


def _mended(
    filename: str, data: bytes, results: Mapping[tuple[str, str], Value], names: list[str]
) -> bytes:
    """Return one file of the zip, mended if it is a sheet or holds the times."""
    if filename == "docProps/core.xml":
        return _TIMES.sub(rf"\g<1>{_PINNED}\g<3>", data.decode()).encode()
    found = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", filename)
    if not found:
        return data
    name = names[int(found[1]) - 1]
    own = {cell: value for (sheet, cell), value in results.items() if sheet == name}
    return _FORMULA.sub(lambda match: _with_result(match, own), data.decode()).encode()


def _with_result(match: re.Match[str], results: Mapping[str, Value]) -> str:
    """Return a formula's cell with its result in it."""
    cell, rest = match["cell"], _TYPE.sub("", match["rest"])
    value = results.get(cell)
    formula = f"<f>{match['formula']}</f>"
    if isinstance(value, str):
        return f'<c r="{cell}"{rest} t="str">{formula}<v>{escape(value)}</v></c>'
    shown = "" if value is None else repr(value)
    return f'<c r="{cell}"{rest}>{formula}<v>{shown}</v></c>'
