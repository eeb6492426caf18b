"""The fibre as an acid buffer: fixed charges in equilibrium with the bath across a Donnan boundary.

The fibre's groups see an inner pH that differs from the bath's by log10 of the Donnan ratio; ions of charge z are
ratio^-z as concentrated inside as outside; inside, ions and groups together are neutral.

Sources: [1] J. Steinhardt, M. Harris, J. Res. NBS 24 (1940) 335 (RP1286): wool binds at most 0.82 mol/kg of acid,
whatever the salt, and nothing to speak of between pH 5 and 10 without salt.
[2] L. Peters, J. B. Speakman, J. Soc. Dyers Colour. 65 (1949) 63: the Donnan treatment. From memory.
"""

import math
from collections.abc import Mapping
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from dyewright.core.model.acidity import FibreSites
from dyewright.errors import InputError

__all__ = ["acid_bound", "donnan_log_ratio", "fixed_charge", "half_saturation_ph"]

LN10 = math.log(10)
WIDEST_LOG_RATIO = 12.0  # in ln; a ratio of 160 000, never met in a bath
NEWTON_STEPS = 60
RATIO_TOLERANCE = 1e-6  # of the last step; Newton's next one would be about its square
SATURATION_PH_RANGE = (0.0, 7.0)

FloatOrArray = TypeVar("FloatOrArray", float, NDArray[np.float64])


def fixed_charge(sites: FibreSites, inner_ph: FloatOrArray) -> FloatOrArray:
    """Return the net charge of the fibre's groups in mol/kg at an inner pH; acid bound is positive."""
    histidine = sites.histidine_mol_kg / (1 + 10 ** (inner_ph - sites.histidine_pk))
    amine = sites.amine_mol_kg / (1 + 10 ** (inner_ph - sites.amine_pk))
    carboxylate = sites.carboxyl_mol_kg / (1 + 10 ** (sites.carboxyl_pk - inner_ph))
    return sites.strong_base_mol_kg + histidine + amine - carboxylate


def _charge_and_slope(sites: FibreSites, inner_ph: float) -> tuple[float, float]:
    """Return the fixed charge, mol/kg, and its change for each unit of inner pH."""
    histidine_odds = 10 ** (inner_ph - sites.histidine_pk)
    amine_odds = 10 ** (inner_ph - sites.amine_pk)
    carboxyl_odds = 10 ** (inner_ph - sites.carboxyl_pk)
    histidine = sites.histidine_mol_kg / (1 + histidine_odds)
    amine = sites.amine_mol_kg / (1 + amine_odds)
    carboxyl = sites.carboxyl_mol_kg / (1 + carboxyl_odds)
    charge = sites.strong_base_mol_kg + histidine + amine + carboxyl - sites.carboxyl_mol_kg
    slope = -LN10 * (
        histidine * histidine_odds / (1 + histidine_odds)
        + amine * amine_odds / (1 + amine_odds)
        + carboxyl * carboxyl_odds / (1 + carboxyl_odds)
    )
    return charge, slope


def donnan_log_ratio(
    sites: FibreSites, bath_ph: float, ions_mol_l: Mapping[int, float], *, first_guess: float = 0.0
) -> float:
    """Return ln of the Donnan ratio at which the inside of the fibre is neutral.

    Neutrality falls steadily with the ratio, so Newton's step is kept inside a bracket and cannot run away.

    Args:
        ions_mol_l: concentration in the bath of all ions of each charge, mol/L, 0 or more.
        first_guess: where the search starts, ln of a ratio, -12 to 12.
    """
    low, high = -WIDEST_LOG_RATIO, WIDEST_LOG_RATIO
    u = first_guess
    for _ in range(NEWTON_STEPS):
        charge = slope = 0.0
        for z, amount in ions_mol_l.items():
            inside = amount * math.exp(-z * u)
            charge += z * inside
            slope -= z * z * inside
        fixed, fixed_slope = _charge_and_slope(sites, bath_ph + u / LN10)
        value = sites.inner_water_l_kg * charge + fixed
        gradient = sites.inner_water_l_kg * slope + fixed_slope / LN10
        low, high = (u, high) if value > 0 else (low, u)
        step = u - value / gradient if gradient else (low + high) / 2
        new = step if low < step < high else (low + high) / 2
        if abs(new - u) < RATIO_TOLERANCE:
            return new
        u = new
    return u


def acid_bound(sites: FibreSites, bath_ph: float, ions_mol_l: Mapping[int, float]) -> float:
    """Return the acid that a kilogram of fibre binds in a bath, mol/kg; below 0 where it binds alkali.

    Args:
        ions_mol_l: concentration in the bath of all ions of each charge, hydrogen ions included, mol/L.
    """
    return fixed_charge(sites, bath_ph + donnan_log_ratio(sites, bath_ph, ions_mol_l) / LN10)


def half_saturation_ph(sites: FibreSites, salt_mol_l: float, *, anion_charge: int = -1) -> float:
    """Return the bath's pH at which a strong acid fills half of the fibre's acid sites.

    The acid's anion is univalent; hydrogen ions count with their activity as concentration.

    Args:
        salt_mol_l: a sodium salt beside the acid, mol/L, 0 or more.
        anion_charge: charge of the salt's anion, -3 to -1.
    """
    if salt_mol_l < 0:
        raise InputError(
            f"salt must be 0 mol/L or more, got {salt_mol_l}", field="salt_mol_l", value=salt_mol_l, limit=0
        )
    half = sites.carboxyl_mol_kg / 2

    def above_half(bath_ph: float) -> float:
        hydrogen = 10**-bath_ph
        ions = {1: hydrogen - anion_charge * salt_mol_l, -1: hydrogen}
        ions[anion_charge] = ions.get(anion_charge, 0.0) + salt_mol_l
        return acid_bound(sites, bath_ph, ions) - half

    return float(brentq(above_half, *SATURATION_PH_RANGE))
