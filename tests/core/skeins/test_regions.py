import numpy as np
import pytest
from scenes import WHITE, xyz_of_lab

from dyewright.core.colour import delta_e00
from dyewright.core.skeins import read_skein
from dyewright.errors import InputError

TEAL = (45.0, -18.0, -12.0)


def area(lab=TEAL, shape=(300, 200), noise=0.0, seed=1):
    xyz = np.broadcast_to(xyz_of_lab(lab), (*shape, 3)).copy()
    return xyz * np.random.default_rng(seed).normal(1, noise, xyz.shape)


def read(xyz, usable=None):
    return read_skein(xyz, np.ones(xyz.shape[:2], bool) if usable is None else usable, WHITE)


def test_a_plain_area_has_its_own_colour_even_with_noise():
    reading = read(area(noise=0.05))

    # picking the brightest third by their own values would read 3 to 5 % too bright, 1 of L*
    assert reading.lab == pytest.approx(TEAL, abs=0.15)
    assert reading.evenness.rating == "even"


def test_shadows_between_strands_do_not_darken_the_colour():
    across = np.abs(2 * ((np.arange(300) / 12) % 1) - 1)
    shade = np.where(across > 0.9, 0.3, np.sqrt(1 - np.minimum(across, 0.9) ** 2))
    xyz = area() * shade[:, None, None]

    reading = read(xyz)

    # the lit side of a cylinder, 0.986 of the light on average: 0.3 of L*; the mean with its shadows is 4 of L* darker
    assert reading.lab[0] == pytest.approx(45, abs=0.8)
    assert delta_e00(reading.lab, np.array(TEAL)) < 0.8


def test_glints_do_not_bleach_it():
    xyz = area(noise=0.01)
    glints = np.random.default_rng(3).random(xyz.shape[:2]) < 0.01
    xyz[glints] = WHITE

    assert read(xyz).lab == pytest.approx(TEAL, abs=0.4)


def test_a_label_over_a_corner_and_a_loose_box_do_not_change_it():
    xyz = area(noise=0.01)
    xyz[:70, :60] = WHITE * 0.8
    xyz[:, 188:] = WHITE * 0.8

    assert read(xyz).lab == pytest.approx(TEAL, abs=0.3)


def test_an_uneven_skein_is_called_so():
    xyz = area()
    xyz[200:] = xyz_of_lab((55.0, -14.0, -8.0))  # ΔL* of 10 alone is 10 ΔE00 at L* 50, by eq. 15 below

    evenness = read(xyz).evenness

    assert evenness.de00_p95 > 5
    assert evenness.rating.startswith("very uneven")


# Sharma et al. 2005, eq. 15, by hand: S_L = 1 + 0.015·(L-50)²/sqrt(20 + (L-50)²) at the mean L of the two:
# 45.3 -> 1.0511, 45.75 -> 1.0439, 47 -> 1.0251; the difference is the step over S_L.
@pytest.mark.parametrize(
    ("step", "de00", "rating"), [(0.6, 0.571, "even"), (1.5, 1.437, "slightly uneven"), (4.0, 3.902, "uneven")]
)
def test_the_rating_follows_the_ladder(step, de00, rating):
    xyz = area()
    xyz[230:] = xyz_of_lab((45.0 + step, -18.0, -12.0))

    evenness = read(xyz).evenness

    assert evenness.de00_p95 == pytest.approx(de00, abs=0.01)
    assert evenness.rating == rating


def test_the_standard_error_says_how_the_colour_scatters():
    readings = [read(area(noise=0.2, seed=seed)) for seed in range(40)]
    labs, said = np.array([r.lab for r in readings]), np.array([r.sd_lab for r in readings])

    # the scatter over 40 draws is the truth; its own standard error is 1/sqrt(80) = 11 %
    assert np.median(said, axis=0) == pytest.approx(labs.std(axis=0, ddof=1), rel=0.5)


def test_an_overexposed_skein_and_a_tiny_box_are_refused():
    usable = np.random.default_rng(1).random((300, 200)) < 0.2
    with pytest.raises(InputError, match="overexposed: 80 % of its pixels are clipped, the limit is 70 %"):
        read(area(), usable)
    with pytest.raises(InputError, match="covers 12 × 10 pixels"):
        read(area(shape=(10, 12)))
