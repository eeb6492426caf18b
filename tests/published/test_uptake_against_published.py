"""The uptake model against figures of published dyeing studies."""

from dataclasses import replace

import numpy as np
import pytest
from pots import defaults, ramp
from scipy.optimize import brentq

from dyewright.core.model import Fibre
from dyewright.core.uptake import (
    arrhenius,
    equilibrium_shares,
    half_saturation_ph,
    k95_of_t50,
    on_fibre,
    site_occupation,
)
from dyewright.core.uptake.kinetics import GAS_KJ_MOL_K


def test_surface_stripped_wool_takes_up_as_its_first_five_minutes_say():
    # Davari et al., Fibers Polym. (2024), abstract: 15.2 % untreated and 38.6 % treated after 5 min.
    # y = E² and dy/dt = k (1 - y) for a dye that goes in nearly whole: the rate constants stand as
    # ln(1 - 0.386²)/ln(1 - 0.152²) = 0.1613/0.02338 = 6.90. Arithmetic on published figures: it checks the form.
    pot, dye = ramp(from_c=60, to_c=60, until_min=5), defaults("acid milling")

    def after_five_minutes(k95):
        return on_fibre(pot, replace(dye, k95_per_min=np.full((1, 1, 1), k95)))[0, 0, 0, -1]

    slow, fast = (brentq(lambda k95, e=e: after_five_minutes(k95) - e, 1e-6, 100.0) for e in (0.152, 0.386))
    assert fast / slow == pytest.approx(6.90, abs=0.05)  # E∞ is 0.99 here, not 1


# Cegarra, Riva, Ribé (raco.cat record 131595), abstract: for the same rate constant superwash needs 25 to 40 °C less,
# and Ea(untreated) is about 2.5 times Ea(superwash).
@pytest.mark.parametrize(
    "dye_class", ["acid levelling", "acid milling", "metal complex 1:2", "reactive bromoacrylamide"]
)
@pytest.mark.parametrize("superwash_c", [42.0, 50.0, 58.0])
def test_superwash_takes_dye_as_fast_25_to_40_degrees_cooler(dye_class, superwash_c):
    untreated, superwash = defaults(dye_class), defaults(dye_class, is_superwash=True)
    rate = float(np.squeeze(superwash.k95_per_min * arrhenius(superwash_c, superwash.ea_kj_mol)))
    temperatures = np.linspace(40, 110, 7001)
    rates = np.squeeze(untreated.k95_per_min) * arrhenius(temperatures, np.squeeze(untreated.ea_kj_mol))
    same_c = float(np.interp(rate, rates, temperatures))

    assert 25 <= same_c - superwash_c <= 40
    assert untreated.ea_kj_mol / superwash.ea_kj_mol == pytest.approx(2.5)


# What T50 means, worked by hand: E = E∞/2 on the ramp of 1 °C/min from 40 °C at 30 L/kg, E∞ held.
@pytest.mark.parametrize(("t50_c", "ea_kj_mol"), [(72, 80), (80, 95), (47, 32), (66, 100)])
def test_half_of_the_uptake_is_in_at_t50(t50_c, ea_kj_mol):
    temperatures = np.linspace(40, t50_c, 20001)
    rate = k95_of_t50(t50_c, ea_kj_mol) * arrhenius(temperatures, ea_kj_mol)
    integral = np.trapezoid(rate, temperatures)  # 1 °C a minute: minutes are degrees

    assert np.sqrt(1 - np.exp(-integral)) == pytest.approx(0.5, abs=1e-6)


def test_arrhenius_is_one_at_95_degrees_and_follows_the_published_example():
    # Reactive Red 24 (Dyestuffs & Coloration 2004(6) 331): k 0.0101 at 70 °C, 0.0599 at 95 °C gives Ea 74.8 kJ/mol
    # (worked in the project's notes); arithmetic on published figures: it checks the formula.
    assert arrhenius(95.0, 74.8) == pytest.approx(1.0)
    assert 1 / arrhenius(70.0, 74.8) == pytest.approx(0.0599 / 0.0101, rel=0.005)


