"""One absorption curve per dye, fitted jointly to all its swatches and to the mixes that hold it.

The most probable curves given the swatches: measured colours with their noise, depths with theirs, and smooth curves
beforehand (Gauss-Newton with damping; uncertainty from the curvature at the end, Laplace's approximation). Fitting one
curve to a whole ladder is what makes swatches of which only a Lab is known useful: each depth filters the light anew.

Source of the model: see `kubelka`. The noise figures and the smoothness are estimates, named below.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import (
    ciede2000_metric,
    delta_e00,
    lab_from_xyz,
    light_of,
    reflectance_from_xyz,
    xyz_from_lab,
)
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.shelf import REPEAT_SD, ShelfModel, lab_slopes
from dyewright.core.model import WAVELENGTHS_NM, ObserverTables, Swatch
from dyewright.errors import InputError, OutOfRangeError

__all__ = ["fit_shelf"]

Array = NDArray[np.float64]

N = len(WAVELENGTHS_NM)

# Standard deviation of one Lab reading, in ΔE00 a component (estimate): the tool itself is not asked for it.
LAB_NOISE = {"spectrophotometer": 0.15, "colorimeter": 0.3, "photo": 1.5, "invented": 0.3}
CURVE_NOISE = 0.002  # standard deviation of a measured reflectance near black (estimate)
CURVE_NOISE_SHARE = 0.01  # and its share of the reflectance (estimate)
# What is believed of the second difference of ln k at 10 nm: a band of the shape of a Gauss curve with a standard
# deviation of s nm bends by -(10/s)² everywhere, -0.08 at 35 nm; shoulders and second bands bend back (estimate).
BEND, BEND_SD = -0.08, 0.15
LOOSENESS = 8.0  # standard deviation of ln k about its first guess: keeps only what no swatch shows from drifting away
FAINTEST = 1e-3  # first guess: no curve falls below this share of its peak
MAX_STEPS = 30
SMALL_STEP = 1e-4  # of ln k, to stop


@dataclass(frozen=True)
class _Sample:
    """A swatch made ready: the depths of its dyes, its base's K/S, and either a curve or a Lab with its light."""

    depths: Array
    base: Array
    curve: Array | None
    lab: Array
    weights: Array
    white: Array
    noise: float


def fit_shelf(swatches: Sequence[Swatch], tables: ObserverTables, *, base: str | None = None) -> ShelfModel:
    """Return the dyes of a set of swatches over one of its bases.

    Args:
        swatches: those of the undyed bases (no dyes) and of dyed yarn, single or mixed.
        tables: lights and observers.
        base: the base to dye on; the one with most swatches where None. Dyes known from another base only are taken
            over by their own undyed colours, and a note says so.

    Raises:
        InputError: no dyed swatch, a base whose undyed colour is missing, or a swatch that cannot be.
    """
    bases = _undyed_bases(swatches, tables)
    dyed = [swatch for swatch in swatches if swatch.depths_owf]
    if not dyed:
        raise InputError("there is no dyed swatch: one of each dye at a known depth is enough to start", field="shelf")
    for swatch in dyed:
        _require_base(swatch.base, bases)
    chosen = base if base is not None else _most_used([swatch.base for swatch in dyed])
    _require_base(chosen, bases)
    dyes = tuple(dict.fromkeys(name for swatch in dyed for name in swatch.depths_owf))
    samples = [_sample(swatch, dyes, bases, tables) for swatch in dyed]
    curves, covariance, fit_de00 = _fit_groups(samples, len(dyes))
    using = [[swatch for swatch in dyed if name in swatch.depths_owf] for name in dyes]
    return ShelfModel(
        dyes=dyes,
        base=chosen,
        curves=curves,
        log_covariance=covariance,
        base_k_over_s=bases[chosen],
        swatch_counts=tuple(len(own) for own in using),
        deepest_owf=tuple(
            max(swatch.depths_owf[name] for swatch in own) for name, own in zip(dyes, using, strict=True)
        ),
        fit_de00=fit_de00,
        is_spectral=all(swatch.reflectance is not None for swatch in dyed),
        notes=_notes(chosen, base, bases, dict(zip(dyes, using, strict=True))),
    )


