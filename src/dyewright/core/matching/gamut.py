"""What a shelf reaches on a base: the colours of all its mixes, as outlines at each lightness.

The method is our own. Two dyes in every proportion, from none to their deepest, are followed from the undyed yarn
downwards; where such a row of mixes crosses a lightness it draws a line in a*b*. Three of these lines, of the three
pairs of three dyes, close a loop, and since a mix varies steadily with its depths, every colour that the loop winds
round is a mix of the three. The outline is the outermost line in each direction from the middle. A dye too pale to
reach a lightness by itself leaves a gap between the lines that end on it; that gap, mixes with as much of it as is
allowed, is closed straight. With two dyes there is a sheet of colours, with one a line: nothing is inside.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import delta_e00, din99o_from_lab
from dyewright.core.matching.limits import DEEPEST_OWF
from dyewright.core.mixing import ShelfModel, build_up, lab_of_built_up
from dyewright.core.model import ObserverTables
from dyewright.errors import InputError

__all__ = ["Gamut", "chroma_range", "gamut_of", "is_inside", "outline_at", "outside_de00"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Pairs = list[tuple[int, int]]

LEVELS = 32  # lightnesses between the darkest mix and the undyed yarn
DENSER = 1.7  # power that crowds them under the undyed yarn, where a little dye adds most chroma
DIRECTIONS, MOST_DIRECTIONS = 120, 480  # of an outline: the more, the fewer dyes there are, which leave sharp corners
SHARES = np.array([0, 0.003, 0.015, 0.05, 0.12, 0.3, 0.6, 1])  # of the lesser dye, each part of its deepest
SHEET_SHARES = np.concatenate([[0], np.geomspace(0.003, 1, 16)])  # where one pair is all there is
FEW_PAIRS = 6  # of up to four dyes, which can be followed more closely in the same time
STEPS, FEW_STEPS = 14, 36  # along a row of mixes in one proportion
ROUGH_SHARES, ROUGH_STEPS, ROUGH_LEVELS = np.array([0, 0.05, 1]), 7, 9
FIRST_SHARE = 1 / 800  # of the deepest: the palest step
MANY_DYES = 14  # the most that are looked at finely; of a larger shelf those that make most of the outlines
SEEN = 30  # rows and columns of a surface that are looked at for the nearest place
FINE = 9  # parts into which a patch of the surface is divided to measure a distance


@dataclass(frozen=True)
class Gamut:
    """The colours (Lab, D65, 10°) that some dyes reach over a base.

    At each `lightness` (m,), falling from the undyed yarn's, the outline lies at `reach` (m, k) round `centre_ab`
    (m, 2), in k directions over the full turn. `surface` (rows, columns, 3) holds colours on the edge of what is
    reached: outlines one below the other, or for two dyes and fewer rows of mixes in one proportion. `is_solid` says
    whether there is an inside: three dyes make one.
    """

    dyes: tuple[str, ...]
    base: str
    base_lab: Array
    deepest_owf: float
    lightness: Array
    centre_ab: Array
    reach: Array
    surface: Array
    is_solid: bool


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
    caps = build_up(shelf, np.full(len(shelf.dyes), deepest_owf))
    if len(places) > MANY_DYES:
        places = _needed(shelf, tables, caps, places)
    pairs = list(combinations(places, 2)) or [(places[0], places[0])]
    shares = SHEET_SHARES if len(pairs) == 1 else SHARES
    rows = _rows(shelf, tables, caps, pairs, shares, FEW_STEPS if len(pairs) <= FEW_PAIRS else STEPS)
    names = tuple(shelf.dyes) if dyes is None else tuple(dyes)
    if len(places) < 3:
        surface = rows.reshape(-1, *rows.shape[2:])
        blank, levels = np.zeros((0, DIRECTIONS)), np.zeros(0)
        return Gamut(names, shelf.base, rows[0, 0, 0], deepest_owf, levels, blank[:, :2], blank, surface, False)
    return _solid(names, shelf.base, deepest_owf, _Lines(tuple(pairs), rows, _dark_rows(shelf, tables, caps, pairs)))


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


def _rows(shelf: ShelfModel, tables: ObserverTables, caps: Array, pairs: Pairs, shares: Array, steps: int) -> Array:
    """Return the Lab (pairs, proportions, steps, 3) of mixes from the undyed yarn to both dyes at their deepest.

    The proportions run from the first dye alone to the second alone. A dye that has come to its deepest stays there
    while the other goes on, so that the whole of what the two allow is covered.
    """
    proportions = np.concatenate(
        [np.stack([np.ones_like(shares), shares]), np.stack([shares, np.ones_like(shares)])[:, -2::-1]], axis=1
    )
    least = np.where(proportions.min(axis=0) > 0, proportions.min(axis=0), 1)
    rising = FIRST_SHARE ** np.linspace(1, 0, steps)[None].repeat(len(least), axis=0)
    along = np.concatenate([rising, (1 / least)[:, None] ** np.linspace(0, 1, steps // 2 + 1)[1:]], axis=1)
    filled = np.minimum(proportions[:, :, None] * along, 1)  # (2, proportions, steps), each a share of the deepest
    filled = np.concatenate([np.zeros((*filled.shape[:2], 1)), filled], axis=2)
    built = np.zeros((len(pairs), *filled.shape[1:], len(shelf.dyes)))
    for number, (one, two) in enumerate(pairs):
        built[number, ..., one] = caps[one] * filled[0]
        if two != one:
            built[number, ..., two] = caps[two] * filled[1]
    return lab_of_built_up(shelf, built, tables)


def _crossings(rows: Array, lightness: Array) -> Array:
    """Return the a*b* (..., m, 2) where rows of mixes (..., steps, 3) fall through each lightness (m,); else nan."""
    above = rows[..., None, :, 0] >= lightness[:, None]
    before = np.clip(above.sum(axis=-1) - 1, 0, rows.shape[-2] - 2)
    one = np.take_along_axis(rows, before[..., None], axis=-2)
    two = np.take_along_axis(rows, before[..., None] + 1, axis=-2)
    share = (one[..., 0] - lightness) / np.maximum(one[..., 0] - two[..., 0], 1e-9)
    is_crossed = (share >= 0) & (share <= 1)
    ab = one[..., 1:] + share[..., None] * (two[..., 1:] - one[..., 1:])
    answer: Array = np.where(is_crossed[..., None], ab, np.nan)
    return answer


@dataclass(frozen=True)
class _Lines:
    """The rows of mixes of each pair (p, proportions, steps, 3), and beyond its deepest (p, third dyes, steps, 3)."""

    pairs: tuple[tuple[int, int], ...]
    rows: Array
    dark: Array


def _dark_rows(shelf: ShelfModel, tables: ObserverTables, caps: Array, pairs: Pairs) -> Array:
    """Return the Lab (pairs, third dyes, steps, 3) of each pair at its deepest with more and more of a third dye."""
    dyes = sorted({dye for pair in pairs for dye in pair})
    steps = np.concatenate([[0], FIRST_SHARE ** np.linspace(1, 0, STEPS)])
    built = np.zeros((len(pairs), len(dyes) - 2, len(steps), len(caps)))
    for number, pair in enumerate(pairs):
        built[number, ..., pair] = caps[list(pair)][:, None, None]
        for place, third in enumerate(dye for dye in dyes if dye not in pair):
            built[number, place, :, third] = caps[third] * steps
    return lab_of_built_up(shelf, built, tables)


def _solid(names: tuple[str, ...], base: str, deepest_owf: float, lines: _Lines) -> Gamut:
    base_lab = lines.rows[0, 0, 0]
    darkest = float(lines.dark[..., 0].min())
    lightness = base_lab[0] - (base_lab[0] - darkest) * np.linspace(0, 1, LEVELS + 1)[:-1] ** DENSER
    points = np.moveaxis(_crossings(lines.rows, lightness), 2, 0)  # (m, pairs, proportions, 2)
    beyond = np.moveaxis(_crossings(lines.dark, lightness), 2, 0)
    way = _directions(max(DIRECTIONS, MOST_DIRECTIONS * FEW_PAIRS // max(len(lines.pairs), FEW_PAIRS)))
    centre_ab, reach = np.tile(base_lab[1:], (LEVELS, 1)), np.zeros((LEVELS, len(way)))
    for level in range(1, LEVELS):
        start, end = _drawn(lines.pairs, points[level], beyond[level])
        centre_ab[level] = _middle(start)
        reach[level], _ = _outermost(start, end, centre_ab[level], way)
    edge = centre_ab[:, None] + reach[..., None] * way
    surface = np.concatenate([np.broadcast_to(lightness[:, None, None], (*reach.shape, 1)), edge], axis=-1)
    closed = np.concatenate([surface, surface[:, :1]], axis=1)
    return Gamut(names, base, base_lab, deepest_owf, lightness, centre_ab, reach, closed, True)


def _directions(count: int) -> Array:
    angle = np.arange(count) * 2 * np.pi / count
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _middle(points: Array) -> Array:
    """Return the mean (2,) of the outermost of points (pairs, proportions, 2) in each direction: always inside them."""
    flat = points.reshape(-1, 2)
    flat = flat[np.isfinite(flat[:, 0])]
    answer: Array = flat[(flat @ _directions(DIRECTIONS).T).argmax(axis=0)].mean(axis=0)
    return answer


def _drawn(pairs: Sequence[tuple[int, int]], points: Array, beyond: Array) -> tuple[Array, Array]:
    """Return both ends (k, 2) of the lines that the pairs draw at one lightness, and of those that close gaps."""
    starts, ends = [points[:, :-1].reshape(-1, 2)], [points[:, 1:].reshape(-1, 2)]
    stops: dict[int, list[Array]] = {}
    for (one, two), line, darker in zip(pairs, points, beyond, strict=True):
        for dye, alone, beside in ((one, line[0], line[1]), (two, line[-1], line[-2])):
            if np.isnan(alone[0]):
                stops.setdefault(dye, []).extend([beside, *darker])
    for gathered in stops.values():
        ring = _round(np.array(gathered))
        starts.append(ring)
        ends.append(np.roll(ring, -1, axis=0))
    start, end = np.concatenate(starts), np.concatenate(ends)
    is_whole = np.isfinite(start[:, 0]) & np.isfinite(end[:, 0])
    return start[is_whole], end[is_whole]


def _round(points: Array) -> Array:
    """Return those of points (k, 2) that are known, in their order round their mean."""
    known = points[np.isfinite(points[:, 0])]
    off = known - known.mean(axis=0) if len(known) else known
    return known[np.argsort(np.arctan2(off[:, 1], off[:, 0]))]


def _outermost(start: Array, end: Array, centre: Array, way: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return how far the outermost line lies from the centre in each direction (k, 2), and which line that is.

    A direction in which no line lies takes the mean of its neighbours, and -1 for the line.
    """
    one, two = start - centre, end - centre
    side_one, side_two = _across(way, one), _across(way, two)
    is_met = side_one * side_two <= 0
    share = side_one / np.where(side_one == side_two, 1, side_one - side_two)
    far = np.where(is_met, way @ one.T * (1 - share) + way @ two.T * share, -1.0)
    line = far.argmax(axis=1)
    place = np.arange(len(way))
    reach = far[place, line]
    known = reach >= 0
    return np.interp(place, place[known], reach[known], period=len(way)), np.where(known, line, -1)


