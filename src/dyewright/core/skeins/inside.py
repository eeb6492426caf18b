"""Which pixels lie inside an outline, and how deep.

Sources: [1] J. D. Foley, A. van Dam, S. K. Feiner, J. F. Hughes, Computer Graphics: Principles and Practice, 2nd ed.
(1990), section 3.6: filling a polygon row by row, inside where a ray has crossed an odd number of edges.
[2] G. Borgefors, Distance transformations in digital images, Comput. Vis. Graph. Image Process. 34 (1986) 344-371.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["depth_inside", "inside_outline"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

COARSE_SIDE = 160  # pixels of the copy that depth is measured on: an outline has no finer edge than its skein's halo


def inside_outline(outline: ArrayLike, x_px: ArrayLike, y_px: ArrayLike) -> Bools:
    """Return which points of a grid lie inside a polygon [1], shape (rows, columns).

    Args:
        outline: the corners' x and y, shape (n, 2); the last is joined to the first.
        x_px: the grid's columns, ascending, shape (columns,).
        y_px: the grid's rows, ascending, shape (rows,).
    """
    corners, x, y = np.asarray(outline, float), np.asarray(x_px, float), np.asarray(y_px, float)
    crossings = np.zeros((len(y), len(x) + 1), np.int32)
    for (x_1, y_1), (x_2, y_2) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if y_1 == y_2:
            continue
        rows = slice(*np.searchsorted(y, sorted((y_1, y_2))))
        at = x_1 + (y[rows] - y_1) / (y_2 - y_1) * (x_2 - x_1)
        np.add.at(crossings, (np.arange(rows.start, rows.stop), np.searchsorted(x, at)), 1)
    return np.asarray(np.cumsum(crossings, axis=1)[:, :-1] % 2 == 1)


def depth_inside(is_inside: ArrayLike) -> Floats:
    """Return how deep each pixel lies inside, as a fraction of the deepest; 0 outside, shape as given.

    The picture's own edge counts as an edge. The depth [2] is measured on a coarse copy.
    """
    from scipy.ndimage import distance_transform_edt

    full = np.asarray(is_inside, bool)
    step = max(1, max(full.shape) // COARSE_SIDE)
    coarse = np.pad(full[step // 2 :: step, step // 2 :: step], 1)
    depth = distance_transform_edt(coarse)[1:-1, 1:-1]
    depth /= max(float(depth.max()), 1.0)
    rows, columns = (np.minimum(np.arange(n) // step, m - 1) for n, m in zip(full.shape, depth.shape, strict=True))
    return np.asarray(depth[rows[:, None], columns] * full, float)
