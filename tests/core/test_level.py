import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pots import defaults, ramp

from dyewright.core.level import (
    DEFAULT_TURNS_PER_MIN,
    breaking,
    circulation_limit_pct_per_min,
    critical_zone_c,
    evens_out_min,
    learn_movement,
    levelness,
    peak_uptake_frac_per_min,
    uneven_risk,
)
from dyewright.core.model import DyeClass, LevelLesson
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


def test_a_dye_that_comes_later_has_its_own_steep_start():
    t_min = np.arange(61.0)
    late = np.where(t_min <= 20, 0.0, np.maximum(0.2, 0.9 * np.minimum(1.0, (t_min - 20) / 40)))

    # 0.9 in the 40 minutes after it is in: 0.0225 a minute; the 0.2 of its first minute is the form's start.
    assert peak_uptake_frac_per_min(t_min, late[None])[0] == pytest.approx(0.0225)


def test_circulation_theory():
    # Arithmetic on published figures (circulation theory, textileinfo.com 02_02): A = 20 L/kg min at B = 10 L/kg make
    # C = 2 circulations a minute; at D = 2 % each the dyeing takes F = 100/(C D) = 25 minutes, 50 circulations.
    circulations_per_min = 20 / 10
    limit = circulation_limit_pct_per_min(circulations_per_min, 2.0)

    assert 100 / limit == pytest.approx(25)
    assert circulations_per_min * 100 / limit == pytest.approx(50)


@pytest.mark.parametrize(
    ("peak", "turns", "rating"),
    [(1.4, 0.2, "level"), (1.6, 0.2, "acceptable, slightly tonal"), (3.1, 0.2, "likely uneven"), (3.1, 1.0, "level")],
)
def test_the_rating_compares_the_peak_with_three_percent_a_turn(peak, turns, rating):
    # Limit: 3 % x (turns + 0.3): 1.5 at 0.2 turns a minute, 3.9 at one.
    assert levelness(peak, turns).rating == rating


@pytest.mark.parametrize(("peak", "rating"), [(1.4, "level, not tonal"), (1.6, "slightly tonal"), (3.1, "tonal")])
def test_where_tonal_is_wanted_the_same_numbers_have_other_names(peak, rating):
    assert levelness(peak, 0.2, is_tonal_wanted=True).rating == rating


@pytest.mark.parametrize(
    ("gap", "fault", "effect"),
    [
        (0.11, "go in together", "go in together, nothing breaks"),
        (0.13, "drift apart on the way", "break a little"),
        (0.26, "strike apart", "break clearly"),
    ],
)
def test_a_gap_is_a_fault_or_an_effect(gap, fault, effect):
    # The bounds are the project's estimates, 0.12 and 0.25.
    curves = np.array([[0.0, 0.5 + gap], [0.0, 0.5]])
    ratings = [breaking(np.array([40.0, 60.0]), curves, is_wanted=is_wanted).rating for is_wanted in (False, True)]

    assert ratings == [fault, effect]


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


@pytest.mark.parametrize(
    ("dye_class", "ph", "zone_c"),
    [("acid levelling", 3.5, (57, 84)), ("metal complex 1:2", 6.0, (62, 87)), ("acid milling", 5.5, (66, 91))],
)
def test_the_critical_zone_holds_the_middle_half_of_the_uptake(dye_class, ph, zone_c):
    # The project's reference figures at 1 °C/min from 40 °C, 30:1, in whole degrees; a degree for their rounding.
    pot = ramp(ph=ph)
    found = critical_zone_c(pot.t_min, pot.bath_c, on_fibre(pot, defaults(dye_class))[0, 0, 0])

    assert found == pytest.approx(zone_c, abs=1.0)


def test_the_critical_zone_of_a_straight_uptake():
    t_min, bath_c = np.arange(41.0), np.linspace(40.0, 80.0, 41)

    # By hand: a straight line to 0.8 in 40 minutes has a quarter in at 10 and three quarters at 30 minutes.
    assert critical_zone_c(t_min, bath_c, 0.8 * t_min / 40) == pytest.approx((50.0, 70.0))


def test_the_risk_of_uneven_skeins():
    # By hand: even odds at an index of 2; at 1, 1/(1 + 2^(1/0.35)) = 1/(1 + 7.25) = 0.121.
    assert uneven_risk([1.0, 2.0]) == pytest.approx([0.121, 0.5], abs=0.001)
    # A levelling dye half an hour at the boil: e^-1 of it is left; a milling dye keeps e^-0.25, a bonded one all.
    taus = [evens_out_min(kind) for kind in (DyeClass.ACID_LEVELLING, DyeClass.ACID_MILLING, DyeClass.VINYL_SULPHONE)]
    assert uneven_risk(2.0, 30.0, taus) == pytest.approx([0.5 * 0.3679, 0.5 * 0.7788, 0.5], abs=1e-4)


def test_movement_is_learnt_from_judged_pots():
    level, uneven = LevelLesson(2.0, is_level=True, evenness_de00=0.4), LevelLesson(2.0, False, 2.0)

    assert learn_movement([]) == (0.0, 0)
    # At even odds a level and an uneven pot cancel out.
    assert learn_movement([level, uneven]) == (pytest.approx(0.0, abs=1e-9), 2)
    # By hand, one level pot at even odds: m/0.25 = p/0.35 with p = 1/(1 + e^(m/0.35)); m = 0.2334 gives p = 0.339 and
    # 0.25 × 0.339/0.35 = 0.242; m = 0.2385 gives 0.336 and 0.240; m = 0.2395 gives 0.3353 and 0.2395.
    assert learn_movement([level])[0] == pytest.approx(0.2395, abs=0.001)
    # A studio whose pots all come out level at twice the index is believed more and more.
    assert learn_movement([level] * 9)[0] > 2 * learn_movement([level])[0]


pots = st.lists(st.tuples(st.floats(0.1, 10.0), st.booleans()), max_size=12)


@given(pots, st.floats(0.1, 10.0))
def test_a_level_pot_never_lowers_what_the_handling_evens_out(seen, index):
    lessons = [LevelLesson(at, is_level, 1.0) for at, is_level in seen]
    before = learn_movement(lessons)[0]

    assert learn_movement([*lessons, LevelLesson(index, is_level=True, evenness_de00=0.3)])[0] >= before - 1e-9
    assert learn_movement([*lessons, LevelLesson(index, is_level=False, evenness_de00=3.0)])[0] <= before + 1e-9


@given(st.floats(-1.0, 1.0), st.floats(0.1, 10.0))
def test_what_is_learnt_scales_the_limit(ln_movement, peak):
    base, moved = levelness(peak, 0.2), levelness(peak, 0.2, ln_movement)

    assert moved.limit_pct_per_min == pytest.approx(base.limit_pct_per_min * np.exp(ln_movement))


def test_breaking_names_the_gap_and_its_temperature():
    found = breaking(np.array([40.0, 60.0, 80.0]), np.array([[0.0, 0.1, 0.8], [0.0, 0.4, 0.9]]), ("Slow", "Quick"))

    assert found is not None
    assert (found.max_gap, found.at_c, found.rating) == (pytest.approx(0.3), 60.0, "strike apart")
    assert (found.first, found.last) == ("Quick", "Slow")
    assert breaking(np.array([40.0]), np.array([[0.5]])) is None
