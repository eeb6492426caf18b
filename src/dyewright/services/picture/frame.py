"""A picture that colours are taken from: read once, held small, its chart looked for, its colours read at places.

What is held is averaged down in linear light, so that the same picture answers each moved pick at once. Colours are
measured where the picture holds a colour chart that reads as one; without it they are what the camera made of them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import ciede2000_metric
from dyewright.core.colour.palette import din99o_from_lab
from dyewright.core.mixing.shelf import radius_95
from dyewright.core.model import ChartReading, Lab
from dyewright.errors import InputError
from dyewright.photo.draw import without_outlines
from dyewright.photo.load import LoadedPhoto, load_photo
from dyewright.records import photos
from dyewright.services.judging._chart import ReadChart, chart_reading, read_chart, reference_of
from dyewright.services.photos import SeenPhoto

__all__ = [
    "DISC_FRAC",
    "Frame",
    "PickReading",
    "area_shares",
    "frame_jpeg",
    "frame_of_file",
    "kept_frame",
    "look_at_picture",
    "read_pick",
]

Floats = NDArray[np.float64]

LONGEST_PX = 1200  # what a page shows and picks are read from: a colour is an area, not a pixel; ours
DISC_FRAC = 0.006  # radius of the disc that a pick reads, as a share of the picture's longer side; ours
WHITE_OUT = 0.95  # of the file's white in all three channels: nothing but white is left; ours
WASHED_OUT_FRAC = 0.3  # of a disc, from which the colour is said to be lost; ours
CHART_MARGIN_FRAC = 0.15  # of the chart's width round its corners: its frame is no colour of the picture; ours
COUNTED_PIXELS = 50_000  # of which areas are counted: shares are right to a part in a hundred
FRAMES = 4  # pictures held at once, 50 MB each at most


@dataclass(frozen=True)
class Frame:
    """A picture averaged down, with what its chart says.

    `lab` (rows, columns, 3) is for D65 and 10°; `is_usable` (rows, columns) is False where the picture is washed out or
    the chart lies; `even` (n, 3) are usable pixels in the space in which areas are counted.
    """

    photo: LoadedPhoto
    chart: ReadChart
    reading: ChartReading
    lab: Floats
    is_usable: NDArray[np.bool_]
    even: Floats

    @property
    def is_measured(self) -> bool:
        """Whether its colours are measured, through a chart, rather than an intention."""
        return self.chart.sample is not None


@dataclass(frozen=True)
class PickReading:
    """The colour at one place of a picture; its 95 % radius in ΔE00 where a chart tells it, None where nothing does."""

    lab: Lab
    de00_95: float | None
    is_washed_out: bool


@dataclass(frozen=True)
class _Source:
    """A picture by the sum of its bytes, and where these are got from; two of the same sum are one picture."""

    digest: str
    read: Callable[[], LoadedPhoto] = field(compare=False)


def look_at_picture(content: bytes, *, name: str | None = None) -> SeenPhoto:
    """Return a picture after reading it once: what is held of it then serves its page.

    Raises:
        InputError: the bytes are no picture, a broken one, or one too large; the sentence says which.
    """
    photo = load_photo(content, name=name)
    _frame(_Source(sha256(content).hexdigest(), lambda: photo))
    return SeenPhoto(content, photo.media_type, photo.width_px, photo.height_px)


def frame_of_file(path: Path) -> Frame:
    """Return a picture on disk to take colours from.

    Raises:
        InputError: the file cannot be read, or is no picture.
    """
    return _frame_of(load_photo(path))


def kept_frame(session: Session, photo_id: UUID) -> Frame:
    """Return a kept photo as a picture to take colours from.

    Raises:
        NotFoundError: there is no such photo.
    """
    kept = photos.photo(session, photo_id)
    return _frame(_Source(kept.sha256, lambda: load_photo(photos.photo_content(session, photo_id))))


def frame_jpeg(frame: Frame) -> bytes:
    """Return the picture as a page shows it, a JPEG in sRGB."""
    return without_outlines(frame.photo)


@lru_cache(maxsize=FRAMES)
def _frame(source: _Source) -> Frame:
    return _frame_of(source.read())


def _frame_of(large: LoadedPhoto) -> Frame:
    photo = _small(large)
    chart = read_chart(photo, "auto", reference_of(None, is_older_chart=False))
    if chart.sample is None:
        photo, chart = _as_seen(photo), replace(chart, warnings=())  # a picture without a chart is the usual one
    photo = replace(photo, clipped=_washed_out(photo, chart))
    lab, is_usable = chart.calibration.lab(photo.linear), ~photo.clipped & ~_chart_area(photo, chart)
    spread = max(1, int(np.sqrt(is_usable.size / COUNTED_PIXELS)))
    even = din99o_from_lab(lab[::spread, ::spread][is_usable[::spread, ::spread]])
    return Frame(photo, chart, chart_reading(chart, 1), lab, is_usable, even)


def _washed_out(photo: LoadedPhoto, chart: ReadChart) -> NDArray[np.bool_]:
    """Return where the true colour is lost: one channel at its end is too much for measuring, for an intention all."""
    if chart.sample is not None:
        return photo.clipped
    lost: NDArray[np.bool_] = photo.clipped & (photo.linear.min(axis=-1) > WHITE_OUT)
    return lost


def _small(photo: LoadedPhoto) -> LoadedPhoto:
    """Return a picture averaged over whole pixels, so that its longer side is LONGEST_PX at most."""
    step = int(np.ceil(max(photo.linear.shape[:2]) / LONGEST_PX))
    rows, columns = (size // step for size in photo.linear.shape[:2])
    cut = np.s_[: rows * step, : columns * step]
    linear = photo.linear[cut].reshape(rows, step, columns, step, 3).mean(axis=(1, 3))
    clipped = np.asarray(photo.clipped[cut].reshape(rows, step, columns, step).any(axis=(1, 3)))
    return replace(photo, linear=linear, clipped=clipped, reduction=step * photo.reduction)


def _as_seen(photo: LoadedPhoto) -> LoadedPhoto:
    """Return a raw file's light as bright as its picture is shown, since its own scale means nothing to an eye."""
    if not photo.is_linear_file:
        return photo
    bright = max(float(np.percentile(photo.linear, 99.5)), 1e-6)
    return replace(photo, linear=photo.linear / np.float32(bright))


