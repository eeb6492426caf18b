"""The ground round skeins and chart: which of it to read the light from, and the light on it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Shape
from dyewright.core.skeins import Calibration, LightField, inside_outline, light_field, straightened
from dyewright.photo.load import LoadedPhoto

__all__ = ["ground_light", "ground_places"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GROUND_POINTS = 80_000  # places of the photo that are looked at; a third of them is ground
RING_FRAC = 1.2  # of a skein's width: ground within it counts as its surroundings
MARGIN_FRAC = 0.1  # of a skein's width: next to it lie its halo and its own shadow
SHADOW_FRAC = 0.5  # of a skein's width: as far as its own shadow falls under a lamp at 45°; ours
FRAME_FRAC = 0.15  # of the chart's side: its frame


def ground_light(
    photo: LoadedPhoto, shapes: Sequence[Shape], corners: Floats | None, calibration: Calibration
) -> LightField | None:
    """Return the light on the ground round the skeins and the chart; None where no plain ground is seen."""
    return light_field(*ground_places(photo, shapes, corners, calibration))


def ground_places(
    photo: LoadedPhoto, shapes: Sequence[Shape], corners: Floats | None, calibration: Calibration
) -> tuple[Floats, Floats, Floats, Bools]:
    """Return places x and y of the ground, light there with the tone curve taken out, and which lie beside a skein."""
    rows, columns = photo.linear.shape[:2]
    stride = max(1, round(float(np.sqrt(rows * columns / GROUND_POINTS))))
    y, x = np.arange(stride // 2, rows, stride), np.arange(stride // 2, columns, stride)
    x_px, y_px = (np.asarray((places + 0.5) * photo.reduction, float) for places in (x, y))
    kept, beside = _surroundings(shapes, corners, x_px, y_px)
    kept &= ~photo.clipped[y[:, None], x[None, :]]
    at_y, at_x = np.nonzero(kept)
    rgb = straightened(calibration.tone, np.asarray(photo.linear[y[at_y], x[at_x]], float))
    return x_px[at_x], y_px[at_y], rgb, beside[at_y, at_x]


def _surroundings(shapes: Sequence[Shape], corners: Floats | None, x_px: Floats, y_px: Floats) -> tuple[Bools, Bools]:
    """Return which places of a grid lie round the skeins and the chart, in none of them, and where shadows may fall."""
    from scipy.ndimage import distance_transform_edt

    inside = np.zeros((len(y_px), len(x_px)), bool)
    for shape in shapes:
        inside |= inside_outline(shape.outline, x_px, y_px)
    width = _width(shapes, corners)
    pitch = x_px[1] - x_px[0]
    away = distance_transform_edt(~inside) * pitch if inside.any() else np.full(inside.shape, np.inf)
    near = (away < RING_FRAC * width) & (away > max(MARGIN_FRAC * width, 2 * pitch))
    if corners is not None:
        near |= _grown(corners, 2 * RING_FRAC, x_px, y_px) & (away > MARGIN_FRAC * width)
        near &= ~_grown(corners, 2 * FRAME_FRAC, x_px, y_px)
    return np.asarray(near), np.asarray(away < SHADOW_FRAC * width)


def _width(shapes: Sequence[Shape], corners: Floats | None) -> float:
    """Return how wide a usual skein of the photo is, pixels; the chart's shorter side where there is none."""
    if not shapes:
        return 0.0 if corners is None else float(np.ptp(corners, axis=0).min())
    sides = np.array([shape.sides for shape in shapes])
    return float(np.median(np.minimum(sides[:, 2] - sides[:, 0], sides[:, 3] - sides[:, 1])))


def _grown(corners: Floats, by_frac: float, x_px: Floats, y_px: Floats) -> Bools:
    middle = corners.mean(axis=0)
    return inside_outline(middle + (corners - middle) * (1 + by_frac), x_px, y_px)
