"""What a verdict becomes in a studio: ways out that know its dyes, earlier lots, orders, labels, a learnt tolerance."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import combinations
from uuid import uuid4

import numpy as np
import pytest
from skein_sets import sets_of
from studio_cards import CHOIR, plan_run
from synthetic_shelf import BASE, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.colour import delta_cmc, delta_e00
from dyewright.core.model import (
    Base,
    Basis,
    ChartReading,
    Colourway,
    Evenness,
    Fibre,
    Judgement,
    JudgeResult,
    Lot,
    PairDifference,
    Settings,
    Skein,
    SkeinColour,
    WayKind,
)
from dyewright.errors import InputError, NotFoundError
from dyewright.records import colourways, lots, photos, shelf, swatches
from dyewright.records.tables import LotRow
from dyewright.services import keep_form, run_forms, running
from dyewright.services.judging.earlier import earlier_lots
from dyewright.services.judging.labels import write_buyer_caution
from dyewright.services.judging.orders import orders_from_text, shared_out_of
from dyewright.services.judging.studio_ways import top_up_query, with_studio_ways
from dyewright.services.judging.tolerance import usual_tolerance
from dyewright.services.judging.ways import with_ways
from dyewright.services.plain import plain

NOW = datetime(2026, 11, 3, 14, 0, tzinfo=UTC)
TEAL = (45.0, -18.0, -12.0)


@pytest.fixture
def session(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Boathouse"))
        yield session


@pytest.fixture
def run(session):
    return plan_run(session, card_toml=CHOIR, now=NOW)


def result_on(labs, *, tolerance=1.0, half=0.1, half_lab=2.0, basis=Basis.MEASURED):
    low, high = (tuple(tuple(np.array(lab) + step) for lab in labs) for step in (-half_lab, half_lab))
    skeins = tuple(
        SkeinColour(n, (), lab, low[n - 1], high[n - 1], Evenness(0.4, "even")) for n, lab in enumerate(labs, start=1)
    )
    if basis is Basis.RELATIVE:
        skeins = tuple(replace(skein, lab_low=None, lab_high=None) for skein in skeins)
    pairs = []
    for one, two in combinations(skeins, 2):
        de00, cmc = float(delta_e00(one.lab, two.lab)), float(delta_cmc(one.lab, two.lab))
        within = True if de00 + half <= tolerance else False if de00 - half > tolerance else None
        pairs.append(PairDifference(one.id, two.id, de00, max(de00 - half, 0), de00 + half, cmc, "", "", within))
    sets = sets_of([skein.id for skein in skeins], pairs, tolerance)
    return with_ways(JudgeResult(ChartReading(found=True), skeins, tuple(pairs), sets, "", (), basis, tolerance))


def judged(session, run, result):
    """Keep a verdict of a run, on an empty photo."""
    photo = photos.add_photo(
        session,
        uuid4().bytes,
        photo_id=uuid4(),
        run_id=None if run is None else run.id,
        media_type="image/png",
        width_px=10,
        height_px=10,
        taken_at=NOW,
    )
    run_id = None if run is None else run.id
    return photos.add_judgement(session, Judgement(uuid4(), run_id, photo.id, NOW, plain(result), "0.1.0"))


def kept(session, run, **typed):
    return run_forms.keep(session, run.id, {"id": str(uuid4()), **typed}, now=NOW)


def paler(step, lab=TEAL):
    return (lab[0] + step, lab[1] + 0.3 * step, lab[2] + 0.5 * step)


def ticked(*numbers):
    return {f"skein_{number}": "on" for number in numbers}


# --- ways with the studio's dyes ---


def test_the_run_tells_which_dyes_heat_moves(session, run):
    result = with_studio_ways(session, run.id, result_on([TEAL, TEAL, paler(6)]))

    # CHOIR is dyed with a milling dye
    assert "Heating again does not help: milling and 1:2 metal complex dyes hardly move (Lagoon)." in result.advice
    assert WayKind.REHEAT not in [way.kind for way in result.ways]


def test_without_swatches_it_is_topped_up_by_eye_and_says_why(session, run):
    way = next(
        way
        for way in with_studio_ways(session, run.id, result_on([TEAL, TEAL, paler(6)])).ways
        if way.kind is WayKind.TOP_UP
    )

    assert way.top_up is None
    assert "no swatch of a dye is on record yet" in way.sentence


def test_the_studios_swatches_give_the_recipe_and_its_plan(session, run):
    rng = np.random.default_rng(4)
    curves = invented_curves(rng, 3)
    swatches.add_swatches(session, [base_swatch(with_curve=True), *ladder_swatches(rng, curves, 0.0, with_curve=True)])
    labs = [tuple(lab_of(BASE + depth * curves[0]).tolist()) for depth in (0.008, 0.008, 0.006)]

    result = with_studio_ways(session, run.id, result_on(labs))
    kept_verdict = judged(session, run, result)

    number, way = next((n, way) for n, way in enumerate(result.ways, start=1) if way.kind is WayKind.TOP_UP)
    assert way.top_up.dry_g == pytest.approx(100)  # CHOIR: 300 g in three skeins
    assert way.foretold_de00[1] < 0.5
    assert "weight=100+g" in top_up_query(session, kept_verdict.id, number)
    assert top_up_query(session, kept_verdict.id, 1) is None
    with pytest.raises(NotFoundError):
        top_up_query(session, kept_verdict.id, 99)


# --- labels ---


def test_the_sentence_for_the_buyer_goes_onto_the_labels_of_the_kept_lot(session, run):
    verdict = judged(session, run, result_on([TEAL, TEAL, paler(1.4)]))
    number = next(n for n, way in enumerate(verdict.result["ways"], start=1) if way["kind"] == WayKind.ALTERNATE)

    before = write_buyer_caution(session, verdict.id, number)
    lot = kept(session, run, **ticked(1, 2, 3))
    after = write_buyer_caution(session, verdict.id, number)

    assert before == f"/runs/{run.id}?label={number}#keep"
    assert after == f"/lots/{lot.id}#labels"
    cautions = {skein.caution for skein in lots.lot(session, lot.id).skeins}
    assert cautions == {"Skeins of this lot differ slightly: alternate two skeins every two rows."}


def test_the_form_carries_the_sentence_to_the_skeins_it_is_about(session, run):
    verdict = judged(session, run, result_on([TEAL, TEAL, paler(6)]))
    number = next(n for n, way in enumerate(verdict.result["ways"], start=1) if way["kind"] == WayKind.SELL_APART)
    form = keep_form.keep_form(running.run_view(session, run.id, now=NOW), {}, label=str(number))

    lot = kept(session, run, **ticked(1, 3), **{f"label_{number}": "on"})

    assert [line.is_ticked for line in form.labels] == [True]
    assert form.labels[0].on == "skein 3"
    assert [bool(skein.caution) for skein in lot.skeins] == [False, True]


def test_a_way_without_a_word_for_the_buyer_and_a_photo_without_a_run_are_refused(session, run):
    verdict = judged(session, run, result_on([TEAL, TEAL]))
    alone = judged(session, None, result_on([TEAL, paler(6)]))

    with pytest.raises(InputError, match="nothing for the label"):
        write_buyer_caution(session, verdict.id, 1)
    apart = next(n for n, way in enumerate(alone.result["ways"], start=1) if way["for_buyer"])
    with pytest.raises(InputError, match="belongs to no run"):
        write_buyer_caution(session, alone.id, apart)
    with pytest.raises(NotFoundError):
        write_buyer_caution(session, verdict.id, 7)


# --- keeping with the dyer's own sets ---


def test_a_skein_is_sold_with_another_set_than_proposed(session, run):
    verdict = judged(session, run, result_on([TEAL, TEAL, paler(1.4)]))

    lot = kept(session, run, **ticked(1, 2, 3), set_3="A")

    assert lot.judgement_id == verdict.id
    assert [(skein.matching_set, skein.proposed_set) for skein in lot.skeins] == [("A", "A"), ("A", "A"), ("A", "B")]
    with pytest.raises(InputError, match="cannot go to set 'Q'; the sets are A, B, C"):
        kept(session, run, **ticked(1), set_1="Q")


def test_a_form_is_kept_on_the_verdict_that_it_was_filled_in_on(session, run):
    first = judged(session, run, result_on([TEAL, TEAL]))
    judged(session, run, result_on([paler(3), paler(3)]))

    lot = kept(session, run, **ticked(1), judgement_id=str(first.id))

    assert lot.judgement_id == first.id
    assert lot.skeins[0].lab == TEAL


# --- the learnt tolerance ---


def sell(session, labs, sold, proposed, name):
    run = plan_run(session, card_toml=CHOIR, now=NOW)
    skeins = tuple(
        Skein(n, lab=lab, matching_set=own, proposed_set=was)
        for n, (lab, own, was) in enumerate(zip(labs, sold, proposed, strict=True), start=1)
    )
    lots.add_lot(session, Lot(uuid4(), run.id, name, date(2026, 11, 3), skeins=skeins), search_text=name)


def test_the_tolerance_begins_with_the_wish(session):
    assert usual_tolerance(session).de00 == 1.0
    assert "the studio’s wish" in usual_tolerance(session).words

    shelf.save_settings(session, Settings("Boathouse", is_tonal_wanted=True))
    assert usual_tolerance(session).de00 == 2.0
    assert "tonal lots are wanted (estimate)" in usual_tolerance(session).words


def test_lots_sold_as_proposed_do_not_move_it(session):
    for number in range(4):
        sell(session, [TEAL, paler(0.5), paler(3)], "AAB", "AAB", f"lot {number}")

    assert usual_tolerance(session).de00 == 1.0


def test_lots_sorted_by_the_dyers_eye_move_it(session):
    for number in range(5):
        sell(session, [TEAL, paler(2.0), paler(6)], "AAB", "ABC", f"lot {number}")

    found = usual_tolerance(session)

    # what is sold together lies float(delta_e00(TEAL, paler(2.0))) = 2.0 apart, what is sold apart 4 and more
    assert 1.8 < found.de00 < 4
    assert found.words.startswith("Learnt from 10 pairs of 5 lots, 5 sorted by your own eye: ")


def test_what_one_verdict_saw_and_is_kept_as_two_lots_is_sold_apart(session, run):
    judged(session, run, result_on([TEAL, paler(0.6)]))
    for _ in range(2):
        kept(session, run, **ticked(1))
    kept(session, run, **ticked(2))

    assert usual_tolerance(session).de00 < 1


def test_a_photo_that_was_unsure_tells_less(session):
    widths = []
    for half in (0.2, 4.0):
        run = plan_run(session, card_toml=CHOIR, now=NOW)
        verdict = judged(session, run, result_on([TEAL, paler(2.0), paler(6)], half=half))
        lot = kept(session, run, judgement_id=str(verdict.id), **ticked(1, 2, 3), set_2="A", set_3="C")
        said = usual_tolerance(session)
        low, high = re.search(r"\(([\d.]+)–([\d.]+)\)", said.words).groups()
        widths.append(float(high) / float(low))
        session.delete(session.get(LotRow, lot.id))
        session.flush()

    assert widths[0] < widths[1]


# --- orders ---


def test_orders_are_shared_out_of_a_kept_verdict(session, run):
    verdict = judged(session, run, result_on([TEAL, paler(6), TEAL, paler(0.3), paler(6.2)]))

    answer = shared_out_of(session, verdict.id, "3, 2")

    assert answer.orders == ((1, 3, 4), (2, 5))
    assert answer.rest == ()


@pytest.mark.parametrize(("text", "wanted"), [("3, 2", (3, 2)), ("3 2", (3, 2)), ("4", (4,)), ("1;1", (1, 1))])
def test_orders_as_they_are_typed(text, wanted):
    assert orders_from_text(text) == wanted


@pytest.mark.parametrize("text", ["", "three", "0", "-1", "2.5", "3, x", "1 " * 21, "500", "²"])
def test_orders_that_cannot_be_read(text):
    with pytest.raises(InputError, match="orders"):
        orders_from_text(text)


# --- earlier lots ---


@pytest.fixture
def colourway(session):
    return colourways.save_colourway(session, Colourway("Harbour dusk", TEAL, "lab", {"Lagoon": 0.006}))


def dyed_before(session, colourway, labs, name, **options):
    run = plan_run(session, card_toml=CHOIR, now=NOW, colourway_id=colourway.id)
    verdict = judged(session, run, result_on(labs, **options))
    return kept(session, run, name=name, judgement_id=str(verdict.id), **ticked(*range(1, len(labs) + 1)))


def now_judged(session, colourway, labs, **options):
    run = plan_run(session, card_toml=CHOIR, now=NOW, colourway_id=colourway.id)
    return judged(session, run, result_on(labs, **options))


def test_earlier_lots_of_the_colourway_with_the_doubt_of_both_photos(session, colourway):
    dyed_before(session, colourway, [TEAL, TEAL], "spring", half_lab=0.3)
    verdict = now_judged(session, colourway, [paler(5), paler(5)], half_lab=0.3)

    (found,) = earlier_lots(session, verdict.id)

    assert found.name == "spring"
    assert found.de00 == pytest.approx(float(delta_e00(TEAL, paler(5))))
    assert found.is_within is False
    assert found.words.endswith("than lot spring: they do not match, sell them as two lots.")
    single = now_judged(session, colourway, [paler(5)], half_lab=0.0)
    (surer,) = earlier_lots(session, single.id)
    # two photos with the same error: √2 times that of one
    assert (found.high - found.de00) / (surer.high - surer.de00) == pytest.approx(np.sqrt(2), rel=0.01)


def test_what_two_photos_cannot_tell_is_said(session, colourway):
    dyed_before(session, colourway, [TEAL], "spring")
    (found,) = earlier_lots(session, now_judged(session, colourway, [paler(0.8)]).id)

    assert found.is_within is None
    assert "two photos cannot tell whether they match" in found.words


def test_without_a_chart_it_is_rough(session, colourway):
    dyed_before(session, colourway, [TEAL], "spring", basis=Basis.RELATIVE)
    (found,) = earlier_lots(session, now_judged(session, colourway, [paler(5)]).id)

    assert (found.low, found.high) == (None, None)
    assert "rough, for one of the two was not read through a chart" in found.words


def test_only_other_lots_of_the_same_colourway_count(session, colourway, run):
    assert earlier_lots(session, judged(session, run, result_on([TEAL])).id) == ()
    assert earlier_lots(session, judged(session, None, result_on([TEAL])).id) == ()
    shelf.save_base(session, Base("Shoreline", {Fibre.WOOL: 1.0}))
    assert earlier_lots(session, now_judged(session, colourway, [TEAL]).id) == ()
