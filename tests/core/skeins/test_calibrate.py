import numpy as np
import pytest

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.skeins import calibrate, relative_calibration, straightened
from dyewright.core.skeins.tone import tone_of_greys
from dyewright.errors import InputError
from dyewright.services.judging._chart import reference_of

CAMERA = np.array([[0.0091, 0.0021, -0.0004], [0.0012, 0.0085, 0.0011], [0.0002, 0.0015, 0.0081]])  # invented


@pytest.fixture(scope="module")
def reference():
    return reference_of(None, is_older_chart=False)


def test_a_linear_camera_is_undone_exactly(reference):
    seen = reference.xyz @ CAMERA.T

    calibration = calibrate(seen, reference.xyz, reference.white, is_linear=True)

    # the inverse of the camera's matrix is the answer by construction; 1e-8 is the solver's rounding
    assert calibration.matrix == pytest.approx(np.linalg.inv(CAMERA), rel=1e-8, abs=1e-8)
    assert np.nanmax(calibration.left_out_de00) < 1e-6


@pytest.mark.parametrize("gamma", [0.8, 1.15, 1.4])
def test_a_power_law_is_straightened_from_the_grey_row(reference, gamma):
    # A camera whose grey row is neutral: then the law is exact in every channel.
    grey_camera = np.diag(1 / reference.xyz[18:].mean(axis=0))
    calibration = calibrate((reference.xyz @ grey_camera) ** gamma, reference.xyz, reference.white)

    # The greys of the chart are not quite neutral (their own a* and b* reach 2.9), which bends the law a little.
    assert np.nanmedian(calibration.left_out_de00) < 1.0


def test_left_out_is_never_better_than_fitted_on_average(reference):
    seen = reference.xyz @ CAMERA.T * np.random.default_rng(4).normal(1, 0.04, (24, 3))

    calibration = calibrate(seen, reference.xyz, reference.white, is_linear=True)

    assert np.nanmean(calibration.left_out_de00) > calibration.fit_de00.mean() > 0.3


def test_a_patch_left_out_does_not_count(reference):
    seen = reference.xyz @ CAMERA.T
    seen[3] *= 5
    usable = np.ones(24, bool)
    usable[3] = False

    calibration = calibrate(seen, reference.xyz, reference.white, is_linear=True, is_usable=usable)

    assert calibration.matrix == pytest.approx(np.linalg.inv(CAMERA), rel=1e-8, abs=1e-8)
    assert np.isnan(calibration.left_out_de00[3])


def test_a_covered_grey_row_is_refused_without_a_fit_through_one_point(reference):
    seen = reference.xyz @ CAMERA.T
    seen[18:] = seen[18]

    with pytest.raises(
        InputError, match="does not run from white to black"
    ):  # and no warning of numpy's: an error here
        calibrate(seen, reference.xyz, reference.white)


def test_light_that_falls_off_across_the_chart_is_taken_out(reference):
    light = np.exp(np.linspace(-0.3, 0.3, 24))
    seen = reference.xyz @ CAMERA.T * light[:, None]

    calibration = calibrate(seen, reference.xyz, reference.white, is_linear=True, patch_light=light)

    assert calibration.matrix == pytest.approx(np.linalg.inv(CAMERA), rel=1e-8, abs=1e-8)


def test_a_grey_row_upside_down_is_no_grey_row(reference):
    seen = reference.xyz @ CAMERA.T
    with pytest.raises(InputError, match="does not run from white to black"):
        calibrate(seen[::-1], reference.xyz, reference.white)


def test_too_few_patches_are_refused(reference):
    usable = np.arange(24) < 13
    with pytest.raises(InputError, match="only 13 of the chart's 24 patches can be read, 14 are needed"):
        calibrate(reference.xyz @ CAMERA.T, reference.xyz, reference.white, is_usable=usable)


def test_the_tone_curve_rises_and_goes_through_zero(reference):
    seen = (reference.xyz @ CAMERA.T) ** 1.2
    tone = calibrate(seen, reference.xyz, reference.white).tone
    ramp = np.repeat(np.linspace(-0.05, 1.5, 400)[:, None], 3, axis=1)

    light = straightened(tone, ramp)

    assert np.all(np.diff(light, axis=0) > 0)
    assert np.all(np.sign(light) == np.sign(ramp))


def test_without_a_chart_white_is_white():
    white = np.array([94.811, 100.0, 107.304])  # ASTM E308-01, table 5

    # by definition of CIELAB the white has L* 100; equal channels of sRGB are neutral
    lab = relative_calibration(white).lab([[1.0, 1.0, 1.0], [0.5, 0.5, 0.5]])
    assert lab[0] == pytest.approx([100, 0, 0], abs=1e-9)
    assert lab[1, 1:] == pytest.approx([0, 0], abs=1e-9)


def test_the_shipped_reference_agrees_with_the_charts_own_spectra():
    from dyewright.core.colour import light_of, xyz_from_reflectance
    from dyewright.data.colour import load_chart, load_observer_tables

    older = reference_of(None, is_older_chart=True)
    curves = np.array([patch.reflectance for patch in load_chart()])
    weights, white = light_of(load_observer_tables(), "D65", 10)
    truth = lab_from_xyz(xyz_from_reflectance(curves, weights), white)

    # ISO 17321-1 spectra under D65, 10° against the printed Lab (D50, 2°) carried over: the table and the spectra
    # themselves differ by up to 1.7 ΔE00; adapting the Lab by Bradford instead would miss by 2.4 on average.
    away = delta_e00(truth, lab_from_xyz(older.xyz, white))
    assert np.median(away) < 1.2
    assert away.max() < 3.5


def test_greys_that_a_channel_cannot_tell_apart_give_a_plainer_curve():
    # four of six greys lie at the dark end, where a channel stores one value: three places are too few for a cubic
    true = np.array([90.0, 59.1, 36.2, 19.8, 9.0, 3.1])
    seen = np.array([0.9, 0.59, 0.1, 0.1, 0.1, 0.1])

    tone = tone_of_greys(np.stack([seen, true / 100, true / 100], axis=-1), np.stack([true / 100] * 3, axis=-1))

    # a channel that is stored as it is comes out as it is, whatever the degree
    assert straightened(tone, np.full((1, 3), 0.36))[0, 1:] == pytest.approx(0.36, rel=1e-6)
