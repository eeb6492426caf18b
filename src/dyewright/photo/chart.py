"""The 24-patch chart in a photo: where it lies, and the colour of each patch.

Four corners, clockwise from the dark-skin patch, are the guaranteed way; finding the chart by itself is the convenience
and always has to be verified by whoever calls, since a false find occurs (2 of 12 scenes without a chart, measured).

Sources: [1] OpenCV 5, module mcc (macbeth chart module in its 4.x documentation). [2] R. Hartley, A. Zisserman,
Multiple View Geometry in Computer Vision, 2nd ed., Cambridge (2004), 4.1: homography from four points.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.errors import InputError
from dyewright.photo.load import LoadedPhoto

__all__ = ["COLUMNS", "ROWS", "ChartSample", "find_charts", "sample_chart"]

Floats = NDArray[np.float64]

COLUMNS, ROWS = 6, 4
CENTRAL_FRAC = (
    0.4  # the part of a patch that is read: corner clicks off by 3 % of the width change 0.05 ΔE00 (measured)
)
_EDGE_FRAC = 0.75  # the part of a patch that must be plain where the grid is seated right
_INSETS = np.linspace(0.0, 0.10, 6)  # how far inside the marked corners the patches may begin: frames differ
_SEARCH_SIDES = (1000, 2000)  # pixels that finding works on; the larger finds charts of a tenth of the width
_MIN_PATCH_PX = 6.0
_OFF_CORNERS = "mark the four corners clockwise, beginning at the dark-skin patch (the brown one)"


@dataclass(frozen=True)
class ChartSample:
    """The 24 patches as photographed, in reading order from dark skin.

    `corners` are the chart's and `centres` the patches', (4, 2) and (24, 2) in original pixels; `rgb` the median linear
    light of each patch's centre (24, 3); `clipped_frac` how much of that centre is clipped; `spread_frac` its lightness
    spread (shadow edge, glare).
    """

    corners: Floats
    centres: Floats
    rgb: Floats
    clipped_frac: Floats
    spread_frac: Floats


def sample_chart(photo: LoadedPhoto, corners: ArrayLike) -> ChartSample:
    """Return the colours of the 24 patches inside four corners.

    The corners may be those of the patches or of the board round them: the patches are looked for up to a tenth of the
    width inside, where they are plainest.

    Args:
        photo: the picture.
        corners: (4, 2) x and y in original pixels, clockwise from the dark-skin patch.

    Raises:
        InputError: a corner outside the photo, corners that cross or run anticlockwise, or patches too small to read.
    """
    marked = _checked_corners(photo, np.asarray(corners, float))
    on_array = marked / photo.reduction
    inset = min(_inset_pairs(), key=lambda pair: _roughness(photo.linear, on_array, pair))
    grid = _homography(on_array, inset)
    at = _points(grid, np.arange(ROWS * COLUMNS), CENTRAL_FRAC, 21)
    pixels = _inside(photo.linear, at)
    low, middle, high = np.percentile(np.cbrt(np.maximum(pixels.mean(axis=-1), 0)), [10, 50, 90], axis=1)
    return ChartSample(
        corners=marked,
        centres=_centres(grid) * photo.reduction,
        rgb=np.median(pixels, axis=1),
        clipped_frac=_inside(photo.clipped, at).mean(axis=1),
        spread_frac=(high - low) / np.maximum(middle, 1e-6),
    )


def find_charts(photo: LoadedPhoto, most: int = 2) -> tuple[Floats, ...]:
    """Return the corners of what looks like a 24-patch chart [1], best first, in original pixels; empty where none is.

    Only finds with every corner inside the photo are returned. A find may be false: verify its colours.
    """
    for side in dict.fromkeys(min(side, max(photo.linear.shape[:2])) for side in _SEARCH_SIDES):
        found = tuple(_found(photo, side, most))
        if found:
            return found
    return ()


def _found(photo: LoadedPhoto, side: int, most: int) -> Iterator[Floats]:
    import cv2

    rows, columns = photo.linear.shape[:2]
    scale = side / max(rows, columns)
    size = (round(columns * scale), round(rows * scale))
    small = photo.linear if scale == 1 else cv2.resize(photo.linear, size, interpolation=cv2.INTER_AREA)
    bright = max(float(np.percentile(small[::4, ::4], 99.5)), 1e-6)  # exposure does not matter to finding
    encoded = (255 * np.clip(small / bright, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    try:
        is_found = detector.process(np.ascontiguousarray(encoded[..., ::-1]), nc=most)
    except cv2.error:
        return
    for chart in detector.getListColorChecker() if is_found else ():
        corners = (np.array(chart.getBox(), float) + 0.5) * (photo.width_px, photo.height_px) / size
        if _is_inside(photo, corners) and _turn(corners) > 0:
            yield corners


def _is_inside(photo: LoadedPhoto, corners: Floats) -> bool:
    return bool(np.all((corners >= 0) & (corners <= (photo.width_px, photo.height_px))))


def _turn(corners: Floats) -> float:
    """Return twice the signed area: above 0 where corners run clockwise as seen (y points down)."""
    x, y = corners.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _checked_corners(photo: LoadedPhoto, corners: Floats) -> Floats:
    if corners.shape != (4, 2) or not np.all(np.isfinite(corners)):
        raise InputError(f"the chart needs four corners of two numbers each: {_OFF_CORNERS}", field="chart")
    if not _is_inside(photo, corners):
        x, y = next((x, y) for x, y in corners if not (0 <= x <= photo.width_px and 0 <= y <= photo.height_px))
        raise InputError(
            f"the chart's corner {x:.0f},{y:.0f} lies outside the photo of {photo.width_px} × {photo.height_px} "
            "pixels: a part of a chart is not enough, photograph it whole or judge with --chart none",
            field="chart",
            value=(x, y),
            limit=(photo.width_px, photo.height_px),
        )
    sides = np.roll(corners, -1, axis=0) - corners
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    if np.all(turns < 0):
        raise InputError(
            f"the chart's corners run anticlockwise, as in a mirrored picture: {_OFF_CORNERS}, on the photo unmirrored",
            field="chart",
        )
    if not np.all(turns > 0):
        raise InputError(f"the chart's corners cross or lie on one line: {_OFF_CORNERS}", field="chart")
    smallest = np.min(np.linalg.norm(sides, axis=1) / (COLUMNS, ROWS, COLUMNS, ROWS)) / photo.reduction
    if smallest < _MIN_PATCH_PX:
        raise InputError(
            f"a patch of the chart is {smallest:.1f} pixels; at least {_MIN_PATCH_PX:.0f} are needed: photograph the "
            "chart nearer, or mark its corners, not one patch's",
            field="chart",
            value=float(smallest),
            limit=_MIN_PATCH_PX,
        )
    return corners


def _inset_pairs() -> Iterator[tuple[float, float]]:
    yield from ((float(x), float(y)) for x in _INSETS for y in _INSETS)


def _homography(corners: Floats, inset: tuple[float, float]) -> Floats:
    """Return the 3×3 that takes patch units (0..6, 0..4) to pixels [2]; the grid begins `inset` inside the corners."""
    x, y = inset[0] / (1 - 2 * inset[0]) * COLUMNS, inset[1] / (1 - 2 * inset[1]) * ROWS
    source = np.array([(-x, -y), (COLUMNS + x, -y), (COLUMNS + x, ROWS + y), (-x, ROWS + y)])
    rows, right = [], []
    for (u, v), (px, py) in zip(source, corners, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -u * px, -v * px], [0, 0, 0, u, v, 1, -u * py, -v * py]]
        right += [px, py]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def _centres(grid: Floats) -> Floats:
    row, column = np.divmod(np.arange(ROWS * COLUMNS), COLUMNS)
    x, y, w = grid @ np.stack([column + 0.5, row + 0.5, np.ones(ROWS * COLUMNS)])
    return np.stack([x / w, y / w], axis=-1)


def _points(
    grid: Floats, numbers: NDArray[np.intp], part: float, per_side: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of per_side² pixels spread over the middle `part` of patches, (patches, pixels)."""
    row, column = np.divmod(numbers, COLUMNS)
    along = np.linspace(0.5 - part / 2, 0.5 + part / 2, per_side)
    u, v = (
        offset.ravel() + start[:, None] for offset, start in zip(np.meshgrid(along, along), (column, row), strict=True)
    )
    x, y, w = np.tensordot(grid, np.stack([u, v, np.ones(u.shape)]), axes=1)
    return np.floor(y / w).astype(np.intp), np.floor(x / w).astype(np.intp)


def _inside(pixels: NDArray[Any], at: tuple[NDArray[np.intp], NDArray[np.intp]]) -> Floats:
    rows, columns = (np.clip(index, 0, size - 1) for index, size in zip(at, pixels.shape[:2], strict=True))
    return np.asarray(pixels[rows, columns], float)


def _roughness(linear: NDArray[np.float32], corners: Floats, inset: tuple[float, float]) -> float:
    """Return how unplain the patches are where the grid sits thus: the median spread of lightness towards the edges."""
    grid = _homography(corners, inset)
    light = _inside(linear, _points(grid, np.arange(ROWS * COLUMNS), _EDGE_FRAC, 9)).sum(axis=-1)
    roots = np.cbrt(np.maximum(light, 0))  # lightness goes as the cube root: dark patches count as much as light ones
    return float(np.mean(np.minimum(roots.std(axis=1), 0.2))) + 0.02 * sum(inset)  # in doubt, as marked