def _chart_area(photo: LoadedPhoto, chart: ReadChart) -> NDArray[np.bool_]:
    """Return where the chart with its frame lies (rows, columns): inside its four sides, moved out a little."""
    rows, columns = photo.linear.shape[:2]
    if chart.sample is None:
        return np.zeros((rows, columns), bool)
    corners = chart.sample.corners / photo.reduction
    middle = corners.mean(axis=0)
    corners = middle + (1 + 2 * CHART_MARGIN_FRAC) * (corners - middle)
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    inside = np.ones((rows, columns), bool)
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inside &= (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) > 0  # clockwise with y downwards: the inside is right
    return inside


def read_pick(frame: Frame, x_frac: float, y_frac: float) -> PickReading:
    """Return the colour at a place: the median of a small disc in linear light, channel by channel, then its Lab.

    Args:
        frame: the picture.
        x_frac: the place across, 0 at the left edge, 1 at the right.
        y_frac: the place down, 0 at the top, 1 at the bottom.

    Raises:
        InputError: the place lies outside the picture.
    """
    if not (0 <= x_frac <= 1 and 0 <= y_frac <= 1):
        raise InputError(
            f"the place {100 * x_frac:g} % across and {100 * y_frac:g} % down lies outside the picture: both lie "
            "between 0 % and 100 %",
            field="pick",
            value=(x_frac, y_frac),
            limit=(1, 1),
        )
    light, clipped = _disc(frame.photo, x_frac, y_frac)
    lab = frame.chart.calibration.lab(np.median(light, axis=0))
    return PickReading(
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        de00_95=_radius_95(frame, lab, light),
        is_washed_out=float(clipped.mean()) > WASHED_OUT_FRAC,
    )


def _disc(photo: LoadedPhoto, x_frac: float, y_frac: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Return linear light (n, 3) and clipping (n,) of the pixels whose middles lie in the disc round a place."""
    rows, columns = photo.linear.shape[:2]
    radius = max(1.0, DISC_FRAC * max(rows, columns))
    x, y = x_frac * columns, y_frac * rows
    top, left = max(0, int(y - radius) - 1), max(0, int(x - radius) - 1)
    part = np.s_[top : int(y + radius) + 2, left : int(x + radius) + 2]
    light, clipped = photo.linear[part], photo.clipped[part]
    down, across = np.mgrid[: light.shape[0], : light.shape[1]] + 0.5
    inside = np.hypot(across + left - x, down + top - y) <= radius
    return np.asarray(light[inside], float), clipped[inside]


def area_shares(frame: Frame, labs: Sequence[Lab]) -> tuple[float, ...]:
    """Return which share of the picture each colour stands for: each usable pixel goes to the colour most like it."""
    if not len(frame.even):
        return (1 / len(labs),) * len(labs)
    away = np.linalg.norm(frame.even[:, None] - din99o_from_lab(np.array(labs)), axis=-1)
    counts = np.bincount(away.argmin(axis=1), minlength=len(labs))
    return tuple((counts / counts.sum()).tolist())


def _radius_95(frame: Frame, lab: Floats, light: Floats) -> float | None:
    """Return the radius in ΔE00 that holds the true colour 19 times of 20: the chart's error, and the disc's scatter.

    The chart's error counts for yarn and cloth as it does in judging.
    """
    chart_sd = frame.chart.calibration.colour_sd_lab(lab)
    if chart_sd is None:
        return None
    scatter = frame.chart.calibration.lab(light).std(axis=0) / np.sqrt(len(light))
    parts = ciede2000_metric(lab) * np.hypot(chart_sd, scatter)
    return radius_95(parts @ parts.T)
