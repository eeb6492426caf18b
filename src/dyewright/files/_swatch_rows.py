"""Files of swatches, whichever their format, as rows of named cells that know where they stand."""

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dyewright.errors import InputError
from dyewright.files.cgats import CgatsTable, is_cgats, read_cgats, spectral_column
from dyewright.files.cxf import is_cxf, read_cxf

__all__ = ["Row", "rows_of_file"]

_NAME_AND_DEPTH = re.compile(r"^(?P<dye>.+?)[ ,_]+(?P<depth>[\d.,]+) ?%(?: on (?P<base>.+))?$")
_UNDYED = re.compile(r"^undyed(?: on)? (?P<base>.+)$", re.IGNORECASE)
_GRAPHIC_LIGHT = {"illuminant": "D50", "observer": "2"}  # ISO 13655, the graphic trade's condition (from memory)
_LAB_FIELDS = {"lab_l": "L", "lab_a": "a", "lab_b": "b"}
_ALIASES = {"l": "L", "l*": "L", "a*": "a", "b*": "b", "depth": "depth_percent", "sample_name": "sample", **_LAB_FIELDS}
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True)
class Row:
    """A row with where it stands, for messages; cells by column name, a curve's as R400 and so on."""

    file: str
    place: str
    cells: Mapping[str, str]

    def wrong(self, column: str, says: str, *, value: object = None, limit: object = None) -> InputError:
        """Return the error that names file, place and column."""
        return InputError(
            f"{self.file}, {self.place}, column {column}: {says}", field="swatches", value=value, limit=limit
        )

    def text(self, column: str) -> str:
        """Return a cell; empty where there is none."""
        return self.cells.get(column, "").strip()

    def number(self, column: str) -> float:
        """Return a cell as a number, with decimal point or comma.

        Raises:
            InputError: it is none.
        """
        text = self.text(column).removesuffix("%").strip()
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            raise self.wrong(column, f"{text!r} is not a number", value=text) from None
        if not math.isfinite(value):
            raise self.wrong(column, f"{text!r} is not a number that can be", value=text)
        return value

    @property
    def curve_columns(self) -> list[str]:
        """The columns of the row's reflectances, by wavelength."""
        return sorted(
            (name for name in self.cells if name[0:1] == "R" and spectral_column(name) and self.text(name)),
            key=lambda name: float(name[1:]),
        )


def rows_of_file(data: bytes, name: str) -> list[Row]:
    """Return the rows of a CSV, CGATS.17 or CxF3 file.

    Raises:
        InputError: it is none of these, cannot be read, or holds no rows.
    """
    if is_cxf(data):
        return [
            Row(name, f"object {label}", _with_recipe(_named({"base": "", **_GRAPHIC_LIGHT, **cells})))
            for label, cells in read_cxf(data, name)
        ]
    text = _text(data, name)
    rows = _cgats_rows(text, name) if is_cgats(text) else _csv_rows(text, name)
    if not rows:
        raise InputError(f"{name} holds no rows: give one row a swatch below the column names", field="swatches")
    return rows


def _text(data: bytes, name: str) -> str:
    if data.startswith(_UTF_16):  # what an instrument's program calls "Unicode text"
        return data.decode("utf-16", errors="replace")
    if b"\0" in data:
        raise InputError(f"{name} is not a text file: save the table as CSV, CGATS text or CxF", field="swatches")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")  # what a spreadsheet on an older system saves


def _csv_rows(text: str, name: str) -> list[Row]:
    skipped, text = _below_comments(text)
    first = text.partition("\n")[0]
    delimiter = max(";\t,", key=first.count) if first.count(";") or first.count("\t") else ","
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    columns = [_column(column) for column in reader.fieldnames or ()]
    rows = []
    for cells in reader:
        if not any(value.strip() for value in cells.values() if isinstance(value, str)):
            continue
        line = reader.line_num + skipped
        if None in cells or None in cells.values():
            raise InputError(
                f"{name}, line {line}: the row has another number of cells than the {len(columns)} columns "
                "above; a decimal comma needs semicolons between the cells, a comma in a name needs quotation marks",
                field="swatches",
            )
        own = dict(zip(columns, cells.values(), strict=True))
        rows.append(Row(name, f"line {line}", _with_recipe(own) if "sample" in own else own))
    return rows


