"""Photos, kept as they came, and the verdicts on them."""

from datetime import datetime
from hashlib import sha256
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Judgement, Photo
from dyewright.errors import InputError
from dyewright.records._rows import found
from dyewright.records.tables import JudgementRow, PhotoContentRow, PhotoRow, RunRow

__all__ = [
    "add_judgement",
    "add_photo",
    "all_judgements",
    "all_photos",
    "judgement",
    "judgements_of_run",
    "photo",
    "photo_content",
    "photos_of_run",
]


def add_photo(
    session: Session,
    content: bytes,
    *,
    photo_id: UUID,
    run_id: UUID | None,
    media_type: str,
    width_px: int,
    height_px: int,
    taken_at: datetime,
) -> Photo:
    """Keep a photo. The client makes `photo_id`: the same photo sent again is kept once.

    Raises:
        InputError: another photo has this id, or there are no bytes.
    """
    if not content:
        raise InputError("the photo is empty (0 bytes); take or choose it again", field="photo", value=0)
    if run_id is not None:
        found(session, RunRow, run_id)
    digest = sha256(content).hexdigest()
    stored = session.get(PhotoRow, photo_id)
    if stored is not None:
        if (stored.sha256, stored.run_id) != (digest, run_id):
            raise InputError(f"another photo is kept already as {photo_id}", field="photo", value=str(photo_id))
        return _photo(stored)
    if session.get(PhotoContentRow, digest) is None:
        session.add(PhotoContentRow(sha256=digest, content=content))
        session.flush()
    row = PhotoRow(
        id=photo_id,
        run_id=run_id,
        media_type=media_type,
        sha256=digest,
        width_px=width_px,
        height_px=height_px,
        taken_at=taken_at,
    )
    session.add(row)
    session.flush()
    return _photo(row)


def photo(session: Session, photo_id: UUID) -> Photo:
    """Return what is known of a photo, without its bytes."""
    return _photo(found(session, PhotoRow, photo_id))


def photo_content(session: Session, photo_id: UUID) -> bytes:
    """Return the bytes of a photo as they came."""
    return found(session, PhotoContentRow, found(session, PhotoRow, photo_id).sha256).content


def photos_of_run(session: Session, run_id: UUID) -> list[Photo]:
    """Return the photos of a run, oldest first."""
    query = select(PhotoRow).where(PhotoRow.run_id == run_id).order_by(PhotoRow.taken_at, PhotoRow.id)
    return [_photo(row) for row in session.scalars(query)]


def all_photos(session: Session) -> list[Photo]:
    """Return every photo, oldest first, without bytes."""
    return [_photo(row) for row in session.scalars(select(PhotoRow).order_by(PhotoRow.taken_at, PhotoRow.id))]


def add_judgement(session: Session, judgement: Judgement) -> Judgement:
    """Keep a verdict on a photo."""
    found(session, PhotoRow, judgement.photo_id)
    session.add(
        JudgementRow(
            id=judgement.id,
            run_id=judgement.run_id,
            photo_id=judgement.photo_id,
            judged_at=judgement.judged_at,
            result=dict(judgement.result),
            package_version=judgement.package_version,
            marks=dict(judgement.marks),
            more_photo_ids=[str(one) for one in judgement.more_photo_ids],
        )
    )
    session.flush()
    return judgement


def judgement(session: Session, judgement_id: UUID) -> Judgement:
    """Return one verdict."""
    return _judgement(found(session, JudgementRow, judgement_id))


def judgements_of_run(session: Session, run_id: UUID) -> list[Judgement]:
    """Return the verdicts on a run's photos, newest first."""
    query = select(JudgementRow).where(JudgementRow.run_id == run_id).order_by(JudgementRow.judged_at.desc())
    return [_judgement(row) for row in session.scalars(query)]


def all_judgements(session: Session) -> list[Judgement]:
    """Return every verdict, oldest first."""
    return [_judgement(row) for row in session.scalars(select(JudgementRow).order_by(JudgementRow.judged_at))]


def _photo(row: PhotoRow) -> Photo:
    return Photo(row.id, row.run_id, row.media_type, row.sha256, row.width_px, row.height_px, row.taken_at)


def _judgement(row: JudgementRow) -> Judgement:
    more = tuple(UUID(one) for one in row.more_photo_ids or ())
    return Judgement(
        row.id, row.run_id, row.photo_id, row.judged_at, row.result, row.package_version, row.marks or {}, more
    )
