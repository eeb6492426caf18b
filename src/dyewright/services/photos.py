"""Photos as the studio keeps them: looked at once, then stored as they came."""

from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Outcome, Photo, Receipt
from dyewright.errors import InputError
from dyewright.photo.load import load_photo
from dyewright.records import photos
from dyewright.services import running

__all__ = ["keep_photo", "record_photo"]


def keep_photo(
    session: Session,
    content: bytes,
    *,
    photo_id: UUID,
    run_id: UUID | None,
    taken_at: datetime,
    name: str | None = None,
) -> Photo:
    """Keep a photo's own bytes, after looking whether they are a picture; the same photo sent again is kept once.

    Raises:
        InputError: the bytes are no picture, a broken one, or one too large; the sentence says which.
    """
    seen = load_photo(content, name=name)
    return photos.add_photo(
        session,
        content,
        photo_id=photo_id,
        run_id=run_id,
        media_type=seen.media_type,
        width_px=seen.width_px,
        height_px=seen.height_px,
        taken_at=taken_at,
    )


def record_photo(
    session: Session, run_id: UUID, content: bytes, *, event_id: str, happened_at: str, now: datetime
) -> Receipt:
    """Keep a photo from the pot and record it as an event of the run; the answer is that of the pot's queue.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    try:
        photo_id = UUID(event_id)
        with session.begin_nested():
            keep_photo(session, content, photo_id=photo_id, run_id=run_id, taken_at=now)
    except InputError as error:
        return Receipt(event_id, Outcome.REFUSED, error.message)
    except ValueError:
        return Receipt(event_id, Outcome.REFUSED, f"the photo's identifier {event_id!r} is no UUID")
    sent = {"id": event_id, "kind": "photo", "happened_at": happened_at, "detail": {"photo_id": event_id}}
    return running.record_events(session, run_id, [sent], now=now)[0]
