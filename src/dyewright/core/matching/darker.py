"""Where a target is lighter than additions can reach: the lightest colour of its hue and chroma that they do reach."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from dyewright.core.colour import lab_from_lch, lch_from_lab
from dyewright.core.matching.limits import Limits
from dyewright.core.matching.rank import REACHED_DE00
from dyewright.core.matching.search import Solutions, Target, search
from dyewright.core.mixing import ShelfModel
from dyewright.core.model import Lab, ObserverTables

__all__ = ["lightest_reached"]

DARKEST_L = 8.0  # no dyed yarn is darker (estimate)
COARSE_L, HALVINGS = 6.0, 4  # the search goes down by 6 of L*, then halves: to 0.4
CHROMA_SHARES = (1.0, 0.75, 0.5, 0.25)  # of the target's chroma, tried in turn
GREY_CHROMA = 1.0  # less of it makes no other colour
PROMISING = 14  # dyes that take part, so that each look is quick
COUNTED = 200  # solutions whose dyes are counted


def lightest_reached(
    shelf: ShelfModel, target: Target, tables: ObserverTables, limits: Limits | None = None
) -> Lab | None:
    """Return the lightest colour below a target, of its hue and chroma, that the shelf reaches; None where none is.

    Where none has the target's chroma, less of it is tried: three, two and one quarter. Reached is what a recipe of up
    to three dyes is foretold to meet within ΔE00 1. Only the dyes that the closest recipes for the target, and for
    darker ones, are made of take part.
    """
    limits = limits or Limits()
    limits = replace(limits, max_dyes=min(limits.max_dyes, 3))
    lightness, chroma, hue = lch_from_lab(target.lab).tolist()
    looks = [search(shelf, Target(_lab(level, chroma, hue)), tables, limits) for level in (lightness, 0.6 * lightness)]
    fewer = _with_promising(shelf, limits, looks)
    for share in CHROMA_SHARES if chroma > GREY_CHROMA else (1.0,):

        def is_reached(level: float, share: float = share) -> bool:
            colour = Target(_lab(level, share * chroma, hue))
            return bool(search(shelf, colour, tables, fewer).de00.min() <= REACHED_DE00)

        level = _highest(is_reached, lightness)
        if level is not None:
            return _lab(level, share * chroma, hue)
    return None


def _highest(is_reached: Callable[[float], bool], lightness: float) -> float | None:
    """Return the highest L* below a lightness that is reached, to 0.4; coarse steps down, then halvings."""
    steps = np.arange(lightness - COARSE_L, DARKEST_L, -COARSE_L).tolist()
    low = next((level for level in steps if is_reached(level)), None)
    if low is None:
        return None
    high = low + COARSE_L
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if is_reached(middle) else (low, middle)
    return float(low)


def _lab(lightness: float, chroma: float, hue: float) -> Lab:
    x, y, z = lab_from_lch((lightness, chroma, hue)).tolist()
    return x, y, z


def _with_promising(shelf: ShelfModel, limits: Limits, looks: list[Solutions]) -> Limits:
    counts = sum(np.count_nonzero(found.depths_owf[:COUNTED], axis=0) for found in looks)
    order = np.argsort(-np.asarray(counts), kind="stable")
    left_out = {shelf.dyes[dye] for dye in order[PROMISING:].tolist()} - limits.must_use
    return replace(limits, never_use=limits.never_use | left_out)
