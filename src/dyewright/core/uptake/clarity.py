"""When a bath looks clear, and bands over samples.

A clarity ladder is the starting bath diluted ½, ¼, ⅛ …: rung n holds 2^-n of it, and a spoonful of bath that looks like
rung n has given up the fraction 1 - 2^-n of its dye.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import Band, ClearTime

__all__ = [
    "CLEAR_READING",
    "as_the_ladder_tells",
    "bath_exhaustion",
    "clear_limit_mg_l",
    "clear_time",
    "first_reached_min",
    "quantile_band",
    "rung",
    "start_mg_l",
    "value_band",
]

Floats = NDArray[np.float64]

CLEAR_READING = 1.0 - 1.0 / 32.0  # 1/32 of the starting bath is the palest glass: a spoonful like it "looks clear"
PALEST_TINT_RUNGS = 4.0  # 1/16 of the start is the palest glass that is not called clear
QUANTILES = (0.05, 0.5, 0.95)
GRAM_MG = 1000.0
_ALIKE = 1e-12  # weights and shares that differ by less, as a fraction, are the same


def start_mg_l(depth_owf: ArrayLike, liquor_l_kg: float) -> Floats:
    """Return the strength of each dye in the starting bath, mg/L.

    Args:
        depth_owf: powder on the yarn's mass.
        liquor_l_kg: > 0.
    """
    strength: Floats = np.asarray(depth_owf, float) * GRAM_MG * GRAM_MG / liquor_l_kg
    return strength


def clear_limit_mg_l(start_mg_l: float) -> float:
    """Return the dye that a glass of bath on white paper may hold and look clear, mg/L.

    1/32 of the start, at least 1 and at most 10 mg/L. An estimate, a factor 2 either way.

    Args:
        start_mg_l: all dyes of the starting bath together, >= 0.
    """
    return max(1.0, min(10.0, start_mg_l / 32.0))


def bath_exhaustion(exhaustion: Floats, depth_owf: Floats) -> Floats:
    """Return the uptake of the whole bath, its dyes weighed by mass, shape (samples, times).

    Args:
        exhaustion: of each dye, shape (samples, dyes, times).
        depth_owf: shape (dyes,).
    """
    mean: Floats = np.tensordot(exhaustion, depth_owf / depth_owf.sum(), axes=([1], [0]))
    return mean


def first_reached_min(t_min: Floats, exhaustion: Floats, goal: ArrayLike, *, from_min: float = 0.0) -> Floats:
    """Return when each sample first reaches its goal, minutes, linear between times; infinite where it never does.

    Args:
        t_min: shape (times,).
        exhaustion: shape (samples, times).
        goal: uptake to reach, 0 to 1, a number or one a sample.
        from_min: nothing counts as reached before: dye that is still to come.
    """
    goals = np.broadcast_to(np.asarray(goal, float), exhaustion.shape[:1])
    reached = (exhaustion >= goals[:, None]) & (t_min >= from_min)
    after = np.argmax(reached, axis=1)
    before = np.maximum(after - 1, 0)
    rows = np.arange(exhaustion.shape[0])
    rise = exhaustion[rows, after] - exhaustion[rows, before]
    part = np.where(rise > 0, (goals - exhaustion[rows, before]) / np.where(rise > 0, rise, 1.0), 0.0)
    minutes = t_min[before] + np.clip(part, 0.0, 1.0) * (t_min[after] - t_min[before])
    first: Floats = np.where(reached.any(axis=1), np.maximum(minutes, from_min), np.inf)
    return first


def _quantiles(values: Floats, weights: Floats, shares: Sequence[float]) -> Floats:
    """Return the smallest values that at least each share of the weight does not exceed; infinities may occur."""
    rows = np.ascontiguousarray(np.moveaxis(values, 0, -1))  # sorting runs along memory
    if np.ptp(weights) <= _ALIKE * weights.max():
        places = [int(np.ceil(weights.size * share * (1 - _ALIKE))) - 1 for share in shares]
        ranked = np.partition(rows, sorted(set(places)), axis=-1)
        return np.stack([ranked[..., place] for place in places])
    order = np.argsort(rows, axis=-1)
    total = np.cumsum(weights[order], axis=-1)
    firsts = [np.argmax(total >= share * (1 - _ALIKE), axis=-1)[..., None] for share in shares]
    found = [np.take_along_axis(order, first, axis=-1) for first in firsts]
    return np.stack([np.take_along_axis(rows, one, axis=-1)[..., 0] for one in found])


def quantile_band(values: Floats, weights: Floats) -> Floats:
    """Return the 5, 50 and 95 % quantiles over the samples (first axis), stacked in that order; infinities may occur.

    Args:
        values: samples along the first axis.
        weights: of the samples, adding up to 1.
    """
    return _quantiles(values, weights, QUANTILES)


def clear_time(reached_min: Floats, weights: Floats) -> ClearTime:
    """Return the quantiles of the times that samples take; a quantile that is never reached is None."""
    low, mid, high = (float(q) if np.isfinite(q) else None for q in quantile_band(reached_min, weights))
    never = float(min(1.0, weights[np.isinf(reached_min)].sum()))
    return ClearTime(mid=mid, low=low, high=high, never_frac=never)


def value_band(values: Floats, weights: Floats) -> Band:
    """Return the quantiles of one number over the samples."""
    low, mid, high = (float(q) for q in quantile_band(values, weights))
    return Band(mid=mid, low=low, high=high)


def rung(exhaustion: ArrayLike) -> Floats:
    """Return the rung of the clarity ladder that a bath looks like: how often it has halved.

    Args:
        exhaustion: 0 to 1, any shape; of the whole dose.
    """
    halvings: Floats = -np.log2(np.maximum(1.0 - np.asarray(exhaustion, float), np.finfo(float).tiny))
    return halvings


def as_the_ladder_tells(rungs: Floats, seen_rungs: ArrayLike, clear_rungs: Floats) -> Floats:
    """Return rungs as a look by eye tells them apart from the one that it found; everything broadcasts.

    A strong bath has more than a rung between the palest tinted glass and clear, and no glass stands there: one paler
    than that glass and not yet clear is noted as like it. All of this way counts as the glass itself.

    Args:
        rungs: of the bath.
        seen_rungs: of the glass that it was found like.
        clear_rungs: at which each bath looks clear.
    """
    seen = np.asarray(seen_rungs, float)
    is_palest = seen >= PALEST_TINT_RUNGS - _ALIKE
    untold = np.where(is_palest, np.maximum(clear_rungs - (PALEST_TINT_RUNGS + 1.0), 0.0), 0.0)
    told: Floats = rungs - np.clip(rungs - seen, 0.0, untold)
    return told
