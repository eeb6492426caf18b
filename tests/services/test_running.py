from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from threading import Barrier
from uuid import uuid4

import pytest
from studio_cards import CHOIR, plan_run, repeat_run

import dyewright
from dyewright.core.model import (
    Base,
    EventKind,
    Fibre,
    Heating,
    Judgement,
    Outcome,
    RunState,
    Settings,
    Skein,
    StepState,
    Vessel,
)
from dyewright.data.version import shipped_data_version
from dyewright.errors import InputError, NotFoundError
from dyewright.records import lots, runs, shelf
from dyewright.services import running

NOW = datetime(2026, 10, 3, 14, 0, tzinfo=UTC)


@pytest.fixture
def session(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        yield session


@pytest.fixture
def run(session):
    return plan_run(session, card_toml=CHOIR, now=NOW)


def sent(kind, minutes=-1.0, corrects=None, **detail):
    happened_at = (NOW + timedelta(minutes=minutes)).isoformat()
    event = {"id": str(uuid4()), "kind": kind, "happened_at": happened_at, "detail": detail}
    return event if corrects is None else event | {"corrects": corrects}


def test_a_planned_run_keeps_what_it_was_planned_from_and_by(session, run):
    kept = runs.run(session, run.id)
    assert kept == run
    assert (kept.number, kept.title, kept.state) == (1, "Choir shawls", RunState.PLANNED)
    assert kept.card_toml == CHOIR
    assert kept.package_version == dyewright.__version__
    assert kept.data_version == shipped_data_version()
    assert kept.sheet["dyes"][0]["dye_g"] == pytest.approx(1.8)  # by hand: 0.6 % of 300 g
    assert [event.kind for event in kept.events] == [EventKind.PLANNED, EventKind.FORETOLD]


def test_a_plan_sent_twice_is_one_run(session):
    key = uuid4()
    first = plan_run(session, card_toml=CHOIR, now=NOW, run_id=key)
    assert plan_run(session, card_toml=CHOIR, now=NOW + timedelta(minutes=1), run_id=key) == first
    assert len(runs.all_runs(session)) == 1


def test_a_card_that_cannot_be_planned_takes_no_number(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        with pytest.raises(InputError):
            plan_run(session, card_toml=CHOIR.replace("12 L", "2 L"), now=NOW)
        assert plan_run(session, card_toml=CHOIR, now=NOW).number == 1


def test_a_batch_gets_a_receipt_for_each_event(session, run):
    batch = [
        sent("started"),
        sent("temperature", bath_c=61),
        sent("temperature", bath_c=610),
        sent("clarity", exhaustion=0.875),
        sent("note", text=""),
        sent("pirouette"),
    ]
    receipts = running.record_events(session, run.id, batch, now=NOW)
    assert [receipt.id for receipt in receipts] == [event["id"] for event in batch]
    recorded, refused = Outcome.RECORDED, Outcome.REFUSED
    assert [receipt.outcome for receipt in receipts] == [recorded, recorded, refused, recorded, refused, refused]
    assert receipts[2].sentence.startswith("a bath temperature of 610 °C is outside 0 to 140 °C")
    assert "the note is missing" in receipts[4].sentence
    assert "“pirouette” is not something to record" in receipts[5].sentence

    again = running.record_events(session, run.id, batch, now=NOW + timedelta(hours=1))
    had = Outcome.ALREADY_HAD
    assert [receipt.outcome for receipt in again] == [had, had, refused, had, refused, refused]
    assert len(runs.run(session, run.id).events) == 5  # planned, foretold, and the three that were recorded


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"id": "seven"}, "id must be a UUID"),
        ({"id": None}, "id must be a UUID"),
        ({"happened_at": "yesterday"}, "“yesterday” is not a time"),
        ({"happened_at": "2026-10-03T14:00:00"}, "has no zone"),
        ({"happened_at": "2026-10-03T14:16:00Z"}, "lies ahead"),
        ({"happened_at": "1949-12-31T00:00:00Z"}, "before 1950"),
        ({"happened_at": None}, "is not a time"),
        ({"detail": [1]}, "at most 20 named values"),
        ({"detail": {f"k{i}": i for i in range(21)}}, "at most 20 named values"),
        ({"detail": {"text": {"nested": 1}}}, "text must be text or a number"),
        ({"detail": {"text": "x" * 4001}}, "has 4001 characters; at most 4000 fit"),
        ({"kind": "kept"}, "“kept” is not something to record"),
        ({"kind": "planned"}, "“planned” is not something to record"),
        ({"kind": "step done", "detail": {"step": "fly"}}, "has no step “fly”"),
        ({"kind": "clarity", "detail": {"exhaustion": "much"}}, "share of dye taken up is missing"),
        ({"kind": "clarity", "detail": {"exhaustion": True}}, "share of dye taken up is missing"),
        ({"kind": "ph", "detail": {"ph": float("nan")}}, "ph must be text or a number"),
        ({"kind": "correction"}, "corrects must be a UUID"),
        ({"kind": "correction", "corrects": str(uuid4())}, "not in this run"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(session, run, change, sentence):
    (receipt,) = running.record_events(session, run.id, [sent("note", text="fine") | change], now=NOW)
    assert receipt.outcome is Outcome.REFUSED
    assert sentence in receipt.sentence


def test_text_that_no_database_keeps_is_kept_with_a_mark(session, run):
    event = running.record_event(session, run.id, sent("note", text="half \ud83d and \0 null 🧶"), now=NOW)
    assert runs.run(session, run.id).events[0].detail == event.detail
    assert event.detail["text"] == "half � and � null 🧶"


def test_an_id_used_for_another_event_is_refused_and_the_rest_goes_on(session, run):
    first = sent("note", text="one")
    receipts = running.record_events(
        session, run.id, [first, first | {"detail": {"text": "two"}}, sent("note", text="three")], now=NOW
    )
    assert [receipt.outcome.value for receipt in receipts] == ["recorded", "refused", "recorded"]
    assert "recorded already with another content" in receipts[1].sentence


def test_two_phones_that_send_the_same_event_at_once_record_it_once(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        run = plan_run(session, card_toml=CHOIR, now=NOW)
    events = [sent("note", text=f"note {place}") for place in range(10)]
    both_ready = Barrier(2)

    def post():
        both_ready.wait(timeout=20)
        outcomes = []
        for event in events:
            with records.begin() as session:
                outcomes += running.record_events(session, run.id, [event], now=NOW)
        return [receipt.outcome for receipt in outcomes]

    with ThreadPoolExecutor(2) as phones:
        first, second = (phone.result() for phone in [phones.submit(post), phones.submit(post)])
    expected = {Outcome.RECORDED, Outcome.ALREADY_HAD}
    assert all({one, two} == expected for one, two in zip(first, second, strict=True))
    with records.read() as session:
        assert len(runs.run(session, run.id).events) == 2 + len(events)


def test_a_run_that_is_not_there_is_said(session):
    with pytest.raises(NotFoundError, match="there is no run"):
        running.record_events(session, uuid4(), [], now=NOW)


def test_late_entry_and_undo(session, run):
    temperature = running.late_entry(
        session,
        run.id,
        event_id=uuid4(),
        kind=EventKind.TEMPERATURE,
        happened_at=NOW - timedelta(days=2),
        detail={"bath_c": 70.0},
        now=NOW,
    )
    assert (temperature.happened_at, temperature.recorded_at) == (NOW - timedelta(days=2), NOW)
    running.undo(session, run.id, temperature.id, correction_id=uuid4(), now=NOW)
    view = running.run_view(session, run.id, now=NOW)
    assert view.progress.temperatures == ()
    (line,) = [line for line in view.log if line.kind is EventKind.TEMPERATURE]
    assert (line.words, line.is_undone, line.can_undo) == ("bath at 70 °C", True, False)


def test_the_pot_screen_goes_through_the_steps(session, run):
    keys = [step["key"] for step in run.sheet["steps"]]
    entering = keys.index("enter")
    for place, key in enumerate(keys[: entering + 1]):
        running.record_event(session, run.id, sent("step done", minutes=-30 + place, step=key), now=NOW)
    pot = running.pot_view(session, run.id, now=NOW)
    entered_at = NOW + timedelta(minutes=-30 + entering)
    assert (pot.index, pot.current.key, pot.heat_on_at) == (entering + 1, keys[entering + 1], entered_at)
    assert pot.done == tuple(keys[: entering + 1])
    assert pot.ends_at == entered_at + timedelta(minutes=pot.current.duration_min)
    assert pot.state is RunState.AT_THE_POT
    assert pot.log[1].words == f"done: {pot.steps[entering].title}"


def test_the_words_of_the_log(session, run):
    for event in (
        sent("clarity", -9, exhaustion=0.9375),
        sent("ph", -8, ph=4.55),
        sent("addition", -7, what="white vinegar", amount="40 mL"),
        sent("addition", -6, what="salt"),
        sent("note", -5, text="smells of sheep"),
        sent("started", -4, text="at last"),
    ):
        running.record_event(session, run.id, event, now=NOW)
    log = running.pot_view(session, run.id, now=NOW).log
    assert [line.words for line in reversed(log[1:])] == [
        "94 % of the dye is in",
        "pH 4.55",
        "added: white vinegar, 40 mL",
        "added: salt",
        "smells of sheep",
        "heat on: at last",
    ]
    assert (log[0].words, log[0].can_undo) == ("planned", False)


def test_a_repeat_on_another_weight_scales_what_was_given_outright(session, run):
    big = shelf.save_vessel(session, Vessel("Big pot", 20.0, Heating.INDUCTION, power_w=2200.0))
    again = repeat_run(session, run.id, now=NOW, dry_g=400.0, vessel_ids=[big.id])
    # By hand, times 400/300: 9 L of liquor and 60 mL of vinegar become 12 L and 80 mL; 0.6 % of 400 g is 2.4 g.
    sheet = again.sheet
    assert (sheet["liquor_l"], sheet["assistants"][0]["amount"], sheet["dyes"][0]["dye_g"]) == pytest.approx(
        (12.0, 80.0, 2.4)
    )
    assert (again.repeats_run_id, again.number, sheet["pots"][0]["name"]) == (run.id, 2, "Big pot")
    # The same acid in the same share of the same water gives the same pH.
    assert sheet["ph_closed"] == pytest.approx(run.sheet["ph_closed"], abs=1e-3)


def test_a_repeat_that_does_not_fit_its_pot_is_refused_and_keeps_nothing(session, run):
    with pytest.raises(InputError, match="12 L is too small for 12 L of liquor"):
        repeat_run(session, run.id, now=NOW, dry_g=400.0)
    assert runs.all_runs(session) == [run]


def test_keeping_a_lot(session, run):
    first = running.keep_lot(
        session, run.id, lot_id=uuid4(), skeins=running.planned_skeins(run), kept_on=date(2026, 10, 4), now=NOW
    )
    second = running.keep_lot(
        session, run.id, lot_id=uuid4(), skeins=[Skein(1)], kept_on=date(2026, 10, 4), now=NOW, note="sold apart"
    )
    assert (first.name, second.name) == ("1", "1-B")
    assert [(skein.number, skein.mass_g) for skein in first.skeins] == [(n, Decimal("100.0")) for n in (1, 2, 3)]
    assert runs.run(session, run.id).state is RunState.KEPT
    assert lots.lots_of_run(session, run.id) == [first, second]


def test_a_lot_sent_twice_is_filed_once(session, run):
    key = uuid4()
    lots_kept = [
        running.keep_lot(session, run.id, lot_id=key, skeins=[Skein(1)], kept_on=date(2026, 10, 4), now=NOW)
        for _ in range(2)
    ]
    assert lots_kept[0] == lots_kept[1]
    assert len(lots.lots_of_run(session, run.id)) == 1


def test_a_lot_without_skeins_is_refused(session, run):
    with pytest.raises(InputError, match="at least one skein"):
        running.keep_lot(session, run.id, lot_id=uuid4(), skeins=[], kept_on=date(2026, 10, 4), now=NOW)


def test_a_verdict_becomes_skeins_with_colours_and_sets(run):
    result = {
        "skeins": [{"id": key, "lab": [50.0 + place, -10.0, 2.0]} for place, key in enumerate(["1", "2", "3"])],
        "sets": [["1", "3"], ["2"]],
    }
    skeins = running.judged_skeins(Judgement(uuid4(), run.id, uuid4(), NOW, result, "0.1.0"))
    assert [(skein.number, skein.lab, skein.matching_set) for skein in skeins] == [
        (1, (50.0, -10.0, 2.0), "A"),
        (2, (51.0, -10.0, 2.0), "B"),
        (3, (52.0, -10.0, 2.0), "A"),
    ]


def test_a_run_page_shows_what_it_repeats_and_its_base(session, run):
    base = shelf.save_base(session, Base("Shoreline", {Fibre.WOOL: 0.7, Fibre.SILK: 0.3}))
    again = repeat_run(session, run.id, now=NOW, base_id=base.id)
    view = running.run_view(session, again.id, now=NOW)
    assert (view.repeats, view.base) == (run, base)
    assert view.run.sheet["notes"][0] == "Repeats run 1."
    assert {step.state for step in view.progress.steps} == {StepState.NOW, StepState.AHEAD}


def test_a_repeat_in_another_pot_that_is_too_small_is_refused(session, run):
    small = shelf.save_vessel(session, Vessel("Small pot", 3.0, Heating.ELECTRIC))
    with pytest.raises(InputError, match="a pot of 3 L is too small"):
        repeat_run(session, run.id, now=NOW, vessel_ids=[small.id])
