"""Will the colour be even: uptake against movement, and dyes against each other.

Levelness: dye that goes in faster than the yarn is turned over lands unevenly. Circulation theory [1] allows a few
percent of a dye for each full turn of the goods. The limits are estimates until judged lots teach a studio's own.
Breaking: two dyes that go in at different times leave a colour that changes along the way, and along the skein.

Sources: [1] circulation theory of package dyeing, percent of the dye taken up in one circulation: loose stock 2 to 4;
textileinfo.com, chapter 02_02, after its secondary copy. [2] acid dyes at the boil: levelling dyes migrate, milling
dyes hardly; the times are estimates from memory.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import expit

from dyewright.core.model import Breaking, DyeClass, LevelLesson, Levelness
from dyewright.core.uptake import first_reached_min

__all__ = [
    "DEFAULT_TURNS_PER_MIN",
    "breaking",
    "circulation_limit_pct_per_min",
    "critical_zone_c",
    "evens_out_min",
    "learn_movement",
    "levelness",
    "peak_uptake_frac_per_min",
    "uneven_risk",
]

Floats = NDArray[np.float64]

PCT_PER_TURN = 3.0  # [1], loose stock 2 to 4: the nearest to skeins in a kettle
# Convection moves a hot bath without any turning. Estimate, set so that 30 L/kg, untreated wool, 1 °C/min and a turn
# every five minutes rates "acceptable, slightly tonal" (common practice, no source).
CONVECTION_TURNS_PER_MIN = 0.3
DEFAULT_TURNS_PER_MIN = 0.2  # common practice, no source: lift and turn every five minutes
BLIND_MIN = 2.0  # the first two minutes: the form's steep start is not physical
PASSAGE_FRAC = 1 / 3  # the fastest third of the uptake; see docs/science/uptake.md
_LEVELS = 30  # of the uptake, at which a passage may begin: a third is ten of them
ZONE_FRAC = (0.25, 0.75)  # of the uptake: the critical zone
LEVEL_INDEX, UNEVEN_INDEX = 1.0, 2.0  # estimates: level below the first, likely uneven above the second
LN_INDEX_SCALE = 0.35  # of the logistic curve about UNEVEN_INDEX: one pot in eight at an index of 1; estimate
LN_MOVEMENT_SD = 0.5  # how far studios differ in what their handling evens out: a factor 1.6; estimate
MIGRATION_MIN = {DyeClass.ACID_LEVELLING: 30.0, DyeClass.FOOD: 30.0}  # [2]; food colours as levelling dyes: estimate
SLOW_MIGRATION_MIN = 120.0  # [2], milling dyes; the other classes that do not bond: estimate
GAP_SEEN, GAP_WIDE = 0.12, 0.25  # estimates
# The same numbers by what is wanted: even skeins, or tonal and broken ones.
LEVEL_RATINGS = ("level", "acceptable, slightly tonal", "likely uneven")
TONAL_RATINGS = ("level, not tonal", "slightly tonal", "tonal")
TOGETHER_RATINGS = ("go in together", "drift apart on the way", "strike apart")
BROKEN_RATINGS = ("go in together, nothing breaks", "break a little", "break clearly")


def peak_uptake_frac_per_min(t_min: Floats, exhaustion: Floats) -> Floats:
    """Return the rate at which the fastest third of the uptake goes in, 1/min; shape of `exhaustion` without time.

    The form's steep start is left out: a passage begins two minutes after the dye comes to the yarn. Only where a third
    is in by then, as in yarn put into a hot bath, those two minutes themselves count.

    Args:
        t_min: from 0 on, shape (times,).
        exhaustion: shape (..., times).
    """
    curves = exhaustion.reshape(-1, t_min.size)
    final = curves.max(axis=-1)
    seen_min = t_min[np.maximum(np.argmax(curves > 0, axis=-1) - 1, 0)] + BLIND_MIN
    levels = np.linspace(0.0, 1.0, _LEVELS + 1)
    reached = np.stack([first_reached_min(t_min, curves, level * final) for level in levels])
    step = round(PASSAGE_FRAC * _LEVELS)
    begins, ends = reached[:-step], reached[step:]
    is_later = (begins >= seen_min) & np.isfinite(ends)
    lasting = np.where(is_later, ends - begins, np.inf).min(axis=0)
    quickest = PASSAGE_FRAC * final / lasting
    early = _at_own_time(t_min, curves, seen_min)
    peak: Floats = np.where(early < PASSAGE_FRAC * final, quickest, np.maximum(quickest, early / BLIND_MIN))
    return peak.reshape(exhaustion.shape[:-1])


def _at_own_time(t_min: Floats, curves: Floats, wanted_min: Floats) -> Floats:
    """Return each curve at its own time, shape (curves,)."""
    right = np.clip(np.searchsorted(t_min, wanted_min), 1, t_min.size - 1)
    part = np.clip((wanted_min - t_min[right - 1]) / (t_min[right] - t_min[right - 1]), 0.0, 1.0)
    rows = np.arange(curves.shape[0])
    read: Floats = curves[rows, right - 1] * (1.0 - part) + curves[rows, right] * part
    return read


def critical_zone_c(t_min: Floats, bath_c: Floats, exhaustion: Floats) -> tuple[float, float]:
    """Return the bath's temperatures between which a dye goes in: from a quarter to three quarters of its uptake.

    Args:
        t_min: shape (times,).
        bath_c: shape (times,).
        exhaustion: of one dye, shape (times,).
    """
    begins, ends = (
        np.interp(first_reached_min(t_min, exhaustion[None], share * exhaustion.max())[0], t_min, bath_c)
        for share in ZONE_FRAC
    )
    return float(begins), float(ends)


def circulation_limit_pct_per_min(circulations_per_min: float, pct_per_turn: float = PCT_PER_TURN) -> float:
    """Return the uptake that a movement evens out, percent of a dye a minute [1]: the dyeing takes 100/(C D) minutes.

    Args:
        circulations_per_min: C, how often the whole bath passes the goods, or a kettle's yarn is turned over.
        pct_per_turn: D, percent of the dye that may go in at each: 1 to 10.
    """
    return pct_per_turn * circulations_per_min


def levelness(
    peak_pct_per_min: float, turns_per_min: float, ln_movement: float = 0.0, *, is_tonal_wanted: bool = False
) -> Levelness:
    """Return the rating of a peak uptake against the movement in the pot.

    Args:
        peak_pct_per_min: percent of a dye a minute, >= 0.
        turns_per_min: full turns of the yarn, 0 to about 10.
        ln_movement: what the studio's handling evens out beyond the default, its natural logarithm; see learn_movement.
        is_tonal_wanted: rates the same numbers as an effect, not as a fault.
    """
    limit = circulation_limit_pct_per_min(turns_per_min + CONVECTION_TURNS_PER_MIN) * float(np.exp(ln_movement))
    index = peak_pct_per_min / limit
    rating = (TONAL_RATINGS if is_tonal_wanted else LEVEL_RATINGS)[(index >= LEVEL_INDEX) + (index > UNEVEN_INDEX)]
    return Levelness(peak_pct_per_min=peak_pct_per_min, limit_pct_per_min=limit, rating=rating)


def uneven_risk(index: ArrayLike, boil_min: ArrayLike = 0.0, migration_min: ArrayLike = np.inf) -> Floats:
    """Return how likely skeins come out uneven, 0 to 1: even odds where the rating turns to "likely uneven".

    A dye that migrates evens out at the boil: the risk falls with e^(-t/τ) [2].

    Args:
        index: peak uptake over the limit, >= 0.
        boil_min: t, minutes near the boil after the dye has gone in.
        migration_min: τ, from evens_out_min.
    """
    struck = expit(np.log(np.maximum(np.asarray(index, float), np.finfo(float).tiny) / UNEVEN_INDEX) / LN_INDEX_SCALE)
    risk: Floats = struck * np.exp(-np.asarray(boil_min, float) / np.asarray(migration_min, float))
    return risk


def evens_out_min(dye_class: DyeClass) -> float:
    """Return the minutes near the boil in which a class of dye evens out to 1/e [2]; infinite where it bonds."""
    if dye_class.is_reactive:
        return float("inf")
    return MIGRATION_MIN.get(dye_class, SLOW_MIGRATION_MIN)


def learn_movement(lessons: Sequence[LevelLesson]) -> tuple[float, int]:
    """Return what a studio's handling evens out beyond the default, in its natural logarithm, and the pots it rests on.

    The most likely shift m of a logistic curve, P(uneven) = 1/(1 + e^(-(ln index - m - ln 2)/0.35)), under a normal
    prior of 0 ± 0.5. All its numbers are estimates; with no lesson it is 0.

    Args:
        lessons: judged pots, each with its index against the limit before anything was learnt.
    """
    if not lessons:
        return 0.0, 0
    height = np.log([max(lesson.index, np.finfo(float).tiny) / UNEVEN_INDEX for lesson in lessons])
    is_uneven = np.array([not lesson.is_level for lesson in lessons], float)

    def pull(shift: float) -> float:
        foretold = expit((height - shift) / LN_INDEX_SCALE)
        return float(np.sum(foretold - is_uneven)) / LN_INDEX_SCALE - shift / LN_MOVEMENT_SD**2

    furthest = LN_MOVEMENT_SD**2 * len(lessons) / LN_INDEX_SCALE  # no residual exceeds 1
    return float(brentq(pull, -furthest, furthest)), len(lessons)


def breaking(
    bath_c: Floats, exhaustion: Floats, dyes: Sequence[str] = (), *, is_wanted: bool = False
) -> Breaking | None:
    """Return the widest gap between two dyes along the way, and which lead and trail; None with fewer than two dyes.

    Args:
        bath_c: shape (times,).
        exhaustion: shape (dyes, times).
        dyes: their names, in this order.
        is_wanted: rates the same gap as an effect, not as a fault.
    """
    if exhaustion.shape[0] < 2:
        return None
    gap = exhaustion.max(axis=0) - exhaustion.min(axis=0)
    at = int(np.argmax(gap))
    widest = float(gap[at])
    rating = (BROKEN_RATINGS if is_wanted else TOGETHER_RATINGS)[(widest >= GAP_SEEN) + (widest >= GAP_WIDE)]
    first, last = int(np.argmax(exhaustion[:, at])), int(np.argmin(exhaustion[:, at]))
    names = (dyes[first], dyes[last]) if dyes else ("", "")
    return Breaking(max_gap=widest, at_c=float(bath_c[at]), rating=rating, first=names[0], last=names[1])
