"""A smooth reflectance curve from a colour of which only XYZ is known.

Source: S. A. Burns, Numerical methods for smoothest reflectance reconstruction, Color Res. Appl. 45 (2020) 8-21: the
method with the least slope squared in the hyperbolic tangent (LHTSS).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.lab import xyz_from_lab
from dyewright.core.colour.spectra import light_of
from dyewright.core.model import ObserverTables
from dyewright.errors import OutOfRangeError

__all__ = ["reflectance_from_lab", "reflectance_from_xyz"]

Array = NDArray[np.float64]

MAX_STEPS = 60  # ordinary colours take 6; the most saturated ones about 20
LONGEST_STEP = 2.0  # in z: longer Newton steps are cut, so that saturated colours converge too
CLOSE = 1e-11  # of Y = 1, to stop


def reflectance_from_lab(
    lab: ArrayLike, tables: ObserverTables, *, illuminant: str = "D65", observer: int = 10
) -> Array:
    """Return the smoothest reflectance (..., 31), strictly between 0 and 1, that has this Lab under this light.

    It is a stand-in: another curve may look the same. Against 24 chart colours it is off by about 1 ΔE00 under A.

    Raises:
        OutOfRangeError: no surface can have this colour under this light.
    """
    weights, white = light_of(tables, illuminant, observer)
    return reflectance_from_xyz(xyz_from_lab(lab, white), weights)


def reflectance_from_xyz(xyz: ArrayLike, weights: Array) -> Array:
    """Return the smoothest reflectance (..., 31), strictly between 0 and 1, of these tristimulus values.

    Newton's method on Burns's Lagrangian in z, with R = (tanh z + 1) / 2 and the squared steps of z least.

    Args:
        xyz: Y = 100 for the perfect white, last axis of 3.
        weights: of the light and observer that the values belong to, shape (31, 3).

    Raises:
        OutOfRangeError: no surface can have this colour under this light.
    """
    wanted = np.asarray(xyz, float) / 100
    w, flat = weights / 100, wanted.reshape(-1, 3)
    level = np.clip(flat[:, 1], 1e-4, 1 - 1e-4)
    z = np.repeat(np.arctanh(2 * level - 1)[:, None], len(w), axis=1)  # a grey of the same Y
    multipliers = np.zeros((len(flat), 3))
    for _ in range(MAX_STEPS):
        try:
            z, multipliers, off = _newton_step(z, multipliers, flat, w)
        except np.linalg.LinAlgError:
            break
        if np.all(off < CLOSE):
            return ((np.tanh(z) + 1) / 2).reshape(*wanted.shape[:-1], len(w))
    x, y, z_value = 100 * flat[np.argmax(np.ptp(z, axis=1))]
    raise OutOfRangeError(
        f"no surface can have the colour X {x:.2f}, Y {y:.2f}, Z {z_value:.2f} under this light: it is too bright or "
        "too dark for so much chroma; check the values and the light they were measured under",
        field="lab",
    )


def _newton_step(z: Array, multipliers: Array, wanted: Array, w: Array) -> tuple[Array, Array, Array]:
    """Return z and the multipliers after one step, and how far off the step's start was, in XYZ or in R.

    Raises:
        np.linalg.LinAlgError: the curve ran against 0 and 1 everywhere, as no surface has the colour.
    """
    n, size = len(w), len(w) + 3
    tanh = np.tanh(z)
    slope = (1 - tanh**2) / 2  # dR/dz
    pull = multipliers @ w.T
    gradient = z @ _roughness(n) + slope * pull
    excess = ((tanh + 1) / 2) @ w - wanted
    system = np.zeros((len(z), size, size))
    system[:, :n, :n] = _roughness(n)
    system[:, np.arange(n), np.arange(n)] -= 2 * slope * tanh * pull
    system[:, :n, n:] = slope[:, :, None] * w
    system[:, n:, :n] = np.swapaxes(system[:, :n, n:], 1, 2)
    step = np.linalg.solve(system, -np.concatenate([gradient, excess], axis=1)[..., None])[..., 0]
    longest = np.abs(step[:, :n]).max(axis=1, keepdims=True)
    step *= np.minimum(1, LONGEST_STEP / np.maximum(longest, LONGEST_STEP))
    off = np.maximum(np.abs(excess).max(axis=1), np.abs(slope * step[:, :n]).max(axis=1))
    return z + step[:, :n], multipliers + step[:, n:], off


def _roughness(n: int) -> Array:
    """Return the matrix of the squared differences between neighbours: 4 on the diagonal, 2 at its ends, -2 beside."""
    matrix = 4 * np.eye(n) - 2 * (np.eye(n, k=1) + np.eye(n, k=-1))
    matrix[0, 0] = matrix[-1, -1] = 2
    return matrix
