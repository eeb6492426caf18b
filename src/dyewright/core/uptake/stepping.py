"""Uptake through a temperature programme: dy/dt = k (E∞² - y), y = E², stepped exactly.

Within a step the temperature is linear in time. ∫k dt comes from two-point Gauss quadrature on each half of the step,
and E∞² is the parabola in x = ∫k dt through its values at the step's ends and middle: for a polynomial u the equation
y' = u - y (in x) has the solution p + (y0 - p0) e^-x with p = u - u' + u'', so that no step is too stiff. At constant
temperature and pH a step of any length is exact; steps of a minute keep y within 1e-6 on any sensible programme.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.uptake.equilibrium import equilibrium_shares, partition_l_kg
from dyewright.core.uptake.kinetics import REFERENCE_L_KG, arrhenius, half_saturation_ph, rate_at_ph
from dyewright.core.uptake.samples import Ensemble
from dyewright.errors import InputError

__all__ = ["DyeBath", "at_times", "on_fibre"]

Floats = NDArray[np.float64]

_GAUSS = (0.5 - np.sqrt(3.0) / 6.0, 0.5 + np.sqrt(3.0) / 6.0)  # two-point Gauss nodes on 0 to 1


@dataclass(frozen=True)
class DyeBath:
    """One pot over time. Arrays over time have shape (times,); the pH lies between its two bounds.

    `fibre_frac` holds the mass shares of the fibres that take dye (their sum is below 1 where another takes none);
    `added_anion_mol_l` is what added salt brings.
    """

    t_min: Floats
    bath_c: Floats
    ph_low: Floats
    ph_high: Floats
    liquor_l_kg: float
    fibre_frac: Floats
    depth_owf: Floats
    added_anion_mol_l: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a bath that no pot can be.

        Raises:
            InputError: times that do not rise, arrays of unequal length, or an amount that is not above zero.
        """
        if self.t_min.ndim != 1 or self.t_min.size < 2 or np.any(np.diff(self.t_min) <= 0):
            raise InputError("the times of a temperature curve must rise from row to row", field="t_min")
        if any(curve.shape != self.t_min.shape for curve in (self.bath_c, self.ph_low, self.ph_high)):
            raise InputError("temperature and pH must be given at every time of the curve", field="bath_c")
        if not self.liquor_l_kg > 0:
            raise InputError(
                f"the liquor ratio is {self.liquor_l_kg:g} L/kg, it must be above 0", field="bath.liquor", limit=0
            )
        if np.any(self.depth_owf <= 0) or np.any(self.fibre_frac <= 0) or self.fibre_frac.sum() > 1 + 1e-9:
            raise InputError("depths and fibre shares must be above 0, the shares together at most 1", field="yarn")


def at_times(t_min: Floats, curves: Floats, wanted_min: Floats) -> Floats:
    """Return curves read at other times, linear between rows, held constant outside them.

    Args:
        t_min: rising, shape (times,).
        curves: shape (..., times).
        wanted_min: shape (wanted,).
    """
    right = np.clip(np.searchsorted(t_min, wanted_min), 1, t_min.size - 1)
    part = np.clip((wanted_min - t_min[right - 1]) / (t_min[right] - t_min[right - 1]), 0.0, 1.0)
    read: Floats = curves[..., right - 1] * (1.0 - part) + curves[..., right] * part
    return read


def on_fibre(bath: DyeBath, ensemble: Ensemble, start: Floats | None = None) -> Floats:
    """Return the fraction of each dye on each fibre, shape (samples, dyes, fibres, times).

    Args:
        bath: the pot.
        ensemble: parameter samples for its dyes and fibres.
        start: what is on the fibres at the first time, shape (samples, dyes, fibres); nothing where None.
    """
    halved = _halved(bath)
    ph = halved.ph_low + ensemble.ph_position[:, None] * (halved.ph_high - halved.ph_low)
    half_ph = float(half_saturation_ph(bath.added_anion_mol_l))
    kappa = _integrated_rate(halved, ensemble, ph, half_ph)
    target = _equilibrium(halved, ensemble, ph, half_ph) ** 2
    return _step(kappa, target, start)


