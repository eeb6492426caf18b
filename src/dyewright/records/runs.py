"""Runs and their events: written once, put right by further events. There is no function that changes or removes."""

import json
from collections.abc import Mapping, Sequence
from uuid import UUID

from sqlalchemy import select, update
from sqlalchemy.orm import Session, defer, undefer

from dyewright.core.model import Event, EventKind, Run, RunSummary
from dyewright.core.progress import run_state
from dyewright.errors import InputError, NotFoundError
from dyewright.records._rows import found, lab_of
from dyewright.records.tables import EventRow, LotRow, RunDyeRow, RunRow, StudioRow

__all__ = ["add_run", "all_runs", "append_event", "list_runs", "next_run_number", "run", "run_numbered"]


def next_run_number(session: Session) -> int:
    """Return the number for a new run, one above the last, and hold it for this transaction.

    Raises:
        NotFoundError: the studio has not begun, so that there is nothing to count in.
    """
    count_up = update(StudioRow).values(last_run_number=StudioRow.last_run_number + 1)
    number: int | None = session.scalar(count_up.returning(StudioRow.last_run_number))
    if number is None:
        raise NotFoundError("this studio has not begun: give it a name first")
    return number


def add_run(session: Session, run: Run) -> Run:
    """Record a run with its events. Its number comes from `next_run_number`."""
    if session.scalar(select(RunRow.id).where(RunRow.number == run.number)) is not None:
        raise InputError(f"run {run.number} is in the studio already", field="number", value=run.number)
    session.add(
        RunRow(
            id=run.id,
            number=run.number,
            title=run.title,
            card_toml=run.card_toml,
            sheet=dict(run.sheet),
            package_version=run.package_version,
            data_version=run.data_version,
            created_at=run.created_at,
            colourway_id=run.colourway_id,
            base_id=run.base_id,
            repeats_run_id=run.repeats_run_id,
            dyes=_dyes_of(run.sheet),
        )
    )
    session.flush()
    session.add_all(_event_row(event) for event in run.events)
    count_at_least = update(StudioRow).where(StudioRow.last_run_number < run.number)
    session.execute(count_at_least.values(last_run_number=run.number))
    session.flush()
    return run


def append_event(session: Session, event: Event) -> tuple[Event, bool]:
    """Record an event, and return it with whether it is new.

    The same event sent again is recorded once, and answered as it was recorded.

    Raises:
        NotFoundError: the run is not in the studio.
        InputError: another event has this id; or the event it corrects cannot be undone.
    """
    run_row = found(session, RunRow, event.run_id)
    stored = session.get(EventRow, event.id)
    if stored is not None:
        if not _says_the_same(stored, event):
            raise InputError(f"event {event.id} is recorded already with another content", value=str(event.id))
        return _event(stored), False
    if event.corrects is not None:
        _refuse_useless_correction(session, event)
    row = _event_row(event)
    session.add(row)
    session.flush()
    session.expire(run_row, ["events"])
    return _event(row), True


def run(session: Session, run_id: UUID) -> Run:
    """Return a run with its sheet and all its events."""
    return _run(found(session, RunRow, run_id))


def run_numbered(session: Session, number: int) -> Run:
    """Return the run with this number."""
    row = session.scalar(select(RunRow).where(RunRow.number == number))
    if row is None:
        raise NotFoundError(f"there is no run {number} in this studio", value=number)
    return _run(row)


def all_runs(session: Session) -> list[Run]:
    """Return every run in full, by number: what an export takes along."""
    return [_run(row) for row in session.scalars(select(RunRow).order_by(RunRow.number).options(undefer(RunRow.sheet)))]


def list_runs(session: Session, *, limit: int = 50, below_number: int | None = None) -> list[RunSummary]:
    """Return the newest runs in short, `limit` of them, older than `below_number` where it is given."""
    query = select(RunRow).order_by(RunRow.number.desc()).limit(limit).options(defer(RunRow.sheet))
    if below_number is not None:
        query = query.where(RunRow.number < below_number)
    return [_summary(row) for row in session.scalars(query)]


def _says_the_same(stored: EventRow, event: Event) -> bool:
    told = (event.run_id, event.kind, event.happened_at, event.corrects, json.dumps(dict(event.detail), sort_keys=True))
    kept = (stored.run_id, stored.kind, stored.happened_at, stored.corrects, json.dumps(stored.detail, sort_keys=True))
    return told == kept


def _refuse_useless_correction(session: Session, event: Event) -> None:
    wrong = session.get(EventRow, event.corrects)
    if wrong is None or wrong.run_id != event.run_id:
        raise InputError("the event to undo is not in this run", field="corrects", value=str(event.corrects))
    if wrong.kind in {EventKind.CORRECTION, EventKind.PLANNED, EventKind.KEPT}:
        raise InputError(f"“{wrong.kind}” cannot be undone; record what is right as a new event", field="corrects")
    if session.scalar(select(EventRow.id).where(EventRow.corrects == event.corrects)) is not None:
        raise InputError("this event is undone already", field="corrects", value=str(event.corrects))


def _dyes_of(sheet: Mapping[str, object]) -> list[RunDyeRow]:
    dyes = sheet.get("dyes")
    if not isinstance(dyes, Sequence):
        return []
    return [
        RunDyeRow(position=position, name=str(dye["name"]), depth_owf=float(dye["depth_owf"]))
        for position, dye in enumerate(dyes)
    ]


def _event_row(event: Event) -> EventRow:
    return EventRow(
        id=event.id,
        run_id=event.run_id,
        kind=event.kind,
        happened_at=event.happened_at,
        recorded_at=event.recorded_at,
        detail=json.loads(json.dumps(dict(event.detail))),  # as it will come back: lists, no tuples
        corrects=event.corrects,
    )


def _event(row: EventRow) -> Event:
    return Event(row.id, row.run_id, row.kind, row.happened_at, row.recorded_at, row.detail, row.corrects)


def _run(row: RunRow) -> Run:
    events = tuple(_event(event) for event in row.events)
    return Run(
        id=row.id,
        number=row.number,
        title=row.title,
        card_toml=row.card_toml,
        sheet=row.sheet,
        package_version=row.package_version,
        data_version=row.data_version,
        created_at=row.created_at,
        state=run_state(events),
        colourway_id=row.colourway_id,
        base_id=row.base_id,
        repeats_run_id=row.repeats_run_id,
        events=events,
    )


def _summary(row: RunRow) -> RunSummary:
    return RunSummary(
        id=row.id,
        number=row.number,
        title=row.title,
        created_at=row.created_at,
        state=run_state([_event(event) for event in row.events]),
        base=None if row.base is None else row.base.name,
        dyes=tuple(dye.name for dye in row.dyes),
        lots=tuple(lot.name for lot in row.lots),
        lab=_mean_lab(row.lots),
        target_lab=None if row.colourway is None else lab_of(row.colourway, "target"),
    )


def _mean_lab(lots: Sequence[LotRow]) -> tuple[float, float, float] | None:
    labs = [lab for lot in lots for skein in lot.skeins if (lab := lab_of(skein, "lab")) is not None]
    if not labs:
        return None
    lightness, red_green, yellow_blue = (sum(axis) / len(labs) for axis in zip(*labs, strict=True))
    return lightness, red_green, yellow_blue
