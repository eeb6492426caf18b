"""Skeins on a table, found as polygons of their own shape: a convenience; shapes drawn by hand are the guaranteed way.

Source: the way to masks is our own. Touching skeins are parted at necks by the distance transform and a watershed: F.
Meyer, Topographic distance and watershed lines, Signal Processing 38 (1994) 113-125; polygons are simplified after D.
Douglas and T. Peucker, Cartographica 10 (1973) 112-122, both as OpenCV has them.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Shape
from dyewright.photo.ground import SmallCopy, small_copy, standing_out
from dyewright.photo.load import LoadedPhoto

__all__ = ["find_shapes"]

Mask = NDArray[np.uint8]

_LEAST_AREA_FRAC = 0.002  # of the photo: smaller is a tie, a label or a crumb; ours
_LEAST_SHARE = 0.12  # of the middle one of what was found: smaller is no skein beside skeins; ours
_LEAST_FILL = 0.55  # a skein fills this much of its convex hull; ours
_CORE_FRAC = 0.45  # of how far a skein's body stands out, a pixel at its edge must: its rim is half ground
_CORE_PX = 31  # pixels of the copy within which a body counts for its rim
_NECK_FRAC = 0.6  # where a shape is narrower than this between two bodies, it is two; ours
_INSET_PX = 1  # pixels of the copy that an outline lies inside the edge: the rim is blurred with ground
_MOST_POINTS = 60
_BOARD = 1.25  # of the chart's patches: its frame


def find_shapes(photo: LoadedPhoto, chart_corners: NDArray[np.float64] | None = None) -> tuple[Shape, ...]:
    """Return outlines of what stands out from the ground, row by row from the top left; empty where nothing does.

    The chart's place is left out. Skeins that touch along a side come out as one.
    """
    copy = small_copy(photo)
    board = _board(copy, chart_corners)
    away = standing_out(copy, board > 0)
    if away is None:
        return ()
    away[board > 0] = 0
    found = [(int(mask.sum()), mask) for mask in _bodies(away)]
    if not found:
        return ()
    least = _LEAST_SHARE * float(np.median([area for area, _ in found]))
    shapes = (_polygon(mask, copy, photo) for area, mask in found if area >= least)
    return tuple(_in_reading_order([shape for shape in shapes if shape is not None]))


def _board(copy: SmallCopy, chart_corners: NDArray[np.float64] | None) -> Mask:
    import cv2

    board = np.zeros(copy.features.shape[:2], np.uint8)
    if chart_corners is not None:
        middle = chart_corners.mean(axis=0)
        frame = (middle + (chart_corners - middle) * _BOARD) / copy.pixels
        cv2.fillConvexPoly(board, frame.round().astype(np.int32), 1)
    return board


def _bodies(away: NDArray[np.float32]) -> Iterator[Mask]:
    """Yield a mask of each thing that stands out and could be a skein."""
    import cv2

    body = cv2.morphologyEx(away, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))  # ties and threads go
    level = cv2.dilate(body, np.ones((_CORE_PX, _CORE_PX), np.uint8))
    mask = (away > np.maximum(1.0, _CORE_FRAC * level)).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    for number in range(1, count):
        if stats[number, cv2.CC_STAT_AREA] < _LEAST_AREA_FRAC * mask.size:
            continue
        for part in _parted((labels == number).astype(np.uint8)):
            if part.sum() >= _LEAST_AREA_FRAC * mask.size and _is_solid(part):
                yield part


def _parted(mask: Mask) -> Iterator[Mask]:
    """Yield the bodies of a mask, cut where it is narrow between them."""
    import cv2

    mask = _filled(mask)
    depth = cv2.distanceTransform(np.pad(mask, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
    count, seeds = cv2.connectedComponents((depth > _NECK_FRAC * depth.max()).astype(np.uint8))
    if count <= 2:
        yield mask
        return
    seeds = seeds + 1
    seeds[(mask > 0) & (seeds == 1)] = 0
    hills = np.repeat((255 * (1 - depth / depth.max())).astype(np.uint8)[..., None], 3, axis=-1)
    lands = cv2.watershed(hills, seeds.astype(np.int32))
    for number in range(2, count + 1):
        yield (lands == number).astype(np.uint8)


def _filled(mask: Mask) -> Mask:
    """Return a mask with its holes filled: a cake's eye, a label, a gap between strands."""
    import cv2

    lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(np.zeros_like(mask), lines, -1, 1, cv2.FILLED), np.uint8)


def _is_solid(mask: Mask) -> bool:
    import cv2

    line = _outer_line(mask)
    hull = cv2.contourArea(cv2.convexHull(line))
    return bool(mask.sum() >= _LEAST_FILL * max(hull, 1.0))


def _outer_line(mask: Mask) -> NDArray[np.int32]:
    import cv2

    lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(max(lines, key=cv2.contourArea), np.int32)


def _polygon(mask: Mask, copy: SmallCopy, photo: LoadedPhoto) -> Shape | None:
    """Return the outline of a mask, a little inside its edge, with few points."""
    import cv2

    size = 2 * _INSET_PX + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    inner = np.asarray(cv2.erode(mask, kernel, borderValue=1), np.uint8)
    if not inner.any():
        return None
    line, slack = _outer_line(inner), 0.7
    points = cv2.approxPolyDP(line, slack, closed=True)
    while len(points) > _MOST_POINTS:
        slack *= 1.4
        points = cv2.approxPolyDP(line, slack, closed=True)
    if len(points) < 3:
        return None
    at = (points[:, 0] + 0.5) * copy.pixels
    return Shape(tuple((float(min(x, photo.width_px)), float(min(y, photo.height_px))) for x, y in at.round(1)))


def _in_reading_order(shapes: list[Shape]) -> list[Shape]:
    """Return shapes row by row: one belongs to a row if its middle lies above the lower edge of the row's first one."""
    rest, ordered = sorted(shapes, key=lambda shape: shape.sides[1]), []
    while rest:
        edge = rest[0].sides[3]
        row = [shape for shape in rest if (shape.sides[1] + shape.sides[3]) / 2 < edge]
        ordered += sorted(row, key=lambda shape: shape.sides[0])
        rest = [shape for shape in rest if shape not in row]
    return ordered
