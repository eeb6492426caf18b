"""Runs: planned, watched at the pot, kept as lots, and repeated."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from dyewright.core.model import Event, EventKind, Outcome, PotView, Receipt
from dyewright.core.progress import progress
from dyewright.errors import InputError
from dyewright.records import runs
from dyewright.services._events import log_lines, read_event

__all__ = ["late_entry", "pot_view", "record_event", "record_events", "undo"]


def record_events(
    session: Session, run_id: UUID, events: Sequence[Mapping[str, object]], *, now: datetime
) -> list[Receipt]:
    """Record a batch as the pot's queue sends it, and return a receipt for each event, in the order they came.

    One that is refused says why and does not hold up the others; one that was had already is answered so.

    Args:
        events: each with `id` (a UUID made by the client), `kind`, `happened_at` (ISO text with its zone), `detail`,
            and `corrects` for a correction.
        now: when the studio got them.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    titles = _step_titles(runs.run(session, run_id).sheet)
    return [_receipt(session, run_id, sent, titles, now) for sent in events]


def record_event(session: Session, run_id: UUID, sent: Mapping[str, object], *, now: datetime) -> Event:
    """Record one event, as a form sends it.

    Raises:
        NotFoundError: the run is not in the studio.
        InputError: the event is refused.
    """
    titles = _step_titles(runs.run(session, run_id).sheet)
    event, _ = _append(session, read_event(run_id, sent, step_titles=titles, now=now))
    return event


def late_entry(
    session: Session,
    run_id: UUID,
    *,
    event_id: UUID,
    kind: EventKind,
    happened_at: datetime,
    detail: Mapping[str, object],
    now: datetime,
) -> Event:
    """Record what the paper sheet says, with its own time."""
    sent = {"id": str(event_id), "kind": kind.value, "happened_at": happened_at, "detail": detail}
    return record_event(session, run_id, sent, now=now)


def undo(session: Session, run_id: UUID, event_id: UUID, *, correction_id: UUID, now: datetime) -> Event:
    """Undo an event by a correction; both stay in the record."""
    sent = {"id": str(correction_id), "kind": "correction", "happened_at": now, "corrects": str(event_id)}
    return record_event(session, run_id, sent, now=now)


def pot_view(session: Session, run_id: UUID, *, now: datetime) -> PotView:
    """Return what the pot screen of a run shows at this instant."""
    run = runs.run(session, run_id)
    seen = progress(run.sheet, run.events, now=now)
    keys = [step.key for step in seen.steps]
    return PotView(
        run_id=run.id,
        number=run.number,
        title=run.title,
        state=seen.state,
        heat_on_at=seen.heat_on_at,
        minutes=seen.minutes,
        current=seen.current,
        index=len(keys) if seen.current is None else keys.index(seen.current.key),
        ends_at=seen.ends_at,
        ahead=seen.ahead,
        steps=seen.steps,
        done=tuple(step.key for step in seen.steps if step.done_at is not None),
        last_temperature_c=seen.temperatures[-1].bath_c if seen.temperatures else None,
        last_clarity=seen.clarities[-1].exhaustion if seen.clarities else None,
        log=log_lines(run.events, _step_titles(run.sheet)),
    )


def _receipt(
    session: Session, run_id: UUID, sent: Mapping[str, object], titles: Mapping[str, str], now: datetime
) -> Receipt:
    name = str(sent.get("id", ""))
    try:
        _, is_new = _append(session, read_event(run_id, sent, step_titles=titles, now=now))
    except InputError as error:
        return Receipt(name, Outcome.REFUSED, error.message)
    return Receipt(name, Outcome.RECORDED if is_new else Outcome.ALREADY_HAD)


def _append(session: Session, event: Event) -> tuple[Event, bool]:
    try:
        with session.begin_nested():
            return runs.append_event(session, event)
    except IntegrityError:  # another connection recorded it in this very moment: now it can be seen
        return runs.append_event(session, event)


def _step_titles(sheet: Mapping[str, Any]) -> dict[str, str]:
    return {step["key"]: step["title"] for step in sheet.get("steps", ())}
