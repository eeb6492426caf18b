"""Small planned series: the steps of a factor, an order of work by chance, and which differences they can tell.

Sources: [1] R. A. Fisher, The Design of Experiments (1935): a control, a repeated sample and an order by chance (from
memory). [2] The chi distribution of three components: 95 % of it lies below 2.795 (any table of chi-squared: the root
of 7.815), its root mean square is the root of 3. [3] Many comparisons at once: Z. Šidák, J. Am. Stat. Assoc. 62 (1967)
626 (from memory); on the safe side where the comparisons share samples.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from dyewright.core.colour import delta_e00
from dyewright.core.model import Lab
from dyewright.errors import InputError

__all__ = [
    "ALIKE_DE00",
    "alike_within_de00",
    "flat_stretch",
    "order_by_chance",
    "series_within_de00",
    "spaced",
    "step_differences",
]

ALIKE_DE00 = 1.0  # two samples dyed and read alike differ by no more in 19 of 20 pairs (estimate)
ALIKE_PAIRS = 4  # so many twins of one's own weigh as much as that estimate (estimate)
BOUND = 2.795  # [2]
BOUND_TO_RMS = BOUND / math.sqrt(3.0)
SURE_FRAC = 0.95


def spaced(first: float, last: float, steps: int, *, is_geometric: bool) -> tuple[float, ...]:
    """Return values from first to last, evenly apart: by ratio where `is_geometric`, else by difference.

    Raises:
        InputError: fewer than two steps, or an end that a ratio cannot start from.
    """
    if steps < 2:
        raise InputError(f"a factor is varied in two steps or more, got {steps}", field="steps", value=steps, limit=2)
    if not is_geometric:
        return tuple(np.linspace(first, last, steps).tolist())
    if not (first > 0 and last > 0):
        raise InputError("steps by ratio begin and end above 0", field="from", value=min(first, last), limit=0)
    return tuple(np.geomspace(first, last, steps).tolist())


def order_by_chance(samples: int, rng: np.random.Generator) -> tuple[int, ...]:
    """Return each sample's turn, 1 and up, drawn so that a drift over the day does not look like the factor [1]."""
    return tuple(int(place) + 1 for place in rng.permutation(samples))


def alike_within_de00(twins_de00: Sequence[float] = ()) -> float:
    """Return the ΔE00 that two samples dyed alike stay within, in 19 of 20 pairs.

    The usual estimate, pooled with the twins that were dyed: their mean square counts by their number.
    """
    usual = (ALIKE_DE00 / BOUND_TO_RMS) ** 2
    total = ALIKE_PAIRS * usual + sum(de00**2 for de00 in twins_de00)
    return BOUND_TO_RMS * math.sqrt(total / (ALIKE_PAIRS + len(twins_de00)))


def series_within_de00(pair_de00: float, samples: int) -> float:
    """Return the ΔE00 that the two most unlike of some samples dyed alike stay within, in 19 of 20 series [3].

    Args:
        pair_de00: what one pair stays within.
        samples: how many are compared, each with each; two or more.
    """
    pairs = samples * (samples - 1) / 2
    return pair_de00 * math.sqrt(float(chdtri(3, 1.0 - SURE_FRAC ** (1.0 / pairs)))) / BOUND


def step_differences(labs: Sequence[Lab]) -> NDArray[np.float64]:
    """Return ΔE00 between every two samples, shape (n, n)."""
    points = np.asarray(labs, float).reshape(-1, 3)
    return np.asarray(delta_e00(points[:, None, :], points[None, :, :]), float)


def flat_stretch(labs: Sequence[Lab], within_de00: float) -> tuple[int, int] | None:
    """Return the places of the first and last sample of the longest stretch that is all alike; None where none is.

    Two neighbours make a stretch. Of two as long the one that comes first.
    """
    apart = step_differences(labs)
    found: tuple[int, int] | None = None
    for first in range(len(labs)):
        for last in range(first + 1, len(labs)):
            is_alike = bool(np.all(apart[first : last + 1, first : last + 1] <= within_de00))
            if is_alike and (found is None or last - first > found[1] - found[0]):
                found = first, last
    return found
