"""What looks at the pot say about its dyes: Bayes' rule on drawn samples, with room for a slip.

A look is as good as its reading, or else it is a slip: one in twenty (estimate), which may say anything. A look that
the others and the class contradict so loses its own force and leaves theirs; two that contradict the class but agree
with each other are believed, for two slips to the same place are rarer than an unusual dye.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr, ndtri

from dyewright.core.model import ClarityReading
from dyewright.core.uptake.clarity import CLEAR_READING, as_the_ladder_tells, quantile_band, rung
from dyewright.core.uptake.outlook import Outlook
from dyewright.core.uptake.stepping import at_times
from dyewright.errors import InputError

__all__ = [
    "READING_SD_RUNGS",
    "Look",
    "Verdict",
    "Weighed",
    "clarity_look",
    "effective_samples",
    "even_weights",
    "weighed",
]

Floats = NDArray[np.float64]

READING_SD_RUNGS = 0.25  # estimate: read to half a rung, give or take a quarter
LEAST_SD_RUNGS = 0.1  # no glass is read closer, whatever a photo says; estimate
LADDER_RUNGS = 6.0  # a slip on the clarity ladder may land on any of its glasses, start to 1/32
SLIP_FRAC = 0.05  # of looks; estimate
ODD_SD = 3.0  # a look further from what the others let expect is asked about
LEAST_EFFECTIVE = 20.0  # samples that a band must rest on: one in twenty lies outside it on each side


@dataclass(frozen=True)
class Look:
    """One look at the pot, in a measure of its own in which its doubt is the same everywhere.

    `shown` (samples,) is what each sample would have shown, `seen` what was seen, `sd` how well it is seen; a slip lies
    anywhere over `range_wide`. `is_least` where all that was seen is that it is `seen` or more.
    """

    name: str
    shown: Floats
    seen: float
    sd: float
    range_wide: float = LADDER_RUNGS
    is_least: bool = False


@dataclass(frozen=True)
class Verdict:
    """How a look stands to the others. `apart_sd`: how far it is from what the class and they let expect.

    `low` to `high` is what was to be expected (nine of ten cases), in the look's measure; `force_frac` how sure it is
    that it is no slip. `is_least` as in the look.
    """

    name: str
    apart_sd: float
    force_frac: float
    low: float
    high: float
    is_least: bool

    @property
    def is_odd(self) -> bool:
        """Whether the look calls for a question."""
        return self.apart_sd > ODD_SD or self.force_frac < 0.5


@dataclass(frozen=True)
class Weighed:
    """The samples' weights, adding up to 1, and a verdict on each look in its order."""

    weights: Floats
    verdicts: tuple[Verdict, ...]


def clarity_look(name: str, reading: ClarityReading, outlook: Outlook) -> Look:
    """Return a look at the bath, in rungs of the clarity ladder.

    The palest glass means "looks clear": then the uptake has reached the sample's own clear goal, however far beyond.
    A photo tells rungs beyond the glasses; an eye does not.

    Raises:
        InputError: a reading outside 0 to 1, or at a time that the forecast does not cover.
    """
    _refuse(reading, outlook.held_min)
    missing = at_times(outlook.held_min, outlook.missing, np.array([reading.at_min]))[:, 0]
    sd = READING_SD_RUNGS if reading.sd_rungs is None else max(reading.sd_rungs, LEAST_SD_RUNGS)
    if reading.exhaustion >= CLEAR_READING:
        past = rung(missing) - rung(outlook.clear_goal)
        return Look(name, shown=past, seen=0.0, sd=sd, is_least=True)
    seen, shown = float(rung(reading.exhaustion)), rung(missing)
    if reading.sd_rungs is None:
        shown = as_the_ladder_tells(shown, seen, rung(outlook.clear_goal))
    return Look(name, shown=shown, seen=seen, sd=sd)


def even_weights(samples: int) -> Floats:
    """Return the weights of samples of which nothing is known yet.

    Args:
        samples: how many.
    """
    return np.full(samples, 1.0 / samples)


def weighed(looks: Sequence[Look], log_prior: Floats) -> Weighed:
    """Return the samples' weights given all looks together.

    Weights that would rest on fewer than twenty samples in effect are evened out until they do.

    Args:
        looks: may be none.
        log_prior: of each sample before the looks, up to a constant, shape (samples,).
    """
    each = [_log_likelihood(look) for look in looks]
    together = np.sum(each, axis=0) + log_prior if each else log_prior
    weights = _evened(together)
    others = [_normalised(together - one) for one in each]
    verdicts = (_verdict(look, weights, without) for look, without in zip(looks, others, strict=True))
    return Weighed(weights=weights, verdicts=tuple(verdicts))


def effective_samples(weights: Floats) -> float:
    """Return how many samples of equal weight would say as much: 1/Σw² for weights that add up to 1."""
    return float(1.0 / np.sum(weights**2))


def _verdict(look: Look, weights: Floats, others: Floats) -> Verdict:
    """Return how a look stands to the weights that all looks and that all others give."""
    slip = np.exp(_log_slip(look) - _log_likelihood(look))
    beyond = float(others @ ndtr((look.seen - look.shown) / look.sd))  # the chance to have seen less than was seen
    least = beyond if look.is_least else min(beyond, 1.0 - beyond)
    tail = 1.0 - beyond if look.is_least else 2.0 * least
    low, _, high = quantile_band(look.shown, others)
    return Verdict(
        name=look.name,
        apart_sd=float(-ndtri(max(0.5 * tail, np.finfo(float).tiny))),
        force_frac=float(np.clip(1.0 - weights @ slip, 0.0, 1.0)),
        low=float(low),
        high=float(high),
        is_least=look.is_least,
    )


def _log_likelihood(look: Look) -> Floats:
    """Return ln of how likely a look is for each sample: seen aright, or a slip."""
    both: Floats = np.logaddexp(np.log1p(-SLIP_FRAC) + _log_aright(look), _log_slip(look))
    return both


def _log_slip(look: Look) -> float:
    return float(np.log(SLIP_FRAC / look.range_wide))


def _log_aright(look: Look) -> Floats:
    if look.is_least:
        reached: Floats = log_ndtr((look.shown - look.seen) / look.sd)
        return reached
    density: Floats = -0.5 * ((look.shown - look.seen) / look.sd) ** 2 - np.log(look.sd * np.sqrt(2.0 * np.pi))
    return density


def _evened(log_weight: Floats) -> Floats:
    """Return weights that rest on at least twenty samples in effect (half of them where there are fewer than forty)."""
    kept = min(LEAST_EFFECTIVE, 0.5 * log_weight.size)
    if effective_samples(_normalised(log_weight)) >= kept:
        return _normalised(log_weight)
    low, high = 0.0, 1.0
    for _ in range(40):  # the effective number falls as the power rises: halve the bracket
        middle = 0.5 * (low + high)
        is_enough = effective_samples(_normalised(middle * log_weight)) >= kept
        low, high = (middle, high) if is_enough else (low, middle)
    return _normalised(low * log_weight)


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
