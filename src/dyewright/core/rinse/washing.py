"""Serial rinsing of a drained skein: how much dye each water carries, and which is the first clear one.

Before the first water the yarn holds m0 = w c_spent + what is on the fibre and not held. With V litres of fresh water a
kilogram, w litres kept from the last, and K_r litres a kilogram that the fibre holds back as if it were liquor, water n
carries

    c_n = η m_(n-1) / (w + K_r + V),    m_n = m_(n-1) - V c_n,

η being how well the water gets at the yarn. Textbook dilution; w, K_r and η are estimates unless a wet skein was
weighed.

Sources: [1] A. D. Broadbent, Basic Principles of Textile Coloration, SDC 2001, p. 344: a cold rinse to drop the salt,
then soaping at the boil; unfixed dye may have to be below 0.002 % owf.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import Handling, Span
from dyewright.core.reactive.spread import spread

__all__ = [
    "COUNTED_UP",
    "SPOTLESS_SHARE",
    "Drained",
    "WashDraws",
    "as_counted",
    "draw_wash",
    "dye_in_waters_mg_l",
    "held_back_l_kg",
    "waters_needed",
    "whole_waters",
]

Floats = NDArray[np.float64]

# All estimates, ranges that hold nine of ten cases.
CLEAR_MG_L = Span(1.0, 0.3, 3.0)  # a rinse in a white bowl about 5 cm deep looks like water
SPOTLESS_SHARE = 0.2  # of the clear limit: no tint at all
KEPT_FACTOR = Span(1.0, 0.7, 1.5)  # what one hand's squeeze keeps over the table's
WEIGHED_FACTOR = Span(1.0, 0.9, 1.1)  # the same where a wet skein was weighed
ON_PROTEIN_L_KG = Span(1.0, 0.5, 5.0)
COLD_CELLULOSE_L_KG, HOT_CELLULOSE_L_KG = Span(3.0, 2.0, 5.0), Span(0.7, 0.5, 1.0)
LEAST_WATERS = -5.0
COUNTED_UP = 0.5  # a count of waters is the smooth number rounded up: on the average it lies so far below
COLD_C, HOT_C = 25.0, 60.0
AFTER_TREATED_FRAC = Span(0.25, 0.1, 0.5)  # left loose on wool after ammonia at 80 °C for 15 minutes
EFFICIENCY = {  # 0.7 for a lifted skein; the others set around it
    Handling.STILL: Span(0.5, 0.3, 0.7),
    Handling.LIFTED: Span(0.7, 0.5, 0.95),
    Handling.SWISHED: Span(0.8, 0.6, 0.98),
    Handling.UNDER_THE_TAP: Span(0.8, 0.6, 0.98),
}


@dataclass(frozen=True)
class WashDraws:
    """Standard normal draws of what a rinse depends on, shape (samples,): 0 is the middle of a range."""

    kept: Floats
    held_back: Floats
    efficiency: Floats
    clear: Floats
    after_treated: Floats

    def after_treated_frac(self) -> Floats:
        """Return what an after-treatment of reactive dye on wool leaves of the loose dye."""
        return spread(self.after_treated, AFTER_TREATED_FRAC)

    def clear_mg_l(self) -> Floats:
        """Return what a water may carry and look clear, mg/L."""
        return spread(self.clear, CLEAR_MG_L)

    def efficiency_frac(self, handling: Handling) -> Floats:
        """Return how well a water gets at yarn that is moved so."""
        return np.minimum(spread(self.efficiency, EFFICIENCY[handling]), 1.0)

    def kept_l_kg(self, kept_l_kg: float, *, is_weighed: bool) -> Floats:
        """Return the litres that a drained kilogram keeps."""
        return kept_l_kg * spread(self.kept, WEIGHED_FACTOR if is_weighed else KEPT_FACTOR)


def draw_wash(samples: int, rng: np.random.Generator | None = None) -> WashDraws:
    """Return draws for a number of samples; the middle of every range where there is no generator."""
    drawn = np.zeros((5, samples)) if rng is None else rng.standard_normal((5, samples))
    return WashDraws(*np.clip(drawn, -3.0, 3.0))


@dataclass(frozen=True)
class Drained:
    """Drained yarn before its first water, for every sample.

    `load_mg_kg` (samples, dyes) is dye that can come off; `kept_l_kg` and `efficiency_frac` have shape (samples,).
    """

    load_mg_kg: Floats
    kept_l_kg: Floats
    efficiency_frac: Floats


def held_back_l_kg(normal: ArrayLike, at_c: float, *, is_cellulose: bool) -> Floats:
    """Return K_r of loose reactive dye, the liquor that the fibre's hold on it is worth, L/kg.

    Hydrolysed dye leaves cellulose readily only when hot and without salt [1]; between 25 and 60 °C ln K_r is taken as
    linear in temperature. Dyes that do not bond are held fast or are in the liquor: their K_r is 0.

    Args:
        normal: standard normal draws.
        at_c: temperature of the water, 0 to 100.
        is_cellulose: else wool, silk or nylon.
    """
    if not is_cellulose:
        return spread(normal, ON_PROTEIN_L_KG)
    warmth = np.clip((at_c - COLD_C) / (HOT_C - COLD_C), 0.0, 1.0)
    cold, hot = spread(normal, COLD_CELLULOSE_L_KG), spread(normal, HOT_CELLULOSE_L_KG)
    held: Floats = cold ** (1.0 - warmth) * hot**warmth
    return held


def dye_in_waters_mg_l(drained: Drained, water_l_kg: float, held_back_l_kg: Floats) -> Floats:
    """Return the dye that each water carries, mg/L, shape (samples, waters), the dyes together.

    Args:
        drained: the yarn before the first water.
        water_l_kg: fresh water of each rinse, above 0.
        held_back_l_kg: K_r of each dye in each water, shape (samples, dyes, waters).
    """
    kept, efficiency = drained.kept_l_kg[:, None, None], drained.efficiency_frac[:, None, None]
    volume = kept + held_back_l_kg + water_l_kg
    stays = 1.0 - efficiency * water_l_kg / volume
    before = np.concatenate([np.ones_like(stays[..., :1]), np.cumprod(stays[..., :-1], axis=-1)], axis=-1)
    carried: Floats = (efficiency * drained.load_mg_kg[..., None] * before / volume).sum(axis=1)
    return carried


def waters_needed(dye_mg_l: Floats, clear_mg_l: ArrayLike) -> Floats:
    """Return which water is the first clear one, as a number that moves smoothly, shape (samples,).

    Between two waters the dye is taken to fall by the same factor throughout; before the first and beyond the last it
    goes on as there. Below 1 where the first water is clearer than it need be, and never below -5 (nothing comes off).

    Args:
        dye_mg_l: of at least two waters, falling, shape (samples, waters).
        clear_mg_l: limit of each sample, > 0.
    """
    with np.errstate(divide="ignore"):
        above = np.log(dye_mg_l) - np.log(np.asarray(clear_mg_l, float))[..., None]
    last = dye_mg_l.shape[-1] - 1
    clear = np.where((above <= 0).any(axis=-1), np.argmax(above <= 0, axis=-1), last)
    after = np.clip(clear, 1, last)
    rows = np.arange(dye_mg_l.shape[0])
    high, low = above[rows, after - 1], above[rows, after]
    with np.errstate(invalid="ignore"):
        part = np.where(np.isfinite(low), high / np.where(high > low, high - low, 1.0), -np.inf)
    waters: Floats = np.maximum(after + part, LEAST_WATERS)
    return waters


def whole_waters(waters: ArrayLike) -> NDArray[np.float64]:
    """Return how many waters are given: the first clear one is counted, and one is given in any case.

    Args:
        waters: as `waters_needed` gives them.
    """
    whole: Floats = np.maximum(np.ceil(np.asarray(waters, float) - 1e-9), 1.0)
    return whole


def as_counted(waters: ArrayLike, count: int) -> Floats:
    """Return waters as they may be held against a count of them, less `COUNTED_UP`.

    One water is given in any case, however clear it is: a count of one says "no more", and nothing of how much less.

    Args:
        waters: as `waters_needed` gives them, of any number of samples.
        count: of waters given, the first clear one included, at least 1.
    """
    smooth = np.asarray(waters, float)
    return np.maximum(smooth, 1 - COUNTED_UP) if count == 1 else smooth
