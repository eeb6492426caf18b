"""The depths at which each combination of dyes comes closest to a target, all combinations at once.

Source: [1] E. Allen, J. Opt. Soc. Am. 56 (1966) 1256-1259: the start, a linear match of K/S with each wavelength
weighted by what it does to the colour. The descent from there is in `descent`.
"""

from dataclasses import dataclass, replace
from itertools import chain, combinations
from math import comb
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import delta_e00, lab_from_xyz, light_of, reflectance_from_lab
from dyewright.core.matching.descent import Ceiling, Task, descend, exact_misfit, frozen_misfit
from dyewright.core.matching.fourth import with_another_dye
from dyewright.core.matching.limits import Limits, Room, room_on
from dyewright.core.mixing import (
    ShelfModel,
    build_up,
    depth_of_build_up,
    k_over_s,
    lab_of_mix,
    reflectance_from_k_over_s,
    reflectance_slope,
)
from dyewright.core.model import Lab, ObserverTables
from dyewright.errors import NoMatchError, OutOfRangeError

__all__ = ["OTHER_LIGHT_SHARE", "Solutions", "Target", "nearest", "search"]

Array = NDArray[np.float64]
Dyes = NDArray[np.intp]

CHUNK = 800  # combinations worked on at a time: they stay in the cache, and products too small to be split on threads
SWEEPS = 8  # of the linear start over the dyes of a combination
FROZEN_STEPS, EXACT_STEPS = 12, 12
GOOD_ENOUGH = 0.03  # ΔE00, to stop with the frozen metric
POLISHED = 2000  # combinations that go on to exact ΔE00
EXTENDED = 8000  # the closest triples, which are looked at with every other dye as a fourth
PROMISING = 16_000  # of those that are tried
SMALL_CHUNK = 100  # triples looked at at a time, with all dyes of the shelf
OF_EACH_SIZE = 100  # and as many of each number of dyes at least
HOPELESS, HOPELESS_DE00 = 1.5, 10.0  # beyond this times the best and this more, a combination is not looked at again
DEPTH_STEPS = 33  # at which weighed depths are tabled for ceilings on whole recipes
FEW = 15_000  # combinations of four that are all tried rather than pruned

OTHER_LIGHT_SHARE = 0.3
"""What ΔE00 under another light counts beside one under daylight, where both can be told.

Daylight comes first: two other lights off by e pull the least of d² + 2 (0.3 (e - d))² to d = 0.15 e at most, so that
daylight yields by less than is seen (0.5) until both are off by more than 3 (estimate: the share is ours).
"""


@dataclass(frozen=True)
class Target:
    """A colour to reach: its Lab (D65, 10°), and its reflectance (31,) where it was measured as a curve."""

    lab: Lab
    reflectance: Array | None = None


@dataclass(frozen=True)
class Solutions:
    """What the search found, least `miss` first.

    `depths_owf`, shape (k, n), weighed depths on all dyes of the shelf; `sizes`, how many dyes the combination holds;
    `de00`, shape (k,), under daylight; `miss` (k,), that and the other lights by their shares; how many combinations
    were tried; and `bare_de00`, how far the yarn is from the target with no dye at all.
    """

    depths_owf: Array
    sizes: Dyes
    de00: Array
    miss: Array
    combinations: int
    bare_de00: float


def search(shelf: ShelfModel, target: Target, tables: ObserverTables, limits: Limits | None = None) -> Solutions:
    """Return the best depths of the combinations of 1 to `limits.max_dyes` dyes, the closest 2000 of them exact.

    First with the colour metric frozen at the target, then, for the closest, with CIEDE2000 itself. Of four dyes only
    those are tried that promise most by the slopes at the closest triples, unless they are few or all are asked for.

    Args:
        shelf: the dyes over their base.
        target: the colour to reach, under daylight (D65, 10°) and, where it is a curve, under `limits.lights`.
        tables: lights and observers.
        limits: what each recipe keeps to.

    Raises:
        InputError: limits that cannot be, or that leave nothing.
        NoMatchError: no combination keeps to them.
    """
    limits = limits or Limits()
    room = room_on(shelf, limits)
    question = _question(shelf, target, tables, limits, room)
    solved = [_frozen(question, dyes) for dyes in _small_sets(room, limits) if dyes.size]
    fours = _sets_of_four(question, room, limits, solved)
    if fours.size:
        solved.append(_frozen(question, fours))
    if not solved:
        raise NoMatchError("no combination of dyes keeps to the limits: take one of them away")
    kept = [_polished(question, part) for part in _worth_polishing(solved)]
    return _on_shelf(shelf, target, tables, question, kept, sum(part.miss.size for part in solved))


