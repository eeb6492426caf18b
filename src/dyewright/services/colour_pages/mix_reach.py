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
    is_better = off - best_off > BETTER_DE00
    used = [name for name, depth in mix.items() if depth > 0]
    by_name = dict(zip(shelf.dyes, best.tolist(), strict=True))
    return MixReach(
        words=_words(used, target.lab, best_lab, best_off, is_better=is_better),
        map_svg=mix_map(shelf, used, target.lab, (float(here[0]), float(here[1]), float(here[2]))),
        better_owf={name: by_name[name] for name in mix} if is_better else {},
    )


def _words(used: list[str], target: Lab, best: Lab, off: float, *, is_better: bool) -> str:
    """Return in short how near the dyes come: the page itself says how far the mix and the whole shelf are off."""
    is_one = len(used) == 1
    dyes = "This dye" if is_one else f"These {len(used)} dyes"
    if off <= REACHED_DE00:
        return f"{dyes} {'reaches' if is_one else 'reach'} the target: to ΔE00 {off:.1f} at best."
    parts = failing_parts(target, best)
    missing = f"{' and '.join(parts)} {'stays' if len(parts) == 1 else 'stay'} off"
    come = "comes" if is_one else "come"
    return (
        f"{dyes} {come} to ΔE00 {off:.1f} at best: {missing}." if is_better else f"{dyes} {come} no nearer: {missing}."
    )
