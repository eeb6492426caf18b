"""Which dye is worth adding to a combination: what each would take off its misfit, by the slopes."""

import numpy as np
from numpy.typing import NDArray

from dyewright.core.matching.descent import Misfit, Task, misfit_and_slopes

__all__ = ["with_another_dye"]

Array = NDArray[np.floating]
Dyes = NDArray[np.intp]

SMALL = 1e-12  # below it a slope is no direction of its own


def with_another_dye(task: Task, dyes: Dyes, depths_owf: Array, misfit: Misfit, may: Dyes) -> Array:
    """Return the squared misfit (n, k) that each dye of the shelf would leave beside a combination's own.

    To first order, and with the combination's own depths free to give way (those at a bound stay): the misfit's part
    along the new slope, after what the others' slopes could do as well, goes. Dyes that would have to be taken out,
    are in it already, or may not be added leave an endless one.

    Args:
        task: what the combinations share.
        dyes: of each combination, shape (m, k).
        depths_owf: built-up depths at its least misfit, shape (m, k).
        misfit: what is made small.
        may: the dyes that may be added.
    """
    n, k = len(task.curves), dyes.shape[1]
    whole = np.zeros((n, k), dtype=depths_owf.dtype)
    np.put_along_axis(whole, dyes, depths_owf, axis=0)
    every = np.repeat(np.arange(n)[:, None], k, axis=1)
    off, slopes = misfit_and_slopes(task, every, np.repeat(task.curves[:, :, None], k, axis=2), whole, misfit)
    own = np.take_along_axis(slopes, dyes[None], axis=1)
    is_held = (depths_owf <= task.least[dyes]) | (depths_owf >= task.most[dyes])
    across = (slopes**2).sum(axis=0)
    for direction in _directions(np.where(is_held, 0, own)):
        across = across - np.einsum("rk,rnk->nk", direction, slopes) ** 2
        off = off - direction * np.einsum("rk,rk->k", direction, off)
    along = np.einsum("rk,rnk->nk", off, slopes)
    step = np.minimum(-along / np.maximum(across, SMALL), task.most[:, None])
    left = np.sum(off**2, axis=0) + 2 * step * along + step**2 * np.maximum(across, SMALL)
    is_open = np.isin(np.arange(n), may)[:, None] & (along < 0)
    np.put_along_axis(is_open, dyes, values=False, axis=0)
    return np.where(is_open, np.maximum(left, 0), np.inf)  # below 0 only by rounding


def _directions(vectors: Array) -> list[Array]:
    """Return orthonormal directions (r, k) of vectors (r, m, k), by Gram and Schmidt; zero where one is no new one."""
    found: list[Array] = []
    for place in range(vectors.shape[1]):
        left = vectors[:, place]
        size = np.sum(left**2, axis=0)
        for other in found:
            left = left - other * np.einsum("rk,rk->k", other, left)
        length = np.sum(left**2, axis=0)
        is_new = length > 1e-6 * np.maximum(size, SMALL)
        found.append(np.where(is_new, left / np.sqrt(np.where(is_new, length, 1)), 0))
    return found
