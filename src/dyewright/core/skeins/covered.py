"""Patches of a chart that are not what the chart has there: covered by a tag or a hand, stained, in glare.

Two signs tell them. Patches that look alike although the chart has quite different colours there lie under one thing.
And a patch that the others cannot predict, while without it they fit one another far better, is no patch of this chart.

Source: the methods are ours; taking out what fits worst, one after the other, is P. J. Rousseeuw, A. M. Leroy, Robust
Regression and Outlier Detection, Wiley (1987), chapter 6, in its simplest form.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import delta_e00
from dyewright.core.colour.lab import lab_from_xyz
from dyewright.core.skeins.calibrate import GREY_ROW, LEAST_PATCHES, ChartProblem, chart_problem
from dyewright.core.skeins.camera_space import is_outside
from dyewright.errors import InputError

__all__ = ["misfits"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_STRAYS = 6  # ours: more than a quarter of the chart is no longer a few patches gone wrong
STRAY_DE00, STRAY_FACTOR = 12.0, 5.0  # no patch of 100 sound charts in daylight and lamp light was beyond (measured)
SOUND_DE00, SOUND_FACTOR = 6.0, 2.5  # ours: what looks covered but reads as well as this is kept
ALIKE_FRAC = 0.06  # of light in each channel: patches under one tag differ by less, noise and shading included; ours
UNLIKE_DE00 = 15.0  # patches of the chart that differ by more than this never look alike to a camera; ours
LEAST_ALIKE = 3  # two may look alike by chance where a channel is clipped at 0; ours


def misfits(
    patch_rgb: ArrayLike,
    reference_xyz: ArrayLike,
    white: ArrayLike,
    *,
    is_linear: bool = False,
    is_usable: ArrayLike | None = None,
) -> Bools:
    """Return which patches do not belong to the rest (covered, stained, in glare); arguments as for `calibrate`.

    One thing over several patches is found at any size that leaves enough to calibrate by; of others six at most.
    """
    problem = chart_problem(patch_rgb, reference_xyz, white, is_linear=is_linear)
    used = np.ones(24, bool) if is_usable is None else np.array(is_usable, bool)
    alike = _alike(problem, used)
    if (used & ~alike).sum() < LEAST_PATCHES:
        return alike
    out = alike | _strays(problem, used & ~alike)
    errors = _errors(problem, used & ~out)
    return out & (errors > _limit(errors[used & ~out], SOUND_DE00, SOUND_FACTOR))


def _alike(problem: ChartProblem, used: Bools) -> Bools:
    """Return the patches that look like two others from which the chart has them far apart."""
    rgb = problem.rgb
    near = ALIKE_FRAC * np.maximum(rgb[:, None], rgb[None]).max(axis=-1, keepdims=True)
    is_alike = np.all(np.abs(rgb[:, None] - rgb[None]) < near, axis=-1)
    labs = lab_from_xyz(problem.xyz, problem.white)
    is_unlike = delta_e00(labs[:, None], labs[None]) > UNLIKE_DE00
    others = is_alike & is_unlike & used[:, None] & used[None]
    return np.asarray(others.sum(axis=1) >= LEAST_ALIKE - 1)


def _strays(problem: ChartProblem, used: Bools) -> Bools:
    """Return the patches that the others, fitted without them, miss by far.

    Such a patch drags a plain fit along and hides. So the patch without which the others fit best is taken out, one
    after the other; then the largest number of them counts of which every single one is far off.
    """
    left, without = used.copy(), []
    for _ in range(min(MOST_STRAYS, int(used.sum()) - LEAST_PATCHES)):
        left = left & (np.arange(24) != int(np.argmin(_rest_without(problem, left))))
        without.append(left)
    for kept in reversed(without):
        errors = _errors(problem, kept)
        if np.all(errors[used & ~kept] > _limit(errors[kept], STRAY_DE00, STRAY_FACTOR)):
            return np.asarray(used & ~kept)
    return np.zeros(24, bool)


def _rest_without(problem: ChartProblem, left: Bools) -> Floats:
    """Return the sum of squares that would be left without each patch; infinite for a patch that is not in use.

    A grey bends the tone curve, so that without it all is solved anew; of the others the sum follows from the solution
    at hand: without the rows i it falls by r_i' (1 - H_ii)^-1 r_i (R. D. Cook, S. Weisberg, Residuals and Influence in
    Regression, Chapman and Hall (1982), 3.2).
    """
    rest = np.full(24, np.inf)
    is_vivid = is_outside(problem.rgb)  # it misses because the file cannot hold it: cyan by a bulb, in most pictures
    for patch in GREY_ROW[left[GREY_ROW]]:
        rest[patch] = _solved(problem, left & (np.arange(24) != patch))[1]
    solution, total = _solved(problem, left)
    if solution is None:
        return rest
    basis, residuals = solution
    blocks = basis.reshape(-1, 3, basis.shape[1])
    free = np.eye(3) - blocks @ blocks.transpose(0, 2, 1)
    r = residuals.reshape(-1, 3)
    fall = np.einsum("ni,nij,nj->n", r, np.linalg.pinv(free), r)
    others = left & ~np.isin(np.arange(24), GREY_ROW) & ~is_vivid
    rest[others] = total - fall[others[left]]
    return rest


def _solved(problem: ChartProblem, used: Bools) -> tuple[tuple[Floats, Floats] | None, float]:
    """Return an orthonormal basis of the fit with its residuals, and their sum of squares.

    None and infinity where the greys in use are no grey row.
    """
    try:
        tone = problem.tone(used)
    except InputError:
        return None, np.inf
    rows, wanted = problem.equations(used, tone)
    basis = np.linalg.qr(rows)[0]
    residuals = wanted - basis @ (basis.T @ wanted)
    return (basis, residuals), float(residuals @ residuals)


def _limit(sound_de00: Floats, least_de00: float, factor: float) -> float:
    return max(least_de00, factor * float(np.sqrt(np.mean(sound_de00**2))))


def _errors(problem: ChartProblem, used: Bools) -> Floats:
    """Return the ΔE00 of every patch from the fit through some; infinite where their greys are no grey row."""
    try:
        return problem.errors(used)
    except InputError:
        return np.full(24, np.inf)
