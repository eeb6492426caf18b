from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import BASE, TABLES, base_swatch, invented_curves, lab_of, ladder_swatches, random_mixes

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.mixing import (
    band_95,
    bands_95,
    depth_vector,
    fit_shelf,
    lab_by_depth,
    lab_of_mix,
    lab_slopes,
    predict,
    reflectance_from_k_over_s,
)
from dyewright.core.mixing.shelf import radius_95
from dyewright.core.model import Swatch
from dyewright.errors import InputError

DYES = 8


def fitted(seed, noise, *, mixes=(), **how):
    rng = np.random.default_rng(seed)
    curves = invented_curves(rng, DYES)
    swatches = [base_swatch(rng, noise, with_curve=how.get("with_curve", False))]
    swatches += ladder_swatches(rng, curves, noise, **how)
    return fit_shelf([*swatches, *mixes], TABLES), curves, rng


def unseen_errors(seed, noise, **how):
    shelf, curves, rng = fitted(seed, noise, **how)
    mixes = random_mixes(rng, 200, DYES)
    return delta_e00(lab_of(BASE + mixes @ curves), lab_of_mix(shelf, mixes, TABLES))


def test_curves_without_noise_foretell_unseen_mixes():
    # Truth by construction: single-constant mixing of known curves in proportion to depth. What is left is what is
    # believed beforehand: smooth curves, and a build-up that bends by 14 % at 4 %, against depths known to 5 % only.
    assert unseen_errors(1, 0.0, with_curve=True).mean() < 0.25


def test_a_second_depth_sharpens_a_dye_known_by_lab():
    one = np.concatenate([unseen_errors(seed, 0.3, depths=(0.01,)) for seed in (1, 3, 4)])
    two = np.concatenate([unseen_errors(seed, 0.3, depths=(0.003, 0.02)) for seed in (1, 3, 4)])
    assert two.mean() < 0.7 * one.mean()


@pytest.mark.parametrize(
    ("noise", "how"),
    [(0.3, {}), (0.3, {"depths": (0.01,)}), (1.5, {}), (0.002, {"with_curve": True}), (0.3, {"depth_sd": 0.05})],
)
def test_the_band_holds_19_of_20_pots(noise, how):
    # A new pot's depths scatter by the 5 % that the band takes for granted. Of 5 x 60 unseen mixes 95 % should lie
    # within; 85 to 100 allows for the few dyes of a shelf, whose errors go together, and for a band a little wide.
    held = []
    for seed in (1, 2, 3, 4, 5):
        shelf, curves, rng = fitted(seed, noise, **how)
        mixes = random_mixes(rng, 60, DYES)
        pots = mixes * np.exp(rng.normal(0, 0.05, mixes.shape))
        errors = delta_e00(lab_of(BASE + pots @ curves), lab_of_mix(shelf, mixes, TABLES))
        held += [error < band_95(shelf, mix, TABLES) for error, mix in zip(errors, mixes, strict=True)]
    assert 0.85 <= np.mean(held) <= 1.0


def test_more_swatches_narrow_the_band():
    one, _, _ = fitted(2, 0.3, depths=(0.01,))
    five, _, _ = fitted(2, 0.3)
    mix = np.full(DYES, 0.001)
    assert band_95(five, mix, TABLES) < band_95(one, mix, TABLES)


def test_a_noisier_source_widens_the_band():
    colorimeter, _, _ = fitted(2, 0.3)
    photo, _, _ = fitted(2, 1.5)
    mix = np.full(DYES, 0.001)
    assert band_95(photo, mix, TABLES) > band_95(colorimeter, mix, TABLES)


def test_a_dye_known_from_a_mix_is_found_and_named():
    rng = np.random.default_rng(5)
    curves = invented_curves(rng, 2)
    depths = np.array([0.01, 0.005])
    alone = ladder_swatches(rng, curves[:1], 0.0, with_curve=True)
    curve = reflectance_from_k_over_s(BASE + depths @ curves)
    mixed = Swatch({"dye 0": 0.01, "dye 1": 0.005}, "ecru", reflectance=tuple(curve), source="spectrophotometer")
    shelf = fit_shelf([base_swatch(with_curve=True), *alone, mixed], TABLES)
    lonely = depth_vector(shelf, {"dye 1": 0.008})

    error = delta_e00(lab_of(BASE + 0.008 * curves[1]), lab_of_mix(shelf, lonely, TABLES))
    # The depth of the mix is not known better than 5 %, which the fit may give to the unknown dye: 1 ΔE00 at most here.
    assert error < 1.0
    assert any("known from mixes only: dye 1" in note for note in shelf.notes)


