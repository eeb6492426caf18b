"""What must hold for any pot."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pots import capacity, defaults, kinds, ramp

from dyewright.core.model import ClarityReading, Fibre, TemperatureReading
from dyewright.core.uptake import (
    Course,
    clarity_look,
    clear_time,
    draw,
    equilibrium_shares,
    first_reached_min,
    k95_of_t50,
    look_ahead,
    on_fibre,
    quantile_band,
    retimed,
    weighed,
    wild_readings,
)

ACIDS = ("acid levelling", "acid milling", "metal complex 1:2")
classes = st.sampled_from([*ACIDS, "reactive dichlorotriazine", "food colour"])
depths = st.floats(1e-5, 0.12)
phs = st.floats(2.0, 9.0)
liquors = st.floats(5.0, 80.0)
ramps = st.floats(0.2, 5.0)


@given(st.lists(st.tuples(classes, depths), min_size=1, max_size=3), phs, liquors, ramps, st.booleans(), st.data())
@settings(max_examples=60, deadline=None)
def test_uptake_stays_between_nothing_and_all_and_no_dye_is_lost(dyes, ph, liquor, rate, is_superwash, data):
    fibres = data.draw(
        st.sampled_from([(Fibre.WOOL,), (Fibre.WOOL, Fibre.NYLON), (Fibre.WOOL, Fibre.SILK, Fibre.NYLON)])
    )
    share = data.draw(st.floats(0.05, 0.9))
    parts = (share, *[(1 - share) / max(len(fibres) - 1, 1)] * (len(fibres) - 1)) if len(fibres) > 1 else (1.0,)
    names, depth = zip(*dyes, strict=True)
    pot = ramp(len(dyes), ph=ph, liquor_l_kg=liquor, c_per_min=rate, depth_owf=depth, fibre_frac=parts, until_min=60)
    later = pot.ph_high.copy()
    later[30:] = 4.0  # acid half way: shares move between the fibres
    moments = data.draw(st.lists(st.integers(0, 60), min_size=1, max_size=4))  # of equal parts of every dye
    supply = np.mean([pot.t_min >= moment for moment in moments], axis=0)
    pot = replace(pot, ph_low=later, ph_high=later, supply_frac=np.tile(supply, (len(dyes), 1)))
    ensemble = draw(
        kinds(*names, fibres=fibres),
        capacity(*fibres),
        is_superwash=is_superwash,
        samples=8,
        rng=np.random.default_rng(data.draw(st.integers(0, 100))),
    )
    taken = on_fibre(pot, ensemble)

    # On the fibres of a blend together no more than went into the pot, to a billionth: what is left is in the bath.
    assert np.all(taken >= 0)
    assert np.all(taken.sum(axis=2) <= pot.supplied + 1e-9)


@given(st.lists(classes, min_size=1, max_size=2), phs, st.floats(0.001, 0.05), st.integers(5, 50), st.integers(0, 60))
@settings(max_examples=40, deadline=None)
def test_dye_held_back_is_never_ahead_of_dye_put_in_at_once(names, ph, depth, moment, until):
    # With the same equilibrium: a trace of dye, so that the part that is in does not crowd itself.
    dyes = defaults(*names)
    pot = ramp(len(names), ph=ph, depth_owf=depth * 1e-6, until_min=60)
    supply = np.where(pot.t_min >= moment, 1.0, 0.5)
    parts = replace(pot, supply_frac=np.tile(supply, (len(names), 1)))

    assert np.all(on_fibre(parts, dyes)[..., until] <= on_fibre(pot, dyes)[..., until] + 1e-9)


@given(
    st.lists(st.floats(1.0, 1e5), min_size=6, max_size=6),
    st.lists(depths, min_size=3, max_size=3),
    st.floats(0.01, 0.99),
    liquors,
)
def test_the_equilibrium_satisfies_its_own_equations(partitions, depth, share, liquor):
    k = np.array(partitions).reshape(3, 2, 1)
    mass, held = np.array([share, 1 - share]), np.array([0.37, 0.018])
    shares = equilibrium_shares(k, liquor_l_kg=liquor, fibre_frac=mass, depth_owf=depth, saturation_owf=held)
    left = 1 - shares.sum(axis=1, keepdims=True)
    filled = (shares * np.array(depth)[:, None, None] * 0.45).sum(axis=0) / (mass * held)[:, None]

    assert np.all(left > 0)
    assert np.all(filled < 1)
    # Nernst with the free sites: fibre/bath of each dye is K w s/L.
    np.testing.assert_allclose(shares / left, k * mass[:, None] * (1 - filled) / liquor, rtol=1e-6, atol=1e-9)


@given(classes, phs, liquors, st.floats(1.0, 25.0))
@settings(max_examples=40, deadline=None)
def test_hotter_is_never_slower_when_the_equilibrium_does_not_mind(dye_class, ph, liquor, warmer):
    # Holds only where heat does not push dye back: an E∞ that heat cannot move, here K so high that E∞ is 1.
    dye = replace(defaults(dye_class), k0_l_kg=np.full((1, 1, 1), 1e12))
    cool, warm = (
        on_fibre(ramp(from_c=from_c, to_c=95, ph=ph, liquor_l_kg=liquor, depth_owf=1e-9), dye)
        for from_c in (40.0, 40.0 + warmer)
    )
    assert np.all(warm >= cool - 1e-9)


@given(classes, phs, st.floats(10.0, 40.0), st.floats(1.05, 2.0), st.floats(0.001, 0.03))
@settings(max_examples=40, deadline=None)
def test_more_fibre_never_leaves_more_dye_at_equal_grams_of_dye_and_equal_ph(dye_class, ph, liquor, more, depth):
    dye = defaults(dye_class)
    less_yarn = on_fibre(ramp(ph=ph, liquor_l_kg=liquor, depth_owf=depth), dye)
    more_yarn = on_fibre(ramp(ph=ph, liquor_l_kg=liquor / more, depth_owf=depth / more), dye)

    assert np.all(more_yarn >= less_yarn - 1e-9)


@given(st.floats(50, 90), st.floats(0.1, 5), st.floats(30, 120))
def test_a_later_half_uptake_is_a_slower_dye(t50_c, later, ea_kj_mol):
    assert k95_of_t50(t50_c + later, ea_kj_mol) < k95_of_t50(t50_c, ea_kj_mol)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=10, deadline=None)
def test_a_seed_gives_the_same_samples_again(seed):
    first, second = (
        draw(kinds(*ACIDS), capacity(), is_superwash=True, samples=50, rng=np.random.default_rng(seed))
        for _ in range(2)
    )
    for name, values in vars(first).items():
        np.testing.assert_array_equal(values, vars(second)[name])


OUTLOOK = look_ahead(
    ramp(2, ph=5.0, depth_owf=(0.008, 0.004)),
    draw(
        kinds("acid milling", "metal complex 1:2"),
        capacity(),
        is_superwash=False,
        samples=1000,
        rng=np.random.default_rng(3),
    ),
    95.0,
)


def clear_mid(readings):
    looks = [clarity_look("", reading, OUTLOOK) for reading in readings]
    weights = weighed(looks, np.zeros(OUTLOOK.held.shape[0])).weights
    minutes = first_reached_min(OUTLOOK.held_min, OUTLOOK.held, OUTLOOK.clear_goal)
    mid = clear_time(minutes, weights).mid
    return np.inf if mid is None else mid


@given(st.integers(20, 60), st.floats(0.05, 2.0))
@settings(max_examples=100, deadline=None)
def test_a_bath_further_on_than_expected_never_delays_the_expected_time_to_clear(at_min, rungs_ahead):
    equal = np.full(OUTLOOK.held.shape[0], 1 / OUTLOOK.held.shape[0])
    _, expected, high = quantile_band(OUTLOOK.held[:, at_min], equal)
    seen = min(1 - (1 - expected) * 2.0**-rungs_ahead, high)

    assert clear_mid([ClarityReading(float(at_min), float(seen))]) <= clear_mid([]) + 0.5


times = st.floats(0, 150).map(lambda at_min: round(at_min, 1))
read_at = st.lists(st.tuples(times, st.floats(10, 100)), max_size=5, unique_by=lambda pair: pair[0])


@st.composite
def plans(draw):
    cold_c, hot_c, c_per_min = draw(st.floats(15, 50)), draw(st.floats(60, 98)), draw(st.floats(0.4, 3.0))
    hold_end_min = (hot_c - cold_c) / c_per_min + draw(st.floats(10, 60))
    ends = [0.0, (hot_c - cold_c) / c_per_min, hold_end_min, hold_end_min + 60]
    t_min = np.unique(np.append(np.arange(0.0, ends[-1], 0.5), ends))
    return Course(t_min, np.interp(t_min, ends, [cold_c, hot_c, hot_c, 40.0]), hold_end_min)


@given(plans(), read_at)
@settings(max_examples=200, deadline=None)
def test_a_course_goes_through_every_reading_that_is_believed_and_never_back_in_time(planned, pairs):
    readings = [TemperatureReading(*pair) for pair in pairs]
    wild = wild_readings(planned, readings)
    believed = [reading for reading in readings if reading not in wild]
    course = retimed(planned, believed)

    assert np.all(np.diff(course.t_min) > 0)
    assert np.all(np.isfinite(course.bath_c))
    for reading in believed:
        assert np.interp(reading.at_min, course.t_min, course.bath_c) == pytest.approx(reading.bath_c, abs=1e-6)


@given(plans(), st.lists(times, max_size=4, unique=True))
@settings(max_examples=100, deadline=None)
def test_a_pot_that_follows_its_plan_keeps_it(planned, read_min):
    read_min = [at_min for at_min in read_min if at_min < planned.t_min[-1]]
    readings = [TemperatureReading(t, float(np.interp(t, planned.t_min, planned.bath_c))) for t in read_min]
    course = retimed(planned, readings)

    assert course.hold_end_min == pytest.approx(planned.hold_end_min, abs=1e-6)
    np.testing.assert_allclose(np.interp(planned.t_min, course.t_min, course.bath_c), planned.bath_c, atol=1e-6)
