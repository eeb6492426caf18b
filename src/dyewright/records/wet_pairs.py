"""Samples judged wet and dry: what a base's wet-to-dry shift is learnt from."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import WetPair
from dyewright.records._rows import found, lab_columns
from dyewright.records.tables import BaseRow, WetPairRow

__all__ = ["add_wet_pair", "remove_wet_pair", "wet_pairs"]


def wet_pairs(session: Session, base_id: int | None = None) -> list[WetPair]:
    """Return the pairs of one base, or of all, in the order in which they were entered."""
    query = select(WetPairRow).order_by(WetPairRow.id)
    if base_id is not None:
        query = query.where(WetPairRow.base_id == base_id)
    return [_wet_pair(row) for row in session.scalars(query)]


def add_wet_pair(session: Session, pair: WetPair) -> WetPair:
    """Keep a pair.

    Raises:
        NotFoundError: the base is not in the studio.
    """
    found(session, BaseRow, pair.base_id)
    row = WetPairRow(
        base_id=pair.base_id,
        **lab_columns("wet", pair.wet_lab),
        **lab_columns("dry", pair.dry_lab),
        measured_on=pair.measured_on,
        note=pair.note,
    )
    session.add(row)
    session.flush()
    return replace(pair, id=row.id)


def remove_wet_pair(session: Session, pair_id: int) -> None:
    """Remove a pair that was judged or entered wrongly."""
    session.delete(found(session, WetPairRow, pair_id))
    session.flush()


def _wet_pair(row: WetPairRow) -> WetPair:
    return WetPair(
        base_id=row.base_id,
        wet_lab=(row.wet_l, row.wet_a, row.wet_b),
        dry_lab=(row.dry_l, row.dry_a, row.dry_b),
        measured_on=row.measured_on,
        note=row.note,
        id=row.id,
    )
