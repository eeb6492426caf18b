"""A skein cut into a grid of parts, each with the colour of its lit strands: what its evenness is told from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["PartGrid"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PartGrid:
    """The parts of a skein, row by row from the top of the photo.

    Attributes:
        lab: CIELAB of each part's lit strands, shape (rows, columns, 3); NaN where `is_read` is False.
        sd_lab: what a part's colour scatters by through pixel noise, rounding and uneven light left over, shape (3,):
            an even skein shows this much.
        x_px: where the middle of what was read of each part lies in the photo, shape (rows, columns).
        y_px: the same downwards.
        is_read: False outside the outline, and where too little can be seen, shape (rows, columns).
        strands_deg: the direction of the strands, from 0 (along x) up to 180, turning from x to y (clockwise as seen);
            None where none shows.
        is_covered: True where a tie, a label or the like lies over some of the part; None where nothing was looked for.
    """

    lab: Floats
    sd_lab: Floats
    x_px: Floats
    y_px: Floats
    is_read: NDArray[np.bool_]
    strands_deg: float | None = None
    is_covered: NDArray[np.bool_] | None = None
