"""Colours that a camera's file cannot hold: one of its channels stands at its end, and the true value lies beyond.

A saturated yarn then reads as one flat colour, paler than it is: a false plateau. Judging says so instead.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["OUTSIDE_FRAC", "is_outside", "outside_camera", "outside_words"]

FLOOR_LIGHT = 1.5 / 255 / 12.92  # sRGB codes 0 and 1 (IEC 61966-2-1: the straight part's slope is 12.92)
LIT_LIGHT = 0.02  # of white: below it every channel may be at its floor without the colour being vivid; ours
OUTSIDE_FRAC = 0.1  # of a skein's lit pixels: fewer are noise; ours


def outside_camera(rgb: ArrayLike, *, from_file: NDArray[np.floating] | None = None) -> float:
    """Return the share of lit pixels in which a channel stands at the lower end of the file's own space.

    The upper end, where a bright skein is overexposed, is told by the share of clipped pixels.

    Args:
        rgb: linear light of a skein's pixels with sRGB's primaries, shape (n, 3).
        from_file: what took light of the file's own primaries to sRGB's, (3, 3); None where they are the same.
    """
    light = np.asarray(rgb, float).reshape(-1, 3)
    own = light if from_file is None else light @ np.linalg.inv(np.asarray(from_file, float)).T
    is_lit = own.max(axis=1) > LIT_LIGHT
    if not is_lit.any():
        return 0.0
    return float(is_outside(own[is_lit]).mean())


def is_outside(rgb: ArrayLike) -> NDArray[np.bool_]:
    """Return which of several lights, with the file's own primaries, stand at its lower end, shape (n,)."""
    light = np.asarray(rgb, float)
    return np.asarray((light.max(axis=-1) > LIT_LIGHT) & (light.min(axis=-1) < FLOOR_LIGHT))


def outside_words(outside_frac: float) -> str:
    """Return the warning that belongs to a skein with such a share; empty where there is none to give."""
    if outside_frac < OUTSIDE_FRAC:
        return ""
    return (
        f"In {outside_frac:.0%} of its pixels the colour is too vivid for the camera's file to hold: it is more vivid "
        "than it reads, and unevenness may be hidden. Photograph it darker, or as raw or Display P3."
    )
