from dataclasses import replace
from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from studio_cards import CHOIR, plan_run

from dyewright.core.model import (
    Base,
    DyeClass,
    Event,
    EventKind,
    Experiment,
    Factor,
    Fibre,
    FibreGroup,
    Heating,
    Lesson,
    LevelLesson,
    MeasuredHeatUp,
    Sample,
    Settings,
    Subject,
    Vessel,
)
from dyewright.errors import InputError, NotFoundError
from dyewright.records import experiments, heat_ups, lessons, runs, shelf


def lesson(readings: int = 2) -> Lesson:
    subject = Subject("Lagoon", DyeClass.ACID_MILLING, FibreGroup.WOOL)
    precision = tuple(tuple(float(i == j) for j in range(4)) for i in range(4))
    return Lesson(
        (subject,), precision, (0.5, -1.0, 0.0, 2.0), readings, LevelLesson(0.8, is_level=True, evenness_de00=0.4)
    )


def test_a_heat_up_is_kept_with_its_readings_and_goes_with_its_vessel(records):
    with records.begin() as session:
        pot = shelf.save_vessel(session, Vessel("Pot", 12.0, Heating.GAS))
        kept = heat_ups.add_heat_up(session, MeasuredHeatUp(pot.id, "7 of 9", 8.0, True, ((0.0, 15.0), (10.5, 40.25))))
    with records.read() as session:
        assert heat_ups.heat_ups(session, pot.id) == [kept]
    with records.begin() as session:
        shelf.remove_vessel(session, pot.id)
    with records.read() as session:
        assert heat_ups.heat_ups(session) == []


def test_a_heat_up_of_no_vessel_is_refused(records):
    with records.begin() as session, pytest.raises(NotFoundError):
        heat_ups.add_heat_up(session, MeasuredHeatUp(99, "", 8.0, True, ((0.0, 15.0),)))


def test_a_lesson_is_replaced_when_computed_anew(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        now = datetime(2026, 11, 1, 9, tzinfo=UTC)
        run = plan_run(session, card_toml=CHOIR, now=now)
        assert lessons.runs_without_lesson(session, "1") == []  # nothing was seen of it yet
        runs.append_event(session, Event(uuid4(), run.id, EventKind.CLARITY, now, now, {"exhaustion": 0.5}))
        assert lessons.runs_without_lesson(session, "1") == [run.id]
        lessons.save_lesson(session, run.id, lesson(), made_with="1")
        lessons.save_lesson(session, run.id, lesson(readings=3), made_with="2")
    with records.read() as session:
        assert lessons.lessons(session) == {run.id: lesson(readings=3)}
        assert lessons.lessons(session, before_number=run.number) == {}
        assert lessons.runs_without_lesson(session, "2") == []
        assert lessons.runs_without_lesson(session, "3") == [run.id]


def test_an_experiment_is_changed_and_its_base_stays_on_the_shelf(records):
    with records.begin() as session:
        base = shelf.save_base(session, Base("Fellside", {Fibre.WOOL: 1.0}, kept_l_kg=1.4))
        samples = (Sample(1, None, 2), Sample(2, 0.01, 1))
        first = Experiment("Depths", Factor.DEPTH, "", base.id, 5.0, samples, date(2026, 11, 1))
        kept = experiments.save_experiment(session, first)
        changed = replace(kept, samples=(samples[0], replace(samples[1], lab=(50.0, 1.0, -2.5), note="paler")))
        experiments.save_experiment(session, changed)
    with records.read() as session:
        assert experiments.experiments(session) == [changed]
        assert shelf.bases(session) == [base]
    with records.begin() as session, pytest.raises(InputError, match="base of an experiment"):
        shelf.remove_base(session, base.id)
