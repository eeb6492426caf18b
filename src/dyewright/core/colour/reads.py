"""How sure the mean of several readings of one sample is.

Source: [1] a variance estimated from few readings, drawn towards what is known beforehand with a weight in degrees of
freedom: the posterior of a scaled inverse chi-squared prior, see A. Gelman et al., Bayesian Data Analysis, 3rd ed.,
section 2.6 (from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from dyewright.core.colour.difference import ciede2000_metric

__all__ = ["noise_of_reads"]

PRIOR_READS = 3  # the instrument's usual scatter counts as much as that of so many further readings (estimate)
OWN_SHARE = 0.5  # of the usual variance lies in every reading alike: the instrument's zero, how the yarn lay (estimate)


def noise_of_reads(labs: ArrayLike, usual_de00: float) -> float:
    """Return the standard deviation, in ΔE00 a component, of the mean of several readings of one sample.

    Half of the usual variance lies in all readings alike and stays; the other half is drawn towards what the readings
    show, the more the more they are [1], and falls with their number.

    Args:
        labs: shape (n, 3) with n of 2 or more, all under one light.
        usual_de00: standard deviation of a single reading, in ΔE00 a component, above 0.
    """
    read = np.asarray(labs, float)
    mean = read.mean(axis=0)
    off = (read - mean) @ ciede2000_metric(mean).T
    known, seen = 3 * PRIOR_READS, 3 * (len(read) - 1)  # degrees of freedom: three components a reading
    alike, between = OWN_SHARE * usual_de00**2, (1 - OWN_SHARE) * usual_de00**2
    variance = (known * between + np.sum(off**2)) / (known + seen)  # [1]
    return float(np.sqrt(alike + variance / len(read)))
