"""What one pot says of its dyes: the shifts from the class defaults that fit what was seen of it.

The shifts are sought that are most likely under the class prior and the readings (Gauss-Newton with iteratively
reweighed residuals); the curvature and slope of the *likelihood* there, without the prior, are the lesson (Laplace's
approximation [1, ch. 4]). So lessons of many pots can be added up under another prior. The activation energy is never
fitted: one pot hardly tells it from T50.

A reading that lies far off counts little: two-sided residuals have the weight 1/(1 + z²/4) of Student's t with four
degrees of freedom, one-sided ones are a slip in one of twenty cases.

Sources: [1] A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), ch. 4 and 17, from memory.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from dyewright.core.learning.pooling import prior_variance
from dyewright.core.model import ClarityAtHeat, Lesson, Observed, Subject, UptakeRow
from dyewright.core.rinse import COUNTED_UP, as_counted
from dyewright.core.uptake import (
    CLEAR_READING,
    READING_SD_RUNGS,
    DyeBath,
    Ensemble,
    Outlook,
    as_the_ladder_tells,
    at_shifts,
    at_times,
    class_prior_sd,
    look_ahead,
    rung,
)

__all__ = ["WatchedPot", "lesson"]

Floats = NDArray[np.float64]

MODEL_SD_RUNGS = 0.25  # estimate: the curve itself is no closer
RINSES_SD = 0.6  # estimate: whole waters are counted, and "clear" is seen give or take half a water
STUDENT_FREEDOM = 4.0  # a common choice for robust fits [1, ch. 17]
SLIP_FRAC = 0.05  # estimate: one look in twenty is at the wrong glass, pot or line of the sheet

DIFFERENCE_SD = 0.02  # of the prior: wide against rounding, small against the curve's bend
MOST_STEPS = 15
SETTLED_SD = 0.01


@dataclass(frozen=True)
class WatchedPot:
    """A pot as it went, and what its dyes may be.

    `waters` returns the waters up to the first clear one, not rounded, for every sample; None leaves rinses out.
    """

    bath: DyeBath
    dyes: Sequence[Sequence[Sequence[UptakeRow]]]
    saturation_owf: Sequence[float]
    is_superwash: bool
    hold_end_min: float
    waters: Callable[[Outlook, Ensemble], Floats] | None = None


@dataclass(frozen=True)
class _Seen:
    """What there is to be met: minute, rung and doubt of the looks at the ladder, minutes of a clear bath, waters.

    `is_by_eye` says of each look at the ladder whether it knows no rungs but the glasses.
    """

    at_min: Floats
    rungs: Floats
    sd_rungs: Floats
    is_by_eye: NDArray[np.bool_]
    clear_min: Floats
    rinses: int | None

    @property
    def count(self) -> int:
        """How many things were seen."""
        return self.at_min.size + self.clear_min.size + (self.rinses is not None)


@dataclass(frozen=True)
class _Fit:
    """How well some shifts meet what was seen: `cost` with the prior, `slope` and `precision` of the likelihood."""

    shifts: Floats
    cost: float
    slope: Floats
    precision: Floats


def lesson(subjects: Sequence[Subject], pot: WatchedPot, observed: Observed) -> Lesson | None:
    """Return what a pot says of its dyes; None where nothing was seen that tells.

    Args:
        subjects: the pot's dyes on its yarn, in the order of `pot.dyes`.
        pot: with the temperatures and pH that were read, where they were.
        observed: readings within the forecast's time.
    """
    seen = _seen(pot, observed)
    if not subjects or seen.count == 0:
        return None
    prior_sd = np.sqrt([*np.concatenate([prior_variance(subject) for subject in subjects]), class_prior_sd(0)[-1] ** 2])
    fit = _fitted(pot, seen, prior_sd)
    return Lesson(
        subjects=tuple(subjects),
        precision=tuple(map(tuple, fit.precision.tolist())),
        pull=tuple((fit.precision @ fit.shifts + fit.slope).tolist()),
        readings=seen.count,
    )


def _seen(pot: WatchedPot, observed: Observed) -> _Seen:
    looks = [(look.at_min, look.exhaustion, look.sd_rungs) for look in observed.clarities]
    for look in observed.clarities_at_heat:
        at_min = _minute_at_heat(pot.bath, look)
        if at_min is not None:
            looks.append((at_min, look.exhaustion, None))
    graded = [look for look in looks if look[1] < CLEAR_READING]
    return _Seen(
        at_min=np.array([at_min for at_min, _, _ in graded]),
        rungs=rung([exhaustion for _, exhaustion, _ in graded]),
        sd_rungs=np.array([sd or READING_SD_RUNGS for _, _, sd in graded]),
        is_by_eye=np.array([sd is None for _, _, sd in graded], bool),
        clear_min=np.array([at_min for at_min, exhaustion, _ in looks if exhaustion >= CLEAR_READING]),
        rinses=None if pot.waters is None else observed.rinses,
    )


def _minute_at_heat(bath: DyeBath, look: ClarityAtHeat) -> float | None:
    """Return when the bath first has a temperature on its way up; None where it never does."""
    hot = bath.bath_c >= look.bath_c
    if not hot.any():
        return None
    after = int(np.argmax(hot))
    if after == 0:
        return float(bath.t_min[0])
    return float(np.interp(look.bath_c, bath.bath_c[after - 1 : after + 1], bath.t_min[after - 1 : after + 1]))


def _fitted(pot: WatchedPot, seen: _Seen, prior_sd: Floats) -> _Fit:
    """Return the likeliest shifts: Gauss-Newton steps from the class defaults, shortened where they overshoot."""
    best = _fit_at(pot, seen, prior_sd, np.zeros(prior_sd.size))
    prior_precision = np.diag(prior_sd**-2.0)
    shorten = 1.0
    for _ in range(MOST_STEPS):
        uphill = best.slope - best.shifts / prior_sd**2
        step = shorten * np.linalg.solve(best.precision + prior_precision, uphill)
        if np.all(np.abs(step) < SETTLED_SD * prior_sd):
            break
        tried = _fit_at(pot, seen, prior_sd, best.shifts + step)
        best, shorten = (tried, 1.0) if tried.cost < best.cost else (best, 0.4 * shorten)
    return best


def _fit_at(pot: WatchedPot, seen: _Seen, prior_sd: Floats, shifts: Floats) -> _Fit:
    """Return how well some shifts fit, with finite differences for every shift in one call of the model."""
    steps = np.vstack([np.zeros(shifts.size), DIFFERENCE_SD * np.diag(prior_sd)])
    both, above = _signals(pot, seen, shifts + steps)
    signals = np.concatenate([both, above], axis=1)
    jacobian = (signals[1:] - signals[0]).T / (DIFFERENCE_SD * prior_sd)
    cost_both, score_both, weight_both = _student(both[0])
    cost_above, score_above, weight_above = _at_least(above[0])
    weight = np.concatenate([weight_both, weight_above])
    return _Fit(
        shifts=shifts,
        cost=cost_both + cost_above + 0.5 * float(np.sum((shifts / prior_sd) ** 2)),
        slope=jacobian.T @ np.concatenate([score_both, score_above]),
        precision=jacobian.T @ (weight[:, None] * jacobian),
    )


def _signals(pot: WatchedPot, seen: _Seen, shifts: Floats) -> tuple[Floats, Floats]:
    """Return residuals in standard deviations for each row of shifts: those to meet, and those that only must be above.

    A bath that looks clear is at or past the rung of this studio's eye; one like a darker glass is before it.
    """
    ensemble = at_shifts(pot.dyes, pot.saturation_owf, shifts, is_superwash=pot.is_superwash)
    outlook = look_ahead(pot.bath, ensemble, pot.hold_end_min)
    eye, clear_sd = np.hypot(seen.sd_rungs, MODEL_SD_RUNGS), float(np.hypot(READING_SD_RUNGS, MODEL_SD_RUNGS))
    goal = rung(outlook.clear_goal)[:, None]
    graded = rung(at_times(outlook.held_min, outlook.missing, seen.at_min))
    clear = rung(at_times(outlook.held_min, outlook.missing, seen.clear_min))
    told = np.where(seen.is_by_eye, as_the_ladder_tells(graded, seen.rungs, goal), graded)
    both = [(told - seen.rungs) / eye]
    if pot.waters is not None and seen.rinses is not None:
        waters = as_counted(pot.waters(outlook, ensemble), seen.rinses)
        both.append((waters[:, None] - seen.rinses + COUNTED_UP) / RINSES_SD)
    return np.concatenate(both, axis=1), np.concatenate([(clear - goal) / clear_sd, (goal - graded) / eye], axis=1)


def _student(z: Floats) -> tuple[float, Floats, Floats]:
    """Return cost, slope of the likelihood and weight of two-sided residuals, those far off counting little."""
    weight = 1.0 / (1.0 + z**2 / STUDENT_FREEDOM)
    return float(np.sum(-0.5 * STUDENT_FREEDOM * np.log(weight))), -weight * z, weight


def _at_least(z: Floats) -> tuple[float, Floats, Floats]:
    """Return the same for residuals that only must not lie below zero: ε + (1 - ε) Φ(z), ε the share of slips."""
    likely = SLIP_FRAC + (1.0 - SLIP_FRAC) * ndtr(z)
    score = (1.0 - SLIP_FRAC) * np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi) / likely
    return float(-np.sum(np.log(likely))), score, np.clip(score * (score + z), 0.0, 1.0)
