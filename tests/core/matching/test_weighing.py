import numpy as np
import pytest
from synthetic_shelf import TABLES, base_swatch, invented_curves, ladder_swatches

from dyewright.core.colour import delta_e00
from dyewright.core.matching import Weighing, weighing_p95
from dyewright.core.matching.weighing import dose_sd_frac, weighing_rms
from dyewright.core.mixing import fit_shelf, lab_of_mix

RNG = np.random.default_rng(21)
SHELF = fit_shelf(
    [base_swatch(with_curve=True), *ladder_swatches(RNG, invented_curves(RNG, 7), 0.0, with_curve=True)], TABLES
)
MIX = np.zeros(7)
MIX[[0, 3, 5]] = 0.004, 0.006, 0.002


def p95(**how):
    return weighing_p95(SHELF, MIX, TABLES, np.random.default_rng(1), Weighing(**how))


def test_doses_on_a_scale_scatter_by_its_step():
    # By hand: 0.4 % of 1 kg is 4 g; a step of 0.1 g is 2.5 % of it, spread like two dice: 2.5 / sqrt(6) = 1.02 %.
    found = dose_sd_frac(np.array([0.004, 0.0]), Weighing(0.0, 0.0, 1000, 0.1))
    assert found == pytest.approx([0.0102, 0.0], abs=1e-4)


def test_a_dose_too_small_for_the_scale_comes_from_stock():
    # By hand: 0.2 % of 50 g is 0.1 g, one step of the scale; from stock: a syringe right to 4 %, 4 / sqrt(3) = 2.3 %,
    # and its powder weighed to 5 % at worst, 5 / sqrt(6) = 2.04 %; together 3.07 %, not the 41 % of the scale.
    assert dose_sd_frac(np.array([0.002]), Weighing(0.0, 0.0, 50, 0.1)) == pytest.approx([0.0307], abs=1e-4)


def test_weighing_error_grows_with_the_scatter_of_doses():
    errors = [p95(sd_frac=sd, regain_sd_frac=0) for sd in (0.0, 0.02, 0.05)]
    assert errors[0] == pytest.approx(0, abs=1e-9)
    # Doses off by 2 and 5 % in an independent trial on other invented dyes: 0.21 and 0.54 on average; the 95th
    # percentile of a scatter in three directions is about twice its mean.
    assert 0.2 < errors[1] < 1.0
    assert errors[2] == pytest.approx(2.5 * errors[1], rel=0.1)


def test_moist_yarn_moves_all_dyes_together():
    # By hand: yarn 2 % heavier takes every depth down by 2 %; 95 of 100 draws lie within 1.96 of it.
    moved = float(delta_e00(lab_of_mix(SHELF, MIX, TABLES), lab_of_mix(SHELF, MIX * np.exp(-1.96 * 0.02), TABLES)))
    assert p95(sd_frac=0, regain_sd_frac=0.02) == pytest.approx(
        moved, rel=0.12
    )  # 400 draws: the quantile's own scatter


def test_the_scatter_by_slopes_is_that_of_drawing():
    weighing = Weighing(fibre_mass_g=500, scale_resolution_g=0.1)
    drawn = np.random.default_rng(3).normal(0, 1, (20000, 8))
    factors = np.exp(drawn[:, :7] * dose_sd_frac(MIX, weighing) + drawn[:, 7:] * weighing.regain_sd_frac)
    off = delta_e00(lab_of_mix(SHELF, MIX, TABLES), lab_of_mix(SHELF, MIX * factors, TABLES))
    # 20 000 draws tell a root mean square to 1 %; slopes leave out how it bends, some 2 % here.
    assert weighing_rms(SHELF, MIX[None], TABLES, weighing)[0] == pytest.approx(np.sqrt(np.mean(off**2)), rel=0.04)


def test_a_coarse_scale_on_little_yarn_adds_to_it():
    assert p95(fibre_mass_g=50, scale_resolution_g=0.1) > 1.2 * p95(fibre_mass_g=50, scale_resolution_g=0.001)
