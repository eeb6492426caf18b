"""How fast water uses up a reactive dye, by temperature and pH.

t½ = t_ref 10^(n (11 - pH)) exp[(Ea/R)(1/T - 1/T_ref)] in alkali, and a slow course in plain water beside it. The pH is
that of a sample measured at 25 °C, as a strip shows it. The exponent n below 1 is published for monochlorotriazines
(C.I. Reactive Red 24, Dyestuffs and Coloration 2004(6) 331); everything else of the form is an estimate.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.uptake import arrhenius

__all__ = ["NEUTRAL_EA_KJ_MOL", "gauss_nodes", "hydrolysis_per_min", "neutral_per_day"]

Floats = NDArray[np.float64]

REFERENCE_PH = 11.0
NEUTRAL_EA_KJ_MOL = 60.0  # estimate
ROOM_C = 25.0


def gauss_nodes(curve_c: Floats) -> tuple[Floats, Floats]:
    """Return a curve at the two Gauss points of each step, linear within it, shape (steps,) each.

    Args:
        curve_c: shape (times,).
    """
    rise = np.diff(curve_c)
    apart = np.sqrt(3.0) / 6.0
    return curve_c[:-1] + (0.5 - apart) * rise, curve_c[:-1] + (0.5 + apart) * rise


def _speeding(at_c: ArrayLike, from_c: float, ea_kj_mol: ArrayLike) -> Floats:
    """Return the Arrhenius factor between two temperatures."""
    return arrhenius(at_c, ea_kj_mol) / arrhenius(from_c, ea_kj_mol)


def hydrolysis_per_min(
    at_c: ArrayLike,
    ph: ArrayLike,
    *,
    half_life_min: ArrayLike,
    half_life_c: float,
    ea_kj_mol: ArrayLike,
    ph_order: ArrayLike,
) -> Floats:
    """Return the rate constant of hydrolysis by alkali, 1/min. Everything broadcasts.

    Args:
        at_c: temperature of the bath.
        ph: as measured at 25 °C.
        half_life_min: at `half_life_c` and pH 11, > 0.
        half_life_c: see there.
        ea_kj_mol: activation energy.
        ph_order: power of ten of the rate a unit of pH.
    """
    at_reference = np.log(2.0) / np.asarray(half_life_min, float)
    alkali = 10.0 ** (np.asarray(ph_order, float) * (np.asarray(ph, float) - REFERENCE_PH))
    rate: Floats = at_reference * alkali * _speeding(at_c, half_life_c, ea_kj_mol)
    return rate


def neutral_per_day(at_c: ArrayLike, neutral_days: ArrayLike) -> Floats:
    """Return the rate constant of hydrolysis in plain water, 1/day.

    Args:
        at_c: temperature it is kept at.
        neutral_days: half-life at 25 °C, days, > 0.
    """
    rate: Floats = np.log(2.0) / np.asarray(neutral_days, float) * _speeding(at_c, ROOM_C, NEUTRAL_EA_KJ_MOL)
    return rate
