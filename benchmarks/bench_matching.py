"""The search over all combinations of a shelf, beside scipy's least_squares per combination in the same run."""

import argparse
import statistics
import sys
import time
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from dyewright.core.colour import ciede2000_vector
from dyewright.core.matching import DEEPEST_OWF, Target, choose_recipes, search
from dyewright.core.mixing import ShelfModel, fit_shelf

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "support"))
from synthetic_shelf import BASE, LADDER, TABLES, base_swatch, invented_curves, lab_of, ladder_swatches

SAMPLED = 60  # combinations that scipy solves, to tell its time for one


def shelf_of(count: int) -> ShelfModel:
    """Return invented dyes with their true curves."""
    curves = invented_curves(np.random.default_rng(3), count)
    nothing, deepest = (0.0,) * count, (max(LADDER),) * count
    unsure = np.zeros((count, 31, 31))
    names = tuple(f"dye {dye}" for dye in range(count))
    return ShelfModel(names, "ecru", curves, unsure, BASE, (5,) * count, deepest, nothing, is_spectral=True)


def scipy_seconds(shelf: ShelfModel, target: Target) -> float:
    """Return scipy's time for one triple, trust-region least squares on the three components of CIEDE2000."""
    triples = list(combinations(range(len(shelf.dyes)), 3))
    chosen = np.random.default_rng(1).choice(len(triples), SAMPLED, replace=False)
    start = time.perf_counter()
    for place in chosen:
        curves = shelf.curves[list(triples[place])]
        least_squares(
            lambda percent, curves=curves: ciede2000_vector(target.lab, lab_of(BASE + percent / 100 @ curves)),
            np.full(3, 0.5),
            bounds=(0, 100 * DEEPEST_OWF),
        )
    return (time.perf_counter() - start) / SAMPLED


def main() -> None:
    """Print medians over targets."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dyes", type=int, nargs="+", default=[12, 40, 60])
    for count in parser.parse_args().dyes:
        shelf = shelf_of(count)
        rng = np.random.default_rng(5)
        targets = [Target(tuple(lab)) for lab in rng.uniform((25, -40, -40), (80, 40, 50), (9, 3)).tolist()]
        searched, ranked = [], []
        for target in targets:
            start = time.perf_counter()
            found = search(shelf, target, TABLES)
            searched.append(time.perf_counter() - start)
            choose_recipes(shelf, target, found, TABLES, np.random.default_rng(1))
            ranked.append(time.perf_counter() - start)
        ours = statistics.median(searched) / found.combinations
        theirs = statistics.median(scipy_seconds(shelf, target) for target in targets[:3])
        print(
            f"{count} dyes, {found.combinations} combinations: search {1e3 * statistics.median(searched):.0f} ms, with "
            f"ranking {1e3 * statistics.median(ranked):.0f} ms; {1e6 * ours:.1f} µs a combination, scipy "
            f"{1e3 * theirs:.2f} ms: {theirs / ours:.0f} times"
        )
    rng = np.random.default_rng(2)
    swatches = [base_swatch(rng, 0.3), *ladder_swatches(rng, invented_curves(rng, 24), 0.3)]
    start = time.perf_counter()
    fit_shelf(swatches, TABLES)
    print(f"joint fit of 24 dyes at 5 depths by Lab: {1e3 * (time.perf_counter() - start) / 24:.1f} ms a dye")


if __name__ == "__main__":
    main()
