"""Photos as the studio keeps them: looked at once, then stored as they came."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Outcome, Photo, Receipt
from dyewright.errors import InputError
from dyewright.photo.load import load_photo
from dyewright.records import photos
from dyewright.services import running

__all__ = ["SeenPhoto", "keep_photo", "look_at", "record_photo"]


@dataclass(frozen=True)
class SeenPhoto:
    """The bytes of a photo that opens as a picture, and what it is."""

    content: bytes
    media_type: str
    width_px: int
    height_px: int


def look_at(content: bytes, *, name: str | None = None) -> SeenPhoto:
    """Return a photo after looking whether it is a picture: the long part, outside any transaction.

    Raises:
        InputError: the bytes are no picture, a broken one, or one too large; the sentence says which.
    """
    seen = load_photo(content, name=name)
    return SeenPhoto(content, seen.media_type, seen.width_px, seen.height_px)


def keep_photo(session: Session, seen: SeenPhoto, *, photo_id: UUID, run_id: UUID | None, taken_at: datetime) -> Photo:
    """Keep a photo's own bytes; the same photo sent again is kept once.

    Raises:
        InputError: another photo is kept under this identifier.
    """
    return photos.add_photo(
        session,
        seen.content,
        photo_id=photo_id,
        run_id=run_id,
        media_type=seen.media_type,
        width_px=seen.width_px,
        height_px=seen.height_px,
        taken_at=taken_at,
    )


def record_photo(
    session: Session, run_id: UUID, seen: SeenPhoto, *, event_id: str, happened_at: str, now: datetime
) -> Receipt:
    """Keep a photo from the pot and record it as an event of the run: both or neither.

    Raises:
        InputError: the identifier or the time cannot be, or another photo has this identifier.
        NotFoundError: the run is not in the studio.
    """
    try:
        photo_id = UUID(event_id)
    except ValueError:
        raise InputError(f"the photo's identifier {event_id!r} is no UUID", field="photo", value=event_id) from None
    keep_photo(session, seen, photo_id=photo_id, run_id=run_id, taken_at=now)
    sent = {"id": event_id, "kind": "photo", "happened_at": happened_at, "detail": {"photo_id": event_id}}
    [receipt] = running.record_events(session, run_id, [sent], now=now)
    if receipt.outcome is Outcome.REFUSED:
        raise InputError(receipt.sentence or "the photo is refused", field="photo")
    return receipt
