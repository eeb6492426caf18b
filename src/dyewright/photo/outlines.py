"""Skeins on a table, found as polygons of their own shape: a convenience; shapes drawn by hand are the guaranteed way.

Source: the way to masks is our own, by trial on drawn photos. Polygons are simplified after D. Douglas and T. Peucker,
Cartographica 10 (1973) 112-122, as OpenCV has it.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Shape
from dyewright.photo.ground import SmallCopy, small_copy, standing_out
from dyewright.photo.load import LoadedPhoto

__all__ = ["find_shapes"]

Mask = NDArray[np.uint8]

_LEAST_AREA_FRAC = 0.002  # of the photo: smaller is a label or a crumb; ours, as all that follows
_LEAST_SHARE, _LEAST_WIDTH = 0.15, 0.35  # of the middle one of what was found: smaller or narrower is no skein
_LEAST_FILL = 0.55  # a skein fills this much of its convex hull
_CORE_FRAC = 0.45  # of how far a skein's body stands out, a pixel at its edge must: its rim is half ground
_CORE_PX = 31  # pixels of the copy within which a body counts for its rim
_CONVEX = 0.93  # a skein laid straight fills more of its hull
_CLOSER = (0.55, 0.65, 0.75)  # of a body's strength: limits of a closer look
_KEPT_SHARE = 0.6  # of a body must be left by it
_SIDE_BY_SIDE = 1.5  # of one's width are two beside each other at least
_NECK_FRAC = 0.7  # where a shape is narrower than this of both bodies beside it, it is two
_NECKS = np.linspace(0.25, 0.7, 10)  # of the deepest: how deep necks are looked for
_BODY_SHARE = 0.2  # of the largest: less is no body of its own
_TIE_PX = 9  # what is narrower is a tie: pixels of the copy, a seventieth of the photo
_TIES_PX = 14  # what several ties side by side may cover of a skein
_HOLE_FRAC = 0.05  # of a skein: where more ground or a label shows through, its outline goes round that
_JOINED_FILL, _WIDER_FRAC, _SEAM_FRAC = 0.9, 1.15, 0.75  # across a tie a skein stays convex and as wide
_ALIKE = np.array([0.2, 0.015, 0.015])  # log light and two chromaticities: parts of one skein differ by less
_THREAD_FRAC = 0.35  # of a skein's half-width: what is thinner hangs out of it, or is a notch that a tie makes
_MOST_THREAD_PX = 6  # or the corners of a square swatch would go with them
_INSET_PX = 1  # pixels of the copy that an outline lies inside the edge: the rim is blurred with ground
_SLACK_PX = 0.8  # by which a simplified outline may be off
_MOST_POINTS = 60
_LEAST_DETAIL, _USUAL_DETAIL = 0.5, 0.6  # of the limit, and of the other skeins': less at the photo's edge is no yarn
_SMOOTH_DETAIL = 0.3  # of the other skeins': less anywhere is ground that a shadow leaves out
_BOARD = 1.25  # of the chart's patches: its frame


@dataclass(frozen=True)
class _Body:
    """Something that stands out: its mask, cut to a window of the copy whose top left is at `left`, `top`."""

    mask: Mask
    left: int
    top: int

    @cached_property
    def area(self) -> int:
        return int(self.mask.sum())

    @cached_property
    def line(self) -> NDArray[np.int32]:
        """The outer line, pixels of the window."""
        import cv2

        lines, _ = cv2.findContours(self.mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        return np.asarray(max(lines, key=cv2.contourArea), np.int32)

    @cached_property
    def fill(self) -> float:
        """How much of its convex hull it fills."""
        import cv2

        return self.area / max(float(cv2.contourArea(cv2.convexHull(self.line))), 1.0)

    @cached_property
    def width(self) -> float:
        """The shorter side of the smallest rectangle round it, at any angle."""
        import cv2

        return float(min(cv2.minAreaRect(self.line)[1]))

    @cached_property
    def depth(self) -> NDArray[np.float32]:
        """How far each pixel lies inside; beyond the window there is nothing of it."""
        import cv2

        return np.asarray(cv2.distanceTransform(np.pad(self.mask, 1), cv2.DIST_L2, 5)[1:-1, 1:-1], np.float32)

    @property
    def low(self) -> NDArray[np.intp]:
        """Left and top."""
        return np.array([self.left, self.top])

    @property
    def high(self) -> NDArray[np.intp]:
        """Right and bottom."""
        return self.low + self.mask.shape[::-1]

    def on_canvas(self, low: NDArray[np.intp], high: NDArray[np.intp]) -> Mask:
        """Return its mask in a larger window, given by its left and top and its right and bottom."""
        before, after = self.low - low, high - self.high
        return np.pad(self.mask, ((before[1], after[1]), (before[0], after[0])))

    @property
    def window(self) -> tuple[slice, slice]:
        rows, columns = self.mask.shape
        return slice(self.top, self.top + rows), slice(self.left, self.left + columns)


def find_shapes(photo: LoadedPhoto, chart_corners: NDArray[np.float64] | None = None) -> tuple[Shape, ...]:
    """Return outlines of what stands out from the ground, row by row from the top left; empty where nothing does.

    The chart's place is left out. Skeins that touch along a side come out as one.
    """
    copy = small_copy(photo)
    board = _board(copy, chart_corners)
    seen = standing_out(copy, board > 0)
    if seen is None:
        return ()
    away = np.where(board > 0, np.float32(0), seen.away)
    found = _without_smooth(_bodies(away, copy.features), seen.detail)
    if not found:
        return ()
    least = _LEAST_SHARE * float(np.median([body.area for body in found]))
    narrowest = _LEAST_WIDTH * float(np.median([body.width for body in found]))
    shapes = (_polygon(body, away, copy, photo) for body in found if body.area >= least and body.width >= narrowest)
    return tuple(_in_reading_order([shape for shape in shapes if shape is not None]))


def _without_smooth(bodies: list[_Body], detail: NDArray[np.float32]) -> list[_Body]:
    """Return bodies without what is smoother than the others: ground in other light, a thumb at the edge."""
    fine = [float(np.median(detail[body.window][body.mask > 0])) for body in bodies]
    is_cut = [np.any(body.low <= 0) or np.any(body.high >= detail.shape[::-1]) for body in bodies]
    usual = float(np.median([value for value, cut in zip(fine, is_cut, strict=True) if not cut] or [0]))
    at_edge = max(_LEAST_DETAIL, _USUAL_DETAIL * usual)
    anywhere = min(_LEAST_DETAIL, _SMOOTH_DETAIL * usual) if usual >= _LEAST_DETAIL else -np.inf  # all are smooth
    limits = (at_edge if cut else anywhere for cut in is_cut)
    return [body for body, value, limit in zip(bodies, fine, limits, strict=True) if value >= limit]


def _board(copy: SmallCopy, chart_corners: NDArray[np.float64] | None) -> Mask:
    import cv2

    board = np.zeros(copy.features.shape[:2], np.uint8)
    if chart_corners is not None:
        middle = chart_corners.mean(axis=0)
        frame = (middle + (chart_corners - middle) * _BOARD) / copy.pixels
        cv2.fillConvexPoly(board, frame.round().astype(np.int32), 1)
    return board


def _bodies(away: NDArray[np.float32], features: NDArray[np.float32]) -> list[_Body]:
    """Return what stands out and could be a skein."""
    import cv2

    body = cv2.morphologyEx(away, cv2.MORPH_OPEN, np.ones((_TIE_PX, _TIE_PX), np.uint8))
    level = cv2.dilate(body, np.ones((_CORE_PX, _CORE_PX), np.uint8))
    strength = np.asarray(away / np.maximum(level, 1 / _CORE_FRAC), np.float32)
    closed = cv2.morphologyEx((strength > _CORE_FRAC).astype(np.uint8), cv2.MORPH_CLOSE, _disc(2))
    mask = np.asarray(cv2.morphologyEx(cv2.medianBlur(closed, 7), cv2.MORPH_OPEN, _disc(3)), np.uint8)
    least = _LEAST_AREA_FRAC * mask.size
    pieces = [piece for piece in _pieces(mask) if piece.area >= least / 4]
    pieces = [closer for piece in pieces for closer in _apart(piece, strength)]
    parts = _rejoined([part for piece in pieces for part in _parted(piece) if part.area >= least / 4], features)
    return [part for part in parts if part.area >= least and part.fill >= _LEAST_FILL]


def _pieces(mask: Mask, left: int = 0, top: int = 0) -> list[_Body]:
    """Return what hangs together in a mask, holes filled: a cake's eye, a label, a gap between strands."""
    import cv2

    lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    bodies = []
    for line in lines:
        x, y, wide, high = cv2.boundingRect(line)
        own = cv2.drawContours(np.zeros((high, wide), np.uint8), [line - (x, y)], -1, 1, cv2.FILLED)
        bodies.append(_Body(np.asarray(own, np.uint8), left + x, top + y))
    return bodies


