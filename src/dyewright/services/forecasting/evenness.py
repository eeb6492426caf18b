"""Will the skeins come out level, and will the dyes break: the strike of every sample against the pot's movement."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dyewright.core.level import (
    breaking,
    critical_zone_c,
    evens_out_min,
    levelness,
    peak_uptake_frac_per_min,
    uneven_risk,
)
from dyewright.core.model import Breaking, DyeClass, Learnt, Levelness, Sheet, Substance
from dyewright.core.uptake import Outlook, first_reached_min, quantile_band, value_band
from dyewright.services.forecasting.inputs import ModelledDyes
from dyewright.services.forecasting.trial import AGENT_SLOWING, Trial, Way

__all__ = ["NEAR_BOIL_C", "least_turns_per_min", "level_and_breaking"]

Floats = NDArray[np.float64]

NEAR_BOIL_C = 90.0  # from here on dye migrates; estimate
SHORTEST_MIN = 5.0  # a plan of fewer minutes is not rated
MOSTLY_IN = 0.75


def least_turns_per_min(sheet: Sheet) -> float | None:
    """Return the turns of the pot that is turned least; None where no pot says."""
    return min((pot.turns_per_min for pot in sheet.card.pots if pot.turns_per_min is not None), default=None)


def level_and_breaking(
    sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, weights: Floats, learnt: Learnt | None
) -> tuple[Levelness | None, Breaking | None]:
    """Return how evenly the dyes go in, and how far apart, by the middle of their bands."""
    middle = quantile_band(outlook.exhaustion, weights)[1]
    names = [sheet.card.dyes[place].name for place in modelled.places]
    slowing = _agent_slowing(sheet, modelled, learnt)
    level = _evenness(sheet, modelled, outlook, weights, 0.0 if learnt is None else learnt.ln_movement, slowing)
    return level, breaking(outlook.bath_c, middle, names, is_wanted=bool(sheet.card.is_tonal_wanted))


def _evenness(
    sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, weights: Floats, ln_movement: float, slowing: float
) -> Levelness | None:
    """Return the rating of the fastest dye against the pot that is turned least; None for a plan of a few minutes.

    The rating is of the strike; `uneven_frac` also counts what evens out near the boil afterwards.
    """
    turns = least_turns_per_min(sheet)
    if turns is None or outlook.t_min[-1] < SHORTEST_MIN:
        return None
    peaks = slowing * peak_uptake_frac_per_min(outlook.t_min, outlook.exhaustion)
    mid = value_band(peaks.max(axis=1), weights).mid or 0.0
    rated = levelness(100.0 * mid, turns, ln_movement, is_tonal_wanted=bool(sheet.card.is_tonal_wanted))
    middle = quantile_band(outlook.exhaustion, weights)[1]
    fastest = int(np.argmax(quantile_band(peaks, weights)[1]))
    classes = [sheet.card.dyes[place].dye_class for place in modelled.places]
    risk = _risk(100.0 * peaks / rated.limit_pct_per_min, outlook, middle, classes)
    return Levelness(
        peak_pct_per_min=rated.peak_pct_per_min,
        limit_pct_per_min=rated.limit_pct_per_min,
        rating=rated.rating,
        zone_c=critical_zone_c(outlook.t_min, outlook.bath_c, middle[fastest]),
        uneven_frac=float(weights @ risk.max(axis=1)),
    )


def _agent_slowing(sheet: Sheet, modelled: ModelledDyes, learnt: Learnt | None) -> float:
    """Return what a levelling agent on the card leaves of the strike; 1 where there is none."""
    if not any(dose.substance is Substance.LEVELLING_AGENT for dose in sheet.card.assistants):
        return 1.0
    trial = Trial.of(sheet, modelled, learnt)
    return trial.strike(Way("with the agent", sheet, slowing=AGENT_SLOWING)) / trial.strike(Way("without", sheet))


def _risk(index: Floats, outlook: Outlook, middle: Floats, classes: Sequence[DyeClass]) -> Floats:
    """Return how likely each dye of each sample comes out uneven, shape (samples, dyes)."""
    at_boil = np.array([_boil_min(outlook.t_min, outlook.bath_c, curve) for curve in middle])
    return uneven_risk(index, at_boil, np.array([evens_out_min(dye_class) for dye_class in classes]))


def _boil_min(t_min: Floats, bath_c: Floats, exhaustion: Floats) -> float:
    """Return the minutes near the boil after most of a dye has gone in."""
    begins = first_reached_min(t_min, exhaustion[None], MOSTLY_IN * exhaustion.max())[0]
    is_boiling = (bath_c[1:] >= NEAR_BOIL_C) & (bath_c[:-1] >= NEAR_BOIL_C)
    return float(np.sum(np.clip(t_min[1:] - np.maximum(t_min[:-1], begins), 0.0, None)[is_boiling]))
