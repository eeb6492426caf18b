"""The most probable numbers of dyes, given measured samples: the numerical part of the fit.

Of each dye: ln k at 31 wavelengths, ln h and the power of its build-up, and the logarithms of its strength on each
further base and from each tub. Gauss-Newton with damping (Levenberg, Quart. Appl. Math. 2 (1944) 164) on the measured
colours and on what is believed beforehand; the uncertainty is the inverse curvature at the end (Laplace's
approximation). What a pot's depth scatters by is part of each sample's noise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import ciede2000_metric, lab_from_xyz
from dyewright.core.mixing.curvature import MixRows, System
from dyewright.core.mixing.kubelka import reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.samples import N, Samples
from dyewright.core.mixing.shelf import (
    BEND,
    BLEND_SHIFT,
    MIX_SHARE,
    MODEL_DE00,
    PIVOT_OWF,
    POWER,
    REPEAT_SD,
    lab_slopes,
)

__all__ = [
    "Fitted",
    "Problem",
    "believed",
    "contributions",
    "cost_of",
    "descend",
    "fitted_labs",
    "judged",
    "measured_labs",
    "own_misfits",
    "part_of",
]

Array = NDArray[np.float64]
Places = NDArray[np.intp]

# What is believed of the second difference of ln k at 10 nm: a band of the shape of a Gauss curve with a standard
# deviation of s nm bends by -(10/s)² everywhere, -0.08 at 35 nm, -0.5 at 14 nm; shoulders and second bands bend back
# (estimate: wide enough that the band holds for narrow bands and double peaks known from one swatch).
CURVATURE, CURVATURE_SD = -0.08, 0.22
LOOSENESS = 4.0  # standard deviation of ln k about its first guess: keeps only what no swatch shows from drifting away
# Build-up of acid dyes on wool: bends at a few per cent; K/S hardly grows above 17 (Safi, Ameri, Ansari, Phys. Scr. 96
# (2021) 125832) and powers from 0.8 to 1 are in use (from memory); the numbers are estimates.
HALF_DEPTH_OWF, LOG_HALF_DEPTH_SD = 0.25, 1.0
POWER_SD = 0.15
BASE_SD = 0.25  # of ln strength on another base, what all dyes have in common (estimate)
OWN_BASE_SD = 0.1  # and each dye's own part of it (estimate)
TUB_SD = 0.1  # of ln strength from one tub of a dye to the next (estimate)

FIRST_FACTOR = 33  # the place of the first factor of strength: those of bases, then those of tubs

TRUSTED_ROWS = 10  # how much the supposed noise counts against that which samples show (estimate)
MAX_STEPS = 30
LONGEST_STEP = 2.0  # of a number in one step
HOPELESS = 1e6  # damping at which no step helps any more
SMALL_GAIN = 1e-2  # of the cost, a chi-squared, to stop


@dataclass(frozen=True)
class Problem:
    """Samples, first guesses of curves (n, 31), what is believed of dyes' numbers, `centre` (n, p), and further bases.

    `is_base_common` says whether the strengths of all dyes on one base hang together; else each has its own centre.
    `theory_de00` is what the theory gets wrong of mixes, a component.
    """

    samples: tuple[Samples, ...]
    first: Array
    centre: Array
    n_bases: int
    is_base_common: bool
    is_blend: NDArray[np.bool_]
    surface_frac: float
    theory_de00: float = MODEL_DE00

    @property
    def start(self) -> Array:
        """The numbers that a fit begins with: the curves as first guessed, all else as believed."""
        numbers = self.centre.copy()
        numbers[:, :N] = np.log(self.first)
        return numbers

    @property
    def precision(self) -> Array:
        """What is believed of one dye's numbers, as an inverse covariance (p, p), without the common part of bases."""
        size = self.centre.shape[1]
        precision = np.zeros((size, size))
        precision[:N, :N] = _curve_precision()
        sds = [LOG_HALF_DEPTH_SD, POWER_SD, *[OWN_BASE_SD] * self.n_bases]
        sds += [TUB_SD] * (size - N - len(sds))
        precision[range(N, size), range(N, size)] = np.array(sds) ** -2.0
        return precision

    @property
    def links(self) -> tuple[Array, Array]:
        """Columns (n, p, b) and weights (b,) that take what all dyes have in common on a base out of the precision."""
        count, size = self.centre.shape
        n_bases = self.n_bases if self.is_base_common else 0
        columns = np.zeros((count, size, n_bases))
        for base in range(n_bases):
            columns[:, FIRST_FACTOR + base, base] = 1
        own, common = OWN_BASE_SD**2, BASE_SD**2
        return columns, np.full(n_bases, -common / (own * (own + count * common)))


