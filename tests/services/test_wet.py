"""A base's wet samples, and a snip judged at the pot: what is kept, guessed, told and refused."""

from datetime import UTC, date, datetime
from uuid import uuid4

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.core.model import Base, Fibre, Judgement
from dyewright.errors import InputError, NotFoundError
from dyewright.records import photos, shelf, swatches, wet_pairs
from dyewright.services.judging import snip_photo, wet

NOW = datetime(2026, 11, 26, 15, tzinfo=UTC)
TODAY = date(2026, 11, 26)
RNG = np.random.default_rng(8)
SWATCHES = [base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 3), 0.3)]


@pytest.fixture
def bases(records):
    with records.begin() as session:
        numbers = [shelf.save_base(session, Base(name, {Fibre.WOOL: 1.0})).id for name in ("Fell", "Shore")]
    return records, numbers


def judged(records, labs, *, pair=None, basis="measured", yarn="", target=None):
    """Keep a verdict on outlines of these colours; `pair` is the ΔE00 of 1 and 2 with its interval."""
    skeins = [
        {"id": number, "lab": list(lab), "lab_low": [lab[0] - 3, lab[1] - 3, lab[2] - 3],
         "lab_high": [lab[0] + 3, lab[1] + 3, lab[2] + 3], "to_target": None}
        for number, lab in enumerate(labs, start=1)
    ]  # fmt: skip
    pairs = [] if pair is None else [dict(zip(("de00", "low", "high"), pair, strict=True), a=1, b=2, words="turned")]
    result = {"skeins": skeins, "pairs": pairs, "basis": basis, "chart": {}, "target": target}
    with records.begin() as session:
        photo = photos.add_photo(
            session, b"x", photo_id=uuid4(), run_id=None, media_type="image/jpeg", width_px=9, height_px=6, taken_at=NOW
        )
        verdict = Judgement(uuid4(), None, photo.id, NOW, result, "0", {"yarn": yarn} if yarn else {})
        return photos.add_judgement(session, verdict).id


def test_two_verdicts_make_a_pair_and_the_one_judged_damp_is_offered_first(bases):
    records, (fell, shore) = bases
    damp = judged(records, [(38, -19, -9)], yarn="damp")
    dry = judged(records, [(48, -20, -10)])

    with records.begin() as session:
        before = wet.guessed_dry(session, fell, (38, -19, -9))
        page = wet.wet_page(session, fell)
        wet.add_pair(session, fell, {"wet": page["wet_skeins"][0][0], "dry": page["dry_skeins"][0][0]}, today=TODAY)
    with records.read() as session:
        [kept] = wet_pairs.wet_pairs(session)
        after = wet.guessed_dry(session, fell, (38, -19, -9))
        other = wet.guessed_dry(session, shore, (38, -19, -9))

    assert page["wet_skeins"][0][0] == f"photo {damp} 1"
    assert page["dry_skeins"][0][0] == f"photo {dry} 1"
    assert (kept.base_id, kept.wet_lab, kept.dry_lab) == (fell, (38, -19, -9), (48, -20, -10))
    assert abs(after.lab[0] - 48) < abs(before.lab[0] - 48)
    assert after.de00_95 < other.de00_95 < before.de00_95
    assert "1 sample of this base" in after.basis
    assert "1 of other bases" in other.basis
    assert "rough guide" in after.words


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"wet_typed": "48 -20 -10", "dry_typed": "38 -19 -9"}, "taken for each other"),
        ({"wet_typed": "38 -19 -9"}, "judged dry"),
        ({"wet_typed": "dark", "dry_typed": "48 -20 -10"}, "dark"),
    ],
)
def test_a_pair_that_cannot_be_is_refused(bases, typed, words):
    records, (fell, _) = bases
    with records.begin() as session, pytest.raises(InputError, match=words):
        wet.add_pair(session, fell, typed, today=TODAY)


