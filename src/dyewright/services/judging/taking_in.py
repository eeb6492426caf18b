"""Photos taken in to be judged: looked at, kept, and led to where they are marked or wait."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode
from uuid import UUID, uuid4

from sqlalchemy.orm import Session

from dyewright.core.model import Photo
from dyewright.errors import InputError
from dyewright.records import photos
from dyewright.services.judging.marks import more_photos
from dyewright.services.judging.queue import ask_each
from dyewright.services.photos import SeenPhoto, keep_photo, look_at

__all__ = ["Taken", "look_at_all", "take_in", "take_in_one"]


@dataclass(frozen=True)
class Taken:
    """The photos that were taken in, first to last.

    `is_waiting` where each waits for its verdict by itself; `at_once` where a script sent them, to which what is
    found comes later.
    """

    photo_ids: tuple[UUID, ...]
    is_waiting: bool
    at_once: bool

    @property
    def page(self) -> str:
        """Where they go on: to the list of what waits, or to be marked, at once where the page looks by itself."""
        if self.is_waiting:
            return "/judge/waiting"
        first, *more = self.photo_ids
        asked = {"more": " ".join(str(one) for one in more)} if more else {}
        query = urlencode(asked | ({"at_once": "yes"} if self.at_once else {}))
        return f"/judge/{first}" + (f"?{query}" if query else "")


def look_at_all(files: Sequence[tuple[str | None, bytes]]) -> list[SeenPhoto]:
    """Return photos by name and bytes after looking whether each is a picture: outside any transaction.

    A form whose field of files was left empty sends one without name and bytes, which counts for none.

    Raises:
        InputError: one is no picture; none of them is kept then.
    """
    return [look_at(content, name=name) for name, content in files if name or content]


def take_in(
    session: Session, seen: Sequence[SeenPhoto], typed: Mapping[str, str], run_id: UUID | None, now: datetime
) -> Taken:
    """Keep photos and say how they go on: one is marked, those of one lot together, others wait each by itself.

    Args:
        session: of the studio.
        seen: photos that came with the form.
        typed: the form: `kept` names photos that were sent ahead one by one, `how` is "together" or "each", `at_once`
            stands there where a script sent it.
        run_id: the run they are of.
        now: the present instant.

    Raises:
        InputError: no photo came, too many, or one that is named was never kept.
    """
    ahead = () if not typed.get("kept", "").strip() else _sent_ahead(session, typed["kept"])
    kept = [keep_photo(session, one, photo_id=uuid4(), run_id=run_id, taken_at=now).id for one in seen]
    photo_ids = (*ahead, *kept)
    if not photo_ids:
        raise InputError("no photo was chosen: take one, or choose one or several", field="photo")
    if len(photo_ids) > 1 and typed.get("how", "each") != "together":
        ask_each(session, photo_ids, {}, run_id, now)
        return Taken(photo_ids, is_waiting=True, at_once="at_once" in typed)
    more_photos({"more": " ".join(str(one) for one in photo_ids[1:])})  # refuses too many while nothing is marked yet
    return Taken(photo_ids, is_waiting=False, at_once="at_once" in typed)


def _sent_ahead(session: Session, ids: str) -> tuple[UUID, ...]:
    try:
        named = tuple(dict.fromkeys(UUID(one) for one in ids.split()))
    except ValueError:
        raise InputError(f"{ids!r} names no photos: choose them again", field="photo", value=ids) from None
    return tuple(photos.photo(session, one).id for one in named)


def take_in_one(session: Session, seen: SeenPhoto, sent_id: str, run_id: UUID | None, now: datetime) -> Photo:
    """Keep one photo that is sent ahead of its form; sent twice under one identifier, it is kept once.

    Raises:
        InputError: the identifier is none, or another photo has it.
    """
    try:
        photo_id = UUID(sent_id)
    except ValueError:
        raise InputError(f"the photo's identifier {sent_id!r} is no UUID", field="photo", value=sent_id) from None
    return keep_photo(session, seen, photo_id=photo_id, run_id=run_id, taken_at=now)
