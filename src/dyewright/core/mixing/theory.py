"""What single-constant theory gets wrong of mixes, as the measured mixes of a shelf show it.

The dyes are fitted with little faith in the theory, so that mixes do not bend their curves, and how far the mixes then
lie off is set against what readings, pots and the dyes' own uncertainty explain: an estimate of variance by moments.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from dyewright.core.mixing.joint import Problem, judged, part_of
from dyewright.core.mixing.shelf import MODEL_DE00
from dyewright.core.mixing.subset import as_lab, best_fit, only

__all__ = ["LITTLE_FAITH_DE00", "theory_error"]

Array = NDArray[np.float64]

LITTLE_FAITH_DE00 = 1.0  # published first shots on textiles are about 1 to 3 ΔE off: docs/science/mixing.md
MOST_DE00 = 2.0  # one mix counts for no more: beyond, it is rather a mishap than the theory (ours)
BELIEVED_MIXES = 4  # how many mixes the belief in MODEL_DE00 counts for (estimate)


def theory_error(loose: Problem, start: Array) -> tuple[float, Array]:
    """Return the error of the theory, in ΔE00 a component, and the numbers (n, p) that it was found with.

    Args:
        loose: the problem with LITTLE_FAITH_DE00.
        start: numbers (n, p) to begin with.
    """
    fit = judged(loose, best_fit(loose, start))
    excess = [min(_excess(loose, fit.numbers, fit.covariance, place), MOST_DE00**2) for place in _mixes(loose)]
    variance = (sum(excess) + BELIEVED_MIXES * MODEL_DE00**2) / (len(excess) + BELIEVED_MIXES)
    return float(np.sqrt(max(variance, MODEL_DE00**2))), fit.numbers


def _mixes(problem: Problem) -> Iterator[int]:
    for samples in problem.samples:
        yield from samples.place[np.bincount(samples.entries.sample) > 1].tolist()


def _excess(problem: Problem, numbers: Array, covariance: Array, place: int) -> float:
    """Return the variance a component by which a mix lies farther off than all but the theory explains."""
    sample = as_lab(only(problem, place))
    part = part_of(problem, sample, numbers)
    root = np.linalg.inv(part.whitening[0])
    dyes = sample.entries.dye
    slopes = np.swapaxes(part.slopes, 0, 1).reshape(3, -1)
    unsure = covariance[dyes][:, :, dyes].reshape(slopes.shape[1], -1)
    # The fit has moved towards the mix by as much as the dyes were unsure of it.
    explained = np.trace(root @ root.T) - 3 * problem.theory_de00**2 - np.trace(slopes @ unsure @ slopes.T)
    return float(part.misfit[0] @ part.misfit[0] - explained) / 3
