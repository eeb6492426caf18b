"""How a shipped table is read: rows in CSV, provenance in a TOML of the same name beside it."""

import csv
import tomllib
from dataclasses import dataclass
from importlib.resources import files
from io import StringIO

from dyewright.errors import DataFileError

__all__ = ["Provenance", "Row", "number", "optional_number", "provenance", "rows"]

Row = dict[str, str]


@dataclass(frozen=True)
class Provenance:
    """Where a table comes from, as its TOML says."""

    title: str
    reference: str
    obtained: str
    checked_on: str
    details: dict[str, object]


def rows(table: str) -> list[Row]:
    """Return the rows of a shipped table that carry no `flag`."""
    text = files("dyewright.data").joinpath(f"{table}.csv").read_text(encoding="utf-8")
    return [row for row in csv.DictReader(StringIO(text, newline="")) if not row.get("flag")]


def provenance(table: str) -> Provenance:
    """Return what a table's TOML says of its origin."""
    content = tomllib.loads(files("dyewright.data").joinpath(f"{table}.toml").read_text(encoding="utf-8"))
    missing = {"title", "reference", "obtained", "checked_on"} - content.keys()
    if missing:
        raise DataFileError(f"{table}.toml lacks {', '.join(sorted(missing))}")
    named = {key: str(content.pop(key)) for key in ("title", "reference", "obtained", "checked_on")}
    return Provenance(**named, details=content)


def number(row: Row, column: str) -> float:
    """Return a cell as a number."""
    try:
        return float(row[column])
    except (KeyError, ValueError) as error:
        raise DataFileError(f"column {column} of a shipped table holds {row.get(column)!r}, not a number") from error


def optional_number(row: Row, column: str) -> float | None:
    """Return a cell as a number, None where it is empty."""
    return number(row, column) if row.get(column) else None
