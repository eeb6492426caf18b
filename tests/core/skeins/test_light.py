import numpy as np
import pytest

from dyewright.core.skeins import light_field
from dyewright.core.skeins.light import MIXED_FRAC, log_light_slopes

RANDOM = np.random.default_rng(8)
X, Y = RANDOM.uniform(0, 3000, 20000), RANDOM.uniform(0, 2000, 20000)


def lit(factor, colour=(0.8, 0.78, 0.74), noise=0.01):
    return np.array(colour) * factor[:, None] * RANDOM.normal(1, noise, (len(factor), 3))


def errors(field, x, y):
    """The standard error of log light at places, all channels as one, against the middle of the ground."""
    return np.sqrt(np.sum(field.shifts_at(x, y).mean(axis=-1) ** 2, axis=0))


def test_a_fall_of_light_is_found():
    truth = np.exp(0.2 * (X - 1500) / 1500 - 0.1 * ((Y - 1000) / 1000) ** 2)

    field = light_field(X, Y, lit(truth))

    # the ratio between two corners, worked by hand: exp(0.2·2) = 1.49; noise of 1 % over 20,000 places leaves 0.05 %
    assert field.at(3000, 1000) / field.at(0, 1000) == pytest.approx(np.exp(0.4), rel=0.005)
    assert field.at(1500, 0) / field.at(1500, 1000) == pytest.approx(np.exp(-0.1), rel=0.005)
    assert field.mixed_frac == 0


def test_the_lens_darkens_corners_by_the_fourth_power_of_a_cosine():
    # B. H. Walker, Optical Engineering Fundamentals, SPIE (1998): E = E0 cos⁴θ; here the corner lies at 26.6°, tan 0.5
    away = np.hypot(X - 1500, Y - 1000) / np.hypot(1500, 1000) * 0.5
    truth = (1 + away**2) ** -2

    field = light_field(X, Y, lit(truth))

    assert field.at(0, 0) / field.at(1500, 1000) == pytest.approx(1.25**-2, rel=0.01)  # by hand: 0.64


def test_a_shadow_and_a_label_do_not_bend_it():
    truth = np.exp(0.2 * (X - 1500) / 1500)
    light = lit(truth)
    light[(X < 800) & (Y < 900)] *= 0.7
    light[(X > 2500) & (Y > 1500)] = (0.05, 0.2, 0.5)

    field = light_field(X, Y, light)

    assert field.at(3000, 1000) / field.at(0, 1000) == pytest.approx(np.exp(0.4), rel=0.03)


def test_a_shadow_that_the_surface_does_not_follow_is_told_of_the_places_in_it():
    light = lit(np.exp(0.2 * (X - 1500) / 1500))
    light[(X < 1000) & (Y < 1000)] *= 0.7

    field = light_field(X, Y, light)

    assert field.off_frac((300, 300, 500, 700), 200) == pytest.approx(-0.3, abs=0.03)  # what was taken off above
    assert field.off_frac((2000, 300, 2200, 700), 200) == pytest.approx(0, abs=0.01)
    # more than half of what lies within 200 px of this place is lit: its edge alone touches the shadow
    assert field.off_frac((950, 300, 1300, 700), 200) == pytest.approx(0, abs=0.01)
    assert field.off_frac((5000, 300, 5200, 700), 200) == 0  # no ground there


def test_less_light_away_from_skeins_is_followed_and_a_skeins_own_shadow_is_not():
    dusk = np.exp(-0.15 / (1 + np.exp(-(X - 2000) / 200)))  # a person stands at one side of the table
    shade = np.where((np.abs(X - 700) < 80) & (np.abs(Y - 1000) < 400), 0.8, 1.0)
    beside = np.abs(X - 600) < 300

    field = light_field(X, Y, lit(dusk * shade), beside)

    assert field.at(2800, 1000) / field.at(1000, 1000) == pytest.approx(np.exp(-0.15 * 0.975), rel=0.02)
    assert field.at(600, 1000) / field.at(1000, 1000) == pytest.approx(1.0, abs=0.015)