@cache
def _bend_rows() -> Array:
    rows: Array = (np.eye(N) - 2 * np.eye(N, k=1) + np.eye(N, k=2))[:-2] / CURVATURE_SD
    return rows


@cache
def _curve_precision() -> Array:
    precision: Array = _bend_rows().T @ _bend_rows() + np.eye(N) / LOOSENESS**2
    return precision


def believed(first_guess: Array, n_factors: int) -> Array:
    """Return the centre (n, p) of what is believed of dyes whose curves are first guessed as these, (n, 31).

    For the curves it is the one nearest the guess that bends as believed, each within its deviation.
    """
    bend = _bend_rows().T @ np.full(N - 2, CURVATURE / CURVATURE_SD)
    curves = np.linalg.solve(_curve_precision(), bend[:, None] + np.log(first_guess).T / LOOSENESS**2).T
    rest = np.zeros((len(curves), 2 + n_factors))
    rest[:, 0], rest[:, 1] = np.log(HALF_DEPTH_OWF), 1
    return np.hstack([curves, rest])


@dataclass(frozen=True)
class Part:
    """Samples read alike, seen from a state: misfits (s, m), slopes of each entry (e, m, p), and whitening (s, m, m).

    Misfits are in ΔE00 or in units of noise; times `whitening` they have deviation 1 and do not hang together.
    """

    misfit: Array
    slopes: Array
    whitening: Array


@dataclass(frozen=True)
class Fitted:
    """The numbers of dyes (n, p), how sure they are (n, p, n, p), and the cost."""

    numbers: Array
    covariance: Array
    cost: float


def contributions(problem: Problem, samples: Samples, numbers: Array) -> tuple[Array, Array]:
    """Return what each entry adds to K/S (e, 31), and its slopes by all that is not the curve (e, p), as shares."""
    entries = samples.entries
    own = numbers[entries.dye]
    is_factor = entries.columns >= 0
    rows = np.arange(len(own))[:, None]
    log_strength = np.where(is_factor, own[rows, entries.columns], 0).sum(axis=1)
    logs = np.log(entries.depth_owf / PIVOT_OWF) + log_strength
    counted = PIVOT_OWF * np.exp(own[:, POWER] * logs)
    left = 1 / (1 + counted * np.exp(-own[:, BEND]))
    shares = np.zeros((len(own), problem.centre.shape[1] + 1))  # the last takes what has no factor
    shares[:, BEND] = 1 - left
    shares[:, POWER] = left * logs
    np.put_along_axis(shares, np.where(is_factor, entries.columns, -1), (left * own[:, POWER])[:, None], axis=1)
    return (counted * left)[:, None] * np.exp(own[:, :N]), shares[:, :-1]


def _misfit(problem: Problem, samples: Samples, numbers: Array) -> tuple[Array, Array, Array, Array]:
    """Return misfits (s, m), their slopes by K/S (s, m, 31), and what each entry adds with its shares."""
    parts, shares = contributions(problem, samples, numbers)
    ratio = samples.base.copy()
    np.add.at(ratio, samples.entries.sample, parts)
    surface = problem.surface_frac
    if samples.is_curve:
        body = reflectance_from_k_over_s(ratio)
        slopes = (1 - surface) * reflectance_slope(ratio, body) / samples.noise
        misfit = (surface + (1 - surface) * body - samples.measured) / samples.noise
        return misfit, slopes[:, :, None] * np.eye(N), parts, shares
    lab, by_ratio = lab_slopes(ratio, samples.weights, samples.white, surface)
    metric = ciede2000_metric(samples.measured)
    misfit = np.einsum("sij,sj->si", metric, lab - samples.measured)
    return misfit, metric @ np.swapaxes(by_ratio, 1, 2), parts, shares


