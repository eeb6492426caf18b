"""The depths of least misfit for many combinations of dyes at once, by damped least squares within bounds.

Source: [1] K. Levenberg, Quart. Appl. Math. 2 (1944) 164-168, D. W. Marquardt, J. SIAM 11 (1963) 431-441: damped least
squares, here projected on the bounds. The combinations stand on the last axis of every array, so that numpy's loops run
along them; a combination that has come to rest leaves the arrays.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import DTypeLike, NDArray

from dyewright.core.colour import ciede2000_metric, ciede2000_vector, lab_from_xyz

__all__ = ["Ceiling", "Misfit", "Task", "descend", "exact_misfit", "frozen_misfit", "misfit_and_slopes"]

Array = NDArray[np.floating]
Dyes = NDArray[np.intp]

CLOSE_STEP = 1e-5  # of the deepest depth, to stop
CLOSE_GAIN = 1e-3  # a free step that lessens the squared misfit by less than this share of it was the last one
FREE = 1e-2  # damping below which a step is nearly Newton's, so that a small gain means the end
STEEP = 100.0  # ΔE00 that passing a ceiling by the whole of itself counts as: 1 % over counts as 1
LEAVE_FRAC = 0.8  # the share still moving below which those at rest leave: taking them out is not free
TINY = 1e-12  # keeps a dye without any effect on the colour from stopping the solver
LAB_BY_ROOT = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])  # CIE 015:2018, 8.2


@dataclass(frozen=True)
class Ceiling:
    """A bound on the weighed depths of a recipe together: what each counts (n,), and the most of the sum."""

    counts: Array
    most: float


@dataclass(frozen=True)
class Task:
    """What every combination shares: n dyes, J lights; depths are built-up ones.

    `weights`, shape (3 J, 31), are the lights' tristimulus weights for the light that enters the yarn, `shine`
    (3 J, 1) what its surface adds, `whites` (3 J, 1). `weighed`, shape (n, g), is the weighed depth of each dye at g
    even steps of built-up depth from 0 to its most.
    """

    curves: Array
    base: Array
    weights: Array
    shine: Array
    whites: Array
    least: Array
    most: Array
    weighed: Array
    ceilings: tuple[Ceiling, ...] = ()

    def in_precision(self, kind: DTypeLike) -> "Task":
        """Return the task in numbers of another precision."""
        names = ("curves", "base", "weights", "shine", "whites", "least", "most", "weighed")
        return replace(self, **{name: getattr(self, name).astype(kind) for name in names})


# Takes Labs (J, 3, k) and gives the misfits (J, 3, k), and the slopes of those by Lab, (J, 3, 3) or (J, 3, 3, k).
Misfit = Callable[[Array], tuple[Array, Array]]


def frozen_misfit(goals: Array, shares: Array, kind: DTypeLike = float) -> Misfit:
    """Return the misfit with CIEDE2000's weights frozen at the goals (J, 3), each light counted by its share (J,)."""
    metric = (shares[:, None, None] * ciede2000_metric(goals)).astype(kind)
    goal = goals[:, :, None].astype(kind)

    def misfit(lab: Array) -> tuple[Array, Array]:
        return metric @ (lab - goal), metric

    return misfit


def exact_misfit(goals: Array, shares: Array) -> Misfit:
    """Return the misfit whose square is CIEDE2000 squared, summed over the lights by the squares of their shares."""
    step = 1e-5

    def misfit(lab: Array) -> tuple[Array, Array]:
        last = np.moveaxis(lab, 1, 2)  # (J, k, 3), as the formula takes it
        here = ciede2000_vector(goals[:, None], last)
        slopes = [(ciede2000_vector(goals[:, None], last + step * axis) - here) / step for axis in np.eye(3)]
        by_lab = np.moveaxis(np.stack(slopes, axis=-1), 1, 3)
        return shares[:, None, None] * np.moveaxis(here, 1, 2), shares[:, None, None, None] * by_lab

    return misfit


def descend(
    task: Task, dyes: Dyes, depths_owf: Array, misfit: Misfit, steps: int, good_enough: float
) -> tuple[Array, Array]:
    """Return the built-up depths (m, k) of least misfit near a start, and the misfit (k,) there [1].

    Args:
        task: what the combinations share.
        dyes: the dyes of each combination, shape (m, k).
        depths_owf: built-up depths where each starts, shape (m, k), within the bounds.
        misfit: what is made small.
        steps: at most.
        good_enough: a misfit below it ends a combination's descent.
    """
    x = depths_owf.copy()
    least, most = task.least[dyes], task.most[dyes]
    answer_x, answer_cost = x.copy(), np.full(x.shape[1], np.inf)
    rows = np.arange(x.shape[1])  # the combinations still moving
    curves = np.ascontiguousarray(np.moveaxis(task.curves[dyes], 1, 2))  # (m, 31, k)
    off, slopes = misfit_and_slopes(task, dyes, curves, x, misfit)
    cost = np.einsum("rk,rk->k", off, off)
    damping = np.full_like(cost, 1e-3)
    for _ in range(steps):
        trial = np.clip(x + _bounded_step(x, off, slopes, damping, least, most), least, most)
        trial_off, trial_slopes = misfit_and_slopes(task, dyes, curves, trial, misfit)
        trial_cost = np.einsum("rk,rk->k", trial_off, trial_off)
        is_better = trial_cost < cost
        is_moving = (np.abs(trial - x) > CLOSE_STEP * most).any(axis=0) & (
            np.minimum(trial_cost, cost) > good_enough**2
        )
        is_moving &= ~is_better | (damping > FREE) | (cost - trial_cost > CLOSE_GAIN * cost)
        for now, then in ((x, trial), (off, trial_off), (slopes, trial_slopes), (cost, trial_cost)):
            np.copyto(now, then, where=is_better)
        damping = np.where(is_better, damping / 10, damping * 10)
        answer_x[:, rows], answer_cost[rows] = x, cost
        if not is_moving.any():
            break
        if np.count_nonzero(is_moving) < LEAVE_FRAC * len(rows):
            rows, cost, damping = rows[is_moving], cost[is_moving], damping[is_moving]
            dyes, least, most, x = dyes[:, is_moving], least[:, is_moving], most[:, is_moving], x[:, is_moving]
            curves, off, slopes = curves[..., is_moving], off[:, is_moving], slopes[..., is_moving]
    return answer_x, np.sqrt(answer_cost)


