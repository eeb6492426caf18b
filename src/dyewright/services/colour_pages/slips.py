"""Recipes as slips: what each is best at, its dyes, why, and the page's address with its mix in hand."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dyewright import units
from dyewright.core.model import Match, Recipe
from dyewright.services.shown import LIGHT_WORDS

__all__ = ["Slip", "depths_of", "slips_of"]

SHOWN_SLIPS = 5
KIND_WORDS = {
    "closest": "Closest",
    "steadiest": "Steadiest",
    "fewest dyes": "Fewest dyes",
    "cheapest": "Cheapest",
}


@dataclass(frozen=True)
class Slip:
    """One recipe as a slip: its title, dyes in words, why, what stands below, and the address part it leads to."""

    title: str
    dyes: str
    why: str
    below: str
    hex: str
    query: str
    is_shown: bool


Address = Callable[[Mapping[str, float]], str]
"""Takes the depths of a recipe and gives the address part that its slip leads to."""


def slips_of(found: Match | None, mix: Mapping[str, float], dry_g: float, address: Address) -> tuple[Slip, ...]:
    """Return the recommended recipe and the best of each kind as slips, each recipe once.

    Args:
        found: the recipes; none, where nothing helps.
        mix: the depths in hand, to tell which slip is shown.
        dry_g: the yarn, for the cost.
        address: where a slip leads.
    """
    if found is None:
        return ()
    named = [recipe for recipe in found.recipes if recipe.why][:SHOWN_SLIPS]
    return tuple(_slip(recipe, mix, dry_g, address) for recipe in named)


def depths_of(recipe: Recipe) -> dict[str, float]:
    """Return a recipe's depths as fractions, by dye."""
    return {dye.name: dye.depth_percent / 100 for dye in recipe.dyes}


def _slip(recipe: Recipe, mix: Mapping[str, float], dry_g: float, address: Address) -> Slip:
    kinds = [KIND_WORDS[kind] for kind in recipe.why]
    lights = recipe.other_light or {}
    below = [f"{LIGHT_WORDS[light]} {off:.1f}" for light, off in lights.items()]
    if recipe.cost_per_kg is not None:
        below.append(f"{recipe.cost_per_kg * dry_g / 1000:.2f} for {units.show_mass(dry_g)}")
    depths = {name: f"{100 * depth:.3g}" for name, depth in depths_of(recipe).items()}
    shown = {name: f"{100 * depth:.3g}" for name, depth in mix.items() if depth > 0}
    return Slip(
        title=kinds[0] + "".join(f", {kind.lower()}" for kind in kinds[1:]),
        dyes=", ".join(f"{name} {percent}\u00a0%" for name, percent in depths.items()),
        why=recipe.because,
        below=" · ".join(below),
        hex=recipe.hex,
        query=address(depths_of(recipe)),
        is_shown=depths == shown,
    )
