"""How the light falls across a photo, read from the plain ground round the skeins, so that it can be taken out.

One colour of ground is assumed (a board, a sheet of paper). Where no such ground is found the answer is None, and a
difference in lightness between two places then counts for little.

Source: the method is our own: a quadratic surface in log light, fitted with outliers trimmed (P. J. Huber, Robust
Statistics, Wiley (1981), chapter 7, for trimming by the median absolute deviation).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["LightField", "light_field"]

Floats = NDArray[np.float64]

LEAST_POINTS = 300
_PLAIN_LOG = 0.5  # ground stays within a factor 1.6 of its median light; ours
_PLAIN_CHROMATICITY = 0.03  # and within this of its median chromaticity; ours
_LEAST_SHARE = 0.5  # of the surroundings must be ground
_LARGEST_SCATTER = 0.06  # of light about the surface: more is a texture or a pattern, not a ground; ours
_ROUNDS = 4


@dataclass(frozen=True)
class LightField:
    """Light across the photo relative to the middle of the ground: exp of a quadratic in x and y.

    `scatter_frac` is how far the ground itself scatters about it.
    """

    coefficients: Floats
    middle_px: Floats
    size_px: float
    scatter_frac: float

    def at(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the light at places of the photo; 1 in the middle."""
        x, y = np.broadcast_arrays(np.asarray(x_px, float), np.asarray(y_px, float))
        terms = _terms(x, y, self.middle_px, self.size_px)
        light: Floats = np.exp(terms[..., 1:] @ self.coefficients[1:])
        return light


def light_field(x_px: ArrayLike, y_px: ArrayLike, rgb: ArrayLike) -> LightField | None:
    """Return the light across a photo from places round the skeins; None where they show no plain ground.

    Args:
        x_px: places, shape (n,).
        y_px: places, shape (n,).
        rgb: light there with the tone curve taken out, shape (n, 3).
    """
    x, y, light = np.asarray(x_px, float), np.asarray(y_px, float), np.maximum(np.asarray(rgb, float), 1e-6)
    if len(x) < LEAST_POINTS:
        return None
    level = np.log(light.sum(axis=1))
    chromaticity = light / light.sum(axis=1, keepdims=True)
    off_hue = np.abs(chromaticity - np.median(chromaticity, axis=0)).max(axis=1)
    kept = (np.abs(level - np.median(level)) < _PLAIN_LOG) & (off_hue < _PLAIN_CHROMATICITY)
    middle = np.array([x.mean(), y.mean()])
    size = float(max(np.ptp(x), np.ptp(y), 1.0)) / 2
    terms = _terms(x, y, middle, size)
    for _ in range(_ROUNDS):
        if kept.sum() < max(LEAST_POINTS, _LEAST_SHARE * len(x)):
            return None
        coefficients = np.linalg.lstsq(terms[kept], level[kept])[0]
        off = level - terms @ coefficients
        scatter = 1.4826 * float(np.median(np.abs(off[kept])))  # the median deviation of a normal spread
        kept &= np.abs(off) < max(3 * scatter, 1e-3)
    return LightField(coefficients, middle, size, scatter) if scatter < _LARGEST_SCATTER else None


def _terms(x: Floats, y: Floats, middle: Floats, size: float) -> Floats:
    u, v = (x - middle[0]) / size, (y - middle[1]) / size
    return np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=-1)
