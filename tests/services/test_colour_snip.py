"""A dried snip moves the recipe in hand: what it says, and what is kept of it."""

from datetime import UTC, date, datetime
from uuid import uuid4

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.core.model import Dye, Judgement
from dyewright.records import photos, shelf, swatches
from dyewright.services.colour_pages import colours, snip

RNG = np.random.default_rng(8)
SWATCHES = [base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 3), 0.3)]
NOW = datetime(2026, 11, 26, 15, tzinfo=UTC)
ASKED = {"target": "50 5 10", "depth.dye 0": "0.1", "depth.dye 1": "0.3"}
LAB = (58.0, 6.0, 9.0)


@pytest.fixture
def stocked(records):
    with records.begin() as session:
        swatches.add_swatches(session, SWATCHES)
        number = next(dye.id for dye in shelf.dyes(session) if dye.name == "dye 0")
        shelf.save_dye(session, Dye("dye 0", dye_lot="26-A", id=number))
    return records


def judged(records, half, basis="measured"):
    """Keep a verdict on one skein, its colour sure to `half` in each of L, a and b; None is a photo without chart."""
    low, high = ([value + side * half for value in LAB] if half else None for side in (-1, 1))
    skein = {"id": 1, "lab": list(LAB), "lab_low": low, "lab_high": high}
    with records.begin() as session:
        photo = photos.add_photo(
            session,
            b"x",
            photo_id=uuid4(),
            run_id=None,
            media_type="image/jpeg",
            width_px=900,
            height_px=600,
            taken_at=NOW,
        )
        verdict = Judgement(uuid4(), None, photo.id, NOW, {"skeins": [skein], "basis": basis}, "0")
        return f"photo {photos.add_judgement(session, verdict).id} 1"


def test_a_skein_of_a_photo_with_its_chart_can_be_the_snip(stocked):
    chosen = judged(stocked, 2.0)
    with stocked.read() as session:
        assert [value for value, _ in snip.seen_skeins(session)] == [chosen]
        page = colours.colour_page(session, {**ASKED, "snip_skein": chosen})
    assert page.snip is not None
    assert page.snip.text == "lab 58.00 6.00 9.00"


def test_a_photo_without_a_chart_is_not_offered(stocked):
    judged(stocked, None, basis="relative")
    with stocked.read() as session:
        assert snip.seen_skeins(session) == []


def test_the_snip_is_kept_with_its_recipe_its_tub_and_what_it_checked(stocked):
    sent = {**ASKED, "snip": "58 6 9", "keep_swatch": "on", "check_name": "Beech leaf"}
    with stocked.begin() as session:
        colours.take_snip(session, sent, today=date(2026, 11, 26))
    with stocked.read() as session:
        kept = swatches.swatches(session)[-1]
    assert kept.depths_owf == pytest.approx({"dye 0": 0.001, "dye 1": 0.003})
    assert (kept.lab, kept.base, kept.dyed_on) == (LAB, "ecru", date(2026, 11, 26))
    assert kept.origin == {"check": "Beech leaf"}
    assert kept.dye_lots == {"dye 0": "26-A"}


def test_a_vague_photo_moves_the_recipe_less_than_a_reading(stocked):
    # ± 12 in 19 of 20 photos is a standard deviation of 6; a typed Lab counts as read to 0.5 (SNIP_DE00).
    vague = judged(stocked, 12.0)
    moved = []
    for told in ({"snip_skein": vague}, {"snip": "58 6 9"}):
        with stocked.read() as session:
            reading = snip.read_snip(session, told)
        moved.append(reading.noise_de00)
    assert moved[0] > 5 * moved[1]
