"""The drawn photos' own truth, held against colour-science: what the judge is tried on must itself be right."""

import io
import warnings
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from yarn_scenes import Camera, Conditions, Form, Truth, Yarn, lab, make, random_dyeing
from yarn_scenes.spectra import NM, OBSERVER_2, OBSERVER_10, apart, chart, colour

SHAPE = colour.SpectralShape(380, 780, 5)
WHITE_10 = np.array([94.811, 100.0, 107.304])  # ASTM E308-01, table 5: D65, 10°
WHITE_2 = np.array([95.047, 100.0, 108.883])  # the same, 2°
# Level light, flat yarn, and a camera that sees as the observer does and develops by IEC 61966-2-1 alone.
PERFECT = Conditions(
    direct_frac=0.0,
    far_cm=1e6,
    vignette_frac=0.0,
    peak=0.72,
    has_ties=False,
    yarn=Yarn(is_flat=True),
    camera=Camera(
        OBSERVER_2, matrix_light="D65", saturation=1, contrast=0, white_electrons=1e9, veil_frac=0, quality=100
    ),
)


def lab_by_colour_science(reflectance, observer, white):
    """Lab under D65 by colour-science's own tristimulus sums (ASTM E308 at 5 nm)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        curve = colour.SpectralDistribution(dict(zip(NM.tolist(), reflectance.tolist(), strict=True)))
        xyz = colour.sd_to_XYZ(
            curve, colour.MSDS_CMFS[observer], colour.SDS_ILLUMINANTS["D65"].copy().align(SHAPE), method="Integration"
        )
        return colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white))


def read_lab(pixels, white_light):
    """Lab (D65, 2°) of pixels by colour-science's sRGB, where linear `white_light` is white."""
    linear = colour.models.eotf_sRGB(pixels / 255).mean(axis=0) / white_light
    xyz = linear @ colour.models.RGB_COLOURSPACE_sRGB.matrix_RGB_to_XYZ.T
    return colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(WHITE_2))


def shown_by_srgb(random):
    """A random dyeing that a picture in sRGB can hold."""
    while True:
        dyeing = random_dyeing(random)
        xyz = colour.Lab_to_XYZ(
            lab_by_colour_science(dyeing.reflectance(), OBSERVER_2, WHITE_2), colour.XYZ_to_xy(WHITE_2)
        )
        if np.all(xyz @ colour.models.RGB_COLOURSPACE_sRGB.matrix_XYZ_to_RGB.T > 0.01):
            return dyeing


def middle(scene, outline):
    """The pixels in the middle of one outline."""
    photo = np.asarray(Image.open(io.BytesIO(scene.jpeg))).astype(float)
    x, y = np.round(outline.mean(axis=0)).astype(int)
    return photo[y - 12 : y + 12, x - 12 : x + 12].reshape(-1, 3)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_truth_of_a_scene_is_what_colour_science_makes_of_the_curve(seed):
    dyeing = random_dyeing(np.random.default_rng(seed))

    scene = make(seed, truth=Truth(form=Form.SWATCH, dyeing=dyeing, noise_de00=0.0), conditions=PERFECT, megapixels=0.5)

    # Two ways to the same sums; 0.01 is the rounding of E308's white point.
    expected = lab_by_colour_science(dyeing.reflectance(), OBSERVER_10, WHITE_10)
    assert scene.labs == pytest.approx(np.tile(expected, (6, 1)), abs=0.02)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_flat_scene_read_by_colour_science_gives_its_own_colour(seed):
    dyeing = shown_by_srgb(np.random.default_rng(seed))
    scene = make(seed, truth=Truth(form=Form.SWATCH, dyeing=dyeing, noise_de00=0.0), conditions=PERFECT)

    expected = lab_by_colour_science(dyeing.reflectance(), OBSERVER_2, WHITE_2)

    # Luma and chroma in whole steps (one code of blue in a pale colour is 0.4) come to 0.63; a lamp or a light
    # that was not taken into account would be off by several.
    for outline in scene.outlines:
        read = read_lab(middle(scene, outline), white_light=PERFECT.peak / 0.9)
        assert float(colour.delta_E(expected, read, method="CIE 2000")) < 0.8


def test_the_patches_lie_where_the_corners_say():
    scene = make(5, conditions=replace(PERFECT, tilt_deg=(6, -5), roll_deg=3))
    top_left, top_right, bottom_right, bottom_left = scene.chart_corners
    patches = lab_by_colour_science

    for column, row, number in ((0, 0, 0), (5, 0, 5), (0, 3, 18), (2, 1, 8)):
        across, down = (column + 0.5) / 6, (row + 0.5) / 4
        top, bottom = (a + across * (b - a) for a, b in ((top_left, top_right), (bottom_left, bottom_right)))
        spot = top + down * (bottom - top)  # the tilt moves it by less than the patch's half
        expected = patches(chart()[number], OBSERVER_2, WHITE_2)
        read = read_lab(middle(scene, spot[None]), white_light=PERFECT.peak / 0.9)
        assert float(colour.delta_E(expected, read, method="CIE 2000")) < 1.5  # dark skin beside a black board


@pytest.mark.parametrize("off", [0.5, 1.0, 2.0])
def test_a_skein_that_is_off_is_off_by_what_was_asked(off):
    random = np.random.default_rng(7)
    for _ in range(10):
        dyeing = random_dyeing(random)
        other = apart(dyeing, off, random)

        difference = colour.delta_E(lab(dyeing.reflectance()), lab(other.reflectance()), method="CIE 2000")

        assert float(difference) == pytest.approx(off, abs=0.02)  # the recipe is solved to 0.02 of Lab


def test_equal_skeins_are_equal_and_one_off_is_off_in_the_drawn_yarn_too():
    scene = make(11, truth=Truth(form=Form.HANK, off_de00=(0, 0, 1.5, 0, 0, 0)), megapixels=0.5)

    assert [scene.difference(0, i) for i in (1, 3, 4, 5)] == pytest.approx([0] * 4, abs=1e-3)
    assert scene.difference(0, 2) == pytest.approx(1.5, abs=0.03)


def test_a_seed_draws_the_same_photo_twice():
    assert make(3, megapixels=0.3).jpeg == make(3, megapixels=0.3).jpeg
    assert make(3, megapixels=0.3).jpeg != make(4, megapixels=0.3).jpeg
