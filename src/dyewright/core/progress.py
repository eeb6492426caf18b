"""How a run stands, read from its sheet and its events: nothing is stored, so an undone event is as if it never was.

Times are absolute instants: a timer that counts to one is right after a phone slept or a page was loaded anew.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from dyewright.core.model.progress import (
    Addition,
    Progress,
    ReadClarity,
    ReadPh,
    ReadTemperature,
    StepProgress,
    StepState,
)
from dyewright.core.model.run import Event, EventKind, RunState

__all__ = ["heat_on_at", "progress", "run_state", "standing_events"]

AT_THE_POT = {
    EventKind.STARTED,
    EventKind.STEP_DONE,
    EventKind.TEMPERATURE,
    EventKind.ADDITION,
    EventKind.CLARITY,
    EventKind.PH,
    EventKind.RINSED,
}


def standing_events(events: Iterable[Event]) -> tuple[Event, ...]:
    """Return the events that are not undone, by the time they happened; corrections themselves are left out."""
    all_events = tuple(events)
    undone = {event.corrects for event in all_events if event.corrects is not None}
    standing = (event for event in all_events if event.id not in undone and event.kind is not EventKind.CORRECTION)
    return tuple(sorted(standing, key=lambda event: (event.happened_at, event.recorded_at, event.id)))


def run_state(events: Iterable[Event]) -> RunState:
    """Return how far a run has come."""
    kinds = {event.kind for event in standing_events(events)}
    if EventKind.KEPT in kinds:
        return RunState.KEPT
    if kinds & {EventKind.FINISHED, EventKind.JUDGED}:
        return RunState.DYED
    return RunState.AT_THE_POT if kinds & AT_THE_POT else RunState.PLANNED


def heat_on_at(steps: Sequence[Mapping[str, Any]], standing: Sequence[Event]) -> datetime | None:
    """Return the instant of t = 0: the last STARTED event, else when the entering step was done; None before."""
    started = [event.happened_at for event in standing if event.kind is EventKind.STARTED]
    if started:
        return started[-1]
    entering = {step["key"] for step in steps if step.get("kind") == "enter"}
    entered = [event.happened_at for key, event in _done(standing).items() if key in entering]
    return max(entered, default=None)


def progress(sheet: Mapping[str, Any], events: Iterable[Event], *, now: datetime) -> Progress:
    """Return planned against happened.

    Args:
        sheet: the sheet as plain values, with the keys of `plan --json`.
        events: the run's events, in any order, undone ones and corrections among them.
        now: the present instant; steps that are ahead are counted from it.
    """
    all_events = tuple(events)
    standing = standing_events(all_events)
    planned = sheet.get("steps", ())
    start = heat_on_at(planned, standing)
    steps = _expected(_happened(planned, _done(standing), start), now)
    current = next((step for step in steps if step.state is StepState.NOW), None)
    return Progress(
        now=now,
        state=run_state(all_events),
        heat_on_at=start,
        minutes=_minutes(now, start),
        current=current,
        ends_at=None if current is None else current.ends_at,
        steps=steps,
        temperatures=_temperatures(sheet, standing, start),
        clarities=tuple(
            ReadClarity(
                event.id,
                event.happened_at,
                _minutes(event.happened_at, start),
                _number(event, "exhaustion"),
                _number(event, "sd_rungs") if event.detail.get("sd_rungs") else None,
            )
            for event in _of_kind(standing, EventKind.CLARITY)
        ),
        phs=tuple(
            ReadPh(event.id, event.happened_at, _minutes(event.happened_at, start), _number(event, "ph"))
            for event in _of_kind(standing, EventKind.PH)
        ),
        additions=tuple(_addition(event, start) for event in _of_kind(standing, EventKind.ADDITION)),
        rinses=_rinses(standing),
        standing=standing,
    )


def _rinses(standing: Sequence[Event]) -> int | None:
    """Return the number of waters until the first clear one, as recorded last; None where nobody counted."""
    counted = _of_kind(standing, EventKind.RINSED)
    return int(_number(counted[-1], "rinses")) if counted else None


def _done(standing: Sequence[Event]) -> dict[str, Event]:
    """The first standing event that says a step is done, by the step's key."""
    done: dict[str, Event] = {}
    for event in _of_kind(standing, EventKind.STEP_DONE):
        done.setdefault(str(event.detail.get("step")), event)
    return done


