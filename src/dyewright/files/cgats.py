"""Measurement files in the open text format CGATS.17 (ISO 28178), read into rows of named cells.

Read as usual instruments write them: tabs or spaces, quoted names, decimal commas, spectral fields as SPECTRAL_400,
SPECTRAL_NM400, SPEC_400 or nm400. Field and keyword names are from memory of the standard.
"""

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass

from dyewright.errors import InputError

__all__ = ["CgatsTable", "is_cgats", "read_cgats"]

_SPECTRAL = re.compile(r"^(?:SPECTRAL_|SPEC_)?(?:NM)?_?(\d{3})$", re.IGNORECASE)


@dataclass(frozen=True)
class CgatsTable:
    """The rows of a file: each with its line number and its cells by column; `keywords` holds the header's values.

    Spectral columns are named R400 and so on; all others by their field names in small letters.
    """

    keywords: dict[str, str]
    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]


def is_cgats(text: str) -> bool:
    """Return whether a text is a CGATS file rather than a plain table."""
    return "BEGIN_DATA_FORMAT" in text


def read_cgats(text: str, name: str) -> CgatsTable:
    """Return the first table of a CGATS file.

    Raises:
        InputError: the sections are not closed, or a row has another number of cells than the format names.
    """
    lines = iter(enumerate(text.splitlines(), start=1))
    keywords = _keywords(lines)
    columns = tuple(_column(field) for _, line in _section(lines, "END_DATA_FORMAT", name) for field in _cells(line))
    keywords |= _keywords(lines, until="BEGIN_DATA")
    rows = []
    for number, line in _section(lines, "END_DATA", name):
        cells = _cells(line)
        if len(cells) != len(columns):
            raise InputError(
                f"{name}, line {number}: {len(cells)} values, but the format names {len(columns)} fields",
                field="swatches",
                value=len(cells),
                limit=len(columns),
            )
        rows.append((number, dict(zip(columns, cells, strict=True))))
    return CgatsTable(keywords, columns, tuple(rows))


def _keywords(lines: Iterator[tuple[int, str]], until: str = "BEGIN_DATA_FORMAT") -> dict[str, str]:
    found = {}
    for _, line in lines:
        if line.strip() == until:
            break
        key, _, value = line.strip().partition(" " if " " in line.strip() else "\t")
        found[key.upper()] = value.strip().strip('"')
    return found


def _section(lines: Iterator[tuple[int, str]], end: str, name: str) -> Iterator[tuple[int, str]]:
    for number, line in lines:
        if line.strip() == end:
            return
        if line.strip() and not line.lstrip().startswith("#"):
            yield number, line
    raise InputError(f"{name} ends before {end}: the file seems to be cut off; export it again", field="swatches")


def _cells(line: str) -> list[str]:
    if "\t" in line.strip():
        return [cell.strip().strip('"') for cell in line.strip().split("\t")]
    try:
        return shlex.split(line)
    except ValueError:  # an apostrophe in a name
        return line.split()


def _column(field: str) -> str:
    spectral = _SPECTRAL.match(field)
    return f"R{spectral.group(1)}" if spectral else field.lower()
