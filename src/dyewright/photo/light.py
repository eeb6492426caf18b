"""From stored values to linear light: strip by strip, averaged over whole pixels, turned upright.

A 48-megapixel photo in 32-bit light would take 580 MB; in strips only what is kept takes room.
"""

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from dyewright.photo.profile import Linearisation

__all__ = ["Strip", "averaged_light", "reduction_for", "upright"]

CLIPPED_CODE = 254  # a channel at 254 or 255 of 255 has lost its true value
_STRIP_ROWS = 256
Strip = Callable[[int, int], NDArray[Any]]
"""Gives the stored values from one row up to another, shape (rows, columns, 3), 8 or 16 bit."""
Scalar = TypeVar("Scalar", bound=np.generic)


def reduction_for(pixels: int, most_pixels: int) -> int:
    """Return how many pixels to average along each side so that at most `most_pixels` are left."""
    return max(1, int(np.ceil(np.sqrt(pixels / most_pixels))))


def averaged_light(
    strip: Strip, size: tuple[int, int], how: Linearisation, reduction: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return linear light and the clipped pixels of a picture, averaged over reduction × reduction pixels.

    Args:
        strip: gives the stored values.
        size: rows and columns of the picture.
        how: the curves, as many values as there are codes, and the matrix.
        reduction: pixels to average along a side; what is left over at the right and the bottom is dropped.
    """
    import cv2

    n = reduction
    rows, columns = size[0] // n, size[1] // n
    linear, clipped = np.empty((rows, columns, 3), np.float32), np.empty((rows, columns), bool)
    table = np.ascontiguousarray(how.curves.T[None])
    last_whole = CLIPPED_CODE * (how.curves.shape[1] - 1) / 255 - 1
    step = max(1, _STRIP_ROWS // n)
    for top in range(0, rows, step):
        bottom = min(rows, top + step)
        codes = np.ascontiguousarray(strip(top * n, bottom * n)[:, : columns * n])
        light, whole = cv2.LUT(codes, table), cv2.inRange(codes, (0,) * 3, (last_whole,) * 3)
        if n > 1:  # of whole blocks, this is their mean
            small = (columns, bottom - top)
            light = cv2.resize(light, small, interpolation=cv2.INTER_AREA)
            whole = cv2.bitwise_not(cv2.resize(cv2.bitwise_not(whole), small, interpolation=cv2.INTER_AREA))
        linear[top:bottom] = light if how.matrix is None else cv2.transform(light, how.matrix)
        clipped[top:bottom] = whole != 255
    return linear, clipped


def upright(pixels: NDArray[Scalar], orientation: int) -> NDArray[Scalar]:
    """Return pixels turned as the EXIF orientation tag (1 to 8) asks (CIPA DC-008, Exif 2.32, tag 0x0112)."""
    import cv2

    turned: NDArray[Any] = pixels.view(np.uint8) if pixels.dtype == bool else pixels
    if orientation in {5, 6, 7, 8}:
        turned = cv2.transpose(turned)
    is_upside_down, is_mirrored = orientation in {3, 4, 7, 8}, orientation in {2, 3, 6, 7}
    if is_upside_down or is_mirrored:
        turned = cv2.flip(turned, -1 if is_upside_down and is_mirrored else int(is_mirrored))
    answer: NDArray[Scalar] = turned.view(pixels.dtype)
    return answer