def _happened(
    planned: Sequence[Mapping[str, Any]], done: Mapping[str, Event], start: datetime | None
) -> list[StepProgress]:
    """Each planned step with its state and what was recorded; the step after the last recorded one is now."""
    last_done = max((index for index, step in enumerate(planned) if step["key"] in done), default=-1)
    steps: list[StepProgress] = []
    began_at: datetime | None = None
    for index, plan in enumerate(planned):
        step = replace(_as_planned(plan, start), state=_state(index, last_done, is_done=plan["key"] in done))
        if step.state is StepState.DONE:
            event = done[step.key]
            step = replace(step, done_at=event.happened_at, event_id=event.id, late_min=_late_min(step, event))
        if step.state is not StepState.AHEAD:
            step = replace(step, began_at=began_at)
        began_at = step.done_at or began_at
        steps.append(step)
    return steps


def _as_planned(plan: Mapping[str, Any], start: datetime | None) -> StepProgress:
    at_min = plan.get("at_min")
    return StepProgress(
        key=plan["key"],
        kind=plan.get("kind", ""),
        title=plan["title"],
        text=plan["text"],
        caution=plan.get("caution"),
        state=StepState.AHEAD,
        at_min=at_min,
        duration_min=plan.get("duration_min"),
        at_c=plan.get("at_c"),
        is_wait=bool(plan.get("is_wait", False)),
        planned_at=None if start is None or at_min is None else start + timedelta(minutes=at_min),
    )


def _state(index: int, last_done: int, *, is_done: bool) -> StepState:
    if is_done:
        return StepState.DONE
    if index < last_done:
        return StepState.PASSED
    return StepState.NOW if index == last_done + 1 else StepState.AHEAD


def _late_min(step: StepProgress, event: Event) -> float | None:
    if step.planned_at is None or step.duration_min is None:
        return None
    planned_end = step.planned_at + timedelta(minutes=step.duration_min)
    return _minutes(event.happened_at, planned_end)


def _expected(steps: Sequence[StepProgress], now: datetime) -> tuple[StepProgress, ...]:
    """The steps with the times that are still to come, each counted from the end of the one before."""
    expected: list[StepProgress] = []
    next_at: datetime | None = None
    for step in steps:
        if step.state is StepState.NOW:
            begins = step.began_at or step.planned_at
        elif step.state is StepState.AHEAD:
            begins = next_at or step.planned_at
        else:
            expected.append(step)
            continue
        ends = None if begins is None or step.duration_min is None else begins + timedelta(minutes=step.duration_min)
        expected.append(replace(step, began_at=begins, ends_at=ends))
        next_at = None if ends is None else max(ends, now)  # an overdue step pushes those after it
    return tuple(expected)


def _temperatures(
    sheet: Mapping[str, Any], standing: Sequence[Event], start: datetime | None
) -> tuple[ReadTemperature, ...]:
    t_min: Sequence[float] = sheet.get("t_min") or ()
    bath_c: Sequence[float] = sheet.get("bath_c") or ()
    readings = []
    for event in _of_kind(standing, EventKind.TEMPERATURE):
        at_min = _minutes(event.happened_at, start)
        is_planned = at_min is not None and len(t_min) > 0 and t_min[0] <= at_min <= t_min[-1]
        planned_c = float(np.interp(at_min, t_min, bath_c)) if is_planned and at_min is not None else None
        readings.append(ReadTemperature(event.id, event.happened_at, at_min, _number(event, "bath_c"), planned_c))
    return tuple(readings)


def _addition(event: Event, start: datetime | None) -> Addition:
    amount = event.detail.get("amount")
    return Addition(
        event_id=event.id,
        happened_at=event.happened_at,
        at_min=_minutes(event.happened_at, start),
        what=str(event.detail.get("what", "")),
        amount=None if amount is None else str(amount),
    )


def _of_kind(events: Iterable[Event], kind: EventKind) -> list[Event]:
    return [event for event in events if event.kind is kind]


def _minutes(instant: datetime, start: datetime | None) -> float | None:
    return None if start is None else (instant - start).total_seconds() / 60


def _number(event: Event, key: str) -> float:
    value: Any = event.detail[key]
    return float(value)
