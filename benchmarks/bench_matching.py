"""The search over all combinations of a shelf, beside scipy's least_squares per combination in the same run."""

import argparse
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from dyewright.core.colour import ciede2000_vector, lab_from_xyz
from dyewright.core.matching import DEEPEST_OWF, Limits, Target, choose_recipes, search
from dyewright.core.mixing import ShelfModel, fit_shelf, left_out, reflectance_from_k_over_s
from dyewright.core.model import Swatch

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "support"))
from synthetic_shelf import BASE, LADDER, TABLES, World, invented_curves, lab_of, random_mixes

SAMPLED = 60  # combinations that scipy solves, to tell its time for one


def shelf_of(count: int) -> ShelfModel:
    """Return invented dyes with their true curves."""
    curves = invented_curves(np.random.default_rng(3), count)
    nothing, deepest = (0.0,) * count, (max(LADDER),) * count
    unsure = np.zeros((count, 31, 31))
    names = tuple(f"dye {dye}" for dye in range(count))
    return ShelfModel(names, "ecru", curves, unsure, BASE, (5,) * count, deepest, nothing, is_spectral=True)


def lab_targets(rng: np.random.Generator, count: int) -> list[Target]:
    """Return colours known by their Lab, in and out of reach."""
    return [Target(tuple(lab)) for lab in rng.uniform((20, -55, -55), (85, 55, 65), (count, 3)).tolist()]


def curve_targets(rng: np.random.Generator, count: int) -> list[Target]:
    """Return measured colours, dyed with three dyes that are not on the shelf."""
    other = invented_curves(rng, 40)
    ratios = BASE + random_mixes(rng, count, 40, deepest=0.03) @ other
    return [Target(tuple(lab_of(ratio).tolist()), reflectance_from_k_over_s(ratio)) for ratio in ratios]


def scipy_seconds(shelf: ShelfModel, target: Target, size: int) -> float:
    """Return scipy's time for one combination: trust-region least squares on CIEDE2000 under the lights searched."""
    rng = np.random.default_rng(1)
    lights = [(TABLES.weights[light, 10], TABLES.whites[light, 10]) for light in ("D65", "A", "FL11")]
    if target.reflectance is None:
        lights = lights[:1]
    goals = [target.lab, *(lab_from_xyz(target.reflectance @ weights, white) for weights, white in lights[1:])]
    shares = (1.0, 0.3, 0.3)[: len(lights)]

    def misfit(percent: np.ndarray, curves: np.ndarray) -> np.ndarray:
        reflectance = reflectance_from_k_over_s(BASE + percent / 100 @ curves)
        labs = [lab_from_xyz(reflectance @ weights, white) for weights, white in lights]
        return np.concatenate([s * ciede2000_vector(g, lab) for s, g, lab in zip(shares, goals, labs, strict=True)])

    start = time.perf_counter()
    for _ in range(SAMPLED):
        curves = shelf.curves[rng.choice(len(shelf.dyes), size, replace=False)]
        least_squares(misfit, np.full(size, 0.5), bounds=(0, 100 * DEEPEST_OWF), args=(curves,))
    return (time.perf_counter() - start) / SAMPLED


def measure(shelf: ShelfModel, targets: list[Target], limits: Limits, what: str) -> None:
    """Print the medians over targets of a search, alone and with ranking, and its ratio to scipy's time."""
    searched, ranked = [], []
    for target in targets:
        start = time.perf_counter()
        found = search(shelf, target, TABLES, limits)
        searched.append(time.perf_counter() - start)
        choose_recipes(shelf, target, found, TABLES, np.random.default_rng(1))
        ranked.append(time.perf_counter() - start)
    ours = statistics.median(searched) / found.combinations
    theirs = statistics.median(scipy_seconds(shelf, target, limits.max_dyes) for target in targets[:3])
    print(
        f"{what}, {found.combinations} combinations: search {1e3 * statistics.median(searched):.0f} ms "
        f"(slowest {1e3 * max(searched):.0f}), with ranking {1e3 * statistics.median(ranked):.0f} ms; "
        f"{1e6 * ours:.1f} µs a combination, scipy {1e3 * theirs:.2f} ms: {theirs / ours:.0f} times"
    )


def compare(shelf: ShelfModel, count: int) -> None:
    """Print how much worse the usual search of four dyes ends than all combinations of them."""
    rng = np.random.default_rng(8)
    usual, every = Limits(max_dyes=4), Limits(max_dyes=4, is_every_combination=True)
    worse, seconds, tenth, out_of_reach = [], [], [], 0
    for target in [*curve_targets(rng, count // 2), *lab_targets(rng, count - count // 2)]:
        pruned = search(shelf, target, TABLES, usual)
        start = time.perf_counter()
        whole = search(shelf, target, TABLES, every)
        seconds.append(time.perf_counter() - start)
        worse.append(pruned.miss[0] - whole.miss[0])
        tenth.append(pruned.miss[9] - whole.miss[9])
        out_of_reach += whole.de00[0] > 1
    print(
        f"{count} targets, {out_of_reach} out of reach: every one of {whole.combinations} combinations "
        f"{statistics.median(seconds):.1f} s; the usual search's best is worse by {max(worse):.4f} at most, its tenth "
        f"by {max(tenth):.4f}"
    )


def main() -> None:
    """Print medians over targets."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dyes", type=int, nargs="+", default=[12, 40, 60])
    parser.add_argument("--check", type=int, default=4, help="targets of the comparison with every combination")
    asked = parser.parse_args()
    for count in asked.dyes:
        shelf, rng = shelf_of(count), np.random.default_rng(5)
        measure(shelf, lab_targets(rng, 9), Limits(), f"{count} dyes, up to 3, daylight")
        measure(shelf, curve_targets(rng, 9), Limits(max_dyes=4), f"{count} dyes, up to 4, three lights")
    if asked.check:
        compare(shelf_of(max(asked.dyes)), asked.check)
    measure_fits()


def measure_fits() -> None:
    """Print how long fits take: a shelf of ladders, one joined by mixes and a second base, and each swatch left out."""
    rng = np.random.default_rng(2)
    world = World(invented_curves(rng, 24))
    ladders = world.shelf(rng, 0.3)
    print(f"joint fit of 24 dyes at 5 depths by Lab: {1e3 * fit_seconds(ladders) / 24:.1f} ms a dye")
    start = time.perf_counter()
    left_out(ladders, TABLES)
    print(f"each of its 120 swatches left out in turn: {time.perf_counter() - start:.2f} s")
    many = World(invented_curves(rng, 60))
    swatches = many.shelf(rng, 0.3)
    swatches += [many.swatch(depths, rng, 0.3) for depths in random_mixes(rng, 40, 60)]
    silk = replace(swatches[0], base="silk")
    swatches += [silk, *(many.swatch(row, rng, 0.3, name="silk") for row in 0.01 * np.eye(60)[::6])]
    print(f"60 dyes joined by 40 mixes, ten of them on a second base: {1e3 * fit_seconds(swatches) / 60:.1f} ms a dye")


def fit_seconds(swatches: list[Swatch]) -> float:
    """Return the median of three fits."""
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        fit_shelf(swatches, TABLES)
        seconds.append(time.perf_counter() - start)
    return statistics.median(seconds)


if __name__ == "__main__":
    main()
