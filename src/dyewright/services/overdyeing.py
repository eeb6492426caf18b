"""Over-dyeing: from yarn as it is to a target by additions only, or why that cannot be."""

import time
from collections.abc import Sequence
from dataclasses import fields, replace

from dyewright.core.colour import (
    colour_words,
    delta_e00,
    difference_words,
    display_hex,
    lch_from_lab,
)
from dyewright.core.matching import REACHED_DE00, Target, failing_parts, lightest_reached, search
from dyewright.core.mixing import ShelfModel, fit_shelf, over_yarn, over_yarn_of_lab
from dyewright.core.model import Basis, Lab, Match, Overdye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import NoMatchError
from dyewright.services.matching import Search, match_on

__all__ = ["STRIPPING", "overdye", "overdye_on"]

LIGHTER_L = 1.0  # a target lighter than the yarn by this much of L* cannot be reached by dyeing (estimate)
STRIPPING = (
    "stripping takes a hot reducing bath, whose fumes hurt the lungs and which harms wool: follow the maker's safety "
    "sheet, ventilate, try one strand first"
)


def overdye(
    swatches: Sequence[Swatch], yarn: Target, target: Target, *, base: str | None = None, how: Search | None = None
) -> Overdye:
    """Return the recipes of additions that take dyed yarn to a target, from the swatches of a shelf.

    Args:
        swatches: of the undyed bases and the dyes.
        yarn: the colour of the yarn as it is.
        target: the colour to reach.
        base: the yarn below its dye; the one with most swatches where None.
        how: limits, number of recipes, prices, and how doses are weighed.

    Raises:
        InputError: a base without its undyed colour, limits that cannot be, or a colour that no yarn can have.
    """
    tables = load_observer_tables()
    start = time.perf_counter()
    shelf = fit_shelf(swatches, tables, base=base)
    fit_seconds = time.perf_counter() - start
    return replace(overdye_on(shelf, yarn, target, how=how), fit_seconds=fit_seconds)


def overdye_on(shelf: ShelfModel, yarn: Target, target: Target, *, how: Search | None = None) -> Overdye:
    """Return the recipes of additions that take dyed yarn to a target, from dyes already fitted."""
    how = how or Search()
    tables = load_observer_tables()
    name = f"{shelf.base}, dyed already"
    if yarn.reflectance is not None:
        over = over_yarn(shelf, yarn.reflectance, name)
    else:
        over = over_yarn_of_lab(shelf, yarn.lab, name, tables)
    is_there = float(delta_e00(target.lab, yarn.lab)) <= REACHED_DE00
    match = (None if is_there else _match_over(over, target, how)) or _without_recipe(over, yarn, target)
    darker = None if match.reachable else lightest_reached(over, target, tables, how.limits)
    undyed_de00 = 0.0 if match.reachable else float(search(shelf, target, tables, how.limits).de00.min())
    return Overdye(
        **{one.name: getattr(match, one.name) for one in fields(Match)},
        from_lab=yarn.lab,
        from_words=colour_words(yarn.lab),
        from_hex=display_hex(yarn.lab, tables.whites["D65", 10]),
        advice=_advice(yarn, target, match, darker, undyed_de00),
        darker_lab=darker,
    )


def _match_over(over: ShelfModel, target: Target, how: Search) -> Match | None:
    """Return the match; None where no addition brings the yarn nearer."""
    try:
        found = match_on(over, target, how=how)
    except NoMatchError:
        return None
    note = "what lies in the yarn is taken as it looks, whichever dyes it holds: over-dye one snip first"
    return replace(found, notes=(note, *found.notes))


def _without_recipe(over: ShelfModel, yarn: Target, target: Target) -> Match:
    off = float(delta_e00(target.lab, yarn.lab))
    verdict = (
        f"It is there already: the yarn lies ΔE00 {off:.1f} from the target. Dye nothing."
        if off <= REACHED_DE00
        else f"Out of reach by ΔE00 {off:.1f}: {', '.join(failing_parts(target.lab, yarn.lab))}. "
        "Nothing on this shelf brings the yarn nearer."
    )
    return Match(
        target_lab=target.lab,
        target_words=colour_words(target.lab),
        target_hex=display_hex(target.lab, load_observer_tables().whites["D65", 10]),
        base=over.base,
        recipes=(),
        reachable=off <= REACHED_DE00,
        verdict=verdict,
        combinations=0,
        seconds=0.0,
        fit_seconds=0.0,
        basis=Basis.FITTED,
        notes=over.notes,
    )


def _advice(yarn: Target, target: Target, match: Match, darker: Lab | None, undyed_de00: float) -> tuple[str, ...]:
    """Return what to do, in sentences."""
    if match.reachable and not match.recipes:
        return ("leave the yarn as it is",)
    if match.reachable:
        return ("weigh the additions for the yarn's dry weight, as on undyed yarn",)
    sentences = []
    if undyed_de00 <= REACHED_DE00 or _is_lighter(yarn, target):
        helps = "only stripping part of it, or a darker target, helps"
        sentences = [f"{_hindrance(yarn, target, match)}: {helps}", STRIPPING]
    if undyed_de00 > REACHED_DE00:
        short = f"on undyed yarn too the shelf comes no nearer than ΔE00 {undyed_de00:.1f}"
        sentences.append(f"{short}: stripping alone does not help, another dye or target does")
    if darker is None:
        return (*sentences, "no darker colour of the target's hue is in reach either")
    wanted, had = (float(lch_from_lab(lab)[1]) for lab in (target.lab, darker))
    chroma = "chroma" if had >= 0.99 * wanted else f"{100 * had / wanted:.0f} % of its chroma"  # never so for a grey
    lab = " ".join(f"{value:.1f}" for value in darker)
    found = f"the lightest colour of the target's hue and {chroma} in reach is lab {lab}, {colour_words(darker)}"
    return (*sentences, f"{found}: L* {target.lab[0] - darker[0]:.0f} darker")


def _is_lighter(yarn: Target, target: Target) -> bool:
    return target.lab[0] - yarn.lab[0] > LIGHTER_L


def _hindrance(yarn: Target, target: Target, match: Match) -> str:
    if _is_lighter(yarn, target):
        levels = f"L* {target.lab[0]:.0f} against {yarn.lab[0]:.0f}"
        return f"the target is lighter than the yarn ({levels}), and dye only darkens"
    nearest = min((recipe.de00, recipe.lab) for recipe in match.recipes)[1] if match.recipes else yarn.lab
    return f"what lies in the yarn shows through (the nearest is {difference_words(target.lab, nearest)})"
