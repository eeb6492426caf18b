"""When a bath looks clear, and what a look at the bath says about the dyes in it.

A clarity ladder is the starting bath diluted ½, ¼, ⅛ …: rung n holds 2^-n of it, and a spoonful of bath that looks like
rung n has given up the fraction 1 - 2^-n of its dye. A reading is good to about a quarter of a rung (estimate).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

from dyewright.core.model import Band, ClarityReading, ClearTime
from dyewright.core.uptake.stepping import at_times
from dyewright.errors import InputError

__all__ = [
    "CLEAR_READING",
    "Reweighed",
    "bath_exhaustion",
    "clear_limit_mg_l",
    "clear_time",
    "effective_samples",
    "first_reached_min",
    "quantile_band",
    "reweigh",
    "start_mg_l",
    "value_band",
]

Floats = NDArray[np.float64]

CLEAR_READING = 1.0 - 1.0 / 32.0  # 1/32 of the starting bath is the palest glass: a spoonful like it "looks clear"
LEAST_EFFECTIVE = 20.0  # samples that a band must rest on: one in twenty lies outside it on each side
READING_SD_RUNGS = 0.25  # estimate: read to half a rung, give or take a quarter
QUANTILES = (0.05, 0.5, 0.95)
GRAM_MG = 1000.0


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


def first_reached_min(t_min: Floats, exhaustion: Floats, goal: ArrayLike) -> Floats:
    """Return when each sample first reaches its goal, minutes, linear between times; infinite where it never does.

    Args:
        t_min: shape (times,).
        exhaustion: shape (samples, times).
        goal: uptake to reach, 0 to 1, a number or one a sample.
    """
    goals = np.broadcast_to(np.asarray(goal, float), exhaustion.shape[:1])
    reached = exhaustion >= goals[:, None]
    after = np.argmax(reached, axis=1)
    before = np.maximum(after - 1, 0)
    rows = np.arange(exhaustion.shape[0])
    rise = exhaustion[rows, after] - exhaustion[rows, before]
    part = np.where(rise > 0, (goals - exhaustion[rows, before]) / np.where(rise > 0, rise, 1.0), 0.0)
    minutes = t_min[before] + part * (t_min[after] - t_min[before])
    first: Floats = np.where(reached.any(axis=1), minutes, np.inf)
    return first


def _quantiles(values: Floats, weights: Floats, shares: Sequence[float]) -> Floats:
    """Return the smallest values that at least each share of the weight does not exceed; infinities may occur."""
    order = np.argsort(values, axis=0)
    ranked = np.take_along_axis(values, order, axis=0)
    total = np.cumsum(weights[order], axis=0)
    places = [np.argmax(total >= share * (1 - 1e-12), axis=0) for share in shares]
    return np.stack([np.take_along_axis(ranked, place[None, ...], axis=0)[0] for place in places])


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


@dataclass(frozen=True)
class Reweighed:
    """Weights of the samples after the readings; `is_unlikely` where the readings and the model hardly meet."""

    weights: Floats
    is_unlikely: bool


def reweigh(readings: Sequence[ClarityReading], t_min: Floats, exhaustion: Floats, clear_goal: Floats) -> Reweighed:
    """Return the samples' weights given what was seen in the bath (Bayes' rule on the drawn samples).

    The palest glass means "looks clear": then the uptake has reached the sample's own clear goal, however far beyond.
    Readings that would leave fewer than twenty samples in effect count as unlikely, and with less force: their
    likelihood is raised to the power that keeps twenty, so that a slip cannot make a band without width.

    Args:
        readings: may be empty: then all weigh alike.
        t_min: shape (times,), covering the readings.
        exhaustion: of the whole bath, shape (samples, times).
        clear_goal: uptake at which each sample's bath looks clear, shape (samples,).

    Raises:
        InputError: a reading outside 0 to 1, or at a time that the forecast does not cover.
    """
    log_weight = np.zeros(exhaustion.shape[0])
    for reading in readings:
        _refuse(reading, t_min)
        expected = at_times(t_min, exhaustion, np.array([reading.at_min]))[:, 0]
        log_weight += _log_likelihood(reading.exhaustion, expected, clear_goal)
    kept = min(LEAST_EFFECTIVE, 0.5 * exhaustion.shape[0])
    if effective_samples(_normalised(log_weight)) >= kept:
        return Reweighed(weights=_normalised(log_weight), is_unlikely=False)
    low, high = 0.0, 1.0
    for _ in range(40):  # the effective number falls as the power rises: halve the bracket
        middle = 0.5 * (low + high)
        is_enough = effective_samples(_normalised(middle * log_weight)) >= kept
        low, high = (middle, high) if is_enough else (low, middle)
    return Reweighed(weights=_normalised(low * log_weight), is_unlikely=True)


def effective_samples(weights: Floats) -> float:
    """Return how many samples of equal weight would say as much: 1/Σw² for weights that add up to 1."""
    return float(1.0 / np.sum(weights**2))


def _normalised(log_weight: Floats) -> Floats:
    weights = np.exp(log_weight - log_weight.max())
    normalised: Floats = weights / weights.sum()
    return normalised


def _refuse(reading: ClarityReading, t_min: Floats) -> None:
    if not 0.0 <= reading.exhaustion <= 1.0:
        raise InputError(
            f"the reading at {reading.at_min:g} min says {reading.exhaustion:g} of the dye is in; give a fraction from "
            "0 (as at the start) to 1 (clear)",
            field="observe",
            value=reading.exhaustion,
            limit=1,
        )
    if not t_min[0] <= reading.at_min <= t_min[-1]:
        raise InputError(
            f"the reading at {reading.at_min:g} min lies outside the forecast, which runs from heat on to "
            f"{t_min[-1]:g} min",
            field="observe",
            value=reading.at_min,
            limit=float(t_min[-1]),
        )


def _log_likelihood(seen: float, expected: Floats, clear_goal: Floats) -> Floats:
    """Return ln of how likely a reading is for each sample's uptake; "looks clear" only asks for its goal or more."""
    rung = _rung(expected)
    if seen >= CLEAR_READING:
        past: Floats = log_ndtr((rung - _rung(clear_goal)) / READING_SD_RUNGS)
        return past
    apart: Floats = -0.5 * ((rung + np.log2(1.0 - seen)) / READING_SD_RUNGS) ** 2
    return apart


def _rung(uptake: Floats) -> Floats:
    """Return the rung of the clarity ladder that a bath looks like: how often it has halved."""
    rung: Floats = -np.log2(np.maximum(1.0 - uptake, np.finfo(float).tiny))
    return rung