def _across(way: Array, points: Array) -> Array:
    """Return how far points (k, 2) lie to the left of each direction (n, 2)."""
    answer: Array = way[:, :1] * points[:, 1] - way[:, 1:] * points[:, 0]
    return answer


def _needed(shelf: ShelfModel, tables: ObserverTables, caps: Array, places: list[int]) -> list[int]:
    """Return the dyes that make the most of an outline, by a rough look at the lines of all pairs."""
    pairs = list(combinations(places, 2))
    rows = _rows(shelf, tables, caps, pairs, ROUGH_SHARES, ROUGH_STEPS)
    lightness = np.linspace(rows[0, 0, 0, 0], rows[..., 0].min(), ROUGH_LEVELS + 2)[1:-1]
    points = np.moveaxis(_crossings(rows, lightness), 2, 0)
    won = np.zeros(len(shelf.dyes))
    for level in points:
        start, end = level[:, :-1].reshape(-1, 2), level[:, 1:].reshape(-1, 2)
        is_whole = np.isfinite(start[:, 0]) & np.isfinite(end[:, 0])
        _, line = _outermost(start[is_whole], end[is_whole], _middle(level), _directions(DIRECTIONS))
        pair = np.repeat(np.arange(len(pairs)), level.shape[1] - 1)[is_whole][line[line >= 0]]
        np.add.at(won, np.array(pairs)[pair], 1)
    won[np.array(pairs)[rows[:, :, -1, 0].min(axis=1).argmin()]] += np.inf  # the darkest two
    first = np.argsort(-won, kind="stable")[:MANY_DYES]
    return sorted(first[won[first] > 0].tolist())


