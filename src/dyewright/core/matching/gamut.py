"""What a shelf reaches on a base: the colours of all its mixes, as outlines at each lightness.

The method is our own; see `mix_lines` for how the outlines come about. Up to five dyes are taken three at a time, each
three exact; a larger shelf by the outermost line in each direction. With two dyes there is a sheet of colours, with one
a line: nothing is inside.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import delta_e00, din99o_from_lab
from dyewright.core.matching.limits import DEEPEST_OWF
from dyewright.core.matching.mix_lines import (
    FEW_STEPS,
    SHEET_SHARES,
    Shell,
    crossings,
    hull_shell,
    needed_dyes,
    pair_rows,
    triple_shell,
)
from dyewright.core.mixing import ShelfModel, build_up
from dyewright.core.model import ObserverTables
from dyewright.errors import InputError

__all__ = ["Gamut", "chroma_range", "gamut_of", "hue_lines", "is_inside", "most_vivid", "outlines_at", "outside_de00"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

BY_THREES = 5  # dyes up to which every three of them are followed
MANY_DYES = 14  # the most that are looked at finely; of a larger shelf those that make most of the outlines
SEEN = 16  # rows and columns of a surface that are looked at for the nearest place
FORE, AFT = slice(None, -1), slice(1, None)
FINE = 6  # places along each side of a patch of the surface that a distance is measured to


@dataclass(frozen=True)
class Gamut:
    """The colours (Lab, D65, 10°) that some dyes reach over a base, each from none to `deepest_owf`.

    `shells` enclose what three dyes and more reach, together; fewer enclose nothing, and `sheet` (proportions, steps,
    3) holds their colours.
    """

    dyes: tuple[str, ...]
    base: str
    base_lab: Array
    deepest_owf: float
    shells: tuple[Shell, ...]
    sheet: Array | None = None

    @property
    def is_solid(self) -> bool:
        """Whether there is an inside."""
        return bool(self.shells)

    @property
    def lightness_range(self) -> tuple[float, float]:
        """The least and the most L* that is reached."""
        levels = [surface[..., 0] for surface in _surfaces(self)]
        return min(float(level.min()) for level in levels), max(float(level.max()) for level in levels)


def gamut_of(
    shelf: ShelfModel,
    tables: ObserverTables,
    *,
    dyes: Sequence[str] | None = None,
    deepest_owf: float = DEEPEST_OWF,
) -> Gamut:
    """Return what some dyes of a shelf (all where None) reach over its base, each from none to its deepest.

    Raises:
        InputError: no dye, or one that is not on the shelf.
    """
    places = _places(shelf, dyes)
    names = tuple(shelf.dyes[place] for place in places)
    caps = build_up(shelf, np.full(len(shelf.dyes), deepest_owf))
    if len(places) < 3:
        pair = (places[0], places[-1])
        sheet = pair_rows(shelf, tables, caps, [pair], SHEET_SHARES, FEW_STEPS)[0]
        return Gamut(names, shelf.base, sheet[0, 0], deepest_owf, (), sheet)
    if len(places) <= BY_THREES:
        shells = tuple(triple_shell(shelf, tables, caps, three) for three in combinations(places, 3))
    else:
        if len(places) > MANY_DYES:
            places = needed_dyes(shelf, tables, caps, places, MANY_DYES)
        shells = (hull_shell(shelf, tables, caps, places),)
    base_lab = np.array([shells[0].lightness[0], *shells[0].edge_ab[0, 0]])
    return Gamut(names, shelf.base, base_lab, deepest_owf, shells)


def _places(shelf: ShelfModel, dyes: Sequence[str] | None) -> list[int]:
    names = shelf.dyes if dyes is None else tuple(dict.fromkeys(dyes))
    for name in names:
        if name not in shelf.dyes:
            raise InputError(
                f"dye {name!r} has no swatch on this shelf; it knows {', '.join(shelf.dyes)}", field="dyes", value=name
            )
    if not names:
        raise InputError("name at least one dye to see what it reaches", field="dyes")
    return [shelf.dyes.index(name) for name in names]


def is_inside(gamut: Gamut, lab: ArrayLike) -> Flags:
    """Return whether colours (..., 3) lie inside what is reached at their lightness."""
    lab = np.asarray(lab, float)
    answer = np.zeros(lab.shape[:-1], bool)
    for shell in gamut.shells:
        in_range = (lab[..., 0] <= shell.lightness[0]) & (lab[..., 0] >= shell.lightness[-1])
        answer |= in_range & _is_wound_round(_edge(shell, lab[..., 0]), lab[..., 1:])
    return answer


def _edge(shell: Shell, lightness: Array) -> Array:
    """Return the loops (..., k, 2) at lightnesses between those that were computed."""
    levels = len(shell.lightness)
    place = np.interp(lightness, shell.lightness[::-1], np.arange(levels)[::-1])
    first = np.minimum(place.astype(int), levels - 2)
    share = (place - first)[..., None, None]
    answer: Array = shell.edge_ab[first] * (1 - share) + shell.edge_ab[first + 1] * share
    return answer


def _is_wound_round(loop: Array, points: Array) -> Flags:
    """Return whether loops (..., k, 2) wind round their points (..., 2), by the lines that pass right of each."""
    one = loop - points[..., None, :]
    two = np.roll(one, -1, axis=-2)
    side = one[..., 0] * two[..., 1] - two[..., 0] * one[..., 1]
    rising = (one[..., 1] <= 0) & (two[..., 1] > 0) & (side > 0)
    falling = (one[..., 1] > 0) & (two[..., 1] <= 0) & (side < 0)
    answer: Flags = rising.sum(axis=-1) != falling.sum(axis=-1)
    return answer


def outlines_at(gamut: Gamut, lightness: float) -> tuple[Array, ...]:
    """Return what is reached at a lightness in a*b*: closed loops (k, 2) that overlap, or for two dyes one line."""
    if gamut.sheet is not None:
        line = crossings(gamut.sheet, np.array([lightness]))[:, 0]
        line = line[np.isfinite(line[:, 0])]
        return (line,) if len(line) else ()
    return tuple(
        _edge(shell, np.asarray(lightness, float))
        for shell in gamut.shells
        if shell.lightness[-1] <= lightness <= shell.lightness[0]
    )


def chroma_range(gamut: Gamut, lightness: float, hue_rad: float) -> tuple[float, float] | None:
    """Return the least and the most chroma of a hue at a lightness; None where the hue is not reached there."""
    way = np.array([np.cos(hue_rad), np.sin(hue_rad)])
    ahead = [0.0] if is_inside(gamut, np.array([lightness, 0.0, 0.0])) else []
    for outline in outlines_at(gamut, lightness):
        one, two = (outline, np.roll(outline, -1, axis=0)) if gamut.is_solid else (outline[:-1], outline[1:])
        side_one, side_two = (way[0] * end[:, 1] - way[1] * end[:, 0] for end in (one, two))
        is_met = (side_one * side_two <= 0) & (side_one != side_two)
        share = side_one[is_met] / (side_one - side_two)[is_met]
        chroma = (one[is_met] @ way) * (1 - share) + (two[is_met] @ way) * share
        ahead += chroma[chroma > 0].tolist()
    return (min(ahead), max(ahead)) if ahead and max(ahead) > 0 else None


def hue_lines(gamut: Gamut, hue_rad: float) -> Array:
    """Return what two dyes reach of a hue: pieces (n, 2, 2) of lines, each from one (chroma, L*) to another.

    The sheet is cut triangle by triangle, between the colours it was computed at; a solid has no such lines.
    """
    if gamut.sheet is None:
        return np.empty((0, 2, 2))
    sheet = gamut.sheet[:, : FEW_STEPS + 1]  # what follows runs along its edge, where one dye is at its deepest
    corner, right, below, across = (sheet[rows, columns] for rows in (FORE, AFT) for columns in (FORE, AFT))
    triangles = np.concatenate(
        [np.stack(three, axis=-2) for three in ((corner, right, across), (corner, below, across))]
    )
    one, two = triangles.reshape(-1, 3, 3), np.roll(triangles.reshape(-1, 3, 3), -1, axis=1)
    cos, sin = np.cos(hue_rad), np.sin(hue_rad)
    side_one, side_two = (cos * end[..., 2] - sin * end[..., 1] for end in (one, two))
    is_met = (side_one < 0) != (side_two < 0)
    is_cut = is_met.sum(axis=1) == 2
    share = (side_one / np.where(is_met, side_one - side_two, 1.0))[..., None]
    met = (one + share * (two - one))[is_cut][is_met[is_cut]].reshape(-1, 2, 3)
    pieces = np.stack([cos * met[..., 1] + sin * met[..., 2], met[..., 0]], axis=-1)
    answer: Array = pieces[(pieces[..., 0] > 0).all(axis=1)]
    return answer


def most_vivid(gamut: Gamut) -> Array:
    """Return the colour (Lab) of the most chroma that is reached."""
    colours = np.concatenate([surface.reshape(-1, 3) for surface in _surfaces(gamut)])
    answer: Array = colours[np.hypot(colours[:, 1], colours[:, 2]).argmax()]
    return answer


def outside_de00(gamut: Gamut, lab: ArrayLike) -> Array:
    """Return how far colours (..., 3) lie from the nearest one that is reached, in ΔE00; 0 inside.

    Two places of each surface are looked at finely: the nearest in DIN99o, which is right for near colours, and the
    nearest in ΔE00 among a few hundred. Right to 1 up to about 8; farther off, up to half as much again may be told.
    """
    lab = np.asarray(lab, float)
    answer = np.zeros(lab.shape[:-1])
    is_outside = ~is_inside(gamut, lab)
    if is_outside.any():
        answer[is_outside] = np.min([_distance(surface, lab[is_outside]) for surface in _surfaces(gamut)], axis=0)
    return answer


def _surfaces(gamut: Gamut) -> list[Array]:
    """Return colours (rows, columns, 3) all over the edge of what is reached."""
    if gamut.sheet is not None:
        return [gamut.sheet]
    closed = [(shell, np.concatenate([shell.edge_ab, shell.edge_ab[:, :1]], axis=1)) for shell in gamut.shells]
    return [
        np.concatenate([np.broadcast_to(shell.lightness[:, None, None], (*edge.shape[:2], 1)), edge], axis=-1)
        for shell, edge in closed
    ]


def _distance(surface: Array, lab: Array) -> Array:
    """Return the least ΔE00 (n,) from colours (n, 3) to a surface."""
    from scipy.spatial import cKDTree

    rows, columns = surface.shape[:2]
    _, near = cKDTree(din99o_from_lab(surface.reshape(-1, 3))).query(din99o_from_lab(lab))
    best = np.full(len(lab), np.inf)
    for row, column in (np.divmod(near, columns), _nearest_seen(surface, lab)):
        for above, left in ((0, 0), (0, 1), (1, 0), (1, 1)):
            top, side = np.clip(row - above, 0, rows - 2), (column - left) % (columns - 1)
            best = np.minimum(best, delta_e00(lab[:, None], _patches(surface, top, side)).min(axis=1))
    return best


def _nearest_seen(surface: Array, lab: Array) -> tuple[Places, Places]:
    """Return row and column (n,) of the nearest place of a surface in ΔE00: of some all over it, then round that."""
    rows, columns = surface.shape[:2]
    down, right = max(1, rows // SEEN), max(1, columns // SEEN)
    seen = surface[::down, ::right]
    row, column = np.divmod(delta_e00(lab[:, None], seen.reshape(-1, 3)).argmin(axis=1), seen.shape[1])
    by_row, by_column = (part.ravel() for part in np.mgrid[-down : down + 1, -right : right + 1])
    near_row = np.clip((row * down)[:, None] + by_row, 0, rows - 1)
    near_column = ((column * right)[:, None] + by_column) % columns
    first = delta_e00(lab[:, None], surface[near_row, near_column]).argmin(axis=1)[:, None]
    return np.take_along_axis(near_row, first, axis=1)[:, 0], np.take_along_axis(near_column, first, axis=1)[:, 0]


def _patches(surface: Array, top: Places, left: Places) -> Array:
    """Return colours (n, 36, 3) spread over a patch of the surface each, by its four corners."""
    part = np.linspace(0, 1, FINE)[:, None]
    upper = (1 - part) * surface[top, left][:, None] + part * surface[top, left + 1][:, None]
    lower = (1 - part) * surface[top + 1, left][:, None] + part * surface[top + 1, left + 1][:, None]
    grid = (1 - part[:, None]) * upper[:, None] + part[:, None] * lower[:, None]
    return grid.reshape(len(top), -1, 3)
