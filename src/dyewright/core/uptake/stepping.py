"""Uptake through a temperature programme: dy/dt = k (u - y), y = E², u = (E∞ supply)², stepped exactly.

Within a step the temperature is linear in time; pH and the dye supplied so far are constant and jump between steps.
∫k dt comes from two-point Gauss quadrature on each half of the step, and u is the parabola in x = ∫k dt through its
values at the step's ends and middle: for a polynomial u the equation y' = u - y (in x) has the solution
p + (y0 - p0) e^-x with p = u - u' + u'', so that no step is too stiff. At constant temperature a step of any length is
exact; steps of a minute keep y within 1e-6 on any sensible programme.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.uptake.equilibrium import HEAT_OF_DYEING_KJ_MOL, equilibrium_shares, partition_l_kg
from dyewright.core.uptake.kinetics import REFERENCE_C, REFERENCE_L_KG, arrhenius, half_saturation_ph, rate_at_ph
from dyewright.core.uptake.samples import Ensemble
from dyewright.errors import InputError

__all__ = ["DyeBath", "at_times", "on_fibre"]

Floats = NDArray[np.float64]

_GAUSS = (0.5 - np.sqrt(3.0) / 6.0, 0.5 + np.sqrt(3.0) / 6.0)  # two-point Gauss nodes on 0 to 1


@dataclass(frozen=True)
class DyeBath:
    """One pot over time. Arrays over time have shape (times,); the pH lies between its two bounds.

    The temperature is linear between times; pH and supply hold from each time on until the next. `supply_frac`, shape
    (dyes, times), is the part of each dye's dose that is in the pot, all of it from the start where None. `fibre_frac`
    holds the mass shares of the fibres that take dye (their sum is below 1 where another takes none);
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
    supply_frac: Floats | None = None

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
        self._refuse_supply()

    def _refuse_supply(self) -> None:
        supply = self.supply_frac
        if supply is None:
            return
        shape = (self.depth_owf.size, self.t_min.size)
        if supply.shape != shape or supply.min() < 0 or supply.max() > 1 or np.any(np.diff(supply) < 0):
            raise InputError("the dye supplied so far must rise from 0 to 1, for every dye and time", field="dye")

    @property
    def supplied(self) -> Floats:
        """The part of each dye's dose that is in the pot from each time on, shape (dyes, times)."""
        return np.ones((self.depth_owf.size, self.t_min.size)) if self.supply_frac is None else self.supply_frac

    @property
    def all_in_min(self) -> float:
        """The time from which on all the dye is in the pot, minutes; infinite where it never is."""
        is_all_in = np.all(self.supplied >= 1.0, axis=0)
        return float(self.t_min[np.argmax(is_all_in)]) if is_all_in.any() else float("inf")


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
    """Return the fraction of each dye's dose on each fibre, shape (samples, dyes, fibres, times).

    Args:
        bath: the pot.
        ensemble: parameter samples for its dyes and fibres.
        start: what is on the fibres at the first time, shape (samples, dyes, fibres); nothing where None.
    """
    states = _states(bath, ensemble)
    kappa = _integrated_rate(bath, ensemble, states)
    starts, middles, ends = _targets(bath, ensemble, states)
    p0, p1 = _particular(kappa, starts, middles, ends)
    decay = np.exp(-(kappa[..., ::2] + kappa[..., 1::2]))
    begin = np.zeros(p0.shape[:-1]) if start is None else start
    if p0.shape[-2] == 1:
        return _stepped(p0, p1, decay, begin)
    return _stepped_blend(p0, p1, decay, begin, bath.supplied)


@dataclass(frozen=True)
class _States:
    """The pH's of a bath: `ph` (samples, states), and which of them each step has, shape (steps,)."""

    ph: Floats
    half_ph: float
    of_step: NDArray[np.intp]


def _states(bath: DyeBath, ensemble: Ensemble) -> _States:
    """Return the few pH's that a bath goes through: what depends on pH is computed once for each."""
    bounds, of_step = np.unique(np.stack([bath.ph_low[:-1], bath.ph_high[:-1]]), axis=1, return_inverse=True)
    low, high = bounds
    return _States(
        ph=low + ensemble.ph_position[:, None] * (high - low),
        half_ph=float(half_saturation_ph(bath.added_anion_mol_l)),
        of_step=of_step.reshape(-1),
    )


def _integrated_rate(bath: DyeBath, ensemble: Ensemble, states: _States) -> Floats:
    """Return ∫k dt of every half step, shape (samples, dyes, fibres, 2 steps)."""
    scale = rate_at_ph(
        states.ph[:, None, None, :],
        ensemble.ph_ref[..., None],
        half_ph=states.half_ph,
        z=ensemble.z[..., None],
        theta0=ensemble.theta0[..., None],
    )
    # The more bath a kilogram of dyeable fibre has, the slower it empties; the exponent 1 is an estimate (0 to 2).
    movement = REFERENCE_L_KG * bath.fibre_frac.sum() / bath.liquor_l_kg
    scale = scale * ensemble.k95_per_min[..., None] * movement
    begin_c, rise_c = np.repeat(bath.bath_c[:-1], 2), np.repeat(np.diff(bath.bath_c), 2)
    begin_c[1::2] += 0.5 * rise_c[1::2]
    nodes_c = np.stack([begin_c + 0.5 * at * rise_c for at in _GAUSS])
    different_c, where = np.unique(nodes_c, return_inverse=True)  # a hold asks for one temperature many times
    speed = arrhenius(different_c, ensemble.ea_kj_mol[..., None])
    where = where.reshape(nodes_c.shape)
    half_min = np.repeat(0.5 * np.diff(bath.t_min), 2)
    mean_speed = np.take(speed, where[0], axis=-1) + np.take(speed, where[1], axis=-1)
    kappa: Floats = mean_speed * (0.5 * half_min) * np.take(scale, np.repeat(states.of_step, 2), axis=-1)
    return kappa


