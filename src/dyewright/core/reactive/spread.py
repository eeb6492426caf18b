"""Values drawn from a range that holds nine of ten cases."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from dyewright.core.model import Span

__all__ = ["spread"]

NINE_OF_TEN = float(ndtri(0.95))  # standard deviations from the middle to an end of the range


def spread(normal: ArrayLike, span: Span) -> NDArray[np.float64]:
    """Return values of a range for standard normal draws: its ends at the 5 and 95 % quantiles.

    The logarithm is normal, with its own width on each side of the middle, so that no value is below zero.

    Args:
        normal: standard normal draws, any shape; 0 gives the middle.
        span: above zero.
    """
    drawn = np.asarray(normal, float)
    below, above = np.log(span.mid / span.low), np.log(span.high / span.mid)
    values: NDArray[np.float64] = span.mid * np.exp(drawn / NINE_OF_TEN * np.where(drawn < 0, below, above))
    return values