def _halved(bath: DyeBath) -> DyeBath:
    """Return the same bath with a point in the middle of every step."""
    rows = np.arange(bath.t_min.size)
    fine = np.linspace(0, bath.t_min.size - 1, 2 * bath.t_min.size - 1)
    names = ("t_min", "bath_c", "ph_low", "ph_high")
    return replace(bath, **{name: np.interp(fine, rows, getattr(bath, name)) for name in names})


def _integrated_rate(bath: DyeBath, ensemble: Ensemble, ph: Floats, half_ph: float) -> Floats:
    """Return ∫k dt of every step, shape (samples, dyes, fibres, steps)."""
    ea = ensemble.ea_kj_mol[..., None]
    scale = rate_at_ph(
        ph[:, None, None, :],
        ensemble.ph_ref[..., None],
        half_ph=half_ph,
        z=ensemble.z[..., None],
        theta0=ensemble.theta0[..., None],
    )
    duration_min, rise_c = np.diff(bath.t_min), np.diff(bath.bath_c)
    total = np.zeros(())
    for at in _GAUSS:
        speed = arrhenius(bath.bath_c[:-1] + at * rise_c, ea)
        total = total + 0.5 * speed * ((1 - at) * scale[..., :-1] + at * scale[..., 1:])
    # The more bath a kilogram of dyeable fibre has, the slower it empties; the exponent 1 is an estimate (0 to 2).
    movement = REFERENCE_L_KG * bath.fibre_frac.sum() / bath.liquor_l_kg
    kappa: Floats = total * duration_min * ensemble.k95_per_min[..., None] * movement
    return kappa


def _equilibrium(bath: DyeBath, ensemble: Ensemble, ph: Floats, half_ph: float) -> Floats:
    """Return E∞ of each dye on each fibre at every time, shape (samples, dyes, fibres, times)."""
    partition = partition_l_kg(
        bath.bath_c,
        ph[:, None, None, :],
        half_ph=half_ph,
        k0_l_kg=ensemble.k0_l_kg[..., None],
        z=ensemble.z[..., None],
        theta0=ensemble.theta0[..., None],
    )
    return equilibrium_shares(
        partition,
        liquor_l_kg=bath.liquor_l_kg,
        fibre_frac=bath.fibre_frac,
        depth_owf=bath.depth_owf,
        saturation_owf=ensemble.saturation_owf,
    )


def _step(kappa: Floats, target: Floats, start: Floats | None) -> Floats:
    """Return E at every whole step from ∫k dt of the half steps and E∞² at their ends."""
    first, whole = kappa[..., ::2], kappa[..., ::2] + kappa[..., 1::2]
    u0, middle, u1 = target[..., :-1:2], target[..., 1::2], target[..., 2::2]
    slope = (middle - u0) / first
    bend = ((u1 - middle) / kappa[..., 1::2] - slope) / whole  # u = u0 + slope x + bend x (x - first)
    p0 = u0 - (slope - bend * first) + 2.0 * bend
    p1 = u1 - (slope + bend * (2.0 * whole - first)) + 2.0 * bend
    decay = np.exp(-whole)
    taken = np.zeros((*u0.shape[:-1], u0.shape[-1] + 1))
    if start is not None:
        taken[..., 0] = start
    for n in range(whole.shape[-1]):
        y = p1[..., n] + (taken[..., n] ** 2 - p0[..., n]) * decay[..., n]
        taken[..., n + 1] = _within_bath(np.sqrt(np.maximum(y, 0.0)), taken[..., n])
    return taken


def _within_bath(wanted: Floats, before: Floats) -> Floats:
    """Return what the fibres have taken: each in turn at most what the others leave of the dye.

    It matters only in blends whose shares move between fibres (a pH jump, one fibre filling up).
    """
    if wanted.shape[-1] == 1:
        return np.minimum(wanted, 1.0)
    taken = before.copy()
    for fibre in range(wanted.shape[-1]):
        elsewhere = taken.sum(axis=-1) - taken[..., fibre]
        taken[..., fibre] = np.minimum(wanted[..., fibre], 1.0 - elsewhere)
    return taken
