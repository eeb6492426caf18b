"""Skeins on a plain ground, found as boxes: a convenience; boxes drawn by hand are the guaranteed way.

Source: N. Otsu, A threshold selection method from gray-level histograms, IEEE Trans. Syst. Man Cybern. 9 (1979) 62-66.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Shape
from dyewright.photo.load import LoadedPhoto

__all__ = ["find_shapes"]

Floats = NDArray[np.float64]

_SIDE = 400  # pixels of the working copy: strands vanish, skeins stay
_LEAST_AREA_FRAC = 0.01  # of the photo: smaller is a tie, a label or a thumb; ours
_LEAST_FILL = 0.45  # a skein fills this much of its box; ours
_PASSES = 2
_MARGIN = 15  # pixels of the working copy round what was found: its shadow and blurred edge are no skein; ours
_LEAST_CONTRAST = 0.03  # in cube roots of light, about 3 of L*: below it nothing stands out from the ground; ours


@dataclass(frozen=True)
class _Copy:
    """A small copy in cube roots of light, and how many original pixels go on one of its pixels."""

    roots: Floats
    pixels: float


_ROUNDS = 4
_PLAIN_SCATTER = 0.06  # of the ground along the edge, in cube roots: more is a pattern; ours


def find_shapes(photo: LoadedPhoto, chart_corners: NDArray[np.float64] | None = None) -> tuple[Shape, ...]:
    """Return boxes round what stands out from the plain ground, row by row from the top left; empty where nothing does.

    The chart's place is left out. Skeins that touch come out as one box.
    """
    import cv2

    copy = _small(photo)
    away, scatter = _from_ground(copy.roots)
    if scatter > _PLAIN_SCATTER:
        return ()
    away = np.asarray(cv2.morphologyEx(away, cv2.MORPH_CLOSE, np.ones((5, 5))), float)  # strands join, edges stay
    mask = np.zeros(away.shape, np.uint8)
    for _ in range(_PASSES):  # beside dark skeins a pale one passes for ground: what is left is looked at by itself
        open_to = cv2.dilate(mask, np.ones((_MARGIN, _MARGIN), np.uint8)) == 0
        mask |= _standing_out(away, open_to)
    if chart_corners is not None:
        middle = chart_corners.mean(axis=0)
        board = (middle + (chart_corners - middle) * 1.2) / copy.pixels
        cv2.fillConvexPoly(mask, board.round().astype(np.int32), 0)
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask)
    found = [row for row in stats[1:] if _is_skein(row, mask.size)]
    return tuple(_in_reading_order([_box(row, copy.pixels, photo) for row in found]))


def _standing_out(away: Floats, open_to: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return a mask, 0 and 1, of what stands out from the ground among the pixels that are open to question."""
    import cv2

    values = away[open_to]
    if not values.size:
        return np.zeros(away.shape, np.uint8)
    codes = np.clip(values / max(float(values.max()), 1e-6) * 255, 0, 255).astype(np.uint8)
    threshold, _ = cv2.threshold(codes, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    near, far = codes <= threshold, codes > threshold
    if not far.any() or values[far].mean() - values[near].mean() < _LEAST_CONTRAST:
        return np.zeros(away.shape, np.uint8)
    # Otsu's threshold may lie anywhere in an empty gap between ground and skeins: the middle of the gap is safest.
    mask = (open_to & (away > (values[far].mean() + values[near].mean()) / 2)).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8)), np.uint8)


def _small(photo: LoadedPhoto) -> _Copy:
    import cv2

    rows, columns = photo.linear.shape[:2]
    scale = min(1.0, _SIDE / max(rows, columns))
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    small = cv2.resize(photo.linear, size, interpolation=cv2.INTER_AREA)
    return _Copy(np.cbrt(np.maximum(small, 0).astype(float)), photo.width_px / size[0])


def _from_ground(roots: Floats) -> tuple[Floats, float]:
    """Return how far each pixel is from the ground, and how the ground itself scatters.

    The ground is a plane in cube roots of light (light falls off across a table) through a band along the photo's edge,
    without the quarter of the band that fits it worst: a skein or the chart may reach into it.
    """
    rows, columns = roots.shape[:2]
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    terms = np.stack([np.ones_like(x), x, y], axis=-1)
    band = max(2, min(rows, columns) // 25)
    is_band = np.ones((rows, columns), bool)
    is_band[band:-band, band:-band] = False
    kept = is_band.copy()
    for _ in range(_ROUNDS):
        plane = np.linalg.lstsq(terms[kept], roots[kept])[0]
        away = np.asarray(np.linalg.norm(roots - terms @ plane, axis=-1), float)
        scatter = float(np.percentile(away[is_band], 75))
        kept = is_band & (away <= scatter)
    return away, scatter


def _is_skein(stats: NDArray[np.int32], pixels: int) -> bool:
    _, _, width, height, area = stats.tolist()
    return bool(area >= _LEAST_AREA_FRAC * pixels and area >= _LEAST_FILL * width * height)


def _box(stats: NDArray[np.int32], pixels: float, photo: LoadedPhoto) -> Shape:
    x, y, width, height = (value * pixels for value in stats[:4].tolist())
    return Shape.box(round(x), round(y), round(min(width, photo.width_px - x)), round(min(height, photo.height_px - y)))


def _in_reading_order(boxes: list[Shape]) -> list[Shape]:
    """Return boxes row by row: one belongs to a row if its middle lies above the lower edge of the row's first box."""
    rest, ordered = sorted(boxes, key=lambda box: box.sides[1]), []
    while rest:
        edge = rest[0].sides[3]
        row = [box for box in rest if (box.sides[1] + box.sides[3]) / 2 < edge]
        ordered += sorted(row, key=lambda box: box.sides[0])
        rest = [box for box in rest if box not in row]
    return ordered
