"""The most probable absorption curves of dyes, given measured samples: the numerical part of the fit.

Gauss-Newton with damping (Levenberg, Quart. Appl. Math. 2 (1944) 164) on the measured colours, the depths and what is
believed of absorption bands beforehand; the uncertainty is the inverse curvature at the end (Laplace's approximation).
Each sample touches only its own dyes, so the curvature is built from small blocks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import (
    ciede2000_metric,
    delta_e00,
    lab_from_xyz,
    reflectance_from_xyz,
    xyz_from_lab,
)
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.shelf import REPEAT_SD, lab_slopes
from dyewright.core.model import WAVELENGTHS_NM
from dyewright.errors import OutOfRangeError

__all__ = ["Sample", "curve_or_grey", "fit_groups"]

Array = NDArray[np.float64]

N = len(WAVELENGTHS_NM)

CURVE_NOISE = 0.002  # standard deviation of a measured reflectance near black (estimate)
CURVE_NOISE_SHARE = 0.01  # and its share of the reflectance (estimate)
# What is believed of the second difference of ln k at 10 nm: a band of the shape of a Gauss curve with a standard
# deviation of s nm bends by -(10/s)² everywhere, -0.08 at 35 nm; shoulders and second bands bend back (estimate).
BEND, BEND_SD = -0.08, 0.15
LOOSENESS = 8.0  # standard deviation of ln k about its first guess: keeps only what no swatch shows from drifting away
FAINTEST = 1e-3  # first guess: no curve falls below this share of its peak
MAX_STEPS = 30
LONGEST_STEP = 2.0  # of ln k
HOPELESS = 1e6  # damping at which no step helps any more
SMALL_GAIN = 1e-3  # of the cost, a chi-squared, to stop


@dataclass(frozen=True)
class Sample:
    """A swatch made ready: the depths of its dyes, its base's K/S, and either a curve or a Lab with its light."""

    depths: Array
    base: Array
    curve: Array | None
    lab: Array
    weights: Array
    white: Array
    noise: float


def fit_groups(samples: Sequence[Sample], n_dyes: int) -> tuple[Array, Array, tuple[float, ...]]:
    """Return curves (n, 31), covariances of their logarithms (n, 31, 31) and mean misfits in ΔE00 (n).

    Only the dyes that mixes join are fitted together.
    """
    curves, covariance, misfit = np.empty((n_dyes, N)), np.empty((n_dyes, N, N)), np.empty(n_dyes)
    for group in _joined_dyes(samples, n_dyes):
        own = [sample for sample in samples if np.any(sample.depths[group] > 0)]
        curves[group], covariance[group], off = _fit_group(own, group)
        for dye in group:
            misfit[dye] = np.mean([de for de, sample in zip(off, own, strict=True) if sample.depths[dye] > 0])
    return curves, covariance, tuple(misfit.tolist())


def _joined_dyes(samples: Sequence[Sample], n_dyes: int) -> list[list[int]]:
    """Return the dyes in groups: two are in one group if a chain of mixes joins them."""
    group_of = list(range(n_dyes))
    for sample in samples:
        together = {group_of[dye] for dye in np.flatnonzero(sample.depths)}
        group_of = [min(together) if group in together else group for group in group_of]
    return [[dye for dye in range(n_dyes) if group_of[dye] == group] for group in sorted(set(group_of))]


@dataclass(frozen=True)
class _Group:
    """The samples of a group of dyes, the depths (s, g) of just these dyes, and the first guess of ln k (g, 31)."""

    samples: tuple[Sample, ...]
    depths: Array
    first: Array


@dataclass(frozen=True)
class _Fit:
    """The state of a fit: ln k (g, 31), the logarithm of each sample's depth error (s), and what they cost.

    `gradient` and `hessian` are halves of those of the cost, over ln k dye by dye and then the depth errors;
    `data_cost` and `data_rows` leave out what is believed of the curves.
    """

    log_curves: Array
    depth_errors: Array
    cost: float
    gradient: Array
    hessian: Array
    data_cost: float
    data_rows: int


def _fit_group(samples: Sequence[Sample], dyes: list[int]) -> tuple[Array, Array, list[float]]:
    """Return curves (g, 31), covariances of their logarithms (g, 31, 31) and the misfit of each sample in ΔE00."""
    depths = np.array([sample.depths[dyes] for sample in samples])
    group = _Group(tuple(samples), depths, np.log(_first_guess(samples, depths)))
    fit = _evaluated(group, group.first, np.zeros(len(samples)))
    damping = 1e-3
    for _ in range(MAX_STEPS):
        damped = fit.hessian.copy()
        damped.flat[:: len(damped) + 1] *= 1 + damping
        step = np.clip(np.linalg.solve(damped, -fit.gradient), -LONGEST_STEP, LONGEST_STEP)
        by_curve, by_depth = step[: -len(samples)].reshape(group.first.shape), step[-len(samples) :]
        trial = _evaluated(group, fit.log_curves + by_curve, fit.depth_errors + by_depth)
        if trial.cost > fit.cost:
            damping *= 10
            if damping > HOPELESS:
                break
            continue
        gain, fit, damping = fit.cost - trial.cost, trial, damping / 10
        if gain < SMALL_GAIN:
            break
    return np.exp(fit.log_curves), _covariance(fit), _misfits(group, fit)


def _first_guess(samples: Sequence[Sample], depths: Array) -> Array:
    """Return curves from each swatch on its own, shared among the dyes of a mix by depth, averaged."""
    added = np.array([np.maximum(k_over_s(_own_curve(sample)) - sample.base, 0) for sample in samples])
    per_depth = added / depths.sum(axis=1, keepdims=True)
    # A swatch of one dye says more about it than a mix does.
    weight = (depths > 0) / np.maximum((depths > 0).sum(axis=1, keepdims=True), 1) ** 4
    guess = (weight.T @ per_depth) / weight.sum(axis=0)[:, None]
    peak = np.maximum(guess.max(axis=1, keepdims=True), 1e-2)
    curves: Array = np.maximum(guess, FAINTEST * peak)
    return curves


