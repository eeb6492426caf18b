from dataclasses import replace

import numpy as np
import pytest
from pots import capacity, defaults, kinds, ramp

from dyewright.core.model import Fibre
from dyewright.core.uptake import (
    DyeBath,
    clear_limit_mg_l,
    clear_time,
    draw,
    equilibrium_shares,
    first_reached_min,
    half_saturation_ph,
    look_ahead,
    on_fibre,
    quantile_band,
    start_mg_l,
    value_band,
)
from dyewright.errors import InputError


def test_a_constant_bath_is_stepped_exactly_whatever_the_step():
    # y = E∞² (1 - exp(-kt)) worked by hand; at 30 L/kg and the reference pH k is k95 itself.
    dye = defaults("reactive dichlorotriazine")
    k = float(dye.k95_per_min[0, 0, 0])
    for step_min in (0.5, 7.0, 60.0):
        pot = ramp(from_c=95, to_c=95, until_min=60 if step_min == 60 else 56, step_min=step_min)
        uptake = on_fibre(pot, dye)[0, 0, 0]
        final = uptake[-1] / np.sqrt(1 - np.exp(-k * pot.t_min[-1]))
        np.testing.assert_allclose(uptake**2, final**2 * (1 - np.exp(-k * pot.t_min)), atol=1e-12)


def test_a_start_is_carried_on_as_if_there_were_no_break():
    dye, whole = defaults("acid milling"), ramp()
    once = on_fibre(whole, dye)
    names = ("t_min", "bath_c", "ph_low", "ph_high")
    later = DyeBath(
        **{name: getattr(whole, name)[40:] for name in names},
        liquor_l_kg=30.0,
        fibre_frac=whole.fibre_frac,
        depth_owf=whole.depth_owf,
    )

    np.testing.assert_allclose(on_fibre(later, dye, once[..., 40]), once[..., 40:], atol=1e-12)


def test_the_equilibrium_without_crowding_is_nernst_s():
    # E∞ = K/(K + L): 970/(970 + 30) = 0.97; a trace of dye fills no sites.
    shares = equilibrium_shares(
        np.full((1, 1, 1), 970.0), liquor_l_kg=30.0, fibre_frac=[1.0], depth_owf=[1e-12], saturation_owf=[0.37]
    )
    assert shares.item() == pytest.approx(0.97, abs=1e-9)


def test_crowding_solves_langmuir_s_quadratic():
    # One dye: E = a s/(1 + a s), s = 1 - q E. With a = 100, q = 0.45 x 0.08/0.018 = 2:
    # s = 1 - 2 E and E = a s/(1 + a s) give 100 s² + 101 s - 1 = 0 (multiply out), s = 0.0098059..., E = 0.4951.
    s = (-101 + np.sqrt(101**2 + 400)) / 200
    shares = equilibrium_shares(
        np.full((1, 1, 1), 3000.0), liquor_l_kg=30.0, fibre_frac=[1.0], depth_owf=[0.08], saturation_owf=[0.018]
    )
    assert shares.item() == pytest.approx((1 - s) / 2, abs=1e-10)


def test_dyes_crowd_each_other_on_nylon():
    depth = {"alone": [0.02], "together": [0.02, 0.04]}
    alone, together = (
        equilibrium_shares(
            np.full((len(d), 1, 1), 1500.0), liquor_l_kg=30.0, fibre_frac=[1.0], depth_owf=d, saturation_owf=[0.018]
        )
        for d in depth.values()
    )
    assert together[0, 0, 0] < alone[0, 0, 0] - 0.2  # 0.02 + 0.04 of powder is 1.5 times what nylon holds


def test_a_fibre_blended_with_itself_is_that_fibre():
    pure = on_fibre(ramp(), defaults("acid milling")).sum(axis=2)
    halves = defaults("acid milling", fibres=(Fibre.WOOL, Fibre.WOOL))
    blended = on_fibre(ramp(fibre_frac=(0.5, 0.5)), halves).sum(axis=2)

    np.testing.assert_allclose(blended, pure, atol=1e-10)


