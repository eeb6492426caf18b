"""A recipe in words: why it is shown, and what of a target that is out of reach cannot be had."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.bath import weigh_as
from dyewright.core.colour import (
    REPORTED_LIGHTS,
    ciede2000_vector,
    colour_words,
    delta_cmc,
    delta_e00,
    difference_words,
    display_hex,
)
from dyewright.core.matching.search import Target
from dyewright.core.matching.weighing import Weighing
from dyewright.core.mixing import ShelfModel, lab_of_mix
from dyewright.core.model import Lab, MixDye, ObserverTables, Recipe, Weigh, Why

__all__ = ["Merits", "failing_parts", "recipe_of"]

Array = NDArray[np.float64]

NEUTRAL_CHROMA = 5.0  # below it a colour has no hue of its own (estimate)
MAIN_PART_FRAC = 0.5  # of the largest part of a difference: a smaller one is not named (estimate)

LEADS = {
    Why.CLOSEST: "Comes closest",
    Why.STEADIEST: "Moves least by weighing",
    Why.FEWEST_DYES: "Fewest jars to weigh",
    Why.CHEAPEST: "Costs least",
}
UNNAMED_LEAD = "Not beaten by the others on all counts"
SPOKEN_LIGHTS = {"A": "under a lamp", "FL11": "under a shop tube", "LED-B3": "under an LED"}


@dataclass(frozen=True)
class Merits:
    """What was worked out of a recipe: ΔE00 under the lights reported beside daylight (none where not known) and more.

    `band` is the radius in ΔE00 that holds 19 of 20 pots, `weighing_de00` what 95 of 100 weighings stay within, with
    the yarn and the scale of `weighing`; `cost_per_kg` of the dyes is not a number where a price is missing.
    """

    why: tuple[Why, ...]
    other_light: Array
    band: float
    weighing_de00: float
    weighing: Weighing
    cost_per_kg: float


def recipe_of(shelf: ShelfModel, target: Target, depths_owf: Array, tables: ObserverTables, merits: Merits) -> Recipe:
    """Return a recipe (n,) for a target with its colour and its words."""
    x, y, z = lab_of_mix(shelf, depths_owf, tables).tolist()
    lab, de00 = (x, y, z), float(delta_e00(target.lab, (x, y, z)))
    told = merits.other_light.tolist()
    lights = dict(zip(REPORTED_LIGHTS, told, strict=True)) if told else None
    used = sorted(np.flatnonzero(depths_owf).tolist(), key=lambda dye: -depths_owf[dye])
    return Recipe(
        dyes=tuple(MixDye(shelf.dyes[dye], 100 * float(depths_owf[dye])) for dye in used),
        lab=lab,
        de00=de00,
        decmc21=float(delta_cmc(target.lab, lab)),
        other_light=lights,
        weighing_de00_p95=merits.weighing_de00,
        de00_95=merits.band,
        why=merits.why,
        words=f"{colour_words(lab)}, {difference_words(target.lab, lab)}",
        hex=display_hex(lab, tables.whites["D65", 10]),
        cost_per_kg=merits.cost_per_kg if np.isfinite(merits.cost_per_kg) else None,
        because=_because(merits, de00, lights),
        from_stock=tuple(shelf.dyes[dye] for dye in used if _needs_stock(float(depths_owf[dye]), merits.weighing)),
    )


def _needs_stock(depth_owf: float, weighing: Weighing) -> bool:
    if not (weighing.fibre_mass_g and weighing.scale_resolution_g):
        return False
    return weigh_as(depth_owf * weighing.fibre_mass_g, weighing.scale_resolution_g) is Weigh.STOCK


def _because(merits: Merits, de00: float, lights: Mapping[str, float] | None) -> str:
    """Return why a recipe is shown, in one sentence."""
    lead = LEADS[merits.why[0]] if merits.why else UNNAMED_LEAD
    if lights and merits.why[:1] == (Why.STEADIEST,):
        lead = "Moves least under other light and by weighing"
    parts = [f"foretold {de00:.1f} from the target, sure to ± {merits.band:.1f}"]
    if lights:
        worst = max(lights, key=lambda light: lights[light])
        parts.append(f"{SPOKEN_LIGHTS[worst]} {lights[worst]:.1f}")
    weighing = merits.weighing
    scale = f" to {weighing.scale_resolution_g:g} g" if weighing.fibre_mass_g and weighing.scale_resolution_g else ""
    parts.append(f"weighing{scale} moves it {merits.weighing_de00:.1f}")
    if np.isfinite(merits.cost_per_kg):
        parts.append(f"dye for a kilogram costs {merits.cost_per_kg:.2f}")
    return f"{lead}: {'; '.join(parts)}."


def failing_parts(target_lab: Lab, lab: Lab) -> tuple[str, ...]:
    """Return what of a target a colour misses, the largest first: "lightness", "chroma", "hue", or "tint" of a grey.

    By the parts of CIEDE2000; those of less than half the largest are not named.
    """
    lightness, chroma, hue = np.abs(ciede2000_vector(target_lab, lab)).tolist()
    parts = {"lightness": lightness, "chroma": chroma, "hue": hue}
    if np.hypot(target_lab[1], target_lab[2]) < NEUTRAL_CHROMA:
        parts = {"lightness": lightness, "tint": float(np.hypot(chroma, hue))}
    largest = max(parts.values())
    named = sorted((name for name in parts if parts[name] >= MAIN_PART_FRAC * largest), key=lambda name: -parts[name])
    return tuple(named) if largest > 0 else ()
