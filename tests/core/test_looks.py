from dataclasses import replace

import numpy as np
import pytest
from pots import capacity, kinds, ramp

from dyewright.core.model import ClarityReading
from dyewright.core.uptake import (
    Drawn,
    Look,
    as_the_ladder_tells,
    at_shifts,
    at_times,
    clarity_look,
    clear_time,
    draw,
    effective_samples,
    even_weights,
    first_reached_min,
    followed,
    lightened,
    look_ahead,
    prior_of,
    quantile_band,
    rung,
    value_band,
    weighed,
)
from dyewright.errors import InputError


def drawn(known=None, seed=5, samples=600):
    ensemble = draw(
        kinds("acid milling"),
        capacity(),
        is_superwash=False,
        samples=samples,
        rng=np.random.default_rng(seed),
        learnt=known,
    )
    return Drawn(ensemble, look_ahead(ramp(), ensemble, 95.0))


FIRST = drawn()
PRIOR = prior_of(None, 1)


def seen(*readings, first=FIRST):
    def looks(at_hand):
        return [clarity_look(f"at {one.at_min:g}", one, at_hand.outlook) for one in readings]

    return followed(first, PRIOR, looks, lambda known, round_no: drawn(known, seed=100 + round_no))


def uptake_band(found, at_min):
    held = found.drawn.outlook
    return value_band(at_times(held.held_min, held.held, np.array([float(at_min)]))[:, 0], found.weights)


def test_the_posterior_of_a_straight_look_is_the_gaussian_one():
    # Prior N(0, 1), a look N(1.0, 0.5) at the number itself: mean 1/(1 + 0.25) = 0.8, variance 0.2. It was expected
    # with density N(1.0; 0, sqrt 1.25) = 0.239, a slip with 1/6: 0.05/6/(0.95 x 0.239 + 0.05/6) = 3.5 % slip, which
    # leaves the prior. Mixed: mean 0.965 x 0.8 = 0.772, sd sqrt(0.965 (0.2 + 0.64) + 0.035 - 0.772²) = 0.500.
    prior = np.random.default_rng(3).standard_normal(40_000)
    weights = weighed([Look("x", prior, 1.0, 0.5)], np.zeros(prior.size)).weights
    mean = weights @ prior

    assert mean == pytest.approx(0.772, abs=0.01)
    assert np.sqrt(weights @ (prior - mean) ** 2) == pytest.approx(0.500, abs=0.01)


def test_a_look_far_from_everything_is_taken_for_a_slip():
    # Six deviations: density 0.8 exp(-18) against 0.05/6, the slip wins by a million to one.
    prior = np.random.default_rng(3).standard_normal(2_000) * 0.1
    found = weighed([Look("x", prior, 4.0, 0.5)], np.zeros(prior.size))

    assert found.verdicts[0].force_frac < 0.001
    assert found.verdicts[0].is_odd
    assert effective_samples(found.weights) == pytest.approx(prior.size, rel=0.01)


def test_a_reading_pulls_the_band_towards_itself():
    before, after = uptake_band(seen(), 40), uptake_band(seen(ClarityReading(40.0, 0.75)), 40)

    assert after.high - after.low < before.high - before.low
    # Read to a quarter of a rung: 2 ± 0.25 rungs is 0.70 to 0.79 of the dye, one standard deviation either way.
    assert 0.68 < after.mid < 0.80


def test_one_wild_reading_loses_its_own_force_and_no_other_s():
    good = [ClarityReading(40.0, 0.55), ClarityReading(50.0, 0.75)]
    wild = ClarityReading(30.0, 0.96)
    alone, beside = seen(*good), seen(wild, *good)
    odd = [verdict.name for verdict in beside.verdicts if verdict.is_odd]

    assert odd == ["at 30"]
    for at_min in (40, 60):
        assert uptake_band(beside, at_min).mid == pytest.approx(uptake_band(alone, at_min).mid, abs=0.02)


