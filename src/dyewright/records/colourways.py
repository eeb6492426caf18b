"""Colourways: targets and their chosen recipes, by name; and the palettes that some were taken from together."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Colourway, Palette
from dyewright.errors import InputError
from dyewright.records._rows import found, lab_columns, lab_of, refuse_taken_name
from dyewright.records.shelf import ensure_dyes
from dyewright.records.tables import ColourwayDyeRow, ColourwayRow, PaletteColourRow, PaletteRow, RunRow

__all__ = [
    "colourway",
    "colourways",
    "palette",
    "palettes",
    "remove_colourway",
    "remove_palette",
    "save_colourway",
    "save_palette",
]


def colourways(session: Session) -> list[Colourway]:
    """Return every colourway by name."""
    return [_colourway(row) for row in session.scalars(select(ColourwayRow).order_by(ColourwayRow.name))]


def colourway(session: Session, colourway_id: int) -> Colourway:
    """Return one colourway."""
    return _colourway(found(session, ColourwayRow, colourway_id))


def save_colourway(session: Session, colourway: Colourway) -> Colourway:
    """Keep a colourway, or change the one with its id. Dyes that are not on the shelf are put there."""
    refuse_taken_name(session, ColourwayRow.name, ColourwayRow.id, colourway.name, own=colourway.id)
    ensure_dyes(session, colourway.recipe_owf)
    row = ColourwayRow() if colourway.id is None else found(session, ColourwayRow, colourway.id)
    row.name, row.note, row.target_from = colourway.name, colourway.note, colourway.target_from
    row.base_id, row.created_on = colourway.base_id, colourway.created_on
    curve = colourway.target_reflectance
    row.target_kind = colourway.target_kind
    row.target_reflectance = None if curve is None else [float(value) for value in curve]
    row.palette = _place_in_palette(colourway)
    colours = {**lab_columns("target", colourway.target_lab), **lab_columns("predicted", colourway.predicted_lab)}
    for column, value in colours.items():
        setattr(row, column, value)
    row.dyes.clear()
    session.add(row)
    session.flush()  # the old recipe goes before the new one comes
    row.dyes.extend(
        ColourwayDyeRow(dye_name=name, position=position, depth_owf=depth_owf)
        for position, (name, depth_owf) in enumerate(colourway.recipe_owf.items())
    )
    session.flush()
    return replace(colourway, id=row.id)


def remove_colourway(session: Session, colourway_id: int) -> None:
    """Remove a colourway.

    Raises:
        InputError: a run was dyed to it.
    """
    row = found(session, ColourwayRow, colourway_id)
    number = session.scalar(select(RunRow.number).where(RunRow.colourway_id == colourway_id).limit(1))
    if number is not None:
        raise InputError(f"{row.name} was dyed in run {number}; it stays in the book", value=row.name)
    session.delete(row)
    session.flush()


def _colourway(row: ColourwayRow) -> Colourway:
    return Colourway(
        name=row.name,
        target_lab=lab_of(row, "target"),
        target_from=row.target_from,
        recipe_owf={part.dye_name: part.depth_owf for part in row.dyes},
        predicted_lab=lab_of(row, "predicted"),
        base_id=row.base_id,
        created_on=row.created_on,
        note=row.note,
        id=row.id,
        target_kind=row.target_kind,
        target_reflectance=None if row.target_reflectance is None else tuple(row.target_reflectance),
        palette_id=None if row.palette is None else row.palette.palette_id,
        share_frac=None if row.palette is None else row.palette.share_frac,
    )


def _place_in_palette(colourway: Colourway) -> PaletteColourRow | None:
    if colourway.palette_id is None:
        return None
    return PaletteColourRow(palette_id=colourway.palette_id, share_frac=colourway.share_frac)


def palettes(session: Session) -> list[Palette]:
    """Return every palette by name."""
    return [_palette(row) for row in session.scalars(select(PaletteRow).order_by(PaletteRow.name))]


def palette(session: Session, palette_id: int) -> Palette:
    """Return one palette; its colourways are those that name it."""
    return _palette(found(session, PaletteRow, palette_id))


def save_palette(session: Session, palette: Palette) -> Palette:
    """Keep a palette, or change the one with its id."""
    refuse_taken_name(session, PaletteRow.name, PaletteRow.id, palette.name, own=palette.id)
    row = PaletteRow() if palette.id is None else found(session, PaletteRow, palette.id)
    row.name, row.photo_id, row.note = palette.name, palette.photo_id, palette.note
    row.created_on = palette.created_on
    session.add(row)
    session.flush()
    return replace(palette, id=row.id)


def remove_palette(session: Session, palette_id: int) -> None:
    """Remove a palette; its colourways stay in the book on their own."""
    session.delete(found(session, PaletteRow, palette_id))
    session.flush()


def _palette(row: PaletteRow) -> Palette:
    return Palette(row.name, row.photo_id, row.created_on, row.note, row.id)
