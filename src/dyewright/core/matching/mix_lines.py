"""The lines that mixes of two dyes draw at one lightness, and what they enclose.

Mixes of two dyes in each proportion are followed from the undyed yarn downwards. Where the rows of one pair fall
through a lightness they draw a line in a*b*. Of three dyes the three lines close a loop, and since a mix varies
steadily with its depths, every colour that the loop winds round is a mix of the three. A dye too pale to reach the
lightness by itself leaves a gap between the lines that end on it: mixes with as much of it as is allowed. Of three dyes
these are followed too; of many, the gap is closed straight.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dyewright.core.mixing import ShelfModel, lab_of_built_up
from dyewright.core.model import ObserverTables

__all__ = ["Shell", "crossings", "hull_shell", "needed_dyes", "pair_rows", "triple_shell"]

Array = NDArray[np.float64]
Pairs = Sequence[tuple[int, int]]

LEVELS = 40  # lightnesses of a shell, closer at its ends: a little dye adds most chroma, the last closes the dark end
DIRECTIONS = 240  # of a hull, 1.5° apart: a thin horn of vivid colours, seen from the middle, may be 3° wide
SHARES = np.array([0, 0.003, 0.015, 0.05, 0.12, 0.3, 0.6, 1])  # of the lesser dye, each part of its deepest
SHEET_SHARES = np.concatenate([[0], np.geomspace(0.003, 1, 16)])  # where one pair is all there is
STEPS, FEW_STEPS = 14, 36  # along a row of mixes in one proportion; and where there are few rows
ROUGH_SHARES, ROUGH_STEPS, ROUGH_LEVELS = np.array([0, 0.05, 1]), 7, 9
FIRST_SHARE = 1 / 800  # of the deepest: the palest step


@dataclass(frozen=True)
class Shell:
    """Loops in a*b*, `edge_ab` (m, k, 2), at each `lightness` (m,), falling from the undyed yarn's."""

    lightness: Array
    edge_ab: Array