def test_a_pot_that_really_is_different_is_believed():
    # A dye that strikes 15 °C earlier than its class, three deviations: its own curve read at three times.
    truth = drawn(prior_shifted(-15.0), seed=9, samples=200)
    curve = np.median(truth.outlook.held, axis=0)
    readings = [ClarityReading(float(t), float(curve[t])) for t in (15, 25, 35)]
    found = seen(*readings)

    assert found.drawn.ensemble.shifts.shape[0] > 600  # the class's own samples hardly reach it
    assert effective_samples(found.weights) > 20
    assert sum(verdict.force_frac > 0.5 for verdict in found.verdicts) >= 2
    assert uptake_band(found, 30).mid == pytest.approx(curve[30], abs=0.06)
    assert uptake_band(seen(), 30).high < curve[30]


def prior_shifted(t50_c):
    covariance = np.diag([0.01, 0.01, 0.01, 0.01])
    return type(PRIOR)((), (t50_c, 0.0, 0.0, 0.0), tuple(map(tuple, covariance.tolist())), (0,))


def test_redrawn_samples_say_what_many_prior_samples_say():
    # The same posterior by brute force: 20 000 samples from the prior. Reading at 3/4 of a rung above the usual.
    readings = [ClarityReading(30.0, 0.52), ClarityReading(40.0, 0.80)]
    found = seen(*readings)
    many = drawn(seed=77, samples=20_000)
    looks = [clarity_look("", one, many.outlook) for one in readings]
    brute = weighed(looks, np.zeros(20_000)).weights
    exact = quantile_band(at_times(many.outlook.held_min, many.outlook.held, np.array([35.0]))[:, 0], brute)
    ours = uptake_band(found, 35)

    assert found.drawn.ensemble.shifts.shape[0] > 600
    # 600 + 600 samples of which some hundred count: a tenth of the band's width.
    np.testing.assert_allclose([ours.low, ours.mid, ours.high], exact, atol=0.1 * (exact[2] - exact[0]) + 0.005)


def test_a_bath_that_looks_clear_has_reached_what_this_eye_calls_clear():
    found = weighed([clarity_look("c", ClarityReading(60.0, 31 / 32), FIRST.outlook)], np.zeros(600))
    halvings_past = rung(FIRST.outlook.held[:, 60]) - rung(FIRST.outlook.clear_goal)
    past = halvings_past > 1.0  # four deviations beyond: all of these weigh alike, however far beyond

    np.testing.assert_allclose(found.weights[past], found.weights[past].max(), rtol=1e-3)
    # Four deviations short only a slip (0.05/6) is left of the likelihood.
    assert found.weights[halvings_past < -1.0].max() < 0.02 * found.weights.max()
    minutes = first_reached_min(FIRST.outlook.held_min, FIRST.outlook.held, FIRST.outlook.clear_goal)
    assert clear_time(minutes, found.weights).mid < clear_time(minutes, even_weights(600)).mid


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (ClarityReading(20.0, 1.2), "1.2 of the dye"),
        (ClarityReading(20.0, -0.1), "-0.1 of the dye"),
        (ClarityReading(400.0, 0.5), "400 min"),
        (ClarityReading(-3.0, 0.5), "-3 min"),
    ],
)
def test_an_impossible_reading_is_refused_with_its_value(reading, words):
    with pytest.raises(InputError, match=words):
        clarity_look("c", reading, FIRST.outlook)


def test_samples_without_weight_are_let_go_and_the_bands_stay():
    found = seen(ClarityReading(40.0, 0.75), ClarityReading(45.0, 0.85))
    light = lightened(found)

    assert light.weights.sum() == pytest.approx(1.0)
    assert light.weights.size < 0.6 * found.weights.size
    assert light.drawn.ensemble.shifts.shape[0] == light.weights.size
    # A thousandth of the weight moves a quantile by less than the samples' own spacing there.
    for at_min in (35, 60):
        full, less = uptake_band(found, at_min), uptake_band(light, at_min)
        assert [less.low, less.mid, less.high] == pytest.approx([full.low, full.mid, full.high], abs=0.005)


TRUTHS = drawn(seed=999, samples=120)
EASED_MIN = first_reached_min(TRUTHS.outlook.held_min, TRUTHS.outlook.held, 0.75)
CLEAR_MIN = np.minimum(first_reached_min(TRUTHS.outlook.held_min, TRUTHS.outlook.held, TRUTHS.outlook.clear_goal), 200)