def fitted_labs(problem: Problem, samples: Samples, numbers: Array) -> Array:
    """Return the Labs (s, 3) that samples have by the numbers, at the depths that were noted."""
    ratio = samples.base.copy()
    np.add.at(ratio, samples.entries.sample, contributions(problem, samples, numbers)[0])
    body = reflectance_from_k_over_s(ratio)
    reflectance = problem.surface_frac + (1 - problem.surface_frac) * body
    return lab_from_xyz(reflectance @ samples.weights, samples.white)


def measured_labs(samples: Samples) -> Array:
    """Return the Labs (s, 3) as they were measured."""
    return lab_from_xyz(samples.measured @ samples.weights, samples.white) if samples.is_curve else samples.measured


def part_of(problem: Problem, samples: Samples, numbers: Array) -> Part:
    """Return how samples look from a state of the numbers (n, p)."""
    misfit, by_ratio, parts, shares = _misfit(problem, samples, numbers)
    entries = samples.entries
    by_curve = by_ratio[entries.sample] * parts[:, None, :]
    whole = by_curve.sum(axis=2)
    slopes = whole[:, :, None] * shares[:, None, :]
    slopes[:, :, :N] = by_curve
    own_power = numbers[entries.dye, POWER]
    felt = whole * ((1 - shares[:, BEND]) * own_power)[:, None]
    return Part(misfit, slopes, _whitening(problem, samples, felt, whole))


def _whitening(problem: Problem, samples: Samples, felt: Array, whole: Array) -> Array:
    """Return the inverse root (s, m, m) of the covariance of each sample: reading, pots' depths, theory, blends."""
    entries = samples.entries
    count, rows = samples.measured.shape
    is_mix = np.bincount(entries.sample, minlength=count) > 1
    if samples.is_curve:
        share = MIX_SHARE * problem.theory_de00 / MODEL_DE00
        variance = 1 + (is_mix[:, None] * share * samples.measured / samples.noise) ** 2
    else:
        variance = samples.noise**2 + (is_mix * problem.theory_de00**2)[:, None]
    shifted = np.where(problem.is_blend[entries.dye], np.sum((BLEND_SHIFT * whole) ** 2, axis=1) / rows, 0)
    variance = variance + np.bincount(entries.sample, shifted, count)[:, None]
    covariance = variance[:, :, None] * np.eye(rows)
    np.add.at(covariance, entries.sample, REPEAT_SD**2 * felt[:, :, None] * felt[:, None, :])
    return np.linalg.inv(np.linalg.cholesky(covariance))


def _system(problem: Problem, parts: Sequence[Part], numbers: Array) -> System:
    off = numbers - problem.centre
    precision, (links, weights) = problem.precision, problem.links
    gradient = off @ precision + links @ (weights * np.einsum("npb,np->b", links, off))
    blocks = np.repeat(precision[None], len(numbers), axis=0)
    mixes = []
    for samples, part in zip(problem.samples, parts, strict=True):
        entries = samples.entries
        rows = part.whitening[entries.sample] @ part.slopes
        off_rows = np.einsum("sij,sj->si", part.whitening, part.misfit)[entries.sample]
        np.add.at(gradient, entries.dye, np.einsum("emp,em->ep", rows, off_rows))
        is_alone = np.bincount(entries.sample)[entries.sample] == 1
        np.add.at(blocks, entries.dye[is_alone], np.swapaxes(rows[is_alone], 1, 2) @ rows[is_alone])
        if not is_alone.all():
            mixes.append(MixRows(entries.sample[~is_alone], entries.dye[~is_alone], rows[~is_alone]))
    return System(gradient, blocks, links, weights, mixes)


