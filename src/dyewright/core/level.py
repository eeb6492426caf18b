"""Will the colour be even: uptake against movement, and dyes against each other.

Levelness: dye that goes in faster than the yarn is turned over lands unevenly. Circulation theory [1] allows a few
percent of a dye for each full turn of the goods. The limits are estimates until judged lots teach a studio's own.
Breaking: two dyes that go in at different times leave a colour that changes along the way, and along the skein.

Source: [1] circulation theory of package dyeing, percent of the dye taken up in one circulation: loose stock 2 to 4;
textileinfo.com, chapter 02_02, after its secondary copy.
"""

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Breaking, Levelness
from dyewright.core.uptake import at_times, first_reached_min

__all__ = ["DEFAULT_TURNS_PER_MIN", "breaking", "levelness", "peak_uptake_frac_per_min"]

Floats = NDArray[np.float64]

PCT_PER_TURN = 3.0  # [1], loose stock 2 to 4: the nearest to skeins in a kettle
# Convection moves a hot bath without any turning. Estimate, set so that 30 L/kg, untreated wool, 1 °C/min and a turn
# every five minutes rates "acceptable, slightly tonal" (common practice, no source).
CONVECTION_TURNS_PER_MIN = 0.3
DEFAULT_TURNS_PER_MIN = 0.2  # common practice, no source: lift and turn every five minutes
BLIND_MIN = 2.0  # the first two minutes: the form's steep start is not physical
PASSAGE_FRAC = 1 / 3  # the fastest third of the uptake; see docs/science/uptake.md
_LEVELS = 30  # of the uptake, at which a passage may begin: a third is ten of them
GAP_SEEN, GAP_WIDE = 0.12, 0.25  # estimates


def peak_uptake_frac_per_min(t_min: Floats, exhaustion: Floats) -> Floats:
    """Return the rate at which the fastest third of the uptake goes in, 1/min; shape of `exhaustion` without time.

    The form's steep start is left out: a passage begins after two minutes. Only where a third is in by then, as in yarn
    put into a hot bath, those two minutes themselves count.

    Args:
        t_min: from 0 on, shape (times,).
        exhaustion: shape (..., times).
    """
    curves = exhaustion.reshape(-1, t_min.size)
    final = curves.max(axis=-1)
    levels = np.linspace(0.0, 1.0, _LEVELS + 1)
    reached = np.stack([first_reached_min(t_min, curves, level * final) for level in levels])
    step = round(PASSAGE_FRAC * _LEVELS)
    begins, ends = reached[:-step], reached[step:]
    is_later = (begins >= BLIND_MIN) & np.isfinite(ends)
    lasting = np.where(is_later, ends - begins, np.inf).min(axis=0)
    quickest = PASSAGE_FRAC * final / lasting
    early = at_times(t_min, curves, np.array([BLIND_MIN]))[:, 0]
    peak: Floats = np.where(early < PASSAGE_FRAC * final, quickest, np.maximum(quickest, early / BLIND_MIN))
    return peak.reshape(exhaustion.shape[:-1])


def levelness(peak_pct_per_min: float, turns_per_min: float) -> Levelness:
    """Return the rating of a peak uptake against the movement in the pot.

    Args:
        peak_pct_per_min: percent of a dye a minute, >= 0.
        turns_per_min: full turns of the yarn, 0 to about 10.
    """
    limit = PCT_PER_TURN * (turns_per_min + CONVECTION_TURNS_PER_MIN)
    index = peak_pct_per_min / limit
    if index < 1:
        rating = "level"
    elif index <= 2:
        rating = "acceptable, slightly tonal"
    else:
        rating = "likely uneven"
    return Levelness(peak_pct_per_min=peak_pct_per_min, limit_pct_per_min=limit, rating=rating)


def breaking(bath_c: Floats, exhaustion: Floats) -> Breaking | None:
    """Return the widest gap between two dyes along the way; None with fewer than two dyes.

    Args:
        bath_c: shape (times,).
        exhaustion: shape (dyes, times).
    """
    if exhaustion.shape[0] < 2:
        return None
    gap = exhaustion.max(axis=0) - exhaustion.min(axis=0)
    at = int(np.argmax(gap))
    widest = float(gap[at])
    if widest < GAP_SEEN:
        rating = "go in together"
    elif widest < GAP_WIDE:
        rating = "drift apart on the way"
    else:
        rating = "strike apart"
    return Breaking(max_gap=widest, at_c=float(bath_c[at]), rating=rating)
