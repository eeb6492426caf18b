"""Which dyes to add to a shelf: those after which most of a palette is reached.

For each colour one search over shelf and candidates together gives the closest recipe of every set of dyes; the best
without a candidate, with one, or with two, is then read off it. How sure a colour is to come within the tolerance
follows from how far off its recipe is foretold and from its 95 % radius, taken as a normal scatter alike in the three
components of ΔE00 (a noncentral chi-squared distribution of 3 degrees).
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.matching.limits import Limits
from dyewright.core.matching.search import Solutions, Target, search
from dyewright.core.mixing import ShelfModel, bands_95
from dyewright.core.model import ObserverTables
from dyewright.errors import InputError, NoMatchError

__all__ = ["MOST_CANDIDATES", "Addition", "additions", "chance_within", "likely_count"]

Array = NDArray[np.float64]
Sets = dict[frozenset[int], tuple[float, Array]]
"""The closest recipe (n,) and its ΔE00 by the candidates that it takes."""

MOST_CANDIDATES = 20
MOST_ADDED = 2
RADIUS_95 = 2.7955  # of a normal scatter alike in 3 components, in standard deviations: sqrt of chi-squared 7.8147
FAR_DE00 = 10.0  # beyond this a miss is a miss, however far (estimate)


@dataclass(frozen=True)
class Addition:
    """Candidates taken together (none: the shelf as it is), and what a palette of k colours then comes to.

    `de00` (k,) is how far the closest recipe is foretold from each, `depths_owf` (k, n) that recipe, `de00_95` (k,) the
    radius that holds 19 of 20 pots, `chance_frac` (k,) how likely a pot comes within the tolerance; `reached` counts
    the colours that are foretold within it.
    """

    dyes: tuple[str, ...]
    de00: Array
    depths_owf: Array
    de00_95: Array
    chance_frac: Array
    reached: int


def additions(
    shelf: ShelfModel,
    candidates: Collection[str],
    labs: ArrayLike,
    tables: ObserverTables,
    *,
    tolerance_de00: float = 2.0,
    limits: Limits | None = None,
    best: int = 3,
) -> tuple[Addition, ...]:
    """Return the shelf as it is, then the best single candidates, then the best pairs that add to those.

    Args:
        shelf: the dyes at hand and the candidates, fitted together over the base.
        candidates: names of those not at hand.
        labs: the palette, shape (k, 3), D65 and 10°.
        tables: lights and observers.
        tolerance_de00: within which a colour counts as reached.
        limits: what recipes keep to.
        best: how many single candidates, and how many pairs, at most.

    Raises:
        InputError: no candidate or too many, or one that has no swatch.
    """
    places = _candidate_places(shelf, candidates)
    by_target = [_by_set(shelf, lab, places, tables, limits or Limits()) for lab in np.asarray(labs, float).tolist()]
    none: frozenset[int] = frozenset()
    singles = _ranked([frozenset({one}) for one in places], by_target, tolerance_de00)[:best]
    pairs = _ranked([frozenset(pair) for pair in combinations(places, MOST_ADDED)], by_target, tolerance_de00)
    worth = [pair for pair in pairs if _adds(pair, by_target, tolerance_de00)][:best]
    return tuple(_addition(shelf, taken, by_target, tables, tolerance_de00) for taken in (none, *singles, *worth))


def _candidate_places(shelf: ShelfModel, candidates: Collection[str]) -> list[int]:
    names = list(dict.fromkeys(candidates))
    if not 1 <= len(names) <= MOST_CANDIDATES:
        raise InputError(
            f"{len(names)} candidates were named; name 1 to {MOST_CANDIDATES} dyes to choose among",
            field="candidates",
            value=len(names),
            limit=MOST_CANDIDATES,
        )
    for name in names:
        if name not in shelf.dyes:
            raise InputError(
                f"candidate {name!r} has no swatch: give its colour on yarn", field="candidates", value=name
            )
    return [shelf.dyes.index(name) for name in names]


def _by_set(shelf: ShelfModel, lab: list[float], candidates: list[int], tables: ObserverTables, limits: Limits) -> Sets:
    """Return the closest recipe of a colour by the candidates in it, at most two; the own dyes have their own search.

    The search over all keeps only the closest combinations, so that those without a candidate may not be among them.
    """
    target = Target((lab[0], lab[1], lab[2]))
    names = frozenset(shelf.dyes[place] for place in candidates)
    found: Sets = {}
    for own_limits in (limits, replace(limits, never_use=limits.never_use | names)):
        for de00, depths in _recipes(shelf, target, tables, own_limits):
            taken = frozenset(place for place in candidates if depths[place] > 0)
            if len(taken) <= MOST_ADDED and (taken not in found or de00 < found[taken][0]):
                found[taken] = (de00, depths)
    return found


def _recipes(shelf: ShelfModel, target: Target, tables: ObserverTables, limits: Limits) -> list[tuple[float, Array]]:
    """Return ΔE00 and depths of what a search found, and of the undyed yarn."""
    try:
        solutions: Solutions = search(shelf, target, tables, limits)
    except NoMatchError:
        return []
    bare = (solutions.bare_de00, np.zeros(len(shelf.dyes)))
    return [bare, *zip(solutions.de00.tolist(), solutions.depths_owf, strict=True)]


def _closest(taken: frozenset[int], sets: Sets) -> tuple[float, Array]:
    """Return the closest recipe that takes no other candidates than these."""
    return min((found for used, found in sets.items() if used <= taken), key=lambda found: found[0])


def _score(taken: frozenset[int], by_target: Sequence[Sets], tolerance_de00: float) -> tuple[int, float]:
    """Return how many colours are reached and, less being better, how far off all are on average, as a negative."""
    off = np.array([_closest(taken, sets)[0] for sets in by_target])
    return int((off <= tolerance_de00).sum()), -float(np.minimum(off, FAR_DE00).mean())


def _ranked(sets: Sequence[frozenset[int]], by_target: Sequence[Sets], tolerance_de00: float) -> list[frozenset[int]]:
    return sorted(sets, key=lambda taken: _score(taken, by_target, tolerance_de00), reverse=True)


def _adds(pair: frozenset[int], by_target: Sequence[Sets], tolerance_de00: float) -> bool:
    """Return whether a pair reaches more colours than either of its dyes does alone."""
    both = _score(pair, by_target, tolerance_de00)[0]
    return all(both > _score(frozenset({one}), by_target, tolerance_de00)[0] for one in pair)


def _addition(
    shelf: ShelfModel,
    taken: frozenset[int],
    by_target: Sequence[Sets],
    tables: ObserverTables,
    tolerance_de00: float,
) -> Addition:
    closest = [_closest(taken, sets) for sets in by_target]
    de00, depths = np.array([off for off, _ in closest]), np.stack([recipe for _, recipe in closest])
    bands = bands_95(shelf, depths, tables)
    return Addition(
        dyes=tuple(shelf.dyes[place] for place in sorted(taken)),
        de00=de00,
        depths_owf=depths,
        de00_95=bands,
        chance_frac=chance_within(de00, bands, tolerance_de00),
        reached=int((de00 <= tolerance_de00).sum()),
    )


def chance_within(off_de00: ArrayLike, radius_de00: ArrayLike, tolerance_de00: float) -> Array:
    """Return how likely pots come within a tolerance of a colour, 0 to 1.

    Args:
        off_de00: how far the recipe is foretold from it, any shape.
        radius_de00: the radius round the foretold colour that holds 19 of 20 pots, same shape.
        tolerance_de00: the tolerance.
    """
    from scipy.special import chndtr

    off, sd = np.asarray(off_de00, float), np.asarray(radius_de00, float) / RADIUS_95
    is_known = sd > 0
    safe = np.where(is_known, sd, 1.0)
    return np.where(is_known, chndtr((tolerance_de00 / safe) ** 2, 3, (off / safe) ** 2), off <= tolerance_de00)


def likely_count(chance_frac: ArrayLike) -> tuple[int, int]:
    """Return the least and the most of several events that come true in 19 of 20 cases, each with its own chance."""
    spread = np.ones(1)
    for chance in np.asarray(chance_frac, float):
        spread = np.convolve(spread, [1 - chance, chance])
    gone = np.cumsum(spread)
    return int(np.searchsorted(gone, 0.025)), int(np.searchsorted(gone, 0.975))
