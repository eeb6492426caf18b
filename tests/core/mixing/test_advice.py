import numpy as np
import pytest
from synthetic_shelf import BASE, TABLES, base_swatch, invented_curves, lab_of, ladder_swatches

from dyewright.core.mixing import after_swatch, band_95, depth_vector, fit_shelf, next_swatch
from dyewright.core.model import Swatch

RNG = np.random.default_rng(31)
CURVES = invented_curves(RNG, 2)
ONE_EACH = [base_swatch(), *ladder_swatches(RNG, CURVES, 0.3, depths=(0.01,))]
KNOWN_WELL = [*ONE_EACH, *ladder_swatches(RNG, CURVES[:1], 0.3)]
MIX = np.array([0.004, 0.004])


def test_the_dye_known_least_is_proposed():
    advice = next_swatch(fit_shelf(KNOWN_WELL, TABLES), MIX, TABLES)
    assert advice.dye == "dye 1"
    assert advice.band_after < advice.band_now


def test_the_promised_band_is_about_what_the_swatch_then_gives():
    before = fit_shelf(ONE_EACH, TABLES)
    promised = band_95(after_swatch(before, 1, 0.003, TABLES), MIX, TABLES)
    more = Swatch({"dye 1": 0.003}, "ecru", lab=tuple(lab_of(BASE + 0.003 * CURVES[1])), source="colorimeter")
    after = band_95(fit_shelf([*ONE_EACH, more], TABLES), MIX, TABLES)

    # The fit itself with that swatch added; the promise is linear about the curve as it was fitted before.
    assert after == pytest.approx(promised, rel=0.3)
    assert after < band_95(before, MIX, TABLES)


def test_nothing_is_proposed_where_a_swatch_would_hardly_help():
    spectral = [base_swatch(with_curve=True), *ladder_swatches(RNG, CURVES, 0.0, with_curve=True)]
    assert next_swatch(fit_shelf(spectral, TABLES), MIX, TABLES) is None


def test_an_empty_recipe_needs_no_swatch():
    shelf = fit_shelf(ONE_EACH, TABLES)
    assert next_swatch(shelf, depth_vector(shelf, {}), TABLES) is None
