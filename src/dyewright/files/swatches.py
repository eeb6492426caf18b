"""Swatch tables: dyed samples with their recipes and measured colours, as CSV or CGATS.17 text.

One row a swatch: `dye,depth_percent,base` and either `L,a,b` (with `illuminant,observer`; D65 and 10 where absent) or
`R400,R410,…,R700`, 0 to 1. A row with depth 0 is the undyed base; a mix stands as "Blue=0.5+Yellow=0.2" in `dye`, with
no depth. Comma, semicolon or tab between the cells; with the latter two, decimal commas too.
"""

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from dyewright.core.colour import at_wavelengths
from dyewright.core.model import WAVELENGTHS_NM, Swatch
from dyewright.errors import InputError
from dyewright.files.cgats import is_cgats, read_cgats

__all__ = ["read_mix", "read_sample", "read_swatches", "write_swatches"]

_REFLECTANCE = re.compile(r"^R(\d{3})$", re.IGNORECASE)
_NAME_AND_DEPTH = re.compile(r"^(?P<dye>.+?)[ ,_]+(?P<depth>[\d.,]+) ?%(?: on (?P<base>.+))?$")
_UNDYED = {"", "undyed", "none", "base"}
_SOURCES = {"spectrophotometer", "colorimeter", "photo", "invented"}
_PER_CENT_FROM = 1.5  # a curve whose middle value is above this is in per cent
_CGATS_LIGHT = {"illuminant": "D50", "observer": "2"}  # ISO 13655, the graphic trade's condition (from memory)
_LIMITS = {"L": (0.0, 100.0), "a": (-150.0, 150.0), "b": (-150.0, 150.0)}


@dataclass(frozen=True)
class _Row:
    """A row with where it stands, for messages; cells by column name."""

    file: str
    line: int
    cells: Mapping[str, str]

    def wrong(self, column: str, says: str, *, value: object = None, limit: object = None) -> InputError:
        return InputError(
            f"{self.file}, line {self.line}, column {column}: {says}", field="swatches", value=value, limit=limit
        )

    def number(self, column: str) -> float:
        text = self.cells.get(column, "").strip().removesuffix("%").strip()
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            raise self.wrong(column, f"{text!r} is not a number", value=text) from None
        if not math.isfinite(value):
            raise self.wrong(column, f"{text!r} is not a number that can be", value=text)
        return value


def read_swatches(data: bytes, name: str) -> list[Swatch]:
    """Return the swatches of a table.

    Raises:
        InputError: naming the file, the line, the column, the value and the way out.
    """
    rows = _rows(data, name)
    for column in ("dye", "base"):
        if column not in rows[0].cells:
            raise InputError(
                f"{name} has no column {column}: a swatch table has dye, depth_percent, base and L, a, b or a curve",
                field="swatches",
            )
    per_cent = _is_per_cent(rows)
    return [_swatch(row, per_cent=per_cent) for row in rows]


def read_sample(data: bytes, name: str) -> Swatch:
    """Return the one measured colour of a file, whatever its recipe.

    Raises:
        InputError: the file cannot be read, or holds another number of rows than one.
    """
    rows = _rows(data, name)
    if len(rows) != 1:
        raise InputError(
            f"{name} holds {len(rows)} samples; a target is one: keep one row", field="target", value=len(rows), limit=1
        )
    return _measured(rows[0], {}, rows[0].cells.get("base", ""), per_cent=_is_per_cent(rows))


def _rows(data: bytes, name: str) -> list[_Row]:
    text = _text(data, name)
    rows = _cgats_rows(text, name) if is_cgats(text) else _csv_rows(text, name)
    if not rows:
        raise InputError(f"{name} holds no rows: give one row a swatch below the column names", field="swatches")
    return rows


def _text(data: bytes, name: str) -> str:
    if b"\0" in data:
        raise InputError(f"{name} is not a text file: save the table as CSV or CGATS text", field="swatches")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")  # what a spreadsheet on an older system saves


def _csv_rows(text: str, name: str) -> list[_Row]:
    first = text.partition("\n")[0]
    delimiter = max(";\t,", key=first.count) if first.count(";") or first.count("\t") else ","
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    columns = [_column(column) for column in reader.fieldnames or ()]
    rows = []
    for cells in reader:
        if not any(value.strip() for value in cells.values() if isinstance(value, str)):
            continue
        if None in cells or None in cells.values():
            raise InputError(
                f"{name}, line {reader.line_num}: the row has another number of cells than the {len(columns)} columns "
                "above; a decimal comma needs semicolons between the cells, a comma in a name needs quotation marks",
                field="swatches",
            )
        rows.append(_Row(name, reader.line_num, dict(zip(columns, cells.values(), strict=True))))
    return rows


