"""The pot ahead: uptake along the planned programme, and with its last hold continued until the bath clears."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyewright.core.uptake.clarity import bath_exhaustion, clear_limit_mg_l, start_mg_l
from dyewright.core.uptake.samples import Ensemble
from dyewright.core.uptake.stepping import DyeBath, on_fibre

__all__ = ["CONTINUED_TO_MIN", "Outlook", "joined_outlook", "look_ahead", "picked_outlook"]

Floats = NDArray[np.float64]

CONTINUED_TO_MIN = 120.0  # the last hold is continued to here to find when the bath clears
COOLING_STEP_MIN = 5.0
SAME_MOMENT_MIN = 1e-6  # times that differ by less are the same


@dataclass(frozen=True)
class Outlook:
    """Uptake of every sample.

    `exhaustion` has shape (samples, dyes, times) over `t_min` and follows the plan to its end; `bath` is the same for
    the whole bath, shape (samples, times). `held` is the whole bath over `held_min`, with the last hold continued, at
    the temperatures `held_c`; the plan ends that hold at `hold_end_min`. `clear_goal` (samples,) is the uptake of the
    whole bath at which a glass of it looks clear, from `all_in_min` on, when all its dye is in the pot.

    `missing` is what a glass of bath lacks of the whole dose's strength, shape of `held`: the uptake, and dye that has
    not been added yet. A clarity ladder is made of the whole dose, so it is this that a look at the bath shows.
    """

    t_min: Floats
    bath_c: Floats
    exhaustion: Floats
    bath: Floats
    held_min: Floats
    held: Floats
    clear_goal: Floats
    held_c: Floats
    missing: Floats
    all_in_min: float
    hold_end_min: float


_OF_SAMPLES = ("exhaustion", "bath", "held", "clear_goal", "missing")


def joined_outlook(parts: Sequence[Outlook]) -> Outlook:
    """Return the samples of several outlooks on one bath as one."""
    joined: dict[str, Any] = {name: np.concatenate([getattr(part, name) for part in parts]) for name in _OF_SAMPLES}
    return replace(parts[0], **joined)


def picked_outlook(outlook: Outlook, places: NDArray[np.intp]) -> Outlook:
    """Return some of the samples of an outlook."""
    picked: dict[str, Any] = {name: getattr(outlook, name)[places] for name in _OF_SAMPLES}
    return replace(outlook, **picked)


def look_ahead(bath: DyeBath, ensemble: Ensemble, hold_end_min: float, *, until_min: float = 0.0) -> Outlook:
    """Return the uptake along the plan, by the minute and in steps of five while it cools, and with the hold continued.

    Args:
        bath: the plan's own curve, of any spacing, from heat on to its end.
        ensemble: parameter samples for its dyes and fibres.
        hold_end_min: end of the last hold, >= 0.
        until_min: the hold is continued at least to here: the bath was looked at so late.
    """
    held_min = np.arange(0.0, np.ceil(max(hold_end_min, CONTINUED_TO_MIN, until_min)) + 0.5)
    continued = _sampled(bath, held_min, hold_end_min)
    held = on_fibre(continued, ensemble)
    shared = min(int(hold_end_min), int(bath.t_min[-1]))
    tail_min = _tail(shared, float(bath.t_min[-1]))
    together = held.sum(axis=2)
    planned, planned_min = together[..., : shared + 1], held_min[: shared + 1]
    if tail_min.size > 1:
        tail = on_fibre(_sampled(bath, tail_min, np.inf), ensemble, held[..., shared])
        planned = np.concatenate([planned, tail.sum(axis=2)[..., 1:]], axis=-1)
        planned_min = np.concatenate([planned_min, tail_min[1:]])
    whole = bath_exhaustion(together, bath.depth_owf)
    lacking = 1.0 - np.average(continued.supplied, axis=0, weights=bath.depth_owf)
    return Outlook(
        t_min=planned_min,
        bath_c=np.interp(planned_min, bath.t_min, bath.bath_c),
        exhaustion=planned,
        bath=bath_exhaustion(planned, bath.depth_owf),
        held_min=held_min,
        held=whole,
        clear_goal=_clear_goal(bath, ensemble),
        held_c=continued.bath_c,
        missing=whole + lacking,
        all_in_min=continued.all_in_min,
        hold_end_min=hold_end_min,
    )


def _tail(start_min: int, end_min: float) -> Floats:
    """Return the times from the shared part to the plan's end."""
    times = np.arange(float(start_min), end_min, COOLING_STEP_MIN)
    return np.append(times, end_min) if end_min > start_min else times


def _sampled(bath: DyeBath, times_min: Floats, hold_end_min: float) -> DyeBath:
    """Return the bath at other times; after `hold_end_min` it stays as it is then."""
    source = np.minimum(times_min, hold_end_min)
    since = np.maximum(np.searchsorted(bath.t_min, source + SAME_MOMENT_MIN, side="right") - 1, 0)
    return replace(
        bath,
        t_min=times_min,
        bath_c=np.interp(source, bath.t_min, bath.bath_c),
        ph_low=bath.ph_low[since],
        ph_high=bath.ph_high[since],
        supply_frac=None if bath.supply_frac is None else bath.supply_frac[:, since],
    )


def _clear_goal(bath: DyeBath, ensemble: Ensemble) -> Floats:
    """Return each sample's uptake at which the bath looks clear; 0 where the start does already."""
    start = float(start_mg_l(bath.depth_owf, bath.liquor_l_kg).sum())
    goal: Floats = np.maximum(1.0 - clear_limit_mg_l(start) * ensemble.clear_factor / start, 0.0)
    return goal
