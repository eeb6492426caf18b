"""Tristimulus values, adaptation, K/S and curve recovery against published rows and other programs."""

import numpy as np
import pytest

from dyewright.core.colour import (
    adapt_bradford,
    bradford_matrix,
    delta_e00,
    display_rgb,
    lab_from_display_hex,
    lab_from_xyz,
    reflectance_from_xyz,
    srgb_white,
    srgb_xyz_matrix,
    xyz_from_reflectance,
)
from dyewright.data.colour import load_chart, load_observer_tables

TABLES = load_observer_tables()
CHART = np.array([patch.reflectance for patch in load_chart()])


def ohta_dark_skin():
    colour = pytest.importorskip("colour")
    shape = colour.SpectralShape(400, 700, 10)
    return colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"]["dark skin"].copy().align(shape).values


@pytest.mark.filterwarnings("ignore")  # colour-science reports optional parts that are not installed
def test_dark_skin_has_the_xyz_of_astm_e308():
    # N. Ohta's dark skin under D65, 10°: ASTM E308 with data from 400 to 700 nm by 10 nm, as colour-science 0.4.7 gives
    # it: 10.6818 9.4319 5.9735. A sum that drops the tails gives 10.6691 9.4280 5.9746.
    xyz = xyz_from_reflectance(ohta_dark_skin(), TABLES.weights["D65", 10])
    assert xyz == pytest.approx([10.6818, 9.4319, 5.9735], abs=1e-4)


@pytest.mark.filterwarnings("ignore")
def test_ten_nanometres_lie_near_the_five_nanometre_integration():
    # The same sample at 5 nm, full range, colour-science 0.4.7: 10.6786 9.4226 5.9881; 0.02 is the cost of 10 nm.
    xyz = xyz_from_reflectance(ohta_dark_skin(), TABLES.weights["D65", 10])
    assert xyz == pytest.approx([10.6786, 9.4226, 5.9881], abs=0.02)


@pytest.mark.parametrize("light", TABLES.weights, ids=str)
def test_perfect_white_is_100_0_0_in_every_light(light):
    # CIE 015:2018, 8.2: L* 100, a* 0, b* 0 by definition.
    xyz = xyz_from_reflectance(np.ones(31), TABLES.weights[light])
    assert lab_from_xyz(xyz, TABLES.whites[light]) == pytest.approx([100, 0, 0], abs=1e-9)


def test_lab_has_its_straight_part_near_black():
    # CIE 015:2018, 8.2: at Y/Yn = (6/29)^3 both branches give f = 6/29 and L* = 116*6/29 - 16 = 8; below it L* is
    # 903.3 Y/Yn.
    white = np.array([95.0, 100.0, 108.0])
    assert lab_from_xyz(white * (6 / 29) ** 3, white) == pytest.approx([8, 0, 0], abs=1e-9)
    assert lab_from_xyz(white * 0.001, white)[0] == pytest.approx(0.9033, abs=1e-4)


def test_bradford_matrix_from_d65_to_d50_is_the_published_one():
    # From x, y 0.3127, 0.3290 to 0.34567, 0.35850; the rows as colour-science 0.4.7 prints them.
    d65, d50 = ([x / y, 1, (1 - x - y) / y] for x, y in ((0.3127, 0.3290), (0.34567, 0.35850)))
    expected = [
        [1.0478543, 0.0229054, -0.0501651],
        [0.0295670, 0.9904796, -0.0170622],
        [-0.0092414, 0.0150547, 0.7519501],
    ]
    assert bradford_matrix(d65, d50) == pytest.approx(np.array(expected), abs=2e-7)


def test_srgb_matrix_is_the_one_of_the_standard():
    # IEC 61966-2-1:1999, linear sRGB to XYZ, printed to 4 decimals (x 100 here: 0.005 is half of the last one).
    expected = [[41.24, 35.76, 18.05], [21.26, 71.52, 7.22], [1.93, 11.92, 95.05]]
    assert srgb_xyz_matrix() == pytest.approx(np.array(expected), abs=0.0051)


@pytest.mark.filterwarnings("ignore")
def test_lab_and_adaptation_agree_with_colour_science():
    colour = pytest.importorskip("colour")
    rng = np.random.default_rng(3)
    xyz = rng.uniform(0.01, 110, (500, 3))
    white, other = (TABLES.whites[light, 10] / TABLES.whites[light, 10][1] * 100 for light in ("D65", "A"))
    xy = colour.XYZ_to_xy(white / 100)

    assert lab_from_xyz(xyz, white) == pytest.approx(colour.XYZ_to_Lab(xyz / 100, xy), abs=1e-9)
    theirs = colour.chromatic_adaptation(xyz, white, other, method="Von Kries", transform="Bradford")
    assert adapt_bradford(xyz, white, other) == pytest.approx(theirs, abs=1e-8)


def test_screen_colours_agree_with_coloraide():
    from coloraide import Color

    # Both start from the screen's own white: only the conversion is compared; 1e-4 is a fortieth of a code step.
    for lab in ((45, -20, -5), (60, 20, 30), (90, 0, 5), (20, 5, -10)):
        rgb, is_outside = display_rgb(lab, srgb_white())
        assert not is_outside
        assert rgb == pytest.approx(Color("lab-d65", list(lab)).convert("srgb").coords(), abs=1e-4)


def test_hex_of_the_screens_white_is_white():
    assert lab_from_display_hex("#ffffff", TABLES.whites["D65", 10]) == pytest.approx([100, 0, 0], abs=1e-9)


def test_recovered_curves_keep_the_colour_and_lie_between_0_and_1():
    # S. A. Burns, Color Res. Appl. 45 (2020) 8-21: the method meets the wanted XYZ exactly with 0 < R < 1.
    weights = TABLES.weights["D65", 10]
    xyz = xyz_from_reflectance(CHART, weights)
    curves = reflectance_from_xyz(xyz, weights)

    assert np.abs(curves @ weights - xyz).max() < 1e-9
    assert np.all((curves > 0) & (curves < 1))


def test_recovered_curves_are_good_stand_ins_under_another_light():
    # The 24 chart spectra of ISO 17321-1, curves recovered from 2° D65: an independent trial of the method gave
    # ΔE00 under A of 0.99 on average and 2.69 at most, and an RMSE of 0.040 on average.
    weights = TABLES.weights["D65", 2]
    curves = reflectance_from_xyz(CHART @ weights, weights)
    lamp, white = TABLES.weights["A", 2], TABLES.whites["A", 2]
    off = delta_e00(lab_from_xyz(CHART @ lamp, white), lab_from_xyz(curves @ lamp, white))

    assert off.mean() == pytest.approx(0.99, abs=0.03)
    assert off.max() == pytest.approx(2.69, abs=0.08)
    assert np.sqrt(((curves - CHART) ** 2).mean(axis=1)).mean() == pytest.approx(0.040, abs=0.002)


def test_recovered_curve_is_the_smoothest_of_those_with_the_colour():
    # Any other curve with the same XYZ has more slope in z = atanh(2R - 1): step along the null space of the weights.
    weights = TABLES.weights["D65", 10]
    z = np.arctanh(2 * reflectance_from_xyz(CHART[2] @ weights, weights) - 1)
    slope = (1 - np.tanh(z) ** 2) / 2
    _, _, rows = np.linalg.svd((slope[:, None] * weights).T)
    best = np.sum(np.diff(z) ** 2)
    for direction in rows[3:]:
        assert np.sum(np.diff(z + 1e-3 * direction) ** 2) > best
        assert np.sum(np.diff(z - 1e-3 * direction) ** 2) > best