def _column(name: str) -> str:
    name = name.strip()
    if _REFLECTANCE.match(name):
        return name.upper()
    return {"l": "L", "l*": "L", "a*": "a", "b*": "b", "depth": "depth_percent"}.get(name.lower(), name.lower())


def _cgats_rows(text: str, name: str) -> list[_Row]:
    table = read_cgats(text, name)
    rows = []
    for line, cells in table.rows:
        own = {"base": table.keywords.get("BASE", ""), **_CGATS_LIGHT, **_light(table.keywords), **cells}
        for axis in ("L", "a", "b"):
            if f"lab_{axis.lower()}" in cells:
                own[axis] = cells[f"lab_{axis.lower()}"]
        if "dye" not in own:
            own |= _recipe_of_name(cells.get("sample_name", cells.get("sample_id", "")))
        rows.append(_Row(name, line, own))
    return rows


def _light(keywords: Mapping[str, str]) -> dict[str, str]:
    """Return illuminant and observer as header lines such as `WEIGHTING_FUNCTION "ILLUMINANT, D65"` state them."""
    text = " ".join(
        value for key, value in keywords.items() if "WEIGHTING" in key or "ILLUMINA" in key or "OBSERVER" in key
    )
    light = re.search(r"\b(D65|D50|A|FL11|LED-B3)\b", text)
    observer = re.search(r"\b(10|2)\b ?(?:°|deg)", text)
    found = {"illuminant": light.group(1)} if light else {}
    return found | ({"observer": observer.group(1)} if observer else {})


def _recipe_of_name(text: str) -> dict[str, str]:
    """Return the recipe that a sample's name states: "Blue 0.5 % on merino", "Blue=0.5+Yellow=0.2", "undyed"."""
    match = _NAME_AND_DEPTH.match(text.strip())
    if match:
        found = {"dye": match["dye"], "depth_percent": match["depth"]}
        return found | ({"base": match["base"]} if match["base"] else {})
    return {"dye": text, "depth_percent": ""}


def _is_per_cent(rows: Sequence[_Row]) -> bool:
    values = [
        row.number(column) for row in rows for column in row.cells if _REFLECTANCE.match(column) and row.cells[column]
    ]
    return bool(values) and float(np.median(values)) > _PER_CENT_FROM


def _swatch(row: _Row, *, per_cent: bool) -> Swatch:
    base = row.cells["base"].strip()
    if not base:
        raise row.wrong("base", "the name of the base is missing: what yarn was dyed?")
    return _measured(row, _depths(row), base, per_cent=per_cent)


def _depths(row: _Row) -> dict[str, float]:
    """Return the depths, fractions on weight of fibre; none for the undyed base."""
    dye, depth = row.cells["dye"].strip(), row.cells.get("depth_percent", "").strip()
    if "=" in dye:
        if depth and row.number("depth_percent") != 0:
            raise row.wrong("depth_percent", f"a mix states its depths in dye ({dye}); leave this cell empty")
        try:
            return read_mix(dye)
        except InputError as error:
            raise row.wrong("dye", error.message, value=dye) from error
    if dye.lower() in _UNDYED and not depth:
        return {}
    if not depth:
        raise row.wrong("depth_percent", f"the depth of {dye} is missing: 0 is the undyed base, 0.5 is 0.5 %")
    value = row.number("depth_percent")
    if value < 0 or value > 100:
        raise row.wrong(
            "depth_percent", f"{value:g} % is not a depth; it lies between 0 % and 100 %", value=value, limit=0
        )
    if value == 0:
        return {}
    if not dye:
        raise row.wrong("dye", f"the dye of this swatch at {value:g} % is missing")
    return {dye: value / 100}


def read_mix(text: str, *, separators: str = "+,") -> dict[str, float]:
    """Return the depths (fractions) of a mix written "Blue=0.5+Yellow=0.2", in per cent on the weight of fibre.

    Raises:
        InputError: a part is not of the form name=number, a depth is not above 0, or a dye stands twice.
    """
    depths: dict[str, float] = {}
    for part in re.split(f"[{re.escape(separators)}](?=[^={re.escape(separators)}]*=)", text):
        name, equals, amount = part.rpartition("=")
        name, amount = name.strip(), amount.strip().removesuffix("%").strip()
        try:
            depth = float(amount.replace(",", "."))
        except ValueError:
            depth = math.nan
        if not (equals and name and math.isfinite(depth)):
            raise InputError(
                f"{part.strip()!r} is not a part of a mix; write a mix as Blue=0.5+Yellow=0.2, in per cent",
                field="mix",
                value=part,
            )
        if not 0 < depth <= 100:
            raise InputError(
                f"the depth of {name} is {depth:g} %; it must be above 0 % and at most 100 %",
                field="mix",
                value=depth,
                limit=0,
            )
        if name in depths:
            raise InputError(f"the dye {name} stands twice in the mix {text!r}", field="mix", value=name)
        depths[name] = depth / 100
    return depths