def _disc(radius_px: int) -> Mask:
    import cv2

    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius_px + 1,) * 2), np.uint8)


def _apart(body: _Body, strength: NDArray[np.float32]) -> list[_Body]:
    """Return the bodies side by side that shade and light between them have joined, where a closer look shows a gap."""
    import cv2

    if body.fill > _CONVEX:
        return [body]
    seen = np.where(body.mask > 0, strength[body.window], 0)
    for limit in _CLOSER:
        strong = cv2.morphologyEx((seen > limit).astype(np.uint8), cv2.MORPH_OPEN, _disc(3))
        pieces = _pieces(np.asarray(strong, np.uint8))
        largest = max((piece.area for piece in pieces), default=0)
        seeds = [piece for piece in pieces if piece.area >= _BODY_SHARE * largest]
        are_whole = min((seed.fill for seed in seeds), default=0) > _CONVEX
        is_most = sum(seed.area for seed in seeds) > _KEPT_SHARE * body.area
        if len(seeds) > 1 and are_whole and is_most and body.width > _SIDE_BY_SIDE * max(seed.width for seed in seeds):
            mask = np.where(seen > _CORE_FRAC, body.mask, 0)  # what was filled between them is ground
            return _lands(_Body(mask, body.left, body.top), seeds)
    return [body]


