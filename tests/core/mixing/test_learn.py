import numpy as np
import pytest
from synthetic_shelf import TABLES, World, invented_curves

from dyewright.core.colour import delta_e00
from dyewright.core.mixing import after_swatch, band_95, fit_shelf, lab_of_mix, learnt, next_swatch, predict

DYES = 4
RNG = np.random.default_rng(21)
WORLD = World(invented_curves(RNG, DYES))
ONE_EACH = WORLD.shelf(RNG, 0.3, depths=(0.01,))
SHELF = fit_shelf(ONE_EACH, TABLES)
MIX = np.array([0.004, 0.0, 0.006, 0.0])


def test_a_snip_moves_the_forecast_of_its_mix_towards_what_was_measured():
    measured = WORLD.lab(MIX)
    after = learnt(SHELF, MIX, measured, TABLES)
    before_off, after_off = (delta_e00(measured, lab_of_mix(shelf, MIX, TABLES)) for shelf in (SHELF, after))
    assert after_off < 0.5 * before_off
    assert band_95(after, MIX, TABLES) < band_95(SHELF, MIX, TABLES)


def test_a_snip_says_about_what_a_fit_with_it_says():
    # Another way to the same answer: the fit of all swatches with the snip among them.
    snip = WORLD.swatch(MIX, RNG, 0.3)
    after = learnt(SHELF, MIX, snip.lab, TABLES)
    anew = fit_shelf([*ONE_EACH, snip], TABLES)
    assert delta_e00(lab_of_mix(after, MIX, TABLES), lab_of_mix(anew, MIX, TABLES)) < 0.5
    assert band_95(after, MIX, TABLES) == pytest.approx(band_95(anew, MIX, TABLES), rel=0.3)


def test_a_noisy_reading_moves_less_than_a_good_one():
    measured = lab_of_mix(SHELF, MIX, TABLES) + np.array([3.0, 0.0, 0.0])
    moved = [
        delta_e00(
            lab_of_mix(SHELF, MIX, TABLES),
            lab_of_mix(learnt(SHELF, MIX, measured, TABLES, noise_de00=noise), MIX, TABLES),
        )
        for noise in (0.2, 1.0, 5.0)
    ]
    assert moved[0] > moved[1] > moved[2]


def test_dyes_that_are_not_in_the_mix_stay_where_they_were():
    after = learnt(SHELF, MIX, WORLD.lab(MIX), TABLES)
    other = np.array([0.0, 0.01, 0.0, 0.01])
    assert lab_of_mix(after, other, TABLES) == pytest.approx(lab_of_mix(SHELF, other, TABLES))


def test_a_curve_tells_the_shape_that_a_lab_leaves_open():
    truth = WORLD.reflectance(MIX)
    by_lab, by_curve = (learnt(SHELF, MIX, read, TABLES) for read in (WORLD.lab(MIX), truth))
    lab_off, curve_off = (np.sqrt(np.mean((predict(shelf, MIX) - truth) ** 2)) for shelf in (by_lab, by_curve))
    assert curve_off < 0.002  # the noise that a curve is believed to have
    assert lab_off > 10 * curve_off


def test_the_next_swatch_for_a_palette_narrows_its_bands_most():
    palette = np.array([[0.004, 0.006, 0, 0], [0.0, 0.006, 0.003, 0], [0.0, 0.008, 0.0, 0.002]])
    advice = next_swatch(SHELF, palette, TABLES)

    # Another way: learn each swatch that might be dyed, as foretold, and work the bands out anew.
    def mean_band(shelf):
        return np.sqrt(np.mean(np.square([band_95(shelf, recipe, TABLES) for recipe in palette])))

    tried = {
        (dye, depth): mean_band(after_swatch(SHELF, dye, depth, TABLES))
        for dye in range(DYES)
        for depth in (0.001, 0.003, 0.01, 0.03)
    }
    dye, depth = min(tried, key=tried.get)
    assert (advice.dye, advice.depth_owf) == (f"dye {dye}", depth)
    assert advice.band_now == pytest.approx(mean_band(SHELF))
    assert advice.band_after == pytest.approx(tried[dye, depth], rel=0.02)


def test_only_the_depths_asked_for_are_proposed():
    assert next_swatch(SHELF, MIX, TABLES, depths_owf=(0.002,)).depth_owf == 0.002
