"""One photo of skeins, read: the chart, the light on the ground, the colour of each skein."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import linear_from_srgb, srgb_from_linear
from dyewright.core.model import ChartReading, Shape
from dyewright.core.skeins import Calibration, LightField, SkeinReading, light_field, read_skein, straightened
from dyewright.errors import InputError
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.photo.outlines import find_shapes
from dyewright.services.judging._chart import ChartChoice, Reference, chart_reading, read_chart, recalibrated

__all__ = ["PhotoReading", "Request", "read_photo"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GROUND_POINTS = 40_000
RING_FRAC = 0.5  # of a box's width and height round it count as its surroundings
MARGIN_FRAC = 0.04  # next to the box itself lies the skein's own shadow: left out, as a fraction of the box
TO_LUMA_CHROMA = np.array([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]])  # ITU-T T.871, 7
ROUNDING_PIXELS = 20_000  # enough to see how stored values scatter
SKEIN_PIXELS = 400_000  # a larger box is averaged down to about this many: strands stay apart in it


@dataclass(frozen=True)
class Request:
    """What to do with one photo; `number` counts the photos from 1."""

    source: Path | bytes
    number: int
    name: str | None
    chart: ChartChoice
    boxes: tuple[Shape, ...]
    is_linear: bool = False


@dataclass(frozen=True)
class PhotoReading:
    """One photo, read. `uneven_frac` is how much the light differs between skeins, None where no ground shows it."""

    chart: ChartReading
    calibration: Calibration
    boxes: tuple[Shape, ...]
    skeins: tuple[SkeinReading, ...]
    uneven_frac: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Scene:
    """A photo with everything that turns its pixels into colour; light is 1 where the colours are calibrated."""

    photo: LoadedPhoto
    calibration: Calibration
    field: LightField | None
    level: float

    def light(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the light at places of the photo against where the colours are calibrated."""
        if self.field is None:
            return np.ones(np.broadcast(x_px, y_px).shape)
        return self.field.at(x_px, y_px) / self.level


def read_photo(request: Request, reference: Reference, first_id: int) -> PhotoReading:
    """Return what one photo shows; its skeins are called by numbers from `first_id` on in messages.

    Raises:
        InputError: no photo, no chart where corners were given, no skein, a box off the photo.
    """
    photo = load_photo(request.source, name=request.name, is_linear=request.is_linear)
    chart = read_chart(photo, request.chart, reference)
    corners = None if chart.sample is None else chart.sample.corners
    for box in request.boxes:
        _check_box(box, photo)
    boxes = request.boxes or tuple(replace(box, photo=request.number) for box in find_shapes(photo, corners))
    field = _ground_light(photo, boxes, corners, chart.calibration)
    if field is not None and corners is not None:
        lit = recalibrated(photo, chart, reference, field)
        field = field if _misses_less(lit, chart.calibration) else None  # the chart knows better than the ground
        chart = chart if field is None else replace(chart, calibration=lit)
    level = 1.0 if field is None or corners is None else float(field.at(*corners.mean(axis=0)))
    read = tuple(_skeins(_Scene(photo, chart.calibration, field, level), request, boxes, first_id))
    if not read and corners is None:
        raise InputError(
            "no skein stands out from the ground in the photo: draw a box round each (--box x,y,w,h), or lay them "
            "apart on plain white paper",
            field="box",
        )
    return PhotoReading(
        chart=chart_reading(chart, request.number),
        calibration=chart.calibration,
        boxes=tuple(box for box, _ in read),
        skeins=tuple(skein for _, skein in read),
        uneven_frac=None if field is None or not read else _unevenness(field, [box for box, _ in read]),
        notes=photo.notes,
    )


def _skeins(
    scene: _Scene, request: Request, boxes: Sequence[Shape], first_id: int
) -> Iterator[tuple[Shape, SkeinReading]]:
    """Yield each box with its reading; a box that was found, not drawn, is passed over where nothing can be read."""
    number = first_id
    for box in boxes:
        try:
            reading = _skein(scene, box, f"skein {number}")
        except InputError:
            if request.boxes:
                raise
            continue
        yield box, reading
        number += 1


def _misses_less(new: Calibration, old: Calibration) -> bool:
    """Return whether left-out patches are predicted no worse: 5 % more may be noise."""
    if new.left_out_de00 is None or old.left_out_de00 is None:
        return True
    return float(np.nanmean(new.left_out_de00)) < 1.05 * float(np.nanmean(old.left_out_de00))


def _check_box(box: Shape, photo: LoadedPhoto) -> None:
    left, top, right, bottom = box.sides
    if left < 0 or top < 0 or right > photo.width_px or bottom > photo.height_px:
        raise InputError(
            f"the box {left:g},{top:g},{right - left:g},{bottom - top:g} reaches beyond the photo of "
            f"{photo.width_px} × {photo.height_px} pixels: draw it inside",
            field="box",
            value=(right, bottom),
            limit=(photo.width_px, photo.height_px),
        )