def descend(problem: Problem, numbers: Array) -> Array:
    """Return the most probable numbers (n, p) near a start."""
    damping = 1e-3
    parts = [part_of(problem, samples, numbers) for samples in problem.samples]
    system = _system(problem, parts, numbers)
    for _ in range(MAX_STEPS):
        trial = numbers + np.clip(system.step(damping), -LONGEST_STEP, LONGEST_STEP)
        gain = _cost(problem, parts, numbers) - _cost(problem, parts, trial)
        if gain < 0:
            damping *= 10
            if damping > HOPELESS:
                break
            continue
        numbers, damping = trial, damping / 10
        if gain < SMALL_GAIN:
            break
        parts = [part_of(problem, samples, numbers) for samples in problem.samples]
        system = _system(problem, parts, numbers)
    return numbers


def cost_of(problem: Problem, numbers: Array) -> float:
    """Return squared misfits over their noise and what beliefs add."""
    return _cost(problem, [part_of(problem, samples, numbers) for samples in problem.samples], numbers)


def judged(problem: Problem, numbers: Array) -> Fitted:
    """Return numbers (n, p) that are the most probable with how sure they are."""
    parts = [part_of(problem, samples, numbers) for samples in problem.samples]
    covariance = _system(problem, parts, numbers).inverse()
    wider = np.sqrt(_disagreement(problem, parts, covariance))
    covariance *= wider[:, None, None, None] * wider[:, None]
    return Fitted(numbers, covariance, _cost(problem, parts, numbers))


def _cost(problem: Problem, parts: Sequence[Part], numbers: Array) -> float:
    """Return squared misfits over their noise, as it was seen from the last state, and what beliefs add."""
    off = numbers - problem.centre
    links, weights = problem.links
    along = np.einsum("npb,np->b", links, off)
    cost = float(np.sum(off @ problem.precision * off) + weights @ along**2)
    for samples, part in zip(problem.samples, parts, strict=True):
        misfit = _misfit(problem, samples, numbers)[0]
        cost += float(np.sum(np.einsum("sij,sj->si", part.whitening, misfit) ** 2))
    return cost


def _disagreement(problem: Problem, parts: Sequence[Part], covariance: Array) -> Array:
    """Return how far, squared, the samples lie from the fit against their noise, for each dye: 1 where as supposed.

    The squared misfit is compared with its degrees of freedom: the rows of samples less the share of the numbers that
    they, and not the beliefs, settle. The answer for the shelf leans on 1, that for each group of dyes joined by mixes
    on the shelf's, each as if TRUSTED_ROWS rows had said so.
    """
    count, size = problem.centre.shape
    groups = _joined_dyes(problem)
    squared, rows = np.zeros((2, count))
    for samples, part in zip(problem.samples, parts, strict=True):
        first_dye = groups[samples.entries.dye[np.unique(samples.entries.sample, return_index=True)[1]]]
        off = np.einsum("sij,sj->si", part.whitening, part.misfit)
        np.add.at(squared, first_dye, np.sum(off**2, axis=1))
        np.add.at(rows, first_dye, off.shape[1])
    settled = size - np.einsum("ipiq,pq->i", covariance, problem.precision)
    free = np.maximum(rows - np.bincount(groups, settled, count), 0)
    of_shelf = (squared.sum() + TRUSTED_ROWS) / (free.sum() + TRUSTED_ROWS)
    answer: Array = np.maximum(1, (squared + TRUSTED_ROWS * of_shelf) / (free + TRUSTED_ROWS))[groups]
    return answer


def own_misfits(problem: Problem, numbers: Array) -> tuple[Array, Array]:
    """Return the squared misfit over noise of the samples that hold each dye (n,), and how many rows they have (n,)."""
    squared, rows = np.zeros((2, len(numbers)))
    for samples in problem.samples:
        part = part_of(problem, samples, numbers)
        off = np.sum(np.einsum("sij,sj->si", part.whitening, part.misfit) ** 2, axis=1)
        np.add.at(squared, samples.entries.dye, off[samples.entries.sample])
        np.add.at(rows, samples.entries.dye, part.misfit.shape[1])
    return squared, rows


def _joined_dyes(problem: Problem) -> Places:
    """Return each dye's group (n,): two are in one group if a chain of mixes joins them."""
    groups = np.arange(len(problem.centre))
    for samples in problem.samples:
        for sample in range(len(samples.place)):
            together = groups[samples.entries.dye[samples.entries.sample == sample]]
            groups[np.isin(groups, together)] = together.min()
    return groups
