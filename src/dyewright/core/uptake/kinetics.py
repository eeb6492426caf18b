"""How fast dye goes in: the rate constant of the Cegarra-Puente form, from what a dyer can observe.

The form is dy/dt = k (E∞² - y) with y = E² [1]. It stands for diffusion into a cylinder: with k = 4.6 to 5.1 D/r² it
follows the exact solution for an infinite bath within 6 % of k from 25 to 95 % uptake [2].

Sources: [1] J. Cegarra, P. Puente, Text. Res. J. 37 (1967) 343, from memory. [2] J. Crank, The Mathematics of
Diffusion, 2nd ed., Oxford (1975), ch. 5; recomputed in the tests. [3] J. Cegarra, P. Riva, L. Ribé, bromoacrylamide
reactive dye on untreated and chlorine-resin treated wool (Intexter; open repository raco.cat, record 131595). [4] D. R.
Lemin, I. D. Rattee, J. Soc. Dyers Colour. 65 (1949), abstract: exhaustion follows the acid titration curve of wool.
[5] J. Steinhardt, M. Harris, J. Res. Nat. Bur. Stand. 24 (1940) 335 (RP1286): the titration of wool, whose shift with
salt the half-saturation pH imitates.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "GAS_KJ_MOL_K",
    "REFERENCE_L_KG",
    "SURE_PH",
    "arrhenius",
    "half_saturation_ph",
    "k95_of_t50",
    "k95_superwash",
    "ln_k_per_c_of_t50",
    "rate_at_ph",
    "site_occupation",
    "t50_of_k95",
]

Floats = NDArray[np.float64]

GAS_KJ_MOL_K = 8.314462618e-3  # CODATA 2018, kJ/(mol K)
ZERO_C_K = 273.15
REFERENCE_C = 95.0  # k95 and K0 are stated here
REFERENCE_L_KG = 30.0  # and at this liquor ratio
RAMP_START_C = 40.0  # T50 is defined on a ramp of 1 °C/min from here
HOTTEST_T50_C = 140.0  # hotter than any pot
HALF_UPTAKE_KAPPA = float(np.log(4 / 3))  # E = E∞/2: y/E∞² = 1/4 = 1 - exp(-∫k dt)

SURE_PH = (2.0, 8.0)  # ours: the acid range that the estimates were made for, with a unit of margin

SUPERWASH_EA_RATIO = 2.5  # [3]: Ea(untreated) is about 2.5 times Ea(superwash)
SUPERWASH_AT_C = 50.0  # superwash at 50 °C goes as untreated wool
SUPERWASH_SHIFT_C = 30.0  # at 80 °C; [3] gives 25 to 40 °C, the middle of the likely range is an estimate

TITRATION_SLOPE = 0.65  # closed-form fit to the Donnan titration of wool, see docs/science/acidity.md
HALF_SATURATION_PH_NO_SALT = 2.6  # bath with an acid's own anions only; estimate
INTERNAL_HALF_PH = 4.30  # [5]: mid-point against internal pH, 4.15 to 4.45
INTERNAL_ANION_MOL_L = 1.37  # 0.41 mol/kg half-saturated sites in 0.30 L/kg imbibed water

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(16)


def arrhenius(temperature_c: ArrayLike, ea_kj_mol: ArrayLike) -> Floats:
    """Return the rate at a temperature relative to the rate at 95 °C; with ΔH in place of Ea, the relative partition.

    Args:
        temperature_c: 0 to 120 °C, any shape.
        ea_kj_mol: activation energy, broadcasts with the temperature.
    """
    inverse_k = 1.0 / (np.asarray(temperature_c, float) + ZERO_C_K) - 1.0 / (REFERENCE_C + ZERO_C_K)
    relative: Floats = np.exp(-np.asarray(ea_kj_mol, float) / GAS_KJ_MOL_K * inverse_k)
    return relative


def _equivalent_min(t50_c: Floats, ea_kj_mol: Floats) -> Floats:
    """Return the minutes at 95 °C that equal the ramp of 1 °C/min from 40 °C to T50 (Gauss-Legendre, 16 points)."""
    half_c = 0.5 * (t50_c - RAMP_START_C)[..., None]
    points_c = RAMP_START_C + half_c * (1.0 + _GAUSS_X)
    minutes: Floats = np.sum(half_c * _GAUSS_W * arrhenius(points_c, ea_kj_mol[..., None]), axis=-1)
    return minutes


def k95_of_t50(t50_c: ArrayLike, ea_kj_mol: ArrayLike) -> Floats:
    """Return the rate constant at 95 °C, 1/min, that puts half of the final uptake at T50.

    T50 is read on a ramp of 1 °C/min from 40 °C at 30 L/kg with E∞ held: then ∫k dt = ln(4/3).

    Args:
        t50_c: above 40 °C, any shape.
        ea_kj_mol: activation energy, broadcasts with T50.
    """
    t50, ea = np.broadcast_arrays(np.asarray(t50_c, float), np.asarray(ea_kj_mol, float))
    return HALF_UPTAKE_KAPPA / _equivalent_min(t50, ea)


def t50_of_k95(k95_per_min: ArrayLike, ea_kj_mol: ArrayLike) -> Floats:
    """Return T50, °C, of a rate constant at 95 °C: the inverse of k95_of_t50, by halving 40 to 140 °C.

    Args:
        k95_per_min: at 30 L/kg and the class's own pH, > 0.
        ea_kj_mol: activation energy, broadcasts with the rate.
    """
    k95, ea = np.broadcast_arrays(np.asarray(k95_per_min, float), np.asarray(ea_kj_mol, float))
    low, high = np.full(k95.shape, RAMP_START_C), np.full(k95.shape, HOTTEST_T50_C)
    for _ in range(40):
        middle = 0.5 * (low + high)
        is_later = k95_of_t50(middle, ea) > k95
        low, high = np.where(is_later, middle, low), np.where(is_later, high, middle)
    t50_c: Floats = 0.5 * (low + high)
    return t50_c


def ln_k_per_c_of_t50(t50_c: ArrayLike, ea_kj_mol: ArrayLike) -> Floats:
    """Return by how much ln k95 falls when T50 is one degree higher, 1/°C: how a doubt in T50 becomes one in k."""
    t50, ea = np.broadcast_arrays(np.asarray(t50_c, float), np.asarray(ea_kj_mol, float))
    return arrhenius(t50, ea) / _equivalent_min(t50, ea)


def k95_superwash(k95_per_min: ArrayLike, ea_kj_mol: ArrayLike, shift_c: ArrayLike = SUPERWASH_SHIFT_C) -> Floats:
    """Return superwash wool's rate constant at 95 °C, 1/min, from that of untreated wool.

    Its activation energy is Ea/2.5, and at 50 °C it goes as untreated wool does `shift_c` hotter [3].

    Args:
        k95_per_min: of untreated wool.
        ea_kj_mol: of untreated wool.
        shift_c: 25 to 40 °C.
    """
    ea = np.asarray(ea_kj_mol, float)
    untreated = np.asarray(k95_per_min, float) * arrhenius(SUPERWASH_AT_C + np.asarray(shift_c, float), ea)
    return untreated / arrhenius(SUPERWASH_AT_C, ea / SUPERWASH_EA_RATIO)


def half_saturation_ph(added_anion_mol_l: ArrayLike) -> Floats:
    """Return the pH at which half of wool's acid sites are filled, given the anions that added salt brings.

    Without salt 2.6; with salt 4.30 - log10(1.37/c), never below the value without [5]. Against the Donnan model of
    the acidity page this is within 0.05 for 0.1 to 0.5 mol/L of a univalent salt.

    Args:
        added_anion_mol_l: charges a litre (sulphate counts twice), 0 to about 1.
    """
    salt = np.maximum(np.asarray(added_anion_mol_l, float), np.finfo(float).tiny)
    ph: Floats = np.maximum(HALF_SATURATION_PH_NO_SALT, INTERNAL_HALF_PH - np.log10(INTERNAL_ANION_MOL_L / salt))
    return ph


def site_occupation(ph: ArrayLike, half_ph: ArrayLike = HALF_SATURATION_PH_NO_SALT) -> Floats:
    """Return the share θ of wool's acid sites that is filled at a pH, 0 to 1 [4, 5].

    Args:
        ph: of the bath, as a meter reads a cooled sample.
        half_ph: from half_saturation_ph.
    """
    occupied: Floats = 1.0 / (1.0 + 10.0 ** (TITRATION_SLOPE * (np.asarray(ph, float) - np.asarray(half_ph, float))))
    return occupied


def rate_at_ph(ph: ArrayLike, ph_ref: ArrayLike, *, half_ph: ArrayLike, z: ArrayLike, theta0: ArrayLike) -> Floats:
    """Return the rate at a pH relative to that at the class's reference pH.

    ((θ(pH) + θ0)/(θ(pH_ref) + θ0))^(z/2): half the exponent of the equilibrium; estimate. The reference has no salt.

    Args:
        ph: of the bath.
        ph_ref: pH at which T50 is stated.
        half_ph: from half_saturation_ph.
        z: sensitivity of the equilibrium to filled sites, 0 to 2.
        theta0: uptake that needs no acid, as sites, 0 to 0.1.
    """
    at_ph = site_occupation(ph, half_ph) + np.asarray(theta0, float)
    at_ref = site_occupation(ph_ref) + np.asarray(theta0, float)
    relative: Floats = (at_ph / at_ref) ** (np.asarray(z, float) / 2.0)
    return relative
