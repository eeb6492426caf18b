"""Runs: planned, watched at the pot, kept as lots, and repeated."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import (
    Base,
    Event,
    EventKind,
    Judgement,
    LogLine,
    Lot,
    Outcome,
    Photo,
    PotView,
    Progress,
    Receipt,
    Run,
    Skein,
)
from dyewright.core.progress import progress, standing_events
from dyewright.data.version import shipped_data_version
from dyewright.errors import InputError, NotFoundError
from dyewright.files.cards import write_card
from dyewright.records import lots, photos, runs, shelf
from dyewright.services import lotbook, planning
from dyewright.services._events import log_lines, read_event
from dyewright.services.foreseen import foreseen_plan
from dyewright.services.heat_ups import pot_as_learnt
from dyewright.services.learning.keeping import foretold_before, keep_what_it_taught
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.plain import plain
from dyewright.services.repeating import repeated_card

__all__ = [
    "RunView",
    "judged_skeins",
    "keep_lot",
    "keep_run",
    "late_entry",
    "photos_of",
    "planned_run",
    "planned_skeins",
    "pot_view",
    "record_event",
    "record_events",
    "repeated_run",
    "run_view",
    "undo",
]

NOT_NUMBERED = 0  # of a run that is planned and not kept
A_MOMENT = timedelta(microseconds=1)  # what is foretold of a plan follows it in the record


@dataclass(frozen=True)
class RunView:
    """Everything that a run's page shows. `repeats` is the run that this one repeats."""

    run: Run
    progress: Progress
    log: tuple[LogLine, ...]
    base: Base | None
    photos: tuple[Photo, ...]
    judgements: tuple[Judgement, ...]
    lots: tuple[Lot, ...]
    repeats: Run | None


def planned_run(
    session: Session,
    *,
    card_toml: str,
    now: datetime,
    run_id: UUID | None = None,
    colourway_id: int | None = None,
    base_id: int | None = None,
    repeats_run_id: UUID | None = None,
    notes: Sequence[str] = (),
    is_foretold: bool = True,
) -> Run:
    """Return a run as it is planned from a card, with its sheet and what computed it: not kept, so without a number.

    This is the long part, and only reads; `keep_run` is the short one that writes.

    Args:
        session: of the studio.
        card_toml: the card as the dyer gave it.
        now: the present instant.
        run_id: made by the client, so that a form sent twice makes one run.
        colourway_id: the colourway that it is dyed to.
        base_id: the base of the shelf that goes into the pot.
        repeats_run_id: the run that it repeats.
        notes: sentences to put before the sheet's own.
        is_foretold: whether what is expected of it is kept with it, to be held against what will be seen.

    Raises:
        InputError: the card cannot be read, or planned.
    """
    settings = shelf.studio_settings(session)
    sheet = foreseen_plan(planning.read_card(card_toml, settings), settings, learnt=partial(learnt_for, session))
    new_id = run_id or uuid4()
    values: Any = plain(sheet)
    values["notes"] = [*notes, *values["notes"]]
    events = [Event(new_id, new_id, EventKind.PLANNED, now, now)]
    if is_foretold:
        events.append(foretold_before(session, new_id, sheet, at=now + A_MOMENT))
    return Run(
        id=new_id,
        number=NOT_NUMBERED,
        title=sheet.title,
        card_toml=card_toml,
        sheet=values,
        package_version=dyewright.__version__,
        data_version=shipped_data_version(),
        created_at=now,
        colourway_id=colourway_id,
        base_id=base_id,
        repeats_run_id=repeats_run_id,
        events=tuple(events),
    )


def repeated_run(
    session: Session,
    run_id: UUID,
    *,
    now: datetime,
    new_run_id: UUID | None = None,
    dry_g: float | None = None,
    base_id: int | None = None,
    vessel_ids: Sequence[int] = (),
) -> Run:
    """Return a run planned again on another weight, base or pots, everything recomputed; not kept, as `planned_run`.

    What is not said stays as it was.

    Raises:
        InputError: the lot does not fit the pots, or there is no yarn.
        NotFoundError: the run, base or vessel is not in the studio.
    """
    before = runs.run(session, run_id)
    settings = shelf.studio_settings(session)
    changed = repeated_card(
        planning.read_card(before.card_toml, settings),
        dry_g=dry_g,
        base=None if base_id is None else shelf.base(session, base_id),
        pots=[pot_as_learnt(session, shelf.vessel(session, vessel_id)) for vessel_id in vessel_ids],
    )
    return planned_run(
        session,
        card_toml=write_card(changed.card),
        now=now,
        run_id=new_run_id,
        colourway_id=before.colourway_id,
        base_id=before.base_id if base_id is None else base_id,
        repeats_run_id=before.id,
        notes=(f"Repeats run {before.number}.", *changed.notes),
    )


