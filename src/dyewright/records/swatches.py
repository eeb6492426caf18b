"""Swatches: dyed samples with their recipes and measured colours."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Base, Fibre, Swatch
from dyewright.records._rows import found, lab_columns, lab_of
from dyewright.records.shelf import ensure_dyes, save_base
from dyewright.records.tables import BaseRow, SwatchDyeRow, SwatchRow

__all__ = ["add_swatches", "change_swatch", "remove_swatch", "swatch", "swatches"]

NOTE_OF_A_NEW_BASE = "Came with a swatch; say what fibre it is."


def swatches(session: Session, base_name: str | None = None) -> list[Swatch]:
    """Return the swatches in the order they were added, of one base where it is named."""
    query = select(SwatchRow).order_by(SwatchRow.id)
    if base_name is not None:
        query = query.where(SwatchRow.base_name == base_name)
    return [_swatch(row) for row in session.scalars(query)]


def add_swatches(session: Session, new: Sequence[Swatch]) -> list[Swatch]:
    """Add swatches. A dye or base that is not on the shelf is put there: class unknown, fibre to be said."""
    _put_on_shelf(session, new)
    rows = [SwatchRow(**_columns(swatch), dyes=_dye_rows(swatch)) for swatch in new]
    session.add_all(rows)
    session.flush()
    return [replace(swatch, id=row.id) for swatch, row in zip(new, rows, strict=True)]


def swatch(session: Session, swatch_id: int) -> Swatch:
    """Return one swatch."""
    return _swatch(found(session, SwatchRow, swatch_id))


def change_swatch(session: Session, swatch: Swatch) -> Swatch:
    """Put what is now known of a swatch in place of what was; its id says which."""
    row = found(session, SwatchRow, swatch.id)
    _put_on_shelf(session, [swatch])
    row.dyes.clear()
    session.flush()  # the old recipe goes before the new one comes
    for column, value in _columns(swatch).items():
        setattr(row, column, value)
    row.dyes.extend(_dye_rows(swatch))
    session.flush()
    return swatch


def remove_swatch(session: Session, swatch_id: int) -> None:
    """Remove a swatch."""
    session.delete(found(session, SwatchRow, swatch_id))
    session.flush()


def _put_on_shelf(session: Session, new: Sequence[Swatch]) -> None:
    ensure_dyes(session, (name for swatch in new for name in swatch.depths_owf))
    there = set(session.scalars(select(BaseRow.name)))
    for name in sorted({swatch.base for swatch in new} - there):
        save_base(session, Base(name, {Fibre.WOOL: 1.0}, note=NOTE_OF_A_NEW_BASE))


def _swatch(row: SwatchRow) -> Swatch:
    return Swatch(
        depths_owf={part.dye_name: part.depth_owf for part in row.dyes},
        base=row.base_name,
        reflectance=None if row.reflectance is None else tuple(row.reflectance),
        lab=lab_of(row, "lab"),
        illuminant=row.illuminant,
        observer=row.observer,
        source=row.source,
        dyed_on=row.dyed_on,
        note=row.note,
        id=row.id,
        origin=row.origin,
        dye_lots={part.dye_name: part.dye_lot for part in row.dyes if part.dye_lot},
        noise_de00=row.noise_de00,
        reads=row.reads,
    )


def _columns(swatch: Swatch) -> Mapping[str, object]:
    return {
        "base_name": swatch.base,
        "reflectance": None if swatch.reflectance is None else [float(value) for value in swatch.reflectance],
        **lab_columns("lab", swatch.lab),
        "illuminant": swatch.illuminant,
        "observer": swatch.observer,
        "source": swatch.source,
        "dyed_on": swatch.dyed_on,
        "note": swatch.note,
        "origin": dict(swatch.origin),
        "noise_de00": swatch.noise_de00,
        "reads": swatch.reads,
    }


def _dye_rows(swatch: Swatch) -> list[SwatchDyeRow]:
    return [
        SwatchDyeRow(dye_name=name, position=position, depth_owf=depth_owf, dye_lot=swatch.dye_lots.get(name, ""))
        for position, (name, depth_owf) in enumerate(swatch.depths_owf.items())
    ]
