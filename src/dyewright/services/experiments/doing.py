"""Dyeing an experiment: each sample as a run of its own, and what was seen of its bath, entered in one grid."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Event, EventKind, Experiment, Run, Sample, Sheet
from dyewright.core.progress import standing_events
from dyewright.core.uptake import CLEAR_READING
from dyewright.errors import InputError
from dyewright.files.cards import write_card
from dyewright.records import experiments as records_of
from dyewright.records import runs
from dyewright.services import running
from dyewright.services.bath_colours import LADDER
from dyewright.services.experiments.sheet import kept_bench
from dyewright.services.forecasting.inputs import hold_end_min
from dyewright.services.unplain import from_plain

__all__ = ["RUNGS", "Seen", "keep_readings", "make_runs", "seen_of", "typed_of"]

RUNGS = tuple((f"{exhaustion:g}", words) for words, exhaustion in LADDER)
HALF = 0.5
HALF_UNDATED_MIN = 1.0  # a look of which only the temperature is known has no minute; it is put at the start
LONGEST_MIN = 600.0
COLUMNS = ("half", "half_c", "clear", "end", "rinses")

Form = Mapping[str, str]


@dataclass(frozen=True)
class Seen:
    """What was seen of one sample's bath; None where it was not."""

    half_min: float | None = None
    half_c: float | None = None
    clear_min: float | None = None
    end: float | None = None
    rinses: int | None = None
    looks: tuple[tuple[float, float], ...] = ()


def make_runs(session: Session, experiment_id: int, *, now: datetime) -> Experiment:
    """Plan and keep a run for each sample that is dyed and has none yet.

    Raises:
        InputError: a sample's card can no longer be planned.
    """
    experiment = records_of.experiment(session, experiment_id)
    bench = kept_bench(session, experiment)
    samples = []
    for place, sample in enumerate(experiment.samples):
        if sample.value is None or sample.run_id is not None:
            samples.append(sample)
            continue
        planned = running.planned_run(
            session,
            card_toml=write_card(bench.pot_card(place)),
            now=now,
            base_id=experiment.base_id,
            notes=(f"Sample {sample.number} of the experiment {experiment.name}.",),
        )
        samples.append(replace(sample, run_id=running.keep_run(session, planned).id))
    return records_of.save_experiment(session, replace(experiment, samples=tuple(samples)))


def seen_of(run: Run) -> Seen:
    """Return what was seen of a run: what the grid holds, and every dated look at the bath."""
    kept = _kept(run)
    start = _started(run)
    looks = []
    for event in standing_events(run.events):
        if event.kind is EventKind.CLARITY and start is not None and event.detail.get("bath_c") is None:
            minutes = (event.happened_at - start).total_seconds() / 60
            looks.append((minutes, _number(event, "exhaustion")))

    def at_min(column: str) -> float | None:
        if column not in kept or start is None:
            return None
        return round((kept[column].happened_at - start).total_seconds() / 60, 1)

    return Seen(
        half_min=at_min("half"),
        half_c=_number(kept["half_c"], "bath_c") if "half_c" in kept else None,
        clear_min=at_min("clear"),
        end=_number(kept["end"], "exhaustion") if "end" in kept else None,
        rinses=round(_number(kept["rinses"], "rinses")) if "rinses" in kept else None,
        looks=tuple(looks),
    )


def typed_of(sample: Sample, seen: Seen) -> dict[str, str]:
    """Return a sample's fields of the grid as they stand."""
    values = {
        "half": "" if seen.half_min is None else f"{seen.half_min:g}",
        "half_c": "" if seen.half_c is None else f"{seen.half_c:g}",
        "clear": "" if seen.clear_min is None else f"{seen.clear_min:g}",
        "end": "" if seen.end is None else f"{seen.end:g}",
        "rinses": "" if seen.rinses is None else str(seen.rinses),
    }
    return {f"{column}.{sample.number}": text for column, text in values.items()}


def keep_readings(session: Session, experiment_id: int, typed: Form, *, now: datetime) -> Experiment:
    """Record what the grid says that was not said before; a field that was changed undoes what it said.

    Raises:
        InputError: a field cannot be read, or the moment of heat on is missing; nothing is kept then.
    """
    experiment = make_runs(session, experiment_id, now=now)
    for sample in experiment.samples:
        if sample.run_id is not None:
            _keep_sample(session, runs.run(session, sample.run_id), sample, typed, now)
    return experiment


