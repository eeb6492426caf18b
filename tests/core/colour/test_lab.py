import numpy as np
import pytest

from dyewright.core.colour import (
    at_wavelengths,
    display_hex,
    display_rgb,
    lab_from_display_hex,
    light_of,
    reflectance_from_lab,
)
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, OutOfRangeError

TABLES = load_observer_tables()
WHITE = TABLES.whites["D65", 10]


def test_a_screen_colour_comes_back_from_its_hex():
    for text in ("#387472", "#ffffff", "#000000", "#c04020"):
        assert display_hex(lab_from_display_hex(text, WHITE), WHITE) == text


def test_a_colour_beyond_the_screen_keeps_lightness_and_hue():
    lab = np.array([50.0, 10.0, -90.0])
    rgb, is_outside = display_rgb(lab, WHITE)
    shown = lab_from_display_hex("#" + "".join(f"{round(v * 255):02x}" for v in rgb), WHITE)

    assert is_outside
    # A code step of 1/255 is about 0.5 in L* here.
    assert shown[0] == pytest.approx(lab[0], abs=0.6)
    assert np.degrees(np.arctan2(shown[2], shown[1])) == pytest.approx(np.degrees(np.arctan2(-90, 10)), abs=1)
    assert np.hypot(*shown[1:]) < np.hypot(*lab[1:])


@pytest.mark.parametrize("text", ["", "#12345", "#12345g", "blue", "#1234567"])
def test_a_wrong_hex_is_named(text):
    with pytest.raises(InputError, match="#rrggbb"):
        lab_from_display_hex(text, WHITE)


def test_an_impossible_colour_is_refused():
    with pytest.raises(OutOfRangeError, match="no surface can have the colour"):
        reflectance_from_lab((50, 120, 0), TABLES)


def test_an_unknown_light_is_named_with_the_known_ones():
    with pytest.raises(InputError, match=r"light F2 .*D65 2°"):
        light_of(TABLES, "F2", 10)


def test_a_finer_curve_is_read_at_the_packages_wavelengths():
    nm = np.arange(380, 731, 5)
    curve = at_wavelengths(nm, nm / 1000)

    assert curve == pytest.approx(np.arange(400, 701, 10) / 1000)


def test_a_short_curve_keeps_its_ends():
    curve = at_wavelengths(np.arange(420, 681, 20), np.linspace(0.2, 0.8, 14))

    assert curve[:3] == pytest.approx([0.2, 0.2, 0.2])
    assert curve[-1] == pytest.approx(0.8)


@pytest.mark.parametrize("nm", [[450, 700], [400, 390, 700], [400, 450, 500, 550, 600, 650, 700]])
def test_a_curve_too_short_or_too_coarse_is_refused(nm):
    with pytest.raises(InputError, match=r"420 to 680|must rise"):
        at_wavelengths(nm, np.full(len(nm), 0.5))
