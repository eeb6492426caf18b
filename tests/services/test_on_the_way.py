"""The colour of the yarn and of its bath while it is being dyed."""

import re
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest
from ready import place_demo

from dyewright.core.mixing import depth_vector, lab_of_mix
from dyewright.core.model import DyeClass, DyeDose, Sheet, When, WhenKind
from dyewright.data.colour import load_observer_tables
from dyewright.records import runs
from dyewright.services import studios
from dyewright.services.bath_colours import clarity_ladder
from dyewright.services.forecast_pages.on_the_way import on_the_way
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.plain import plain
from dyewright.services.planning import plan
from dyewright.services.shelf_model import studio_shelf
from dyewright.services.shown import shown_hex
from dyewright.services.unplain import from_plain


@pytest.fixture
def session(tmp_path):
    with closing(studios.open_studio(place_demo(tmp_path))) as records, records.read() as session:
        yield session


def lightness(code):
    return sum(int(code[i : i + 2], 16) for i in (1, 3, 5))


def fills(svg):
    return re.findall(r'fill="(#[0-9a-f]{6})"', svg)


def demo_sheet(session, **changes):
    card = from_plain(Sheet, runs.run_numbered(session, 9).sheet).card
    return plan(replace(card, **changes))


def test_the_yarn_darkens_and_its_bath_pales_from_heat_on_to_the_end(session):
    sheet = demo_sheet(session)
    way = on_the_way(session, sheet, forecast_from(sheet))
    colours = fills(way.svg)
    yarn, bath = colours[: len(colours) // 2], colours[len(colours) // 2 :]

    assert len(yarn) == len(bath) == 25
    assert [lightness(code) for code in yarn] == sorted((lightness(code) for code in yarn), reverse=True)
    assert [lightness(code) for code in bath] == sorted(lightness(code) for code in bath)
    # A share of the dye is in no earlier than a smaller share.
    minutes = [stop.when for stop in way.stops]
    assert len(minutes) == 5
    assert [stop.share for stop in way.stops] == ["At the start", "¼ in", "½ in", "¾ in", "At the end"]


def test_the_strip_begins_at_the_undyed_yarn_and_at_the_first_glass_of_the_ladder(session):
    sheet = demo_sheet(session)
    way = on_the_way(session, sheet, forecast_from(sheet))

    # The undyed base and the starting bath are computed elsewhere for other pages: the same colours.
    assert way.stops[0].bath_hex == clarity_ladder(session, plain(sheet))[0].hex
    assert lightness(way.stops[0].yarn_hex) > lightness("#d0d0d0")


def test_the_end_lies_at_the_colour_of_the_mix(session):
    sheet = demo_sheet(session)
    way = on_the_way(session, sheet, forecast_from(sheet))
    shelf = studio_shelf(session, None).model
    lab = lab_of_mix(
        shelf, depth_vector(shelf, {dye.name: dye.depth_owf for dye in sheet.card.dyes}), load_observer_tables()
    )
    meant = shown_hex((float(lab[0]), float(lab[1]), float(lab[2])))

    # The same swatches through the matching pages' own model: within a few steps of 255 a channel, for the uptake of
    # this pot is not exactly the usual one.
    parts = [np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) for code in (way.stops[-1].yarn_hex, meant)]
    assert np.abs(parts[0] - parts[1]).max() <= 12


def test_a_dye_that_follows_is_in_neither_before_it_comes(session):
    sheet = demo_sheet(session)
    late = tuple(
        replace(dye, parts=(When(WhenKind.MINUTE, 30.0),)) if n else dye for n, dye in enumerate(sheet.card.dyes)
    )
    one = plan(replace(sheet.card, dyes=sheet.card.dyes[:1]))
    both = plan(replace(sheet.card, dyes=late))
    alone = on_the_way(session, one, forecast_from(one)).stops[0]
    begun = on_the_way(session, both, forecast_from(both)).stops[0]

    assert len(late) > 1
    assert begun.bath_words == alone.bath_words


def test_without_swatches_it_says_what_would_give_it(session):
    nobody = DyeDose("Nobody's blue", DyeClass.ACID_MILLING, 0.01)
    sheet = demo_sheet(session, dyes=(nobody,))
    way = on_the_way(session, sheet, forecast_from(sheet))

    assert (way.svg, way.stops) == (None, ())
    assert way.basis == "One swatch of Nobody's blue would show the yarn's colour on the way."


def test_without_a_curve_there_is_no_way(session):
    sheet = demo_sheet(session, dyes=(DyeDose("Reed", DyeClass.ACID_MILLING, 0.0),))

    assert on_the_way(session, sheet, forecast_from(sheet)) is None