def _undyed_bases(swatches: Sequence[Swatch], tables: ObserverTables) -> dict[str, Array]:
    """Return the K/S of each base, the mean where it was measured several times."""
    found: dict[str, list[Array]] = {}
    for swatch in swatches:
        if not swatch.depths_owf:
            found.setdefault(swatch.base, []).append(_curve(swatch, tables))
    return {name: k_over_s(np.mean(curves, axis=0)) for name, curves in found.items()}


def _require_base(name: str, bases: Mapping[str, Array]) -> None:
    if name not in bases:
        raise InputError(
            f"base {name!r} has no undyed swatch, and a dye's colour is what it adds to the undyed yarn: "
            "measure the undyed base and add it as a row with depth 0",
            field="base",
            value=name,
        )


def _most_used(names: Sequence[str]) -> str:
    return max(dict.fromkeys(names), key=names.count)


def _curve(swatch: Swatch, tables: ObserverTables) -> Array:
    if swatch.reflectance is not None:
        return np.array(swatch.reflectance)
    if swatch.lab is None:
        raise InputError(f"{_label(swatch)} has neither a curve nor a Lab", field="shelf")
    weights, white = light_of(tables, swatch.illuminant, swatch.observer)
    return _curve_or_grey(xyz_from_lab(swatch.lab, white), weights)


def _curve_or_grey(xyz: Array, weights: Array) -> Array:
    """Return a smooth curve with this XYZ; a grey of the same Y where noise has made the colour impossible."""
    try:
        return reflectance_from_xyz(xyz, weights)
    except OutOfRangeError:
        return np.full(N, np.clip(xyz[1] / 100, 1e-3, 1))


def _label(swatch: Swatch) -> str:
    mix = " + ".join(f"{name} {100 * depth:g} %" for name, depth in swatch.depths_owf.items())
    return f"the swatch {mix or 'undyed'} on {swatch.base}"


def _sample(swatch: Swatch, dyes: tuple[str, ...], bases: Mapping[str, Array], tables: ObserverTables) -> _Sample:
    for name, depth in swatch.depths_owf.items():
        if not (np.isfinite(depth) and 0 < depth <= 1):
            raise InputError(
                f"{_label(swatch)} gives {name} a depth of {100 * depth:g} %; it must be above 0 % and at most 100 %",
                field="depth_percent",
                value=depth,
                limit=1,
            )
    curve = None if swatch.reflectance is None else np.array(swatch.reflectance)
    light = ("D65", 10) if curve is not None else (swatch.illuminant, swatch.observer)
    weights, white = light_of(tables, *light)
    if curve is None and swatch.lab is None:
        raise InputError(f"{_label(swatch)} has neither a curve nor a Lab", field="shelf")
    lab = np.array(swatch.lab) if curve is None else lab_from_xyz(curve @ weights, white)
    return _Sample(
        depths=np.array([swatch.depths_owf.get(name, 0.0) for name in dyes]),
        base=bases[swatch.base],
        curve=curve,
        lab=lab,
        weights=weights,
        white=white,
        noise=LAB_NOISE.get(swatch.source, LAB_NOISE["photo"]),
    )


def _fit_groups(samples: Sequence[_Sample], n_dyes: int) -> tuple[Array, Array, tuple[float, ...]]:
    """Return curves, covariances and mean misfits, fitting together only the dyes that mixes join."""
    curves, covariance, misfit = np.empty((n_dyes, N)), np.empty((n_dyes, N, N)), np.empty(n_dyes)
    for group in _joined_dyes(samples, n_dyes):
        own = [sample for sample in samples if np.any(sample.depths[group] > 0)]
        curves[group], covariance[group], off = _fit_group(own, group)
        for dye in group:
            misfit[dye] = np.mean([de for de, sample in zip(off, own, strict=True) if sample.depths[dye] > 0])
    return curves, covariance, tuple(misfit.tolist())


