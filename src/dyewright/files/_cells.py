"""Dataclasses as rows of a CSV table and back, by the types of their fields.

Empty is None where None may be; yes and no are booleans; lists and mappings are JSON inside their cell.
"""

# ruff: noqa: ANN401 - a type read at run time, and what it makes of a text, can be anything

import csv
import json
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import MISSING, fields
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from enum import Enum
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints
from uuid import UUID

from dyewright.errors import DataFileError

__all__ = ["read_table", "structured", "write_table"]

Item = TypeVar("Item")
YES_NO = {"yes": True, "no": False}
FROM_TEXT: Mapping[type, Callable[[str], Any]] = {
    str: str,
    bool: YES_NO.__getitem__,
    int: int,
    float: float,
    Decimal: Decimal,
    UUID: UUID,
    datetime: datetime.fromisoformat,
    date: date.fromisoformat,
}


def write_table(file: Path, kind: type[Item], items: Iterable[Item], *, leave_out: Collection[str] = ()) -> None:
    """Write items of one dataclass as a table, without the fields to leave out."""
    columns = [field.name for field in fields(kind) if field.name not in leave_out]  # type: ignore[arg-type]
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(columns)
        writer.writerows([_cell(getattr(item, column)) for column in columns] for item in items)


def read_table(
    file: Path,
    kind: type[Item],
    *,
    leave_out: Collection[str] = (),
    given: Callable[[Mapping[str, str]], Mapping[str, Any]] | None = None,
) -> list[Item]:
    """Return the items of a table; a column that an older version did not write has the field's default.

    Args:
        file: the table.
        kind: the dataclass of the items.
        leave_out: the fields that were left out when it was written.
        given: returns, from a row's cells, those that the dataclass needs all the same.

    Raises:
        DataFileError: the file or a column is missing, or a cell cannot be read; names file, line and column.
    """
    hints = {name: hint for name, hint in get_type_hints(kind).items() if name not in leave_out}
    items = []
    try:
        with file.open(encoding="utf-8-sig", newline="") as source:
            reader = csv.DictReader(source, strict=True)
            missing = hints.keys() - set(reader.fieldnames or ())
            if missing - _with_default(kind):
                raise DataFileError(f"{file.name} lacks the column {', '.join(sorted(missing - _with_default(kind)))}")
            hints = {name: hint for name, hint in hints.items() if name not in missing}
            for row in reader:
                values = _values(row, hints, f"{file.name} line {reader.line_num}")
                items.append(kind(**values, **(given(row) if given else {})))
    except (OSError, csv.Error, UnicodeDecodeError) as error:
        raise DataFileError(f"{file} cannot be read: {error}") from error
    return items


def _with_default(kind: type) -> set[str]:
    """Return the fields that need not be given."""
    return {
        field.name for field in fields(kind) if field.default is not MISSING or field.default_factory is not MISSING
    }


def structured(hint: Any, value: Any) -> Any:
    """Return a value as JSON gave it with the types that a field asks for."""
    options, origin = get_args(hint), get_origin(hint)
    if origin is UnionType or NoneType in options:
        return None if value is None else structured(next(each for each in options if each is not NoneType), value)
    if origin is tuple:
        inner = [options[0]] * len(value) if Ellipsis in options else options
        return tuple(structured(each, item) for each, item in zip(inner, value, strict=True))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {structured(options[0], key): structured(options[1], item) for key, item in value.items()}
    return hint(value) if isinstance(hint, type) and hint is not object else value


def _values(row: Mapping[str, str], hints: Mapping[str, Any], where: str) -> dict[str, Any]:
    values = {}
    for column, hint in hints.items():
        text = row[column]
        try:
            values[column] = _value(hint, text)
        except (ValueError, KeyError, TypeError, AttributeError, InvalidOperation) as error:
            raise DataFileError(f"{where}, column {column}: “{text}” cannot be read ({error})", value=text) from error
    return values


def _value(hint: Any, text: str) -> Any:
    options = get_args(hint)
    if NoneType in options:
        return None if text == "" else _value(next(each for each in options if each is not NoneType), text)
    if options:
        return structured(hint, json.loads(text))
    return FROM_TEXT.get(hint, hint)(text)


def _cell(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case Enum():
            return str(value.value)
        case str():
            return value
        case float():
            return repr(value)
        case datetime() | date():
            return value.isoformat()
        case tuple() | Mapping():
            return json.dumps(value, ensure_ascii=False, allow_nan=False, default=str)
    return str(value)
