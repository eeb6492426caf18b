import numpy as np
import pytest
from pots import defaults, ramp

from dyewright.core.level import DEFAULT_TURNS_PER_MIN, breaking, levelness, peak_uptake_frac_per_min
from dyewright.core.uptake import on_fibre


def test_the_peak_is_the_fastest_third_after_the_first_two_minutes():
    t_min = np.arange(11.0)
    uptake = np.array([[0.0, 0.1, 0.15, 0.2, 0.25, 0.3, 0.5, 0.7, 0.8, 0.9, 0.9]])

    # Worked by hand: of 0.9 a third is 0.3, and the 0.4 from minute 5 to 7 holds it in 1.5 minutes: 0.2 a minute.
    assert peak_uptake_frac_per_min(t_min, uptake) == pytest.approx(0.20)


def test_a_steep_start_counts_only_where_a_third_is_in_after_two_minutes():
    t_min = np.arange(61.0)
    slow = 0.9 * np.minimum(1.0, t_min / 60)
    stepped = np.where(t_min < 1, 0.0, np.maximum(0.2, slow))  # 0.2 at once: the form's start, not the dye's
    dropped = np.where(t_min < 1, 0.0, np.maximum(0.5, slow))  # 0.5 at once: yarn put into a hot bath

    peaks = peak_uptake_frac_per_min(t_min, np.stack([slow, stepped, dropped]))
    # 0.9 in 60 minutes is 0.015 a minute; 0.5 in two is 0.25.
    np.testing.assert_allclose(peaks, [0.015, 0.015, 0.25], rtol=1e-6)


@pytest.mark.parametrize(
    ("peak", "turns", "rating"),
    [(1.4, 0.2, "level"), (1.6, 0.2, "acceptable, slightly tonal"), (3.1, 0.2, "likely uneven"), (3.1, 1.0, "level")],
)
def test_the_rating_compares_the_peak_with_three_percent_a_turn(peak, turns, rating):
    # Limit: 3 % x (turns + 0.3): 1.5 at 0.2 turns a minute, 3.9 at one.
    assert levelness(peak, turns).rating == rating


@pytest.mark.parametrize(("dye_class", "ph"), [("acid levelling", 3.5), ("acid milling", 5.5)])
def test_a_usual_pot_is_not_called_uneven(dye_class, ph):
    # Common practice, no source: 30:1, untreated wool, 1 °C/min, a turn every five minutes is acceptable.
    peak = peak_uptake_frac_per_min(ramp().t_min, on_fibre(ramp(ph=ph), defaults(dye_class))[0, 0, 0][None])

    assert levelness(100 * float(peak[0]), DEFAULT_TURNS_PER_MIN).rating == "acceptable, slightly tonal"


def test_a_slower_ramp_is_more_level():
    peaks = [
        float(peak_uptake_frac_per_min(pot.t_min, on_fibre(pot, defaults("acid milling"))[0, 0, 0][None])[0])
        for pot in (ramp(c_per_min=rate, until_min=200, ph=5.5) for rate in (0.5, 1.0, 2.0, 3.0))
    ]
    # The project's reference figures for the fastest two minutes: 1.2, 2.3, 4.3 and 6.2 % a minute. A third of the dye
    # takes six minutes on the steepest ramp, so its mean lies below that maximum, by a fifth at most.
    ratio = np.array(peaks) * 100 / [1.2, 2.3, 4.3, 6.2]
    assert np.all((ratio > 0.8) & (ratio < 1.0))


def test_breaking_names_the_gap_and_its_temperature():
    found = breaking(np.array([40.0, 60.0, 80.0]), np.array([[0.0, 0.4, 0.9], [0.0, 0.1, 0.8]]))

    assert found is not None
    assert (found.max_gap, found.at_c, found.rating) == (pytest.approx(0.3), 60.0, "strike apart")
    assert breaking(np.array([40.0]), np.array([[0.5]])) is None
