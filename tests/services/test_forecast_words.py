"""A forecast in a dyer's words, and which entry a doubt is about: on forecasts and runs built by hand."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import numpy as np
import pytest

from dyewright.core.model import (
    Band,
    Basis,
    Breaking,
    ClarityAtHeat,
    ClarityReading,
    ClearTime,
    Doubt,
    Drain,
    DyeForecast,
    Event,
    EventKind,
    Felting,
    Forecast,
    Handling,
    Levelness,
    Observed,
    PhReading,
    RinseWater,
    TemperatureReading,
    WashOff,
    WashWay,
)
from dyewright.core.progress import progress
from dyewright.services.forecast_pages.asking import open_doubts
from dyewright.services.forecast_pages.facts import before_words, dye_lines, facts, seen_words
from dyewright.services.forecasting.words import narrowing_words, was_words
from dyewright.services.planning import plan, read_card

TIMES = np.array([0.0, 60.0])
RISING = np.array([0.0, 0.97])
NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)
HEAT_ON = NOW - timedelta(hours=2)


def told(**parts):
    lagoon = DyeForecast("Lagoon", RISING, RISING - 0.05, np.minimum(RISING + 0.02, 1.0))
    usual = {
        "title": "One pot",
        "t_min": TIMES,
        "bath_c": 40 + TIMES,
        "dyes": (lagoon,),
        "bath": replace(lagoon, name="bath"),
        "clear_exhaustion": 0.96,
        "hold_end_min": 60.0,
        "clear_at_min": ClearTime(38.0, 33.0, 47.0, 0.0),
        "cooled_clear_frac": 1.0,
        "mostly_clear_at_min": ClearTime(25.0, 20.0, 30.0, 0.0),
        "final_exhaustion": Band(0.97, 0.92, 0.99),
        "level": None,
        "breaking": None,
        "basis": Basis.DEFAULT,
        "notes": (),
    }
    return Forecast(**(usual | parts))


def wash_off(**parts):
    water = RinseWater(litres=4.0, at_c=40.0, has_soap=True, what_for="to clear", dye_mg_l=Band(166.0, 80.0, 300.0))
    planned = WashWay("As planned", Drain.SQUEEZED, Handling.LIFTED, Band(3, 2, 5), 12.0, 0.4, (water,))
    cheaper = replace(planned, title="Spun between the rinses", rinses=Band(2, 1, 2), litres=8.0)
    usual = {
        "unfixed_owf": 0.0048,
        "unfixed": Band(0.0048, 0.002, 0.009),
        "rinses": Band(3, 2, 5),
        "rinse_litres": 12.0,
        "spotless": Band(5, 3, None),
        "planned": planned,
        "cheaper": cheaper,
        "gentler": None,
    }
    return WashOff(**(usual | parts))


def only(forecast):
    (fact,) = facts(forecast)
    return fact


def test_a_forecast_without_its_parts_has_no_words_for_them():
    assert facts(told()) == ()


def test_how_level_it_will_be_comes_with_its_reason_and_what_would_change_it():
    level = Levelness(3.1, 1.5, "likely uneven", zone_c=(52.0, 74.0), uneven_frac=0.3, advice=("Turn it more.",))
    fact = only(told(level=level))
    assert (fact.label, fact.answer) == ("Level", "Likely uneven")
    assert "Uneven in 6 of 20 such pots." in fact.line  # by hand: 0.3 × 20
    assert "3.1 % a minute" in fact.line
    assert "between 52 and 74\u202f°C" in fact.line
    assert fact.more == ("Turn it more.",)


def test_what_washes_out_is_told_in_waters_litres_and_what_would_save_some():
    fact = only(told(wash_off=wash_off()))
    assert fact.answer == "Clear in 3 (2–5) rinses"
    assert "12\u202fL in all, 4.8 g of dye comes off a kilogram of yarn." in fact.line  # by hand: 0.0048 × 1000 g
    assert fact.more[0] == "Rinse 1: 4\u202fL at 40\u202f°C, with soap, about 170 mg/L of dye in it: to clear."
    assert "Less water: spun between the rinses, 2 (1–2) rinses, 8\u202fL." in fact.more


def test_a_trace_that_washes_out_is_told_in_milligrams_and_one_rinse_is_one():
    fact = only(told(wash_off=wash_off(unfixed_owf=1.1e-5, rinses=Band(1, 1, 1))))
    assert fact.answer == "Clear in 1 rinse"
    assert "11 mg of dye" in fact.line  # by hand: 1.1e-5 × 1e6 mg


def test_felting_says_what_adds_to_it_and_what_is_gentler():
    fact = only(told(felting=Felting(0.8, "some", (("at the pot", 0.92), ("rinsing", 0.08)), "Turn it less.")))
    assert (fact.answer, fact.line) == ("Some", "Turn it less.")
    assert fact.more == ("At the pot: 92\u202f% of it.", "Rinsing: 8\u202f% of it.")


def test_dyes_that_drift_apart_are_named_and_a_gap_that_nobody_sees_gets_no_figure():
    apart = Breaking(0.14, 78.0, "drift apart on the way", first="Moss", last="Lagoon")
    assert only(told(breaking=apart)).line == "Moss leads Lagoon, 14\u202f% apart at most, at 78\u202f°C."
    assert "0" not in only(told(breaking=replace(apart, max_gap=0.002))).line


def test_a_dye_that_bonds_says_how_much_and_what_water_spent():
    dye = DyeForecast(
        "Bluebell", RISING, RISING, RISING, fixed_frac=0.81, hydrolysed_frac=0.17, fixed_at_end=Band(0.81, 0.59, 0.91)
    )
    (line,) = dye_lines(told(dyes=(dye,)))
    assert line.words == "97\u202f% in at the end (97–97), 81\u202f% (59–91) bonded, 17\u202f% spent on water"


def test_a_dye_without_a_model_says_so():
    (line,) = dye_lines(told(dyes=(DyeForecast("Soot", None, None, None),)))
    assert line.words == "not foretold"


SEEN = Observed(
    clarities=(ClarityReading(21.0, 0.875),),
    clarities_at_heat=(ClarityAtHeat(68.0, 0.5),),
    temperatures=(TemperatureReading(25.0, 82.0),),
    phs=(PhReading(5.0, 4.4),),
)


def test_the_latest_three_of_what_was_seen_are_named_in_their_order():
    assert seen_words(SEEN) == "pH 4.4 at 5 min, 87.5\u202f% in at 21 min, 82\u202f°C at 25 min"
    assert seen_words(replace(SEEN, rinses=3)).endswith("82\u202f°C at 25 min, clear in rinse 3")


def test_what_was_expected_before_stands_beside_what_is_expected_now():
    before = told(clear_at_min=ClearTime(40.0, 25.0, 55.0, 0.0))
    after = told(observed=SEEN, before=before)
    assert was_words(after) == "was 25–55"
    assert before_words(after).endswith("Before anything was seen: expect clear at 40 min (25–55).")
    assert was_words(told(observed=SEEN, before=told())) == ""
    assert was_words(told()) == ""
    assert before_words(told()) is None


def entry(kind, detail, at_min, event_id=None):
    happened = HEAT_ON + timedelta(minutes=at_min)
    return Event(event_id or uuid4(), UUID(int=1), kind, happened, happened, detail)


def asked(doubts, *events):
    seen = progress({}, (entry(EventKind.STARTED, {}, 0), *events), now=NOW)
    return open_doubts([Doubt(*doubt) for doubt in doubts], seen)


LOOK = entry(EventKind.CLARITY, {"exhaustion": 0.5}, 48.2)
HEAT = entry(EventKind.CLARITY, {"exhaustion": 0.5, "bath_c": 68.0}, 90)
READ = entry(EventKind.TEMPERATURE, {"bath_c": 140.0}, 20)
STRIP = entry(EventKind.PH, {"ph": 6.4}, 48.2)
COUNT = entry(EventKind.RINSED, {"rinses": 5}, 100)


@pytest.mark.parametrize(
    ("reading", "about"),
    [
        ("clarity at 48 min", LOOK),
        ("clarity at 68 °C", HEAT),
        ("temperature at 20 min", READ),
        ("pH at 48 min", STRIP),
        ("rinses", COUNT),
    ],
)
def test_a_doubt_finds_the_entry_that_it_is_about(reading, about):
    (doubt,) = asked([(reading, "Really?")], LOOK, HEAT, READ, STRIP, COUNT)
    assert doubt.event_id == about.id


def test_a_doubt_about_nothing_that_was_entered_is_shown_without_answers_to_tap():
    (doubt,) = asked([("clarity at 7 min", "Really?")], LOOK)
    assert doubt.event_id is None


def test_each_answer_does_what_it_says():
    ways = ("it was 140 °F, 60 °C", "the thermometer touched the bottom", "a slip: take it back")
    (doubt,) = asked([("temperature at 20 min", "Really?", ways)], READ)
    assert [(way.words, way.kind) for way in doubt.ways] == [
        ("It was 140 °F, 60 °C", "reread"),
        ("A slip: take it back", "undo"),
        ("It is right as noted", "answer"),
    ]
    assert doubt.ways[0].value == "140 F"
    assert [way.kind for way in doubt.others] == ["answer"]


def test_an_answered_doubt_is_gone_until_the_answer_is_undone():
    doubts = [("clarity at 48 min", "Really?"), ("temperature at 20 min", "Really?")]
    answer = entry(EventKind.NOTE, {"text": "it is right", "about": str(LOOK.id)}, 50)
    undone = replace(entry(EventKind.CORRECTION, {}, 51), corrects=answer.id)
    assert [doubt.event_id for doubt in asked(doubts, LOOK, READ, answer)] == [READ.id]
    assert [doubt.event_id for doubt in asked(doubts, LOOK, READ, answer, undone)] == [LOOK.id, READ.id]


def test_a_plan_says_what_would_narrow_its_band():
    bare = plan(read_card('[yarn]\ndry = "100 g"\n[[dye]]\nname = "Jar"\ndepth = "1 %"\n'))
    said = plan(
        read_card(
            '[yarn]\ndry = "100 g"\n[[dye]]\nclass = "acid milling"\ndepth = "1 %"\n[water]\nalkalinity = "95 mg/L"\n'
        )
    )
    assert narrowing_words(bare).startswith("What would narrow this: the kind of Jar (")
    assert "your water's alkalinity" in narrowing_words(bare)
    assert narrowing_words(said) is None
