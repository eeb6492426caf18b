"""Wet and dry: the physics against Fresnel's equations, the learning against another model of wetting."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.colour import lab_from_xyz, light_of, xyz_from_reflectance
from dyewright.core.model import WetPair
from dyewright.core.wetting import (
    WATER_SHIFT,
    dry_guess,
    dry_reflectance,
    is_as_wet,
    learnt_shift,
    shift_of_pair,
    wet_reflectance,
)
from dyewright.data.colour import load_observer_tables

TABLES = load_observer_tables()
DAY = date(2026, 3, 1)
WAVELENGTHS = np.arange(400, 701, 10)


def lab(curve):
    weights, white = light_of(TABLES, "D65", 10)
    return tuple(float(value) for value in lab_from_xyz(xyz_from_reflectance(curve, weights), white))


def test_the_shift_of_a_film_of_water_follows_from_fresnels_equations():
    # Fresnel's equations (any optics text), air to water, n = 1.333, averaged over diffuse light: 2 sin cos. The
    # share that a film throws back inside is p = 1 - (1 - R) / n²: Lekner and Dorf, Appl. Opt. 27 (1988) 1278.
    n, steps = 1.333, 20000
    outside = (np.arange(steps) + 0.5) / steps * np.pi / 2
    inside = np.arcsin(np.sin(outside) / n)
    parallel = (np.tan(outside - inside) / np.tan(outside + inside)) ** 2
    crossed = (np.sin(outside - inside) / np.sin(outside + inside)) ** 2
    diffuse = np.mean((parallel + crossed) * np.sin(outside) * np.cos(outside)) * np.pi / 2
    inner = 1 - (1 - diffuse) / n**2

    assert diffuse == pytest.approx(0.066, abs=0.001)
    assert pytest.approx(-np.log(1 - inner), abs=0.003) == WATER_SHIFT
    # By hand from the same: of R = 0.5, 0.5 (1 - p) / (1 - 0.5 p) is left.
    assert wet_reflectance(0.5, WATER_SHIFT) == pytest.approx(0.5 * (1 - inner) / (1 - 0.5 * inner), abs=1e-3)


@given(st.floats(0.01, 0.99), st.floats(0.05, 1.5))
def test_wet_is_darker_and_drying_undoes_it(reflectance, shift):
    wet = wet_reflectance(reflectance, shift)
    assert wet < reflectance
    assert dry_reflectance(wet, shift) == pytest.approx(reflectance, abs=1e-9)


def test_with_no_pair_the_shift_is_that_of_water_and_wide():
    shift = learnt_shift(7, [], TABLES)
    assert shift.shift == pytest.approx(WATER_SHIFT)
    assert shift.sd == pytest.approx(np.sqrt(0.3**2 + 0.2**2 + 0.2**2))  # by hand: all, between bases, inside
    assert (shift.own_pairs, shift.other_pairs) == (0, 0)


def in_water(curve, factor):
    """Another model of wetting: Kubelka and Munk's K/S grows by a factor, as less is scattered between wet fibres."""
    k_s = factor * (1 - curve) ** 2 / (2 * curve)
    return 1 + k_s - np.sqrt(k_s**2 + 2 * k_s)


def a_curve(rng):
    """A dyed yarn: up to three bands of K/S over a creamy base, invented."""
    k_s = 0.05 + 0.2 * np.exp(-(WAVELENGTHS - 400) / 80)
    for _ in range(3):
        middle, width = rng.uniform(400, 680), rng.uniform(40, 90)
        k_s = k_s + np.exp(rng.uniform(-2, 2)) * (rng.random() < 0.7) * np.exp(-(((WAVELENGTHS - middle) / width) ** 2))
    return 1 + k_s - np.sqrt(k_s**2 + 2 * k_s)


def judged(curve, rng):
    return tuple(np.array(lab(curve)) + rng.normal(0, 1.2, 3))


def a_pair(rng, base_id, factor):
    curve = a_curve(rng)
    wet = in_water(curve, factor * np.exp(rng.normal(0, 0.15)))
    return WetPair(base_id, judged(wet, rng), judged(curve, rng), DAY)


def misses(pairs_known):
    """Where the dry colour really was against the middle and the band, for bases of another model of wetting."""
    rng, off, held, ignored = np.random.default_rng(3), [], [], []
    for _ in range(60):
        factor = np.exp(rng.normal(np.log(3.5), 0.25))  # darker than a film of water leaves it
        pairs = [a_pair(rng, 1, factor) for _ in range(pairs_known)]
        asked = a_pair(rng, 1, factor)
        guess = dry_guess(asked.wet_lab, learnt_shift(1, pairs, TABLES), TABLES)
        off.append(np.linalg.norm(np.subtract(guess.lab, asked.dry_lab)))
        ignored.append(np.linalg.norm(np.subtract(asked.wet_lab, asked.dry_lab)))
        held.append(guess.darkest[0] - 4 <= asked.dry_lab[0] <= guess.lightest[0] + 4)
    return np.mean(off), np.mean(held), np.mean(ignored)


def test_the_guess_holds_for_another_model_of_wetting_and_pairs_sharpen_it():
    unlearnt, learnt = misses(0), misses(4)

    assert unlearnt[1] >= 0.93  # 19 of 20 less one standard error of 60
    assert learnt[1] >= 0.93
    assert learnt[0] < 0.8 * unlearnt[0]
    assert learnt[0] < 0.6 * learnt[2]  # against taking the wet colour for the dry one


def test_a_bases_own_pairs_count_for_more_than_those_of_others():
    rng = np.random.default_rng(4)
    little, much = [a_pair(rng, 1, 1.3) for _ in range(6)], [a_pair(rng, 2, 3.5) for _ in range(6)]
    first, second, third = (learnt_shift(base_id, [*little, *much], TABLES) for base_id in (1, 2, 3))

    assert first.shift < third.shift < second.shift
    assert first.sd < third.sd
    assert (first.own_pairs, first.other_pairs) == (6, 6)


def test_the_shift_of_a_pair_is_the_one_that_made_it():
    dry = a_curve(np.random.default_rng(8))
    pair = WetPair(1, lab(wet_reflectance(dry, 0.8)), lab(dry), DAY)
    # The curve is recovered from three numbers: 0.1 of the shift is about 1 ΔE00.
    assert shift_of_pair(pair, TABLES)[0] == pytest.approx(0.8, abs=0.1)


def test_a_darker_deeper_snip_of_the_same_hue_may_be_wet_and_another_hue_is_not():
    dry = a_curve(np.random.default_rng(8))
    lightness, red_green, yellow_blue = lab(dry)

    assert is_as_wet(lab(in_water(dry, 2.0)), lab(dry), TABLES)
    assert not is_as_wet((lightness - 8, red_green + 14, yellow_blue), lab(dry), TABLES)  # redder
    assert not is_as_wet((lightness + 6, red_green, yellow_blue), lab(dry), TABLES)  # lighter
    assert not is_as_wet((lightness - 1, red_green, yellow_blue), lab(dry), TABLES)  # hardly anything