def test_another_base_keeps_the_dye_and_takes_its_own_undyed_colour():
    rng = np.random.default_rng(6)
    curves = invented_curves(rng, 1)
    grey = Swatch({}, "grey fleece", reflectance=(0.3,) * 31, source="spectrophotometer")
    swatches = [base_swatch(with_curve=True), *ladder_swatches(rng, curves, 0.0, with_curve=True), grey]
    shelf = fit_shelf(swatches, TABLES, base="grey fleece")

    # K/S of R 0.3 is 0.49/0.6 = 0.81667; the dye's curve is added to it.
    expected = reflectance_from_k_over_s(0.49 / 0.6 + 0.01 * curves[0])
    assert predict(shelf, [0.01]) == pytest.approx(expected, abs=0.003)
    assert any("not yet dyed on grey fleece: dye 0" in note for note in shelf.notes)


def test_no_dye_gives_the_base_itself():
    shelf, _, _ = fitted(1, 0.0, with_curve=True)
    assert predict(shelf, np.zeros(DYES)) == pytest.approx(reflectance_from_k_over_s(BASE), abs=1e-9)


def test_a_missing_base_is_named_with_the_way_out():
    rng = np.random.default_rng(1)
    dyed = ladder_swatches(rng, invented_curves(rng, 1), 0.3)
    with pytest.raises(InputError, match=r"base 'ecru' has no undyed swatch.*add it as a row with depth 0"):
        fit_shelf(dyed, TABLES)


def test_a_base_that_is_not_there_is_named():
    rng = np.random.default_rng(1)
    swatches = [base_swatch(), *ladder_swatches(rng, invented_curves(rng, 1), 0.3)]
    with pytest.raises(InputError, match="base 'silk' has no undyed swatch"):
        fit_shelf(swatches, TABLES, base="silk")


@pytest.mark.parametrize("depth", [-0.01, 0.0, 1.5, float("nan")])
def test_a_depth_that_cannot_be_is_named(depth):
    swatch = Swatch({"Blue": depth}, "ecru", lab=(40, 0, -30))
    with pytest.raises(InputError, match="swatch Blue"):
        fit_shelf([base_swatch(), swatch], TABLES)


def test_no_dyed_swatch_is_said():
    with pytest.raises(InputError, match="no dyed swatch"):
        fit_shelf([base_swatch()], TABLES)


def test_an_unknown_dye_in_a_mix_is_named_with_the_known_ones():
    shelf, _, _ = fitted(1, 0.0, with_curve=True)
    with pytest.raises(InputError, match=r"'Purple' has no swatch.*dye 0"):
        depth_vector(shelf, {"Purple": 0.01})


def test_slopes_of_lab_are_its_derivatives():
    # Against central differences of the same chain, whose own error is about 1e-6 here.
    ratio = BASE + 3.0
    weights, white = TABLES.weights["D65", 10], TABLES.whites["D65", 10]
    _, slopes = lab_slopes(ratio, weights, white)
    step = 1e-4
    for place in (0, 10, 25):
        ahead, behind = (
            lab_from_xyz(reflectance_from_k_over_s(ratio + sign * step * np.eye(31)[place]) @ weights, white)
            for sign in (1, -1)
        )
        assert slopes[place] == pytest.approx((ahead - behind) / (2 * step), abs=1e-5)


@pytest.mark.parametrize("scales", [(1, 1, 1), (3, 1, 0.3), (1, 0, 0), (2, 2, 0)])
def test_the_95_radius_holds_95_of_100_drawn_points(scales):
    # Drawn points, 200,000: the radius of 95 % is known to 0.3 %; the approximation's own limit is 3 %.
    covariance = np.diag(np.square(scales)).astype(float)
    drawn = np.random.default_rng(1).normal(size=(200_000, 3)) * scales
    assert radius_95(covariance) == pytest.approx(np.percentile(np.linalg.norm(drawn, axis=1), 95), rel=0.03)