def test_nylon_takes_more_than_its_share_of_a_pale_shade_at_first():
    # Trade experience with wool and nylon blends (common practice, no source): nylon strikes first.
    uptake = on_fibre(
        ramp(fibre_frac=(0.75, 0.25), depth_owf=0.002), defaults("acid milling", fibres=(Fibre.WOOL, Fibre.NYLON))
    )[0, 0]
    assert uptake[1, 25] / uptake[:, 25].sum() > 0.3


@pytest.mark.parametrize(("start", "limit"), [(16.0, 1.0), (32.0, 1.0), (160.0, 5.0), (320.0, 10.0), (3000.0, 10.0)])
def test_the_clear_limit_is_a_32nd_between_1_and_10_mg_a_litre(start, limit):
    assert clear_limit_mg_l(start) == pytest.approx(limit)


def test_the_starting_bath_of_one_percent_at_30_to_1():
    # 1 % of 1 kg is 10 g in 30 L: 333 mg/L.
    assert start_mg_l(0.01, 30.0) == pytest.approx(333.33, abs=0.01)


def test_a_goal_is_reached_between_two_times():
    t_min = np.array([0.0, 10.0, 20.0])
    curves = np.array([[0.0, 0.5, 0.9], [0.0, 0.1, 0.2], [0.6, 0.7, 0.8]])

    # 0.6 lies a quarter of the way from 0.5 to 0.9: 12.5 min; the second never gets there, the third is there at once.
    np.testing.assert_allclose(first_reached_min(t_min, curves, 0.6), [12.5, np.inf, 0.0])


def test_quantiles_weigh_their_samples():
    values, weights = np.arange(1.0, 6.0), np.array([0.0, 0.0, 0.1, 0.8, 0.1])
    np.testing.assert_array_equal(quantile_band(values, weights), [3.0, 4.0, 5.0])
    assert value_band(values, np.full(5, 0.2)).mid == 3.0


def test_a_quantile_that_never_clears_is_none():
    clear = clear_time(np.array([30.0, 40.0, np.inf, np.inf]), np.full(4, 0.25))

    assert (clear.low, clear.mid, clear.high, clear.never_frac) == (30.0, 40.0, None, 0.5)
    assert clear_time(np.full(3, np.inf), np.full(3, 1 / 3)).mid is None


def test_time_before_the_last_of_the_dye_does_not_count_as_clear():
    t_min = np.array([0.0, 10.0, 20.0, 30.0])
    curves = np.array([[0.0, 0.98, 0.97, 0.99], [0.0, 0.5, 0.7, 0.9]])

    # The first has 0.95 at once but at 20 min the last dye goes in; the second never reaches it.
    np.testing.assert_allclose(first_reached_min(t_min, curves, 0.95, from_min=20.0), [20.0, np.inf])


def test_the_hold_is_continued_and_the_plan_goes_on_to_cool():
    pot = ramp(until_min=100)
    cooling = np.arange(101.0, 161.0)
    plan = DyeBath(
        t_min=np.concatenate([pot.t_min, cooling]),
        bath_c=np.concatenate([pot.bath_c, 95 - (cooling - 100)]),
        ph_low=np.full(161, 5.0),
        ph_high=np.full(161, 5.0),
        liquor_l_kg=30.0,
        fibre_frac=np.ones(1),
        depth_owf=np.array([0.01]),
    )
    outlook = look_ahead(plan, defaults("acid milling"), 100.0)

    assert outlook.held_min[-1] == 120.0
    assert (outlook.t_min[100], outlook.t_min[101], outlook.t_min[-1]) == (100.0, 105.0, 160.0)
    np.testing.assert_allclose(outlook.exhaustion[0, 0, :101], outlook.held[0, :101])
    assert outlook.exhaustion[0, 0, -1] > outlook.held[0, -1]  # cooler holds dye better: the heat of dyeing is negative


