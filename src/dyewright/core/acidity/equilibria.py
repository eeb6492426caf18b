"""Equilibrium constants and activity coefficients at a bath's temperature.

Sources: [1] CRC Handbook of Chemistry and Physics, "Thermodynamic quantities for the ionization reactions of buffers in
water", after R. N. Goldberg, N. Kishore, R. M. Lennen, J. Phys. Chem. Ref. Data 31 (2002) 231: pK(T) from pK, the
enthalpy and the heat capacity at 25 °C.
[2] C. W. Davies, Ion Association, Butterworths, London (1962): activity coefficients.
[3] C. G. Malmberg, A. A. Maryott, J. Res. NBS 56 (1956) 1: permittivity of water, 0 to 100 °C. From memory.
[4] G. S. Kell, J. Chem. Eng. Data 20 (1975) 97: density of water. From memory.
[5] Debye-Hückel slope 1.82483e6 sqrt(density) / (permittivity * T)^1.5, as in A. H. Truesdell, B. F. Jones,
J. Res. U.S. Geol. Survey 2 (1974) 233. From memory; gives 0.511 at 25 °C and 0.589 at 95 °C.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model.acidity import AcidStep

__all__ = ["DAVIES_LIMIT_MOL_L", "REFERENCE_C", "activity_coefficient", "davies_slope", "pk_at", "water_density_kg_l"]

REFERENCE_C = 25.0
KELVIN_AT_0_C = 273.15
GAS_CONSTANT_KJ = 8.314462618e-3  # kJ/mol/K, SI 2019
LN10 = math.log(10)
DAVIES_LIMIT_MOL_L = 0.5  # [2]: good to about this ionic strength


def pk_at(step: AcidStep, temperature_c: float) -> float:
    """Return the pK at a temperature, zero ionic strength, [1].

    Stated for 1 to 77 °C; used to 100 °C as an extrapolation.
    """
    theta, kelvin = REFERENCE_C + KELVIN_AT_0_C, temperature_c + KELVIN_AT_0_C
    enthalpy, heat_capacity = step.enthalpy_kj_mol, step.heat_capacity_kj_mol_k
    entropy = enthalpy / theta - GAS_CONSTANT_KJ * LN10 * step.pk
    free_energy = (
        enthalpy
        + heat_capacity * (kelvin - theta)
        - kelvin * (entropy + heat_capacity * math.log(kelvin / theta))  # [1]
    )
    return free_energy / (GAS_CONSTANT_KJ * kelvin * LN10)


def water_density_kg_l(temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Return the density of water in kg/L, 0 to 100 °C, [4]."""
    t = np.asarray(temperature_c, float)
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    density: NDArray[np.float64] = above / (1 + 16.879850e-3 * t) / 1000
    return density


def davies_slope(temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Return the slope A of Davies' equation in (L/mol)^0.5, 0 to 100 °C, [3] [5]."""
    t = np.asarray(temperature_c, float)
    permittivity = 87.740 + t * (-0.40008 + t * (9.398e-4 - 1.410e-6 * t))  # [3]
    slope: NDArray[np.float64] = (
        1.82483e6 * np.sqrt(water_density_kg_l(t)) / (permittivity * (t + KELVIN_AT_0_C)) ** 1.5
    )
    return slope


def activity_coefficient(charge: int, ionic_strength_mol_l: float, slope: float) -> float:
    """Return the activity coefficient of an ion, [2]; above 0.5 mol/L the value at 0.5 is kept.

    Args:
        slope: A of Davies' equation, (L/mol)^0.5, 0.49 to 0.61.
    """
    strength = min(ionic_strength_mol_l, DAVIES_LIMIT_MOL_L)
    root = math.sqrt(strength)
    return float(10 ** (-slope * charge**2 * (root / (1 + root) - 0.3 * strength)))