def _joined_dyes(samples: Sequence[_Sample], n_dyes: int) -> list[list[int]]:
    """Return the dyes in groups: two are in one group if a chain of mixes joins them."""
    group_of = list(range(n_dyes))
    for sample in samples:
        together = {group_of[dye] for dye in np.flatnonzero(sample.depths)}
        group_of = [min(together) if group in together else group for group in group_of]
    return [[dye for dye in range(n_dyes) if group_of[dye] == group] for group in sorted(set(group_of))]


def _fit_group(samples: Sequence[_Sample], group: list[int]) -> tuple[Array, Array, list[float]]:
    """Return curves (g, 31), covariances of their logarithms (g, 31, 31) and the misfit of each sample in ΔE00."""
    depths = np.array([sample.depths[group] for sample in samples])
    first = np.log(_first_guess(samples, depths))
    state = np.concatenate([first.ravel(), np.zeros(len(samples))])  # ln k of each dye, then ln of each depth's error
    prior, prior_pull = _prior(first, len(samples))
    damping = 1e-3
    cost, slopes, off = _misfit(samples, depths, state, prior, prior_pull)
    for _ in range(MAX_STEPS):
        hessian = slopes.T @ slopes
        step = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), -slopes.T @ off)
        trial = state + np.clip(step, -2, 2)
        trial_cost, trial_slopes, trial_off = _misfit(samples, depths, trial, prior, prior_pull)
        if trial_cost > cost:
            damping *= 10
            if damping > 1e6:
                break
            continue
        state, cost, slopes, off, damping = trial, trial_cost, trial_slopes, trial_off, damping / 10
        if np.abs(step).max() < SMALL_STEP:
            break
    return _fitted(samples, depths, state, slopes, off)


def _first_guess(samples: Sequence[_Sample], depths: Array) -> Array:
    """Return curves from each swatch on its own, shared among the dyes of a mix by depth, averaged."""
    added = np.array([np.maximum(k_over_s(_own_curve(sample)) - sample.base, 0) for sample in samples])
    per_depth = added / depths.sum(axis=1, keepdims=True)
    # A swatch of one dye says more about it than a mix does.
    weight = (depths > 0) / np.maximum((depths > 0).sum(axis=1, keepdims=True), 1) ** 4
    guess = (weight.T @ per_depth) / weight.sum(axis=0)[:, None]
    peak = np.maximum(guess.max(axis=1, keepdims=True), 1e-2)
    curves: Array = np.maximum(guess, FAINTEST * peak)
    return curves


def _own_curve(sample: _Sample) -> Array:
    if sample.curve is not None:
        return sample.curve
    return _curve_or_grey(xyz_from_lab(sample.lab, sample.white), sample.weights)


def _prior(first: Array, n_samples: int) -> tuple[Array, Array]:
    """Return the rows P and the vector p of what is believed beforehand: P·state - p is normal with deviation 1."""
    n_dyes = len(first)
    size = n_dyes * N + n_samples
    bend = (np.eye(N) - 2 * np.eye(N, k=1) + np.eye(N, k=2))[:-2] / BEND_SD
    per_dye = np.vstack([bend, np.eye(N) / LOOSENESS])
    rows = np.zeros((n_dyes * len(per_dye) + n_samples, size))
    rows[: -n_samples or None, : n_dyes * N] = np.kron(np.eye(n_dyes), per_dye)
    rows[-n_samples:, n_dyes * N :] = np.eye(n_samples) / REPEAT_SD
    pull = np.concatenate([np.concatenate([np.full(N - 2, BEND / BEND_SD), curve / LOOSENESS]) for curve in first])
    return rows, np.concatenate([pull, np.zeros(n_samples)])


