"""A few colours that stand for a picture: its large areas, and what the eye is drawn to.

Colours are grouped in DIN99o [1], where the straight distance follows what is seen far closer than in CIELAB, in which
a vivid colour is stretched and would take groups that the eye does not tell apart. Groups are weighted means [2],
begun by [3]. How much a place draws the eye is our own simple estimate after [4] and [5]: it differs from what lies
round it, the more so if it is vivid or its colour rare. Edges, which blend two colours, count little.

Sources: [1] DIN 6176:2001; G. Cui, M. R. Luo, B. Rigg, G. Roesler, K. Witt, Color Res. Appl. 27 (2002) 282-290.
[2] S. P. Lloyd, IEEE Trans. Inf. Theory 28 (1982) 129-137. [3] D. Arthur, S. Vassilvitskii, k-means++, Proc. 18th
ACM-SIAM SODA (2007) 1027-1035. [4] R. Achanta, S. Hemami, F. Estrada, S. Süsstrunk, Frequency-tuned salient region
detection, CVPR 2009, 1597-1604: colour against its surroundings. [5] N. D. B. Bruce, J. K. Tsotsos, J. Vision 9 (2009)
3:5: what is rare tells most. [2] to [5] from memory; only their ideas are taken.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.model import Lab
from dyewright.errors import InputError

__all__ = ["MOST_COLOURS", "PictureColour", "din99o_from_lab", "picture_palette", "weighted_means"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_COLOURS = 12
LONGEST_PX = 256  # a picture is averaged down to this before anything is counted; ours
CELL = 2.0  # colours this close in DIN99o are counted as one; about 2 ΔE00 (estimate)
APART = 3.0  # groups closer than this in DIN99o are one colour to a dyer (estimate)
DRAWN_SHARE = 0.5  # of a colour's weight that what the eye is drawn to has, beside area (estimate)
SURROUND_FRAC = 0.25  # of the longer side: what lies round a place (estimate)
EDGE = 3.0  # scatter in DIN99o within a place at which it counts half, being an edge or a texture (estimate)
PLACE_PX = 3  # side of a place in the averaged picture
STARTS, ROUNDS = 8, 40


@dataclass(frozen=True)
class PictureColour:
    """One colour of a picture, as it really lies at a place of it.

    `area_frac` is its share of the picture, `drawn_frac` its share of what the eye is drawn to (estimate); over a
    palette both add up to 1. The place is counted across from the left and down from the top.
    """

    lab: Lab
    area_frac: float
    drawn_frac: float
    x_frac: float
    y_frac: float


def din99o_from_lab(lab: ArrayLike) -> Array:
    """Return L, a, b of DIN99o [1] for Lab under D65, last axis of 3; near colours 1 apart differ by about ΔE00 1."""
    lab = np.asarray(lab, float)
    turn = np.radians(26.0)
    e = lab[..., 1] * np.cos(turn) + lab[..., 2] * np.sin(turn)
    f = 0.83 * (lab[..., 2] * np.cos(turn) - lab[..., 1] * np.sin(turn))
    chroma = np.log1p(0.075 * np.hypot(e, f)) / 0.0435
    hue = np.arctan2(f, e) + turn
    return np.stack([303.67 * np.log1p(0.0039 * lab[..., 0]), chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)


def picture_palette(
    lab: ArrayLike, count: int, rng: np.random.Generator, *, is_usable: ArrayLike | None = None
) -> tuple[PictureColour, ...]:
    """Return `count` colours of a picture, the largest area first; fewer where the picture has no more.

    Args:
        lab: the picture's pixels (rows, columns, 3), D65 and 10°; averaged in linear light before, if it was large.
        count: how many colours, 1 to MOST_COLOURS.
        rng: draws the starts; the same numbers give the same palette.
        is_usable: False for pixels that are washed out or no part of the picture, shape (rows, columns).

    Raises:
        InputError: a number of colours that cannot be, or no usable pixel.
    """
    if not 1 <= count <= MOST_COLOURS:
        raise InputError(
            f"{count} colours were asked for; a palette has 1 to {MOST_COLOURS}",
            field="count",
            value=count,
            limit=MOST_COLOURS,
        )
    pixels = np.asarray(lab, float)
    usable = np.ones(pixels.shape[:2], bool) if is_usable is None else np.asarray(is_usable, bool)
    small, seen = _averaged(pixels, usable)
    if not seen.any():
        raise InputError(
            "no part of the picture can be used: it is washed out or covered by a chart; take another photo",
            field="photo",
        )
    even = din99o_from_lab(small)
    drawn = _drawn_to(even, seen)
    area = seen / seen.sum()
    means = _grouped(even[seen], ((1 - DRAWN_SHARE) * area + DRAWN_SHARE * drawn)[seen], count, rng)
    return _described(small, even, area, drawn, means)


def _averaged(pixels: Array, usable: Flags) -> tuple[Array, Flags]:
    """Return the picture averaged over whole blocks of its usable pixels, and which blocks have any."""
    step = max(1, int(np.ceil(max(pixels.shape[:2]) / LONGEST_PX)))
    rows, columns = (max(1, size // step) for size in pixels.shape[:2])
    cut = np.s_[: rows * step, : columns * step]
    blocks = usable[cut].reshape(rows, -1, columns, min(step, usable.shape[1]))
    weight = blocks.sum(axis=(1, 3))
    total = (pixels[cut] * usable[cut][..., None]).reshape(*blocks.shape, 3).sum(axis=(1, 3))
    return total / np.maximum(weight, 1)[..., None], weight > 0


def _drawn_to(even: Array, seen: Flags) -> Array:
    """Return how much each pixel draws the eye (rows, columns), adding up to 1."""
    place, scatter = _mean_and_scatter(even, seen)
    size = max(PLACE_PX, int(SURROUND_FRAC * max(even.shape[:2])))
    stands_out = np.linalg.norm(place - _mean_and_scatter(even, seen, size)[0], axis=-1)
    parts = [
        part / max(float(part[seen].mean()), 1e-9)
        for part in (stands_out, np.hypot(place[..., 1], place[..., 2]), _rarity(even, seen))
    ]
    drawn = parts[0] * (parts[1] + parts[2]) / (1 + (scatter / EDGE) ** 2) * seen
    total = drawn.sum()
    answer: Array = drawn / total if total > 0 else seen / seen.sum()
    return answer


def _mean_and_scatter(even: Array, seen: Flags, size: int = PLACE_PX) -> tuple[Array, Array]:
    """Return the mean colour (rows, columns, 3) of the seen pixels in a square round each, and their scatter."""
    from scipy.ndimage import uniform_filter

    share = np.maximum(uniform_filter(seen.astype(float), size, mode="constant"), 1e-9)[..., None]
    mean = uniform_filter(even * seen[..., None], (size, size, 0), mode="constant") / share
    square = uniform_filter(even**2 * seen[..., None], (size, size, 0), mode="constant") / share
    return mean, np.sqrt(np.maximum(square - mean**2, 0).sum(axis=-1))


def _rarity(even: Array, seen: Flags) -> Array:
    """Return -ln of the share of the picture that has about this colour (rows, columns)."""
    cell, count = _cells(even[seen])
    rarity = np.zeros(seen.shape)
    rarity[seen] = -np.log(count[cell] / count.sum())
    return rarity


def _cells(points: Array) -> tuple[NDArray[np.intp], Array]:
    """Return the number of the cell that each of the points (n, 3) falls in, and how many fall in each cell."""
    place = np.floor(points / CELL).astype(np.int64) @ np.array([1 << 40, 1 << 20, 1])
    _, cell, count = np.unique(place, return_inverse=True, return_counts=True)
    return cell, count.astype(float)


def _grouped(points: Array, weights: Array, count: int, rng: np.random.Generator) -> Array:
    """Return the means (k, 3) of at most `count` groups, none closer than APART to another."""
    cell, _ = _cells(points)
    mass = np.bincount(cell, weights)
    totals = np.stack([np.bincount(cell, weights * axis) for axis in points.T], axis=-1)
    places: Array = totals[mass > 0] / mass[mass > 0][:, None]
    mass = mass[mass > 0]
    for groups in range(min(count, len(places)), 1, -1):
        means = weighted_means(places, mass, groups, rng)
        apart = np.linalg.norm(means[:, None] - means, axis=-1) + np.diag(np.full(groups, np.inf))
        if apart.min() >= APART:
            return means
    return weighted_means(places, mass, 1, rng)


def weighted_means(points: ArrayLike, weights: ArrayLike, count: int, rng: np.random.Generator) -> Array:
    """Return the means (count, 3) of groups of points (n, 3) with the least weighted squared distance found [2] [3]."""
    points, weights = np.asarray(points, float), np.asarray(weights, float)
    tried = [_settled(points, weights, _begun(points, weights, count, rng)) for _ in range(STARTS)]
    means: Array = min(tried, key=lambda found: found[1])[0]
    return means


def _begun(points: Array, weights: Array, count: int, rng: np.random.Generator) -> Array:
    """Return starting means, each drawn with a chance of its weighted squared distance from those before [3]."""
    means: Array = points[rng.choice(len(points), p=weights / weights.sum())][None]
    while len(means) < count:
        chance = weights * _squared(points, means).min(axis=1)
        total = chance.sum()
        chance = chance / total if total > 0 else np.full(len(points), 1 / len(points))
        means = np.concatenate([means, points[rng.choice(len(points), p=chance)][None]])
    return means


def _settled(points: Array, weights: Array, means: Array) -> tuple[Array, float]:
    """Return the means after each point has gone to the nearest one until nothing moves [2], and what is left."""
    for _ in range(ROUNDS):
        group = _squared(points, means).argmin(axis=1)
        mass = np.bincount(group, weights, len(means))
        totals = np.stack([np.bincount(group, weights * axis, len(means)) for axis in points.T], axis=-1)
        moved = np.where(mass[:, None] > 0, totals / np.maximum(mass, 1e-300)[:, None], means)
        is_at_rest = np.allclose(moved, means, atol=1e-6)
        means = moved
        if is_at_rest:
            break
    return means, float(weights @ _squared(points, means).min(axis=1))


def _squared(points: Array, means: Array) -> Array:
    answer: Array = np.maximum(
        np.sum(points**2, axis=1)[:, None] - 2 * points @ means.T + np.sum(means**2, axis=1), 0.0
    )
    return answer


def _described(small: Array, even: Array, area: Array, drawn: Array, means: Array) -> tuple[PictureColour, ...]:
    """Return each group with its shares and the place that shows it best: near its mean, and level."""
    seen = area > 0
    rows, columns = area.shape
    group = np.where(seen, _squared(even.reshape(-1, 3), means).argmin(axis=1).reshape(rows, columns), -1)
    place, scatter = _mean_and_scatter(even, seen)
    scatter = scatter + _mean_and_scatter(even, seen, 3 * PLACE_PX)[1] / 3  # away from edges where there is room
    shown = _mean_and_scatter(small, seen)[0]
    found = []
    for number, mean in enumerate(means):
        inside = group == number
        if not inside.any():
            continue
        off = np.where(inside, np.linalg.norm(place - mean, axis=-1) + scatter, np.inf)
        y, x = np.unravel_index(int(off.argmin()), off.shape)
        lightness, a, b = (float(part) for part in shown[y, x])
        found.append(
            PictureColour(
                lab=(lightness, a, b),
                area_frac=float(area[inside].sum()),
                drawn_frac=float(drawn[inside].sum()),
                x_frac=(float(x) + 0.5) / columns,
                y_frac=(float(y) + 0.5) / rows,
            )
        )
    return tuple(sorted(found, key=lambda colour: -colour.area_frac))
