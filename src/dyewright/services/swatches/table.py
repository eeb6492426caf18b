"""Swatches brought to the shelf: a table from a file or pasted, or one swatch typed; and saved as a table."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from dyewright.core.model import Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.files.swatches import read_swatches, write_swatches
from dyewright.records import swatches as swatches_of
from dyewright.services.swatches.form import swatch_from_form

__all__ = ["COLUMNS", "bring_table", "bring_typed", "change_typed", "table_text"]

COLUMNS = "dye,depth_percent,base,L,a,b,illuminant,observer,source,dyed_on,dye_lot"
LARGEST_BYTES = 5_000_000  # a thousand swatches with their curves are about 0.3 MB


def bring_table(session: Session, data: bytes, name: str, *, base: str = "") -> Sequence[Swatch]:
    """Put the swatches of a table on record, all or none; those that are there already are not taken twice.

    Args:
        session: of the studio.
        data: CSV, CGATS.17 text or CxF3.
        name: of the file.
        base: the yarn of rows that name none.

    Raises:
        InputError: the file is too large, a row is wrong, or all of it is on record; nothing is kept then.
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"{name} is {len(data) / 1e6:.1f} MB; a swatch table is at most {LARGEST_BYTES / 1e6:.0f} MB",
            field="table",
            value=len(data),
            limit=LARGEST_BYTES,
        )
    read = read_swatches(data, name, tables=load_observer_tables(), base=base.strip())
    there = {_same(one) for one in swatches_of.swatches(session)}
    new = [replace(one, origin={**one.origin, "file": name}) for one in read if _same(one) not in there]
    if not new:
        count = "its one swatch is" if len(read) == 1 else f"all {len(read)} swatches are"
        raise InputError(f"{name} brings nothing new: {count} on record already", field="table")
    return swatches_of.add_swatches(session, new)


def _same(swatch: Swatch) -> tuple[object, ...]:
    """Return what makes two swatches one and the same reading."""
    return (
        *(tuple(swatch.depths_owf.items()), tuple(swatch.dye_lots.items()), swatch.base, swatch.dyed_on),
        *(swatch.reflectance, swatch.lab, swatch.illuminant, swatch.observer, swatch.source),
    )


def bring_typed(session: Session, form: Mapping[str, str]) -> Sequence[Swatch]:
    """Put one typed swatch on record: recipe, base, colour.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    return swatches_of.add_swatches(session, [swatch_from_form(form)])


def change_typed(session: Session, swatch_id: int, form: Mapping[str, str]) -> Swatch:
    """Change what is known of a swatch as typed; its colour stays as it was read.

    Raises:
        InputError: a field cannot be worked with; it is named, and nothing is changed.
    """
    before = swatches_of.swatch(session, swatch_id)
    return swatches_of.change_swatch(session, swatch_from_form(form, before))


def table_text(session: Session) -> str:
    """Return the swatches on record as a table that can be brought in again."""
    return write_swatches(swatches_of.swatches(session))
