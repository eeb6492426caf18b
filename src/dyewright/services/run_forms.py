"""What the forms of a run's page say: late entries, undoing, repeating, keeping. Each error names its field."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Event, EventKind, Lot, Run
from dyewright.errors import InputError
from dyewright.records import runs
from dyewright.services import running
from dyewright.services.forecasting.seen import share_taken_up
from dyewright.services.keep_form import kept_from, kept_skeins
from dyewright.services.questions import SureLimits, ask_or_refuse, sure_limits

__all__ = ["enter_late", "keep", "repeated", "take_back"]

Form = Mapping[str, str]
POT_FIELD = "pot_"


def enter_late(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Event:
    """Record what the paper sheet says, with its own clock time; ticked `sure`, a value that can hardly be too.

    Raises:
        InputError: a time or a value that cannot be read, beyond its limits, or called into question.
    """
    kind = _kind(typed.get("kind", ""))
    sheet: Mapping[str, Any] = runs.run(session, run_id).sheet
    limits = None if "sure" in typed else sure_limits(sheet.get("ph_closed"))
    return running.late_entry(
        session,
        run_id,
        event_id=_uuid(typed, "id"),
        kind=kind,
        happened_at=_local_time(typed.get("at", "")),
        detail=_detail(kind, typed.get("value", "").strip(), limits),
        now=now,
    )


def take_back(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Event:
    """Undo an event by a correction."""
    return running.undo(session, run_id, _uuid(typed, "corrects"), correction_id=_uuid(typed, "id"), now=now)


def repeated(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Run:
    """Return the run planned again on what is typed: `dry`, `base`, and ticked pots; not kept yet.

    What is left empty stays as it was.

    Raises:
        InputError: a weight that cannot be read, or a lot that does not fit.
    """
    dry, base = typed.get("dry", "").strip(), typed.get("base", "")
    return running.repeated_run(
        session,
        run_id,
        now=now,
        new_run_id=_uuid(typed, "id"),
        dry_g=units.mass_g(dry, field="dry", thing="dry weight", default_unit="g") if dry else None,
        base_id=_number(base, "base") if base else None,
        vessel_ids=[_number(name.removeprefix(POT_FIELD), "pots") for name in typed if name.startswith(POT_FIELD)],
    )


def keep(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Lot:
    """File the ticked skeins as a lot.

    Raises:
        InputError: no skein is ticked, or a weight, a set or a day cannot be read.
    """
    view = running.run_view(session, run_id, now=now)
    return running.keep_lot(
        session,
        run_id,
        lot_id=_uuid(typed, "id"),
        skeins=kept_skeins(view, typed),
        kept_on=_day(typed.get("kept_on", ""), now),
        now=now,
        name=typed.get("name", ""),
        note=typed.get("note", "").strip(),
        judgement_id=kept_from(view, typed),
    )


def _kind(text: str) -> EventKind:
    try:
        return EventKind(text)
    except ValueError:
        raise InputError(f"“{text}” is not something to record", field="kind", value=text) from None


def _detail(kind: EventKind, value: str, limits: SureLimits | None) -> dict[str, object]:
    """Return what an entry says; without limits its value is taken as it is typed."""
    match kind:
        case EventKind.TEMPERATURE:
            return _temperature(value, limits)
        case EventKind.CLARITY:
            return _clarity(value, limits)
        case EventKind.PH:
            return {"ph": _sure("ph", _ph(value), limits)}
        case EventKind.RINSED:
            return {"rinses": _sure("rinsed", _number(value, "value", "a count of waters"), limits)}
        case EventKind.ADDITION:
            return {"what": value}
        case _:
            return {"text": value} if value else {}


def _sure(kind: str, number: float, limits: SureLimits | None) -> float:
    if limits is not None:
        ask_or_refuse(kind, number, limits, field="value")
    return number


def _bath_c(text: str, limits: SureLimits | None) -> float:
    bath_c = units.temperature_c(text, field="value", thing="bath temperature", default_unit="C")
    return _sure("temperature", bath_c, limits)


def _temperature(value: str, limits: SureLimits | None) -> dict[str, object]:
    """A temperature, and the knob where it is said: "88 C, knob 5 of 9"."""
    words, _, knob = value.partition("knob")
    detail: dict[str, object] = {"bath_c": _bath_c(words.strip(" ,;"), limits)}
    return detail | ({"knob": knob.strip(" :")} if knob.strip(" :") else {})


def _clarity(value: str, limits: SureLimits | None) -> dict[str, object]:
    """A look at the bath, and its temperature where only that was noted: "1/2 at 68 C"."""
    share, _, at = value.partition(" at ")
    detail: dict[str, object] = {"exhaustion": share_taken_up(share, field="value", is_bare_percent=True)}
    return detail | ({"bath_c": _bath_c(at.strip(), limits)} if at.strip() else {})


def _ph(text: str) -> float:
    """A pH as it is typed, even off the scale: the question about it says so."""
    try:
        return float(text.lower().removeprefix("ph").strip().replace(",", "."))
    except ValueError:
        return units.ph(text, field="value")  # refuses it in its own words


def _local_time(text: str) -> datetime:
    """A clock time as a form gives it, in this machine's own time zone."""
    try:
        return datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError):
        raise InputError(f"“{text}” is not a day and time; write 2026-03-01 14:05", field="at", value=text) from None


def _day(text: str, now: datetime) -> date:
    try:
        return date.fromisoformat(text) if text else now.astimezone().date()
    except ValueError:
        raise InputError(f"“{text}” is not a day; write it like 2026-03-01", field="kept_on", value=text) from None


def _uuid(typed: Form, field: str) -> UUID:
    try:
        return UUID(typed.get(field, ""))
    except ValueError:
        raise InputError("this form has lost its identifier; load the page again", field=field) from None


def _number(text: str, field: str, thing: str = "one of the choices") -> int:
    if not text.isascii() or not text.isdigit():
        raise InputError(f"“{text}” is not {thing}", field=field, value=text)
    return int(text)
