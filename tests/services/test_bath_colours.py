"""The clarity ladder: the starting bath, diluted."""

from contextlib import closing

import pytest
from ready import place_demo

from dyewright.records import runs
from dyewright.services import shelf_model, studios
from dyewright.services.bath_colours import LADDER, clarity_ladder


@pytest.fixture
def session(tmp_path):
    with closing(studios.open_studio(place_demo(tmp_path))) as records, records.read() as session:
        yield session


def lightness(code):
    return sum(int(code[i : i + 2], 16) for i in (1, 3, 5))


def test_each_glass_is_paler_than_the_one_before_and_in_the_baths_own_colour(session):
    glasses = clarity_ladder(session, runs.run_numbered(session, 9).sheet)

    # Worked by hand: n times diluted to a half leaves 2^-n, so 1 - 2^-n is in the yarn.
    assert [glass.exhaustion for glass in glasses] == [1 - 0.5**n for n in range(len(LADDER))]
    assert [lightness(glass.hex) for glass in glasses] == sorted(lightness(glass.hex) for glass in glasses)
    assert lightness(glasses[-1].hex) - lightness(glasses[0].hex) > 100
    assert all(glass.is_own_colour for glass in glasses)


def test_without_swatches_the_glasses_are_grey_and_say_so(session):
    sheet = {**runs.run_numbered(session, 9).sheet, "dyes": [{"name": "Nobody's blue", "depth_owf": 0.01}]}
    glasses = clarity_ladder(session, sheet)

    assert not any(glass.is_own_colour for glass in glasses)
    assert all(glass.hex[1:3] == glass.hex[3:5] == glass.hex[5:7] for glass in glasses)


def test_the_pot_screen_does_not_fit_the_same_swatches_again(session):
    sheet = runs.run_numbered(session, 9).sheet
    clarity_ladder(session, sheet)
    fits = shelf_model._fitted.cache_info().misses

    clarity_ladder(session, sheet)
    assert shelf_model._fitted.cache_info().misses == fits
