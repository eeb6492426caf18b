"""Measurement files in the open text format CGATS.17 (ISO 28178), read into rows of named cells.

Read as usual instruments write them: tabs or spaces, quoted names, decimal commas, spectral fields as SPECTRAL_400,
SPECTRAL_NM400, SPEC_400, nm400 or as pairs of SPECTRAL_NM and SPECTRAL_DEC (0 to 1) or SPECTRAL_PCT (0 to 100), several
tables in one file. Counts such as NUMBER_OF_SETS are not relied on. Field and keyword names are from memory of the
standard.
"""

import re
import shlex
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dyewright.errors import InputError

__all__ = ["CgatsTable", "is_cgats", "read_cgats", "spectral_column"]

_SPECTRAL = re.compile(
    r"^(?:(?:SPECTRAL|SPEC|R)?[_ ]?(?:NM|DEC|PCT)?[_ ]?)?([3-9]\d\d(?:[.,]\d+)?)(?: ?NM)?$", re.IGNORECASE
)
_WAVELENGTH, _VALUES = "spectral_nm", {"spectral_dec": "1", "spectral_pct": "100"}
_Lines = Iterator[tuple[int, str]]


@dataclass(frozen=True)
class CgatsTable:
    """One table: its rows, each with its line number and its cells by column; `keywords` holds what stands above it.

    Spectral columns are named R400 and so on; all others by their field names in small letters. `spectral_norm` is
    what a perfect white would read, "1" or "100", where the file says it.
    """

    keywords: Mapping[str, str]
    columns: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, str]], ...]


def is_cgats(text: str) -> bool:
    """Return whether a text is a CGATS file rather than a plain table."""
    return "BEGIN_DATA_FORMAT" in text.upper()


def spectral_column(name: str) -> str | None:
    """Return a spectral column's name as R400; None where it is another column."""
    match = _SPECTRAL.match(name.strip())
    return f"R{float(match.group(1).replace(',', '.')):g}" if match else None


def read_cgats(text: str, name: str) -> list[CgatsTable]:
    """Return the tables of a CGATS file; a table without a format of its own has that of the one before.

    Raises:
        InputError: the sections are not closed, or a row has another number of cells than the format names.
    """
    lines = iter(enumerate(text.splitlines(), start=1))
    keywords: dict[str, str] = {}
    columns: tuple[str, ...] = ()
    tables = []
    for _, line in lines:
        match line.strip().upper():
            case "BEGIN_DATA_FORMAT":
                fields = (field for _, row in _section(lines, "END_DATA_FORMAT", name) for field in _split(row))
                columns = tuple(_column(field) for field in fields if field)
            case "BEGIN_DATA":
                rows = tuple(_row(number, row, columns, name) for number, row in _section(lines, "END_DATA", name))
                tables.append(CgatsTable(dict(keywords), columns, rows))
            case _:
                _keep_keyword(keywords, line)
    if not tables:
        raise InputError(f"{name} has no BEGIN_DATA: the file seems to be cut off; export it again", field="swatches")
    return tables


def _keep_keyword(keywords: dict[str, str], line: str) -> None:
    """Keep a header line; the values of one that repeats stand behind one another."""
    key, *value = line.strip().split(None, 1)[:2] or ("#",)
    if not key.startswith("#") and value:
        before = keywords.get(key.upper(), "")
        keywords[key.upper()] = f"{before} {value[0].strip().strip(chr(34))}".strip()


def _section(lines: _Lines, end: str, name: str) -> _Lines:
    for number, line in lines:
        if line.strip().upper() == end:
            return
        if line.strip() and not line.lstrip().startswith("#"):
            yield number, line
    raise InputError(f"{name} ends before {end}: the file seems to be cut off; export it again", field="swatches")


def _row(number: int, line: str, columns: Sequence[str], name: str) -> tuple[int, dict[str, str]]:
    cells = _split(line)
    if len(cells) != len(columns):
        by_space = _split_by_space(line)  # cells aligned by spaces, a tab here and there
        while len(cells) > len(columns) and not cells[-1]:
            cells.pop()  # tabs at the end of a line
        cells = by_space if len(by_space) == len(columns) else cells
    if len(cells) != len(columns):
        raise InputError(
            f"{name}, line {number}: {len(cells)} values, but the format names {len(columns)} fields",
            field="swatches",
            value=len(cells),
            limit=len(columns),
        )
    return number, _named(columns, cells)


def _named(columns: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    """Return a row's cells by column, with pairs of a wavelength and its value as spectral columns."""
    named: dict[str, str] = {}
    column_of_pair = None
    for column, cell in zip(columns, cells, strict=True):
        if column == _WAVELENGTH:
            column_of_pair = spectral_column(cell)
        elif column in _VALUES and column_of_pair:
            named |= {column_of_pair: cell, "spectral_norm": _VALUES[column]}
        else:
            named[column] = cell
    return named


def _split(line: str) -> list[str]:
    if "\t" in line.strip():
        return [cell.strip().strip('"') for cell in line.strip(" \r\n").split("\t")]
    return _split_by_space(line)


def _split_by_space(line: str) -> list[str]:
    try:
        return shlex.split(line)
    except ValueError:  # an apostrophe in a name
        return line.split()


def _column(field: str) -> str:
    return spectral_column(field) or field.lower()
