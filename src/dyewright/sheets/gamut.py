"""A map of colours as SVG: what is reached, painted in its own colours, and marks on it.

Drawn here by hand rather than by the charting library, because it is redrawn while a slider moves and the library alone
takes about 80 ms. The ground is the mid grey on which colours are judged; marks differ by shape and carry words.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from html import escape

from dyewright.sheets.charts import CHART_FONT

__all__ = ["Axis", "Cell", "Mark", "MarkShape", "Stroke", "colour_map"]

FIELD, INK, PAPER, FAINT = "#767676", "#161616", "#ffffff", "#a0a0a0"
FONT_PX = 14
MARK_PX = 8
LABEL_PX = 7.2  # width of a letter, on average, of the shipped sans at 14 px
Point = tuple[float, float]


class MarkShape(StrEnum):
    """How a mark is drawn, so that it is told from others without its colour."""

    RING = "ring"
    SQUARE = "square"
    DOT = "dot"


@dataclass(frozen=True)
class Cell:
    """A square patch in its own colour, from its lower left corner."""

    x: float
    y: float
    size: float
    hex: str


@dataclass(frozen=True)
class Stroke:
    """A piece of a line in its own colour."""

    ends: tuple[Point, Point]
    hex: str


@dataclass(frozen=True)
class Mark:
    """A colour on the map, by its place and words."""

    x: float
    y: float
    hex: str
    label: str
    shape: MarkShape = MarkShape.DOT


@dataclass(frozen=True)
class Axis:
    """What runs along a side of the map: its range, and what is said at its low and high end."""

    low: float
    high: float
    low_words: str
    high_words: str
    ticks: tuple[float, ...] = ()


def colour_map(
    outlines: Sequence[Sequence[Point]],
    cells: Sequence[Cell],
    strokes: Sequence[Stroke],
    marks: Sequence[Mark],
    across: Axis,
    up: Axis,
    *,
    width_px: int,
    height_px: int,
    words: str,
) -> str:
    """Return the map as SVG.

    Args:
        outlines: closed loops that together hold what is reached; they may overlap.
        cells: patches that cover the loops, cut off at their edge.
        strokes: what is reached where it is a line.
        marks: colours to be found on the map.
        across: the axis from left to right.
        up: the axis from below upwards.
        width_px: width of the drawing.
        height_px: height of the drawing.
        words: what the drawing shows, for a screen reader.
    """
    place = _Place(across, up, width_px, height_px)
    loops = [f'<path d="{place.path(outline)}Z"/>' for outline in outlines]
    name = f"reach-{sha256(''.join(loops).encode()).hexdigest()[:8]}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_px} {height_px}" role="img" '
        f'aria-label="{escape(words)}" font-family="{CHART_FONT}, sans-serif" font-size="{FONT_PX}">'
    )
    parts = [
        head,
        f'<rect width="{width_px}" height="{height_px}" rx="10" fill="{FIELD}"/>',
        *_lines(place),
        # The white edge lies beneath, so that only its outer half shows where loops overlap.
        f'<g fill="none" stroke="{PAPER}" stroke-width="3" stroke-linejoin="round">{"".join(loops)}</g>',
        f'<clipPath id="{name}">{"".join(loops)}</clipPath><g clip-path="url(#{name})">',
        *(_cell(cell, place) for cell in cells),
        "</g>",
        *(_stroke(stroke, place) for stroke in strokes),
        *_axis_words(place),
        *_marks(marks, place),
        "</svg>",
    ]
    return "".join(parts)


@dataclass(frozen=True)
class _Place:
    """From the colours' numbers to the drawing's pixels."""

    across: Axis
    up: Axis
    width_px: int
    height_px: int

    def x_px(self, value: float) -> float:
        return self.width_px * (value - self.across.low) / (self.across.high - self.across.low)

    def y_px(self, value: float) -> float:
        return self.height_px * (self.up.high - value) / (self.up.high - self.up.low)

    def path(self, points: Sequence[Point]) -> str:
        return "M" + "L".join(f"{self.x_px(x):.1f} {self.y_px(y):.1f}" for x, y in points)


def _lines(place: _Place) -> list[str]:
    """Return the lines at the ticks: of no red or green, of no yellow or blue."""
    ends = [((tick, place.up.low), (tick, place.up.high)) for tick in place.across.ticks]
    ends += [((place.across.low, tick), (place.across.high, tick)) for tick in place.up.ticks]
    return [f'<path d="{place.path(pair)}" stroke="{FAINT}"/>' for pair in ends]


def _axis_words(place: _Place) -> list[str]:
    row = place.y_px(place.up.ticks[0]) - 6 if place.up.ticks else place.height_px - 8.0
    column = place.x_px(place.across.ticks[0]) if place.across.ticks else place.width_px / 2
    return [
        _words(8.0, row, "start", place.across.low_words),
        _words(place.width_px - 8.0, row, "end", place.across.high_words),
        _words(column, 18.0, "middle", place.up.high_words),
        _words(column, place.height_px - 8.0, "middle", place.up.low_words),
    ]


def _words(x: float, y: float, anchor: str, said: str) -> str:
    """Return white words with a dark edge, to be read on any colour."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{PAPER}" stroke="{INK}" stroke-width="2.5" '
        f'stroke-linejoin="round" paint-order="stroke">{escape(said)}</text>'
    )


def _cell(cell: Cell, place: _Place) -> str:
    x, y = place.x_px(cell.x), place.y_px(cell.y + cell.size)
    # A little wider than its place, so that no seam shows.
    width, height = place.x_px(cell.x + cell.size) - x + 0.6, place.y_px(cell.y) - y + 0.6
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{cell.hex}"/>'


def _stroke(stroke: Stroke, place: _Place) -> str:
    return f'<path d="{place.path(stroke.ends)}" stroke="{stroke.hex}" stroke-width="9" stroke-linecap="round"/>'


def _marks(marks: Sequence[Mark], place: _Place) -> list[str]:
    drawn, taken = [], list[Point]()
    for mark in marks:
        x = min(max(place.x_px(mark.x), MARK_PX + 2), place.width_px - MARK_PX - 2)
        y = min(max(place.y_px(mark.y), MARK_PX + 2), place.height_px - MARK_PX - 2)
        drawn.append(_shape(mark, x, y))
        drawn.append(_label(mark.label, x, y, place.width_px, taken))
    return drawn


def _shape(mark: Mark, x: float, y: float) -> str:
    if mark.shape is MarkShape.SQUARE:
        corner = f'x="{x - MARK_PX:.1f}" y="{y - MARK_PX:.1f}" width="{2 * MARK_PX}" height="{2 * MARK_PX}"'
        return f'<rect {corner} fill="{mark.hex}" stroke="{PAPER}" stroke-width="2"/>'
    ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK_PX}" fill="{mark.hex}" stroke="{PAPER}" stroke-width="2"/>'
    if mark.shape is MarkShape.RING:
        around = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK_PX + 4}" fill="none" stroke="{INK}" stroke-width="2"/>'
        return around + ring
    return ring


def _label(label: str, x: float, y: float, width_px: int, taken: list[Point]) -> str:
    """Return a mark's words beside it, on the side that has room, moved down where others stand already."""
    if not label:
        return ""
    is_left = x + 16 + LABEL_PX * len(label) > width_px
    line = y + 5
    while any(abs(line - other) < FONT_PX and abs(x - beside) < 90 for beside, other in taken):
        line += FONT_PX
    taken.append((x, line))
    at, anchor = (x - 16, "end") if is_left else (x + 16, "start")
    return _words(at, line, anchor, label)