def nearest(
    shelf: ShelfModel, depths_owf: Array, target: Target, tables: ObserverTables, limits: Limits | None = None
) -> Array:
    """Return the depths (n,) of the same dyes that come closest to a target, found from where a recipe stands.

    Of several recipes that are as close, the one near the start is kept; its own depths may pass the limits on one dye.

    Args:
        shelf: the dyes over their base.
        depths_owf: the recipe to start from, shape (n,), weighed.
        target: the colour to reach.
        tables: lights and observers.
        limits: on depths and cost; which dyes to use is the recipe's own.
    """
    used = np.flatnonzero(depths_owf)
    limits = limits or Limits()
    deepest = max(limits.deepest_owf, 2 * float(np.max(depths_owf, initial=0)))
    limits = replace(limits, deepest_owf=min(deepest, 1.0), must_use=frozenset(), never_use=frozenset())
    question = _question(shelf, target, tables, limits, room_on(shelf, limits))
    start = build_up(shelf, depths_owf)[used][:, None]
    part = _polished(question, _Part(used[:, None], start, np.zeros(1)))
    built_up = _spread(part.dyes, part.depths, len(shelf.dyes))
    moved, _ = _under_ceilings(shelf, depth_of_build_up(shelf, built_up), question.task)
    answer: Array = moved[0]
    return answer


@dataclass(frozen=True)
class _Question:
    """The task in both precisions, the goals (J, 3) with the lights and their shares (J,), and the linear start's."""

    task: Task
    coarse: Task
    lights: tuple[str, ...]
    goals: Array
    shares: Array
    gram: Array
    pull: Array


@dataclass(frozen=True)
class _Part:
    """Combinations of one size: their dyes and built-up depths (m, k), and the misfit (k,)."""

    dyes: Dyes
    depths: NDArray[np.floating]
    miss: NDArray[np.floating]


def _question(shelf: ShelfModel, target: Target, tables: ObserverTables, limits: Limits, room: Room) -> _Question:
    curve = target.reflectance
    lights = ("D65",) if curve is None else _daylight_first(limits.lights)
    pairs = [light_of(tables, light, 10) for light in lights]
    goals = [target.lab] if curve is None else [target.lab, *(lab_from_xyz(curve @ w, white) for w, white in pairs[1:])]
    weights = np.concatenate([weights.T for weights, _ in pairs])
    task = Task(
        curves=shelf.curves,
        base=shelf.base_k_over_s,
        weights=(1 - shelf.surface_frac) * weights,
        shine=shelf.surface_frac * weights.sum(axis=1, keepdims=True),
        whites=np.concatenate([white for _, white in pairs])[:, None],
        least=room.least,
        most=room.most,
        weighed=depth_of_build_up(shelf, np.linspace(0, 1, DEPTH_STEPS)[:, None] * room.most).T,
        ceilings=_ceilings(shelf, limits),
    )
    gram, pull = _linear_match(shelf, target, tables, weights[:3])
    shares = np.array([1.0, *(OTHER_LIGHT_SHARE for _ in lights[1:])])
    return _Question(task, task.in_precision(np.float32), lights, np.array(goals), shares, gram, pull)


def _daylight_first(lights: tuple[str, ...]) -> tuple[str, ...]:
    return ("D65", *(light for light in lights if light != "D65"))


def _ceilings(shelf: ShelfModel, limits: Limits) -> tuple[Ceiling, ...]:
    """Return the bounds on whole recipes, those left out that no recipe can pass."""
    found = []
    if limits.total_owf is not None and limits.max_dyes * limits.deepest_owf > limits.total_owf:
        found.append(Ceiling(np.ones(len(shelf.dyes)), limits.total_owf))
    if limits.most_cost_per_kg is not None:
        prices = np.array([limits.price_per_g.get(name, 0.0) for name in shelf.dyes])
        found.append(Ceiling(1000 * prices, limits.most_cost_per_kg))
    return tuple(found)


def _small_sets(room: Room, limits: Limits) -> list[Dyes]:
    """Return all combinations (m, k) of each size up to three, and of four where they are few or all are asked for."""
    others = len(room.may) - len(room.must)
    sizes = list(range(max(1, len(room.must)), min(limits.max_dyes, 3) + 1))
    if limits.max_dyes == 4 and _takes_every_four(room, limits):
        sizes.append(4)
    return [_sets(room, size) for size in sizes if size - len(room.must) <= others]


