"""Differences between skeins with how sure they are, and which skeins match.

Sources: [1] CIEDE2000 and CMC(2:1) in core.colour.difference. [2] D. Defays, An efficient algorithm for a complete link
method, Comput. J. 20 (1977) 364-366: complete linkage, where no two members of a set differ by more than the limit;
boxes round a standard would part neighbours across a wall. [3] J. C. Hsu, Multiple Comparisons: Theory and Methods,
Chapman & Hall (1996), chapters 2 and 5: intervals that hold together, from the distribution of the largest of all
standardised errors; for equal variances and one component this is Tukey's studentised range.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import (
    ciede2000_metric,
    ciede2000_vector,
    delta_cmc,
    delta_e00,
    delta_grey_scale,
    grey_scale_text,
)
from dyewright.core.colour.words import difference_words, visibility_words
from dyewright.core.model import PairDifference, ToTarget

__all__ = [
    "CANNOT_TELL",
    "Errors",
    "is_undecided",
    "is_within",
    "matching_sets",
    "pair_differences",
    "to_target",
]

Floats = NDArray[np.float64]

CANNOT_TELL = "cannot tell from this photo"
Z95 = 1.96  # the normal deviate that holds 95 %
LEAST_DRAWS, MOST_NUMBERS = 1000, 60_000  # draws, and draws times pairs: 4,000 draws leave ±1 % on a quantile
LEAST_SD_LAB = 1e-6  # of L*, a*, b*: nothing is surer
FREEDOM = 30  # degrees of freedom of a pooled standard error: eight stretches of each of a few skeins (estimate)
BALL95 = 1.614  # the radius that holds 95 % of errors alike in three directions, over their total: sqrt(7.815 / 3), χ²


@dataclass(frozen=True)
class Errors:
    """Why the colours of skeins may be off against one another.

    Attributes:
        own_sd_lab: standard errors of each skein for itself, shape (n, 3).
        shared_lab: what moves several together (light, chart), a cause a row: squares add up to the variance, shape
            (causes, n, 3).
        scale_frac: the standard error of a difference through the camera's colour reading: it grows with the
            difference.
    """

    own_sd_lab: Floats
    shared_lab: Floats
    scale_frac: float


@dataclass(frozen=True)
class _Halves:
    """Half intervals of all pairs together: `box` of each ΔE00 component, shape (pairs, 3), `ball` of their length."""

    box: Floats
    ball: Floats


def pair_differences(
    ids: Sequence[int], labs: ArrayLike, errors: Errors, tolerance_de00: float, rng: np.random.Generator
) -> tuple[PairDifference, ...]:
    """Return every pair of skeins with its difference, interval and words; the earlier skein is the standard.

    All intervals together hold the true differences in 95 of 100 photos [3], as far as the errors are known.

    Args:
        ids: one a skein.
        labs: their colours, shape (n, 3).
        errors: what is unsure about them.
        tolerance_de00: the limit within which skeins count as matching, ΔE00.
        rng: draws errors, to see how far the farthest of all pairs strays.
    """
    if len(ids) < 2:
        return ()
    lab = np.asarray(labs, float)
    pairs = np.array(list(combinations(range(len(ids)), 2)))
    one, two = lab[pairs[:, 0]], lab[pairs[:, 1]]
    halves = _halves(pairs, ciede2000_metric((one + two) / 2), errors, rng)
    lows, highs = _intervals(ciede2000_vector(one, two), halves, errors.scale_frac)
    return tuple(
        _pair((ids[i], ids[j]), lab[[i, j]], (float(low), float(high)), tolerance_de00)
        for (i, j), low, high in zip(pairs.tolist(), lows, highs, strict=True)
    )


def _halves(pairs: NDArray[np.intp], metric: Floats, errors: Errors, rng: np.random.Generator) -> _Halves:
    """Return the half intervals that hold all pairs at once, in ΔE00 components and in their length [3].

    The errors are drawn; of each draw, the pair counts that strays furthest in terms of its own standard error.
    """
    draws = max(LEAST_DRAWS, MOST_NUMBERS // len(pairs))
    strays = np.einsum("pij,dpj->dpi", metric, _apart(pairs, _drawn(errors, draws, rng)))
    spread = np.maximum(np.sqrt(np.mean(strays**2, axis=0)), 1e-9)
    total = np.linalg.norm(spread, axis=-1)
    in_box = np.max(np.abs(strays) / spread, axis=(1, 2))
    in_ball = np.max(np.linalg.norm(strays, axis=-1) / total, axis=1)
    box, ball = np.quantile(in_box, 0.95), np.quantile(in_ball, 0.95)
    both = np.quantile(np.maximum(in_box / box, in_ball / ball), 0.95)
    return _Halves(both * box * spread, both * ball * total)


def _drawn(errors: Errors, draws: int, rng: np.random.Generator) -> Floats:
    """Return drawn errors of the skeins, shape (draws, n, 3)."""
    own = rng.standard_normal((draws, *errors.own_sd_lab.shape)) * _pooled(errors.own_sd_lab)
    weights = rng.standard_normal((draws, len(errors.shared_lab)))
    small = np.sqrt(FREEDOM / rng.chisquare(FREEDOM, (draws, 1, 1)))  # Student's: the standard errors are estimates too
    return np.asarray(small * (own + np.einsum("dk,knc->dnc", weights, errors.shared_lab)), float)


def _pooled(sd_lab: Floats) -> Floats:
    """Return standard errors, small ones raised half-way to the middle one: each comes from few stretches of like yarn.

    A large one (a skein in a shadow) stays its own and makes the others no less sure.
    """
    own = sd_lab**2
    raised = np.maximum(own, (own + np.median(own, axis=0)) / 2)
    return np.asarray(np.sqrt(raised + LEAST_SD_LAB**2), float)


def _apart(pairs: NDArray[np.intp], values: Floats) -> Floats:
    return np.asarray(values[:, pairs[:, 1]] - values[:, pairs[:, 0]], float)


def _intervals(components: Floats, halves: _Halves, scale_frac: float) -> tuple[Floats, Floats]:
    """Return low and high of each ΔE00: what box and ball leave together, the scale's own doubt added as a square."""
    de00 = np.linalg.norm(components, axis=-1)
    low = np.linalg.norm(np.maximum(np.abs(components) - halves.box, 0), axis=-1)
    high = np.linalg.norm(np.abs(components) + halves.box, axis=-1)
    scale = Z95 * scale_frac * de00
    down = np.hypot(de00 - np.maximum(low, de00 - halves.ball), scale)
    up = np.hypot(np.minimum(high, de00 + halves.ball) - de00, scale)
    return np.maximum(de00 - down, 0), de00 + up


