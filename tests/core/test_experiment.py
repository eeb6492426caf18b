"""Steps, order by chance, and what a small series can tell."""

import numpy as np
import pytest

from dyewright.core.experiment import (
    ALIKE_DE00,
    alike_within_de00,
    flat_stretch,
    order_by_chance,
    series_within_de00,
    spaced,
    step_differences,
)
from dyewright.errors import InputError


def test_depth_goes_by_ratio_and_ph_by_difference():
    # by hand: 0.25 to 4 in five steps is a doubling each time; 4 to 7 in four is one pH each
    assert spaced(0.25, 4.0, 5, is_geometric=True) == pytest.approx((0.25, 0.5, 1.0, 2.0, 4.0))
    assert spaced(4.0, 7.0, 4, is_geometric=False) == pytest.approx((4.0, 5.0, 6.0, 7.0))
    assert spaced(60.0, 20.0, 3, is_geometric=False) == pytest.approx((60.0, 40.0, 20.0))


@pytest.mark.parametrize(("first", "last", "steps"), [(1.0, 2.0, 1), (0.0, 2.0, 3)])
def test_steps_that_cannot_be_are_refused(first, last, steps):
    with pytest.raises(InputError):
        spaced(first, last, steps, is_geometric=True)


def test_every_sample_has_one_turn_and_chance_is_the_callers():
    places = order_by_chance(8, np.random.default_rng(3))
    assert sorted(places) == list(range(1, 9))
    assert places == order_by_chance(8, np.random.default_rng(3))
    assert len({order_by_chance(8, np.random.default_rng(seed)) for seed in range(20)}) > 15


def test_twins_move_the_scatter_from_its_estimate():
    assert alike_within_de00() == pytest.approx(ALIKE_DE00)
    # by hand: bound = 1.6137 rms. One twin of 3.0 beside four pairs of rms 0.6197: sqrt((4 x 0.384 + 9) / 5) = 1.4516,
    # times 1.6137 is 2.342; a twin of 0 gives sqrt(4/5) of the estimate, 0.894
    assert alike_within_de00([3.0]) == pytest.approx(2.342, abs=0.002)
    assert alike_within_de00([0.0]) == pytest.approx(0.894, abs=0.001)
    # many twins speak for themselves: rms 0.5 tends to 0.807
    assert alike_within_de00([0.5] * 400) == pytest.approx(0.807, abs=0.01)


@pytest.mark.parametrize("samples", [2, 3, 5, 8])
def test_samples_dyed_alike_are_told_apart_in_one_series_of_twenty_at_most(samples):
    # Drawn: a scatter alike in three components of which one pair in twenty lies more than 1 apart (the root of 7.815
    # for a deviation of 1; two samples scatter by the root of 2).
    drawn = np.random.default_rng(5).normal(0.0, 1 / 2.795 / np.sqrt(2.0), (20_000, samples, 3))
    most = np.linalg.norm(drawn[:, :, None] - drawn[:, None], axis=-1).max(axis=(1, 2))
    assert 0.02 <= np.mean(most > series_within_de00(1.0, samples)) <= 0.053
    if samples > 2:
        assert np.mean(most > 1.0) > 0.1  # what the bound of a single pair would claim


def test_a_stretch_is_flat_where_all_of_it_is_alike():
    # L* alone in the middle greys: about 1 ΔE00 a unit near L* 50 (CIEDE2000: S_L is 1 there)
    greys = [(50.0, 0.0, 0.0), (50.4, 0.0, 0.0), (50.8, 0.0, 0.0), (51.6, 0.0, 0.0), (58.0, 0.0, 0.0)]
    assert step_differences(greys)[0, 1] == pytest.approx(0.4, abs=0.01)
    assert flat_stretch(greys, 1.0) == (0, 2)  # the fourth is within 1.0 of the third, but not of the first
    assert flat_stretch(greys, 0.1) is None
    assert flat_stretch(greys[:1], 1.0) is None
