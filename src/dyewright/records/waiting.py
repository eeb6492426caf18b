"""Photos that wait for their verdict."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from dyewright.core.model import PhotoWork, WorkState
from dyewright.records._rows import found
from dyewright.records.tables import PhotoRow, PhotoWorkRow

__all__ = ["add_work", "finish_work", "latest_work", "photo_work", "put_back", "take_next"]


def add_work(session: Session, work: PhotoWork) -> PhotoWork:
    """Ask for a verdict on photos that are kept already; asked twice with one id, it is asked once.

    Raises:
        NotFoundError: a photo is not in the studio.
    """
    for photo_id in work.photo_ids:
        found(session, PhotoRow, photo_id)
    stored = session.get(PhotoWorkRow, work.id)
    if stored is not None:
        return _work(stored)
    row = PhotoWorkRow(
        id=work.id,
        run_id=work.run_id,
        photo_ids=[str(one) for one in work.photo_ids],
        marks=dict(work.marks),
        state=work.state,
        asked_at=work.asked_at,
        done_at=work.done_at,
        judgement_id=work.judgement_id,
        sentence=work.sentence,
    )
    session.add(row)
    session.flush()
    return _work(row)


def photo_work(session: Session, work_id: UUID) -> PhotoWork:
    """Return one piece of work."""
    return _work(found(session, PhotoWorkRow, work_id))


def latest_work(session: Session, limit: int = 20) -> list[PhotoWork]:
    """Return what was asked for last, newest first."""
    query = select(PhotoWorkRow).order_by(PhotoWorkRow.asked_at.desc(), PhotoWorkRow.id).limit(limit)
    return [_work(row) for row in session.scalars(query)]


def take_next(session: Session) -> PhotoWork | None:
    """Return the work that has waited longest and mark it as begun, so that no other worker takes it; None where none.

    Two workers may look at once: only the one whose update finds it still waiting has it.
    """
    waiting = select(PhotoWorkRow.id).where(PhotoWorkRow.state == WorkState.WAITING).order_by(PhotoWorkRow.asked_at)
    for work_id in session.scalars(waiting).all():
        is_mine = (PhotoWorkRow.id == work_id) & (PhotoWorkRow.state == WorkState.WAITING)
        taken = session.execute(update(PhotoWorkRow).where(is_mine).values(state=WorkState.WORKING))
        if taken.rowcount:  # type: ignore[attr-defined]  # a result of an update has it
            row = found(session, PhotoWorkRow, work_id)
            session.refresh(row)
            return _work(row)
    return None


def finish_work(
    session: Session, work_id: UUID, *, done_at: datetime, judgement_id: UUID | None = None, sentence: str = ""
) -> PhotoWork:
    """Record how a piece of work ended: with a verdict, or refused with a sentence."""
    row = found(session, PhotoWorkRow, work_id)
    row.state = WorkState.DONE if judgement_id is not None else WorkState.REFUSED
    row.done_at, row.judgement_id, row.sentence = done_at, judgement_id, sentence
    session.flush()
    return _work(row)


def put_back(session: Session) -> None:
    """Let what was begun and never ended wait again: the program stopped in the middle of it."""
    begun = update(PhotoWorkRow).where(PhotoWorkRow.state == WorkState.WORKING)
    session.execute(begun.values(state=WorkState.WAITING))


def _work(row: PhotoWorkRow) -> PhotoWork:
    return PhotoWork(
        id=row.id,
        photo_ids=tuple(UUID(one) for one in row.photo_ids),
        asked_at=row.asked_at,
        run_id=row.run_id,
        marks=row.marks,
        state=row.state,
        done_at=row.done_at,
        judgement_id=row.judgement_id,
        sentence=row.sentence,
    )
