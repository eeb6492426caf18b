"""Colours that a screen cannot show, brought to the nearest chroma that it can: lightness and hue stay.

Lightness and hue are those of Oklab, in which a blue keeps its hue as it fades; in CIELAB it would turn purple.

Sources: [1] B. Ottosson, A perceptual color space for image processing (2020), with the matrices for linear sRGB.
[2] W3C, CSS Color Module Level 4, 13 (gamut mapping: reduce chroma in OkLCh at constant lightness and hue).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Fitted", "fitted_to_screen", "linear_from_oklab", "oklab_from_linear"]

Floats = NDArray[np.float64]

_TO_CONES = np.array(  # [1], linear sRGB to cone responses
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_OKLAB = np.array(  # [1], cube roots of the cone responses to L, a, b
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_FROM_CONES, _FROM_OKLAB = np.linalg.inv(_TO_CONES), np.linalg.inv(_TO_OKLAB)

HALVINGS = 12  # of the chroma: exact to a four-thousandth of it, far below a step of 8 bits
OUTSIDE_LINEAR = 2e-3  # of full light by which a channel has to leave the range; less does not show on a screen (ours)


@dataclass(frozen=True)
class Fitted:
    """Linear light that a screen can show; which places lay outside, and which of them only by being too bright.

    `is_outside` has the shape without the channels. A glint brighter than white has no chroma to give: it is cut to
    white and counted in `is_too_bright` instead.
    """

    linear: Floats
    is_outside: NDArray[np.bool_]
    is_too_bright: NDArray[np.bool_]


def oklab_from_linear(linear: ArrayLike) -> Floats:
    """Return L, a, b of Oklab [1] for linear sRGB light, last axis of 3; light below 0 is taken along."""
    return np.asarray(np.cbrt(np.asarray(linear, float) @ _TO_CONES.T) @ _TO_OKLAB.T, float)


def linear_from_oklab(oklab: ArrayLike) -> Floats:
    """Return linear sRGB light of Oklab [1], last axis of 3; outside the screen's range below 0 or above 1."""
    return np.asarray((np.asarray(oklab, float) @ _FROM_OKLAB.T) ** 3 @ _FROM_CONES.T, float)


def fitted_to_screen(linear: ArrayLike) -> Fitted:
    """Return linear sRGB light within 0 to 1: outside, chroma is taken back at constant lightness and hue [2].

    Args:
        linear: linear sRGB light, last axis of 3, of any range.
    """
    light = np.asarray(linear, float)
    leaves = np.any((light < -OUTSIDE_LINEAR) | (light > 1 + OUTSIDE_LINEAR), axis=-1)
    answer = np.clip(light, 0, 1)
    is_too_bright = np.zeros(leaves.shape, bool)
    if leaves.any():
        oklab = oklab_from_linear(light[leaves])
        is_too_bright[leaves] = oklab[:, 0] >= 1
        answer[leaves] = _less_chroma(oklab)
    return Fitted(answer, leaves & ~is_too_bright, is_too_bright)


def _less_chroma(oklab: Floats) -> Floats:
    """Return the light with the most chroma that fits, by halving; white or black where the lightness fits nothing."""
    grey, tint = oklab * [1.0, 0.0, 0.0], oklab * [0.0, 1.0, 1.0]
    low, high = np.zeros(len(oklab)), np.ones(len(oklab))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        light = linear_from_oklab(grey + tint * middle[:, None])
        fits = np.all((light >= 0) & (light <= 1), axis=-1)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.asarray(np.clip(linear_from_oklab(grey + tint * low[:, None]), 0, 1), float)
