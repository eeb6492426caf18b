"""What stands out from the ground of a photo: by its colour, by its strands, and by brightness no shadow accounts for.

A shadow takes brightness away and leaves chromaticity and smoothness nearly as they were; yarn differs from a table in
its chromaticity, or, where it is as pale or as grey as the table, in the fine shading of its strands. So the three are
measured apart, each against how the ground itself scatters, and darkness counts only where it is deeper than a shadow.

Source: the measures and limits are our own (estimates), tried on drawn photos by ground; the trimmed fit follows P. J.
Huber, Robust Statistics, Wiley (1981), chapter 7.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.photo.load import LoadedPhoto

__all__ = ["SmallCopy", "StandingOut", "small_copy", "standing_out"]

Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]

SIDE = 640  # pixels of the working copy's longer side: strands blur into skeins, narrow gaps stay
DETAIL_SIDE = 1600  # pixels in which strands are looked for
LUMINANCE = np.array([[0.2126, 0.7152, 0.0722]], np.float32)  # IEC 61966-2-1
_NOISE = 0.01  # of white, added to all light: what is darker drowns in the sensor's noise, which must not stand out
_BAND_FRAC = 0.04  # of the shorter side: the edge of the photo where the ground is first looked for
_BAND_SHARE = 0.6  # of that band is taken to be ground: a skein or the chart may reach into the rest
_ROUNDS = 4
_STRIDE = 4  # pixels of the working copy between those that the ground is fitted to
_LEAST_GROUND, _LEAST_POINTS = 0.05, 50  # of the photo, and for a first fit
_NEAR = 3.0  # standard deviations within which a pixel still is ground
# What a pixel must be off by where the ground itself is plainer: brightness, two chromaticities, detail.
_FLOORS = np.array([0.10, 0.012, 0.012, 0.035], np.float32)
_MOST_BY_DETAIL = 1.5  # detail tells that there is yarn; ties and labels have more of it, and are no more yarn
_WIDTHS = 4.0  # standard deviations of the ground that a pixel must be off by; ours
_SHADOW_LOG = np.log(0.35)  # a shadow on a table takes away no more than two thirds of the light
_MOST_SCATTER = np.array([0.45, 0.05, 0.05, 0.25])  # of the ground: beyond it, it is a pattern of its own


@dataclass(frozen=True)
class StandingOut:
    """How far each pixel stands out from the ground in all, and how much more detail it has; 1 is the limit of both."""

    away: Floats
    detail: Floats


@dataclass(frozen=True)
class SmallCopy:
    """A small copy: brightness (log), two chromaticities and detail of each pixel, and original pixels along one."""

    features: Floats
    pixels: float


def small_copy(photo: LoadedPhoto) -> SmallCopy:
    """Return what is seen of a photo in small."""
    import cv2

    detail = _shrunk(photo.linear, DETAIL_SIDE)
    small = _shrunk(detail, SIDE)
    roots = np.cbrt(np.maximum(small, 0) + _NOISE)
    red, green, blue = cv2.split(roots)
    total = red + green + blue
    luminance = np.log(np.maximum(cv2.transform(small, LUMINANCE), 0) + _NOISE)
    features = np.dstack([luminance, (red - green) / total, (red + green - 2 * blue) / (2 * total)])
    strands = _detail(detail, (small.shape[1], small.shape[0]))
    return SmallCopy(np.dstack([features, strands]).astype(np.float32), photo.width_px / small.shape[1])


def _shrunk(linear: Floats, side: int) -> Floats:
    """Return a picture averaged over whole pixels, its longer side near `side`."""
    import cv2

    n = max(1, round(max(linear.shape[:2]) / side))
    rows, columns = (size // n for size in linear.shape[:2])
    cut = linear[: rows * n, : columns * n]
    return np.asarray(cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def _detail(linear: Floats, size: tuple[int, int]) -> Floats:
    """Return how finely light and dark alternate: the spread of log light about its blur, without edges of areas."""
    import cv2

    light = np.log(np.maximum(cv2.transform(linear, LUMINANCE), 0) + _NOISE)
    fine = light - cv2.GaussianBlur(light, (0, 0), 3)
    power = cv2.blur(cv2.resize(fine * fine, size, interpolation=cv2.INTER_AREA), (5, 5))
    spread = np.sqrt(np.maximum(power, 0))  # a running sum may end a hair below 0
    return np.asarray(cv2.erode(spread, np.ones((7, 7), np.uint8)), np.float32)


def standing_out(copy: SmallCopy, hidden: Bools) -> StandingOut | None:
    """Return how far each pixel stands out from the ground, 1 being the limit; None where no one ground is seen.

    Args:
        copy: the photo in small.
        hidden: pixels that are known to be no ground (the chart).
    """
    ground = _ground(copy.features, hidden)
    if ground is None:
        return None
    off, scatter = ground
    if np.any(scatter > _MOST_SCATTER):
        return None
    limits = np.maximum(_WIDTHS * scatter, _FLOORS).astype(np.float32)
    brightness = off[..., 0]
    dark = np.minimum(brightness - np.float32(_SHADOW_LOG), 0)
    parts = [np.maximum(brightness, 0) + dark, off[..., 1], off[..., 2]]
    detail = off[..., 3] / limits[3]
    counted = np.clip(detail, 0, _MOST_BY_DETAIL)
    squares = sum(((part / limit) ** 2 for part, limit in zip(parts, limits[:3], strict=True)), counted**2)
    return StandingOut(np.asarray(np.sqrt(squares), np.float32), np.asarray(detail, np.float32))


def _ground(features: Floats, hidden: Bools) -> tuple[Floats, NDArray[np.float64]] | None:
    """Return how far each pixel is off the ground in each feature, and how the ground scatters in it.

    The ground is a curved surface in each feature, since light falls off and changes its colour across a table. It is
    fitted first to a band along the photo's edge, without what differs most from the rest there, then to all that is
    near it.
    """
    rows, columns = features.shape[:2]
    coarse, terms = features[::_STRIDE, ::_STRIDE], _terms(rows, columns)
    own, open_to = terms[::_STRIDE, ::_STRIDE], ~hidden[::_STRIDE, ::_STRIDE]
    kept = _plain_band(coarse, open_to)
    if kept.sum() < _LEAST_POINTS:
        return None
    for number in range(_ROUNDS):
        used = 3 if number == 0 else 6  # a plane first: a curve through a band alone may swing inside it
        surface = np.linalg.lstsq(own[kept, :used], coarse[kept])[0]
        off = coarse - own[..., :used] @ surface
        centred = off[kept]
        scatter = 1.4826 * np.median(np.abs(centred - np.median(centred, axis=0)), axis=0)  # as a standard deviation
        kept = (np.abs(off) < np.maximum(_NEAR * scatter, _FLOORS / 2)).all(axis=-1) & open_to
        if kept.mean() < _LEAST_GROUND:
            return None
    return features - terms @ surface, np.asarray(scatter, float)


def _terms(rows: int, columns: int) -> Floats:
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j].astype(np.float32)
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _plain_band(features: Floats, open_to: Bools) -> Bools:
    """Return the part of a band along the photo's edge that is most like the rest of it."""
    rows, columns = features.shape[:2]
    band = max(2, round(min(rows, columns) * _BAND_FRAC))
    is_band = open_to.copy()
    is_band[band:-band, band:-band] = False
    if not is_band.any():  # the chart fills the photo
        return is_band
    values = features[is_band]
    away = np.abs((values - np.median(values, axis=0)) / np.maximum(values.std(axis=0), 1e-6)).max(axis=-1)
    kept = np.zeros((rows, columns), bool)
    kept[is_band] = away <= np.quantile(away, _BAND_SHARE)
    return kept
