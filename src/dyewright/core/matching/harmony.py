"""A palette as a whole: each colour as near as can be, or all moved alike so that they keep to one another.

Where some colours are out of reach, the nearest to each lies now paler, now duller, and what made the picture is lost.
The other way is one gentle change of all: nearer to the palette's middle lightness, less chroma, a small shift. It is
chosen so that as many as can be come within reach, and no larger than that takes. The method and its weights are our
own (estimate); the squeeze towards a pivot is what reproducing a picture on paper does, where it is called gamut
compression (J. Morovič, Color Gamut Mapping, Wiley (2008), from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import delta_e00
from dyewright.core.matching.gamut import Gamut, outside_de00
from dyewright.core.matching.limits import Limits
from dyewright.core.matching.search import Target, search
from dyewright.core.mixing import ShelfModel, lab_of_mix
from dyewright.core.model import Lab, ObserverTables

__all__ = ["CommonChange", "Harmony", "PaletteMatch", "changed", "contrast_kept", "harmonise"]

Array = NDArray[np.float64]

CLOSE_DE00 = 1.0  # a colour this near to its aim counts as reached: one lot (common practice, no source)
MISS_WEIGHT = 6.0  # what being out of reach counts against a change that all share (estimate)
FIRST_STEPS = np.array([0.1, 0.1, 4.0, 3.0, 3.0])  # of lightness and chroma ratio, and of the shifts in L*, a*, b*
HALVINGS, ROUNDS = 6, 80
MOST = np.array([1.0, 1.0, 10.0, 6.0, 6.0])  # ratios do not grow, shifts stay small
LEAST = np.array([0.6, 0.4, -10.0, -6.0, -6.0])  # a gentle change, or none: beyond, colours stay out of reach
UNCHANGED = np.array([1.0, 1.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True)
class CommonChange:
    """One change of all colours of a palette.

    Differences in lightness from `pivot_lightness` are multiplied by `lightness_ratio`, chroma by `chroma_ratio`; then
    `shift_lab` is added.
    """

    pivot_lightness: float
    lightness_ratio: float
    chroma_ratio: float
    shift_lab: Lab

    @property
    def is_none(self) -> bool:
        """Whether nothing changes."""
        return (self.lightness_ratio, self.chroma_ratio, self.shift_lab) == (1.0, 1.0, (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class PaletteMatch:
    """A palette in dyes: recipes (k, n) in weighed depths, their colours, and how far each is from what was wanted.

    `contrast_kept_frac` says how much of the pattern of differences between the colours is kept, whatever its size;
    `contrast_ratio` is that size beside the wanted one; `is_order_kept`, whether dark to light is still in order.
    """

    depths_owf: Array
    labs: Array
    de00: Array
    contrast_kept_frac: float
    contrast_ratio: float
    is_order_kept: bool


@dataclass(frozen=True)
class Harmony:
    """Both ways to a palette: each colour as near as can be, and all in harmony by one common change."""

    nearest: PaletteMatch
    together: PaletteMatch
    change: CommonChange
    aims: Array


def harmonise(
    shelf: ShelfModel,
    gamut: Gamut,
    labs: ArrayLike,
    tables: ObserverTables,
    *,
    weights: ArrayLike | None = None,
    limits: Limits | None = None,
) -> Harmony:
    """Return a palette as the shelf can give it, colour by colour and as a whole.

    Args:
        shelf: the dyes over their base.
        gamut: what they reach.
        labs: the wanted colours, shape (k, 3), D65 and 10°.
        tables: lights and observers.
        weights: how much each counts, such as its share of the picture, shape (k,); alike where None.
        limits: what the recipes keep to.
    """
    wanted = np.asarray(labs, float)
    share = np.ones(len(wanted)) if weights is None else np.asarray(weights, float)
    share = share / share.sum()
    change = _gentlest(gamut, wanted, share)
    aims = changed(wanted, change)
    nearest = _matched(shelf, wanted, wanted, share, tables, limits)
    together = nearest if change.is_none else _matched(shelf, aims, wanted, share, tables, limits)
    return Harmony(nearest, together, change, aims)


def changed(labs: ArrayLike, change: CommonChange) -> Array:
    """Return colours (..., 3) after a common change."""
    lab = np.asarray(labs, float)
    by = np.array([change.lightness_ratio, change.chroma_ratio, *change.shift_lab])
    return _moved(lab, change.pivot_lightness, by)


def _moved(lab: Array, pivot: float, by: Array) -> Array:
    """Return colours (..., 3) after changes (..., 5): both ratios and the shift."""
    lightness = pivot + by[..., 0] * (lab[..., 0] - pivot) + by[..., 2]
    return np.stack(
        [
            np.clip(lightness, 0, 100),
            by[..., 1] * lab[..., 1] + by[..., 3],
            by[..., 1] * lab[..., 2] + by[..., 4],
        ],
        axis=-1,
    )


def _gentlest(gamut: Gamut, wanted: Array, share: Array) -> CommonChange:
    """Return the change with the least cost, by steps along each of its numbers that are halved where none helps."""
    pivot = float(share @ wanted[:, 0])
    best, steps = UNCHANGED, FIRST_STEPS
    cost = float(_cost(gamut, wanted, share, pivot, best[None])[0])
    halvings = 0
    for _ in range(ROUNDS):
        if cost <= 0 or halvings > HALVINGS:
            break
        tried = np.clip(best + np.concatenate([np.diag(steps), -np.diag(steps)]), LEAST, MOST)
        costs = _cost(gamut, wanted, share, pivot, tried)
        least = int(costs.argmin())
        if costs[least] < cost - 1e-6:
            best, cost = tried[least], float(costs[least])
        else:
            steps, halvings = steps / 2, halvings + 1
    return CommonChange(pivot, float(best[0]), float(best[1]), (float(best[2]), float(best[3]), float(best[4])))


def _cost(gamut: Gamut, wanted: Array, share: Array, pivot: float, by: Array) -> Array:
    """Return what changes (m, 5) cost: colours left out of reach, and how far all move, in ΔE00 squared."""
    aims = _moved(wanted, pivot, by[:, None])
    missed = np.maximum(outside_de00(gamut, aims) - CLOSE_DE00, 0)
    answer: Array = (MISS_WEIGHT**2 * missed**2 + delta_e00(wanted, aims) ** 2) @ share
    return answer


def _matched(
    shelf: ShelfModel, aims: Array, wanted: Array, share: Array, tables: ObserverTables, limits: Limits | None
) -> PaletteMatch:
    depths = np.stack([_closest(shelf, aim, tables, limits) for aim in aims])
    labs = lab_of_mix(shelf, depths, tables)
    kept, ratio = contrast_kept(wanted, labs, share)
    return PaletteMatch(
        depths_owf=depths,
        labs=labs,
        de00=delta_e00(wanted, labs),
        contrast_kept_frac=kept,
        contrast_ratio=ratio,
        is_order_kept=_is_in_order(wanted[:, 0], labs[:, 0]),
    )


def _closest(shelf: ShelfModel, aim: Array, tables: ObserverTables, limits: Limits | None) -> Array:
    """Return the depths (n,) of the closest recipe; of those as close to the eye, one with the fewest dyes."""
    lightness, a, b = aim.tolist()
    found = search(shelf, Target((lightness, a, b)), tables, limits)
    is_as_close = found.de00 <= found.de00.min() + SAME_DE00
    if found.bare_de00 <= found.de00.min() + SAME_DE00:
        return np.zeros(len(shelf.dyes))
    fewest = np.flatnonzero(is_as_close & (found.sizes == found.sizes[is_as_close].min()))
    depths: Array = found.depths_owf[fewest[0]]
    return depths


SAME_DE00 = 0.3  # nothing to see between two recipes (estimate)


def contrast_kept(wanted: ArrayLike, labs: ArrayLike, weights: ArrayLike) -> tuple[float, float]:
    """Return how much of a palette's contrasts is kept (0 to 1), and their size beside the wanted ones.

    The differences between every two colours are taken in lightness, and apart from it in a*b*. Kept is 1 less the
    part of the reached differences that does not follow the wanted ones, so that a palette whose lightness or chroma
    is squeezed as a whole keeps all of them.

    Args:
        wanted: colours (k, 3).
        labs: what became of them (k, 3).
        weights: of each colour (k,).
    """
    share = np.asarray(weights, float)
    first, second = np.triu_indices(len(share), 1)
    pair = (share[first] * share[second])[:, None]
    one, two = (np.asarray(lab, float)[first] - np.asarray(lab, float)[second] for lab in (wanted, labs))
    along, size, other = (_by_kind(pair * product) for product in (one * two, one**2, two**2))
    if size.sum() <= 0:
        return 1.0, 1.0
    follows = np.clip(along / np.sqrt(np.maximum(size * other, 1e-12)), 0, 1) @ size / size.sum()
    return float(1 - np.sqrt(1 - min(follows, 1.0) ** 2)), float(np.sqrt(other.sum() / size.sum()))


def _by_kind(products: Array) -> Array:
    """Return the sums (2,) of products (pairs, 3): of lightness, and of a* and b* together."""
    return np.array([products[:, 0].sum(), products[:, 1:].sum()])


def _is_in_order(wanted: Sequence[float] | Array, lightness: Array) -> bool:
    """Return whether lightnesses still rise in the wanted order; what the eye takes as equal may change places."""
    order = np.argsort(wanted, kind="stable")
    return bool(np.all(np.diff(lightness[order]) > -CLOSE_DE00))
