"""The samples behind a way's bands, so that two ways can be compared pot by pot and not band against band."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.beside import less_frac
from dyewright.core.model import Learnt, Sheet
from dyewright.core.uptake import first_reached_min
from dyewright.data.uptake import load_uptake
from dyewright.services.forecasting.foretell import MOSTLY_CLEAR, SEED
from dyewright.services.forecasting.inputs import modelled_dyes, planned_course
from dyewright.services.forecasting.looking import drawn_for

__all__ = ["Samples", "left_is_less_frac", "samples_of"]

Floats = NDArray[np.float64]

SHUFFLE_SEED = 20261126  # any number does


@dataclass(frozen=True, eq=False)
class Samples:
    """One number for each sample of a way: minutes, infinite where the bath never gets there, and the final uptake.

    `dyes` say what the samples are of; two ways of the same dyes share their draws.
    """

    dyes: tuple[object, ...]
    mostly_clear_min: Floats
    clear_min: Floats
    final_exhaustion: Floats


def samples_of(sheet: Sheet, learnt: Learnt | None) -> Samples | None:
    """Return a sheet's samples; None where not every dye of it has an uptake model."""
    modelled = modelled_dyes(sheet, load_uptake())
    if not modelled.places or len(modelled.places) < len(sheet.card.dyes):
        return None
    outlook = drawn_for(sheet, modelled, planned_course(sheet), learnt=learnt, seed=SEED).outlook

    def reached_min(goal: Floats | float) -> Floats:
        return first_reached_min(outlook.held_min, outlook.held, goal, from_min=outlook.all_in_min)

    return Samples(
        dyes=tuple((dye.name, dye.dye_class, modelled.fibres) for dye in sheet.card.dyes),
        mostly_clear_min=reached_min(MOSTLY_CLEAR),
        clear_min=reached_min(outlook.clear_goal),
        final_exhaustion=outlook.bath[:, -1],
    )


def left_is_less_frac(left: Samples | None, right: Samples | None, name: str) -> float | None:
    """Return how often the left way's number is the smaller, 0 to 1; None where one has no samples.

    Ways of the same dyes are compared sample by sample: what is not known of a dye is the same in both. Other dyes
    are taken as independent, which says "cannot tell" rather too often than too seldom.
    """
    if left is None or right is None:
        return None
    numbers: tuple[Floats, Floats] = getattr(left, name), getattr(right, name)
    if left.dyes == right.dyes:
        return less_frac(*numbers)
    shuffled = np.random.default_rng(SHUFFLE_SEED).permutation(numbers[1].size)
    return less_frac(numbers[0], numbers[1][shuffled])
