"""The bath's clarity from a photo: the glass of bath beside plain water and the dyer's own ladder of dilutions."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.glasses import PALEST, GlassReading, absorbance, read_glasses
from dyewright.core.model import Event, EventKind, Photo, Shape
from dyewright.core.progress import standing_events
from dyewright.errors import InputError, NotFoundError
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.records import photos, runs, shelf
from dyewright.services import running
from dyewright.services.judging.verdict import box_from_text

__all__ = ["GLASSES", "BathBefore", "GlassPhoto", "bath_before", "keep_reading", "marking_page", "read_photo"]

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
MOST_CLIPPED_FRAC = 0.3
START_KEPT = "The starting bath, photographed beside plain water."
START_KEYS = ("start_red", "start_green", "start_blue")
"""Keys of an event's detail: the absorbance of the starting bath against the water of its photo, a channel each."""


@dataclass(frozen=True)
class BathBefore:
    """What the run knows of its bath: whether it holds several dyes, and its start, where an earlier photo shows it."""

    is_of_several_dyes: bool
    start: tuple[float, float, float] | None


@dataclass(frozen=True)
class GlassPhoto:
    """A photo of glasses, read: `words` say what is in and how sure, `notes` what to know of it.

    `reading` is None where the photo shows the starting bath alone, to be kept for later photos; `start` is its
    absorbance against water, None where the photo does not show it.
    """

    reading: GlassReading | None
    start: tuple[float, float, float] | None
    words: str
    notes: tuple[str, ...]


def marking_page(session: Session, run_id: UUID, photo_id: UUID, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the page for marking the glasses shows.

    Raises:
        NotFoundError: the run has no such photo.
    """
    photo = _photo_of(session, run_id, photo_id)
    before = bath_before(session, run_id)
    return {
        "photo": photo,
        "run": runs.run(session, run_id),
        "glasses": GLASSES,
        "typed": typed,
        "has_start": before.start is not None,
        "is_mixed_bath": before.is_of_several_dyes,
    }


def bath_before(session: Session, run_id: UUID) -> BathBefore:
    """Return what a run says of its bath before a photo of it is read."""
    run = runs.run(session, run_id)
    sheet: Mapping[str, Any] = run.sheet
    names = {str(dye["name"]) for dye in sheet.get("dyes", ())}
    blends = {dye.name for dye in shelf.dyes(session) if dye.is_blend}
    starts = [event.detail for event in standing_events(run.events) if START_KEYS[0] in event.detail]
    return BathBefore(len(names) > 1 or bool(names & blends), _kept_start(starts[-1]) if starts else None)


def _kept_start(detail: Mapping[str, Any]) -> tuple[float, float, float]:
    red, green, blue = (float(detail[key]) for key in START_KEYS)
    return red, green, blue


def read_photo(content: bytes, typed: Mapping[str, str], before: BathBefore) -> GlassPhoto:
    """Return what the marked glasses of a photo say: the long part, outside any transaction.

    Raises:
        InputError: a glass that is needed is not marked, or lies off the photo, or is overexposed.
    """
    photo = load_photo(content)
    seen = {name: _light(photo, typed[name], name, what) for name, what, _ in GLASSES if typed.get(name, "").strip()}
    if WATER not in seen:
        raise InputError("mark the glass with plain water: without it the photo cannot be read", field=WATER)
    ladder = [(share, seen[name]) for name, _, share in GLASSES if share is not None and name in seen]
    start = _start(seen)
    if BATH not in seen:
        return _start_alone(start)
    if start is None and before.start is None:
        raise InputError(
            "the colour of the starting bath is not known, so how much of it is left cannot be told: mark a glass of "
            "it in this photo, or read an earlier photo that shows it beside plain water first",
            field=START,
        )
    if start is None and before.start is not None:
        ladder.append((1.0, seen[WATER] * 10.0 ** -np.array(before.start)))
    try:
        reading = read_glasses(
            seen[BATH],
            seen[WATER],
            ladder,
            is_of_several_dyes=before.is_of_several_dyes,
            is_start_of_other_photo=start is None,
        )
    except InputError as error:
        raise InputError(error.message, field=START, value=error.value, limit=error.limit) from error
    return GlassPhoto(reading, start, _words(reading), _notes(reading, is_start_kept=start is None))


def keep_reading(
    session: Session, run_id: UUID, photo_id: UUID, read: GlassPhoto, *, event_id: str, now: datetime
) -> Event:
    """Record the reading as a look at the bath, at the time of its photo; a start alone as a note.

    Raises:
        NotFoundError: the run has no such photo.
    """
    photo = _photo_of(session, run_id, photo_id)
    detail: dict[str, object] = {"photo_id": str(photo_id)}
    if read.start is not None:
        detail |= dict(zip(START_KEYS, (round(value, 4) for value in read.start), strict=True))
    if read.reading is None:
        kind, detail["text"] = "note", START_KEPT
    else:
        kind, detail["text"] = "clarity", "from a photo"
        detail |= {
            "exhaustion": round(read.reading.exhaustion.mid or 0.0, 3),
            "sd_rungs": round(read.reading.sd_rungs, 2),
        }
    sent = {"id": event_id, "kind": kind, "happened_at": _taken_at(session, run_id, photo), "detail": detail}
    return running.record_event(session, run_id, sent, now=now)


def _start(seen: Mapping[str, NDArray[np.float64]]) -> tuple[float, float, float] | None:
    if START not in seen:
        return None
    red, green, blue = absorbance(seen[START], seen[WATER]).tolist()
    return red, green, blue


def _start_alone(start: tuple[float, float, float] | None) -> GlassPhoto:
    """Return a photo of the starting bath beside water: nothing is read yet, later photos need it no more."""
    if start is None:
        raise InputError(
            "mark the glass with the bath: without it the photo cannot be read. At the start of a pot, mark the "
            "starting bath and plain water: later photos then need no more than water beside the bath",
            field=BATH,
        )
    if max(start) < PALEST:
        raise InputError(
            f"the starting bath is as pale as the water in this photo (absorbance {max(start):.2f}, at least {PALEST} "
            "is needed): photograph taller glasses on white paper, or read the bath by eye",
            field=START,
            value=max(start),
            limit=PALEST,
        )
    words = "The starting bath is known."
    return GlassPhoto(None, start, words, ("From now on a photo of the bath beside plain water is enough.",))


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
    about = "about " if reading.is_rough else ""
    return f"{about}{mid:.0f} % of the dye is in ({low:.0f}–{high:.0f})"


def _notes(reading: GlassReading, *, is_start_kept: bool) -> tuple[str, ...]:
    notes = []
    if reading.is_rough:
        notes.append(
            "Several dyes are in this bath, or a blend. They go in unequally and colour unequally, so a photo tells "
            "all of them together only roughly: to 15 % at best."
        )
    if reading.is_mixed:
        notes.append(
            "The bath has changed its hue against the start: its dyes have gone in unequally. The figure speaks for "
            "all of them together and is rough."
        )
    if is_start_kept:
        notes.append(
            "The starting bath is the one of an earlier photo: photograph with the same phone, glasses and light."
        )
    if not reading.has_ladder:
        notes.append("Without diluted glasses beside it the reading is rough: a phone bends light and dark.")
    return tuple(notes)
