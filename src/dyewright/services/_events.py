"""Events as a client sends them: read, checked, and put into words."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from dyewright.core.model import Event, EventKind, LogLine
from dyewright.core.progress import standing_events
from dyewright.errors import InputError

__all__ = ["ABOUT", "WATER", "is_remark", "log_lines", "read_event"]

ABOUT = "about"  # key of a detail: the entry that an answer is for
WATER = "water"  # key of a detail: which water still coloured

RECORDED_BY_THE_STUDIO = {EventKind.PLANNED, EventKind.JUDGED, EventKind.KEPT, EventKind.FORETOLD}
NOT_UNDONE = {EventKind.PLANNED, EventKind.KEPT, EventKind.FORETOLD, EventKind.CORRECTION}
LONGEST_TEXT = 4000
MOST_DETAILS = 20
CLOCK_MAY_BE_AHEAD = timedelta(minutes=15)
EARLIEST = datetime(1950, 1, 1, tzinfo=UTC)  # an old notebook may be entered; a zero clock may not
NUMBERS = {  # key of the detail, what it is called, lowest, highest, unit
    EventKind.TEMPERATURE: ("bath_c", "bath temperature", 0.0, 140.0, " °C"),  # 140 °C: a pressure vessel's limit
    EventKind.CLARITY: ("exhaustion", "share of dye taken up", 0.0, 1.0, ""),
    EventKind.PH: ("ph", "pH", 0.0, 14.0, ""),
    EventKind.RINSED: ("rinses", "number of rinses", 1.0, 40.0, ""),
}
TEXTS = {
    EventKind.STEP_DONE: ("step", "the step that was done"),
    EventKind.ADDITION: ("what", "what was added"),
    EventKind.NOTE: ("text", "the note"),
    EventKind.PHOTO: ("photo_id", "the photo"),
}


def read_event(run_id: UUID, sent: Mapping[str, object], *, step_titles: Mapping[str, str], now: datetime) -> Event:
    """Return an event from what a client sent: `id`, `kind`, `happened_at`, and `detail` or `corrects`.

    Raises:
        InputError: something is missing or beyond its limits.
    """
    kind = _kind(sent.get("kind"))
    detail = _detail(sent.get("detail"))
    if kind in NUMBERS:
        detail |= _number(kind, detail)
    if kind is EventKind.CLARITY and detail.get("bath_c") is not None:
        detail |= _number(EventKind.TEMPERATURE, detail)
    if kind in TEXTS:
        _require_text(kind, detail)
    if kind is EventKind.STEP_DONE and detail["step"] not in step_titles:
        raise InputError(f"the sheet of this run has no step “{detail['step']}”", field="step", value=detail["step"])
    is_correction = kind is EventKind.CORRECTION
    return Event(
        id=_uuid(sent.get("id"), "id"),
        run_id=run_id,
        kind=kind,
        happened_at=_instant(sent.get("happened_at"), now),
        recorded_at=now,
        detail=detail,
        corrects=_uuid(sent.get("corrects"), "corrects") if is_correction else None,
    )


def log_lines(events: tuple[Event, ...], step_titles: Mapping[str, str]) -> tuple[LogLine, ...]:
    """Return the events as lines to read, newest first; corrections show as the mark on the line that they undo.

    What was foretold has its own place beside what was seen.
    """
    standing = {event.id for event in standing_events(events)}
    shown = [event for event in events if event.kind not in {EventKind.CORRECTION, EventKind.FORETOLD}]
    return tuple(
        LogLine(
            id=event.id,
            kind=event.kind,
            happened_at=event.happened_at,
            recorded_at=event.recorded_at,
            words=_words(event, step_titles),
            is_undone=event.id not in standing,
            can_undo=event.id in standing and event.kind not in NOT_UNDONE,
        )
        for event in sorted(shown, key=lambda event: (event.happened_at, event.recorded_at), reverse=True)
    )


def is_remark(event: Event) -> bool:
    """Whether a note is the dyer's own words, not an answer to a question nor a count of waters."""
    return not {ABOUT, WATER} & event.detail.keys()