def _misfit(
    samples: Sequence[_Sample], depths: Array, state: Array, prior: Array, prior_pull: Array
) -> tuple[float, Array, Array]:
    """Return the cost, the slopes of all weighted misfits by the state, and the misfits, the prior's rows last."""
    n_dyes = depths.shape[1]
    curves = np.exp(state[: n_dyes * N].reshape(n_dyes, N))
    errors = np.exp(state[n_dyes * N :])
    rows, off = [prior], [prior @ state - prior_pull]
    for index, sample in enumerate(samples):
        per_dye = errors[index] * depths[index][:, None] * curves  # K/S that each dye adds, (g, 31)
        ratio = sample.base + per_dye.sum(axis=0)
        by_ratio, residual = _sample_misfit(sample, ratio)  # (m, 31), (m,)
        slopes = np.zeros((len(residual), len(state)))
        slopes[:, : n_dyes * N] = (by_ratio[:, None, :] * per_dye).reshape(len(residual), -1)
        slopes[:, n_dyes * N + index] = by_ratio @ per_dye.sum(axis=0)
        rows.append(slopes)
        off.append(residual)
    all_off = np.concatenate(off)
    return float(all_off @ all_off), np.concatenate(rows), all_off


def _sample_misfit(sample: _Sample, ratio: Array) -> tuple[Array, Array]:
    """Return the slopes by K/S and the misfit of one sample, both over the noise of its measurement."""
    if sample.curve is not None:
        reflectance = reflectance_from_k_over_s(ratio)
        noise = np.hypot(CURVE_NOISE, CURVE_NOISE_SHARE * sample.curve)
        return np.diag(reflectance_slope(ratio, reflectance) / noise), (reflectance - sample.curve) / noise
    lab, slopes = lab_slopes(ratio, sample.weights, sample.white)
    metric = ciede2000_metric(sample.lab) / sample.noise
    return metric @ slopes.T, metric @ (lab - sample.lab)


def _fitted(
    samples: Sequence[_Sample], depths: Array, state: Array, slopes: Array, off: Array
) -> tuple[Array, Array, list[float]]:
    """Return the group's answer: see `_fit_group`; the covariance is widened where the swatches disagree."""
    n_dyes = depths.shape[1]
    covariance = np.linalg.inv(slopes.T @ slopes) * _disagreement(slopes, off, n_dyes, len(samples))
    blocks = np.array([covariance[dye * N : (dye + 1) * N, dye * N : (dye + 1) * N] for dye in range(n_dyes)])
    curves = np.exp(state[: n_dyes * N].reshape(n_dyes, N))
    ratios = [sample.base + depth @ curves for sample, depth in zip(samples, depths, strict=True)]
    labs = [
        lab_from_xyz(reflectance_from_k_over_s(ratio) @ sample.weights, sample.white)
        for sample, ratio in zip(samples, ratios, strict=True)
    ]
    return curves, blocks, [float(delta_e00(sample.lab, lab)) for sample, lab in zip(samples, labs, strict=True)]


def _disagreement(slopes: Array, off: Array, n_dyes: int, n_samples: int) -> float:
    """Return by what factor the squared misfit exceeds the assumed noise, 1 at least.

    Degrees of freedom: rows of the swatches and of their depths less the share of the state that they settle.
    """
    data = slice(n_dyes * (2 * N - 2), None)
    settled = np.trace(np.linalg.solve(slopes.T @ slopes, slopes[data].T @ slopes[data]))
    free = max(len(off[data]) - settled, 1.0)
    return max(1.0, float(off[data] @ off[data]) / free) if n_samples > 1 else 1.0


def _notes(
    chosen: str, asked: str | None, bases: Mapping[str, Array], using: Mapping[str, Sequence[Swatch]]
) -> tuple[str, ...]:
    notes = []
    if asked is None and len(bases) > 1:
        notes.append(f"on {chosen}, the base with most swatches; name another to dye on that")
    elsewhere = [name for name, own in using.items() if all(swatch.base != chosen for swatch in own)]
    if elsewhere:
        notes.append(
            f"not yet dyed on {chosen}: {', '.join(elsewhere)}; carried over by the undyed colours of both bases"
        )
    mixed = [name for name, own in using.items() if all(len(swatch.depths_owf) > 1 for swatch in own)]
    if mixed:
        notes.append(f"known from mixes only: {', '.join(mixed)}; a swatch of the dye alone would tell more")
    return tuple(notes)