def test_a_base_as_white_as_paper_can_be_dyed_on():
    # An optical brightener reads above 1 and is taken as 1, where K/S is 0 and its slope endless.
    rng = np.random.default_rng(9)
    curves = invented_curves(rng, 1)
    white = Swatch({}, "white", reflectance=(1.0,) * 31, source="spectrophotometer")
    dyed = Swatch({"Blue": 0.01}, "white", reflectance=tuple(reflectance_from_k_over_s(0.01 * curves[0])))
    shelf = fit_shelf([white, dyed], TABLES)

    assert predict(shelf, [0.0]) == pytest.approx(np.ones(31))
    assert predict(shelf, [0.01]) == pytest.approx(np.array(dyed.reflectance), abs=0.01)
    assert np.isfinite(band_95(shelf, np.array([0.001]), TABLES))
    assert band_95(shelf, np.zeros(1), TABLES) == 0


def test_readings_of_zero_do_not_stop_a_fit():
    dyed = Swatch({"Black": 0.04}, "ecru", reflectance=(0.0,) * 31, source="spectrophotometer")
    shelf = fit_shelf([base_swatch(with_curve=True), dyed], TABLES)
    assert np.all(np.isfinite(predict(shelf, [0.04])))
    assert lab_of_mix(shelf, [0.04], TABLES)[0] < 5


def test_a_swatch_lighter_than_the_undyed_yarn_is_questioned_and_makes_the_answer_unsure():
    undyed = Swatch({}, "w", lab=(60.0, 0.0, 8.0))
    impossible = Swatch({"Blue": 0.01}, "w", lab=(90.0, 0.0, -5.0))

    shelf = fit_shelf([undyed, impossible], TABLES)

    # The undyed yarn itself lies 24.88 ΔE00 off (colour-science 0.4.7); a trace of blue comes a hair nearer.
    assert 24.0 < shelf.fit_de00[0] <= 24.88
    assert any("Blue: no dye over this undyed yarn gives its swatches" in note for note in shelf.notes)
    assert band_95(shelf, np.array([0.01]), TABLES) > 20
    assert not fit_shelf([undyed, Swatch({"Blue": 0.01}, "w", lab=(40.0, 0.0, -25.0))], TABLES).notes


def test_slopes_by_depth_are_derivatives_of_the_predicted_colour():
    # Against central differences in ln depth of the prediction itself, whose own error is about 1e-6 here.
    shelf = replace(fitted(1, 0.3)[0], half_depth_owf=(0.05,) * DYES, strength=(1.2,) * DYES, surface_frac=0.004)
    mixes = random_mixes(np.random.default_rng(2), 4, DYES)
    lab, slopes = lab_by_depth(shelf, mixes, TABLES)
    assert lab == pytest.approx(lab_of_mix(shelf, mixes, TABLES))
    for dye in range(DYES):
        factor = np.exp(1e-4 * np.eye(DYES)[dye])
        change = lab_of_mix(shelf, mixes * factor, TABLES) - lab_of_mix(shelf, mixes / factor, TABLES)
        assert slopes[:, dye] == pytest.approx(change / 2e-4, abs=1e-4)


def test_many_bands_are_the_single_ones():
    shelf, _, rng = fitted(1, 0.3)
    mixes = random_mixes(rng, 5, DYES)
    assert bands_95(shelf, mixes, TABLES) == pytest.approx([band_95(shelf, mix, TABLES) for mix in mixes])


@pytest.mark.parametrize("surface", [-0.01, 0.2, float("nan")])
def test_a_surface_that_no_yarn_has_is_named_with_the_way_out(surface):
    undyed, dyed = Swatch({}, "w", lab=(60.0, 0.0, 8.0)), Swatch({"Blue": 0.01}, "w", lab=(40.0, 0.0, -25.0))
    with pytest.raises(InputError, match=r"surface reflection is .* from 0 to 5 %; leave it out"):
        fit_shelf([undyed, dyed], TABLES, surface_frac=surface)
