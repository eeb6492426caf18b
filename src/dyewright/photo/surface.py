"""A plain surface in a photo, a grey card or white paper: where it lies, and its light."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.errors import InputError
from dyewright.photo.load import LoadedPhoto

__all__ = ["SurfaceSample", "sample_ground", "sample_surface"]

Floats = NDArray[np.float64]

LEAST_SIDE_PX = 12.0  # of the marked piece in the pixels that are worked on; ours
_MIDDLE = 0.7  # of the marked piece is read: its edge may lie beside the card
_GROUND_SIDE = 200  # places along the longer side of the photo at which its ground is read
_EDGE = 25  # a band of a 25th of the photo along its edge shows what the ground is
_GROUND_ROOTS = 0.08  # in cube roots of light: ground lies as near to the edge's median in every channel; ours
LEAST_GROUND_FRAC = 0.15  # of the photo must be ground; ours


@dataclass(frozen=True)
class SurfaceSample:
    """A plain surface as photographed.

    `corners` are those that were marked, (4, 2) in original pixels, None where the surface is the ground itself; `rgb`
    its median linear light; `clipped_frac` how much of it is clipped; `spread_frac` its lightness spread.
    """

    corners: Floats | None
    rgb: Floats
    clipped_frac: float
    spread_frac: float


def sample_surface(photo: LoadedPhoto, corners: ArrayLike) -> SurfaceSample:
    """Return the light of the surface inside four corners.

    Args:
        photo: the picture.
        corners: (4, 2) x and y in original pixels, in order round the surface, either way.

    Raises:
        InputError: a corner outside the photo, corners that cross, or a piece too small to read.
    """
    import cv2

    marked = np.asarray(corners, float)
    _check(photo, marked)
    middle = marked.mean(axis=0)
    inner = (middle + (marked - middle) * _MIDDLE) / photo.reduction - 0.5
    left, top = np.maximum(np.floor(inner.min(axis=0)).astype(int), 0)
    right, bottom = np.ceil(inner.max(axis=0)).astype(int) + 1
    pixels, clipped = photo.linear[top:bottom, left:right], photo.clipped[top:bottom, left:right]
    mask = np.zeros(clipped.shape, np.uint8)
    cv2.fillConvexPoly(mask, (inner - (left, top)).round().astype(np.int32), 1)
    return _sampled(np.asarray(pixels[mask > 0], float), clipped[mask > 0], marked)


def sample_ground(photo: LoadedPhoto) -> SurfaceSample:
    """Return the light of the ground that the photo's edge shows, wherever it lies open.

    Raises:
        InputError: no plain ground, or too little of it.
    """
    step = max(1, max(photo.linear.shape[:2]) // _GROUND_SIDE)
    pixels, clipped = np.asarray(photo.linear[::step, ::step], float), photo.clipped[::step, ::step]
    roots = np.cbrt(np.maximum(pixels, 0))
    band = max(1, min(clipped.shape) // _EDGE)
    is_edge = np.ones(clipped.shape, bool)
    is_edge[band:-band, band:-band] = False
    away = np.abs(roots - np.median(roots[is_edge], axis=0)).max(axis=-1)
    is_ground = away < _GROUND_ROOTS
    if is_ground.mean() < LEAST_GROUND_FRAC:
        raise InputError(
            f"only {is_ground.mean():.0%} of the photo is of one plain ground, {LEAST_GROUND_FRAC:.0%} are needed to "
            "read colours by it: mark a piece of white paper by its four corners instead",
            field="chart",
            value=float(is_ground.mean()),
            limit=LEAST_GROUND_FRAC,
        )
    return _sampled(pixels[is_ground], clipped[is_ground], None)


def _sampled(pixels: Floats, clipped: NDArray[np.bool_], corners: Floats | None) -> SurfaceSample:
    light = np.cbrt(np.maximum(pixels.mean(axis=1), 0))
    low, middle, high = np.percentile(light, [10, 50, 90])
    return SurfaceSample(
        corners, np.median(pixels, axis=0), float(clipped.mean()), float((high - low) / max(middle, 1e-6))
    )


def _check(photo: LoadedPhoto, corners: Floats) -> None:
    around = "mark its four corners in order round it"
    if corners.shape != (4, 2) or not np.all(np.isfinite(corners)):
        raise InputError(f"a card or paper needs four corners of two numbers each: {around}", field="chart")
    size = (photo.width_px, photo.height_px)
    off = np.flatnonzero(np.any((corners < 0) | (corners > size), axis=1))
    if len(off):
        x, y = corners[off[0]]
        raise InputError(
            f"the corner {x:.0f},{y:.0f} of the card or paper lies outside the photo of {size[0]} × {size[1]} pixels: "
            "mark a part of it that lies inside",
            field="chart",
            value=(x, y),
            limit=size,
        )
    sides = np.roll(corners, -1, axis=0) - corners
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    if not (np.all(turns > 0) or np.all(turns < 0)):
        raise InputError(f"the corners of the card or paper cross or lie on one line: {around}", field="chart")
    shortest = float(np.linalg.norm(sides, axis=1).min() / photo.reduction)
    if shortest < LEAST_SIDE_PX:
        raise InputError(
            f"a side of the card or paper is {shortest:.0f} pixels; at least {LEAST_SIDE_PX:.0f} are needed: mark more "
            "of it, or photograph it nearer",
            field="chart",
            value=shortest,
            limit=LEAST_SIDE_PX,
        )
