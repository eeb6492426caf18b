"""A measured heat-up gives the pot's power and losses back, and nonsense is refused with its sentence."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core import heat
from dyewright.core.heat_up import heat_up_curve_c, learn_heat
from dyewright.core.model import Heating, MeasuredHeatUp, Pot
from dyewright.data.practice import load_heat_sources
from dyewright.errors import InputError

POT = Pot(12.0, 0.28, power_w=1800.0, heating=Heating.INDUCTION)
SOURCE = load_heat_sources()[Heating.INDUCTION]


def measured(readings, *, water_l=8.0, knob="", has_lid=True):
    return MeasuredHeatUp(1, knob, water_l, has_lid, tuple(readings))


def made(useful_w, loss_factor, t_min, *, water_l=8.0, knob="", has_lid=True, off_c=0.0):
    """Readings that a pot of known power and losses gives, each off by a share of off_c."""
    pot = replace(POT, has_lid=has_lid, useful_w=useful_w, loss_factor=loss_factor)
    thermal = heat.thermal_pot(pot, SOURCE, water_l=water_l, fibre_g=0.0)
    reached = np.array(heat.full_power_c(thermal, 15.0, t_min))
    errors = off_c * np.resize([1.0, -1.0, 0.5, -0.5], len(t_min))
    return measured(zip(t_min, reached + errors, strict=True), water_l=water_l, knob=knob, has_lid=has_lid)


def test_the_power_of_a_pot_is_recovered():
    [learnt] = learn_heat([made(1240.0, 1.0, [0, 10, 20, 30, 40])], POT, SOURCE)

    # synthetic truth: 1240 W, losses as computed
    assert learnt.useful_w == pytest.approx(1240.0, rel=0.002)
    assert learnt.loss_factor == pytest.approx(1.0, abs=0.01)
    assert learnt.rms_c < 0.01


def test_half_a_degree_of_reading_error_moves_the_power_little():
    [learnt] = learn_heat([made(1240.0, 1.0, [0, 10, 20, 30, 40], off_c=0.5)], POT, SOURCE)

    # by hand: 0.5 °C in a rise of 80 °C is 0.6 % of the power; 2 % leaves room for how the errors fall
    assert learnt.useful_w == pytest.approx(1240.0, rel=0.02)


@pytest.mark.parametrize(("loss_factor", "useful_w"), [(0.7, 180.0), (1.6, 400.0)])
def test_late_readings_on_a_low_knob_tell_the_losses(loss_factor, useful_w):
    low = made(useful_w, loss_factor, [0, 20, 40, 80, 120, 180, 240, 360], knob="3 of 9")
    [learnt] = learn_heat([low], POT, SOURCE)

    # synthetic truth; the prior on the losses pulls a few percent towards 1
    assert learnt.loss_factor == pytest.approx(loss_factor, rel=0.06)
    assert learnt.useful_w == pytest.approx(useful_w, rel=0.03)


def test_the_losses_told_by_one_setting_serve_the_others():
    low = made(400.0, 1.6, [0, 20, 40, 80, 120, 180, 240], knob="3 of 9")
    full = made(1240.0, 1.6, [0, 10, 20, 30])
    alone, together = learn_heat([full], POT, SOURCE)[0], learn_heat([low, full], POT, SOURCE)[1]

    # synthetic truth: 1240 W; half an hour of full power alone cannot tell losses from power
    assert alone.loss_factor == 1.0
    assert together.loss_factor == pytest.approx(1.6, rel=0.06)
    assert abs(together.useful_w - 1240.0) < abs(alone.useful_w - 1240.0)


def test_two_readings_give_the_power_alone():
    [learnt] = learn_heat([measured([(0, 20.0), (10, 41.0)], water_l=10.0)], replace(POT, has_lid=True), SOURCE)

    # by hand: 10 L and 1.44 kg of steel are 42.6 kJ/K; 21 °C in 600 s is 1490 W; losses at 30 °C: side 0.171 m2 and
    # lid 0.062 m2, 10 W/m2K each, are 23 W, vapour under the lid below 5 W
    assert learnt.useful_w == pytest.approx(1490 + 25, rel=0.01)
    assert learnt.loss_factor == 1.0
    assert learnt.readings == 2


def test_a_setting_holds_the_pot_where_its_losses_eat_its_power():
    [learnt] = learn_heat([made(150.0, 1.0, [0, 60, 120, 180], knob="1 of 9")], POT, SOURCE)

    thermal = heat.thermal_pot(replace(POT, useful_w=150.0), SOURCE, water_l=8.0, fibre_g=0.0)
    # definition of standing still: the heat put in is the heat lost
    assert heat.heat_loss_w(thermal, learnt.holds_c) == pytest.approx(150.0, rel=0.03)


def test_the_fitted_curve_passes_through_its_readings():
    heat_up = made(1240.0, 1.0, [0, 10, 20, 30, 40])
    [learnt] = learn_heat([heat_up], POT, SOURCE)

    curve = heat_up_curve_c(heat_up, learnt, POT, SOURCE, t_min=[0, 10, 20, 30, 40])
    assert curve == pytest.approx([c for _, c in heat_up.readings], abs=0.1)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([(0, 20)], "two readings|2 readings"),
        ([(0, 20), (10, 60), (20, 50)], "falls to 50 °C at 20 min"),
        ([(0, 20), (10, 40), (5, 60)], "minutes count on"),
        ([(0, 20), (10, 40), (10, 60)], "minutes count on"),
        ([(0, 20), (30, 104)], "104 °C at 30 min"),
        ([(0, -3), (30, 50)], "-3 °C at 0 min"),
        ([(0, 15), (1e40, 50)], "a day at most"),
        ([(-5, 15), (10, 50)], "a day at most"),
        ([(0, 20), (30, 21)], "rose by 1 °C"),
        ([(0, 20), (0.01, 90)], "no pot takes more"),
    ],
)
def test_nonsense_is_refused_with_a_sentence(readings, words):
    with pytest.raises(InputError, match=words) as refused:
        learn_heat([measured(readings)], POT, SOURCE)
    assert (refused.value.field or "").startswith("reading.")


def test_no_water_is_refused():
    with pytest.raises(InputError, match="0 L of water"):
        learn_heat([measured([(0, 20), (10, 50)], water_l=0.0)], POT, SOURCE)


def test_a_room_nobody_dyes_in_is_refused():
    with pytest.raises(InputError, match="is none to dye in"):
        learn_heat([replace(measured([(0, 15), (20, 60)]), room_c=-300.0)], POT, SOURCE)


@given(
    start_c=st.floats(20, 35), rise_c=st.floats(5, 50), hotter_c=st.floats(0.5, 15), minutes=st.floats(5, 60),
    water_l=st.floats(2, 11), has_lid=st.booleans(),
)  # fmt: skip
def test_hotter_readings_mean_more_power(start_c, rise_c, hotter_c, minutes, water_l, has_lid):
    # From the room's own 20 °C up: colder water warms without any power, and none is none.
    def power(end_c):
        return learn_heat([measured([(0, start_c), (minutes, end_c)], water_l=water_l, has_lid=has_lid)], POT, SOURCE)[
            0
        ].useful_w

    assert power(start_c + rise_c + hotter_c) > power(start_c + rise_c)


@given(water_l=st.floats(2, 10), more=st.floats(1.1, 2))
def test_more_water_heated_alike_means_more_power(water_l, more):
    heat_ups = [measured([(0, 15), (20, 55)], water_l=litres) for litres in (water_l, water_l * more)]
    less_w, more_w = (learn_heat([one], POT, SOURCE)[0].useful_w for one in heat_ups)
    assert more_w > less_w