def read(truth, at_min, rng):
    shown = TRUTHS.outlook.missing[truth : truth + 1]
    exact = rung(at_times(TRUTHS.outlook.held_min, shown, np.array([float(at_min)])))[0, 0]
    return ClarityReading(float(at_min), float(1 - 2.0 ** -np.clip(exact + rng.normal(0, 0.25), 0.0, 4.9)))


def bands(found):
    held = found.drawn.outlook
    eased = first_reached_min(held.held_min, held.held, 0.75)
    clear = np.minimum(first_reached_min(held.held_min, held.held, held.clear_goal), 200)
    return quantile_band(eased, found.weights), quantile_band(clear, found.weights)


def test_bands_after_readings_hold_the_truth_as_often_as_they_say():
    # Simulation: 120 invented dyes of the class, each read with a quarter of a rung of error at 20, 30 and 40 min. Nine
    # of ten bands are to hold the truth; with 120 dyes, 85 to 96 % is within two deviations of that (2.7 % each).
    rng = np.random.default_rng(7)
    found = [bands(seen(*(read(i, t, rng) for t in (20, 30, 40)))) for i in range(120)]
    eased, clear = np.array([one[0] for one in found]), np.array([one[1] for one in found])
    before = quantile_band(EASED_MIN, even_weights(120))

    assert 0.85 <= np.mean((eased[:, 0] <= EASED_MIN) & (eased[:, 2] >= EASED_MIN)) <= 0.97
    assert 0.85 <= np.mean((clear[:, 0] <= CLEAR_MIN) & (clear[:, 2] >= CLEAR_MIN)) <= 0.99
    assert np.median(eased[:, 2] - eased[:, 0]) < 0.7 * (before[2] - before[0])  # found: 0.60; at 30, 40, 50 min 0.33


def test_one_gross_slip_of_three_readings_does_not_carry_the_forecast_off():
    rng = np.random.default_rng(8)
    apart = []
    for i in range(40):
        readings = [read(i, t, rng) for t in (30, 40, 50)]
        readings[i % 3] = ClarityReading(readings[i % 3].at_min, float(1 - 2.0 ** -rng.uniform(0, 5)))
        eased, _ = bands(seen(*readings))
        apart.append(abs(eased[1] - EASED_MIN[i]))

    # Without any reading the middle is 3.8 min off in the median; with three good ones 1.1; with a slip 1.8 found.
    assert np.median(apart) < 3.0
    assert np.quantile(apart, 0.9) < 9.5  # the half width of the band before any reading


def test_between_the_palest_tint_and_clear_an_eye_has_no_glass():
    # A strong bath clears at rung 6.6 (1/100 of the start); clear stands a rung past the palest glass: 1.6 rungs are
    # told as rung 4, the rest is counted on. A darker glass, and a bath that clears at 1/32, stay as they are.
    rungs = np.array([3.0, 4.0, 5.0, 5.6, 6.0])
    np.testing.assert_allclose(as_the_ladder_tells(rungs, 4.0, 6.6), [3.0, 4.0, 4.0, 4.0, 4.4])
    np.testing.assert_allclose(as_the_ladder_tells(rungs, 3.0, 6.6), rungs)
    np.testing.assert_allclose(as_the_ladder_tells(rungs, 4.0, 5.0), rungs)


def test_each_shift_moves_its_own_number():
    # E∞'s logit is ln(K/L): a shift of 1 is a factor e in K; the load and the clear limit are logarithms themselves.
    usual = at_shifts(kinds("acid milling"), capacity(), np.zeros((1, 4)), is_superwash=False)
    known = replace(PRIOR, mean=(0.0, 1.0, 2.0, 0.5), covariance=tuple(map(tuple, np.eye(4) * 1e-18)))
    shifted = drawn(known, samples=2).ensemble

    assert shifted.k0_l_kg[0, 0, 0] / usual.k0_l_kg[0, 0, 0] == pytest.approx(np.e, rel=1e-6)
    assert shifted.load_factor[0, 0] == pytest.approx(np.exp(2.0), rel=1e-6)
    assert shifted.clear_factor[0] == pytest.approx(np.exp(0.5), rel=1e-6)
