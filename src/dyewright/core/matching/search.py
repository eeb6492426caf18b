"""The depths at which each combination of dyes comes closest to a target, all combinations at once.

Sources: [1] K. Levenberg, Quart. Appl. Math. 2 (1944) 164-168, D. W. Marquardt, J. SIAM 11 (1963) 431-441: damped least
squares, here projected on the bounds. [2] E. Allen, J. Opt. Soc. Am. 56 (1966) 1256-1259: the start, a linear match of
K/S with each wavelength weighted by what it does to the colour.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import ciede2000_metric, ciede2000_vector, lab_from_xyz, reflectance_from_lab
from dyewright.core.mixing import ShelfModel, k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.model import Lab, ObserverTables
from dyewright.errors import OutOfRangeError

__all__ = ["DEEPEST_OWF", "Solutions", "Target", "search"]

Array = NDArray[np.float64]
Dyes = NDArray[np.intp]

DEEPEST_OWF = 0.04
"""No dye of a recipe goes deeper, as a fraction: 4 % is a full black or navy (common practice, no source)."""

CHUNK = 1024  # combinations worked on at a time, so that the arrays stay in the processor's cache
SWEEPS = 8  # of the linear start over the dyes of a combination
FROZEN_STEPS, EXACT_STEPS = 12, 12
GOOD_ENOUGH = 0.03  # ΔE00, to stop with the frozen metric
POLISHED = 2000  # combinations that go on to exact ΔE00
CLOSE_STEP = 1e-5  # of the deepest depth, to stop


@dataclass(frozen=True)
class Target:
    """A colour to reach: its Lab (D65, 10°), and its reflectance (31,) where it was measured as a curve."""

    lab: Lab
    reflectance: Array | None = None


@dataclass(frozen=True)
class Solutions:
    """What the search found, closest first.

    `depths_owf`, shape (k, n), on all dyes of the shelf; `sizes`, how many dyes the combination holds, of which the
    best depth of some may be 0; `de00`, shape (k,); and how many combinations were tried.
    """

    depths_owf: Array
    sizes: Dyes
    de00: Array
    combinations: int


@dataclass(frozen=True)
class _Job:
    """What every combination shares."""

    curves: Array
    base: Array
    weights: Array
    white: Array
    deepest_owf: float


# Takes Labs (k, 3) and gives the misfit (k, 3) and its slopes by Lab, (3, 3) or (k, 3, 3).
Misfit = Callable[[Array], tuple[Array, Array]]


def search(
    shelf: ShelfModel,
    target: Target,
    tables: ObserverTables,
    *,
    max_dyes: int = 3,
    deepest_owf: float = DEEPEST_OWF,
) -> Solutions:
    """Return the best depths of every combination of 1 to `max_dyes` dyes, the closest 2000 of them exact.

    First with the colour metric frozen at the target, then, for the closest, with CIEDE2000 itself.

    Args:
        shelf: the dyes over their base.
        target: the colour to reach.
        tables: lights and observers; the match is made under D65 for the 10° observer.
        max_dyes: dyes in a recipe, 1 to 4.
        deepest_owf: bound on each depth, fraction.
    """
    light = ("D65", 10)
    job = _Job(shelf.curves, shelf.base_k_over_s, tables.weights[light], tables.whites[light], deepest_owf)
    start = _LinearStart(job, target, tables)
    sets = [np.array(list(combinations(range(len(shelf.dyes)), size))) for size in range(1, max_dyes + 1)]
    sets = [dyes for dyes in sets if dyes.size]
    frozen = [_in_chunks(job, dyes, start, _frozen_misfit(target.lab)) for dyes in sets]
    cut = _cut(np.concatenate([de for _, de in frozen]))
    depths, exact, sizes = [], [], []
    for dyes, (x, de) in zip(sets, frozen, strict=True):
        keep = de <= cut
        polished, misfit = _descend(job, dyes[keep], x[keep], _exact_misfit(target.lab), EXACT_STEPS, 0.0)
        depths.append(_on_shelf(dyes[keep], polished, len(shelf.dyes)))
        exact.append(misfit)
        sizes.append(np.full(len(polished), dyes.shape[1]))
    de00 = np.concatenate(exact)
    order = np.argsort(de00, kind="stable")
    return Solutions(
        depths_owf=np.concatenate(depths)[order],
        sizes=np.concatenate(sizes)[order],
        de00=de00[order],
        combinations=sum(len(dyes) for dyes in sets),
    )


def _cut(de: Array) -> float:
    return float(np.partition(de, POLISHED)[POLISHED]) if len(de) > POLISHED else np.inf


def _on_shelf(dyes: Dyes, depths: Array, n_dyes: int) -> Array:
    full = np.zeros((len(dyes), n_dyes))
    np.put_along_axis(full, dyes, depths, axis=1)
    return full


class _LinearStart:
    """The start of every combination: a bounded linear match of K/S, weighted as in [2]."""

    def __init__(self, job: _Job, target: Target, tables: ObserverTables) -> None:
        goal = k_over_s(_target_curve(target, tables))
        slope = reflectance_slope(goal, reflectance_from_k_over_s(goal))
        weight = slope**2 * np.sum(job.weights**2, axis=1)
        self.gram = (job.curves * weight) @ job.curves.T
        self.pull = (job.curves * weight) @ (goal - job.base)
        self.deepest = job.deepest_owf

    def __call__(self, dyes: Dyes) -> Array:
        """Return depths (k, m): a few sweeps of exact steps along each dye in turn, within the bounds."""
        gram = self.gram[dyes[:, :, None], dyes[:, None, :]]
        pull = self.pull[dyes]
        x = np.zeros(dyes.shape)
        for _ in range(SWEEPS):
            for dye in range(dyes.shape[1]):
                left = pull[:, dye] - np.einsum("km,km->k", gram[:, dye], x)
                x[:, dye] = np.clip(x[:, dye] + left / gram[:, dye, dye], 0, self.deepest)
        return x


def _target_curve(target: Target, tables: ObserverTables) -> Array:
    """Return the target's curve, a smooth one where only its Lab is known, a grey one where no surface has that Lab."""
    if target.reflectance is not None:
        return target.reflectance
    try:
        return reflectance_from_lab(target.lab, tables)
    except OutOfRangeError:
        return reflectance_from_lab((min(max(target.lab[0], 1.0), 99.0), 0.0, 0.0), tables)


