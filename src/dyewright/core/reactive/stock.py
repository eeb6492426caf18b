"""What is left of a reactive dye in a stock solution that was mixed some days ago."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import ReactiveRow, Span
from dyewright.core.reactive.hydrolysis import neutral_per_day
from dyewright.core.reactive.spread import spread

__all__ = ["stock_active_frac"]

KEPT_AT_C = Span(18.0, 6.0, 25.0)  # cupboard, sometimes a fridge: estimate, where nothing is said


def stock_active_frac(
    row: ReactiveRow, mixed_days_ago: float, normal_life: ArrayLike = 0.0, normal_warmth: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Return the share of a plain stock's dye that can still bond; the rest has been used up by water.

    The stock holds no alkali (with soda ash it lives hours) and has stood anywhere from a fridge to a warm room.

    Args:
        row: the dye's class.
        mixed_days_ago: age of the stock, days, >= 0.
        normal_life: standard normal draws of the half-life; 0 is the middle.
        normal_warmth: standard normal draws of where it was kept.
    """
    life_days = spread(normal_life, row.neutral_days)
    left: NDArray[np.float64] = np.exp(-mixed_days_ago * neutral_per_day(spread(normal_warmth, KEPT_AT_C), life_days))
    return left
