"""The heat of a pot: balance, reach, holding, cooling."""

import pytest

from dyewright.core import heat
from dyewright.core.model import CoolTo, Enter, Heating, Hold, Pot, StageKind, To
from dyewright.data.practice import load_heat_sources
from dyewright.errors import InputError


def pot_with(water_l=10.0, fibre_g=400.0, **kind):
    pot = Pot(**{"volume_l": 14.0, "power_w": 1800.0, "heating": Heating.INDUCTION} | kind)
    return heat.thermal_pot(pot, load_heat_sources()[pot.heating], water_l=water_l, fibre_g=fibre_g)


# The project's own table of its own formulas, [calc] in its reference notes, pot masses unsaid: litres, yarn in g, brim
# in L, heat, power, minutes lidded and open from 15 to 95 °C. It checks that the formulas were carried over, no more.
CALCULATED = [
    (5, 200, 7, Heating.INDUCTION, 1800, 21, 23),
    (10, 400, 14, Heating.INDUCTION, 1800, 42, 48),
    (20, 1000, 25, Heating.INDUCTION, 1800, 86, 111),
    (10, 400, 14, Heating.GAS, 2500, 67, 88),
    (20, 1000, 25, Heating.GAS, 3500, 94, 127),
]


@pytest.mark.parametrize(("water_l", "fibre_g", "brim_l", "heating", "power_w", "lidded", "uncovered"), CALCULATED)
def test_heating_up_takes_as_long_as_the_worked_table(water_l, fibre_g, brim_l, heating, power_w, lidded, uncovered):
    times = [
        heat.full_power_min(
            pot_with(water_l, fibre_g, volume_l=brim_l, heating=heating, power_w=power_w, has_lid=has_lid), 15, 95
        )
        for has_lid in (True, False)
    ]

    # 8 %: the table gives whole minutes and no pot masses or side areas; a lost term or factor would be far off
    assert times == pytest.approx([lidded, uncovered], rel=0.08)


def test_losses_of_an_open_and_a_lidded_pot():
    # the same notes, worked by hand: 30 cm pot at 95 °C: open about 750 W and 0.84 kg/h, lidded about 255 W, 0.04 kg/h
    volume = 0.283 * 3.1416 * 0.15**2 * 1000  # 20 L, as high as the side loss of the hand calculation implies
    opened, lidded = (pot_with(volume_l=volume, diameter_m=0.30, has_lid=lid) for lid in (False, True))
    assert heat.heat_loss_w(opened, 95) == pytest.approx(750, rel=0.08)
    assert heat.heat_loss_w(lidded, 95) == pytest.approx(255, rel=0.15)
    assert 3600 * heat.evaporation_kg_s(95, opened.top_m2) == pytest.approx(0.84, rel=0.02)


@pytest.mark.parametrize(("water_c", "kpa"), [(20, 2.339), (60, 19.95), (95, 84.6)])
def test_vapour_pressure_follows_the_steam_tables(water_c, kpa):
    # saturated steam tables, from memory; 3 % as the fit's source covers -40 to 50 °C only
    assert heat.vapour_pressure_kpa(water_c) == pytest.approx(kpa, rel=0.03)


def test_a_programme_is_followed_while_the_heat_suffices():
    curve = heat.heat_curve(pot_with(), [Enter(30), To(75, 0.5), To(88, 1), Hold(40), CoolTo(60)])

    # by hand: 45 °C at 0.5 a minute is 90 min, 13 °C at 1 a minute is 13 min
    ends = [stage.end_min for stage in curve.stages[:3]]
    assert ends == pytest.approx([90, 103, 143], abs=0.01)
    assert [stage.is_short for stage in curve.stages] == [False] * 4
    assert max(curve.bath_c) == pytest.approx(88, abs=0.01)
    assert curve.bath_c[-1] == pytest.approx(60, abs=0.01)


def test_a_pot_that_cannot_follow_is_slower_and_says_so():
    thermal = pot_with(20.0, 1000.0, volume_l=25.0)
    curve = heat.heat_curve(thermal, [Enter(40), To(95, 2.0), Hold(10)])
    rise = curve.stages[0]
    assert rise.is_short
    # rival method: the quadrature of full_power_min against the stepping
    assert rise.end_min == pytest.approx(heat.full_power_min(thermal, 40, 95), rel=0.002)


def test_a_weak_pot_stops_below_the_boil():
    thermal = pot_with(power_w=500.0, has_lid=False)
    top_c = heat.stagnation_c(thermal)
    curve = heat.heat_curve(thermal, [Enter(40), To(95), Hold(30)])

    # rival method: bisection on the losses against where the stepping stops moving (0.02 °C/min, so a little below)
    assert curve.stages[0].is_short
    assert top_c - 3 < curve.stages[0].end_c < top_c < 95
    assert heat.full_power_min(thermal, 40, 95) is None


def test_full_heat_without_a_rate_is_full_power():
    thermal = pot_with()
    curve = heat.heat_curve(thermal, [Enter(20), To(90)])
    assert curve.t_min[-1] == pytest.approx(heat.full_power_min(thermal, 20, 90), rel=0.002)
    assert not curve.stages[0].is_short


def test_a_lower_target_cools():
    curve = heat.heat_curve(pot_with(), [Enter(90), To(70)])
    assert curve.stages[0].kind is StageKind.COOL
    assert curve.bath_c[-1] == pytest.approx(70, abs=0.01)


def test_cooling_below_the_room_says_that_it_cannot():
    curve = heat.heat_curve(pot_with(), [Enter(40), CoolTo(10)])
    assert curve.stages[0].is_short
    assert curve.bath_c[-1] > heat.ROOM_C


def test_a_diameter_not_said_is_that_of_a_usual_pot():
    # by hand: 12 L, height 0.7 of the diameter: d = (4 x 0.012 / (0.7 pi))^(1/3) = 0.2795 m
    assert heat.pot_diameter_m(Pot(12.0), load_heat_sources()[Heating.ELECTRIC]) == pytest.approx(0.2795, abs=1e-3)


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ([], "begins with the temperature of entering"),
        ([Hold(10)], "begins with the temperature of entering"),
        ([Enter(40), Enter(50)], "begins with the temperature of entering"),
        ([Enter(40), To(104, 1)], "between 0 and 100 °C, the programme asks for 104 °C"),
        ([Enter(40), To(90, 0.0)], "above 0 °C/min, got 0"),
        ([Enter(40), Hold(-5)], "got -5 min"),
        ([Enter(40)], "ends as it begins, at 40 °C after 0 min"),
        ([Enter(40), Hold(0)], "ends as it begins, at 40 °C after 0 min"),
    ],
)
def test_a_programme_that_cannot_be_is_refused(stages, words):
    with pytest.raises(InputError, match=words):
        heat.heat_curve(pot_with(), stages)


@pytest.mark.parametrize(
    ("kind", "words"),
    [({"power_w": 0.0}, "between 0 and 50 kW, got 0 W"), ({"diameter_m": 2.0}, "14 L cannot be 200 cm across")],
)
def test_a_pot_that_cannot_be_is_refused(kind, words):
    with pytest.raises(InputError, match=words):
        pot_with(**kind)