def test_a_pair_is_taken_out_of_its_own_base_only(bases):
    records, (fell, shore) = bases
    with records.begin() as session:
        pair = wet.add_pair(session, fell, {"wet_typed": "38 -19 -9", "dry_typed": "48 -20 -10"}, today=TODAY)
        with pytest.raises(NotFoundError):
            wet.remove_pair(session, shore, pair.id)
        wet.remove_pair(session, fell, pair.id)
        assert wet_pairs.wet_pairs(session) == []


def test_a_dry_snip_is_told_from_what_was_meant_and_gets_its_addition(records):
    with records.begin() as session:
        swatches.add_swatches(session, SWATCHES)
    verdict = judged(records, [(70, 5, 10), (60, 8, 12)], pair=(9.0, 7.5, 10.5))

    with records.read() as session:
        said = snip_photo.snip_page(session, verdict, {})["verdict"]

    assert "lighter" in said.words  # of the snip, though the pair's own words run the other way
    assert said.answer == f"The snip is {said.words}."
    assert (said.low, said.high) == (7.5, 10.5)
    assert said.doses
    assert "100 g" in said.left.replace("\N{NO-BREAK SPACE}", " ").replace("\N{THIN SPACE}", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("pair", "answer"),
    [((0.4, 0.0, 0.9), "It is there"), ((2.0, 0.5, 3.5), "cannot tell"), ((3.0, 1.5, 4.5), "The snip")],
)
def test_nothing_is_added_for_what_the_photo_cannot_tell(records, pair, answer):
    verdict = judged(records, [(60, 5, 10), (62, 5, 10)], pair=pair)
    with records.read() as session:
        said = snip_photo.snip_page(session, verdict, {})["verdict"]
    assert answer in said.answer
    assert said.doses == ()
    assert said.why_none


def test_a_damp_snip_is_to_be_dried_first_and_its_dry_colour_is_guessed(bases):
    records, _ = bases
    verdict = judged(records, [(38, -19, -9), (48, -20, -10)], pair=(9.0, 8.0, 10.0), yarn="damp")
    with records.read() as session:
        page = snip_photo.snip_page(session, verdict, {})

    assert page["is_damp"]
    assert page["verdict"].answer == "Wet, so darker: dry it first."
    assert page["verdict"].doses == ()
    assert page["guess"].lab[0] > 43


def test_a_snip_said_to_be_dry_that_looks_wet_is_asked_about(records):
    as_wet = judged(records, [(38, -19, -9), (48, -20, -10)], pair=(9.0, 8.0, 10.0))
    redder = judged(records, [(48, -5, -10), (48, -20, -10)], pair=(9.0, 8.0, 10.0))
    with records.read() as session:
        assert snip_photo.snip_page(session, as_wet, {})["verdict"].is_wet_like
        assert not snip_photo.snip_page(session, redder, {})["verdict"].is_wet_like


def test_without_a_chart_the_difference_is_told_and_no_recipe(records):
    verdict = judged(records, [(70, 5, 10), (60, 8, 12)], pair=(9.0, 7.5, 10.5), basis="relative")
    with records.read() as session:
        said = snip_photo.snip_page(session, verdict, {})["verdict"]
    assert said.de00 == 9.0
    assert "Without a chart" in said.why_none


@pytest.mark.parametrize(
    ("labs", "typed", "words"),
    [
        ([(60, 5, 10)], {}, "one outline or none"),
        ([(60, 5, 10), (62, 5, 10)], {"snip": "1", "against": "1"}, "against itself"),
        ([(60, 5, 10), (62, 5, 10)], {"snip": "1", "against": "meant"}, "against no colour"),
    ],
)
def test_a_photo_that_does_not_show_both_is_told_so(records, labs, typed, words):
    verdict = judged(records, labs, pair=(1.0, 0.5, 1.5))
    with records.read() as session:
        page = snip_photo.snip_page(session, verdict, typed)
    assert words in str(page["error"])
