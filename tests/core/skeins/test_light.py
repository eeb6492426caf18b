import numpy as np
import pytest

from dyewright.core.skeins import light_field

RANDOM = np.random.default_rng(8)
X, Y = RANDOM.uniform(0, 3000, 5000), RANDOM.uniform(0, 2000, 5000)


def lit(factor, colour=(0.8, 0.78, 0.74), noise=0.01):
    return np.array(colour) * factor[:, None] * RANDOM.normal(1, noise, (len(factor), 3))


def test_a_fall_of_light_is_found():
    truth = np.exp(0.2 * (X - 1500) / 1500 - 0.1 * ((Y - 1000) / 1000) ** 2)

    field = light_field(X, Y, lit(truth))

    # the ratio between two corners, worked by hand: exp(0.2·2) = 1.49; noise of 1 % over 5,000 places leaves 0.1 %
    assert field.at(3000, 1000) / field.at(0, 1000) == pytest.approx(np.exp(0.4), rel=0.005)
    assert field.at(1500, 0) / field.at(1500, 1000) == pytest.approx(np.exp(-0.1), rel=0.005)


def test_a_shadow_and_a_label_do_not_bend_it():
    truth = np.exp(0.2 * (X - 1500) / 1500)
    light = lit(truth)
    light[(X < 800) & (Y < 900)] *= 0.7
    light[(X > 2500) & (Y > 1500)] = (0.05, 0.2, 0.5)

    field = light_field(X, Y, light)

    assert field.at(3000, 1000) / field.at(0, 1000) == pytest.approx(np.exp(0.4), rel=0.03)


def test_no_light_is_read_from_a_pattern_or_from_next_to_nothing():
    pattern = lit(np.exp(RANDOM.normal(0, 0.4, len(X))))
    motley = RANDOM.uniform(0.1, 0.9, (len(X), 3))

    assert light_field(X, Y, pattern) is None
    assert light_field(X, Y, motley) is None
    assert light_field(X[:100], Y[:100], lit(np.ones(100))) is None
