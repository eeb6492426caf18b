"""Bonding and hydrolysis against closed forms, a solver of differential equations, and worked tables."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dyewright.core.model import DyeClass, Span
from dyewright.core.reactive import (
    CelluloseBath,
    CelluloseDraws,
    bonded_on_protein,
    bonding_share,
    hydrolysis_per_min,
    neutral_per_day,
    on_cellulose,
    spread,
    stock_active_frac,
)
from dyewright.data.after_dyeing import load_reactive
from dyewright.errors import InputError

DCT = load_reactive()[DyeClass.DICHLOROTRIAZINE]
NONE, ONE = np.zeros(1), np.ones(1)
MIDDLE = CelluloseDraws(NONE, NONE, NONE, NONE, NONE, load_factor=ONE, active_frac=ONE)
USUAL_SALT = 2 * 50 / 142.04  # charges a litre of 50 g/L sodium sulphate, 142.04 g/mol


def pot(t_min, bath_c, ph=11.0, salt=USUAL_SALT, liquor_l_kg=20.0):
    t = np.asarray(t_min, float)
    full = np.ones_like(t)
    return CelluloseBath(t, bath_c * full, ph * full, ph * full, salt * full, liquor_l_kg)


def test_a_range_holds_nine_of_ten():
    normal = np.random.default_rng(1).standard_normal(200_000)
    values = spread(normal, Span(10.0, 5.0, 30.0))

    # The ends are the 5 and 95 % quantiles by definition; 200 000 draws place them within 1 %.
    assert np.quantile(values, [0.05, 0.5, 0.95]) == pytest.approx([5.0, 10.0, 30.0], rel=0.02)


# The project's reference notes, worked with a calculator from F = F∞ (1 - e^(-k_u t)), K_s 5, R 9.3, half-life 3 h at
# 25 °C, 80 kJ/mol, 20:1, pH 11; printed to two digits.
@pytest.mark.parametrize(
    ("at_c", "t_min", "fixed"),
    [
        (40.0, [15, 30, 60, 120], [0.36, 0.54, 0.66, 0.70]),
        (25.0, [30, 60, 120, 240, 480], [0.19, 0.32, 0.50, 0.64, 0.70]),
    ],
)
def test_cold_fixation_as_worked(at_c, t_min, fixed):
    course = on_cellulose(pot([0, *t_min], at_c), DCT, MIDDLE)

    assert course.fixed[0, 1:] == pytest.approx(fixed, abs=0.008)


@pytest.mark.parametrize(("liquor_l_kg", "fixed"), [(10, 0.82), (20, 0.70), (30, 0.61), (50, 0.48)])
def test_shorter_liquor_fixes_more(liquor_l_kg, fixed):
    # The same notes, F∞ = R K_s/(R K_s + L) with R K_s = 46.5 L/kg.
    course = on_cellulose(pot([0, 5000], 40.0, liquor_l_kg=liquor_l_kg), DCT, MIDDLE)

    assert course.fixed[0, -1] == pytest.approx(fixed, abs=0.006)


def test_the_course_through_heat_and_a_jump_of_ph_agrees_with_a_solver():
    # Another implementation: scipy's DOP853 on the same equations. Fails by 0.02 if the jump is smeared over a step.
    t = np.arange(0.0, 121.0)
    bath_c = np.interp(t, [0, 60, 120], [25, 60, 60])
    ph = np.where(t < 30, 7.5, 11.0)
    salt = np.where(t < 10, 0.0, USUAL_SALT)
    bath = CelluloseBath(t, bath_c, ph, ph, salt, 20.0)
    course = on_cellulose(bath, DCT, MIDDLE)

    def k_hydrolysis(at_c, at_ph):
        kelvin = at_c + 273.15
        arrhenius = np.exp(-80.0 / 8.314462618e-3 * (1 / kelvin - 1 / 298.15))
        neutral = np.log(2) / (30 * 1440) * np.exp(-60.0 / 8.314462618e-3 * (1 / kelvin - 1 / 298.15))
        return np.log(2) / 180 * 10 ** (0.9 * (at_ph - 11)) * arrhenius, neutral

    def slope(now, y):
        alkali, neutral = k_hydrolysis(np.interp(now, [0, 60, 120], [25, 60, 60]), 7.5 if now < 30 else 11.0)
        held = 1.0 if now < 10 else 5.0
        on, left = held / (held + 20), 1 - y[0] - y[1]
        return [9.3 * alkali * on * left, (alkali * (1 - on) + neutral) * left]

    y = np.zeros(2)
    for start, end in ((0, 10), (10, 30), (30, 60), (60, 120)):
        solved = solve_ivp(slope, (start, end - 1e-9), y, method="DOP853", rtol=1e-10, atol=1e-12)
        y = solved.y[:, -1]
    assert [course.fixed[0, -1], course.hydrolysed[0, -1]] == pytest.approx(list(y), abs=2e-6)


def test_nothing_is_lost_and_nothing_made():
    t = np.arange(0.0, 91.0)
    course = on_cellulose(pot(t, 30.0), DCT, MIDDLE)
    left = 1.0 - course.fixed - course.hydrolysed

    assert left.min() >= 0
    # What is off the bath is what has bonded and the fibre's part of the rest: a fifth at K_s 5 and 20:1.
    assert course.exhaustion == pytest.approx(course.fixed + 0.2 * (1 - course.fixed), abs=1e-12)


def test_without_alkali_hardly_anything_bonds_and_dead_stock_never_does():
    assert on_cellulose(pot([0, 120], 30.0, ph=7.0), DCT, MIDDLE).fixed[0, -1] < 0.01
    half = CelluloseDraws(NONE, NONE, NONE, NONE, NONE, load_factor=ONE, active_frac=0.5 * ONE)
    fresh, old = (on_cellulose(pot([0, 120], 40.0), DCT, draws) for draws in (MIDDLE, half))
    assert old.fixed[0, -1] == pytest.approx(0.5 * fresh.fixed[0, -1])
    assert old.hydrolysed[0, 0] == pytest.approx(0.5)


def test_a_wool_dye_is_refused_on_cotton():
    with pytest.raises(InputError, match="bromoacrylamide"):
        on_cellulose(pot([0, 60], 80.0), load_reactive()[DyeClass.BROMOACRYLAMIDE], MIDDLE)


# The reference notes' table at pH 11, hours; computed there from the same half-lives with a calculator.
@pytest.mark.parametrize(
    ("dye_class", "at_c", "half_life_h"),
    [
        (DyeClass.DICHLOROTRIAZINE, 20, 5.2),
        (DyeClass.DICHLOROTRIAZINE, 40, 0.64),
        (DyeClass.DICHLOROTRIAZINE, 60, 0.1),
        (DyeClass.VINYL_SULPHONE, 20, 49),
        (DyeClass.VINYL_SULPHONE, 40, 5.3),
        (DyeClass.VINYL_SULPHONE, 80, 8 / 60),
        (DyeClass.MONOCHLOROTRIAZINE, 20, 450),
        (DyeClass.MONOCHLOROTRIAZINE, 60, 6.8),
    ],
)
def test_half_lives_in_alkali(dye_class, at_c, half_life_h):
    row = load_reactive()[dye_class].cellulose
    rate = hydrolysis_per_min(
        at_c, 11.0, half_life_min=row.half_life_min.mid, half_life_c=row.half_life_c, ea_kj_mol=row.ea_kj_mol.mid,
        ph_order=row.ph_order.mid,
    )  # fmt: skip

    # Two digits are printed, "6 min" and "8 min" one: 8 % covers it; 5 kJ/mol of error would be 10 % and more.
    assert np.log(2) / rate / 60 == pytest.approx(half_life_h, rel=0.08)


def test_rates_of_a_published_monochlorotriazine_give_its_activation_energy():
    # Arithmetic on published figures (C.I. Reactive Red 24, Dyestuffs and Coloration 2004(6) 331): 0.0101 at 70 °C and
    # 0.0599 at 95 °C is 74.8 kJ/mol, by hand: R ln(5.931)/(1/343.15 - 1/368.15). It lies in the table's range.
    ratio = 0.0599 / 0.0101
    ea = 8.314462618e-3 * np.log(ratio) / (1 / 343.15 - 1 / 368.15)
    span = load_reactive()[DyeClass.MONOCHLOROTRIAZINE].cellulose.ea_kj_mol

    assert ea == pytest.approx(74.8, abs=0.2)
    assert span.low <= ea + 0.5
    assert ea <= span.high
    warm, cold = (
        hydrolysis_per_min(c, 11.0, half_life_min=72.0, half_life_c=80.0, ea_kj_mol=ea, ph_order=0.4) for c in (95, 70)
    )
    assert warm / cold == pytest.approx(ratio, rel=1e-9)


def test_a_neutral_monochlorotriazine_is_unchanged_after_a_day():
    # Gregorčič et al., Fibres & Textiles in Eastern Europe 14 (2006): neutral, 20 °C, unchanged after 24 h.
    life = load_reactive()[DyeClass.MONOCHLOROTRIAZINE].neutral_days

    assert np.exp(-neutral_per_day(20.0, life.low)) > 0.99


def test_a_stock_is_half_gone_after_its_half_life():
    # By hand: at 18 °C the course is e^(-60/0.008314 (1/291.15 - 1/298.15)) = e^-0.582 = 0.559 of that at 25 °C.
    assert stock_active_frac(DCT, 30.0 / 0.559) == pytest.approx(0.5, abs=0.002)
    assert stock_active_frac(DCT, 0.0) == 1.0
    # Kept warm and of the short-lived kind (25 °C, 10 days) half is gone after 10 days.
    assert stock_active_frac(DCT, 10.0, -1.6448536, 1.6448536) == pytest.approx(0.5, abs=1e-6)


def test_bonding_on_protein_follows_its_closed_form():
    # By hand: E held at 0.9, 95 °C, half-life 10 min: 0.9 (1 - 2^-(t/10)), so 0.45 at 10 and 0.7875 at 30 min.
    t = np.array([0.0, 10.0, 30.0])
    reacted = bonded_on_protein(t, np.full(3, 95.0), np.full((1, 1, 3), 0.9), np.array([10.0]))

    assert reacted[0, 0] == pytest.approx([0.0, 0.45, 0.7875], abs=1e-9)


def test_bonding_along_a_heat_up_agrees_with_a_solver():
    # Another implementation: scipy's DOP853. Steps of a minute, a curve of uptake that is linear between them.
    t = np.arange(0.0, 91.0)
    bath_c = np.interp(t, [0, 55, 90], [40, 95, 95])
    exhaustion = 0.97 * (1 - np.exp(-t / 25))
    reacted = bonded_on_protein(t, bath_c, exhaustion[None, None], np.array([10.0]))

    def slope(now, y):
        kelvin = np.interp(now, [0, 55, 90], [40, 95, 95]) + 273.15
        k = np.log(2) / 10 * np.exp(-80 / 8.314462618e-3 * (1 / kelvin - 1 / 368.15))
        return k * (np.interp(now, t, exhaustion) - y)

    solved = solve_ivp(slope, (0, 90), [0.0], method="DOP853", max_step=0.5, rtol=1e-9, atol=1e-11)
    # E is linear in time there and in ∫k dt here: 2e-4 apart at the steepest step.
    assert reacted[0, 0, -1] == pytest.approx(solved.y[0, -1], abs=3e-4)


def test_the_usual_fixation_comes_back_after_a_full_boil():
    # Fixation over uptake, 0.80/0.97: with all of an uptake of 0.97 reacted 0.80 is bonded (reference notes, I0.3).
    share = bonding_share(0.80, 0.97, np.array([1.0, 2.0]))

    assert 0.97 * share[0] == pytest.approx(0.80)
    assert 1 - share[1] == pytest.approx(2 * (1 - share[0]))  # twice the load leaves twice as much loose
    assert np.all(bonding_share(0.98, 0.97, np.array([1.0])) == 1.0)
