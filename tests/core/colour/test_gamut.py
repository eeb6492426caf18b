"""Colours outside the screen's range, against coloraide 8.13 (its own Oklab and its own search for the chroma)."""

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.colour.gamut import fitted_to_screen, linear_from_oklab, oklab_from_linear

RNG = np.random.default_rng(1)
ANY_LIGHT = RNG.uniform(-0.3, 1.2, (200, 3))


def test_oklab_agrees_with_coloraide():
    theirs = [Color("srgb-linear", list(light)).convert("oklab").coords() for light in ANY_LIGHT]

    # The published matrices have ten digits; 1e-5 is a thousandth of what an eye sees.
    assert oklab_from_linear(ANY_LIGHT) == pytest.approx(np.array(theirs), abs=1e-5)
    assert linear_from_oklab(oklab_from_linear(ANY_LIGHT)) == pytest.approx(ANY_LIGHT, abs=1e-9)


def test_a_colour_outside_is_brought_where_coloraide_brings_it():
    fitted = fitted_to_screen(ANY_LIGHT)
    off = [
        Color("srgb-linear", list(ours)).delta_e(
            Color("srgb-linear", list(light)).fit("srgb", method="oklch-chroma", jnd=0), method="2000"
        )
        for light, ours in zip(ANY_LIGHT[fitted.is_outside], fitted.linear[fitted.is_outside], strict=True)
    ]

    assert len(off) > 100
    # Both search by halving: 0.1 ΔE00 is where they stop. Cutting the channels off instead misses by 9 on average.
    assert max(off) < 0.1


def test_a_vivid_blue_keeps_its_hue():
    blue = Color("display-p3", [0.1, 0.2, 1.0])
    fitted = fitted_to_screen(np.array([blue.convert("srgb-linear").coords()]))

    lightness, _, hue = blue.convert("oklch").coords()
    ours = Color("srgb-linear", fitted.linear[0].tolist()).convert("oklch")
    assert bool(fitted.is_outside[0])
    assert ours["hue"] == pytest.approx(hue, abs=0.2)
    assert ours["lightness"] == pytest.approx(lightness, abs=1e-3)


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_what_a_screen_shows_stays_as_it_is(light):
    fitted = fitted_to_screen(np.array([light]))
    assert fitted.linear[0] == pytest.approx(light, abs=1e-12)
    assert not fitted.is_outside.any()


@given(st.lists(st.floats(-0.5, 2), min_size=3, max_size=3))
def test_whatever_comes_in_a_screen_can_show_it(light):
    fitted = fitted_to_screen(np.array([light])).linear
    assert np.all((fitted >= 0) & (fitted <= 1))


def test_a_glint_is_white_and_no_colour_outside():
    fitted = fitted_to_screen(np.array([[1.5, 1.4, 1.3]]))
    assert fitted.linear[0] == pytest.approx([1, 1, 1], abs=1e-6)
    assert bool(fitted.is_too_bright[0])
    assert not fitted.is_outside.any()
