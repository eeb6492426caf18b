"""How much dye a glass of bath still holds, from a photo of it beside glasses of known dilution.

By the Beer-Lambert law [1] the absorbance of one dye is proportional to its concentration. A phone's picture is not
linear, yet it treats all glasses of one photo alike: so the bath is read between the glasses of the ladder and not by
the law, which only stands in where the ladder has no more than the starting bath. Dyes of a mixture go in unequally and
stain unequally: how much colour is left then tells only roughly how much dye is, whether the channels disagree or not.

Sources: [1] any textbook of optics or analytical chemistry, for instance IUPAC Gold Book, "Beer-Lambert law".
[2] A. Shams-Nateri: three dyes in one solution, by spectrophotometer: 12 to 14 % off on average (the abstract; so no
camera does better).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator

from dyewright.core.model import Band
from dyewright.errors import InputError

__all__ = ["PALEST", "GlassReading", "absorbance", "read_glasses"]

Floats = NDArray[np.float64]

SD_ABSORBANCE = 0.03  # light and glass differ from place to place: with 0.02 bands of pale baths hold 8 of 10, not 9
APART_ABSORBANCE = 0.06  # estimate: glasses closer than this, or to water, may be out of order
DARKEST = 2.0  # an absorbance above this is black to a camera: the channel says nothing there
PALEST = 0.05  # a starting bath with less in every channel cannot be told from water
SD_WITHOUT_LADDER_RUNGS = 0.75  # estimate: what a phone's tone curve may shift a reading that no rung holds
SD_CHANNEL_RUNGS = 0.25  # estimate: no channel speaks for the whole bath better than an eye does
MIXED_RUNGS = 0.75  # channels farther apart than this speak of dyes that have gone in unequally
MIXED_HALF_FRAC = 0.15  # of all dye: nine of ten simulated mixtures lie within 0.12 to 0.17 (see the test), [2]
SD_OTHER_PHOTO_RUNGS = 0.5  # estimate: a start kept from another photo had another light and another tone curve
NORMAL_90 = 1.645  # half-width of nine tenths of a normal distribution, in standard deviations
LEAST_LEFT = 2.0**-8  # paler than this nothing can be read


@dataclass(frozen=True)
class GlassReading:
    """The fraction of dye that has gone in, with the band that holds nine of ten cases.

    `sd_rungs` is the doubt in halvings of the bath. `is_mixed` where the channels disagree: dyes have gone in
    unequally, and the middle speaks for the bath as a whole. `has_ladder` is False where only water and the starting
    bath stood beside it. `is_rough` where several dyes are in the bath: the band is 15 % of all dye or more each way.
    """

    exhaustion: Band
    sd_rungs: float
    is_mixed: bool
    has_ladder: bool
    is_rough: bool = False


def absorbance(rgb: ArrayLike, water_rgb: ArrayLike) -> Floats:
    """Return the absorbance of each channel against plain water, log10 of the ratio; shape of `rgb`.

    Args:
        rgb: linear light of a glass, three channels last.
        water_rgb: linear light of a glass of water.
    """
    through = np.maximum(np.asarray(rgb, float), 1e-9) / np.maximum(np.asarray(water_rgb, float), 1e-9)
    return np.asarray(-np.log10(through), float)


def read_glasses(
    bath_rgb: ArrayLike,
    water_rgb: ArrayLike,
    ladder: Sequence[tuple[float, ArrayLike]],
    *,
    is_of_several_dyes: bool = False,
    is_start_of_other_photo: bool = False,
) -> GlassReading:
    """Return how much of the dye has gone in, from the bath between water and the glasses of its ladder.

    Args:
        bath_rgb: linear light of the glass of bath, shape (3,).
        water_rgb: of the glass of water, shape (3,).
        ladder: the fraction of the starting bath that a glass holds (1, 0.5, 0.25 …) and its linear light, in any
            order; the start itself is among them.
        is_of_several_dyes: the bath holds more than one dye, or a blend: the reading is rough.
        is_start_of_other_photo: the start was read earlier, against the water of its own photo.

    Raises:
        InputError: the ladder lacks the start, a fraction is not above 0 and at most 1, or the start is as pale as
            water.
    """
    left, rungs = _checked_ladder(ladder, water_rgb)
    bath = absorbance(bath_rgb, water_rgb)
    logs, sds = _channels(bath, left, rungs)
    weights = 1.0 / (sds**2 + SD_CHANNEL_RUNGS**2)
    mean = float(np.sum(weights * logs) / weights.sum())
    spread = float(np.ptp(logs[weights > 0.25 * weights.max()]))
    doubts = [_sd_of_mean(weights, sds), spread / 2.0]
    doubts += [SD_WITHOUT_LADDER_RUNGS] if len(left) == 1 else []
    doubts += [SD_OTHER_PHOTO_RUNGS] if is_start_of_other_photo else []
    sd = float(np.linalg.norm(doubts))
    band = Band(mid=_gone(mean), low=max(0.0, _gone(mean + NORMAL_90 * sd)), high=_gone(mean - NORMAL_90 * sd))
    if is_of_several_dyes:
        band = _widened(band)
        sd = max(sd, (np.log2(1.0 - (band.low or 0.0)) - mean) / NORMAL_90)
    return GlassReading(
        exhaustion=band,
        sd_rungs=float(sd),
        is_mixed=spread > MIXED_RUNGS,
        has_ladder=len(left) > 1,
        is_rough=is_of_several_dyes,
    )


def _widened(band: Band) -> Band:
    """Return the band of a mixed bath: no narrower to either side than a mixture can be told."""
    mid, low, high = band.mid or 0.0, band.low or 0.0, 1.0 if band.high is None else band.high
    return Band(mid=mid, low=max(0.0, min(low, mid - MIXED_HALF_FRAC)), high=min(1.0, max(high, mid + MIXED_HALF_FRAC)))


def _sd_of_mean(weights: Floats, sds: Floats) -> float:
    """Return the doubt of the channels' mean: a glass that stands darker or is fuller shifts all three alike."""
    shares = weights / weights.sum()
    return float(np.hypot(np.sum(shares * sds), SD_CHANNEL_RUNGS * np.sqrt(np.sum(shares**2))))


