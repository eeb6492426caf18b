"""One photo of skeins, read: the chart, the light on the ground, the colour of each skein."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import ChartReading, Shape
from dyewright.core.skeins import Calibration, LightField, SkeinReading, log_light_slopes
from dyewright.errors import InputError
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.photo.outlines import find_shapes
from dyewright.services.judging._chart import ReadChart, Reference, chart_reading, read_chart, recalibrated
from dyewright.services.judging._ground import ground_light
from dyewright.services.judging._skein import Scene, read_shape
from dyewright.services.judging.chart_choice import ChartChoice

__all__ = ["PhotoReading", "Request", "Seen", "read_photo", "see_photo"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TONE_DOUBT_FRAC = 0.04  # of a difference in light: by which the grey row's curve errs there (measured: 0.01 to 0.04)
CHANNEL_DOUBT_FRAC = 0.01  # the same of one channel against the others (measured: 0.01 to 0.02)
ROUGH_LIGHT_FRAC = 0.015  # of light: half an L*, as much as an interval can bear; ours
MIXED_DOUBT_FRAC = 0.125  # estimate: of a difference in the light's colour, which acts on yarn unlike on the ground
RENDERED_DOUBT_FRAC = 0.25  # estimate: the same without a chart: phones bend the bright end of their tone curve


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
    """One photo, read.

    Attributes:
        shared_lab: errors of light that move its skeins together, as `Errors` has them, shape (causes, skeins, 3).
        uneven_frac: how much the light differs between skeins, None where no ground shows it.
        is_disputed: the chart contradicts what the ground shows of the light, so that it was not taken out.
    """

    chart: ChartReading
    calibration: Calibration
    boxes: tuple[Shape, ...]
    skeins: tuple[SkeinReading, ...]
    shared_lab: Floats
    uneven_frac: float | None
    notes: tuple[str, ...]
    is_disputed: bool = False


@dataclass(frozen=True)
class Seen:
    """A photo before its skeins are read; `middle` is the chart's, None where there is no chart.

    `disputed` is light on the ground that was not taken out, because the chart's patches contradict it.
    """

    scene: Scene
    chart: ReadChart
    boxes: tuple[Shape, ...]
    middle: Floats | None
    disputed: LightField | None = None


def see_photo(request: Request, reference: Reference) -> Seen:
    """Return a photo with its chart, its light and the shapes on it, before any skein is read.

    Raises:
        InputError: no photo, no chart where corners were given, a box off the photo.
    """
    photo = load_photo(request.source, name=request.name, is_linear=request.is_linear)
    chart = read_chart(photo, request.chart, reference)
    corners = chart.corners
    for box in request.boxes:
        _check_box(box, photo)
    boxes = request.boxes or tuple(replace(box, photo=request.number) for box in find_shapes(photo, corners))
    field, disputed = ground_light(photo, boxes, corners, chart.calibration), None
    if field is not None and corners is not None:
        lit = recalibrated(photo, chart, reference, field)
        if _misses_less(lit, chart.calibration):
            chart = replace(chart, calibration=lit)
        else:
            field, disputed = None, field  # the chart knows better than the ground
    middle = None if corners is None else corners.mean(axis=0)
    level = np.ones(3) if field is None or middle is None else field.channels_at(*middle)
    return Seen(Scene(photo, chart.calibration, field, level), chart, boxes, middle, disputed)


def read_photo(request: Request, reference: Reference, first_id: int) -> PhotoReading:
    """Return what one photo shows; its skeins are called by numbers from `first_id` on in messages.

    Raises:
        InputError: as `see_photo`, or no skein.
    """
    seen = see_photo(request, reference)
    field = seen.scene.field
    read = tuple(_skeins(seen.scene, request, seen.boxes, first_id))
    if not read and seen.middle is None:
        raise InputError(
            "no skein stands out from the ground in the photo: mark where each lies, or lay them apart on plain "
            "white paper",
            field="box",
        )
    return PhotoReading(
        chart=chart_reading(seen.chart, request.number, 0.0 if field is None else field.mixed_frac),
        calibration=seen.chart.calibration,
        boxes=tuple(box for box, _ in read),
        skeins=tuple(skein for _, skein in read),
        shared_lab=_shared_lab(field, seen.middle, read)
        if seen.disputed is None
        else _shared_lab(seen.disputed, seen.middle, read, doubt_frac=1.0),
        uneven_frac=None if field is None or not read else _unevenness(field, [box for box, _ in read]),
        notes=(*seen.scene.photo.notes, *_light_notes(field)),
        is_disputed=seen.disputed is not None,
    )


def _skeins(
    scene: Scene, request: Request, boxes: Sequence[Shape], first_id: int
) -> Iterator[tuple[Shape, SkeinReading]]:
    """Yield each box with its reading; a box that was found, not drawn, is passed over where nothing can be read."""
    number = first_id
    for box in boxes:
        try:
            reading = read_shape(scene, box, f"skein {number}")
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


def _shared_lab(
    field: LightField | None,
    middle: Floats | None,
    read: Sequence[tuple[Shape, SkeinReading]],
    *,
    doubt_frac: float = TONE_DOUBT_FRAC,
) -> Floats:
    """Return how the skeins' colours move with each error of the light, against the place of the chart.

    `doubt_frac` is by how much of a difference in light the photo errs: all of it where it was not taken out.
    """
    if field is None or not read:
        return np.zeros((0, len(read), 3))
    x, y = np.array([_middle(shape) for shape, _ in read]).T
    shifts, log_light = field.shifts_at(x, y), np.log(field.channels_at(x, y))
    if middle is not None:
        shifts = shifts - field.shifts_at(*middle[:, None])
        log_light = log_light - np.log(field.channels_at(*middle))
    doubt = RENDERED_DOUBT_FRAC if middle is None else doubt_frac
    tint = log_light - log_light.mean(axis=1, keepdims=True)
    by_channel = CHANNEL_DOUBT_FRAC * np.eye(3)[:, None, :] * log_light
    causes = np.concatenate([shifts, doubt * log_light[None], by_channel, MIXED_DOUBT_FRAC * tint[None]])
    slopes = log_light_slopes(np.array([reading.lab for _, reading in read]))
    return np.asarray(-np.einsum("nij,knj->kni", slopes, causes), float)


def _light_notes(field: LightField | None) -> tuple[str, ...]:
    """Return what is to be said of light that the ground shows only roughly."""
    if field is None or field.local_frac < ROUGH_LIGHT_FRAC:
        return ()
    words = (
        f"The ground is {100 * field.local_frac:.0f} % lighter and darker in places than a smooth fall of light would "
        "make it (a shadow across the table, or grain in it): differences in lightness are less sure. Plain paper, and "
        "nobody between it and the window, make them surer."
    )
    return (words,)


def _middle(shape: Shape) -> tuple[float, float]:
    left, top, right, bottom = shape.sides
    return (left + right) / 2, (top + bottom) / 2


def _unevenness(field: LightField, boxes: Sequence[Shape]) -> float:
    left, top, right, bottom = np.array([box.sides for box in boxes]).T
    light = field.at((left + right) / 2, (top + bottom) / 2)
    return float(light.max() / light.min() - 1)
