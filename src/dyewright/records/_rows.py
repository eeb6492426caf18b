"""What the functions on records share: finding a row, refusing a name that is taken, colours in three columns."""

from collections.abc import Mapping
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from dyewright.core.model import Lab
from dyewright.errors import InputError, NotFoundError
from dyewright.records.columns import TableBase

__all__ = ["found", "lab_columns", "lab_of", "refuse_taken_name"]

Row = TypeVar("Row", bound=TableBase)
LARGEST_ID = 2**31 - 1  # what an INTEGER column of PostgreSQL holds


def found(session: Session, kind: type[Row], key: object) -> Row:
    """Return the row with this key.

    Raises:
        NotFoundError: there is none.
    """
    is_possible = not isinstance(key, int) or 0 < key <= LARGEST_ID
    row = session.get(kind, key) if is_possible else None
    if row is None:
        raise NotFoundError(f"there is no {kind.__tablename__} {key} in this studio", value=key)
    return row


def refuse_taken_name(
    session: Session,
    name_column: InstrumentedAttribute[str],
    id_column: InstrumentedAttribute[Any],
    name: str,
    own: object,
) -> None:
    """Refuse an empty name, and one that another row already has."""
    thing = name_column.class_.__tablename__
    if not name.strip():
        raise InputError(f"the {thing} needs a name", field="name", value=name)
    taken_by = session.scalar(select(id_column).where(name_column == name))
    if taken_by is not None and taken_by != own:
        raise InputError(f"a {thing} named “{name}” is there already; choose another name", field="name", value=name)


def lab_of(row: TableBase, prefix: str) -> Lab | None:
    """Return the colour in a row's columns `<prefix>_l`, `_a`, `_b`; None where it was not measured."""
    lightness, red_green, yellow_blue = (getattr(row, f"{prefix}_{axis}") for axis in "lab")
    return None if lightness is None else (lightness, red_green, yellow_blue)


def lab_columns(prefix: str, lab: Lab | None) -> Mapping[str, float | None]:
    """Return a colour as the values of the three columns."""
    values: tuple[float | None, ...] = lab or (None, None, None)
    return {f"{prefix}_{axis}": value for axis, value in zip("lab", values, strict=True)}