def _below_comments(text: str) -> tuple[int, str]:
    """Return how many lines stand above the column names (remarks, a spreadsheet's sep=;), and the text below them."""
    lines = text.splitlines(keepends=True)
    skipped = 0
    while skipped < len(lines) and (not lines[skipped].strip() or lines[skipped].startswith(("#", "sep="))):
        skipped += 1
    return skipped, "".join(lines[skipped:])


def _column(name: str) -> str:
    name = name.strip()
    return spectral_column(name) or _ALIASES.get(name.lower(), name.lower())


def _cgats_rows(text: str, name: str) -> list[Row]:
    return [Row(name, f"line {line}", _with_recipe(_named(cells))) for line, cells in _joined(read_cgats(text, name))]


def _joined(tables: Sequence[CgatsTable]) -> list[tuple[int, Mapping[str, str]]]:
    """Return the rows of all tables: those that name one sample in tables of different columns are one row.

    A table that only names samples or inks, with no colour, gives no row of its own where another has colours.
    """
    rows: list[tuple[int, dict[str, str]]] = []
    for place, table in enumerate(tables):
        before = {_key(cells): cells for _, cells in rows} if place and _adds_columns(tables[:place], table) else {}
        header = {**_GRAPHIC_LIGHT, **_light(table.keywords), **_norm(table.keywords)}
        header["base"] = table.keywords.get("BASE", "")
        for line, cells in table.rows:
            known = before.get(_key(cells)) if _key(cells) else None
            if known is None:
                rows.append((line, {**header, **cells}))
            else:
                known |= {**header, **cells}
    coloured = [(line, cells) for line, cells in rows if _has_colour(cells)]
    return list(coloured or rows)


def _key(cells: Mapping[str, str]) -> str:
    return cells.get("sample_id") or cells.get("sample_name", "")


def _adds_columns(before: Sequence[CgatsTable], table: CgatsTable) -> bool:
    keys = [_key(cells) for _, cells in table.rows]
    return set(table.columns) != set(before[-1].columns) and len(set(keys)) == len(keys)


def _has_colour(cells: Mapping[str, str]) -> bool:
    return any(spectral_column(column) or column in _LAB_FIELDS for column in cells)


def _light(keywords: Mapping[str, str]) -> dict[str, str]:
    """Return illuminant and observer as header lines such as `WEIGHTING_FUNCTION "ILLUMINANT, D65"` state them."""
    text = " ".join(
        value for key, value in keywords.items() if "WEIGHTING" in key or "ILLUMINA" in key or "OBSERVER" in key
    )
    lights = re.findall(r"\b(D65|D50|A|FL11|LED-B3)\b", text)
    observers = re.findall(r"\b(10|2)\b ?(?:°|deg)", text, re.IGNORECASE)
    found = {"illuminant": lights[-1]} if lights else {}
    return found | ({"observer": observers[-1]} if observers else {})


def _norm(keywords: Mapping[str, str]) -> dict[str, str]:
    """Return what a perfect white reads in this file, 1 or 100, where a header line says it."""
    last = keywords.get("SPECTRAL_NORM", "").split()[-1:]
    return {"spectral_norm": f"{float(last[0]):g}"} if last and re.fullmatch(r"1(00)?(\.0*)?", last[0]) else {}


def _named(cells: Mapping[str, str]) -> dict[str, str]:
    return {_ALIASES.get(column, column): value for column, value in cells.items()}


def _with_recipe(cells: Mapping[str, str]) -> dict[str, str]:
    """Return the cells with the recipe that the sample's name states, where no column does."""
    if "dye" in cells:
        return dict(cells)
    return {**cells, **_recipe_of_name(cells.get("sample") or cells.get("sample_id", ""))}


def _recipe_of_name(text: str) -> dict[str, str]:
    """Return the recipe that a sample's name states: "Blue 0.5 % on merino", "Blue=0.5+Yellow=0.2", "undyed"."""
    text = text.strip()
    if bare := _UNDYED.match(text):
        return {"dye": "", "depth_percent": "0", "base": bare["base"]}
    if match := _NAME_AND_DEPTH.match(text):
        found = {"dye": match["dye"], "depth_percent": match["depth"]}
        return found | ({"base": match["base"]} if match["base"] else {})
    mix, on, base = text.rpartition(" on ") if "=" in text else ("", "", "")
    return {"dye": mix or text, "depth_percent": ""} | ({"base": base} if on else {})
