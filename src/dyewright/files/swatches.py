"""Swatch tables: dyed samples with their recipes and measured colours, as CSV, CGATS.17 text or CxF3.

One row a swatch: `dye,depth_percent,base` and either `L,a,b` (with `illuminant,observer`; D65 and 10 where absent) or
`R400,R410,…,R700`, 0 to 1 or 0 to 100. A row with depth 0 is the undyed base; a mix stands as "Blue=0.5+Yellow=0.2" in
`dye`, with no depth. Where no column holds the recipe, the sample's name does. Also read and written: `dye_lot`,
`dyed_on`, `noise_de00`, `reads`, `note`, `sample`. Rows that repeat a `sample` are readings of it and become their
mean. Comma, semicolon or tab between the cells; with the latter two, decimal commas too.
"""

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from dyewright.core.colour import at_wavelengths, lab_from_xyz, light_of, noise_of_reads, xyz_from_reflectance
from dyewright.core.mixing.samples import LAB_NOISE
from dyewright.core.model import WAVELENGTHS_NM, ObserverTables, Swatch
from dyewright.errors import InputError
from dyewright.files._swatch_rows import Row, rows_of_file

__all__ = ["lots_text", "read_lots", "read_mix", "read_sample", "read_swatches", "write_swatches"]

_UNDYED = {"", "undyed", "none", "base"}
_SOURCES = {"spectrophotometer", "colorimeter", "photo", "invented"}
_LIKE_PER_CENT = 1.5  # no reflectance from 0 to 1 is above this, a fluorescent one's aside
_DARKEST_PER_CENT = 1.0  # of all wavelengths the brightest: no yarn is as black as that (estimate)
_BELOW_ZERO = -0.01  # what the noise of an instrument makes of black (estimate); read as 0
_ALONE = 5.0  # a value so many times its neighbours is a slip, not a scale
_LIMITS = {"L": (0.0, 100.0), "a": (-150.0, 150.0), "b": (-150.0, 150.0)}
_COLUMNS = (
    *("dye", "depth_percent", "base", "L", "a", "b", "illuminant", "observer", "source", "dyed_on", "note"),
    *("sample", "dye_lot", "reads", "noise_de00"),
)


def read_swatches(data: bytes, name: str, *, tables: ObserverTables | None = None, base: str = "") -> list[Swatch]:
    """Return the swatches of a file.

    Args:
        data: the file, CSV, CGATS.17 text or CxF3.
        name: of the file, for messages.
        tables: lights and observers, for the scatter of repeated curves; without them it stays that of the source.
        base: the yarn of rows that name none.

    Raises:
        InputError: naming the file, the place, the column, the value and the way out.
    """
    rows = rows_of_file(data, name)
    if base:
        rows = [row if row.text("base") else replace(row, cells={**row.cells, "base": base}) for row in rows]
    for column in ("dye", "base"):
        if column not in rows[0].cells:
            raise InputError(
                f"{name} has no column {column}: a swatch table has dye, depth_percent, base and L, a, b or a curve",
                field="swatches",
            )
    per_cent = _is_per_cent(rows)
    return _means([_swatch(row, per_cent=per_cent) for row in rows], tables)


def read_sample(data: bytes, name: str) -> Swatch:
    """Return the one measured colour of a file, whatever its recipe; the mean where it was read several times.

    Raises:
        InputError: the file cannot be read, or holds another number of samples than one.
    """
    rows = rows_of_file(data, name)
    per_cent = _is_per_cent(rows)
    samples = _means([_measured(row, {}, row.text("base"), per_cent=per_cent) for row in rows], None)
    if len(samples) != 1:
        raise InputError(
            f"{name} holds {len(samples)} samples; a target is one: keep one row",
            field="target",
            value=len(samples),
            limit=1,
        )
    return samples[0]


def _is_per_cent(rows: Sequence[Row]) -> bool:
    """Return whether the curves of a file run from 0 to 100, as values show that stand above 1.5 beside like ones.

    A single large value between small ones is a slip of the pen. Rows that say their scale are not asked.
    """
    return any(_looks_per_cent(row) for row in rows if not row.text("spectral_norm"))


def _looks_per_cent(row: Row) -> bool:
    values = [row.number(column) for column in row.curve_columns]
    for place, value in enumerate(values):
        beside = max(values[max(place - 1, 0) : place] + values[place + 1 : place + 2], default=value)
        if value > _LIKE_PER_CENT and beside * _ALONE > value:
            return True
    return False


