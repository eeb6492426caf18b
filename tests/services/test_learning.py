"""What runs teach: lessons kept and computed anew, forecasts kept beside what was seen, and the words of both."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from studio_cards import CHOIR, plan_run, repeat_run

from dyewright.core.model import (
    Basis,
    DyeClass,
    Event,
    EventKind,
    FibreGroup,
    Judgement,
    Settings,
    Sheet,
    Subject,
)
from dyewright.core.progress import progress
from dyewright.records import lessons, photos, runs, shelf
from dyewright.services import running
from dyewright.services.forecasting.foretell import clear_foretold, forecast_from
from dyewright.services.learning.foretold import AFTER, BEFORE, foretold_in
from dyewright.services.learning.keeping import keep_what_it_taught
from dyewright.services.learning.lessons import learnt_for, relearn
from dyewright.services.learning.page import run_taught, shelf_taught
from dyewright.services.unplain import from_plain

NOW = datetime(2026, 11, 2, 9, tzinfo=UTC)
FAST = ((20, 0.75), (32, 0.9375), (40, 0.96875))  # far ahead of the class: half of it should be in at 35 min or later
LAGOON = Subject("Lagoon", DyeClass.ACID_MILLING, FibreGroup.SILK)


@pytest.fixture
def session(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        yield session


def event(kind, minutes=0.0, **detail):
    return {
        "id": str(uuid4()),
        "kind": kind,
        "happened_at": (NOW + timedelta(minutes=minutes)).isoformat(),
        "detail": detail,
    }


def dyed(session, looks=FAST, run=None, more=()):
    """Plan a run, look at its bath and finish it."""
    run = run or plan_run(session, card_toml=CHOIR, now=NOW - timedelta(days=1))
    happened = [event("started"), *(event("clarity", at, exhaustion=seen) for at, seen in looks), *more]
    running.record_events(session, run.id, [*happened, event("finished", 120)], now=NOW + timedelta(hours=3))
    return runs.run(session, run.id)


def sheet_of(run):
    return from_plain(Sheet, run.sheet)


def taught(session, run):
    return run_taught(session, run, progress(run.sheet, run.events, now=NOW + timedelta(hours=3)))


def test_a_run_teaches_once_it_is_dyed(session):
    run = plan_run(session, card_toml=CHOIR, now=NOW)
    running.record_event(session, run.id, event("started"), now=NOW)
    running.record_event(session, run.id, event("clarity", 20, exhaustion=0.75), now=NOW + timedelta(minutes=20))
    assert lessons.lesson(session, run.id) is None

    running.record_event(session, run.id, event("finished", 90), now=NOW + timedelta(minutes=90))
    told = lessons.lesson(session, run.id)
    assert (told.subjects, told.readings) == ((LAGOON,), 1)


def test_a_late_reading_counts_and_an_undone_one_no_longer(session):
    run = dyed(session, looks=())
    assert lessons.lesson(session, run.id) is None
    later = NOW + timedelta(days=1)
    late = event("clarity", 30, exhaustion=0.75)
    running.record_event(session, run.id, late, now=later)
    assert lessons.lesson(session, run.id).readings == 1

    running.undo(session, run.id, late["id"], correction_id=uuid4(), now=later)
    assert lessons.lesson(session, run.id) is None


def test_lessons_are_computed_anew_the_same_from_the_record(session):
    run = dyed(session)
    kept = lessons.lesson(session, run.id)
    lessons.remove_lesson(session, run.id)

    assert relearn(session) == 1
    assert lessons.lesson(session, run.id) == kept
    assert relearn(session) == 0


def test_a_run_does_not_count_in_its_own_forecast(session):
    first = dyed(session)
    assert learnt_for(session, sheet_of(first), before_number=first.number) is None

    second = dyed(session, run=repeat_run(session, first.id, now=NOW))
    assert learnt_for(session, sheet_of(second), before_number=second.number).pots == (1,)
    assert learnt_for(session, sheet_of(second)).pots == (2,)


def test_the_third_pot_feels_learnt(session):
    first = dyed(session)
    dyed(session, run=repeat_run(session, first.id, now=NOW))
    third = repeat_run(session, first.id, now=NOW)
    sheet = sheet_of(third)
    alone, now = clear_foretold(sheet), forecast_from(sheet, learnt=learnt_for(session, sheet))

    # Both pots were seen clear at 40 min, where class estimates expect it after an hour and more.
    assert now.clear_at_min.mid < alone.mid - 15
    assert now.basis is Basis.FITTED
    assert now.rests_on[0].thing == "Lagoon on silk and its blends"
    assert now.rests_on[0].words.startswith("2 pots of this studio: half uptake at ")
    assert "class says 55 ± 5" in now.rests_on[0].words  # the shipped table: milling dye on silk, T50 55 °C
    said = taught(session, third)
    assert said.title == "What your pots add"
    assert "by class estimates alone, now" in said.answer
    assert "with what 2 pots of this studio taught" in said.answer


def test_before_the_first_pot_a_forecast_names_the_trust_of_its_class(session):
    run = plan_run(session, card_toml=CHOIR, now=NOW)
    told = forecast_from(sheet_of(run))

    assert told.basis is Basis.DEFAULT
    # The trust of wool's row for milling dyes in the shipped table: wool is most of this yarn.
    assert told.rests_on[0].words == (
        "class estimate (half uptake estimate, activation energy from memory, final uptake estimate)"
    )
    assert taught(session, run) is None


def test_a_run_keeps_what_was_foretold_before_and_after_once(session):
    run = dyed(session)
    running.record_event(session, run.id, event("note", 125, text="again"), now=NOW + timedelta(hours=4))
    run = runs.run(session, run.id)
    kinds = [one.kind for one in run.events]
    told = foretold_in(run)

    assert kinds.count(EventKind.FORETOLD) == 2
    assert told[BEFORE].clear_at_min.low > 40
    assert told[AFTER].clear_at_min.mid < told[BEFORE].clear_at_min.mid
    assert len(told[BEFORE].t_min) == len(told[BEFORE].low) <= 20


def test_a_pot_that_went_otherwise_is_told_with_what_was_recorded(session):
    hot = (event("temperature", 15, bath_c=75.0), event("temperature", 25, bath_c=85.0))
    said = taught(session, dyed(session, more=hot))

    assert said.answer == "This pot went otherwise than foretold."
    assert said.otherwise[0].startswith("The bath was clear at 40 min, sooner than foretold")
    assert "hotter than planned" in said.reasons[0]


def test_a_pot_that_nothing_explains_leaves_the_dye_itself(session):
    said = taught(session, dyed(session))

    assert said.reasons == ("Nothing that was recorded explains it: it may be the dye itself, and its pots will tell.",)
    assert said.taught[0].startswith("Lagoon on silk and its blends: half uptake moves from 55 to ")


def test_a_pot_within_its_band_went_as_foretold(session):
    run = plan_run(session, card_toml=CHOIR, now=NOW)
    told = foretold_in(run)[BEFORE]
    place = len(told.t_min) // 4
    look = (told.t_min[place], told.exhaustion[place])
    said = taught(session, dyed(session, looks=(look,), run=run))

    assert said.answer == "This pot went as foretold."
    assert said.otherwise == said.reasons == ()


def test_the_shelf_says_what_pots_taught_of_each_dye(session):
    assert shelf_taught(session) == {"taught": {}, "eye": ""}
    dyed(session)
    said = shelf_taught(session)

    assert said["taught"]["Lagoon"].words == "1 pot on silk and its blends"
    assert said["taught"]["Lagoon"].yarns[0].of_class.replace("\u202f", " ") == "55 °C ± 5"
    assert said["eye"].startswith("your eye over 1 pot: ")


def test_counted_rinses_teach_of_what_washes_out(session):
    run = dyed(session, looks=(), more=(event("rinsed", 130, rinses=5),))
    said = learnt_for(session, sheet_of(run))

    assert said.mean[2] > 0.05  # five waters where one or two were foretold: more to wash out than the class says


@pytest.mark.parametrize(("rating", "is_level"), [("even", True), ("slightly uneven", True), ("uneven", False)])
def test_a_judged_run_teaches_how_even_it_came_out(session, rating, is_level):
    run = dyed(session, looks=())
    judged_at = NOW + timedelta(days=1)
    photo = photos.add_photo(
        session,
        b"a photo",
        photo_id=uuid4(),
        run_id=run.id,
        media_type="image/jpeg",
        width_px=1,
        height_px=1,
        taken_at=judged_at,
    )
    skeins = [
        {"id": "1", "evenness": {"de00_p95": 0.4, "rating": "even"}},
        {"id": "2", "evenness": {"de00_p95": 1.7, "rating": rating}},
    ]
    verdict = Judgement(uuid4(), run.id, photo.id, judged_at, {"skeins": skeins}, "0")
    photos.add_judgement(session, verdict)
    said = {"judgement_id": str(verdict.id)}
    runs.append_event(session, Event(verdict.id, run.id, EventKind.JUDGED, judged_at, judged_at, said))
    keep_what_it_taught(session, run.id, now=judged_at)
    level = lessons.lesson(session, run.id).level

    assert (level.is_level, level.evenness_de00) == (is_level, 1.7)
    assert 0.2 < level.index < 5  # of a usual plan: near the limit, which it is not to cry wolf about
    assert learnt_for(session, sheet_of(run)).level_pots == 1
