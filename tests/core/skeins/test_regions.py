import numpy as np
import pytest
from scenes import WHITE, xyz_of_lab

from dyewright.core.colour import delta_e00
from dyewright.core.skeins import SkeinPixels, inside_outline, read_skein
from dyewright.errors import InputError

TEAL = (45.0, -18.0, -12.0)


def area(lab=TEAL, shape=(300, 200), noise=0.0, seed=1):
    xyz = np.broadcast_to(xyz_of_lab(lab), (*shape, 3)).copy()
    return xyz * np.random.default_rng(seed).normal(1, noise, xyz.shape)


def read(xyz, usable=None, outline=None):
    rows, columns = xyz.shape[:2]
    x, y = np.arange(columns) + 0.5, np.arange(rows) + 0.5
    outline = outline or [(0, 0), (columns, 0), (columns, rows), (0, rows)]
    usable = np.ones((rows, columns), bool) if usable is None else usable
    return read_skein(SkeinPixels(xyz, inside_outline(outline, x, y), usable, x, y), WHITE)


def strands(pixels, strand_px=12):
    across = np.abs(2 * ((np.arange(pixels) / strand_px) % 1) - 1)
    return np.where(across > 0.9, 0.3, np.sqrt(1 - np.minimum(across, 0.9) ** 2))


def test_a_plain_area_has_its_own_colour_even_with_noise():
    reading = read(area(noise=0.05))

    # picking the brightest third by their own values would read 3 to 5 % too bright, 1 of L*; the brighter half of the
    # parts is 0.5 % of light too bright (a part's mean of 25 lit pixels scatters by 1 %), 0.1 of L*
    assert reading.lab == pytest.approx(TEAL, abs=0.3)
    assert reading.evenness.rating == "even"


def test_shadows_between_strands_do_not_darken_the_colour():
    reading = read(area() * strands(300)[:, None, None])

    # the lit side of a cylinder, 0.986 of the light on average: 0.3 of L*; the mean with its shadows is 4 of L* darker
    assert reading.lab[0] == pytest.approx(45, abs=0.8)
    assert delta_e00(reading.lab, np.array(TEAL)) < 0.8


def test_the_flanks_of_a_round_hank_do_not_darken_it():
    # the cosine law across a hank lit from the front: its flanks at 0.8 of the half width get 0.6 of the light
    x = np.linspace(-0.98, 0.98, 200)

    reading = read(area() * np.sqrt(1 - x**2)[None, :, None])

    # the middle half gets 0.97 of the light on average, 0.6 of L* less; the mean over all is 0.78, 5 of L* less
    assert reading.lab[0] == pytest.approx(45, abs=1.0)


def test_glints_do_not_bleach_it():
    xyz = area(noise=0.01)
    glints = np.random.default_rng(3).random(xyz.shape[:2]) < 0.01
    xyz[glints] = WHITE

    assert read(xyz).lab == pytest.approx(TEAL, abs=0.4)


def test_only_what_lies_inside_the_outline_is_read():
    xyz = area((90.0, 0.0, 0.0), shape=(400, 400))
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    cake = [(200 + 120 * np.cos(a), 200 + 120 * np.sin(a)) for a in angle]
    x, y = np.arange(400) + 0.5, np.arange(400) + 0.5
    xyz[inside_outline(cake, x, y)] = xyz_of_lab(TEAL)

    reading = read(xyz, outline=cake)

    assert reading.lab == pytest.approx(TEAL, abs=0.01)
    assert reading.evenness.de00_p95 < 0.05
    middles = np.hypot(reading.grid.x_px - 200, reading.grid.y_px - 200)[reading.grid.is_read]
    assert middles.max() < 120


def test_ties_and_a_label_do_not_change_it():
    xyz = area(noise=0.01)
    xyz[60:130, 40:110] = WHITE * 0.8
    xyz[200:206] = WHITE * 0.8

    reading = read(xyz)

    assert reading.lab == pytest.approx(TEAL, abs=0.3)
    assert np.all(reading.sd_lab < 0.4)


