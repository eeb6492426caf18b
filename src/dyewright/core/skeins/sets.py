"""Differences between skeins with how sure they are, and which skeins match.

Sources: [1] CIEDE2000 and CMC(2:1) in core.colour.difference. [2] D. Defays, An efficient algorithm for a complete link
method, Comput. J. 20 (1977) 364-366: complete linkage, where no two members of a set differ by more than the limit;
boxes round a standard would part neighbours across a wall.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import ciede2000_metric, delta_cmc, delta_e00
from dyewright.core.colour.words import difference_words, visibility_words
from dyewright.core.model import PairDifference, ToTarget

__all__ = ["CANNOT_TELL", "Doubt", "is_undecided", "matching_sets", "pair_differences", "to_target"]

Floats = NDArray[np.float64]

CANNOT_TELL = "cannot tell from this photo"
Z95 = 1.96  # the normal deviate that holds 95 %
BALL95 = 1.614  # the radius that holds 95 % of errors alike in three directions, over their total: sqrt(7.815 / 3), χ²


@dataclass(frozen=True)
class Doubt:
    """What makes differences inside one photo unsure, besides the scatter of each skein's parts.

    `light_frac` is the standard error of light between two places; `scale_frac` that of a difference through the
    camera's colour reading: it grows with the difference.
    """

    light_frac: float
    scale_frac: float


def pair_differences(
    ids: Sequence[int], labs: ArrayLike, sd_labs: ArrayLike, doubt: Doubt, tolerance_de00: float
) -> tuple[PairDifference, ...]:
    """Return every pair of skeins with its difference, interval and words; the earlier skein is the standard.

    Args:
        ids: one a skein.
        labs: their colours, shape (n, 3).
        sd_labs: standard errors of these from the scatter inside each skein, shape (n, 3).
        doubt: what else is unsure.
        tolerance_de00: the limit within which skeins count as matching, ΔE00.
    """
    lab, sd = np.asarray(labs, float), np.asarray(sd_labs, float)
    return tuple(
        _pair((ids[i], ids[j]), lab[[i, j]], np.hypot(sd[i], sd[j]), doubt, tolerance_de00)
        for i, j in combinations(range(len(ids)), 2)
    )


def _pair(ids: tuple[int, int], labs: Floats, sd: Floats, doubt: Doubt, tolerance_de00: float) -> PairDifference:
    one, two = labs
    de00 = float(delta_e00(one, two))
    half = _half_de00((one + two) / 2, de00, sd, doubt)
    low, high = max(0.0, de00 - half), de00 + half
    decmc = float(delta_cmc(one, two))
    is_covered = low <= tolerance_de00 < high
    words = f"{_words(ids, one, two)}: {CANNOT_TELL if is_covered else visibility_words(decmc)}"
    return PairDifference(ids[0], ids[1], de00, low, high, decmc, words)


def _words(ids: tuple[int, int], one: Floats, two: Floats) -> str:
    difference = difference_words(one, two)
    if difference.startswith("no "):
        return f"{ids[0]} and {ids[1]} show {difference}"
    return f"{ids[1]} is {difference} than {ids[0]}"


def _half_de00(lab: Floats, de00: float, sd_lab: Floats, doubt: Doubt) -> float:
    """Return half a 95 % interval of a ΔE00: errors of colour and light through the metric, and that of the scale."""
    light_sd_l = doubt.light_frac * (lab[0] + 16) / 3  # dL*/(dY/Y) = 116 (Y/Yn)^(1/3) / 3
    errors = np.array([np.hypot(sd_lab[0], light_sd_l), sd_lab[1], sd_lab[2]])
    return float(np.hypot(_ball_de00(lab, errors), Z95 * doubt.scale_frac * de00))


def _ball_de00(lab: Floats, sd_lab: Floats) -> float:
    """Return the radius in ΔE00 that holds 95 % of errors with these standard deviations in L*, a*, b*."""
    return BALL95 * float(np.linalg.norm(ciede2000_metric(lab) * sd_lab))


def is_undecided(pair: PairDifference, tolerance_de00: float) -> bool:
    """Return whether the interval of a difference covers the limit."""
    return pair.low <= tolerance_de00 < pair.high


def matching_sets(
    ids: Sequence[int], pairs: Sequence[PairDifference], tolerance_de00: float
) -> tuple[tuple[int, ...], ...]:
    """Return the sets of skeins in which no two differ by more than the tolerance [2], largest set first."""
    from scipy.cluster.hierarchy import fcluster, linkage

    if len(ids) < 2:
        return tuple((skein,) for skein in ids)
    merged = linkage([pair.de00 for pair in pairs], method="complete")
    labels = fcluster(merged, t=tolerance_de00, criterion="distance")
    groups = [tuple(skein for skein, own in zip(ids, labels, strict=True) if own == label) for label in set(labels)]
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))


def to_target(lab: ArrayLike, sd_lab: ArrayLike, target_lab: ArrayLike) -> ToTarget:
    """Return how far a skein is from its target, the standard.

    Args:
        lab: the skein's colour.
        sd_lab: standard errors of it in L*, a*, b*, the chart's included.
        target_lab: the colour that was meant.
    """
    one, two = np.asarray(target_lab, float), np.asarray(lab, float)
    de00, decmc = float(delta_e00(one, two)), float(delta_cmc(one, two))
    half = _ball_de00(two, np.asarray(sd_lab, float))
    return ToTarget(de00, max(0.0, de00 - half), de00 + half, decmc, difference_words(one, two))
