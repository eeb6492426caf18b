"""What the forms of a run's page say: late entries, undoing, repeating, keeping. Each error names its field."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Event, EventKind, Lot, Run, Skein
from dyewright.errors import InputError
from dyewright.services import running
from dyewright.services.run_page import skeins_to_keep

__all__ = ["enter_late", "keep", "repeated", "take_back"]

Form = Mapping[str, str]
POT_FIELD = "pot_"


def enter_late(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Event:
    """Record what the paper sheet says, with its own clock time.

    Raises:
        InputError: a time or a value that cannot be read, or beyond its limits.
    """
    kind = _kind(typed.get("kind", ""))
    return running.late_entry(
        session,
        run_id,
        event_id=_uuid(typed, "id"),
        kind=kind,
        happened_at=_local_time(typed.get("at", "")),
        detail=_detail(kind, typed.get("value", "").strip()),
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
        InputError: no skein is ticked, or a weight or a day cannot be read.
    """
    offered = skeins_to_keep(running.run_view(session, run_id, now=now))
    skeins = [_skein(skein, typed) for skein in offered if f"skein_{skein.number}" in typed]
    return running.keep_lot(
        session,
        run_id,
        lot_id=_uuid(typed, "id"),
        skeins=skeins,
        kept_on=_day(typed.get("kept_on", ""), now),
        now=now,
        name=typed.get("name", ""),
        note=typed.get("note", "").strip(),
    )


def _skein(offered: Skein, typed: Form) -> Skein:
    field = f"mass_{offered.number}"
    mass = typed.get(field, "").strip()
    grams = units.mass_g(mass, field=field, thing=f"skein {offered.number}", default_unit="g") if mass else None
    return replace(
        offered,
        mass_g=None if grams is None else round(Decimal(str(grams)), 3),
        note=typed.get(f"note_{offered.number}", "").strip(),
    )


def _kind(text: str) -> EventKind:
    try:
        return EventKind(text)
    except ValueError:
        raise InputError(f"“{text}” is not something to record", field="kind", value=text) from None


def _detail(kind: EventKind, value: str) -> dict[str, object]:
    match kind:
        case EventKind.TEMPERATURE:
            return {"bath_c": units.temperature_c(value, field="value", thing="bath temperature", default_unit="C")}
        case EventKind.CLARITY:
            return {"exhaustion": _share(value)}
        case EventKind.PH:
            return {"ph": units.ph(value, field="value")}
        case EventKind.ADDITION:
            return {"what": value}
        case _:
            return {"text": value} if value else {}


def _share(text: str) -> float:
    """A share as "87 %", "87" or "7/8"."""
    if "/" in text:
        try:
            return float(Fraction(text.replace(" ", "")))
        except (ValueError, ZeroDivisionError):
            raise InputError(f"“{text}” is not a share; write 7/8 or 87 %", field="value", value=text) from None
    return units.frac(text, field="value", thing="share of dye taken up", bare_percent=True)


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


def _number(text: str, field: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise InputError(f"“{text}” is not one of the choices", field=field, value=text)
    return int(text)