def _gone(log2_left: float) -> float:
    return float(1.0 - min(1.0, 2.0**log2_left))


def _checked_ladder(ladder: Sequence[tuple[float, ArrayLike]], water_rgb: ArrayLike) -> tuple[Floats, Floats]:
    """Return the fractions, palest first, and the absorbances of their glasses, shape (glasses, 3)."""
    in_order = sorted(ladder, key=lambda glass: glass[0])
    left = np.array([fraction for fraction, _ in in_order])
    if left.size == 0 or left[-1] != 1.0:
        raise InputError(
            "the ladder lacks the starting bath: mark the glass with it, or read the bath by eye at the pot",
            field="start",
        )
    if left[0] <= 0 or left[-1] > 1 or np.any(np.diff(left) <= 0):
        raise InputError(
            "each glass of the ladder holds another share of the start, above 0 and at most 1", field="start"
        )
    rungs = np.array([absorbance(rgb, water_rgb) for _, rgb in in_order])
    if rungs[-1].max() < PALEST:
        raise InputError(
            f"the starting bath is as pale as the water in this photo (absorbance {rungs[-1].max():.2f}, at least "
            f"{PALEST} is needed): photograph taller glasses on white paper, or read the bath by eye",
            field="start",
            value=float(rungs[-1].max()),
            limit=PALEST,
        )
    return left, rungs


def _channels(bath: Floats, left: Floats, rungs: Floats) -> tuple[Floats, Floats]:
    """Return what each channel that can be read says: log2 of the fraction left, and its standard deviation."""
    logs, sds = [], []
    for channel in range(3):
        if rungs[-1, channel] < PALEST:
            continue
        told = _told_apart(rungs[:, channel])
        rising, fractions = ([0.0, *np.minimum(rungs[told, channel], DARKEST)], [0.0, *left[told]])
        log, slope = _between(bath[channel], np.array(rising), np.array(fractions))
        logs.append(log)
        sds.append(SD_ABSORBANCE / slope)
    return np.array(logs), np.array(sds)


def _told_apart(rungs: Floats) -> list[int]:
    """Return the places of the glasses that one channel tells from water and from each other, palest first.

    The start is kept, or the palest glass that is black to the channel: dark glasses tell more than their errors.
    """
    darkest = int(np.argmax(rungs >= DARKEST)) if np.any(rungs >= DARKEST) else rungs.size - 1
    kept = [darkest]
    for place in range(darkest - 1, -1, -1):
        if APART_ABSORBANCE <= rungs[place] <= min(rungs[kept[-1]], DARKEST) - APART_ABSORBANCE:
            kept.append(place)
    return kept[::-1]


def _between(seen: float, rising: Floats, fractions: Floats) -> tuple[float, float]:
    """Return log2 of the fraction that has this absorbance, and the absorbance a rung there."""
    inverse = PchipInterpolator(rising, fractions)
    inside = float(np.clip(seen, rising[1] * LEAST_LEFT, rising[-1]))
    left = max(float(inverse(inside)), LEAST_LEFT)
    per_absorbance = max(float(inverse.derivative()(inside)), 1e-6)
    return float(np.log2(left)), left * float(np.log(2.0)) / per_absorbance
