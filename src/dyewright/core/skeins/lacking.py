"""Whether a skein came out with too little dye, and how much of it is missing, told from colours.

Source: [1] P. Kubelka, F. Munk, Z. tech. Phys. 12 (1931) 593-601: K/S = (1 - R)²/2R, which for one dye grows with its
dose.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import ciede2000_metric, xyz_from_lab
from dyewright.core.model import DyeClass, Lab

__all__ = ["UNDYED_LAB", "WHITE", "Dyeing", "lacks_dye", "missing_frac"]

Floats = NDArray[np.float64]

UNDYED_LAB = (88.0, 0.0, 10.0)  # wool as it is mostly sold, where the base's own colour is not known (estimate)
LESS_DYE_COSINE = 0.4  # between "paler" and a skein's difference: above, it lacks dye rather than one dye (estimate)
PALER_AT_ALL_COSINE = -0.3  # where swatches tell whether an addition helps: less than this none does (estimate)
WHITE = (1.0, 1.0, 1.0)  # XYZ as shares of white: no light has to be named


@dataclass(frozen=True)
class Dyeing:
    """What is known of how the skeins were dyed: the class of each dye by name, and the yarn's colour undyed.

    `has_swatches` where the dyes' own swatches are there to tell whether an addition helps: a skein that lacks but one
    of several dyes, and so is off in hue, is then thought of too.
    """

    classes: Mapping[str, DyeClass] = field(default_factory=dict)
    undyed_lab: Lab = UNDYED_LAB
    has_swatches: bool = False


def lacks_dye(lab: ArrayLike, goal: ArrayLike, dyeing: Dyeing) -> bool:
    """Return whether a colour is off its goal towards the undyed yarn: dye added brings it nearer."""
    one, wanted, bare = (np.asarray(value, float) for value in (lab, goal, dyeing.undyed_lab))
    metric = ciede2000_metric(wanted)
    away, paler = metric @ (one - wanted), metric @ (bare - wanted)
    lengths = float(np.linalg.norm(away) * np.linalg.norm(paler))
    least = PALER_AT_ALL_COSINE if dyeing.has_swatches else LESS_DYE_COSINE
    return lengths > 0 and float(away @ paler) >= least * lengths


def missing_frac(lab: ArrayLike, target_lab: ArrayLike, undyed_lab: ArrayLike) -> float:
    """Return which share of its dye a skein lacks, told from colours alone: a rough guide.

    The yarn's light is taken in three bands, X, Y and Z; in the one that is absorbed most, K/S grows with the dose [1].

    Args:
        lab: the skein.
        target_lab: what it is to come to.
        undyed_lab: the yarn without dye.
    """
    own, wanted, bare = (_k_over_s(colour) for colour in (lab, target_lab, undyed_lab))
    band = int(np.argmax(wanted - bare))
    dose = wanted[band] - bare[band]
    return float(np.clip(1 - (own[band] - bare[band]) / dose, 0, 1)) if dose > 0 else 0.0


def _k_over_s(lab: ArrayLike) -> Floats:
    reflectance = np.clip(xyz_from_lab(lab, WHITE), 1e-3, 1)
    return np.asarray((1 - reflectance) ** 2 / (2 * reflectance), float)
