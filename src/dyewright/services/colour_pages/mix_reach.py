"""How near the dyes of a mix come to its target at their best, and a map of what they reach."""

from collections.abc import Mapping
from dataclasses import dataclass

from dyewright.core.colour import delta_e00
from dyewright.core.matching import REACHED_DE00, Target, failing_parts, nearest
from dyewright.core.mixing import ShelfModel, depth_vector, lab_of_mix
from dyewright.core.model import Lab
from dyewright.data.colour import load_observer_tables
from dyewright.services.reach_map import mix_map

__all__ = ["MixReach", "mix_reach"]

BETTER_DE00 = 0.3  # what the best of the same dyes must gain to be offered (estimate: less is hardly seen)


@dataclass(frozen=True)
class MixReach:
    """What the dyes of a mix reach: in words, as a map, and their best depths where those are clearly better.

    `better_owf` maps dyes to depths; empty where the mix is as good as they get.
    """

    words: str
    map_svg: str
    better_owf: Mapping[str, float]


def mix_reach(shelf: ShelfModel, mix: Mapping[str, float], target: Target) -> MixReach | None:
    """Return what the dyes of a mix reach; None without any dye in it.

    Raises:
        InputError: a dye without swatch, or a depth that cannot be.
    """
    depths = depth_vector(shelf, mix)
    if not depths.any():
        return None
    tables = load_observer_tables()
    best = nearest(shelf, depths, target, tables)
    here, there = (lab_of_mix(shelf, one, tables) for one in (depths, best))
    best_lab: Lab = (float(there[0]), float(there[1]), float(there[2]))
    off, best_off = (float(delta_e00(target.lab, lab)) for lab in (here, there))
    used = [name for name, depth in mix.items() if depth > 0]
    by_name = dict(zip(shelf.dyes, best.tolist(), strict=True))
    return MixReach(
        words=_words(used, target.lab, best_lab, best_off),
        map_svg=mix_map(shelf, used, target.lab, (float(here[0]), float(here[1]), float(here[2]))),
        better_owf={name: by_name[name] for name in mix} if off - best_off > BETTER_DE00 else {},
    )


def _words(used: list[str], target: Lab, best: Lab, off: float) -> str:
    dyes = "This dye" if len(used) == 1 else f"These {len(used)} dyes"
    reach = "reaches" if len(used) == 1 else "reach"
    if off <= REACHED_DE00:
        return f"{dyes} {reach} the target: to ΔE00 {off:.1f} at best."
    return f"Out of reach for {dyes.lower()} by ΔE00 {off:.0f}: {' and '.join(failing_parts(target, best))}."