def _takes_every_four(room: Room, limits: Limits) -> bool:
    more = 4 - len(room.must)
    count = comb(len(room.may) - len(room.must), more)
    return limits.is_every_combination or more == 0 or count <= FEW


def _sets(room: Room, size: int) -> Dyes:
    """Return all combinations (size, k) with the dyes that must be in, without pairs that are kept apart."""
    others = np.setdiff1d(room.may, room.must)
    more = size - len(room.must)
    flat = np.fromiter(chain.from_iterable(combinations(others.tolist(), more)), dtype=np.intp)
    count = comb(len(others), more)
    dyes = np.concatenate([np.repeat(room.must[:, None], count, axis=1), flat.reshape(count, more).T])
    return _together(room, dyes)


def _together(room: Room, dyes: Dyes) -> Dyes:
    if not room.is_apart.any():
        return dyes
    is_bad = np.any([room.is_apart[dyes[i], dyes[j]] for i, j in combinations(range(len(dyes)), 2)] or [False], axis=0)
    return dyes[:, ~np.broadcast_to(is_bad, dyes.shape[1])]


def _sets_of_four(question: _Question, room: Room, limits: Limits, solved: list[_Part]) -> Dyes:
    """Return the closest triples, each with the dyes that promise most; none where fours are not wanted."""
    triples = next((part for part in solved if len(part.dyes) == 3), None)
    if limits.max_dyes < 4 or triples is None or _takes_every_four(room, limits):
        return np.zeros((4, 0), dtype=np.intp)
    best = np.argsort(triples.miss, kind="stable")[:EXTENDED]
    dyes, depths = triples.dyes[:, best], triples.depths[:, best]
    misfit = frozen_misfit(question.goals, question.shares, np.float32)
    left = np.concatenate(
        [
            with_another_dye(question.coarse, part, at, misfit, room.may)
            for part, at in zip(_chunks(dyes, SMALL_CHUNK), _chunks(depths, SMALL_CHUNK), strict=True)
        ],
        axis=1,
    )
    flat = np.argpartition(left, PROMISING, axis=None)[:PROMISING] if left.size > PROMISING else np.arange(left.size)
    fourth, triple = np.unravel_index(flat[np.isfinite(left.ravel()[flat])], left.shape)
    fours = np.sort(np.concatenate([dyes[:, triple], fourth[None]]), axis=0)
    return _together(room, np.unique(fours, axis=1))


def _linear_match(shelf: ShelfModel, target: Target, tables: ObserverTables, weights: Array) -> tuple[Array, Array]:
    """Return the normal equations of a linear match of K/S, each wavelength weighted by its effect [1]."""
    goal = _target_curve(target, tables)
    inside = np.clip((goal - shelf.surface_frac) / (1 - shelf.surface_frac), 0, 1)
    ratio = k_over_s(inside)
    weight = reflectance_slope(ratio, reflectance_from_k_over_s(ratio)) ** 2 * np.sum(weights**2, axis=0)
    weighted = shelf.curves * weight
    return weighted @ shelf.curves.T, weighted @ (ratio - shelf.base_k_over_s)


def _target_curve(target: Target, tables: ObserverTables) -> Array:
    """Return the target's curve, a smooth one where only its Lab is known, a grey one where no surface has that Lab."""
    if target.reflectance is not None:
        return target.reflectance
    try:
        return reflectance_from_lab(target.lab, tables)
    except OutOfRangeError:
        return reflectance_from_lab((min(max(target.lab[0], 1.0), 99.0), 0.0, 0.0), tables)


def _start(question: _Question, dyes: Dyes) -> NDArray[np.floating]:
    """Return depths (m, k) of the linear match: a few sweeps of exact steps along each dye in turn, within bounds."""
    gram = question.gram[dyes[:, None], dyes[None]]
    pull = question.pull[dyes]
    least, most = question.task.least[dyes], question.task.most[dyes]
    x = least.copy()
    for _ in range(SWEEPS):
        for dye in range(len(dyes)):
            left = pull[dye] - sum(gram[dye, other] * x[other] for other in range(len(dyes)))
            x[dye] = np.clip(x[dye] + left / gram[dye, dye], least[dye], most[dye])
    return x


def _frozen(question: _Question, dyes: Dyes) -> _Part:
    """Return every combination's best depths in the metric frozen at the target, in single precision."""
    misfit = frozen_misfit(question.goals, question.shares, np.float32)
    parts = []
    for part in _chunks(dyes):
        x = _start(question, part).astype(np.float32)
        parts.append(_Part(part, *descend(question.coarse, part, x, misfit, FROZEN_STEPS, GOOD_ENOUGH)))
    return _joined(parts)


