"""Depth ladders: which depths of which dyes to dye next, so that every dye is known over its whole range.

A dye's colour is interpolated between the depths that were dyed, and what it gives goes with the logarithm of depth:
so the next depth is the one farthest, by ratio, from those that are there. Depths are the trade's usual round ones
(common practice, no source).
"""

import math
from collections.abc import Mapping, Sequence

from numpy.typing import ArrayLike

from dyewright.core.mixing.advice import NextSwatch, next_swatch
from dyewright.core.mixing.learn import after_swatch
from dyewright.core.mixing.shelf import ShelfModel
from dyewright.core.model import ObserverTables

__all__ = ["LADDER_OWF", "MIDDLE_OWF", "ladders", "sharpening"]

LADDER_OWF = (0.001, 0.0025, 0.005, 0.01, 0.02, 0.04)
MIDDLE_OWF = 0.01  # the first swatch of a dye: deep enough to show its hue, pale enough to show its strength

NEAR = 1.4  # a depth that is less than so many times another tells hardly more than it (estimate)
LEFT_FRAC = 0.99  # in an evening with many jars a swatch pays by ever so little


def ladders(known_owf: Mapping[str, Sequence[float]], jars: int) -> tuple[tuple[str, float], ...]:
    """Return dyes and depths for a number of swatches: the dyes with fewest get the next, in the order given.

    Each depth is as far as can be from those that are there by then; fewer swatches than there is room for where the
    rest would nearly repeat one.

    Args:
        known_owf: the depths that were dyed already of each dye that is to be dyed.
        jars: how many swatches there is room for.
    """
    there = {name: list(depths) for name, depths in known_owf.items()}
    chosen: dict[str, list[float]] = {name: [] for name in known_owf}
    open_to = list(known_owf)
    while open_to and sum(map(len, chosen.values())) < jars:
        name = min(open_to, key=lambda one: len(there[one]))
        depth = max(LADDER_OWF, key=lambda one: (_apart(one, there[name]), -abs(math.log(one / MIDDLE_OWF))))
        if _apart(depth, there[name]) < math.log(NEAR):
            open_to.remove(name)
        else:
            there[name].append(depth)
            chosen[name].append(depth)
    return tuple((name, depth) for name, depths in chosen.items() for depth in sorted(depths))


def _apart(depth: float, there: Sequence[float]) -> float:
    """Return the distance to the nearest depth that is there, as the logarithm of their ratio."""
    return min((abs(math.log(depth / other)) for other in there), default=math.inf)


def sharpening(shelf: ShelfModel, recipes_owf: ArrayLike, tables: ObserverTables, jars: int) -> tuple[NextSwatch, ...]:
    """Return the swatches that together narrow the bands of some recipes most, each chosen as if those before it hung.

    No depth twice; fewer than asked for where further ones would tell next to nothing.

    Args:
        shelf: the fitted dyes.
        recipes_owf: the recipes, shape (m, n), fractions.
        tables: lights and observers.
        jars: how many swatches there is room for.
    """
    found: list[NextSwatch] = []
    for _ in range(jars):
        best = next_swatch(
            shelf,
            recipes_owf,
            tables,
            depths_owf=LADDER_OWF,
            left_frac=LEFT_FRAC,
            but_for=[(one.dye, one.depth_owf) for one in found],
        )
        if best is None:
            break
        found.append(best)
        shelf = after_swatch(shelf, shelf.dyes.index(best.dye), best.depth_owf, tables)
    return tuple(found)
