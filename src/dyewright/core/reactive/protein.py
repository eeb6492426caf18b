"""Reactive dye on wool, silk and nylon in acid: it goes on as an acid dye does, then bonds on the fibre.

    dB/dt = k_f (E - B),   F = φ B,   h = (1 - φ) B

E is the dye on the fibre, B what has reacted there, F what is bonded and h what is used up without a bond, all as
fractions of the dye supplied. φ is the class's usual fixation over its usual uptake. k_f is an estimate: a half-life of
10 minutes (5 to 20) at 95 °C and pH 5, 80 kJ/mol. "A clear bath" is E; "done" is F, and takes its time at temperature.
"""

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Span
from dyewright.core.reactive.hydrolysis import gauss_nodes
from dyewright.core.uptake import arrhenius

__all__ = ["BONDING_EA_KJ_MOL", "BONDING_HALF_LIFE_MIN", "bonded_on_protein", "bonding_share"]

Floats = NDArray[np.float64]

BONDING_HALF_LIFE_MIN = Span(10.0, 5.0, 20.0)  # at 95 °C and pH 5; estimate
BONDING_EA_KJ_MOL = 80.0  # estimate
MOST_LOOSE_FRAC = 0.95


def bonding_share(fixed_frac: float, equilibrium_frac: float, load_factor: Floats) -> Floats:
    """Return φ, the share of the dye that reacts on the fibre which bonds, for each sample.

    Args:
        fixed_frac: usual fixation of the class, bound over supplied, 0 to 1.
        equilibrium_frac: usual final uptake of the class on the fibre, 0 to 1.
        load_factor: of each sample, on what stays loose.
    """
    loose = max(0.0, 1.0 - fixed_frac / equilibrium_frac)
    share: Floats = 1.0 - np.minimum(loose * load_factor, MOST_LOOSE_FRAC)
    return share


def bonded_on_protein(t_min: Floats, bath_c: Floats, exhaustion: Floats, half_life_min: Floats) -> Floats:
    """Return B, what has reacted on the fibre by each time, as a fraction of the dye supplied.

    Stepped exactly for E linear in ∫k_f dt within a step, which is two-point Gauss over a temperature linear in time.

    Args:
        t_min: rising, shape (times,).
        bath_c: shape (times,).
        exhaustion: shape (samples, dyes, times).
        half_life_min: of the bonding at 95 °C, shape (samples,).
    """
    steps = _integrated(t_min, bath_c)
    kappa = (np.log(2.0) / half_life_min)[:, None] * steps
    reacted = np.zeros_like(exhaustion)
    for n in range(t_min.size - 1):
        step = np.maximum(kappa[:, n], 1e-12)[:, None]
        slope = (exhaustion[..., n + 1] - exhaustion[..., n]) / step
        lag = reacted[..., n] - exhaustion[..., n] + slope
        reached = exhaustion[..., n + 1] - slope + lag * np.exp(-step)
        reacted[..., n + 1] = np.clip(reached, reacted[..., n], 1.0)
    return reacted


def _integrated(t_min: Floats, bath_c: Floats) -> Floats:
    """Return each step's minutes as minutes at 95 °C."""
    speeds = (arrhenius(nodes_c, np.array(BONDING_EA_KJ_MOL)) for nodes_c in gauss_nodes(bath_c))
    minutes: Floats = np.diff(t_min) * sum(speeds) / 2.0
    return minutes