def _keep_sample(session: Session, run: Run, sample: Sample, typed: Form, now: datetime) -> None:
    before = typed_of(sample, seen_of(run))
    asked = {column: typed.get(f"{column}.{sample.number}", "").strip() for column in COLUMNS}
    changed = [column for column in COLUMNS if asked[column] != before[f"{column}.{sample.number}"]]
    if not changed:
        return
    start = _started(run) or _start(session, run, typed, now)
    kept = _kept(run)
    for column in changed:
        if column in kept:
            running.undo(session, run.id, kept[column].id, correction_id=uuid4(), now=now)
    for kind, at_min, detail in _events(run, sample, {column: asked[column] for column in changed}):
        field = f"{detail['grid']}.{sample.number}"
        try:
            running.late_entry(
                session,
                run.id,
                event_id=uuid4(),
                kind=kind,
                happened_at=start + timedelta(minutes=at_min),
                detail=detail,
                now=now,
            )
        except InputError as error:
            raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error
    _finish(session, run, start, asked, now)


def _start(session: Session, run: Run, typed: Form, now: datetime) -> datetime:
    """Record when the heat was put on, and return it."""
    text = typed.get("heat_on", "").strip()
    try:
        start = datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError):
        raise InputError(
            f"when was the heat put on? {text!r} is no day and time; write 2026-03-01 14:05",
            field="heat_on",
            value=text,
        ) from None
    try:
        running.late_entry(
            session, run.id, event_id=uuid4(), kind=EventKind.STARTED, happened_at=start, detail={}, now=now
        )
    except InputError as error:
        raise InputError(error.message, field="heat_on", value=text) from error
    return start


def _finish(session: Session, run: Run, start: datetime, asked: Form, now: datetime) -> None:
    """Record that the dyeing is over, where its end was seen and that is not said yet."""
    is_over = bool(asked["end"] or asked["rinses"])
    if is_over and all(event.kind is not EventKind.FINISHED for event in standing_events(run.events)):
        at = min(start + timedelta(minutes=_hold_end(run)), now)
        running.late_entry(
            session, run.id, event_id=uuid4(), kind=EventKind.FINISHED, happened_at=at, detail={}, now=now
        )


def _events(run: Run, sample: Sample, asked: Form) -> Iterator[tuple[EventKind, float, dict[str, object]]]:
    """Yield kind, minute and detail of what was newly said; `grid` names the column that it stands in."""
    number = sample.number
    half_min = _minutes(asked.get("half", ""), f"half.{number}", "time of half colour")
    clear_min = _minutes(asked.get("clear", ""), f"clear.{number}", "time of the clear bath")
    if half_min is not None and clear_min is not None and clear_min < half_min:
        raise InputError(
            f"sample {number} was clear at {clear_min:g} min, before half was in at {half_min:g} min: is one of the "
            "two a slip?",
            field=f"clear.{number}",
            value=clear_min,
            limit=half_min,
        )
    if half_min is not None:
        yield EventKind.CLARITY, half_min, {"exhaustion": HALF, "grid": "half"}
    if asked.get("half_c"):
        bath_c = units.temperature_c(
            asked["half_c"], field=f"half_c.{number}", thing="bath temperature", default_unit="C"
        )
        yield EventKind.CLARITY, half_min or HALF_UNDATED_MIN, {"exhaustion": HALF, "bath_c": bath_c, "grid": "half_c"}
    if clear_min is not None:
        yield EventKind.CLARITY, clear_min, {"exhaustion": CLEAR_READING, "grid": "clear"}
    if asked.get("end"):
        yield EventKind.CLARITY, _hold_end(run), {"exhaustion": _rung(asked["end"], number), "grid": "end"}
    if asked.get("rinses"):
        yield EventKind.RINSED, _hold_end(run), {"rinses": _waters(asked["rinses"], number), "grid": "rinses"}


def _minutes(text: str, field: str, thing: str) -> float | None:
    if not text:
        return None
    minutes = units.duration_min(text, field=field, thing=thing, default_unit="min")
    if minutes > LONGEST_MIN:
        raise InputError(
            f"a {thing} of {minutes:g} min is past {LONGEST_MIN:g}; minutes count from heat on",
            field=field,
            value=minutes,
            limit=LONGEST_MIN,
        )
    return minutes


def _rung(text: str, number: int) -> float:
    if text not in dict(RUNGS):
        raise InputError(f"{text!r} is no glass of the ladder", field=f"end.{number}", value=text)
    return float(text)


def _waters(text: str, number: int) -> float:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 40):
        raise InputError(
            f"{text!r} is no number of rinses; count the waters up to the first clear one, 1 to 40",
            field=f"rinses.{number}",
            value=text,
            limit=40,
        )
    return float(text)


def _hold_end(run: Run) -> float:
    return hold_end_min(from_plain(Sheet, run.sheet))


def _started(run: Run) -> datetime | None:
    starts = [event.happened_at for event in standing_events(run.events) if event.kind is EventKind.STARTED]
    return starts[-1] if starts else None


def _kept(run: Run) -> dict[str, Event]:
    """Return the standing events of the grid, by column."""
    return {str(event.detail["grid"]): event for event in standing_events(run.events) if "grid" in event.detail}


def _number(event: Event, key: str) -> float:
    detail: Mapping[str, Any] = event.detail
    return float(detail[key])