def test_two_lamps_of_different_colour_are_found_and_taken_out():
    truth = np.exp(0.1 * (X - 1500) / 1500)
    light = lit(truth) * np.exp(np.outer((X - 1500) / 1500, (0.03, 0.0, -0.03)))

    field = light_field(X, Y, light)

    # by hand: red runs over 0.06 of log light between the edges, 90 of 100 places over 0.054
    assert field.mixed_frac == pytest.approx(0.054, abs=0.004)
    red, _, blue = field.channels_at(3000, 1000) / field.channels_at(0, 1000)
    assert red / blue == pytest.approx(np.exp(0.12), rel=0.005)


def test_a_colour_change_that_rounding_can_make_is_no_second_lamp():
    light = lit(np.ones(len(X))) * np.exp(np.outer((X - 1500) / 1500, (0.002, 0.0, -0.002)))

    field = light_field(X, Y, light)

    assert MIXED_FRAC > 0.004
    assert field.mixed_frac == 0
    assert np.ptp(field.channels_at(3000, 1000)) == pytest.approx(0, abs=1e-9)


def test_the_error_said_is_the_error_made():
    # 30 grounds with blotches of 3 %, 400 px wide: how the surface strays at a place against how far it says it may
    places = np.array([(300, 1000), (1500, 1000), (2700, 300)], float)
    strays, said = [], []
    for seed in range(30):
        random = np.random.default_rng(seed)
        bumps = random.normal(0, 0.03, (8, 6))
        grain = bumps[(X // 400).astype(int) % 8, (Y // 400).astype(int) % 6]
        light = np.exp(grain)[:, None] * random.normal(1, 0.01, (len(X), 3))
        field = light_field(X, Y, light, np.abs(X - 1500) < 400)
        strays.append(np.log(field.at(places[:, 0], places[:, 1])))
        said.append(errors(field, places[:, 0], places[:, 1]))

    # relative to the middle, the truth is 0; 30 draws leave 13 % on a standard deviation
    made = np.sqrt(np.mean(np.square(strays), axis=0))
    assert np.all(np.sqrt(np.mean(np.square(said), axis=0)) > 0.6 * made)
    assert np.all(np.sqrt(np.mean(np.square(said), axis=0)) < 3 * np.maximum(made, 0.005))


def test_light_is_less_sure_where_no_ground_is():
    left = X < 1200

    field = light_field(X[left], Y[left], lit(np.ones(left.sum()), noise=0.05))

    assert errors(field, [2900.0], [1000.0])[0] > 3 * errors(field, [400.0], [1000.0])[0]


def test_a_pattern_says_how_little_it_tells():
    checks = np.where(((X // 500).astype(int) + (Y // 500).astype(int)) % 2 == 0, 0.15, -0.15)

    field = light_field(X, Y, lit(np.exp(checks)))

    assert field is None or field.local_frac > 0.05


def test_no_light_is_read_from_a_motley_ground_or_from_next_to_nothing():
    motley = RANDOM.uniform(0.1, 0.9, (len(X), 3))

    assert light_field(X, Y, motley) is None
    assert light_field(X[:100], Y[:100], lit(np.ones(100))) is None


def test_slopes_of_lab_are_those_of_its_cube_roots():
    # by hand, CIE 015:2018 8.2.1: Y 1 % up at L* 50 -> f = 66/116; ΔL* = 116·f/3·0.01 = 0.22; grey moves in L* alone
    slopes = log_light_slopes((50.0, 0.0, 0.0)).sum(axis=-1)

    assert slopes * 0.01 == pytest.approx((0.22, 0, 0), abs=1e-9)


def test_rough_ground_is_not_taken_for_shadow():
    # a cell holds 19 places or so: 20 % of each leave 3 to 5 % of it, the ground's own scatter, not a shadow's edge
    field = light_field(X, Y, lit(np.exp(0.2 * (X - 1500) / 1500), noise=0.2))

    assert 0.02 < field.scatter_frac < 0.06
    assert field.at(3000, 1000) / field.at(0, 1000) == pytest.approx(np.exp(0.4), rel=0.03)