def is_inside(gamut: Gamut, lab: ArrayLike) -> Flags:
    """Return whether colours (..., 3) lie inside the outline at their lightness."""
    lab = np.asarray(lab, float)
    if not gamut.is_solid:
        return np.zeros(lab.shape[:-1], bool)
    centre, reach = _level(gamut, lab[..., 0])
    off = lab[..., 1:] - centre
    count = gamut.reach.shape[1]
    wide = 2 * np.pi / count
    turn = np.arctan2(off[..., 1], off[..., 0]) % (2 * np.pi) / wide
    first = turn.astype(int) % count
    one = np.take_along_axis(reach, first[..., None], axis=-1)[..., 0]
    two = np.take_along_axis(reach, (first[..., None] + 1) % count, axis=-1)[..., 0]
    # The straight line between two neighbours of an outline, seen from the centre.
    part = (turn - np.floor(turn)) * wide
    chord = one * two * np.sin(wide) / np.maximum(one * np.sin(part) + two * np.sin(wide - part), 1e-12)
    in_range = (lab[..., 0] <= gamut.lightness[0]) & (lab[..., 0] >= gamut.lightness[-1])
    answer: Flags = in_range & (np.hypot(off[..., 0], off[..., 1]) <= chord)
    return answer


def _level(gamut: Gamut, lightness: Array) -> tuple[Array, Array]:
    """Return the centre (..., 2) and the reach (..., k) at lightnesses between those that were computed."""
    place = np.interp(lightness, gamut.lightness[::-1], np.arange(len(gamut.lightness))[::-1])
    first = np.minimum(place.astype(int), len(gamut.lightness) - 2)
    share = (place - first)[..., None]
    return (
        gamut.centre_ab[first] * (1 - share) + gamut.centre_ab[first + 1] * share,
        gamut.reach[first] * (1 - share) + gamut.reach[first + 1] * share,
    )


