"""Absorption over scattering from reflectance, and back.

Source: P. Kubelka, F. Munk, Z. tech. Physik 12 (1931) 593-601: an opaque layer, K/S = (1 - R)² / 2R. The fibre
scatters and the dyes only absorb, so that the K/S of the undyed base and of every dye add up (single constant).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["k_over_s", "reflectance_from_k_over_s", "reflectance_slope"]

DARKEST = 1e-5
"""Reflectances below are read as this: no yarn is darker, and an instrument's zero would give an endless K/S."""
PALEST = 1e-6
"""K/S below this (R above 0.9986) has the slope of this: at R = 1 the slope itself is endless."""


def k_over_s(reflectance: ArrayLike) -> NDArray[np.float64]:
    """Return K/S of reflectances from 0 to 1; those below 0.00001 count as that.

    Above K/S of about 17 (R below 2.6 %) surface gloss rules and K/S no longer grows with depth: Safi, Ameri, Ansari,
    Phys. Scr. 96 (2021) 125832.
    """
    r = np.maximum(np.asarray(reflectance, float), DARKEST)
    answer: NDArray[np.float64] = (1 - r) ** 2 / (2 * r)
    return answer


def reflectance_from_k_over_s(ratio: ArrayLike) -> NDArray[np.float64]:
    """Return the reflectance of K/S at or above 0: 1 + q - sqrt(q² + 2q), in the form that loses no digits."""
    q = np.asarray(ratio, float)
    answer: NDArray[np.float64] = 1 / (1 + q + np.sqrt(q * (q + 2)))
    return answer


def reflectance_slope(ratio: ArrayLike, reflectance: ArrayLike) -> NDArray[np.float64]:
    """Return dR/d(K/S) = -R / sqrt(q² + 2q) at a K/S of 0 or more and its reflectance; see PALEST."""
    q = np.maximum(np.asarray(ratio, float), PALEST)
    answer: NDArray[np.float64] = -np.asarray(reflectance, float) / np.sqrt(q * (q + 2))
    return answer
