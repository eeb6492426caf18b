"""From reflectance to tristimulus values under a light.

Source: ASTM E308, tristimulus values as weighted sums of reflectance; the weights are a shipped table.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import WAVELENGTHS_NM, ObserverTables
from dyewright.errors import InputError

__all__ = ["REPORTED_LIGHTS", "at_wavelengths", "light_of", "xyz_from_reflectance"]

REPORTED_LIGHTS = ("A", "FL11", "LED-B3")
"""The lights a match is looked at under beside daylight: lamp, shop tube, LED."""


def light_of(tables: ObserverTables, illuminant: str, observer: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the weights, shape (31, 3), and the white point of a light for an observer in degrees.

    Raises:
        InputError: the light or the observer is not in the tables.
    """
    key = (illuminant, observer)
    if key not in tables.weights:
        known = ", ".join(f"{light} {degrees}°" for light, degrees in tables.weights)
        raise InputError(
            f"light {illuminant} with the {observer}° observer is not known; known are {known}",
            field="illuminant",
            value=illuminant,
        )
    return tables.weights[key], tables.whites[key]


def xyz_from_reflectance(reflectance: ArrayLike, weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return XYZ, Y = 100 for the perfect white, of reflectances (last axis the 31 wavelengths, 0 to 1)."""
    xyz: NDArray[np.float64] = np.asarray(reflectance, float) @ weights
    return xyz


def at_wavelengths(wavelengths_nm: ArrayLike, reflectance: ArrayLike) -> NDArray[np.float64]:
    """Return a measured curve at the package's 31 wavelengths, by straight lines between its own.

    Wavelengths beyond the measured range take the last value measured; the range must reach from 420 to 680 nm.

    Args:
        wavelengths_nm: rising, nm.
        reflectance: the same number of values, 0 to 1.

    Raises:
        InputError: the wavelengths do not rise, or do not cover 420 to 680 nm by 20 nm or finer.
    """
    nm, values = np.asarray(wavelengths_nm, float), np.asarray(reflectance, float)
    if len(nm) < 2 or np.any(np.diff(nm) <= 0):
        raise InputError("the wavelengths of a curve must rise from one column to the next", field="reflectance")
    if nm[0] > 420 or nm[-1] < 680 or np.diff(nm).max() > 20:
        raise InputError(
            f"a curve from {nm[0]:g} to {nm[-1]:g} nm by {np.diff(nm).max():g} nm is too short or too coarse; "
            "it must cover 420 to 680 nm by 20 nm or finer",
            field="reflectance",
        )
    curve: NDArray[np.float64] = np.interp(WAVELENGTHS_NM, nm, values)
    return curve
