from contextlib import closing
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.core.model import Dye
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services import studios
from dyewright.services.swatches import health as swatch_health

CURVES = invented_curves(np.random.default_rng(8), 2)


def plainly(text):
    return text.replace("\u202f", " ").replace("\xa0", " ")


@pytest.fixture
def session(tmp_path):
    place = str(tmp_path / "own.sqlite")
    studios.begin_studio(place, name="Test shed").close()
    with closing(studios.open_studio(place)) as records, records.begin() as session:
        yield session


def ladders():
    return ladder_swatches(np.random.default_rng(5), CURVES, 0.2)


def put(session, swatches):
    return swatches_of.add_swatches(session, [base_swatch(), *swatches])


def test_ladders_that_agree_are_said_to(session):
    put(session, ladders())
    health = swatch_health.health(session)

    assert health.verdict == "The swatches agree with one another."
    assert health.suspects == ()
    # Made with noise 0.2 a component, about 0.35 in ΔE; left out, a rung is foretold within a few times that.
    off = float(health.dyes["dye 0"].left_out.split(": ")[1].split()[0])
    assert 0 < off < 2.5


def test_a_swatch_weighed_wrong_is_pointed_at_with_its_day_and_depth(session):
    swatches = ladders()
    wrong = swatches[3]  # dye 0 at 2 %, noted so where the half went in
    half = ladder_swatches(np.random.default_rng(6), CURVES[:1], 0.2, depths=(0.01,))[0]
    swatches[3] = replace(half, depths_owf=wrong.depths_owf, dyed_on=date(2026, 3, 12))
    kept = put(session, swatches)
    health = swatch_health.health(session)

    [doubt] = health.suspects
    assert doubt.id == kept[4].id  # behind the undyed base
    assert health.verdict == "One swatch disagrees with the others."
    said = plainly(doubt.sentence)
    assert "The swatch of 12 March 2026, dye 0 2 % on ecru, is" in said
    # The half of 2 % went in: as if at about 1 %.
    looks = float(said.split("as if dye 0 were at ")[1].split(" %")[0])
    assert looks == pytest.approx(1.0, abs=0.15)
    assert said.endswith("weighing?")
    check = swatch_health.swatch_check(session, kept[4].id)
    assert check.sentence == doubt.sentence
    assert check.foretold_hex != check.hex


def test_one_swatch_a_dye_can_be_held_against_none(session):
    [first, *_] = ladders()
    kept = put(session, [first])
    health = swatch_health.health(session)

    assert health.verdict == "One swatch a dye: none can be held against another yet."
    assert health.dyes["dye 0"].left_out == "One swatch: nothing to hold it against yet."
    assert "held at the usual" in health.dyes["dye 0"].law
    assert swatch_health.swatch_check(session, kept[1].id).foretold_hex == ""
    assert "undyed" in swatch_health.swatch_check(session, kept[0].id).sentence


def test_without_swatches_the_reason_is_said(session):
    health = swatch_health.health(session)
    assert health.verdict == "Nothing can be held against one another yet."
    assert "there is no dyed swatch" in health.trouble


def test_fluorescent_dyes_are_left_out_and_said_so(session):
    put(session, ladders())
    dye = next(one for one in shelf.dyes(session) if one.name == "dye 1")
    shelf.save_dye(session, Dye(dye.name, is_fluorescent=True, id=dye.id))
    health = swatch_health.health(session)
    assert "dye 1" not in health.dyes
    assert "Left out: dye 1, fluorescent." in health.trouble
