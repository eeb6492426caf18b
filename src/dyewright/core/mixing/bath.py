"""The colour of the bath itself: a spoonful of it over white, as dye goes into the yarn.

A picture to compare with, not a measurement: the shape of each dye's absorption is taken from its curve on yarn, and
its height is an estimate. Sources: [1] Beer–Lambert law. [2] absorptivity of commercial dye powders at their peak, 20
to 40 L/(g cm): estimate, from memory of the standard literature.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.mixing.shelf import ShelfModel

__all__ = ["PEAK_ABSORPTIVITY_L_G_CM", "SPOON_PATH_CM", "bath_reflectance"]

PEAK_ABSORPTIVITY_L_G_CM = 30.0  # [2], the middle of the range
SPOON_PATH_CM = 0.4  # a film of two millimetres over a white spoon, there and back: estimate


def bath_reflectance(
    shelf: ShelfModel, depths_owf: ArrayLike, left_frac: ArrayLike, liquor_l_kg: float
) -> NDArray[np.float64]:
    """Return the reflectance, shape (..., 31), of a spoonful of bath over white.

    Args:
        shelf: the dyes, for the shape of their absorption.
        depths_owf: shape (n,), of the shelf's dyes, fractions.
        left_frac: the share of the dye still in the bath, 0 to 1, any shape.
        liquor_l_kg: liquor ratio, above 0.
    """
    peaks = shelf.curves.max(axis=-1, keepdims=True)
    shapes = np.divide(shelf.curves, peaks, out=np.zeros_like(shelf.curves), where=peaks > 0)
    start_g_l = np.asarray(depths_owf, float) * 1000.0 / liquor_l_kg
    absorbance = PEAK_ABSORPTIVITY_L_G_CM * SPOON_PATH_CM * (start_g_l @ shapes)  # [1]
    reflectance: NDArray[np.float64] = 10.0 ** -(np.asarray(left_frac, float)[..., None] * absorbance)
    return reflectance
