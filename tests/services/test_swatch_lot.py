from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from uuid import uuid4

import numpy as np
import pytest
from ready import place_demo

from dyewright.core.model import Dye, DyeClass, Event, EventKind, Judgement
from dyewright.errors import InputError
from dyewright.records import lots, photos, runs, shelf
from dyewright.services import studios
from dyewright.services.swatches import from_lot as swatch_lot
from dyewright.services.swatches.from_photo import PHOTO_WITHOUT_CHART_DE00

NOW = datetime(2026, 11, 20, 12, tzinfo=UTC)


@pytest.fixture
def session(tmp_path):
    with closing(studios.open_studio(place_demo(tmp_path))) as records, records.begin() as session:
        yield session


def lot_named(session, name):
    return next(lot for lot, _ in lots.all_lots(session) if lot.name == name)


def judged(session, lot, **skein):
    """Keep a verdict on a photo of a lot's run."""
    photo = next(one for one in photos.all_photos(session) if one.run_id == lot.run_id)
    seen = {"id": 1, "lab": [45.0, -18.0, -12.0], "lab_low": None, "lab_high": None, **skein}
    result = {"skeins": [seen], "basis": "measured"}
    return photos.add_judgement(session, Judgement(uuid4(), lot.run_id, photo.id, NOW, result, "0"))


def test_a_lot_is_a_swatch_of_its_runs_recipe_base_and_mean_colour(session):
    lot = lot_named(session, "9")
    kept = swatch_lot.keep_lot_as_swatch(session, lot.id)
    run = runs.run(session, lot.run_id)

    assert kept.depths_owf == {dye["name"]: dye["depth_owf"] for dye in run.sheet["dyes"]}
    assert kept.base == shelf.base(session, run.base_id).name
    assert kept.lab == pytest.approx(np.mean([skein.lab for skein in lot.skeins], axis=0))
    assert kept.dyed_on == lot.kept_on
    assert kept.origin == {"lot": str(lot.id)}
    assert swatch_lot.keep_lot_as_swatch(session, lot.id).id == kept.id, "once only"
    assert swatch_lot.lot_offer(session, lot).kept_as == kept.id


def test_its_noise_is_the_verdicts_and_the_scatter_of_its_skeins(session):
    assert swatch_lot.lot_offer(session, lot_named(session, "8")).swatch.noise_de00 is None  # no verdict on it
    lot = lot_named(session, "9")
    judged(session, lot)
    # Without a chart the camera's colour is worth 5 (estimate); the skeins of one lot add little to that.
    noise = swatch_lot.lot_offer(session, lot).swatch.noise_de00
    assert PHOTO_WITHOUT_CHART_DE00 < noise < 1.1 * PHOTO_WITHOUT_CHART_DE00
    assert any("without a chart" in doubt for doubt in swatch_lot.lot_offer(session, lot).warnings)


def test_a_lot_without_a_colour_or_a_yarn_is_refused_with_the_reason(session):
    lot = lot_named(session, "9")
    bare = replace(lot, skeins=tuple(replace(skein, lab=None) for skein in lot.skeins))
    offer = swatch_lot.lot_offer(session, bare)
    assert offer.swatch is None
    assert "judge its skeins on a photo first" in offer.refusal

    blank = replace(bare, id=uuid4(), name="bare")
    lots.add_lot(session, blank, search_text="")
    with pytest.raises(InputError, match="its colour is not known"):
        swatch_lot.keep_lot_as_swatch(session, blank.id)


def test_doubts_leave_it_usable_and_are_said(session):
    lot = lot_named(session, "9")
    name = runs.run(session, lot.run_id).sheet["dyes"][0]["name"]
    dye = next(one for one in shelf.dyes(session) if one.name == name)
    shelf.save_dye(session, Dye(name, DyeClass.VINYL_SULPHONE, id=dye.id))
    more = {"what": f"{name}, a little", "amount": "1 g"}
    runs.append_event(session, Event(uuid4(), lot.run_id, EventKind.ADDITION, NOW, NOW, more))

    offer = swatch_lot.lot_offer(session, lot)
    assert offer.swatch is not None
    assert f"{name} was added in the pot: put the recipe right if that was more than planned." in offer.warnings
    assert any(doubt.startswith(f"{name} is reactive") for doubt in offer.warnings)