def pair_rows(
    shelf: ShelfModel,
    tables: ObserverTables,
    caps: Array,
    pairs: Pairs,
    shares: Array = SHARES,
    steps: int = STEPS,
    over: Array | float = 0.0,
) -> Array:
    """Return the Lab (pairs, proportions, steps, 3) of mixes from the undyed yarn to both dyes at their deepest.

    The proportions run from the first dye alone to the second alone. A dye that has come to its deepest stays there
    while the other goes on, so that the whole of what the two allow is covered.

    Args:
        shelf: the dyes over their base.
        tables: lights and observers.
        caps: the deepest built-up depth of each dye, shape (n,).
        pairs: places of the two dyes on the shelf.
        shares: of the lesser dye in each proportion, rising from 0 to 1.
        steps: until the first dye has come to its deepest; half as many follow.
        over: built-up depths that are in every mix, shape (n,).
    """
    whole = np.ones_like(shares)
    proportions = np.stack([np.concatenate([whole, shares[-2::-1]]), np.concatenate([shares, whole[:-1]])])
    least = np.where(proportions.min(axis=0) > 0, proportions.min(axis=0), 1)
    rising = FIRST_SHARE ** np.linspace(1, 0, steps)[None].repeat(len(least), axis=0)
    along = np.concatenate([rising, (1 / least)[:, None] ** np.linspace(0, 1, steps // 2 + 1)[1:]], axis=1)
    filled = np.minimum(proportions[:, :, None] * along, 1)  # (2, proportions, steps), each a share of the deepest
    filled = np.concatenate([np.zeros((*filled.shape[:2], 1)), filled], axis=2)
    built = np.zeros((len(pairs), *filled.shape[1:], len(caps)))
    for number, (one, two) in enumerate(pairs):
        built[number, ..., one] = caps[one] * filled[0]
        if two != one:
            built[number, ..., two] = caps[two] * filled[1]
    return lab_of_built_up(shelf, built + over, tables)


def crossings(rows: Array, lightness: Array) -> Array:
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


def _third_rows(shelf: ShelfModel, tables: ObserverTables, caps: Array, pairs: Pairs) -> Array:
    """Return the Lab (pairs, third dyes, steps, 3) of each pair at its deepest with more and more of a third dye."""
    dyes = sorted({dye for pair in pairs for dye in pair})
    steps = np.concatenate([[0], FIRST_SHARE ** np.linspace(1, 0, STEPS)])
    built = np.zeros((len(pairs), len(dyes) - 2, len(steps), len(caps)))
    for number, pair in enumerate(pairs):
        built[number, ..., pair] = caps[list(pair)][:, None, None]
        for place, third in enumerate(dye for dye in dyes if dye not in pair):
            built[number, place, :, third] = caps[third] * steps
    return lab_of_built_up(shelf, built, tables)


def _levels(lightest: float, darkest: float) -> Array:
    levels: Array = lightest - (lightest - darkest) * (1 - np.cos(np.linspace(0, np.pi, LEVELS + 1)[:-1])) / 2
    return levels


def triple_shell(shelf: ShelfModel, tables: ObserverTables, caps: Array, dyes: tuple[int, int, int]) -> Shell:
    """Return the loops of three dyes: the lines of their pairs, and between them those of mixes with all of one dye.

    Going round: first to second dye, all of the second with the first giving way to the third, second to third, ...
    """
    lines = []
    for one, two, three in (dyes, (*dyes[1:], dyes[0]), (dyes[2], *dyes[:2])):
        whole = np.zeros(len(caps))
        whole[two] = caps[two]
        lines.append(pair_rows(shelf, tables, caps, [(one, two)], steps=FEW_STEPS)[0])
        lines.append(pair_rows(shelf, tables, caps, [(one, three)], steps=FEW_STEPS, over=whole)[0])
    rows = np.concatenate(lines)
    lightness = _levels(float(rows[0, 0, 0]), float(rows[..., 0].min()))
    edge = _filled(np.moveaxis(crossings(rows, lightness), 0, 1))
    edge[0] = rows[0, 0, 1:]
    return Shell(lightness, edge)


def _filled(loops: Array) -> Array:
    """Return loops (m, k, 2) with points that are missing put where the last one before them is."""
    count = loops.shape[1]
    known = np.isfinite(loops[..., 0])
    twice = np.concatenate([known, known], axis=1)
    last = np.maximum.accumulate(np.where(twice, np.arange(2 * count), -1), axis=1)[:, count:] % count
    return np.take_along_axis(loops, last[..., None], axis=1)


def hull_shell(shelf: ShelfModel, tables: ObserverTables, caps: Array, dyes: Sequence[int]) -> Shell:
    """Return the outermost line of all pairs in each direction from the middle, at each lightness.

    That what lies between counts as reached is right where dyes lie all round, as on a shelf of more than five.
    """
    pairs = list(combinations(dyes, 2))
    rows, beyond = pair_rows(shelf, tables, caps, pairs), _third_rows(shelf, tables, caps, pairs)
    base_ab = rows[0, 0, 0, 1:]
    lightness = _levels(float(rows[0, 0, 0, 0]), float(beyond[..., 0].min()))
    points = np.moveaxis(crossings(rows, lightness), 2, 0)  # (m, pairs, proportions, 2)
    thirds = np.moveaxis(crossings(beyond, lightness), 2, 0)
    way = _directions()
    edge = np.tile(base_ab, (LEVELS, DIRECTIONS, 1))
    for level in range(1, LEVELS):
        start, end = _drawn(pairs, points[level], thirds[level])
        middle = _middle(start)
        reach, _ = _outermost(start, end, middle)
        edge[level] = middle + reach[:, None] * way
    return Shell(lightness, edge)


def _directions() -> Array:
    angle = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _middle(points: Array) -> Array:
    """Return the mean (2,) of the outermost of points (..., 2) in each direction: always inside them."""
    flat = points.reshape(-1, 2)
    flat = flat[np.isfinite(flat[:, 0])]
    answer: Array = flat[(flat @ _directions().T).argmax(axis=0)].mean(axis=0)
    return answer


def _drawn(pairs: Pairs, points: Array, thirds: Array) -> tuple[Array, Array]:
    """Return both ends (k, 2) of the lines that the pairs draw at one lightness, and of those that close gaps."""
    starts, ends = [points[:, :-1].reshape(-1, 2)], [points[:, 1:].reshape(-1, 2)]
    stops: dict[int, list[Array]] = {}
    for (one, two), line, darker in zip(pairs, points, thirds, strict=True):
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


def _outermost(start: Array, end: Array, middle: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return how far the outermost line lies from the middle in each direction, and which line that is.

    A direction in which no line lies takes the mean of its neighbours, and -1 for the line.
    """
    way = _directions()
    one, two = start - middle, end - middle
    side_one, side_two = _across(way, one), _across(way, two)
    is_met = side_one * side_two <= 0
    share = side_one / np.where(side_one == side_two, 1, side_one - side_two)
    far = np.where(is_met, way @ one.T * (1 - share) + way @ two.T * share, -1.0)
    line = far.argmax(axis=1)
    place = np.arange(DIRECTIONS)
    reach = far[place, line]
    known = reach >= 0
    return np.interp(place, place[known], reach[known], period=DIRECTIONS), np.where(known, line, -1)


def _across(way: Array, points: Array) -> Array:
    """Return how far points (k, 2) lie to the left of each direction (n, 2)."""
    answer: Array = way[:, :1] * points[:, 1] - way[:, 1:] * points[:, 0]
    return answer


def needed_dyes(shelf: ShelfModel, tables: ObserverTables, caps: Array, dyes: Sequence[int], count: int) -> list[int]:
    """Return the dyes that make most of the outlines, `count` at most, by a rough look at the lines of all pairs."""
    pairs = list(combinations(dyes, 2))
    rows = pair_rows(shelf, tables, caps, pairs, ROUGH_SHARES, ROUGH_STEPS)
    lightness = np.linspace(rows[0, 0, 0, 0], rows[..., 0].min(), ROUGH_LEVELS + 2)[1:-1]
    won = np.zeros(len(shelf.dyes))
    won[np.array(pairs)[rows[:, :, -1, 0].min(axis=1).argmin()]] = np.inf  # the darkest two
    for level in np.moveaxis(crossings(rows, lightness), 2, 0):
        start, end = level[:, :-1].reshape(-1, 2), level[:, 1:].reshape(-1, 2)
        is_whole = np.isfinite(start[:, 0]) & np.isfinite(end[:, 0])
        _, line = _outermost(start[is_whole], end[is_whole], _middle(level))
        pair = np.repeat(np.arange(len(pairs)), level.shape[1] - 1)[is_whole][line[line >= 0]]
        np.add.at(won, np.array(pairs)[pair], 1)
    first = np.argsort(-won, kind="stable")[:count]
    return sorted(first[won[first] > 0].tolist())
