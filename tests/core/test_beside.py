"""Which of two uncertain numbers is the smaller."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu, norm

from dyewright.core.beside import less_frac, less_frac_of_bands
from dyewright.core.model import Band

numbers = st.lists(st.floats(-100, 100), min_size=1, max_size=20)


def test_pairs_are_counted():
    # by hand: smaller, equal, larger, and never (infinite) against a number: (1 + 0.5 + 0 + 0) / 4
    assert less_frac([1, 2, 3, np.inf], [2, 2, 1, 50]) == pytest.approx(0.375)


def test_all_pairs_together_are_mann_and_whitneys_statistic():
    left, right = [1.0, 4.0, 6.0, 6.0], [2.0, 5.0, 6.0]
    pairs = [(a, b) for a in left for b in right]
    # scipy 1.x: U of the right sample counts the pairs in which it is the larger, ties half
    wanted = mannwhitneyu(right, left, method="asymptotic").statistic
    assert less_frac(*zip(*pairs, strict=True)) == pytest.approx(wanted / len(pairs))


@given(numbers, st.floats(-50, 50))
def test_turned_round_the_shares_add_up(left, shift):
    right = [value * 0.5 + shift for value in left]
    assert less_frac(left, right) + less_frac(right, left) == pytest.approx(1)


def test_bands_are_compared_as_normal_numbers():
    left, right = Band(30.0, 20.0, 40.0), Band(45.0, 35.0, 55.0)
    # by hand: each sd is 20 / 3.29 = 6.08, together 8.60; 15 / 8.60 = 1.745 sd; scipy's normal distribution
    assert less_frac_of_bands(left, right) == pytest.approx(norm.cdf(15 / 8.597), abs=0.001)


def test_bands_without_a_bound_say_nothing_and_figures_without_doubt_say_all():
    assert less_frac_of_bands(Band(30.0, 20.0, None), Band(45.0, 35.0, 55.0)) is None
    sure = Band(1.0, 1.0, 1.0)
    assert less_frac_of_bands(sure, Band(2.0, 2.0, 2.0)) == 1.0
    assert less_frac_of_bands(sure, sure) == 0.5
