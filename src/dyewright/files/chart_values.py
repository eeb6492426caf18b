"""A chart's own reference values: CSV with columns L, a, b, one row a patch, from dark skin on, row by row.

Other columns (a number, a name) may stand beside; `illuminant` and `observer` say what the Labs belong to, D50 and 2 as
charts are usually supplied where they are absent. Comma or semicolon; with a semicolon, decimal commas too.
"""

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

from dyewright.core.model import Lab
from dyewright.errors import InputError

__all__ = ["ChartValues", "read_chart_values"]

PATCHES = 24


@dataclass(frozen=True)
class ChartValues:
    """The Labs of a chart's 24 patches, with the light and observer (degrees) they belong to."""

    labs: tuple[Lab, ...]
    illuminant: str = "D50"
    observer: int = 2


def read_chart_values(path: Path) -> ChartValues:
    """Return a chart's reference values from a CSV file.

    Raises:
        InputError: the file cannot be read, lacks a column, holds something that is no number, or not 24 rows.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"the chart values {path.name} cannot be read as text: give a CSV file with columns L, a, b",
            field="chart_values",
        ) from error
    delimiter = ";" if ";" in text.partition("\n")[0] else ","
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    missing = [column for column in ("L", "a", "b") if column not in (reader.fieldnames or ())]
    if missing:
        raise InputError(
            f"the chart values {path.name} lack the column {missing[0]}: they need L, a and b, one row a patch",
            field="chart_values",
        )
    rows = [row for row in reader if any(value for value in row.values())]
    if len(rows) != PATCHES:
        raise InputError(
            f"the chart values {path.name} have {len(rows)} rows; a chart of {PATCHES} patches needs {PATCHES}",
            field="chart_values",
            value=len(rows),
            limit=PATCHES,
        )
    labs = tuple(_lab(row, line, path.name, delimiter) for line, row in enumerate(rows, start=2))
    return ChartValues(labs, rows[0].get("illuminant") or "D50", _observer(rows[0].get("observer") or "2", path.name))


def _lab(row: dict[str, str], line: int, name: str, delimiter: str) -> Lab:
    lightness, a, b = (_number(row[column], column, line, name, delimiter) for column in ("L", "a", "b"))
    if not 0 <= lightness <= 100:
        raise InputError(
            f"{name}, line {line}: L is {lightness:g}, it must lie from 0 to 100", field="chart_values", value=lightness
        )
    return lightness, a, b


def _number(text: str | None, column: str, line: int, name: str, delimiter: str) -> float:
    plain = (text or "").strip()
    try:
        number = float(plain.replace(",", ".") if delimiter == ";" else plain)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(
            f"{name}, line {line}, column {column}: {plain!r} is no number", field="chart_values", value=plain
        )
    return number


def _observer(text: str, name: str) -> int:
    if text.strip() not in {"2", "10"}:
        raise InputError(f"{name}: the observer is {text!r}; 2 or 10 degrees are known", field="chart_values")
    return int(text)
