"""Where uptake ends: the dye's partition between fibre and bath, all dyes and fibres of the pot together.

One dye on one fibre: E∞ = K/(K + L) (Nernst), with K falling as the bath gets hotter (van 't Hoff) and following the
acid titration of wool [1]. Sites are shared by all dyes (Langmuir for mixtures [2]): K s with s the free share of the
fibre's sites *at equilibrium*, so that the rate law stays linear. In a blend every fibre has the same bath before it.

Sources: [1] D. R. Lemin, I. D. Rattee, J. Soc. Dyers Colour. 65 (1949), abstract. [2] T. Vickerstaff, The Physical
Chemistry of Dyeing, 2nd ed. (1954), on mixtures, from memory.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.uptake.kinetics import arrhenius, site_occupation

__all__ = ["HEAT_OF_DYEING_KJ_MOL", "equilibrium_shares", "partition_l_kg"]

Floats = NDArray[np.float64]

HEAT_OF_DYEING_KJ_MOL = -25.0  # acid dye on wool -20 to -60, from memory; the default is an estimate
PURE_DYE_FRAC = 0.45  # of a commercial powder; estimate: nylon takes 1.8 % pure dye, 3 to 5 % powder

_SWEEPS = 300  # wool alone takes 3, a blend 10 to 25, an absurdly overdosed one up to the limit
_SETTLED = 1e-12


def partition_l_kg(
    temperature_c: ArrayLike,
    ph: ArrayLike,
    *,
    half_ph: ArrayLike,
    k0_l_kg: ArrayLike,
    z: ArrayLike,
    theta0: ArrayLike,
    heat_kj_mol: float = HEAT_OF_DYEING_KJ_MOL,
) -> Floats:
    """Return the partition of a dye between an empty fibre and its bath, L/kg; all arguments broadcast.

    K = K0 (θ + θ0)^z exp[-(ΔH/R)(1/T - 1/368.15 K)].

    Args:
        temperature_c: of the bath.
        ph: of the bath.
        half_ph: from kinetics.half_saturation_ph.
        k0_l_kg: scale of the partition at 95 °C.
        z: sensitivity to filled acid sites, 0 to 2.
        theta0: uptake that needs no acid, as sites, 0 to 0.1.
        heat_kj_mol: heat of dyeing, -60 to 0.
    """
    sites = site_occupation(ph, half_ph) + np.asarray(theta0, float)
    partition: Floats = np.asarray(k0_l_kg, float) * sites ** np.asarray(z, float)
    return partition * arrhenius(temperature_c, heat_kj_mol)


def equilibrium_shares(
    empty_fibre_l_kg: ArrayLike,
    *,
    liquor_l_kg: float,
    fibre_frac: ArrayLike,
    depth_owf: ArrayLike,
    saturation_owf: ArrayLike,
) -> Floats:
    """Return which fraction of each dye ends on each fibre; shape of `empty_fibre_l_kg`.

    Solves s_f = 1 - Σ_i q_if E_if(s) for the free sites s of every fibre, by Newton's step in turn for each fibre. The
    function is concave and rises in s, and no E exceeds 1: a start at 1 - Σ_i q_if (or 0) lies below the root,
    approaches it from there and cannot overshoot.

    Args:
        empty_fibre_l_kg: partition K, L/kg, shape (..., dyes, fibres, times).
        liquor_l_kg: litres of bath a kilogram of yarn, > 0.
        fibre_frac: share of the yarn's mass, shape (fibres,).
        depth_owf: powder on the yarn's mass, shape (dyes,) or (dyes, times).
        saturation_owf: pure dye that the fibre can hold on its own mass, shape (fibres,).
    """
    mass = np.asarray(fibre_frac, float)
    pull = np.asarray(empty_fibre_l_kg, float) * (
        mass[:, None] / liquor_l_kg
    )  # K w/L: dye on the fibre over dye in the bath
    depth = np.asarray(depth_owf, float)
    pure = PURE_DYE_FRAC * (depth[:, None] if depth.ndim == 1 else depth)  # (dyes, times)
    filling = pure[:, None, :] / (mass * np.asarray(saturation_owf, float))[:, None]  # asked for if all dye went there
    taken = pull * _free_sites(pull, filling)
    shares: Floats = taken / _in_all(taken)[..., None, :]
    return shares


def _in_all(taken: Floats) -> Floats:
    """Return the dye in the pot over the dye in the bath, from that on each fibre over that in the bath."""
    on_fibres = taken[..., 0, :] if taken.shape[-2] == 1 else taken.sum(axis=-2)
    return on_fibres + 1.0


def _free_sites(pull: Floats, filling: Floats) -> Floats:
    """Return the free share of each fibre's sites at equilibrium, shape (..., 1, fibres, times)."""
    least = np.maximum(1.0 - filling.sum(axis=0, keepdims=True), 0.0)
    free = np.broadcast_to(least, pull[..., :1, :, :].shape).copy()
    settled = _SETTLED if pull.shape[-2] > 1 else _SETTLED**0.5  # one fibre: Newton squares what is left with each step
    for _ in range(_SWEEPS):
        change = 0.0
        for fibre in range(pull.shape[-2]):
            step = _newton_step(pull, filling, free, fibre)
            free[..., fibre, :] += step
            change = max(change, float(np.max(np.abs(step), initial=0.0)))
        if change < settled:
            break
    return free


def _newton_step(pull: Floats, filling: Floats, free: Floats, fibre: int) -> Floats:
    """Return Newton's step for the free sites of one fibre, the others held."""
    taken = pull * free
    here, asked = pull[..., fibre, :], filling[:, fibre]
    in_all = _in_all(taken)
    share = taken[..., fibre, :] / in_all
    excess = free[..., 0, fibre, :] - 1.0 + (asked * share).sum(axis=-2)
    rise = np.subtract(1.0, share, out=share)  # in place: fresh arrays of this size cost more than their arithmetic
    rise *= here
    rise /= in_all
    rise *= asked
    step: Floats = (-excess / (1.0 + rise.sum(axis=-2)))[..., None, :]
    return step
