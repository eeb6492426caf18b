"""The bath's clarity from a photo: the glass of bath beside plain water and the dyer's own ladder of dilutions."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.glasses import GlassReading, read_glasses
from dyewright.core.model import Event, EventKind, Photo, Shape
from dyewright.core.progress import standing_events
from dyewright.errors import InputError, NotFoundError
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.records import photos, runs
from dyewright.services import running
from dyewright.services.judging.verdict import box_from_text

__all__ = ["GLASSES", "GlassPhoto", "keep_reading", "marking_page", "read_photo"]

GLASSES = (  # the field, what stands in the glass, and the share of the starting bath in it (None: not of the ladder)
    ("glass_1", "the bath now", None),
    ("glass_2", "plain water", None),
    ("glass_3", "the starting bath", 1.0),
    ("glass_4", "½ of it", 0.5),
    ("glass_5", "¼", 0.25),
    ("glass_6", "⅛", 0.125),
    ("glass_7", "1/16", 0.0625),
)
BATH, WATER, START = "glass_1", "glass_2", "glass_3"
NEEDED = {BATH: "the bath", WATER: "plain water", START: "the starting bath"}
MOST_CLIPPED_FRAC = 0.3


@dataclass(frozen=True)
class GlassPhoto:
    """A photo of glasses, read: `words` say what is in and how sure, `notes` what to know of it."""

    reading: GlassReading
    words: str
    notes: tuple[str, ...]


def marking_page(session: Session, run_id: UUID, photo_id: UUID, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the page for marking the glasses shows.

    Raises:
        NotFoundError: the run has no such photo.
    """
    photo = _photo_of(session, run_id, photo_id)
    return {"photo": photo, "run": runs.run(session, run_id), "glasses": GLASSES, "typed": typed}


def read_photo(content: bytes, typed: Mapping[str, str]) -> GlassPhoto:
    """Return what the marked glasses of a photo say: the long part, outside any transaction.

    Raises:
        InputError: a glass that is needed is not marked, or lies off the photo, or is overexposed.
    """
    photo = load_photo(content)
    seen = {name: _light(photo, typed[name], name, what) for name, what, _ in GLASSES if typed.get(name, "").strip()}
    for name, what in NEEDED.items():
        if name not in seen:
            raise InputError(f"mark the glass with {what}: without it the photo cannot be read", field=name)
    ladder = [(share, seen[name]) for name, _, share in GLASSES if share is not None and name in seen]
    try:
        reading = read_glasses(seen[BATH], seen[WATER], ladder)
    except InputError as error:
        raise InputError(error.message, field=START, value=error.value, limit=error.limit) from error
    return GlassPhoto(reading, _words(reading), _notes(reading))


def keep_reading(
    session: Session, run_id: UUID, photo_id: UUID, read: GlassPhoto, *, event_id: str, now: datetime
) -> Event:
    """Record the reading as a look at the bath, at the time of its photo.

    Raises:
        NotFoundError: the run has no such photo.
    """
    photo = _photo_of(session, run_id, photo_id)
    detail = {
        "exhaustion": round(read.reading.exhaustion.mid or 0.0, 3),
        "sd_rungs": round(read.reading.sd_rungs, 2),
        "photo_id": str(photo_id),
        "text": "from a photo",
    }
    sent = {"id": event_id, "kind": "clarity", "happened_at": _taken_at(session, run_id, photo), "detail": detail}
    return running.record_event(session, run_id, sent, now=now)


def _photo_of(session: Session, run_id: UUID, photo_id: UUID) -> Photo:
    photo = photos.photo(session, photo_id)
    if photo.run_id != run_id:
        raise NotFoundError(f"this run has no photo {photo_id}", value=photo_id)
    return photo


def _taken_at(session: Session, run_id: UUID, photo: Photo) -> datetime:
    """Return when the photo was taken at the pot, as its event says; else when the studio got it."""
    for event in standing_events(runs.run(session, run_id).events):
        if event.kind is EventKind.PHOTO and event.detail.get("photo_id") == str(photo.id):
            return event.happened_at
    return photo.taken_at


def _light(photo: LoadedPhoto, text: str, name: str, what: str) -> NDArray[np.float64]:
    """Return the linear light of a glass: the median of its box."""
    try:
        box = box_from_text(text)
        pixels, clipped = _inside(photo, box)
    except InputError as error:
        raise InputError(f"{what}: {error.message}", field=name, value=error.value, limit=error.limit) from error
    if clipped > MOST_CLIPPED_FRAC:
        raise InputError(
            f"{what} is overexposed: {100 * clipped:.0f} % of its pixels are clipped, the limit is "
            f"{100 * MOST_CLIPPED_FRAC:.0f} %: photograph the glasses with less exposure",
            field=name,
            value=clipped,
            limit=MOST_CLIPPED_FRAC,
        )
    return np.asarray(np.median(pixels, axis=0), float)


def _inside(photo: LoadedPhoto, box: Shape) -> tuple[NDArray[np.float32], float]:
    """Return a box's pixels, and the share of them that is clipped."""
    n = photo.reduction
    left, top, right, bottom = box.sides
    if left < 0 or top < 0 or right > photo.width_px or bottom > photo.height_px:
        raise InputError(
            f"the box reaches beyond the photo of {photo.width_px} × {photo.height_px} pixels: draw it in the glass",
            value=(right, bottom),
            limit=(photo.width_px, photo.height_px),
        )
    rows = slice(int(top / n), max(int(bottom / n), int(top / n) + 1))
    columns = slice(int(left / n), max(int(right / n), int(left / n) + 1))
    return photo.linear[rows, columns].reshape(-1, 3), float(photo.clipped[rows, columns].mean())


def _words(reading: GlassReading) -> str:
    mid, low, high = (100 * (value or 0.0) for value in vars(reading.exhaustion).values())
    return f"{mid:.0f} % of the dye is in ({low:.0f}–{high:.0f})"


def _notes(reading: GlassReading) -> tuple[str, ...]:
    notes = []
    if reading.is_mixed:
        notes.append(
            "The bath has changed its hue against the start: its dyes have gone in unequally. The figure speaks for "
            "all of them together and is rough."
        )
    if not reading.has_ladder:
        notes.append("Without diluted glasses beside it the reading is rough: a phone bends light and dark.")
    return tuple(notes)
