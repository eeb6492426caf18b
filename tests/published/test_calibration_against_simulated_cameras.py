"""The chart calibration seen by published camera sensitivities: what a colour off the chart has to expect."""

import warnings

import numpy as np
import pytest

from dyewright.core.colour import delta_e00
from dyewright.core.skeins import calibrate
from dyewright.data.colour import load_chart
from dyewright.services.judging._chart import reference_of
from dyewright.services.judging.verdict import YARN_FACTOR

CAMERA = "Nikon 5100 (NPL)"  # sensitivities measured at a national laboratory, as carried by colour-science 0.4.7
WAVELENGTHS_NM = np.arange(400, 701, 10)


@pytest.fixture(scope="module")
def colour():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # colour-science warns of optional parts at import
        import colour as module
    return module


def sampled(colour, distribution):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shape = colour.SpectralShape(400, 700, 10)
        return distribution.copy().interpolate(shape).trim(shape).values


def dyed_wool(number, seed, width_nm=(25, 70), deepest=2.5):
    """Invented dyeings: up to three Gaussian absorption bands as K/S (ln of the deepest) over a creamy base."""
    random = np.random.default_rng(seed)
    base = 0.25 * np.exp(-(WAVELENGTHS_NM - 400) / 80) + 0.04
    bands = np.zeros((number, len(WAVELENGTHS_NM)))
    for _ in range(3):
        middle, width = random.uniform(400, 680, number), random.uniform(*width_nm, number)
        height = np.exp(random.uniform(-2, deepest, number)) * (random.random(number) < 0.7)
        bands += height[:, None] * np.exp(-(((WAVELENGTHS_NM - middle[:, None]) / width[:, None]) ** 2))
    k_s = base + bands
    return 1 + k_s - np.sqrt(k_s**2 + 2 * k_s)


def lab_by_colour_science(colour, reflectance):
    """Lab (D65, 10°) by colour-science's own tables."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        observer = sampled(colour, colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"])
        light = sampled(colour, colour.SDS_ILLUMINANTS["D65"])
        weights = observer * light[:, None]
        xyz = reflectance @ weights / weights[:, 1].sum()
        white = weights.sum(axis=0) / weights[:, 1].sum()
        return colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))


# Greatest left-out median and mean error on invented dyed wool, for a published sensor without noise. The project's own
# simulation with less vivid wool gave a left-out mean of 1.2 under D65 to 2.8 under A and 1.4 to 3.4 on wool; here come
# on top the chart's printed Lab (up to 1.7 ΔE00 a patch from its spectra) and the change of observer (0.6).
# Reached: 1.5/2.6, 1.9/3.2, 2.2/4.0, 2.6/4.9. A fit of degree 3 would double the wool's figure.
CONDITIONS = [("D65", 1.8, 3.0), ("LED-B3", 2.3, 3.6), ("FL11", 2.6, 4.5), ("A", 3.1, 5.5)]


@pytest.mark.parametrize(("light", "left_out_limit", "wool_limit"), CONDITIONS)
def test_yarn_is_read_within_what_the_chart_promises(colour, light, left_out_limit, wool_limit):
    sensor = sampled(colour, colour.MSDS_CAMERA_SENSITIVITIES[CAMERA])
    lamp = sampled(colour, colour.SDS_ILLUMINANTS[light])
    seen = sensor * lamp[:, None]
    seen /= seen.sum(axis=0).max() * 1.1
    chart = np.array([patch.reflectance for patch in load_chart()])
    wool = dyed_wool(400, seed=5)
    reference = reference_of(None, is_older_chart=True)

    calibration = calibrate(chart @ seen, reference.xyz, reference.white, is_linear=True)

    truth, read = lab_by_colour_science(colour, wool), calibration.lab(wool @ seen)
    assert np.nanmedian(calibration.left_out_de00) <= left_out_limit
    assert delta_e00(truth, read).mean() <= wool_limit
    # The intervals promise 95 of 100 a channel (reached 0.96 to 0.97); without the yarn factor it is 0.85 to 0.88.
    assert held(calibration, truth, read) >= 0.94


def held(calibration, truth, read):
    """Return the share of values inside their 95 % interval."""
    half = 1.96 * YARN_FACTOR * calibration.left_out_sd_lab(read)
    return np.mean(np.abs(read - truth) <= half)


@pytest.mark.parametrize("light", ["D65", "LED-B3", "A"])
def test_an_interval_is_no_wider_than_usual_dyeings_need(colour, light):
    sensor = sampled(colour, colour.MSDS_CAMERA_SENSITIVITIES[CAMERA])
    seen = sensor * sampled(colour, colour.SDS_ILLUMINANTS[light])[:, None]
    seen /= seen.sum(axis=0).max() * 1.1
    chart = np.array([patch.reflectance for patch in load_chart()])
    reference = reference_of(None, is_older_chart=True)
    calibration = calibrate(chart @ seen, reference.xyz, reference.white, is_linear=True)
    wool = dyed_wool(400, seed=5, width_nm=(45, 100), deepest=1.5)

    truth, read = lab_by_colour_science(colour, wool), calibration.lab(wool @ seen)
    half = 1.96 * YARN_FACTOR * calibration.left_out_sd_lab(read)
    is_muted = np.hypot(truth[:, 1], truth[:, 2]) < 20
    # Muted colours err less in a* and b* than vivid patches do: in daylight (left-out median 1.5) the error that 95 of
    # 100 stay below is 4.1 in a*, the interval 4.2. One width for all colours gave 7.6: the vivid patches' error.
    worst = np.quantile(np.abs(read - truth)[is_muted, 1], 0.95)
    assert worst <= np.median(half[is_muted, 1]) <= 1.6 * worst


def test_the_exposure_does_not_change_a_colour(colour):
    sensor = sampled(colour, colour.MSDS_CAMERA_SENSITIVITIES[CAMERA])
    chart = np.array([patch.reflectance for patch in load_chart()]) @ sensor
    reference = reference_of(None, is_older_chart=True)

    bright = calibrate(chart, reference.xyz, reference.white, is_linear=True)
    dim = calibrate(chart * 0.37, reference.xyz, reference.white, is_linear=True)

    # Finlayson et al. 2015: a linear fit scales with exposure exactly; 1e-6 is the solver's rounding
    assert dim.lab(chart * 0.37) == pytest.approx(bright.lab(chart), abs=1e-6)


def test_an_unknown_tone_curve_is_straightened_by_the_grey_row(colour):
    sensor = sampled(colour, colour.MSDS_CAMERA_SENSITIVITIES[CAMERA])
    linear = np.array([patch.reflectance for patch in load_chart()]) @ sensor
    linear /= linear.max() * 1.1
    reference = reference_of(None, is_older_chart=True)

    straight = calibrate(linear, reference.xyz, reference.white, is_linear=True)
    bent = calibrate(linear**1.15, reference.xyz, reference.white)
    ignored = calibrate(linear**1.15, reference.xyz, reference.white, is_linear=True)

    # science notes: an unmodelled gamma of 1.15 raised a 3×3 from 1.4 to 3.0 on wool; straightened, it must cost little
    assert np.nanmedian(bent.left_out_de00) < np.nanmedian(straight.left_out_de00) + 0.4
    assert np.nanmedian(bent.left_out_de00) < np.nanmedian(ignored.left_out_de00)
