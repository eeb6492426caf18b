"""Swatches made by another model than the one fitted, and how far unseen mixes then lie from what is foretold."""

import time
from functools import cache

import numpy as np
import pytest
from synthetic_shelf import DEPTH_LAWS, LADDER, TABLES, World, acid_curves, invented_curves, random_mixes

from dyewright.core.colour import delta_e00
from dyewright.core.mixing import bands_95, fit_shelf, lab_of_mix
from dyewright.core.mixing.fit import solved
from dyewright.core.mixing.setting import setting_of

DYES, MIXES = 24, 150


@cache
def unseen(count, *, depth_sd=0.0, surface_frac=0.0, scattering=0.0, measured_mixes=0, **world):
    """Return errors of unseen mixes of two or three dyes, and whether pots of them fall inside the 95 % radius."""
    errors, inside = [], []
    for seed in range(count):
        rng = np.random.default_rng(seed)
        curves = invented_curves(rng, DYES)
        made = World(curves, scattering=rng.uniform(0, scattering, DYES), **world)
        swatches = made.shelf(rng, 0.3, depth_sd=depth_sd)
        swatches += [made.swatch(mix, rng, 0.3, depth_sd=depth_sd) for mix in random_mixes(rng, measured_mixes, DYES)]
        shelf = fit_shelf(swatches, TABLES, surface_frac=surface_frac)
        mixes = random_mixes(rng, MIXES, DYES)
        pots = mixes * np.exp(rng.normal(0, 0.05, mixes.shape))
        foretold = lab_of_mix(shelf, mixes, TABLES)
        errors.append(delta_e00(made.lab(mixes), foretold))
        inside.append(delta_e00(made.lab(pots), foretold) <= bands_95(shelf, mixes, TABLES))
    return np.concatenate(errors), np.concatenate(inside)


@pytest.mark.parametrize("depth_sd", [0.0, 0.05])
@pytest.mark.parametrize("law", DEPTH_LAWS)
def test_labs_alone_foretell_unseen_mixes_whatever_the_depth_law(law, depth_sd, record_property):
    # Truth by construction, Labs with a noise of 0.3, swatches at the depths noted or missing them by 5 %. The limits
    # are those set for this project: mean 0.8, nine of ten below 1.6.
    errors, _ = unseen(6, law=law, depth_sd=depth_sd)
    record_property("mean ΔE00", round(float(errors.mean()), 2))
    record_property("90 % below", round(float(np.percentile(errors, 90)), 2))
    assert errors.mean() <= 0.8
    assert np.percentile(errors, 90) <= 1.6


@pytest.mark.parametrize(
    "world",
    [
        *({"law": law} for law in DEPTH_LAWS),
        {"scattering": 5.0},  # up to a tenth of the fibre's own at 2 %
        {"outer": 0.005},  # a surface that the fit does not know of
        {"outer": 0.01, "surface_frac": None},
        {"scattering": 20.0, "measured_mixes": 24},  # here mixes show what the theory gets wrong
        {"outer": 0.01, "measured_mixes": 24},
    ],
)
def test_the_band_holds_19_of_20_pots_in_other_worlds(world, record_property):
    # Swatches and later pots miss their depths by 5 %, as the band takes for granted. Of 6 x 150 mixes 95 % should
    # lie within; 90 to 99 is the limit set for this project, in whole per cent: one pot more or less is the machine's
    # rounding. Where the theory is wrong by more and no mixes were measured, the band does not keep it:
    # docs/science/mixing.md says how far it misses.
    _, inside = unseen(6, depth_sd=0.05, **world)
    record_property("inside the band", round(float(inside.mean()), 3))
    assert 0.90 <= round(float(inside.mean()), 2) <= 0.99


