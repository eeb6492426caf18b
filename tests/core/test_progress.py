from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from dyewright.core.model import Event, EventKind, RunState, StepState
from dyewright.core.progress import progress, run_state, standing_events

NINE = datetime(2026, 10, 3, 9, 0, tzinfo=UTC)
RUN = UUID(int=1)


def step(key, kind, at_min, duration_min, **more):
    return {"key": key, "kind": kind, "title": key, "text": "", "at_min": at_min, "duration_min": duration_min, **more}


SHEET = {
    "steps": [
        step("soak", "prepare", None, 30.0, is_wait=True),
        step("enter", "enter", 0.0, 0.0),
        step("ramp", "heat", 0.0, 40.0, caution="Steam scalds."),
        step("hold", "hold", 40.0, 30.0, at_c=90.0),
        step("dry", "finish", 100.0, None),
    ],
    "t_min": [0.0, 40.0, 70.0],
    "bath_c": [40.0, 90.0, 90.0],
}


def at(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def event(kind: EventKind, minutes: float, corrects=None, **detail) -> Event:
    return Event(uuid4(), RUN, kind, at(minutes), at(minutes), detail, corrects)


def done(key: str, minutes: float) -> Event:
    return event(EventKind.STEP_DONE, minutes, step=key)


def states(seen):
    return {each.key: each.state for each in seen.steps}


def test_nothing_happened_yet():
    seen = progress(SHEET, [], now=NINE)
    assert (seen.state, seen.heat_on_at, seen.minutes, seen.ends_at) == (RunState.PLANNED, None, None, None)
    assert seen.current.key == "soak"
    assert [each.key for each in seen.ahead] == ["enter", "ramp", "hold", "dry"]


def test_heat_goes_on_when_the_yarn_is_entered():
    seen = progress(SHEET, [done("soak", -10), done("enter", 0)], now=at(21))
    assert (seen.heat_on_at, seen.minutes, seen.state) == (NINE, 21.0, RunState.AT_THE_POT)
    assert seen.current.key == "ramp"
    # Worked by hand: entered at 9:00, 40 min of ramp, 30 min of hold after it.
    assert seen.ends_at == at(40)
    assert [(each.began_at, each.ends_at) for each in seen.ahead] == [(at(40), at(70)), (at(70), None)]


def test_a_start_said_by_hand_counts_before_the_entering_step():
    seen = progress(SHEET, [done("enter", 0), event(EventKind.STARTED, 3)], now=at(10))
    assert seen.heat_on_at == at(3)


def test_a_timer_is_the_same_whenever_it_is_looked_at():
    events = [done("enter", 0)]
    assert {progress(SHEET, events, now=at(minutes)).ends_at for minutes in (0, 5, 39, 400)} == {at(40)}


def test_an_overdue_step_pushes_those_after_it():
    seen = progress(SHEET, [done("enter", 0)], now=at(50))
    assert seen.ends_at == at(40)
    assert (seen.ahead[0].began_at, seen.ahead[0].ends_at) == (at(50), at(80))


def test_a_step_done_late_says_how_late_and_shifts_the_next():
    seen = progress(SHEET, [done("enter", 0), done("ramp", 46)], now=at(47))
    ramp = seen.steps[2]
    assert (ramp.began_at, ramp.done_at, ramp.planned_at) == (at(0), at(46), at(0))
    assert ramp.late_min == pytest.approx(6.0)  # planned to end at 40 min, done at 46
    assert seen.ends_at == at(76)


def test_steps_nobody_recorded_are_passed_by_a_later_one():
    assert states(progress(SHEET, [done("ramp", 40)], now=at(41))) == {
        "soak": StepState.PASSED,
        "enter": StepState.PASSED,
        "ramp": StepState.DONE,
        "hold": StepState.NOW,
        "dry": StepState.AHEAD,
    }


def test_an_undone_step_is_as_if_it_never_was():
    wrong = done("ramp", 20)
    events = [done("enter", 0), wrong, event(EventKind.CORRECTION, 21, corrects=wrong.id)]
    assert progress(SHEET, events, now=at(22)).current.key == "ramp"


def test_all_done():
    seen = progress(SHEET, [done("dry", 900), event(EventKind.FINISHED, 901)], now=at(1000))
    assert (seen.current, seen.state) == (None, RunState.DYED)


def test_readings_stand_beside_the_plan():
    events = [
        done("enter", 0),
        event(EventKind.TEMPERATURE, 20, bath_c=61.0),
        event(EventKind.TEMPERATURE, 80, bath_c=88.0),
        event(EventKind.CLARITY, 30, exhaustion=0.875),
        event(EventKind.PH, -5, ph=4.6),
        event(EventKind.ADDITION, -2, what="white vinegar 5 %", amount="40 mL"),
    ]
    seen = progress(SHEET, reversed(events), now=at(90))
    # By hand: half way between 40 °C at 0 min and 90 °C at 40 min; 80 min is beyond the plan.
    assert [(each.at_min, each.bath_c, each.planned_c) for each in seen.temperatures] == [
        (20.0, 61.0, pytest.approx(65.0)),
        (80.0, 88.0, None),
    ]
    assert [(each.at_min, each.exhaustion) for each in seen.clarities] == [(30.0, 0.875)]
    assert [(each.at_min, each.ph) for each in seen.phs] == [(-5.0, 4.6)]
    assert [(each.what, each.amount) for each in seen.additions] == [("white vinegar 5 %", "40 mL")]


def test_a_reading_before_heat_on_has_no_minute():
    (reading,) = progress(SHEET, [event(EventKind.TEMPERATURE, 5, bath_c=20.0)], now=at(9)).temperatures
    assert (reading.at_min, reading.planned_c) == (None, None)


@pytest.mark.parametrize(
    ("kinds", "state"),
    [
        ([EventKind.PLANNED, EventKind.NOTE, EventKind.PHOTO], RunState.PLANNED),
        ([EventKind.PLANNED, EventKind.ADDITION], RunState.AT_THE_POT),
        ([EventKind.STARTED, EventKind.FINISHED], RunState.DYED),
        ([EventKind.JUDGED], RunState.DYED),
        ([EventKind.FINISHED, EventKind.KEPT], RunState.KEPT),
    ],
)
def test_the_state_is_read_from_the_events(kinds, state):
    assert run_state(event(kind, place) for place, kind in enumerate(kinds)) is state


def test_a_sheet_without_steps_is_no_fault():
    seen = progress({}, [event(EventKind.NOTE, 0, text="typed from an old notebook")], now=NINE)
    assert (seen.steps, seen.current, len(seen.standing)) == ((), None, 1)


def test_standing_events_are_in_order_and_leave_corrections_out():
    first, second = event(EventKind.NOTE, 1, text="a"), event(EventKind.NOTE, 2, text="b")
    correction = event(EventKind.CORRECTION, 3, corrects=first.id)
    assert standing_events([correction, second, first]) == (second,)