def _parted(body: _Body) -> list[_Body]:
    """Return the bodies that one is made of, cut where it is narrow between them."""
    deepest = float(body.depth.max())
    for neck in _NECKS:
        seeds = [
            seed
            for seed in _pieces((body.depth > neck * deepest).astype(np.uint8))
            if body.depth[seed.window].max() * _NECK_FRAC > neck * deepest
        ]
        if len(seeds) > 1:
            parts = _lands(body, seeds)
            if min(part.area for part in parts) >= _BODY_SHARE * max(part.area for part in parts):
                return [smaller for part in parts for smaller in _parted(part)]
    return [body]


def _lands(body: _Body, seeds: list[_Body]) -> list[_Body]:
    """Return the parts of a body that are nearest to each seed."""
    import cv2

    away = np.empty((len(seeds), *body.mask.shape), np.float32)
    for number, seed in enumerate(seeds):
        elsewhere = np.ones_like(body.mask)
        elsewhere[seed.window][seed.mask > 0] = 0
        away[number] = cv2.distanceTransform(elsewhere, cv2.DIST_L2, 5)
    nearest = np.where(body.mask > 0, away.argmin(axis=0), -1)
    masks = ((nearest == number).astype(np.uint8) for number in range(len(seeds)))
    return [max(_pieces(mask, body.left, body.top), key=lambda piece: piece.area) for mask in masks]


def _rejoined(parts: list[_Body], features: NDArray[np.float32]) -> list[_Body]:
    """Return parts with those made one again that only a tie lies between."""
    rest, whole = sorted(parts, key=lambda part: -part.area), []
    while rest:
        first = rest.pop(0)
        for other in rest:
            both = _across_a_tie(first, other, features)
            if both is not None:
                rest = [both, *(part for part in rest if part is not other)]
                break
        else:
            whole.append(first)
    return whole


