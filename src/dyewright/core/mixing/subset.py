"""A fit of a few dyes, or without some swatch, while the rest of the shelf stays as it was fitted.

A curve known only by Labs may settle in a dip of the cost that is not the deepest. Its samples then lie further from
the fit than their noise, and other starts are tried for it.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import ciede2000_metric
from dyewright.core.mixing.joint import (
    BASE_SD,
    FIRST_FACTOR,
    OWN_BASE_SD,
    Problem,
    contributions,
    cost_of,
    descend,
    measured_labs,
    own_misfits,
)
from dyewright.core.mixing.kubelka import k_over_s, reflectance_slope
from dyewright.core.mixing.samples import LAB_NOISE, Entries, N, Samples
from dyewright.core.mixing.shelf import lab_slopes
from dyewright.core.model import WAVELENGTHS_NM

__all__ = ["as_lab", "best_fit", "narrowed", "only"]

Array = NDArray[np.float64]

BANDS_NM = (420, 480, 540, 600, 660)  # middles of the bands that are tried
BAND_WIDTH_NM = 45.0  # standard deviation of those bands (estimate)
BAND_FOOT = 4.0  # ln of a band's height over its foot


def best_fit(problem: Problem, start: Array) -> Array:
    """Return the most probable numbers from a start (n, p), other starts tried for dyes that miss their samples."""
    numbers = descend(problem, start)
    squared, rows = own_misfits(problem, numbers)
    poor = np.flatnonzero(squared > rows).tolist()
    if not poor:
        return numbers
    few = narrowed(problem, numbers, poor)
    best = numbers[poor]
    lowest = _own_costs(few, best)
    for middle in BANDS_NM:
        band = np.maximum(-(((WAVELENGTHS_NM - middle) / BAND_WIDTH_NM) ** 2) / 2, -BAND_FOOT)
        tried = few.start
        tried[:, :N] = np.log(few.first.max(axis=1, keepdims=True)) + band
        found = descend(few, tried)
        costs = _own_costs(few, found)
        best = np.where((costs < lowest)[:, None], found, best)
        lowest = np.minimum(lowest, costs)
    if np.array_equal(best, numbers[poor]):
        return numbers
    other = numbers.copy()
    other[poor] = best
    other = descend(problem, other)
    return min((numbers, other), key=lambda each: cost_of(problem, each))


def _own_costs(problem: Problem, numbers: Array) -> Array:
    off = numbers - problem.centre
    return np.asarray(own_misfits(problem, numbers)[0] + np.sum(off @ problem.precision * off, axis=1), float)


def narrowed(problem: Problem, numbers: Array, dyes: Sequence[int], without: Collection[int] = ()) -> Problem:
    """Return the problem of some dyes, the others held at their numbers, without the samples at some places.

    What the held dyes tell of the strength on further bases goes into what is believed of the rest.
    """
    samples = [_narrowed(problem, samples, numbers, dyes, without) for samples in problem.samples]
    centre = problem.centre[dyes]
    if problem.is_base_common:
        bases = slice(FIRST_FACTOR, FIRST_FACTOR + problem.n_bases)
        common = BASE_SD**2 / (OWN_BASE_SD**2 + len(numbers) * BASE_SD**2)
        centre[:, bases] = common * numbers[:, bases].sum(axis=0)
    return replace(
        problem,
        samples=tuple(each for each in samples if len(each.place)),
        first=problem.first[dyes],
        centre=centre,
        is_base_common=False,
        is_blend=problem.is_blend[dyes],
    )


def _narrowed(
    problem: Problem, samples: Samples, numbers: Array, dyes: Sequence[int], without: Collection[int]
) -> Samples:
    entries = samples.entries
    is_own = np.isin(entries.dye, dyes)
    is_kept = np.zeros(len(samples.place), bool)
    is_kept[entries.sample[is_own]] = True
    is_kept &= ~np.isin(samples.place, list(without))
    base = samples.base.copy()
    np.add.at(base, entries.sample[~is_own], contributions(problem, samples, numbers)[0][~is_own])
    rows = is_own & is_kept[entries.sample]
    return replace(
        samples,
        place=samples.place[is_kept],
        base=base[is_kept],
        measured=samples.measured[is_kept],
        noise=samples.noise[is_kept],
        entries=Entries(
            sample=(np.cumsum(is_kept) - 1)[entries.sample[rows]],
            dye=np.searchsorted(dyes, entries.dye[rows]),
            depth_owf=entries.depth_owf[rows],
            columns=entries.columns[rows],
        ),
    )


def only(problem: Problem, place: int) -> Samples:
    """Return the sample at a place, alone, with all its dyes."""
    samples = next(each for each in problem.samples if place in each.place)
    row = int(np.flatnonzero(samples.place == place)[0])
    own = samples.entries.sample == row
    entries = samples.entries
    return replace(
        samples,
        place=samples.place[row : row + 1],
        base=samples.base[row : row + 1],
        measured=samples.measured[row : row + 1],
        noise=samples.noise[row : row + 1],
        entries=Entries(np.zeros(own.sum(), int), entries.dye[own], entries.depth_owf[own], entries.columns[own]),
    )


def as_lab(samples: Samples) -> Samples:
    """Return samples as if they had been read as Labs.

    With the noise that their curves' has in ΔE00, which near black is far above that of a paler reading, and no less
    than the instrument's usual.
    """
    if not samples.is_curve:
        return samples
    ratio = k_over_s(samples.measured)
    by_ratio = lab_slopes(ratio, samples.weights, samples.white)[1]
    slope = reflectance_slope(ratio, samples.measured)
    labs = measured_labs(samples)
    felt = ciede2000_metric(labs) @ np.swapaxes(by_ratio * (samples.noise / slope)[..., None], 1, 2)
    noise = np.maximum(np.linalg.norm(felt, axis=2), LAB_NOISE["spectrophotometer"])
    return replace(samples, is_curve=False, measured=labs, noise=noise)
