from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from uuid import uuid4

import pytest
from sqlalchemy import delete, update
from sqlalchemy.exc import IntegrityError

from dyewright.core.model import Base, Event, EventKind, Fibre, Lot, Run, RunState, Settings, Skein
from dyewright.errors import InputError, NotFoundError, StudioError
from dyewright.records import lots, runs, shelf, tables

NOON = datetime(2026, 10, 3, 12, 0, 0, 123456, tzinfo=UTC)


@pytest.fixture
def studio(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
    return records


def planned(session, **changes) -> Run:
    run = Run(
        id=uuid4(),
        number=runs.next_run_number(session),
        title="Harbour dusk",
        card_toml='title = "Harbour dusk"',
        sheet={"dyes": [{"name": "Reed", "depth_owf": 0.008}], "steps": [], "t_min": [0.0, 1.5]},
        package_version="0.1.0",
        data_version="abc",
        created_at=NOON,
    )
    return runs.add_run(session, replace(run, **changes))


def happened(run: Run, kind=EventKind.NOTE, minutes=0, **changes) -> Event:
    event = Event(uuid4(), run.id, kind, NOON + timedelta(minutes=minutes), NOON + timedelta(hours=5), {"text": "æ"})
    return replace(event, **changes)


def test_runs_are_numbered_in_order_and_come_back_whole(studio):
    with studio.begin() as session:
        base = shelf.save_base(session, Base("Shoreline", {Fibre.WOOL: 1.0}))
        first = planned(session, base_id=base.id)
        second = planned(session, repeats_run_id=first.id)
        assert (first.number, second.number) == (1, 2)
    with studio.read() as session:
        assert runs.run(session, first.id) == first
        assert runs.run_numbered(session, 2) == second
        assert runs.all_runs(session) == [first, second]
        assert [line.number for line in runs.list_runs(session)] == [2, 1]
        assert [line.number for line in runs.list_runs(session, below_number=2)] == [1]
        line = runs.list_runs(session)[1]
        assert (line.base, line.dyes, line.state, line.lab) == ("Shoreline", ("Reed",), RunState.PLANNED, None)


def test_a_number_is_not_given_out_twice(studio):
    with studio.begin() as session:
        taken = planned(session)
        with pytest.raises(InputError, match="run 1 is in the studio already"):
            runs.add_run(session, replace(taken, id=uuid4()))
    with studio.begin() as session:
        planned(session, number=40)  # an import brings its numbers along
        assert runs.next_run_number(session) == 41


def test_a_number_needs_a_studio_that_has_begun(records):
    with records.begin() as session, pytest.raises(NotFoundError, match="not begun"):
        runs.next_run_number(session)


def test_an_event_sent_twice_is_recorded_once_and_answered_as_it_was(studio):
    with studio.begin() as session:
        run = planned(session)
        event = happened(run)
        assert runs.append_event(session, event) == (event, True)
    with studio.begin() as session:
        later = replace(event, recorded_at=NOON + timedelta(days=1))
        assert runs.append_event(session, later) == (event, False)
        assert runs.run(session, run.id).events == (event,)


@pytest.mark.parametrize(
    "change",
    [
        {"kind": EventKind.FINISHED},
        {"detail": {"text": "other"}},
        {"happened_at": NOON + timedelta(seconds=1)},
    ],
)
def test_an_id_used_for_something_else_is_refused(studio, change):
    with studio.begin() as session:
        event = happened(planned(session))
        runs.append_event(session, event)
        with pytest.raises(InputError, match="recorded already with another content"):
            runs.append_event(session, replace(event, **change))


def test_times_of_any_zone_are_kept_in_utc(studio):
    in_tea_time = datetime(2026, 10, 3, 17, 30, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    with studio.begin() as session:
        run = planned(session)
        runs.append_event(session, happened(run, happened_at=in_tea_time))
    with studio.read() as session:
        (event,) = runs.run(session, run.id).events
    assert event.happened_at == datetime(2026, 10, 3, 12, 0, tzinfo=UTC)  # 17:30 less 5:30
    assert event.happened_at.utcoffset() == timedelta(0)


def test_events_stand_in_the_order_they_happened_not_in_that_they_came(studio):
    with studio.begin() as session:
        run = planned(session)
        for minutes in (30, 10, 20):
            runs.append_event(session, happened(run, minutes=minutes, detail={"text": str(minutes)}))
        assert [event.detail["text"] for event in runs.run(session, run.id).events] == ["10", "20", "30"]


def test_a_correction_undoes_and_both_stay(studio):
    with studio.begin() as session:
        run = planned(session)
        wrong = happened(run, EventKind.FINISHED)
        runs.append_event(session, wrong)
        assert runs.run(session, run.id).state is RunState.DYED
        correction = happened(run, EventKind.CORRECTION, 1, corrects=wrong.id)
        runs.append_event(session, correction)
    with studio.read() as session:
        run = runs.run(session, run.id)
    assert run.events == (wrong, correction)
    assert run.state is RunState.PLANNED


def test_corrections_that_mean_nothing_are_refused(studio):
    with studio.begin() as session:
        run, other = planned(session), planned(session)
        wrong, elsewhere, kept = happened(run), happened(other), happened(run, EventKind.KEPT)
        correction = happened(run, EventKind.CORRECTION, corrects=wrong.id)
        for event in (wrong, elsewhere, kept, correction):
            runs.append_event(session, event)
        for corrects, sentence in [
            (wrong.id, "undone already"),
            (elsewhere.id, "not in this run"),
            (uuid4(), "not in this run"),
            (correction.id, "cannot be undone"),
            (kept.id, "cannot be undone"),
        ]:
            with pytest.raises(InputError, match=sentence):
                runs.append_event(session, happened(run, EventKind.CORRECTION, corrects=corrects))


def test_an_event_needs_its_run(studio):
    with studio.begin() as session:
        run = planned(session)
        with pytest.raises(NotFoundError, match="there is no run"):
            runs.append_event(session, happened(replace(run, id=uuid4())))


@pytest.mark.parametrize("change", ["title", "kind"])
def test_a_run_and_its_events_cannot_be_changed_or_removed_through_a_session(studio, change):
    with studio.begin() as session:
        run = planned(session)
        event = happened(run)
        runs.append_event(session, event)
    kind, key = (tables.RunRow, run.id) if change == "title" else (tables.EventRow, event.id)
    with pytest.raises(StudioError, match="stands as it was recorded"), studio.begin() as session:
        setattr(session.get(kind, key), change, "other" if change == "title" else EventKind.FINISHED)
    with pytest.raises(StudioError, match="stands as it was recorded"), studio.begin() as session:
        session.delete(session.get(kind, key))


def test_the_database_itself_keeps_events_with_their_run(studio):
    with studio.begin() as session:
        run = planned(session)
        runs.append_event(session, happened(run))
    with studio.begin() as session:
        session.execute(delete(tables.RunDyeRow))
    with pytest.raises(IntegrityError), studio.begin() as session:
        session.execute(delete(tables.RunRow))
    with pytest.raises(IntegrityError), studio.begin() as session:
        session.execute(update(tables.EventRow).values(kind=EventKind.CORRECTION))  # corrects nothing


def test_there_is_no_function_that_changes_or_removes_a_run():
    assert not [name for name in runs.__all__ if name.startswith(("update", "remove", "delete", "save", "set"))]


def test_the_list_shows_lots_and_their_mean_colour(studio):
    with studio.begin() as session:
        run = planned(session)
        skeins = (Skein(1, lab=(50.0, -10.0, 2.0)), Skein(2, lab=(52.0, -12.0, 4.0)), Skein(3))
        lots.add_lot(session, Lot(uuid4(), run.id, "1", NOON.date(), skeins=skeins), search_text="")
        (line,) = runs.list_runs(session)
    assert line.lots == ("1",)
    assert line.lab == (51.0, -11.0, 3.0)  # the mean of the two that were judged, by hand