def _across_a_tie(first: _Body, other: _Body, features: NDArray[np.float32]) -> _Body | None:
    """Return two parts as one where they are one skein across ties: alike, convex together, and not narrow between."""
    import cv2

    low, high = np.minimum(first.low, other.low), np.maximum(first.high, other.high)
    if np.any(np.maximum(first.low, other.low) - np.minimum(first.high, other.high) > _TIES_PX):
        return None
    colours = [np.median(features[part.window][part.mask > 0], axis=0) for part in (first, other)]
    if np.any(np.abs(colours[0] - colours[1])[:3] > _ALIKE):
        return None
    low, near = low - _TIES_PX, _disc(_TIES_PX // 2)
    a, b = (part.on_canvas(low, high + _TIES_PX) for part in (first, other))
    closed = np.asarray(cv2.morphologyEx(np.maximum(a, b), cv2.MORPH_CLOSE, near), np.uint8)
    [both, *more] = _pieces(closed, int(low[0]), int(low[1]))
    between = np.argwhere(np.minimum(np.minimum(cv2.dilate(a, near), cv2.dilate(b, near)), closed))
    if more or not len(between) or both.fill < _JOINED_FILL or both.width > _WIDER_FRAC * max(first.width, other.width):
        return None
    column, row = (between.mean(axis=0)[::-1] + low - both.low).astype(int)
    return both if both.depth[row, column] >= _SEAM_FRAC * min(first.depth.max(), other.depth.max()) else None


def _polygon(body: _Body, away: NDArray[np.float32], copy: SmallCopy, photo: LoadedPhoto) -> Shape | None:
    """Return the outline of a body, a little inside its edge, without threads and with few points."""
    import cv2

    thread = min(int(_THREAD_FRAC * body.depth.max()), _MOST_THREAD_PX)
    pad = 2 * thread + 1
    whole = cv2.morphologyEx(np.pad(body.mask, pad), cv2.MORPH_CLOSE, _disc(thread))
    smooth = np.asarray(cv2.morphologyEx(whole, cv2.MORPH_OPEN, _disc(thread)), np.uint8)
    _open_holes(smooth[pad:-pad, pad:-pad], (away[body.window] < 1) & (body.mask > 0))
    inner = _pieces(np.asarray(cv2.erode(smooth, _disc(_INSET_PX)), np.uint8), body.left - pad, body.top - pad)
    if not inner:
        return None
    largest = max(inner, key=lambda piece: piece.area)
    slack = _SLACK_PX
    points = cv2.approxPolyDP(largest.line, slack, closed=True)
    while len(points) > _MOST_POINTS:
        slack *= 1.4
        points = cv2.approxPolyDP(largest.line, slack, closed=True)
    if len(points) < 3:
        return None
    at = (points[:, 0] + (largest.left + 0.5, largest.top + 0.5)) * copy.pixels
    return Shape(tuple((float(min(x, photo.width_px)), float(min(y, photo.height_px))) for x, y in at.round(1)))


def _open_holes(mask: Mask, is_ground: NDArray[np.bool_]) -> None:
    """Cut large holes out of a mask, with a slit to the outside: one line then runs round the yarn alone."""
    import cv2

    [outer, *_] = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    seen = cv2.morphologyEx(is_ground.astype(np.uint8), cv2.MORPH_OPEN, _disc(2))
    for hole in _pieces(np.asarray(seen, np.uint8)):
        if hole.area < _HOLE_FRAC * mask.sum():
            continue
        rim, edge = hole.line[:, 0] + (hole.left, hole.top), outer[:, 0]
        between = np.linalg.norm(rim[:, None, :] - edge[None, :, :], axis=-1)
        start, end = np.unravel_index(between.argmin(), between.shape)
        mask[hole.window][hole.mask > 0] = 0
        cv2.line(mask, rim[start].tolist(), edge[end].tolist(), 0, 1)


def _in_reading_order(shapes: list[Shape]) -> list[Shape]:
    """Return shapes row by row: one belongs to a row if its middle lies above the lower edge of the row's first one."""
    rest, ordered = sorted(shapes, key=lambda shape: shape.sides[1]), []
    while rest:
        edge = rest[0].sides[3]
        row = [shape for shape in rest if (shape.sides[1] + shape.sides[3]) / 2 < edge]
        ordered += sorted(row, key=lambda shape: shape.sides[0])
        rest = [shape for shape in rest if shape not in row]
    return ordered