def _targets(bath: DyeBath, ensemble: Ensemble, states: _States) -> tuple[Floats, Floats, Floats]:
    """Return u = (E∞ supply)² at the start, the middle and the end of every step."""
    steps = np.arange(bath.t_min.size - 1)
    ends_c = bath.bath_c[1:]
    points_c = np.concatenate([bath.bath_c[:-1], 0.5 * (bath.bath_c[:-1] + ends_c), ends_c])
    supplied, of_step = np.unique(bath.supplied[:, :-1], axis=1, return_inverse=True)
    at = np.stack([points_c, np.tile(states.of_step, 3), np.tile(of_step.reshape(-1), 3)])
    (different_c, state, supply), where = np.unique(at, axis=1, return_inverse=True)  # most points stand there twice
    depth = supplied[:, supply.astype(int)]
    shares = _equilibrium(bath, ensemble, states, different_c, state.astype(int), depth * bath.depth_owf[:, None])
    targets = np.square(shares if bath.supply_frac is None else shares * depth[:, None, :])
    first, middle, last = (np.take(targets, places, axis=-1) for places in where.reshape(3, steps.size))
    return first, middle, last


def _equilibrium(
    bath: DyeBath, ensemble: Ensemble, states: _States, bath_c: Floats, state: NDArray[np.intp], depth_owf: Floats
) -> Floats:
    """Return E∞ of each dye on each fibre at some points, shape (samples, dyes, fibres, points)."""
    at_95 = partition_l_kg(
        REFERENCE_C,
        states.ph[:, None, None, :],
        half_ph=states.half_ph,
        k0_l_kg=ensemble.k0_l_kg[..., None],
        z=ensemble.z[..., None],
        theta0=ensemble.theta0[..., None],
    )
    return equilibrium_shares(
        np.take(at_95, state, axis=-1) * arrhenius(bath_c, HEAT_OF_DYEING_KJ_MOL),
        liquor_l_kg=bath.liquor_l_kg,
        fibre_frac=bath.fibre_frac,
        depth_owf=depth_owf,
        saturation_owf=ensemble.saturation_owf,
    )


def _particular(kappa: Floats, starts: Floats, middles: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Return the particular solution p = u - u' + u'' at the start and the end of every step."""
    first, second = kappa[..., ::2], kappa[..., 1::2]
    whole = first + second
    slope = (middles - starts) / first
    bend = ((ends - middles) / second - slope) / whole  # u = u0 + slope x + bend x (x - first)
    p0 = starts - slope + bend * (2.0 + first)
    p1 = ends - slope + bend * (2.0 - second - whole)
    return p0, p1


def _stepped(p0: Floats, p1: Floats, decay: Floats, start: Floats) -> Floats:
    """Return E at every time on one fibre, where the recursion of y is linear throughout."""
    kept, gained = (np.ascontiguousarray(np.moveaxis(part, -1, 0)) for part in (decay, p1 - p0 * decay))
    y = np.empty((kept.shape[0] + 1, *start.shape))
    y[0] = start**2
    for n in range(kept.shape[0]):
        np.multiply(y[n], kept[n], out=y[n + 1])
        y[n + 1] += gained[n]
    taken: Floats = np.sqrt(np.clip(np.moveaxis(y, 0, -1), 0.0, 1.0))
    return taken


def _stepped_blend(p0: Floats, p1: Floats, decay: Floats, start: Floats, supplied: Floats) -> Floats:
    """Return E at every time on the fibres of a blend, which together take no more than was supplied."""
    taken = np.empty((*p0.shape[:-1], p0.shape[-1] + 1))
    taken[..., 0] = start
    for n in range(p0.shape[-1]):
        y = p1[..., n] + (taken[..., n] ** 2 - p0[..., n]) * decay[..., n]
        taken[..., n + 1] = _within_bath(np.sqrt(np.maximum(y, 0.0)), taken[..., n], supplied[:, n])
    return taken


def _within_bath(wanted: Floats, before: Floats, supplied: Floats) -> Floats:
    """Return what the fibres have taken: each in turn at most what the others leave of the dye supplied so far.

    It matters only in blends whose shares move between fibres (a pH jump, one fibre filling up).
    """
    taken = before.copy()
    for fibre in range(wanted.shape[-1]):
        elsewhere = taken.sum(axis=-1) - taken[..., fibre]
        taken[..., fibre] = np.minimum(wanted[..., fibre], supplied - elsewhere)
    return taken