def keep_run(session: Session, planned: Run) -> Run:
    """Keep a planned run under the next number; one that is kept already stays as it is.

    Raises:
        NotFoundError: the studio has not begun.
    """
    kept = _run_or_none(session, planned.id)
    return kept or runs.add_run(session, replace(planned, number=runs.next_run_number(session)))


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
    receipts = [_receipt(session, run_id, sent, titles, now) for sent in events]
    keep_what_it_taught(session, run_id, now=now)
    return receipts


def record_event(session: Session, run_id: UUID, sent: Mapping[str, object], *, now: datetime) -> Event:
    """Record one event, as a form sends it.

    Raises:
        NotFoundError: the run is not in the studio.
        InputError: the event is refused.
    """
    titles = _step_titles(runs.run(session, run_id).sheet)
    event, _ = _append(session, read_event(run_id, sent, step_titles=titles, now=now))
    keep_what_it_taught(session, run_id, now=now)
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


def run_view(session: Session, run_id: UUID, *, now: datetime) -> RunView:
    """Return planned against happened, and all that came of a run."""
    run = runs.run(session, run_id)
    return RunView(
        run=run,
        progress=progress(run.sheet, run.events, now=now),
        log=log_lines(run.events, _step_titles(run.sheet)),
        base=None if run.base_id is None else shelf.base(session, run.base_id),
        photos=photos_of(session, run),
        judgements=tuple(photos.judgements_of_run(session, run_id)),
        lots=tuple(lots.lots_of_run(session, run_id)),
        repeats=None if run.repeats_run_id is None else runs.run(session, run.repeats_run_id),
    )


def photos_of(session: Session, run: Run) -> tuple[Photo, ...]:
    """Return the photos of a run, but for those whose event was undone: they are kept, and not shown."""
    standing = {event.id for event in standing_events(run.events)}
    undone = {
        event.detail.get("photo_id")
        for event in run.events
        if event.kind is EventKind.PHOTO and event.id not in standing
    }
    return tuple(photo for photo in photos.photos_of_run(session, run.id) if str(photo.id) not in undone)


def keep_lot(
    session: Session,
    run_id: UUID,
    *,
    lot_id: UUID,
    skeins: Sequence[Skein],
    kept_on: date,
    now: datetime,
    name: str = "",
    note: str = "",
    judgement_id: UUID | None = None,
) -> Lot:
    """File the skeins of a run as a lot; a form sent twice files one.

    Args:
        lot_id: made by the client.
        skeins: what came out, with colours where they were judged.
        kept_on: the day.
        now: the present instant.
        name: the lot's; the run's number where it is empty, with a letter from the second lot on.
        note: what to remember.
        judgement_id: the verdict that the skeins' colours are from.

    Raises:
        InputError: no skeins, a name that is taken, or skeins that cannot be.
    """
    run = runs.run(session, run_id)
    there = lots.lots_of_run(session, run_id)
    for lot in there:
        if lot.id == lot_id:
            return lot
    if not skeins:
        raise InputError("a lot needs at least one skein; say how many came out", field="skeins", value=0, limit=1)
    called = name.strip() or _lot_name(run.number, len(there))
    new = Lot(lot_id, run_id, called, kept_on, note, tuple(skeins), judgement_id)
    kept = lots.add_lot(session, new, search_text=lotbook.search_text(session, run, new))
    runs.append_event(session, Event(lot_id, run_id, EventKind.KEPT, now, now, {"lot_id": str(lot_id)}))
    keep_what_it_taught(session, run_id, now=now)
    return kept


def planned_skeins(run: Run) -> tuple[Skein, ...]:
    """Return the skeins that went into the pot, each with its share of the dry weight, before any is judged."""
    sheet: Mapping[str, Any] = run.sheet
    yarn = sheet["card"]["yarn"]
    count = yarn["skeins"] or 1
    each_g = round(Decimal(str(yarn["dry_g"])) / count, 1)
    return tuple(Skein(number, each_g if each_g > 0 else None) for number in range(1, count + 1))


def judged_skeins(judgement: Judgement) -> tuple[Skein, ...]:
    """Return the skeins of a verdict, with their colours, and the matching sets it proposes by letter."""
    result: Mapping[str, Any] = judgement.result
    letter_of = {
        skein_id: chr(ord("A") + place)
        for place, together in enumerate(result.get("sets", ()))
        for skein_id in together
    }
    return tuple(
        Skein(number, lab=tuple(seen["lab"]), matching_set=letter, proposed_set=letter)
        for number, seen in enumerate(result.get("skeins", ()), start=1)
        for letter in [letter_of.get(seen["id"])]
    )


def _lot_name(run_number: int, lots_before: int) -> str:
    return str(run_number) if lots_before == 0 else f"{run_number}-{chr(ord('A') + lots_before)}"


def _run_or_none(session: Session, run_id: UUID) -> Run | None:
    try:
        return runs.run(session, run_id)
    except NotFoundError:
        return None


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