def outline_at(gamut: Gamut, lightness: float) -> Array:
    """Return the outline (k, 2) in a*b* at a lightness: closed for three dyes and more, a line for two, none beyond."""
    if not gamut.is_solid:
        line = _crossings(gamut.surface, np.array([lightness]))[:, 0]
        return line[np.isfinite(line[:, 0])]
    if not gamut.lightness[-1] <= lightness <= gamut.lightness[0]:
        return np.zeros((0, 2))
    centre, reach = _level(gamut, np.asarray(lightness, float))
    edge: Array = centre + reach[:, None] * _directions(len(reach))
    return edge


def chroma_range(gamut: Gamut, lightness: float, hue_rad: float) -> tuple[float, float] | None:
    """Return the least and the most chroma of a hue at a lightness; None where the hue is not reached there."""
    outline = outline_at(gamut, lightness)
    if len(outline) < 2:
        return None
    way = np.array([np.cos(hue_rad), np.sin(hue_rad)])
    one, two = (outline, np.roll(outline, -1, axis=0)) if gamut.is_solid else (outline[:-1], outline[1:])
    side_one, side_two = (way[0] * end[:, 1] - way[1] * end[:, 0] for end in (one, two))
    is_met = (side_one * side_two <= 0) & (side_one != side_two)
    share = side_one[is_met] / (side_one - side_two)[is_met]
    chroma = (one[is_met] @ way) * (1 - share) + (two[is_met] @ way) * share
    ahead = chroma[chroma >= 0]
    if not ahead.size:
        return None
    is_grey_inside = gamut.is_solid and bool(is_inside(gamut, np.array([lightness, 0.0, 0.0])))
    return (0.0 if is_grey_inside or ahead.size == 1 else float(ahead.min())), float(ahead.max())


