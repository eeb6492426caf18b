"""The recipe that brings a skein with too little dye to its fellows, from the dyer's own swatches."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from dyewright import units
from dyewright.core.colour import delta_e00
from dyewright.core.matching import Limits, Target, Weighing
from dyewright.core.mixing import ShelfModel, depth_vector, predict
from dyewright.core.model import Basis, JudgeResult, Lab, MixDye, Recipe, Swatch, TopUp, TopUpDye, Way
from dyewright.core.skeins.verdict import listed, of_skeins
from dyewright.errors import InputError, NoMatchError
from dyewright.services.colour_pages.slips import depths_of
from dyewright.services.matching import Search, match_on
from dyewright.services.mix_doses import LEAST_STOCK_G, dose_of
from dyewright.services.overdyeing import overdye_on
from dyewright.services.shelf_model import fitted
from dyewright.services.shown import shown_hex

__all__ = ["SCALE_G", "ToppingUp", "addition", "topped_up", "topped_up_by_eye", "topping_up_from_table"]

LIQUOR_L_KG = 30.0  # of a small second bath (common practice, no source)
SCALE_G = 0.1  # the scale where none is told of
MOST_DYES_ADDED = 3
OWN_DYES_DE00 = 6.0  # from a skein's photographed colour to what its own dyes give: the error of a photo (estimate)
WORTH_IT_FRAC = 0.7  # of what the skein is off now: a recipe that leaves more is none (estimate)


@dataclass(frozen=True)
class ToppingUp:
    """What a top-up is computed from: the fitted dyes, the skein's dry weight, the scale, and the dyes it holds.

    `apart` are pairs of dyes that do not go into one bath.
    """

    shelf: ShelfModel
    dry_g: float
    scale_g: float = SCALE_G
    own_dyes: Collection[str] = ()
    apart: frozenset[frozenset[str]] = field(default_factory=frozenset)


def topping_up_from_table(swatches: Sequence[Swatch], base: str | None, dry: str | None) -> ToppingUp:
    """Return what a top-up is computed from, as a command names it: a swatch table, a base and a dry weight.

    Raises:
        InputError: no swatch of a dye, a base without its undyed colour, or a weight that cannot be read.
    """
    if dry is None:
        raise InputError("a top-up is weighed for the skein: give its dry weight too, such as 100 g", field="dry")
    dry_g = units.mass_g(dry, field="dry", thing="dry skein", default_unit="g")
    if dry_g <= 0:
        raise InputError(f"the dry skein weighs {dry_g:g} g; it must be above 0 g", field="dry", value=dry_g, limit=0)
    return ToppingUp(fitted(swatches, base), dry_g)


def topped_up(way: Way, result: JudgeResult, bench: ToppingUp) -> Way:
    """Return the way of topping up with its recipe and what it is foretold to leave, or why there is none."""
    if result.basis is Basis.RELATIVE:
        return topped_up_by_eye(way, "without a chart the colour is not known well enough for a recipe")
    lab = {skein.id: skein.lab for skein in result.skeins}
    yarn = _mean_lab([lab[number] for number in way.skeins])
    goal = _mean_lab([lab[number] for number in way.beside]) if way.beside else result.target
    if goal is None:
        return way
    whole = replace(bench, dry_g=bench.dry_g * len(way.skeins))
    try:
        recipe = addition(yarn, goal, whole)
    except (InputError, NoMatchError) as error:
        return topped_up_by_eye(way, error.message)
    if recipe is None or recipe.de00 > WORTH_IT_FRAC * float(delta_e00(goal, yarn)):
        return topped_up_by_eye(way, "no dye that has a swatch brings it nearer")
    return _with_recipe(way, recipe, goal, _band(recipe, way, result), whole)


def _mean_lab(labs: ArrayLike) -> Lab:
    lightness, red_green, yellow_blue = np.asarray(labs, float).mean(axis=0).tolist()
    return lightness, red_green, yellow_blue


def _doubt_de00(way: Way, result: JudgeResult) -> float:
    """Return how unsure the photo leaves what the yarn is off now, ΔE00."""
    if not way.beside:
        aimed = [skein.to_target for skein in result.skeins if skein.id in way.skeins]
        return max(target.high - target.de00 for target in aimed if target is not None)
    both = {*way.skeins, *way.beside}
    of = [pair for pair in result.pairs if {pair.a, pair.b} <= both and {pair.a, pair.b} & set(way.skeins)]
    return max(pair.high - pair.de00 for pair in of)


def addition(yarn: Lab, goal: Lab, bench: ToppingUp) -> Recipe | None:
    """Return what to add to yarn: of the dyes that it was dyed with where they do, else of any on the shelf."""
    start, end = _as_dyed(yarn, goal, bench)
    for left_out in dict.fromkeys([_others(bench), frozenset[str]()]):
        found = overdye_on(bench.shelf, start, end, how=_search(bench, left_out))
        best = found.recipes[0] if found.reachable and found.recipes else None
        if best is not None:
            break
    best = best or min(found.recipes, key=lambda recipe: recipe.de00, default=None)
    return None if best is None else replace(best, lab=_moved(best.lab, end.lab, goal))


def _others(bench: ToppingUp) -> frozenset[str]:
    """Return the dyes of the shelf that the skein was not dyed with; none where it is not known."""
    names = frozenset(bench.shelf.dyes)
    return names - set(bench.own_dyes) if names & set(bench.own_dyes) else frozenset()


def _search(bench: ToppingUp, left_out: frozenset[str]) -> Search:
    least = dict.fromkeys(bench.shelf.dyes, LEAST_STOCK_G / bench.dry_g)
    limits = Limits(max_dyes=MOST_DYES_ADDED, never_use=left_out, apart=bench.apart, least_owf=least)
    return Search(limits, weighing=Weighing(fibre_mass_g=bench.dry_g, scale_resolution_g=bench.scale_g))


def _as_dyed(yarn: Lab, goal: Lab, bench: ToppingUp) -> tuple[Target, Target]:
    """Return the skein and what it is to come to; as a curve of its own dyes where these come near it.

    The photo's colours are less sure than the difference between two of them: where the curve misses the skein's
    colour, the goal is moved along with it.
    """
    if not set(bench.own_dyes) & set(bench.shelf.dyes):
        return Target(yarn), Target(goal)
    limits = Limits(max_dyes=MOST_DYES_ADDED, never_use=_others(bench))
    found = match_on(bench.shelf, Target(yarn), how=Search(limits))
    nearest = min(found.recipes, key=lambda recipe: recipe.de00)
    if nearest.de00 > OWN_DYES_DE00:
        return Target(yarn), Target(goal)
    curve = predict(bench.shelf, depth_vector(bench.shelf, depths_of(nearest)))
    return Target(nearest.lab, curve), Target(_moved(goal, yarn, nearest.lab))


def _moved(lab: Lab, start: Lab, end: Lab) -> Lab:
    """Return a colour moved as from one to another."""
    return lab[0] + end[0] - start[0], lab[1] + end[1] - start[1], lab[2] + end[2] - start[2]


def _band(recipe: Recipe, way: Way, result: JudgeResult) -> tuple[float, float, float]:
    """Return what would be left, ΔE00: the foretold rest with the doubt of the pot and that of the photo."""
    doubt = float(np.hypot(recipe.de00_95, _doubt_de00(way, result)))
    return max(0.0, recipe.de00 - doubt), recipe.de00, recipe.de00 + doubt


def _with_recipe(way: Way, recipe: Recipe, goal: Lab, left: tuple[float, float, float], bench: ToppingUp) -> Way:
    dyes = tuple(_added(dye, bench) for dye in recipe.dyes)
    liquor_l = LIQUOR_L_KG * bench.dry_g / 1000
    top_up = TopUp(dyes, bench.dry_g, liquor_l, recipe.lab, shown_hex(recipe.lab), shown_hex(goal))
    goal_words = listed(way.beside) if way.beside else "the target"
    sentence = (
        f"{of_skeins(way.skeins).capitalize()}, wetted out, into a fresh bath with acid and heat as when dyed, to come "
        f"to {goal_words}. Dye one snip first, dry it and compare."
    )
    return replace(way, sentence=sentence, foretold_de00=left, top_up=top_up)


def _added(dye: MixDye, bench: ToppingUp) -> TopUpDye:
    depth_owf = dye.depth_percent / 100
    dose = dose_of(dye.name, depth_owf, bench.dry_g, bench.scale_g)
    stock = dose.label.removeprefix(f"{dye.name}, as ")
    amount = dose.amount if stock == dose.label else f"{dose.amount} of {stock}"
    return TopUpDye(dye.name, dye.depth_percent, depth_owf * bench.dry_g, amount)


def topped_up_by_eye(way: Way, why: str) -> Way:
    """Return the way of topping up without a recipe, saying why."""
    return replace(way, sentence=f"{way.sentence} By eye, for {why.rstrip('.')}.")
