"""Maps of what dyes reach, as drawings: the dyes of a mix beside its sliders, and a whole shelf."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import display_rgb
from dyewright.core.matching import DEEPEST_OWF, Gamut, chroma_range, gamut_of, hue_lines, outlines_at
from dyewright.core.mixing import ShelfModel
from dyewright.core.model import Lab
from dyewright.data.colour import load_observer_tables
from dyewright.services.shown import shown_hex
from dyewright.sheets.gamut import Axis, Cell, Mark, MarkShape, Stroke, colour_map

__all__ = ["hue_map", "lightness_map", "mix_map", "most_chroma", "shelf_gamut"]

Array = NDArray[np.float64]

SMALL_PX, LARGE_PX = 320, 420
PATCHES = 30  # of a painted map, along its longer side
HUE_LEVELS = 60  # lightnesses of a map of one hue
LEAST_SPAN = 45.0  # a map reaches this far in a* and b* at least
MARGIN = 1.15


def shelf_gamut(shelf: ShelfModel, dyes: Sequence[str] | None = None, deepest_owf: float = DEEPEST_OWF) -> Gamut:
    """Return what some dyes of a shelf (all where None) reach; the last ones are kept.

    Raises:
        InputError: no dye, or one that is not on the shelf.
    """
    names = None if dyes is None else tuple(dyes)
    return _kept(_Asked((id(shelf), names, deepest_owf), shelf))


@dataclass(frozen=True)
class _Asked:
    """What a gamut depends on. It holds the shelf, so that no other comes to have the same address."""

    key: tuple[int, tuple[str, ...] | None, float]
    shelf: ShelfModel = field(compare=False)


@lru_cache(maxsize=32)
def _kept(asked: _Asked) -> Gamut:
    _, names, deepest_owf = asked.key
    return gamut_of(asked.shelf, load_observer_tables(), dyes=names, deepest_owf=deepest_owf)


def mix_map(shelf: ShelfModel, dyes: Sequence[str], target_lab: Lab, mix_lab: Lab) -> str:
    """Return a small map, at the target's lightness, of what the chosen dyes reach, with the target and the mix on it.

    Raises:
        InputError: no dye, or one that is not on the shelf.
    """
    marks = [
        Mark(target_lab[1], target_lab[2], shown_hex(target_lab), "wanted", MarkShape.RING),
        Mark(mix_lab[1], mix_lab[2], shown_hex(mix_lab), "this mix", MarkShape.SQUARE),
    ]
    return lightness_map(shelf_gamut(shelf, dyes), target_lab[0], marks, width_px=SMALL_PX)


def lightness_map(gamut: Gamut, lightness: float, marks: Sequence[Mark], *, width_px: int = LARGE_PX) -> str:
    """Return the map of what is reached at one lightness: redder to the right, yellower upwards."""
    outlines = outlines_at(gamut, lightness)
    ends = [value for mark in marks for value in (mark.x, mark.y)]
    ends += [value for outline in outlines for value in outline.ravel().tolist()]
    span = MARGIN * max([LEAST_SPAN, *(abs(value) for value in ends)])
    reached = "nothing" if not outlines else "the painted area" if gamut.is_solid else "the painted line"
    return colour_map(
        [_points(outline) for outline in outlines] if gamut.is_solid else [],
        _cells(outlines, lambda ab: _at_lightness(lightness, ab)) if gamut.is_solid else [],
        [] if gamut.is_solid else _strokes(outlines, lambda ab: _at_lightness(lightness, ab)),
        marks,
        Axis(-span, span, "greener", "redder", (0.0,)),
        Axis(-span, span, "bluer", "yellower", (0.0,)),
        width_px=width_px,
        height_px=width_px,
        words=f"Colours of lightness {lightness:.0f}: {reached} is reached by {_names(gamut)} on {gamut.base}",
    )


def hue_map(gamut: Gamut, hue_rad: float, marks: Sequence[Mark], *, width_px: int = LARGE_PX) -> str:
    """Return the map of what is reached of one hue: more vivid to the right, lighter upwards."""
    outline, lines = _hue_outline(gamut, hue_rad), hue_lines(gamut, hue_rad)
    span = MARGIN * max([LEAST_SPAN, *(mark.x for mark in marks), most_chroma(gamut, hue_rad)])
    way = np.array([np.cos(hue_rad), np.sin(hue_rad)])

    def labs_of(plane: Array) -> Array:
        return np.concatenate([plane[:, 1:], plane[:, :1] * way], axis=1)

    loops = [outline] if outline else []
    reached = "the painted area" if outline else "the painted line" if len(lines) else "nothing"
    return colour_map(
        loops,
        _cells([np.array(loop) for loop in loops], labs_of),
        _strokes(list(lines), labs_of),
        marks,
        Axis(0, span, "grey", "more vivid"),
        Axis(0, 100, "dark", "light"),
        width_px=width_px,
        height_px=width_px,
        words=f"Colours of one hue: {reached} is reached by {_names(gamut)} on {gamut.base}",
    )


def most_chroma(gamut: Gamut, hue_rad: float) -> float:
    """Return the most chroma on the map of one hue; 0 where the map is empty."""
    points = _hue_outline(gamut, hue_rad) if gamut.is_solid else _points(hue_lines(gamut, hue_rad).reshape(-1, 2))
    return max((chroma for chroma, _ in points), default=0.0)


def _hue_outline(gamut: Gamut, hue_rad: float) -> list[tuple[float, float]]:
    """Return the outline (chroma, lightness) of one hue: down its most vivid side and up its greyest."""
    if not gamut.is_solid:
        return []
    bottom, top = gamut.lightness_range
    levels: list[float] = np.linspace(top, bottom, HUE_LEVELS).tolist()
    spans = [(chroma_range(gamut, lightness, hue_rad), lightness) for lightness in levels]
    known = [(span, lightness) for span, lightness in spans if span is not None]
    return [(span[1], lightness) for span, lightness in known] + [
        (span[0], lightness) for span, lightness in known[::-1]
    ]


def _names(gamut: Gamut) -> str:
    return ", ".join(gamut.dyes) if len(gamut.dyes) <= 4 else f"these {len(gamut.dyes)} dyes"


def _points(outline: Array) -> list[tuple[float, float]]:
    return [(float(a), float(b)) for a, b in outline]


def _cells(outlines: Sequence[Array], labs_of: Callable[[Array], Array]) -> list[Cell]:
    """Return square patches that cover the outlines, in the colours that a screen gives them."""
    if not outlines:
        return []
    every = np.concatenate(list(outlines))
    low, high = every.min(axis=0), every.max(axis=0)
    size = float((high - low).max()) / PATCHES
    across, up = (np.arange(low[axis], high[axis], size) for axis in (0, 1))
    corners = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    colours = _hexes(labs_of(corners + size / 2))
    return [Cell(x, y, size, colour) for (x, y), colour in zip(corners.tolist(), colours, strict=True)]


def _strokes(outlines: Sequence[Array], labs_of: Callable[[Array], Array]) -> list[Stroke]:
    """Return a line in pieces of their own colours; a single dye's point is a piece without length."""
    found = []
    for line in outlines:
        ends = line if len(line) > 1 else np.concatenate([line, line])
        colours = _hexes(labs_of((ends[:-1] + ends[1:]) / 2))
        points = _points(ends)
        found += [Stroke(pair, colour) for pair, colour in zip(pairwise(points), colours, strict=True)]
    return found


def _at_lightness(lightness: float, ab: Array) -> Array:
    return np.concatenate([np.full((len(ab), 1), lightness), ab], axis=1)


def _hexes(labs: Array) -> list[str]:
    rgb, _ = display_rgb(labs, load_observer_tables().whites["D65", 10])
    return ["#" + "".join(f"{round(255 * part):02x}" for part in colour) for colour in rgb.tolist()]