def test_an_unknown_kind_of_acid_dye_is_all_three_kinds():
    unknown = [[one[0] for one in kinds("acid levelling", "acid milling", "metal complex 1:2")]]
    ensemble = draw(unknown, capacity(), is_superwash=False, samples=300, rng=np.random.default_rng(1))
    pot = ramp(ph=5.5)
    wide, narrow = (
        np.ptp(quantile_band(on_fibre(pot, e)[:, 0, 0, 60], np.full(300, 1 / 300)))
        for e in (
            ensemble,
            draw(kinds("acid milling"), capacity(), is_superwash=False, samples=300, rng=np.random.default_rng(1)),
        )
    )
    assert np.bincount(np.searchsorted([0.5, 0.9], ensemble.z[:, 0, 0])).tolist() == [100, 100, 100]
    assert wide > 1.5 * narrow


def in_parts(pot, *moments):
    supply = sum((pot.t_min >= moment).astype(float) for moment in moments) / len(moments)
    return replace(pot, supply_frac=np.tile(supply, (pot.depth_owf.size, 1)))


def test_dye_that_is_not_in_the_pot_yet_cannot_be_on_the_yarn():
    pot = in_parts(ramp(from_c=90, until_min=240), 0.0, 60.0, 120.0)
    uptake = on_fibre(pot, defaults("acid milling"))[0, 0, 0]
    whole = on_fibre(ramp(from_c=90, until_min=240), defaults("acid milling"))[0, 0, 0]

    assert np.all(uptake <= pot.supplied[0] + 1e-12)
    assert uptake[59] == pytest.approx(whole[59] / 3, abs=0.002)  # a third of the dose, near its equilibrium
    assert uptake[-1] == pytest.approx(whole[-1], abs=1e-3)  # the same in the end


def test_a_look_at_a_bath_in_parts_sees_what_it_lacks_of_the_whole_dose():
    # Two parts, the second at minute 60: before it the glass holds at most half of the whole dose, as if half were in.
    outlook = look_ahead(in_parts(ramp(), 0.0, 60.0), defaults("acid milling"), 95.0)

    np.testing.assert_allclose(outlook.missing[0, :60], outlook.held[0, :60] + 0.5)
    np.testing.assert_allclose(outlook.missing[0, 60:], outlook.held[0, 60:])
    assert outlook.all_in_min == 60.0


def test_parts_that_go_out_of_the_pot_again_are_refused():
    pot = ramp(until_min=2)
    with pytest.raises(InputError, match="must rise from 0 to 1"):
        replace(pot, supply_frac=np.array([[1.0, 0.5, 1.0]]))


def test_acid_at_a_minute_counts_from_that_minute_on():
    late = ramp(ph=6.5)
    acid = np.where(late.t_min < 60, 6.5, 3.5)
    dye = defaults("acid levelling")
    added = on_fibre(replace(late, ph_low=acid, ph_high=acid), dye)[0, 0, 0]
    without = on_fibre(late, dye)[0, 0, 0]

    np.testing.assert_allclose(added[:61], without[:61], atol=1e-12)
    assert added[61] > without[61] + 0.005


def test_the_ph_lies_between_the_bounds_of_the_bath():
    pot = ramp(ph=4.0, until_min=240)
    pot = DyeBath(**{**vars(pot), "ph_high": np.full_like(pot.t_min, 7.0)})
    ensemble = draw(kinds("acid levelling"), capacity(), is_superwash=False, samples=100, rng=np.random.default_rng(2))
    acid, neutral = (on_fibre(ramp(ph=ph, until_min=240), ensemble)[..., -1] for ph in (4.0, 7.0))
    between = on_fibre(pot, ensemble)[..., -1]

    assert np.all((between <= acid) & (between >= neutral))


def test_salt_never_lowers_the_half_saturation():
    assert half_saturation_ph(0.0) == 2.6
    assert np.all(np.diff(half_saturation_ph(np.linspace(0, 1, 50))) >= 0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"t_min": np.array([0.0, 2.0, 1.0])}, "must rise"),
        ({"bath_c": np.array([20.0, 30.0])}, "at every time"),
        ({"liquor_l_kg": 0.0}, "0 L/kg"),
        ({"depth_owf": np.array([-0.01])}, "above 0"),
        ({"fibre_frac": np.array([0.8, 0.4])}, "at most 1"),
    ],
)
def test_a_bath_that_cannot_be_is_refused(change, words):
    pot = ramp(until_min=2)
    with pytest.raises(InputError, match=words):
        DyeBath(**{**vars(pot), **change})
