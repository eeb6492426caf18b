"""Dyes over yarn that was dyed before, of which a curve or only a Lab is known."""

import numpy as np
import pytest
from synthetic_shelf import TABLES, WHITE, World, acid_curves, invented_curves, random_mixes

from dyewright.core.colour import delta_e00, lab_from_xyz, reflectance_from_lab
from dyewright.core.mixing import (
    band_95,
    fit_shelf,
    lab_of_mix,
    over_yarn,
    over_yarn_of_lab,
    reflectance_from_k_over_s,
)

DYES = 12


@pytest.mark.parametrize("with_curve", [True, False])
@pytest.mark.parametrize("curves_of", [lambda _: acid_curves(), lambda rng: invented_curves(rng, DYES)])
def test_the_band_holds_19_of_20_pots_over_dyed_yarn(curves_of, with_curve, record_property):
    # Truth by construction: absorption adds up. Two or three dyes over two or three, pots 5 % off in depth. As if the
    # smoothest curve of the yarn's Lab were its own, 65 to 74 % of the pots lay inside.
    inside = []
    for seed in range(3):
        rng = np.random.default_rng(seed)
        made = World(curves_of(rng))
        shelf = fit_shelf(made.shelf(rng, 0.3, depth_sd=0.05), TABLES, surface_frac=0.0)
        for below, added in zip(*(random_mixes(rng, 100, DYES, deepest=0.01) for _ in range(2)), strict=True):
            yarn = made.reflectance(below)
            over = over_yarn(shelf, yarn, "a lot") if with_curve else of_lab(shelf, made.lab(below))
            pot = made.lab(below + added * np.exp(rng.normal(0, 0.05, DYES)))
            inside.append(delta_e00(pot, lab_of_mix(over, added, TABLES)) <= band_95(over, added, TABLES))
    record_property("inside the band", round(float(np.mean(inside)), 3))
    assert 0.90 <= np.mean(inside) <= 0.99


def of_lab(shelf, lab):
    return over_yarn_of_lab(shelf, lab, "a lot", TABLES)


def test_doubt_of_the_yarn_is_none_without_dye_and_the_less_the_paler_the_yarn():
    rng = np.random.default_rng(5)
    made = World(acid_curves())
    shelf = fit_shelf(made.shelf(rng, 0.3), TABLES, surface_frac=0.0)
    added, wider = 0.01 * np.eye(DYES)[7], []
    for depth in (0.0005, 0.02):
        lab = made.lab(depth * np.eye(DYES)[2])
        over = of_lab(shelf, lab)
        plain = over_yarn(shelf, reflectance_from_lab(lab, TABLES), "a lot")
        assert lab_of_mix(over, added, TABLES) == pytest.approx(lab_of_mix(plain, added, TABLES))
        assert band_95(over, 0 * added, TABLES) == 0
        wider.append(band_95(over, added, TABLES) - band_95(plain, added, TABLES))
    assert 0 < wider[0] < 0.2 * wider[1]


def test_the_curves_that_are_thought_possible_have_the_yarns_colour():
    shelf = fit_shelf(World(acid_curves()).shelf(np.random.default_rng(5), 0.3), TABLES, surface_frac=0.0)
    lab = (45.0, 30.0, 10.0)
    over = of_lab(shelf, lab)
    spread = over.base_covariance / 100
    drawn = np.random.default_rng(1).multivariate_normal(np.zeros(31), spread, 200, check_valid="ignore")
    reflectance = reflectance_from_k_over_s(over.base_k_over_s * np.exp(drawn))
    labs = lab_from_xyz(reflectance @ TABLES.weights["D65", 10], WHITE)
    # A tenth of the doubt, so that slopes hold: half a per cent of R, and the Lab to a few hundredths.
    assert np.std(reflectance, axis=0).max() > 0.003
    assert delta_e00(labs, lab).max() < 0.1
