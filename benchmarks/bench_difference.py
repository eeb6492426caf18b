"""CIEDE2000 of a million pairs, beside colour-science and scikit-image in the same run."""

import statistics
import time
import warnings

import numpy as np

from dyewright.core.colour import delta_e00

PAIRS = 1_000_000
ROUNDS = 7


def main() -> None:
    """Print the median time and throughput of each, and the largest disagreement."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.difference import delta_E_CIE2000
        from skimage.color import deltaE_ciede2000
    rng = np.random.default_rng(1)
    one = rng.uniform((0, -80, -80), (100, 80, 80), (PAIRS, 3))
    two = one + rng.normal(0, 5, one.shape)
    rivals = {"dyewright": delta_e00, "colour-science": delta_E_CIE2000, "scikit-image": deltaE_ciede2000}
    times: dict[str, list[float]] = {name: [] for name in rivals}
    answers = {}
    for _ in range(ROUNDS):
        for name, formula in rivals.items():
            start = time.perf_counter()
            answers[name] = formula(one, two)
            times[name].append(time.perf_counter() - start)
    for name, seconds in times.items():
        middle = statistics.median(seconds)
        worst = np.abs(answers[name] - answers["dyewright"]).max()
        print(f"{name:15s} {middle:.3f} s  {PAIRS / middle / 1e6:.1f} M/s  largest disagreement {worst:.1e}")


if __name__ == "__main__":
    main()
