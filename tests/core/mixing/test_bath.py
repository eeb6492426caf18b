"""The colour of a spoonful of bath."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from synthetic_shelf import TABLES, base_swatch, invented_curves, ladder_swatches

from dyewright.core.mixing import fit_shelf
from dyewright.core.mixing.bath import bath_reflectance

RNG = np.random.default_rng(7)
SHELF = fit_shelf(
    [base_swatch(with_curve=True), *ladder_swatches(RNG, invented_curves(RNG, 2), 0.0, with_curve=True)], TABLES
)


def test_the_peak_follows_beer_and_lambert():
    # By hand: 0.1 % owf at 20 L/kg is 0.001 × 1000 / 20 = 0.05 g/L; 30 L/(g cm) × 0.4 cm × 0.05 g/L = absorbance 0.6.
    spoon = bath_reflectance(SHELF, [0.001, 0.0], 1.0, 20.0)
    assert spoon.min() == pytest.approx(10**-0.6)


def test_an_empty_bath_is_white():
    np.testing.assert_allclose(bath_reflectance(SHELF, [0.001, 0.002], 0.0, 20.0), 1.0)


@given(left=st.floats(0, 1), more=st.floats(0, 1), liquor_l_kg=st.floats(5, 100))
def test_more_dye_in_the_bath_is_never_lighter(left, more, liquor_l_kg):
    low, high = sorted((left, more))
    paler = bath_reflectance(SHELF, [0.002, 0.001], low, liquor_l_kg)
    assert np.all(bath_reflectance(SHELF, [0.002, 0.001], high, liquor_l_kg) <= paler + 1e-12)
