"""Two ways beside each other: which of two uncertain numbers is the smaller, and how sure that is.

Sources: [1] the probability of superiority, P(X < Y) + P(X = Y)/2, the statistic of Mann and Whitney, Ann. Math. Stat.
18 (1947) 50, scaled to 0 to 1. [2] the difference of two independent normal numbers is normal: any text.
"""

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from dyewright.core.model import Band

__all__ = ["less_frac", "less_frac_of_bands"]

BAND_SD = 2 * 1.6449  # standard deviations between the bounds that hold nine of ten of a normal number


def less_frac(left: ArrayLike, right: ArrayLike) -> float:
    """Return how often the left one of a pair is the smaller, 0 to 1; equal pairs count half [1].

    Args:
        left: one number a sample; infinite where something never happens.
        right: the same samples of the other way; a pair shares what the two ways share.
    """
    a, b = np.asarray(left, float), np.asarray(right, float)
    scores = np.where(a < b, 1.0, np.where(a == b, 0.5, 0.0))
    return float(scores.mean())


def less_frac_of_bands(left: Band, right: Band) -> float | None:
    """Return how often the left of two numbers is the smaller, from their bands alone, taken as independent [2].

    None where a band is not known whole.
    """
    of_left, of_right = _sd(left), _sd(right)
    if of_left is None or of_right is None or left.mid is None or right.mid is None:
        return None
    spread = math.hypot(of_left, of_right)
    if spread == 0:
        return 0.5 if left.mid == right.mid else float(left.mid < right.mid)
    return float(ndtr((right.mid - left.mid) / spread))


def _sd(band: Band) -> float | None:
    return None if band.low is None or band.high is None else (band.high - band.low) / BAND_SD