def _ground_light(
    photo: LoadedPhoto, boxes: Sequence[Shape], corners: Floats | None, calibration: Calibration
) -> LightField | None:
    rows, columns = photo.linear.shape[:2]
    stride = max(1, int(np.sqrt(rows * columns / GROUND_POINTS / 4)))
    y, x = (index.ravel() for index in np.mgrid[stride // 2 : rows : stride, stride // 2 : columns : stride])
    x_px, y_px = (x + 0.5) * photo.reduction, (y + 0.5) * photo.reduction
    kept = ~photo.clipped[y, x] & _surroundings(x_px, y_px, boxes, corners)
    rgb = straightened(calibration.tone, np.asarray(photo.linear[y[kept], x[kept]], float))
    return light_field(x_px[kept], y_px[kept], rgb)


def _surroundings(x: Floats, y: Floats, boxes: Sequence[Shape], corners: Floats | None) -> Bools:
    """Return which places lie round the skeins and the chart, and in none of them."""
    near, inside = np.zeros(len(x), bool), np.zeros(len(x), bool)
    for box in boxes:
        near |= _within(x, y, box.sides, RING_FRAC)
        inside |= _within(x, y, box.sides, MARGIN_FRAC)
    if corners is not None:
        (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
        near |= _within(x, y, (left, top, right, bottom), RING_FRAC)
        inside |= _within(x, y, (left, top, right, bottom), 0.2)  # the chart's frame
    return near & ~inside


def _within(x: Floats, y: Floats, sides: tuple[float, float, float, float], grown_frac: float) -> Bools:
    left, top, right, bottom = sides
    wide, high = grown_frac * (right - left), grown_frac * (bottom - top)
    return np.asarray((x > left - wide) & (x < right + wide) & (y > top - high) & (y < bottom + high))


def _unevenness(field: LightField, boxes: Sequence[Shape]) -> float:
    left, top, right, bottom = np.array([box.sides for box in boxes]).T
    light = field.at((left + right) / 2, (top + bottom) / 2)
    return float(light.max() / light.min() - 1)


def _skein(scene: _Scene, box: Shape, title: str) -> SkeinReading:
    n = scene.photo.reduction
    left, top, right, bottom = (int(side / n) for side in box.sides)
    rows, columns = slice(top, max(bottom, top + 1)), slice(left, max(right, left + 1))
    rgb, clipped, step = _shrunk(scene.photo.linear[rows, columns], scene.photo.clipped[rows, columns])
    y = (rows.start + (np.arange(rgb.shape[0]) + 0.5) * step) * n
    x = (columns.start + (np.arange(rgb.shape[1]) + 0.5) * step) * n
    light = scene.light(x[None, :], y[:, None])
    reading = read_skein(scene.calibration.xyz(rgb) / light[..., None], ~clipped, scene.calibration.white, title=title)
    return replace(reading, sd_lab=np.hypot(reading.sd_lab, _rounding_sd_lab(scene, rgb, float(np.median(light)))))


def _rounding_sd_lab(scene: _Scene, rgb: Floats, light: float) -> Floats:
    """Return the standard error in L*, a*, b* of an even area's colour through the rounding of stored values.

    Red, green and blue are rounded to 1/255; a lossy file rounds luma and two chromas before, to its own steps.
    """
    is_linear, steps = scene.photo.is_linear_file, scene.photo.luma_chroma_steps
    flat = rgb.reshape(-1, 3)
    pixels = np.maximum(flat[:: max(1, len(flat) // ROUNDING_PIXELS)], 0)
    stored = 255 * (pixels if is_linear else srgb_from_linear(pixels))
    errors = np.diag(_left_of_rounding(stored, np.ones(3)))
    if steps is not None:
        left = _left_of_rounding(stored @ TO_LUMA_CHROMA.T, np.array([steps[0], steps[1], steps[1]]))
        errors = np.vstack([errors, left[:, None] * np.linalg.inv(TO_LUMA_CHROMA).T])
    moved = (np.median(stored, axis=0) + np.vstack([np.zeros(3), errors])) / 255
    labs = scene.calibration.lab((moved if is_linear else linear_from_srgb(moved)) / light)
    return np.asarray(np.linalg.norm(labs[1:] - labs[0], axis=0), float)


def _left_of_rounding(values: Floats, steps: Floats) -> Floats:
    """Return the standard error that rounding to steps leaves in the mean of values, shape (pixels, 3).

    An evenly spread rounding error has a standard deviation of 1/√12 of a step. Values that scatter with a standard
    deviation of s steps average all but exp(-2π²s²) of it out (B. Widrow, I. Kollár, Quantization Noise, Cambridge
    (2008), chapter 5: Gaussian dither). Two neighbouring steps alone, however mixed, show a variance of up to 1/4, so
    that only what lies above counts as scatter.
    """
    scatter = np.maximum(values.var(axis=0) / steps**2 - 0.25, 0)
    left: Floats = steps / np.sqrt(12) * np.exp(-2 * np.pi**2 * scatter)
    return left


def _shrunk(rgb: NDArray[np.float32], clipped: Bools) -> tuple[Floats, Bools, int]:
    """Return a box's pixels averaged over step × step of them, so that about SKEIN_PIXELS are left."""
    step = max(1, int(np.sqrt(clipped.size / SKEIN_PIXELS)))
    rows, columns = clipped.shape[0] // step, clipped.shape[1] // step
    cut = rgb[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    full = clipped[: rows * step, : columns * step].reshape(rows, step, columns, step)
    return np.asarray(cut.mean(axis=(1, 3)), float), np.asarray(full.any(axis=(1, 3))), step