def _measured(row: _Row, depths: Mapping[str, float], base: str, *, per_cent: bool) -> Swatch:
    curve = sorted(column for column in row.cells if _REFLECTANCE.match(column) and row.cells[column].strip())
    source = row.cells.get("source", "").strip() or ("spectrophotometer" if curve else "colorimeter")
    if source not in _SOURCES:
        raise row.wrong(
            "source", f"{source!r} is not a source; it is one of {', '.join(sorted(_SOURCES))}", value=source
        )
    lab = None if curve else _lab(row)
    return Swatch(
        depths_owf=dict(depths),
        base=base,
        reflectance=_curve(row, curve, per_cent=per_cent) if curve else None,
        lab=lab,
        illuminant=row.cells.get("illuminant", "").strip() or "D65",
        observer=int(row.number("observer")) if row.cells.get("observer", "").strip() else 10,
        source=source,
        dyed_on=_day(row),
        note=row.cells.get("note", "").strip(),
    )


def _curve(row: _Row, columns: Sequence[str], *, per_cent: bool) -> tuple[float, ...]:
    values = np.array([row.number(column) for column in columns]) / (100 if per_cent else 1)
    for column, value in zip(columns, values, strict=True):
        if not 0 <= value <= _PER_CENT_FROM:
            raise row.wrong(column, f"{value:g} is not a reflectance; it lies between 0 and 1", value=value, limit=1)
    nm = [float(column[1:]) for column in columns]
    try:
        return tuple(at_wavelengths(nm, np.clip(values, 0, 1)).tolist())
    except InputError as error:
        raise row.wrong(f"{columns[0]} to {columns[-1]}", error.message) from error


def _lab(row: _Row) -> tuple[float, float, float]:
    for axis, (low, high) in _LIMITS.items():
        if not row.cells.get(axis, "").strip():
            raise row.wrong(axis, "the colour is missing: give L, a and b, or a curve from R400 to R700")
        value = row.number(axis)
        if not low <= value <= high:
            raise row.wrong(axis, f"{value:g} is outside {low:g} to {high:g}", value=value, limit=high)
    return row.number("L"), row.number("a"), row.number("b")


def _day(row: _Row) -> date | None:
    text = row.cells.get("dyed_on", "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise row.wrong("dyed_on", f"{text!r} is not a date; write it as 2026-03-12", value=text) from None


def write_swatches(swatches: Sequence[Swatch]) -> str:
    """Return a swatch table as CSV that `read_swatches` reads back."""
    curves = [f"R{nm:.0f}" for nm in WAVELENGTHS_NM] if any(swatch.reflectance for swatch in swatches) else []
    columns = [
        "dye",
        "depth_percent",
        "base",
        "L",
        "a",
        "b",
        "illuminant",
        "observer",
        "source",
        "dyed_on",
        "note",
        *curves,
    ]
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(_cells(swatch) for swatch in swatches)
    return out.getvalue()


def _cells(swatch: Swatch) -> dict[str, object]:
    cells: dict[str, object] = {
        "base": swatch.base,
        "illuminant": swatch.illuminant,
        "observer": swatch.observer,
        "source": swatch.source,
        "dyed_on": swatch.dyed_on.isoformat() if swatch.dyed_on else "",
        "note": swatch.note,
    }
    match list(swatch.depths_owf.items()):
        case []:
            cells |= {"dye": "", "depth_percent": 0}
        case [(name, depth)]:
            cells |= {"dye": name, "depth_percent": _percent(depth)}
        case parts:
            cells |= {"dye": "+".join(f"{name}={_percent(depth)}" for name, depth in parts)}
    if swatch.reflectance is not None:
        return cells | {f"R{nm:.0f}": value for nm, value in zip(WAVELENGTHS_NM, swatch.reflectance, strict=True)}
    return cells | (dict(zip("Lab", swatch.lab, strict=True)) if swatch.lab else {})


def _percent(depth_owf: float) -> str:
    return f"{100 * depth_owf:.10g}"