@pytest.mark.parametrize(("depths", "noise"), [((0.01,), 0.3), ((0.003,), 0.3), (LADDER, 1.5), (LADDER, 0.3)])
def test_the_band_holds_for_dyes_with_the_bands_of_real_ones(depths, noise, record_property):
    # Narrow bands and double peaks, which bend more than the invented ones; 90 to 99 % as above. Curves believed to
    # bend by 0.15 rather than 0.22 would hold 80 % with one swatch of 1 % each.
    inside = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        made = World(acid_curves())
        shelf = fit_shelf(made.shelf(rng, noise, depths=depths, depth_sd=0.05), TABLES, surface_frac=0.0)
        mixes = random_mixes(rng, MIXES, 12)
        pots = mixes * np.exp(rng.normal(0, 0.05, mixes.shape))
        inside.append(delta_e00(made.lab(pots), lab_of_mix(shelf, mixes, TABLES)) <= bands_95(shelf, mixes, TABLES))
    share = float(np.mean(inside))
    record_property("inside the band", round(share, 3))
    assert 0.90 <= round(share, 2) <= 0.99


def test_a_surface_that_reflects_is_found_and_counts():
    # An outer reflection of 1 % is nearly half of the light that the darkest swatches send back.
    plain, _ = unseen(2, outer=0.01)
    found, _ = unseen(2, outer=0.01, surface_frac=None)
    assert found.mean() < 0.6 * plain.mean()


@pytest.mark.parametrize("outer", [0.0, 0.005, 0.018])
def test_the_surface_that_is_found_is_the_one_that_costs_least(outer):
    # Against every share by 0.1 %, each fitted by itself; what is found is the lowest point of a parabola.
    rng = np.random.default_rng(3)
    swatches = World(acid_curves()[6:], outer=outer).shelf(rng, 0.3, depth_sd=0.05)
    setting = setting_of(swatches, TABLES)
    shares = np.arange(0, 0.0251, 0.001)
    costs = [solved(setting, TABLES, float(share))[1].cost for share in shares]
    assert fit_shelf(swatches, TABLES).surface_frac == pytest.approx(shares[np.argmin(costs)], abs=0.002)


def test_looking_for_the_surface_takes_a_few_times_as_long_as_one_fit_and_no_more():
    rng = np.random.default_rng(0)
    swatches = World(invented_curves(rng, DYES)).shelf(rng, 0.3, depth_sd=0.05)
    best = dict.fromkeys((0.0, None), np.inf)
    for share in (*best, *best, *best):
        start = time.perf_counter()
        fit_shelf(swatches, TABLES, surface_frac=share)
        best[share] = min(best[share], time.perf_counter() - start)
    assert best[None] < 6 * best[0.0]  # about 3; with other starts at every share it was 10


def test_a_surface_is_looked_for_where_a_swatch_is_dark_enough_to_tell():
    rng = np.random.default_rng(0)
    world = World(invented_curves(rng, 8), outer=0.01)
    shiny = {deepest: fit_shelf(world.shelf(rng, 0.3, depths=(0.001, deepest)), TABLES) for deepest in (0.002, 0.04)}
    assert shiny[0.002].surface_frac == 0  # the darkest of these swatches has L* 50 and more
    assert 0.005 < shiny[0.04].surface_frac < 0.015


def test_measured_mixes_say_what_the_theory_gets_wrong():
    errors = []
    for scattering in (0.0, 20.0):
        rng = np.random.default_rng(1)
        made = World(invented_curves(rng, DYES), scattering=rng.uniform(0, scattering, DYES))
        mixes = [made.swatch(mix, rng, 0.3, depth_sd=0.05) for mix in random_mixes(rng, 24, DYES)]
        shelf = fit_shelf([*made.shelf(rng, 0.3, depth_sd=0.05), *mixes], TABLES, surface_frac=0.0)
        errors.append(shelf.theory_de00)
        assert any("the measured mixes lie about" in note for note in shelf.notes) == (scattering > 0)
    # Unseen mixes of such a world lie 1.7 ΔE00 off on average, some 1.1 a component; those of the first hardly at all.
    assert errors[0] < 0.4
    assert 0.7 < errors[1] < 1.3
