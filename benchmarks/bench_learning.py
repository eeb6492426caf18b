"""How long it takes to learn from a pot and to recall before the next.

Goals: the lesson of one pot of three dyes in at most 50 ms; what 200 lessons say of three dyes in at most 10 ms. Run it
on an idle machine.
"""

import statistics
import time

import numpy as np

from dyewright.core.learning import WatchedPot, learnt, lesson
from dyewright.core.model import ClarityReading, DyeClass, Fibre, FibreGroup, Lesson, Observed, Subject
from dyewright.core.uptake import DyeBath
from dyewright.data.uptake import load_uptake

CLASSES = (DyeClass.ACID_LEVELLING, DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX)
SUBJECTS = tuple(Subject(f"dye {n}", one, FibreGroup.WOOL) for n, one in enumerate(CLASSES))
LOOKS = Observed(clarities=(ClarityReading(28, 0.5), ClarityReading(46, 0.875), ClarityReading(60, 0.96875)))


def pot() -> WatchedPot:
    tables = load_uptake()
    t_min = np.arange(121.0)
    ph = np.full_like(t_min, 4.5)
    bath = DyeBath(t_min, np.minimum(40 + t_min, 95), ph, ph, 30.0, np.ones(1), np.array([0.008, 0.005, 0.003]))
    kinds = [[(tables.rows[Fibre.WOOL, one],)] for one in CLASSES]
    return WatchedPot(bath, kinds, [tables.saturation_owf[Fibre.WOOL]], False, 120.0)


def many(rng: np.random.Generator) -> list[Lesson]:
    """Two hundred lessons of three of forty dyes each, on two kinds of yarn."""
    told = []
    for _ in range(200):
        dyes = rng.choice(40, 3, replace=False)
        yarn = (FibreGroup.WOOL, FibreGroup.SUPERWASH)[int(rng.integers(2))]
        subjects = tuple(Subject(f"dye {n}", CLASSES[n % 3], yarn) for n in dyes)
        jacobian = rng.normal(size=(4, 10))
        precision, pull = jacobian.T @ jacobian, jacobian.T @ rng.normal(size=4)
        told.append(Lesson(subjects, tuple(map(tuple, precision.tolist())), tuple(pull.tolist()), 4))
    return told


def median_ms(task, times: int = 15) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        task()
        spent.append(time.perf_counter() - start)
    return 1000 * statistics.median(spent)


def main() -> None:
    watched, told = pot(), many(np.random.default_rng(1))
    print(f"lesson of a pot of three dyes:   {median_ms(lambda: lesson(SUBJECTS, watched, LOOKS)):6.1f} ms (goal 50)")
    print(f"what 200 lessons say of three:   {median_ms(lambda: learnt(SUBJECTS, told)):6.1f} ms (goal 10)")


if __name__ == "__main__":
    main()