def _chunks(array: NDArray[np.generic], size: int = CHUNK) -> list[NDArray[Any]]:
    return np.array_split(array, max(1, array.shape[1] // size), axis=1)


def _joined(parts: list[_Part]) -> _Part:
    return _Part(
        np.concatenate([part.dyes for part in parts], axis=1),
        np.concatenate([part.depths for part in parts], axis=1),
        np.concatenate([part.miss for part in parts]),
    )


def _worth_polishing(solved: list[_Part]) -> list[_Part]:
    """Return the closest combinations of all, and the closest of each size, but for those far from the best."""
    every = np.concatenate([part.miss for part in solved])
    cut, far = _cut(every, POLISHED), HOPELESS * float(every.min()) + HOPELESS_DE00
    kept = []
    for part in solved:
        is_kept = part.miss <= min(max(cut, _cut(part.miss, OF_EACH_SIZE)), far)
        if is_kept.any():
            kept.append(_Part(part.dyes[:, is_kept], part.depths[:, is_kept], part.miss[is_kept]))
    return kept


def _cut(miss: NDArray[np.floating], count: int) -> float:
    return float(np.partition(miss, count)[count]) if len(miss) > count else np.inf


def _polished(question: _Question, part: _Part) -> _Part:
    """Return combinations with their depths made exact."""
    misfit = exact_misfit(question.goals, question.shares)
    parts = []
    for dyes, near in zip(_chunks(part.dyes), _chunks(part.depths), strict=True):
        x = np.clip(near.astype(float), question.task.least[dyes], question.task.most[dyes])
        parts.append(_Part(dyes, *descend(question.task, dyes, x, misfit, EXACT_STEPS, 0.0)))
    return _joined(parts)


def _on_shelf(
    shelf: ShelfModel,
    target: Target,
    tables: ObserverTables,
    question: _Question,
    parts: list[_Part],
    tried: int,
) -> Solutions:
    """Return the combinations in weighed depths on the whole shelf, brought under the ceilings, and in order."""
    built = np.concatenate([_spread(part.dyes, part.depths, len(shelf.dyes)) for part in parts])
    sizes = np.concatenate([np.full(part.dyes.shape[1], len(part.dyes)) for part in parts])
    depths, is_allowed = _under_ceilings(shelf, depth_of_build_up(shelf, built), question.task)
    depths, sizes = depths[is_allowed], sizes[is_allowed]
    if not len(depths):
        raise NoMatchError("no combination of dyes keeps to the limits: take one of them away")
    by_light = np.stack(
        [
            delta_e00(goal, lab_of_mix(shelf, depths, tables, illuminant=light))
            for light, goal in zip(question.lights, question.goals, strict=True)
        ]
    )
    miss = np.sqrt(np.sum((question.shares[:, None] * by_light) ** 2, axis=0))
    order = np.argsort(miss, kind="stable")
    bare = lab_of_mix(shelf, np.zeros(len(shelf.dyes)), tables)
    return Solutions(
        depths_owf=depths[order],
        sizes=sizes[order],
        de00=by_light[0, order],
        miss=miss[order],
        combinations=tried,
        bare_de00=float(delta_e00(target.lab, bare)),
    )


def _spread(dyes: Dyes, depths: NDArray[np.floating], n_dyes: int) -> Array:
    full = np.zeros((dyes.shape[1], n_dyes))
    np.put_along_axis(full, dyes.T, depths.T, axis=1)
    return full


def _under_ceilings(shelf: ShelfModel, depths: Array, task: Task) -> tuple[Array, NDArray[np.bool_]]:
    """Return weighed depths (k, n), thinned towards their least where they pass a ceiling, and which could be.

    The descent lets a recipe pass a ceiling by a little (see `descent.STEEP`).
    """
    least = np.where(depths > 0, depth_of_build_up(shelf, task.least), 0)
    kept, is_allowed = np.ones(len(depths)), np.ones(len(depths), dtype=bool)
    for ceiling in task.ceilings:
        low, high = least @ ceiling.counts, depths @ ceiling.counts
        kept = np.minimum(kept, (ceiling.most - low) / np.maximum(high - low, 1e-12))
        is_allowed &= low <= ceiling.most
    return least + (depths - least) * np.clip(kept, 0, 1)[:, None], is_allowed
