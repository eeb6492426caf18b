"""The lot book: what came out of the runs, and finding it again."""

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from sqlalchemy import Subquery, func, select
from sqlalchemy.orm import Session, lazyload, selectinload

from dyewright.core.model import Lab, Lot, LotSummary, Skein
from dyewright.errors import InputError
from dyewright.records._rows import found, lab_columns, lab_of, refuse_taken_name
from dyewright.records.tables import JudgementRow, LotRow, RunRow, SkeinRow

__all__ = ["add_lot", "all_lots", "lot", "lots_of_colourway", "lots_of_run", "search_lots", "write_caution"]

# A line of the lot book names its run, base and dyes: all lines' runs come in one query, and no events with them.
_RUN_IN_SHORT = selectinload(LotRow.run).options(
    lazyload(RunRow.events), lazyload(RunRow.lots), lazyload(RunRow.colourway)
)


def add_lot(session: Session, lot: Lot, *, search_text: str) -> Lot:
    """Record a lot with its skeins. `search_text` is all that the lot is to be found by: title, dyes, notes, colours.

    Raises:
        InputError: the name is taken, or two skeins have one number.
        NotFoundError: the run or the verdict is not in the studio.
    """
    refuse_taken_name(session, LotRow.name, LotRow.id, lot.name, own=lot.id)
    run_row = found(session, RunRow, lot.run_id)
    if lot.judgement_id is not None:
        found(session, JudgementRow, lot.judgement_id)
    numbers = [skein.number for skein in lot.skeins]
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise InputError(f"lot {lot.name}: skein {twice[0]} is there twice", field="skeins", value=twice[0])
    session.add(
        LotRow(
            id=lot.id,
            run_id=lot.run_id,
            name=lot.name,
            kept_on=lot.kept_on,
            note=lot.note,
            search_text=search_text.casefold(),
            judgement_id=lot.judgement_id,
            skeins=[_skein_row(skein) for skein in lot.skeins],
        )
    )
    session.flush()
    session.expire(run_row, ["lots"])
    return lot


def write_caution(session: Session, lot_id: UUID, number: int, caution: str) -> None:
    """Write the sentence for the buyer onto the label of one skein; an empty one takes it off.

    Raises:
        NotFoundError: the lot, or the skein in it, is not in the studio.
    """
    found(session, SkeinRow, (lot_id, number)).caution = caution.strip()
    session.flush()


def lot(session: Session, lot_id: UUID) -> Lot:
    """Return one lot with its skeins."""
    return _lot(found(session, LotRow, lot_id))


def lots_of_run(session: Session, run_id: UUID) -> list[Lot]:
    """Return the lots that came out of a run, by name."""
    return [_lot(row) for row in session.scalars(select(LotRow).where(LotRow.run_id == run_id).order_by(LotRow.name))]


def lots_of_colourway(session: Session, colourway_id: int) -> list[Lot]:
    """Return the lots that came out of the runs of a colourway, newest first."""
    query = select(LotRow).join(RunRow, RunRow.id == LotRow.run_id).where(RunRow.colourway_id == colourway_id)
    return [_lot(row) for row in session.scalars(query.order_by(LotRow.kept_on.desc(), LotRow.name.desc()))]


def all_lots(session: Session) -> list[tuple[Lot, str]]:
    """Return every lot with its search text, oldest first: what an export takes along."""
    rows = session.scalars(select(LotRow).order_by(LotRow.kept_on, LotRow.name))
    return [(_lot(row), row.search_text) for row in rows]


def search_lots(
    session: Session,
    *,
    words: Sequence[str] = (),
    since: date | None = None,
    until: date | None = None,
    near: Lab | None = None,
    within_de76: float = 10.0,
    limit: int = 100,
) -> list[LotSummary]:
    """Return the lots that hold every word, were kept in the range of days, and have a skein near a colour.

    Nearest first where a colour is given, else newest first.
    """
    nearest = _nearest_squared(near) if near is not None else None
    query = select(LotRow).options(_RUN_IN_SHORT)
    for word in words:
        query = query.where(LotRow.search_text.contains(word.casefold(), autoescape=True))
    if since is not None:
        query = query.where(LotRow.kept_on >= since)
    if until is not None:
        query = query.where(LotRow.kept_on <= until)
    if nearest is not None:
        query = query.join(nearest, nearest.c.lot_id == LotRow.id).where(nearest.c.squared <= within_de76**2)
        query = query.order_by(nearest.c.squared, LotRow.name)
        with_distance = session.execute(query.add_columns(nearest.c.squared).limit(limit))
        return [_summary(row, squared**0.5) for row, squared in with_distance]
    newest = query.order_by(LotRow.kept_on.desc(), LotRow.name.desc()).limit(limit)
    return [_summary(row, None) for row in session.scalars(newest)]


def _nearest_squared(near: Lab) -> Subquery:
    lightness, red_green, yellow_blue = near
    by_l, by_a, by_b = SkeinRow.lab_l - lightness, SkeinRow.lab_a - red_green, SkeinRow.lab_b - yellow_blue
    # CIE 1976 colour difference: the Euclidean distance in CIELAB (ISO/CIE 11664-4).
    squared = func.min(by_l * by_l + by_a * by_a + by_b * by_b).label("squared")
    judged = select(SkeinRow.lot_id, squared).where(SkeinRow.lab_l.is_not(None))
    return judged.group_by(SkeinRow.lot_id).subquery()


def _skein_row(skein: Skein) -> SkeinRow:
    if skein.number < 1 or (skein.mass_g is not None and not skein.mass_g > 0):
        raise InputError(
            f"skein {skein.number}: number and mass must be above 0, got {skein.mass_g} g", field="skeins", limit=0
        )
    return SkeinRow(
        number=skein.number,
        mass_g=skein.mass_g,
        **lab_columns("lab", skein.lab),
        matching_set=skein.matching_set,
        note=skein.note,
        proposed_set=skein.proposed_set,
        caution=skein.caution,
    )


def _skein(row: SkeinRow) -> Skein:
    lab = lab_of(row, "lab")
    return Skein(row.number, row.mass_g, lab, row.matching_set, row.note, row.proposed_set, row.caution)


def _lot(row: LotRow) -> Lot:
    skeins = tuple(_skein(skein) for skein in row.skeins)
    return Lot(row.id, row.run_id, row.name, row.kept_on, row.note, skeins, row.judgement_id)


def _summary(row: LotRow, de76: float | None) -> LotSummary:
    return LotSummary(
        lot=_lot(row),
        run_number=row.run.number,
        run_title=row.run.title,
        base=None if row.run.base is None else row.run.base.name,
        dyes=tuple(dye.name for dye in row.run.dyes),
        de76=de76,
    )
