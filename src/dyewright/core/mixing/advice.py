"""Which swatch to dye next: the one after which a recipe's colour is known best.

The swatch is not dyed yet, but how much it will tell does not depend on what comes out, only on its slopes and its
noise: the covariance after a linear measurement (Gauss; as in the update of a Kalman filter).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import ciede2000_metric, light_of
from dyewright.core.mixing.shelf import REPEAT_SD, ShelfModel, band_95, lab_slopes
from dyewright.core.model import ObserverTables

__all__ = ["NextSwatch", "after_swatch", "next_swatch"]

Array = NDArray[np.float64]

READING_DE00 = 0.3  # of the swatch to come, a component: a handheld colorimeter (estimate)
DEPTHS_OWF = (0.001, 0.003, 0.01, 0.03)  # that are proposed
WORTH_IT = 0.85  # a swatch that leaves more than this share of the band is not worth proposing


@dataclass(frozen=True)
class NextSwatch:
    """A swatch worth dyeing: its dye, its depth, and the band of the recipe now and after it, in ΔE00."""

    dye: str
    depth_owf: float
    band_now: float
    band_after: float


def next_swatch(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> NextSwatch | None:
    """Return the single-dye swatch that narrows a recipe's band most; None where none is worth the work."""
    now = band_95(shelf, depths_owf, tables)
    tried = [
        (band_95(after_swatch(shelf, dye, depth, tables), depths_owf, tables), dye, depth)
        for dye in np.flatnonzero(depths_owf).tolist()
        for depth in DEPTHS_OWF
    ]
    if not tried or min(tried)[0] > WORTH_IT * now:
        return None
    after, dye, depth = min(tried)
    return NextSwatch(shelf.dyes[dye], depth, now, after)


def after_swatch(shelf: ShelfModel, dye: int, depth_owf: float, tables: ObserverTables) -> ShelfModel:
    """Return the shelf as sure as it would be with one more swatch of a dye, read as Lab (D65, 10°)."""
    weights, white = light_of(tables, "D65", 10)
    lab, slopes = lab_slopes(shelf.base_k_over_s + depth_owf * shelf.curves[dye], weights, white)
    by_log = ciede2000_metric(lab) @ (depth_owf * shelf.curves[dye][:, None] * slopes).T  # (3, 31)
    by_depth = by_log.sum(axis=1)
    noise = READING_DE00**2 * np.eye(3) + REPEAT_SD**2 * np.outer(by_depth, by_depth)
    before = shelf.log_covariance[dye]
    seen = by_log @ before
    after = before - seen.T @ np.linalg.solve(seen @ by_log.T + noise, seen)
    return replace(shelf, log_covariance=_with(shelf.log_covariance, dye, after))


def _with(covariances: Array, dye: int, own: Array) -> Array:
    changed = covariances.copy()
    changed[dye] = own
    return changed
