"""What wet yarn will look like dry: a shift learnt per base from samples that were judged wet and dry.

A film of water on a rough surface throws part of the light that the surface sends back onto it again [1]. Of diffuse
reflectance R it leaves R (1 - p) / (1 - p R), so that what is absorbed against what comes back, (1 - R) / R, grows by
one factor at every wavelength, 1 / (1 - p): the natural logarithm of it is the shift. It is learnt, as yarn is no flat
film and damp is not wet; it holds about as well as that, as a rough guide.

Sources: [1] J. Lekner, M. C. Dorf, Why some things are darker when wet, Appl. Opt. 27 (1988) 1278-1280, after
A. Ångström (1925). [2] M. Senthilkumar, N. Selvakumar, Color. Technol. (2011), 10.1111/j.1478-4408.2011.00290 (the
abstract): cotton looks the deeper the more water it holds, by structure more or less. [3] A. Gelman et al., Bayesian
Data Analysis, 3rd ed. (2013), 5.4: normal means drawn together.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import delta_e00, lab_from_xyz, light_of, reflectance_from_lab, xyz_from_reflectance
from dyewright.core.model import Lab, ObserverTables, WetPair

__all__ = [
    "DryGuess",
    "WetShift",
    "dry_guess",
    "dry_reflectance",
    "is_as_wet",
    "learnt_shift",
    "shift_of_pair",
    "wet_reflectance",
]

Floats = NDArray[np.float64]

WATER_SHIFT = 0.644  # [1]: ln of 1 / (1 - p) for water, n = 1.333: p = 1 - (1 - 0.066) / n²
SD_OF_ALL = 0.3  # of the shift of usual yarn about that of a film of water (estimate)
SD_BETWEEN_BASES = 0.2  # (estimate)
SD_INSIDE_BASE = 0.2  # from sample to sample: how wet it was (estimate)
READING_DE00 = 2.0  # of each of the two photos' colours (estimate)
SHIFTS = np.linspace(-0.6, 2.2, 141)  # where a pair's shift is looked for
DAMP_SHIFT, SOAKED_SHIFT = 0.2, 1.2  # from hardly damp to wetter than a film of water makes it (estimate)
EXPLAINED_FRAC = 0.4  # of a difference may be left where water is to explain it (estimate)
Z95 = 1.96  # the normal deviate that holds 95 %
STEP = 0.05  # of the shift, over which its slope in ΔE00 is taken


@dataclass(frozen=True)
class WetShift:
    """The shift of the next sample of a base, its standard deviation, and how many pairs of it and of others tell."""

    shift: float
    sd: float
    own_pairs: int
    other_pairs: int


@dataclass(frozen=True)
class DryGuess:
    """The colour a wet sample is guessed to have when dry; in 19 of 20 cases it lies from `darkest` to `lightest`.

    `de00_95` is how far from the middle that is.
    """

    lab: Lab
    darkest: Lab
    lightest: Lab
    de00_95: float


def wet_reflectance(reflectance: ArrayLike, shift: ArrayLike) -> Floats:
    """Return the reflectance of wet yarn [1], shape of the arguments broadcast.

    Args:
        reflectance: of the dry yarn, 0 to 1.
        shift: ln of how much (1 - R) / R grows by the water; 0 leaves it dry.
    """
    dry = np.clip(np.asarray(reflectance, float), 1e-6, 1 - 1e-6)
    return np.asarray(1 / (1 + np.exp(np.asarray(shift, float)) * (1 - dry) / dry), float)


def dry_reflectance(reflectance: ArrayLike, shift: ArrayLike) -> Floats:
    """Return the reflectance of the dry yarn from that of the wet: the way back from `wet_reflectance`."""
    return wet_reflectance(reflectance, -np.asarray(shift, float))


def shift_of_pair(pair: WetPair, tables: ObserverTables) -> tuple[float, float]:
    """Return the shift that takes a pair's wet colour nearest to its dry one, and its standard deviation.

    Raises:
        OutOfRangeError: no surface can have the wet colour.
    """
    shift, _ = _best_shift(pair.wet_lab, pair.dry_lab, tables)
    slope = _slope_de00(pair.wet_lab, shift, tables)
    return shift, float(np.hypot(SD_INSIDE_BASE, np.sqrt(2) * READING_DE00 / slope))


def is_as_wet(lab: ArrayLike, dry_lab: ArrayLike, tables: ObserverTables) -> bool:
    """Return whether a colour differs from a dry one much as water would make it: darker and deeper, of its hue.

    More dye can do the same: it is a reason to ask, not to know.

    Raises:
        OutOfRangeError: no surface can have the first colour.
    """
    shift, left = _best_shift(lab, dry_lab, tables)
    apart = float(np.linalg.norm(np.asarray(lab, float) - np.asarray(dry_lab, float)))
    return DAMP_SHIFT <= shift <= SOAKED_SHIFT and left < EXPLAINED_FRAC * apart


def learnt_shift(base_id: int, pairs: Sequence[WetPair], tables: ObserverTables) -> WetShift:
    """Return the shift of a base, its own pairs drawn towards those of other bases and of a film of water [3].

    Args:
        base_id: the base asked for.
        pairs: of all bases.
        tables: for the colours of the curves.
    """
    bases = sorted({pair.base_id for pair in pairs} | {base_id})
    precision, pull = np.zeros((len(bases) + 1,) * 2), np.zeros(len(bases) + 1)
    precision[0, 0], pull[0] = SD_OF_ALL**-2, WATER_SHIFT * SD_OF_ALL**-2  # place 0 is the mean of all bases
    for place in range(1, len(bases) + 1):
        precision[np.ix_([0, place], [0, place])] += np.array([[1, -1], [-1, 1]]) * SD_BETWEEN_BASES**-2
    for pair in pairs:
        shift, sd = shift_of_pair(pair, tables)
        place = 1 + bases.index(pair.base_id)
        precision[place, place] += sd**-2
        pull[place] += shift * sd**-2
    covariance, own = np.linalg.inv(precision), 1 + bases.index(base_id)
    mine = sum(pair.base_id == base_id for pair in pairs)
    return WetShift(
        shift=float((covariance @ pull)[own]),
        sd=float(np.hypot(np.sqrt(covariance[own, own]), SD_INSIDE_BASE)),
        own_pairs=mine,
        other_pairs=len(pairs) - mine,
    )


def dry_guess(wet_lab: ArrayLike, shift: WetShift, tables: ObserverTables) -> DryGuess:
    """Return what a wet sample's colour (D65, 10°) will be dry, with the band that a shift so sure leaves.

    Raises:
        OutOfRangeError: no surface can have the wet colour.
    """
    half = Z95 * shift.sd
    middle, darkest, lightest = _dry_labs(wet_lab, shift.shift + np.array([0.0, -half, half]), tables)
    reach = max(float(delta_e00(middle, darkest)), float(delta_e00(middle, lightest)))
    return DryGuess(_lab(middle), _lab(darkest), _lab(lightest), float(np.hypot(reach, Z95 * READING_DE00)))


def _best_shift(wet_lab: ArrayLike, dry_lab: ArrayLike, tables: ObserverTables) -> tuple[float, float]:
    """Return the shift that takes one colour nearest to another, and what is then left, ΔE76."""
    off = np.linalg.norm(_dry_labs(wet_lab, SHIFTS, tables) - np.asarray(dry_lab, float), axis=1)  # smooth, to search
    best = int(np.argmin(off))
    return float(SHIFTS[best]), float(off[best])


def _dry_labs(wet_lab: ArrayLike, shifts: Floats, tables: ObserverTables) -> Floats:
    """Return the dry colours that shifts give, shape (shifts, 3)."""
    weights, white = light_of(tables, "D65", 10)
    curve = reflectance_from_lab(wet_lab, tables)
    return lab_from_xyz(xyz_from_reflectance(dry_reflectance(curve, shifts[:, None]), weights), white)


def _slope_de00(wet_lab: ArrayLike, shift: float, tables: ObserverTables) -> float:
    """Return how many ΔE00 a unit of the shift moves the dry colour."""
    low, high = _dry_labs(wet_lab, np.array([shift - STEP, shift + STEP]), tables)
    return max(float(delta_e00(low, high)) / (2 * STEP), 1e-3)


def _lab(values: Floats) -> Lab:
    lightness, red_green, yellow_blue = values.tolist()
    return lightness, red_green, yellow_blue