def misfit_and_slopes(task: Task, dyes: Dyes, curves: Array, depths_owf: Array, misfit: Misfit) -> tuple[Array, Array]:
    """Return the misfits (r, k) and their slopes by depth (r, m, k) of mixes with curves (m, 31, k).

    The depths (m, k) are built-up ones. The formulas are those of
    `mixing.kubelka`, written out so that they keep the precision of their input.
    """
    x = depths_owf
    m, k = x.shape
    q = task.base[:, None] + np.einsum("mwk,mk->wk", curves, x)
    root_q = np.sqrt(q * (q + 2))
    reflectance = 1 / (1 + q + root_q)
    slope = -reflectance / root_q
    xyz = task.weights @ reflectance + task.shine
    # The slope of the cube root of CIELAB; no yarn is so dark that its straight part would matter for a step.
    by_root = np.cbrt(xyz / task.whites) / (3 * xyz)
    d_root = np.ascontiguousarray(np.swapaxes((task.weights @ (slope * curves)) * by_root, 0, 1)).reshape(-1, 3, m, k)
    lab = np.moveaxis(lab_from_xyz(xyz.reshape(-1, 3, k).swapaxes(1, 2), task.whites.reshape(-1, 1, 3)), 2, 1)
    off, by_lab = misfit(lab.astype(x.dtype))
    if by_lab.ndim == 3:
        by_depth = (by_lab @ LAB_BY_ROOT.astype(x.dtype)) @ d_root.reshape(-1, 3, m * k)
    else:
        by_depth = np.einsum("jclk,lr,jrmk->jcmk", by_lab, LAB_BY_ROOT, d_root, optimize=True)
    passed = _passed(task, dyes, x)
    return (
        np.concatenate([off.reshape(-1, k), *(over[None] for over, _ in passed)]),
        np.concatenate([by_depth.reshape(-1, m, k), *(by_x[None] for _, by_x in passed)]),
    )


def _passed(task: Task, dyes: Dyes, x: Array) -> list[tuple[Array, Array]]:
    """Return what passing each ceiling counts as (k,), and its slopes by built-up depth (m, k)."""
    if not task.ceilings:
        return []
    steps = task.weighed.shape[1] - 1
    a_step = task.most[dyes] / steps
    place = np.minimum((x / a_step).astype(np.intp), steps - 1)
    below = task.weighed[dyes, place]
    slope = (task.weighed[dyes, place + 1] - below) / a_step
    depth = below + (x - place * a_step) * slope
    answer = []
    for ceiling in task.ceilings:
        counts = (ceiling.counts / ceiling.most).astype(x.dtype)[dyes]
        over = np.sum(counts * depth, axis=0) - 1
        answer.append((STEEP * np.maximum(over, 0), STEEP * counts * slope * (over > 0)))
    return answer


def _bounded_step(x: Array, off: Array, slopes: Array, damping: Array, least: Array, most: Array) -> Array:
    """Return the damped step (m, k) of the depths that are free to move; those pressed against a bound stay."""
    m = len(x)
    gradient = np.einsum("rmk,rk->mk", slopes, off)
    is_held = ((x <= least) & (gradient > 0)) | ((x >= most) & (gradient < 0))
    hessian = [[np.einsum("rk,rk->k", slopes[:, i], slopes[:, j]) for j in range(i + 1)] for i in range(m)]
    for i in range(m):
        for j in range(i):
            hessian[i][j] = np.where(is_held[i] | is_held[j], 0, hessian[i][j])
        hessian[i][i] = np.where(is_held[i], 1, hessian[i][i] * (1 + damping) + TINY)
    return _solution(hessian, -np.where(is_held, 0, gradient))


def _solution(lower: list[list[Array]], right: Array) -> Array:
    """Return the solution (m, k) of k small systems by Cholesky's method; `lower` holds rows up to the diagonal."""
    m = len(lower)
    factor: list[list[Array]] = [[] for _ in range(m)]
    forward: list[Array] = []
    for i in range(m):
        for j in range(i):
            off = lower[i][j] - sum(factor[i][p] * factor[j][p] for p in range(j))
            factor[i].append(off / factor[j][j])
        pivot = lower[i][i] - sum(factor[i][p] ** 2 for p in range(i))
        # Damping keeps the pivot above 0 but for rounding.
        factor[i].append(np.sqrt(np.maximum(pivot, 1e-7 * lower[i][i])))
        forward.append((right[i] - sum(factor[i][p] * forward[p] for p in range(i))) / factor[i][i])
    answer = np.zeros_like(right)
    for i in reversed(range(m)):
        answer[i] = (forward[i] - sum(factor[p][i] * answer[p] for p in range(i + 1, m))) / factor[i][i]
    return answer