def _swatch(row: Row, *, per_cent: bool) -> Swatch:
    base = row.text("base")
    if not base:
        raise row.wrong("base", "the name of the base is missing: what yarn was dyed?")
    return _measured(row, _depths(row), base, per_cent=per_cent)


def _depths(row: Row) -> dict[str, float]:
    """Return the depths, fractions on weight of fibre; none for the undyed base."""
    dye, depth = row.text("dye"), row.text("depth_percent")
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


def _parts(text: str, separators: str) -> list[tuple[str, str]]:
    """Return the names and values of "Blue=0.5+Yellow=0.2"; a part without = has no name."""
    parts = re.split(f"[{re.escape(separators)}](?=[^={re.escape(separators)}]*=)", text)
    return [(name.strip(), value.strip()) for name, _, value in (part.rpartition("=") for part in parts)]


def read_mix(text: str, *, separators: str = "+,") -> dict[str, float]:
    """Return the depths (fractions) of a mix written "Blue=0.5+Yellow=0.2", in per cent on the weight of fibre.

    Raises:
        InputError: a part is not of the form name=number, a depth is not above 0, or a dye stands twice.
    """
    depths: dict[str, float] = {}
    for name, value in _parts(text, separators):
        amount = value.removesuffix("%").strip()
        try:
            depth = float(amount.replace(",", "."))
        except ValueError:
            depth = math.nan
        if not (name and math.isfinite(depth)):
            part = f"{name}={value}" if name else value
            raise InputError(
                f"{part!r} is not a part of a mix; write a mix as Blue=0.5+Yellow=0.2, in per cent",
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


def _measured(row: Row, depths: Mapping[str, float], base: str, *, per_cent: bool) -> Swatch:
    curve = row.curve_columns
    source = row.text("source") or ("spectrophotometer" if curve else "colorimeter")
    if source not in _SOURCES:
        raise row.wrong(
            "source", f"{source!r} is not a source; it is one of {', '.join(sorted(_SOURCES))}", value=source
        )
    return Swatch(
        depths_owf=dict(depths),
        base=base,
        reflectance=_curve(row, curve, per_cent=per_cent) if curve else None,
        lab=None if curve else _lab(row),
        illuminant=row.text("illuminant") or "D65",
        observer=int(row.number("observer")) if row.text("observer") else 10,
        source=source,
        dyed_on=_day(row),
        note=row.text("note"),
        origin={"sample": row.text("sample")} if row.text("sample") else {},
        dye_lots=_lots(row, depths),
        noise_de00=_noise(row),
        reads=_reads(row),
    )


def _curve(row: Row, columns: Sequence[str], *, per_cent: bool) -> tuple[float, ...]:
    white = row.number("spectral_norm") if row.text("spectral_norm") else (100.0 if per_cent else 1.0)
    values = np.array([row.number(column) for column in columns]) / white
    if white == 100 and values.max() * white < _DARKEST_PER_CENT:
        raise row.wrong(
            columns[int(values.argmax())],
            f"{values.max() * white:g} is the curve's largest value, while this file's curves are in per cent; "
            "write all of them from 0 to 1, or all from 0 to 100",
        )
    for column, value in zip(columns, values, strict=True):
        if not _BELOW_ZERO <= value <= _LIKE_PER_CENT:
            raise row.wrong(
                column,
                f"{value * white:g} is not a reflectance; it lies between 0 and {white:g}",
                value=value * white,
                limit=white,
            )
    nm = [float(column[1:]) for column in columns]
    try:
        return tuple(at_wavelengths(nm, np.clip(values, 0, 1)).tolist())
    except InputError as error:
        raise row.wrong(f"{columns[0]} to {columns[-1]}", error.message) from error


def _lab(row: Row) -> tuple[float, float, float]:
    for axis, (low, high) in _LIMITS.items():
        if not row.text(axis):
            raise row.wrong(axis, "the colour is missing: give L, a and b, or a curve from R400 to R700")
        value = row.number(axis)
        if not low <= value <= high:
            raise row.wrong(axis, f"{value:g} is outside {low:g} to {high:g}", value=value, limit=high)
    return row.number("L"), row.number("a"), row.number("b")


def _day(row: Row) -> date | None:
    text = row.text("dyed_on")
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise row.wrong("dyed_on", f"{text!r} is not a date; write it as 2026-03-12", value=text) from None


def _lots(row: Row, depths: Mapping[str, float]) -> dict[str, str]:
    try:
        return read_lots(row.text("dye_lot"), depths)
    except InputError as error:
        raise row.wrong("dye_lot", error.message, value=error.value) from error


def read_lots(text: str, depths: Mapping[str, float]) -> dict[str, str]:
    """Return the tubs' lots by dye: the text itself for one dye, "Blue=17+Yellow=A3" for the dyes of a mix.

    Raises:
        InputError: it does not say whose lot is which.
    """
    text = text.strip()
    if not text or not depths:
        return {}
    if len(depths) == 1:
        return dict.fromkeys(depths, text)
    lots = dict(_parts(text, "+"))
    if not lots.keys() <= depths.keys():
        raise InputError(
            f"{text!r} does not say whose lot is which; write {'+'.join(f'{name}=lot' for name in depths)}",
            field="dye_lot",
            value=text,
        )
    return lots


def lots_text(swatch: Swatch) -> str:
    """Return the lots of a swatch's tubs as `read_lots` reads them."""
    if len(swatch.depths_owf) == 1:
        return "".join(swatch.dye_lots.values())
    return "+".join(f"{name}={lot}" for name, lot in swatch.dye_lots.items())


def _noise(row: Row) -> float | None:
    if not row.text("noise_de00"):
        return None
    value = row.number("noise_de00")
    if not 0 < value <= 20:
        raise row.wrong("noise_de00", f"{value:g} must be above 0 and at most 20 ΔE00", value=value, limit=20)
    return value


def _reads(row: Row) -> int:
    value = row.number("reads") if row.text("reads") else 1.0
    if value < 1 or value != int(value):
        raise row.wrong("reads", f"{value:g} must be a whole number from 1", value=value, limit=1)
    return int(value)


def _means(swatches: Sequence[Swatch], tables: ObserverTables | None) -> list[Swatch]:
    """Return the swatches with the readings of one named sample put together; what differs in anything stays apart."""
    groups: dict[object, list[Swatch]] = {}
    for place, one in enumerate(swatches):
        alike = (
            *(one.origin.get("sample") or place, tuple(one.depths_owf.items()), tuple(one.dye_lots.items())),
            *(one.base, one.dyed_on, one.source, one.illuminant, one.observer, one.lab is None),
        )
        groups.setdefault(alike, []).append(one)
    return [_mean(group, tables) if len(group) > 1 else group[0] for group in groups.values()]


def _mean(reads: Sequence[Swatch], tables: ObserverTables | None) -> Swatch:
    """Return the mean of several readings of one sample, with its noise from their scatter."""
    first, usual = reads[0], LAB_NOISE[reads[0].source]
    notes = dict.fromkeys(one.note for one in reads if one.note)
    mean = replace(first, reads=sum(one.reads for one in reads), note="; ".join(notes))
    if first.lab is not None:
        labs = np.array([one.lab for one in reads])
        lightness, a, b = np.average(labs, axis=0, weights=[one.reads for one in reads]).tolist()
        return replace(mean, lab=(lightness, a, b), noise_de00=noise_of_reads(labs, usual))
    curves = np.array([one.reflectance for one in reads])
    mean = replace(mean, reflectance=tuple(np.average(curves, axis=0, weights=[one.reads for one in reads]).tolist()))
    if tables is None:
        return mean
    weights, white = light_of(tables, "D65", 10)
    labs = lab_from_xyz(xyz_from_reflectance(curves, weights), white)
    return replace(mean, noise_de00=noise_of_reads(labs, usual))


def write_swatches(swatches: Sequence[Swatch]) -> str:
    """Return a swatch table as CSV that `read_swatches` reads back."""
    curves = [f"R{nm:.0f}" for nm in WAVELENGTHS_NM] if any(swatch.reflectance for swatch in swatches) else []
    out = io.StringIO()
    writer = csv.DictWriter(out, [*_COLUMNS, *curves], restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(_cells(swatch) for swatch in swatches)
    return out.getvalue()


def _cells(swatch: Swatch) -> dict[str, object]:
    cells: dict[str, object] = {
        "sample": swatch.origin.get("sample", ""),
        "base": swatch.base,
        "illuminant": swatch.illuminant,
        "observer": swatch.observer,
        "source": swatch.source,
        "dyed_on": swatch.dyed_on.isoformat() if swatch.dyed_on else "",
        "dye_lot": lots_text(swatch),
        "reads": swatch.reads,
        "noise_de00": "" if swatch.noise_de00 is None else swatch.noise_de00,
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