def _frozen_misfit(target: Lab) -> Misfit:
    metric = ciede2000_metric(target)
    goal = np.array(target)

    def misfit(lab: Array) -> tuple[Array, Array]:
        return (lab - goal) @ metric.T, metric

    return misfit


def _exact_misfit(target: Lab) -> Misfit:
    goal = np.array(target)
    step = 1e-5

    def misfit(lab: Array) -> tuple[Array, Array]:
        here = ciede2000_vector(goal, lab)
        slopes = [(ciede2000_vector(goal, lab + step * axis) - here) / step for axis in np.eye(3)]
        return here, np.stack(slopes, axis=-1)

    return misfit


def _in_chunks(job: _Job, dyes: Dyes, start: _LinearStart, misfit: Misfit) -> tuple[Array, Array]:
    """Return depths (k, m) and ΔE00 in the frozen metric (k,) of every combination."""
    parts = [
        _descend(job, part, start(part), misfit, FROZEN_STEPS, GOOD_ENOUGH)
        for part in np.array_split(dyes, max(1, len(dyes) // CHUNK))
    ]
    return np.concatenate([x for x, _ in parts]), np.concatenate([de for _, de in parts])


def _descend(job: _Job, dyes: Dyes, x: Array, misfit: Misfit, steps: int, good_enough: float) -> tuple[Array, Array]:
    """Return the depths (k, m) of least misfit near `x` and its size (k,): damped least squares within bounds [1]."""
    answer_x, answer_de = x.copy(), np.full(len(x), np.inf)
    rows = np.arange(len(x))  # the combinations still moving
    curves = job.curves[dyes]
    off, slopes = _misfit_and_slopes(job, curves, x, misfit)
    cost = np.einsum("kc,kc->k", off, off)
    damping = np.full(len(x), 1e-3)
    for _ in range(steps):
        step = _bounded_step(x, off, slopes, damping, job.deepest_owf)
        trial = np.clip(x + step, 0, job.deepest_owf)
        trial_off, trial_slopes = _misfit_and_slopes(job, curves, trial, misfit)
        trial_cost = np.einsum("kc,kc->k", trial_off, trial_off)
        better = trial_cost < cost
        still = (np.abs(trial - x).max(axis=1) > CLOSE_STEP * job.deepest_owf) & (
            np.where(better, trial_cost, cost) > good_enough**2
        )
        x = np.where(better[:, None], trial, x)
        off = np.where(better[:, None], trial_off, off)
        slopes = np.where(better[:, None, None], trial_slopes, slopes)
        cost = np.where(better, trial_cost, cost)
        damping = np.where(better, damping / 10, damping * 10)
        answer_x[rows], answer_de[rows] = x, cost
        if not still.any():
            break
        if not still.all():
            rows, curves, x, off, slopes = rows[still], curves[still], x[still], off[still], slopes[still]
            cost, damping = cost[still], damping[still]
    return answer_x, np.sqrt(answer_de)


def _misfit_and_slopes(job: _Job, curves: Array, x: Array, misfit: Misfit) -> tuple[Array, Array]:
    """Return the misfit (k, 3) and its slopes by depth (k, 3, m) of mixes with curves (k, m, 31) at depths (k, m)."""
    ratio = job.base + np.einsum("km,kmw->kw", x, curves)
    reflectance = reflectance_from_k_over_s(ratio)
    xyz = reflectance @ job.weights
    d_xyz = (reflectance_slope(ratio, reflectance)[:, None, :] * curves) @ job.weights  # (k, m, 3)
    relative = xyz / job.white
    root = np.cbrt(relative)
    # The slope of the cube root of CIELAB; no yarn is so dark that its straight part would matter for a step.
    d_root = d_xyz * (root / (3 * xyz))[:, None, :]
    off, by_lab = misfit(lab_from_xyz(xyz, job.white))
    by_root = by_lab @ LAB_BY_ROOT
    slopes = by_root @ np.swapaxes(d_root, 1, 2)
    return off, slopes


LAB_BY_ROOT = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])  # CIE 015:2018, 8.2


def _bounded_step(x: Array, off: Array, slopes: Array, damping: Array, deepest: float) -> Array:
    """Return the damped step (k, m) of the depths that are free to move; those pressed against a bound stay."""
    gradient = np.einsum("kcm,kc->km", slopes, off)
    held = ((x <= 0) & (gradient > 0)) | ((x >= deepest) & (gradient < 0))
    slopes = np.where(held[:, None, :], 0, slopes)
    hessian = np.swapaxes(slopes, 1, 2) @ slopes
    m = x.shape[1]
    diagonal = hessian[:, range(m), range(m)]
    hessian[:, range(m), range(m)] = np.where(held, 1, diagonal * (1 + damping[:, None]) + TINY)
    return np.asarray(np.linalg.solve(hessian, -np.where(held, 0, gradient)[..., None])[..., 0], float)


TINY = 1e-12  # keeps a dye without any effect on the colour from stopping the solver