def test_a_white_label_on_grey_yarn_is_left_out_though_it_has_the_yarns_own_hue():
    grey = (50.0, 0.0, 0.0)
    xyz = area(grey, noise=0.01)
    xyz[60:130, 40:110] = WHITE * 0.8

    assert read(xyz).lab == pytest.approx(grey, abs=0.3)


def test_an_uneven_skein_is_called_so():
    xyz = area()
    xyz[200:] = xyz_of_lab((55.0, -14.0, -8.0))  # ΔL* of 10 alone is 10 ΔE00 at L* 50, by Sharma et al. 2005, eq. 15

    assert read(xyz).evenness.de00_p95 > 5


def test_the_grid_tells_where_its_parts_lie_and_how_strands_run():
    xyz = area(shape=(160, 640)) * strands(160)[:, None, None]

    grid = read(xyz).grid

    rows, columns = grid.is_read.shape
    assert columns / rows == pytest.approx(4, abs=0.5)
    assert grid.strands_deg == pytest.approx(0, abs=2) or grid.strands_deg == pytest.approx(180, abs=2)
    assert np.all(np.diff(grid.x_px[rows // 2][grid.is_read[rows // 2]]) > 0)
    assert np.isnan(grid.lab[~grid.is_read]).all()
    turned = read(np.swapaxes(xyz, 0, 1)).grid
    assert turned.strands_deg == pytest.approx(90, abs=2)


def test_a_plain_area_shows_no_strands():
    assert read(area(noise=0.05)).grid.strands_deg is None


def test_the_noise_of_a_part_is_no_unevenness():
    reading = read(area(noise=0.1))

    scatter = np.nanstd(reading.grid.lab, axis=(0, 1))
    # four neighbouring pixels are taken to share their noise; here none do, so that twice the scatter is said
    assert np.all(reading.grid.sd_lab > 0.8 * scatter)
    assert np.all(reading.grid.sd_lab < 4 * scatter)


def test_the_standard_error_holds_how_the_colour_scatters():
    readings = [read(area(noise=0.2, seed=seed)) for seed in range(40)]
    labs, said = np.array([r.lab for r in readings]), np.array([r.sd_lab for r in readings])

    # the scatter over 40 draws is the truth, its own standard error 11 %; in L*, folds and twist of real yarn are added
    scatter = labs.std(axis=0, ddof=1)
    assert np.all(np.median(said, axis=0) > 0.7 * scatter)
    assert np.median(said, axis=0)[1:] == pytest.approx(scatter[1:], rel=0.7)


def test_what_was_left_out_adds_up():
    usable = np.ones((300, 200), bool)
    usable[:, 80:110] = False

    reading = read(area(noise=0.02) * strands(300)[:, None, None], usable)

    assert reading.left_out.clipped_frac == pytest.approx(30 * 300 * 0.8 / reading_pixels(), rel=0.1)
    assert reading.left_out_frac + reading.is_lit.sum() / reading_pixels() == pytest.approx(1, abs=0.02)
    assert reading.left_out.shadow_frac > reading.left_out.glint_frac


def reading_pixels():
    """How many pixels of a box of 300 × 200 lie inside its rim: by hand, a fifth of the depth of 100 on each side."""
    return (300 - 40) * (200 - 40)


def test_an_overexposed_skein_and_a_tiny_outline_are_refused():
    usable = np.random.default_rng(1).random((300, 200)) < 0.2
    with pytest.raises(InputError, match="overexposed: 80 % of its pixels are clipped, the limit is 70 %"):
        read(area(), usable)
    with pytest.raises(InputError, match="covers 12 × 10 pixels"):
        read(area(shape=(10, 12)))


def test_a_narrow_skein_still_has_three_parts_across_and_one_too_narrow_is_refused():
    # parts of a thirtieth of the length would be 18 pixels wide: one across 30
    assert read(area(shape=(600, 30))).grid.is_read.any(axis=0).sum() >= 3
    assert read(area(shape=(30, 600))).grid.is_read.any(axis=1).sum() >= 3

    with pytest.raises(InputError, match=r"10 × 600 pixels .*at least 12 a side"):
        read(area(shape=(600, 10)))
    with pytest.raises(InputError, match=r"600 × 10 pixels .*at least 12 a side"):
        read(area(shape=(10, 600)))