def _words(event: Event, step_titles: Mapping[str, str]) -> str:
    detail: Mapping[str, Any] = event.detail
    match event.kind:
        case EventKind.STEP_DONE:
            said = f"done: {step_titles.get(detail['step'], detail['step'])}"
        case EventKind.TEMPERATURE:
            said = f"bath at {detail['bath_c']:.3g} °C" + (f", knob at {detail['knob']}" if detail.get("knob") else "")
        case EventKind.CLARITY:
            said = f"{detail['exhaustion']:.0%} of the dye is in".replace("%", " %")
            said += f" at {detail['bath_c']:.3g} °C" if detail.get("bath_c") is not None else ""
        case EventKind.PH:
            said = f"pH {detail['ph']:.3g}"
        case EventKind.ADDITION:
            said = f"added: {detail['what']}" + (f", {detail['amount']}" if detail.get("amount") else "")
        case EventKind.NOTE:
            return str(detail["text"])
        case EventKind.RINSED:
            said = f"clear in rinse {detail['rinses']:.0f}"
        case EventKind.STARTED:
            said = "heat on"
        case EventKind.KEPT:
            said = "lot kept"
        case _:
            said = event.kind.value
    return f"{said}: {detail['text']}" if detail.get("text") else said


def _kind(sent: object) -> EventKind:
    try:
        kind = EventKind(str(sent))
    except ValueError:
        kind = None
    if kind is None or kind in RECORDED_BY_THE_STUDIO:
        known = ", ".join(kind for kind in EventKind if kind not in RECORDED_BY_THE_STUDIO)
        raise InputError(f"“{sent}” is not something to record; it can be {known}", field="kind", value=str(sent))
    return kind


def _detail(sent: object) -> dict[str, object]:
    if sent is None:
        return {}
    if not isinstance(sent, Mapping) or len(sent) > MOST_DETAILS:
        raise InputError(f"the detail must be at most {MOST_DETAILS} named values", field="detail", limit=MOST_DETAILS)
    return {_clean_text("name of a detail", str(key)): _plain_value(str(key), value) for key, value in sent.items()}


def _plain_value(key: str, value: object) -> object:
    match value:
        case str():
            return _clean_text(key, value)
        case None | bool():
            return value
        case int() | float() if -1e15 < value < 1e15:  # NaN and the infinities fail this too
            return value
    raise InputError(f"{key} must be text or a number", field=key)


def _clean_text(key: str, text: str) -> str:
    if len(text) > LONGEST_TEXT:
        raise InputError(
            f"{key} has {len(text)} characters; at most {LONGEST_TEXT} fit: split it into two",
            field=key,
            value=len(text),
            limit=LONGEST_TEXT,
        )
    # A lone half of a character pair cannot be kept, nor can the null character: both become the mark for it.
    return text.replace("\0", "\ufffd").encode("utf-16", "surrogatepass").decode("utf-16", "replace").strip()


def _number(kind: EventKind, detail: Mapping[str, object]) -> dict[str, object]:
    key, thing, low, high, unit = NUMBERS[kind]
    value = detail.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"the {thing} is missing; give a number from {low:g} to {high:g}{unit}", field=key)
    if not low <= value <= high:
        raise InputError(
            f"a {thing} of {value:g}{unit} is outside {low:g} to {high:g}{unit}; put it right and send it again",
            field=key,
            value=value,
            limit=(low, high),
        )
    return {key: float(value)}


def _require_text(kind: EventKind, detail: Mapping[str, object]) -> None:
    key, thing = TEXTS[kind]
    if not isinstance(detail.get(key), str) or not detail[key]:
        raise InputError(f"{thing} is missing; say it and send it again", field=key)


def _uuid(sent: object, field: str) -> UUID:
    try:
        return UUID(str(sent))
    except ValueError:
        raise InputError(f"{field} must be a UUID made by the sender, got “{sent}”", field=field) from None


def _instant(sent: object, now: datetime) -> datetime:
    try:
        instant = sent if isinstance(sent, datetime) else datetime.fromisoformat(str(sent))
    except ValueError:
        raise InputError(
            f"“{sent}” is not a time; write it like 2026-03-01T14:05:00+00:00", field="happened_at", value=str(sent)
        ) from None
    if instant.tzinfo is None:
        raise InputError(f"the time {sent} has no zone; add Z or +01:00", field="happened_at", value=str(sent))
    if not EARLIEST <= instant <= now + CLOCK_MAY_BE_AHEAD:
        raise InputError(
            f"{instant:%Y-%m-%d %H:%M} lies ahead or before 1950; check the date and the phone's clock",
            field="happened_at",
            value=str(sent),
            limit=now,
        )
    return instant.astimezone(UTC)