def test_the_partition_of_a_textbook_isotherm_is_the_package_s_nernst():
    # Broadbent, Basic Principles of Textile Coloration (SDC 2001), p. 203: 34.8 g/kg on the fibre over 0.0399 g/L in
    # the bath, K 873 L/kg, affinity 21.0 kJ/mol at 373 K. Arithmetic on published figures: it checks the formula.
    k_l_kg = 34.8 / 0.0399
    liquor = 30.0
    share = equilibrium_shares(
        np.full((1, 1, 1), k_l_kg), liquor_l_kg=liquor, fibre_frac=[1.0], depth_owf=[1e-12], saturation_owf=[0.37]
    ).item()

    # On the fibre over all: 34.8/(34.8 + 30 x 0.0399) = 0.96675.
    assert share == pytest.approx(0.96675, abs=1e-5)
    assert GAS_KJ_MOL_K * 373 * np.log(share / (1 - share) * liquor) == pytest.approx(21.0, abs=0.05)


def test_the_published_activation_figures_of_silk_agree_with_each_other():
    # Lac on silk, pseudo-second order: Ea 47.5, enthalpy 44.7 kJ/mol, entropy -175.7 J/(mol K), free energy 97.9 at
    # 30 °C. Eyring: ΔG = 44.7 + 303.15 x 0.1757 = 97.96 and Ea - RT = 47.5 - 2.52 = 44.98. Arithmetic: it checks that
    # the figure that silk's row rests on is an Arrhenius one, in the unit that the package takes.
    assert pytest.approx(97.9, abs=0.1) == 44.7 + 303.15 * 0.1757
    ratio = arrhenius(40.0, 47.5) / arrhenius(30.0, 47.5)
    eyring = (313.15 / 303.15) * np.exp(-44.98 / GAS_KJ_MOL_K * (1 / 313.15 - 1 / 303.15))
    assert ratio == pytest.approx(eyring, rel=0.001)


# Lemin and Rattee, J. Soc. Dyers Colour. 65 (1949), abstract: exhaustion of levelling dyes follows the acid titration
# of wool. Milling dyes are dyed at pH 5 to 7 and depend on it far less (Broadbent, Basic Principles, p. 246).
def test_levelling_dyes_follow_acid_and_milling_dyes_hardly():
    lost = {}
    for dye_class in ("acid levelling", "acid milling"):
        dye = defaults(dye_class)
        at = [on_fibre(ramp(ph=ph, until_min=240), dye)[0, 0, 0, -1] for ph in (3.0, 5.0, 7.0)]
        assert at[0] > at[1] > at[2]
        lost[dye_class] = at[0] - at[2]
    assert lost["acid levelling"] > 0.5
    assert lost["acid milling"] < 0.08


# The Donnan model of the acidity page, computed in the project's notes: half-saturation at pH 3.16 in 0.1 mol/L and
# 3.81 in 0.5 mol/L of a univalent salt. The closed form stands within 0.06 of it.
@pytest.mark.parametrize(("salt_mol_l", "ph"), [(0.1, 3.16), (0.5, 3.81)])
def test_salt_moves_the_half_saturation_as_the_donnan_model_does(salt_mol_l, ph):
    half_ph = half_saturation_ph(salt_mol_l)

    assert half_ph == pytest.approx(ph, abs=0.06)
    assert site_occupation(half_ph, half_ph) == pytest.approx(0.5)


def test_dyed_silk_keeps_the_published_activation_energy():
    # Lac on silk, pseudo-second order: Ea 47.5 kJ/mol; as a Cegarra-Puente constant 51.2 (coated silk).
    ea = float(np.squeeze(defaults("acid milling", fibres=(Fibre.SILK,)).ea_kj_mol))
    assert 45 <= ea <= 52