def outside_de00(gamut: Gamut, lab: ArrayLike) -> Array:
    """Return how far colours (..., 3) lie from the nearest one that is reached, in ΔE00; 0 inside.

    Two places of the surface are looked at finely: the nearest in DIN99o, which is right for near colours, and the
    nearest in ΔE00 among a few hundred.
    """
    lab = np.asarray(lab, float)
    answer = np.zeros(lab.shape[:-1])
    is_outside = ~is_inside(gamut, lab)
    if is_outside.any():
        answer[is_outside] = _distance(gamut.surface, lab[is_outside], is_closed=gamut.is_solid)
    return answer


def _distance(surface: Array, lab: Array, *, is_closed: bool) -> Array:
    """Return the least ΔE00 (n,) from colours (n, 3) to a surface."""
    from scipy.spatial import cKDTree

    rows, columns = surface.shape[:2]
    _, near = cKDTree(din99o_from_lab(surface.reshape(-1, 3))).query(din99o_from_lab(lab))
    down, right = max(1, rows // SEEN), max(1, columns // SEEN)
    seen = surface[::down, ::right]
    row, column = np.divmod(delta_e00(lab[:, None], seen.reshape(-1, 3)).argmin(axis=1), seen.shape[1])
    best = np.full(len(lab), np.inf)
    for place in (near, row * down * columns + column * right):
        row, column = np.divmod(place, columns)
        for below, beside in ((-1, -1), (-1, 0), (0, -1), (0, 0)):
            top = np.clip(row + below, 0, max(rows - 2, 0))
            left = (column + beside) % (columns - 1) if is_closed else np.clip(column + beside, 0, columns - 2)
            best = np.minimum(best, delta_e00(lab[:, None], _patches(surface, top, left)).min(axis=1))
    return best


def _patches(surface: Array, top: NDArray[np.intp], left: NDArray[np.intp]) -> Array:
    """Return colours (n, 81, 3) spread over a patch of the surface each, by its four corners."""
    part = np.linspace(0, 1, FINE)
    below = np.minimum(top + 1, len(surface) - 1)
    down = (1 - part)[:, None] * surface[top, left][:, None] + part[:, None] * surface[below, left][:, None]
    other = (1 - part)[:, None] * surface[top, left + 1][:, None] + part[:, None] * surface[below, left + 1][:, None]
    grid = down[:, :, None] * (1 - part)[:, None] + other[:, :, None] * part[:, None]
    return grid.reshape(len(top), -1, 3)
