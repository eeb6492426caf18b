"""Reactive dye on cellulose with alkali: bonding against hydrolysis.

Dye that has not reacted (u) shares itself between fibre and bath at once, a/b = K_s/L. On the fibre it bonds with
k_F = R k_H, in the bath it hydrolyses with k_H; plain water uses up a little more, everywhere. So

    dF/dt = R k_H K_s/(K_s + L) u,   dH/dt = [k_H L/(K_s + L) + k_0] u,   u = 1 - F - H,

which at constant temperature and pH is F = F∞ (1 - e^(-k_u t)) with F∞ = R K_s/(R K_s + L) where k_0 is nothing. The
clock starts with the alkali. Theory as in Rattee and Breuer (1974) and Sumner (1960), from memory.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import OnCellulose, ReactiveRow
from dyewright.core.reactive.hydrolysis import gauss_nodes, hydrolysis_per_min, neutral_per_day
from dyewright.core.reactive.spread import spread
from dyewright.errors import InputError

__all__ = ["CelluloseBath", "CelluloseCourse", "CelluloseDraws", "on_cellulose"]

Floats = NDArray[np.float64]

USUAL_SALT_MOL_L = 2 * 50.0 / 142.04  # charges a litre of 50 g/L anhydrous Glauber's salt; K_s is stated there
DAY_MIN = 1440.0


@dataclass(frozen=True)
class CelluloseBath:
    """One pot over time: arrays of shape (times,). `salt_mol_l` counts charges a litre; the pH is as measured at 25 °C.

    `cellulose_frac` is the share of the yarn's mass that takes the dye.
    """

    t_min: Floats
    bath_c: Floats
    ph_low: Floats
    ph_high: Floats
    salt_mol_l: Floats
    liquor_l_kg: float
    cellulose_frac: float = 1.0


@dataclass(frozen=True)
class CelluloseDraws:
    """Draws of one dye's numbers, shape (samples,): standard normal, but `ph_position` 0 to 1 and the last two.

    `load_factor` (> 0) divides the class's bonding over hydrolysis; `active_frac` is what of the dye can still bond
    when it goes in.
    """

    half_life: Floats
    ea: Floats
    ph_order: Floats
    adsorption: Floats
    ph_position: Floats
    load_factor: Floats
    active_frac: Floats


@dataclass(frozen=True)
class CelluloseCourse:
    """Fractions of the dye supplied, shape (samples, times): bonded, used up by water, and gone from the bath."""

    fixed: Floats
    hydrolysed: Floats
    exhaustion: Floats


def on_cellulose(bath: CelluloseBath, row: ReactiveRow, draws: CelluloseDraws) -> CelluloseCourse:
    """Return the course of one dye, exact at constant temperature and pH for steps of any length.

    Within a step the rates are two-point Gauss means over a temperature linear in time; pH and salt are those of its
    beginning, so that an addition at a time of the grid counts from there on.

    Args:
        bath: the pot.
        row: the class of dye.
        draws: one set a sample.

    Raises:
        InputError: the class is not made for cellulose.
    """
    figures = row.cellulose
    if figures is None:
        raise InputError(
            f"there are no figures for {row.dye_class.value} on cotton, linen or viscose: it is made for wool",
            field="dye.class",
            value=row.dye_class.value,
        )
    liquor_l_kg = bath.liquor_l_kg / bath.cellulose_frac
    held_l_kg = _adsorption_l_kg(bath.salt_mol_l, figures, draws)
    on_fibre = held_l_kg / (held_l_kg + liquor_l_kg)
    alkali = _alkali_per_step(bath, figures, draws)
    ratio = figures.bonding_over_hydrolysis.mid / draws.load_factor
    fixing = ratio[:, None] * alkali * on_fibre[:, :-1]
    spoiling = alkali * (1.0 - on_fibre[:, :-1]) + _neutral_per_step(bath, row.neutral_days.mid)
    fixed, hydrolysed = _stepped(fixing, spoiling, draws.active_frac)
    return CelluloseCourse(fixed, hydrolysed, fixed + (1.0 - fixed) * on_fibre)


def _adsorption_l_kg(salt_mol_l: Floats, row: OnCellulose, draws: CelluloseDraws) -> Floats:
    """Return K_s over time, L/kg: linear from no salt to the usual salt, no higher beyond (estimate)."""
    salted = spread(draws.adsorption, row.adsorption_l_kg)[:, None]
    bare = salted * (row.unsalted_l_kg / row.adsorption_l_kg.mid)
    held: Floats = bare + (salted - bare) * np.clip(salt_mol_l / USUAL_SALT_MOL_L, 0.0, 1.0)
    return held


def _alkali_per_step(bath: CelluloseBath, row: OnCellulose, draws: CelluloseDraws) -> Floats:
    """Return ∫k_H dt of every step, shape (samples, steps)."""
    ph = bath.ph_low + draws.ph_position[:, None] * (bath.ph_high - bath.ph_low)
    rates = (
        hydrolysis_per_min(
            nodes_c,
            ph[:, :-1],
            half_life_min=spread(draws.half_life, row.half_life_min)[:, None],
            half_life_c=row.half_life_c,
            ea_kj_mol=spread(draws.ea, row.ea_kj_mol)[:, None],
            ph_order=spread(draws.ph_order, row.ph_order)[:, None],
        )
        for nodes_c in gauss_nodes(bath.bath_c)
    )
    return np.diff(bath.t_min) * sum(rates) / 2.0


def _neutral_per_step(bath: CelluloseBath, neutral_days: float) -> Floats:
    """Return what plain water uses up in every step, shape (steps,)."""
    rates = sum(neutral_per_day(nodes_c, neutral_days) for nodes_c in gauss_nodes(bath.bath_c)) / 2.0
    return np.diff(bath.t_min) * rates / DAY_MIN


def _stepped(fixing: Floats, spoiling: Floats, active_frac: Floats) -> tuple[Floats, Floats]:
    """Return what has bonded and what has been used up by each time, from the rates times the steps' lengths."""
    together = fixing + spoiling
    left = np.cumprod(np.exp(-together), axis=-1)
    before = np.concatenate([np.ones_like(left[:, :1]), left[:, :-1]], axis=-1)
    reacted = active_frac[:, None] * (before - left)
    share = np.divide(fixing, together, out=np.zeros_like(together), where=together > 0)
    nothing = np.zeros_like(active_frac)[:, None]
    fixed = np.concatenate([nothing, np.cumsum(reacted * share, axis=-1)], axis=-1)
    spoilt = np.concatenate([nothing, np.cumsum(reacted * (1.0 - share), axis=-1)], axis=-1)
    return fixed, (1.0 - active_frac)[:, None] + spoilt
