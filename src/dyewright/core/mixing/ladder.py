"""Depth ladders: which depths of which dyes to dye next, so that every dye is known over its whole range.

A dye's colour is interpolated between the depths that were dyed, and what it gives goes with the logarithm of depth:
so the next depth is the one farthest, by ratio, from those that are there. Depths are the trade's usual round ones
(common practice, no source).
"""

import math
from collections.abc import Mapping, Sequence

__all__ = ["LADDER_OWF", "MIDDLE_OWF", "ladder_depths", "ladders"]

LADDER_OWF = (0.001, 0.0025, 0.005, 0.01, 0.02, 0.04)
MIDDLE_OWF = 0.01  # the first swatch of a dye: deep enough to show its hue, pale enough to show its strength


def ladder_depths(known_owf: Sequence[float], jars: int) -> tuple[float, ...]:
    """Return the depths to add to a ladder, palest first: each as far as can be from what is there by then.

    Args:
        known_owf: depths that were dyed already, fractions above 0.
        jars: how many to add; the usual depths are fewer than that where `jars` is large.
    """
    there, chosen = list(known_owf), list[float]()
    for _ in range(min(jars, len(LADDER_OWF))):
        apart = {depth: _apart(depth, there) for depth in LADDER_OWF if depth not in chosen}
        depth = max(apart, key=lambda one: (apart[one], -abs(math.log(one / MIDDLE_OWF))))
        there.append(depth)
        chosen.append(depth)
    return tuple(sorted(chosen))


def _apart(depth: float, there: Sequence[float]) -> float:
    """Return the distance to the nearest depth that is there, as the logarithm of their ratio."""
    return min((abs(math.log(depth / other)) for other in there), default=math.inf)


def ladders(known_owf: Mapping[str, Sequence[float]], jars: int) -> tuple[tuple[str, float], ...]:
    """Return dyes and depths for a number of swatches: the dyes with fewest get the next, in the order given.

    Args:
        known_owf: the depths that were dyed already of each dye that is to be dyed.
        jars: how many swatches there is room for.
    """
    share = dict.fromkeys(known_owf, 0)
    for _ in range(jars):
        open_to = [name for name in share if share[name] < len(LADDER_OWF)]
        if not open_to:
            break
        share[min(open_to, key=lambda name: len(known_owf[name]) + share[name])] += 1
    return tuple((name, depth) for name in share for depth in ladder_depths(known_owf[name], share[name]))
