"""Which swatch to dye next: the one after which the colours of some recipes are known best.

The swatch is not dyed yet, but how much it will tell does not depend on what comes out, only on its slopes and its
noise; see `learn`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.mixing.learn import READING_DE00
from dyewright.core.mixing.shelf import (
    ShelfModel,
    band_covariance,
    colour_slopes,
    pot_covariance,
    radius_95,
    unsure_covariance,
)
from dyewright.core.model import ObserverTables

__all__ = ["NextSwatch", "next_swatch"]

Array = NDArray[np.float64]

DEPTHS_OWF = (0.001, 0.003, 0.01, 0.03)  # that are proposed
WORTH_IT = 0.85  # a swatch that leaves more than this share of the band is not worth proposing


@dataclass(frozen=True)
class NextSwatch:
    """A swatch worth dyeing: its dye, its depth, and the band now and after it, in ΔE00.

    For several recipes the bands are the root of their mean square.
    """

    dye: str
    depth_owf: float
    band_now: float
    band_after: float


def next_swatch(
    shelf: ShelfModel,
    recipes_owf: ArrayLike,
    tables: ObserverTables,
    *,
    depths_owf: Sequence[float] = DEPTHS_OWF,
    left_frac: float = WORTH_IT,
    but_for: Collection[tuple[str, float]] = (),
) -> NextSwatch | None:
    """Return the single-dye swatch that narrows the bands of some recipes most; None where none is worth the work.

    Args:
        shelf: the fitted dyes.
        recipes_owf: one recipe, shape (n,), or several, (m, n), fractions.
        tables: lights and observers.
        depths_owf: depths that may be proposed, fractions.
        left_frac: the share of the band that a swatch worth proposing leaves at most.
        but_for: dyes with depths, as fractions, that are not proposed.
    """
    recipes = np.atleast_2d(np.asarray(recipes_owf, float))
    recipes = recipes[recipes.any(axis=1)]
    if not len(recipes):
        return None
    before = [(colour_slopes(shelf, recipe, tables), band_covariance(shelf, recipe, tables)) for recipe in recipes]
    band_now = _mean_band([covariance for _, covariance in before])
    tried = []
    for dye in np.flatnonzero(recipes.any(axis=0)).tolist():
        for depth in depths_owf:
            if (shelf.dyes[dye], depth) in but_for:
                continue
            swatch = depth * np.eye(len(shelf.dyes))[dye]
            own = colour_slopes(shelf, swatch, tables)
            noise = np.eye(3) * READING_DE00**2 + pot_covariance(shelf, swatch, own)
            reading = noise + unsure_covariance(shelf, own, own)
            after = [now - _told(shelf, slopes, own, reading) for slopes, now in before]
            tried.append((_mean_band(after), dye, depth))
    if not tried:
        return None
    after_best, dye, depth = min(tried)
    if after_best > left_frac * band_now:
        return None
    return NextSwatch(shelf.dyes[dye], depth, band_now, after_best)


def _told(shelf: ShelfModel, slopes: Array, swatch: Array, reading: Array) -> Array:
    """Return what a swatch takes off the covariance (3, 3) of a recipe, by both slopes and the swatch's reading."""
    together = unsure_covariance(shelf, slopes, swatch)
    return np.asarray(together @ np.linalg.solve(reading, together.T), float)


def _mean_band(covariances: Sequence[Array]) -> float:
    return float(np.sqrt(np.mean([radius_95(covariance) ** 2 for covariance in covariances])))