def _own_curve(sample: Sample) -> Array:
    if sample.curve is not None:
        return sample.curve
    return curve_or_grey(xyz_from_lab(sample.lab, sample.white), sample.weights)


def curve_or_grey(xyz: Array, weights: Array) -> Array:
    """Return a smooth curve with this XYZ; a grey of the same Y where noise has made the colour impossible."""
    try:
        return reflectance_from_xyz(xyz, weights)
    except OutOfRangeError:
        return np.full(N, np.clip(xyz[1] / 100, 1e-3, 1))


@cache
def _bands() -> tuple[Array, Array]:
    """Return the rows and the values of what is believed of the bend of one dye's ln k, with deviation 1."""
    bend = (np.eye(N) - 2 * np.eye(N, k=1) + np.eye(N, k=2))[:-2]
    return bend / BEND_SD, np.full(N - 2, BEND / BEND_SD)


def _evaluated(group: _Group, log_curves: Array, depth_errors: Array) -> _Fit:
    """Return the cost of a state with its slopes: squared misfits, each over its standard deviation."""
    n_dyes, n_samples = log_curves.shape[0], len(group.samples)
    gradient = np.zeros(n_dyes * N + n_samples)
    hessian = np.zeros((len(gradient), len(gradient)))
    prior_cost = _add_prior(group, log_curves, gradient, hessian)
    errors = slice(n_dyes * N, None)
    gradient[errors] = depth_errors / REPEAT_SD**2
    hessian[errors, errors] = np.eye(n_samples) / REPEAT_SD**2
    data_cost, data_rows = float(depth_errors @ depth_errors) / REPEAT_SD**2, n_samples
    for index, sample in enumerate(group.samples):
        used = np.flatnonzero(group.depths[index])
        per_dye = np.exp(depth_errors[index]) * group.depths[index, used, None] * np.exp(log_curves[used])
        by_ratio, off = _sample_misfit(sample, sample.base + per_dye.sum(axis=0))  # (m, 31), (m,)
        by_curve = (by_ratio[:, None, :] * per_dye).reshape(len(off), -1)
        slopes = np.hstack([by_curve, (by_ratio @ per_dye.sum(axis=0))[:, None]])
        places = np.concatenate([*(np.arange(dye * N, dye * N + N) for dye in used), [n_dyes * N + index]])
        gradient[places] += slopes.T @ off
        hessian[np.ix_(places, places)] += slopes.T @ slopes
        data_cost += float(off @ off)
        data_rows += len(off)
    return _Fit(log_curves, depth_errors, prior_cost + data_cost, gradient, hessian, data_cost, data_rows)


def _add_prior(group: _Group, log_curves: Array, gradient: Array, hessian: Array) -> float:
    """Add what is believed of the curves to the slopes, and return what it costs."""
    rows, values = _bands()
    bent = log_curves @ rows.T - values
    drifted = (log_curves - group.first) / LOOSENESS
    gradient[: log_curves.size] = (bent @ rows + drifted / LOOSENESS).ravel()
    for dye in range(len(log_curves)):
        own = slice(dye * N, dye * N + N)
        hessian[own, own] = _prior_curvature()
    return float(np.sum(bent**2) + np.sum(drifted**2))


@cache
def _prior_curvature() -> Array:
    rows, _ = _bands()
    curvature: Array = rows.T @ rows + np.eye(N) / LOOSENESS**2
    return curvature


def _sample_misfit(sample: Sample, ratio: Array) -> tuple[Array, Array]:
    """Return the slopes by K/S and the misfit of one sample, both over the noise of its measurement."""
    if sample.curve is not None:
        reflectance = reflectance_from_k_over_s(ratio)
        noise = np.hypot(CURVE_NOISE, CURVE_NOISE_SHARE * sample.curve)
        return np.diag(reflectance_slope(ratio, reflectance) / noise), (reflectance - sample.curve) / noise
    lab, slopes = lab_slopes(ratio, sample.weights, sample.white)
    metric = ciede2000_metric(sample.lab) / sample.noise
    return metric @ slopes.T, metric @ (lab - sample.lab)


def _covariance(fit: _Fit) -> Array:
    """Return the covariance (g, 31, 31) of each dye's ln k, widened where the samples disagree beyond their noise.

    The squared misfit is compared with its degrees of freedom: the rows of samples and depths less the share of the
    state that they, and not the beliefs, settle.
    """
    n_dyes = len(fit.log_curves)
    inverse = np.linalg.inv(fit.hessian)
    blocks = np.array([inverse[dye * N : (dye + 1) * N, dye * N : (dye + 1) * N] for dye in range(n_dyes)])
    settled = len(fit.gradient) - sum(float(np.sum(block * _prior_curvature())) for block in blocks)
    free = max(fit.data_rows - settled, 1.0)
    widened = max(1.0, fit.data_cost / free) if len(fit.depth_errors) > 1 else 1.0
    covariance: Array = blocks * widened
    return covariance


def _misfits(group: _Group, fit: _Fit) -> list[float]:
    """Return how far the fit lies from each sample, in ΔE00, at the depth that was noted."""
    curves = np.exp(fit.log_curves)
    off = []
    for sample, depths in zip(group.samples, group.depths, strict=True):
        reflectance = reflectance_from_k_over_s(sample.base + depths @ curves)
        off.append(float(delta_e00(sample.lab, lab_from_xyz(reflectance @ sample.weights, sample.white))))
    return off