def _pair(ids: tuple[int, int], labs: Floats, interval: tuple[float, float], tolerance_de00: float) -> PairDifference:
    one, two = labs
    low, high = interval
    decmc = float(delta_cmc(one, two))
    within = is_within(low, high, tolerance_de00)
    return PairDifference(
        ids[0],
        ids[1],
        float(delta_e00(one, two)),
        low,
        high,
        decmc,
        f"{_words(ids, one, two)}: {CANNOT_TELL if within is None else visibility_words(decmc)}",
        grey_scale=grey_scale_text(float(delta_grey_scale(one, two))),
        is_within=within,
    )


def is_within(low_de00: float, high_de00: float, tolerance_de00: float) -> bool | None:
    """Return whether a difference lies within the tolerance; None where its interval covers the limit."""
    if high_de00 <= tolerance_de00:
        return True
    return False if low_de00 > tolerance_de00 else None


def _words(ids: tuple[int, int], one: Floats, two: Floats) -> str:
    difference = difference_words(one, two)
    if difference.startswith("no "):
        return f"{ids[0]} and {ids[1]} show {difference}"
    return f"{ids[1]} is {difference} than {ids[0]}"


def _ball_de00(lab: Floats, sd_lab: Floats) -> float:
    """Return the radius in ΔE00 that holds 95 % of errors with these standard deviations in L*, a*, b*."""
    return BALL95 * float(np.linalg.norm(ciede2000_metric(lab) * sd_lab))


def is_undecided(pair: PairDifference, tolerance_de00: float) -> bool:
    """Return whether the interval of a difference covers the limit."""
    return is_within(pair.low, pair.high, tolerance_de00) is None


def matching_sets(
    ids: Sequence[int], pairs: Sequence[PairDifference], tolerance_de00: float
) -> tuple[tuple[int, ...], ...]:
    """Return the sets of skeins in which no two differ by more than the tolerance [2], largest set first.

    Two skeins that nothing in the photo tells apart (their interval reaches down to 0) are not parted for what errors
    may have made; whether they match is then left open by `is_within`.
    """
    from scipy.cluster.hierarchy import fcluster, linkage

    if len(ids) < 2:
        return tuple((skein,) for skein in ids)
    apart = [pair.de00 if pair.low > 0 else min(pair.de00, tolerance_de00) for pair in pairs]
    merged = linkage(apart, method="complete")
    labels = fcluster(merged, t=tolerance_de00, criterion="distance")
    groups = [tuple(skein for skein, own in zip(ids, labels, strict=True) if own == label) for label in set(labels)]
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))


def to_target(lab: ArrayLike, sd_lab: ArrayLike, target_lab: ArrayLike, tolerance_de00: float) -> ToTarget:
    """Return how far a skein is from its target, the standard.

    Args:
        lab: the skein's colour.
        sd_lab: standard errors of it in L*, a*, b*, the chart's included.
        target_lab: the colour that was meant.
        tolerance_de00: the limit within which it counts as met, ΔE00.
    """
    one, two = np.asarray(target_lab, float), np.asarray(lab, float)
    de00, decmc = float(delta_e00(one, two)), float(delta_cmc(one, two))
    half = _ball_de00(two, np.asarray(sd_lab, float))
    low, high = max(0.0, de00 - half), de00 + half
    return ToTarget(
        de00,
        low,
        high,
        decmc,
        difference_words(one, two),
        grey_scale=grey_scale_text(float(delta_grey_scale(one, two))),
        is_within=is_within(low, high, tolerance_de00),
    )
