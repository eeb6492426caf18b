"""Swatch evenings: mini-skeins dyed at once, and the swatches that they became."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Evening, Jar
from dyewright.records._rows import found, refuse_taken_name
from dyewright.records.shelf import ensure_dyes
from dyewright.records.tables import EveningRow, JarDyeRow, JarRow

__all__ = ["evening", "evenings", "remove_evening", "save_evening"]


def evenings(session: Session) -> list[Evening]:
    """Return every swatch evening, the latest first."""
    query = select(EveningRow).order_by(EveningRow.held_on.desc(), EveningRow.id.desc())
    return [_evening(row) for row in session.scalars(query)]


def evening(session: Session, evening_id: int) -> Evening:
    """Return one swatch evening."""
    return _evening(found(session, EveningRow, evening_id))


def save_evening(session: Session, evening: Evening) -> Evening:
    """Keep a swatch evening, or change the one with its id. Dyes that are not on the shelf are put there."""
    refuse_taken_name(session, EveningRow.name, EveningRow.id, evening.name, own=evening.id)
    ensure_dyes(session, (name for jar in evening.jars for name in jar.recipe_owf))
    row = EveningRow() if evening.id is None else found(session, EveningRow, evening.id)
    row.name, row.held_on, row.base_id, row.note = evening.name, evening.held_on, evening.base_id, evening.note
    row.liquor_l_kg, row.stock_g_l, row.judgement_id = evening.liquor_l_kg, evening.stock_g_l, evening.judgement_id
    row.set_up = dict(evening.set_up)
    row.jars.clear()
    session.add(row)
    session.flush()  # the old jars go before the new ones come
    row.jars.extend(_jar_row(jar) for jar in evening.jars)
    session.flush()
    return replace(evening, id=row.id)


def remove_evening(session: Session, evening_id: int) -> None:
    """Remove a swatch evening; the swatches that came of it stay."""
    session.delete(found(session, EveningRow, evening_id))
    session.flush()


def _jar_row(jar: Jar) -> JarRow:
    dyes = [
        JarDyeRow(dye_name=name, position=position, depth_owf=depth_owf)
        for position, (name, depth_owf) in enumerate(jar.recipe_owf.items())
    ]
    return JarRow(number=jar.number, mass_g=jar.mass_g, seat=jar.seat, swatch_id=jar.swatch_id, dyes=dyes)


def _jar(row: JarRow) -> Jar:
    recipe = {part.dye_name: part.depth_owf for part in row.dyes}
    return Jar(row.number, recipe, row.mass_g, row.seat, row.swatch_id)


def _evening(row: EveningRow) -> Evening:
    return Evening(
        name=row.name,
        held_on=row.held_on,
        base_id=row.base_id,
        liquor_l_kg=row.liquor_l_kg,
        stock_g_l=row.stock_g_l,
        jars=tuple(_jar(jar) for jar in row.jars),
        judgement_id=row.judgement_id,
        note=row.note,
        id=row.id,
        set_up=row.set_up,
    )
