"""How the swatches of a shelf hold together: each dye's build-up, and how far each swatch is from the others' word."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.mixing import ShelfModel, build_up
from dyewright.core.mixing.check import Mishap, Suspect, left_out_by_dye
from dyewright.core.model import Swatch
from dyewright.errors import InputError
from dyewright.records import swatches as swatches_of
from dyewright.services.recipes import recipe_text
from dyewright.services.shelf_model import checked, fitted, usable_swatches
from dyewright.services.shown import shown_hex, swatch_lab

__all__ = ["Doubt", "DyeHealth", "Health", "SwatchCheck", "health", "swatch_check"]

ONE, TWO = 0.01, 0.02  # depths between which a build-up is put into words


@dataclass(frozen=True)
class DyeHealth:
    """What is known of a dye, in sentences: how its swatches were foretold from the others, and its build-up."""

    left_out: str
    law: str


@dataclass(frozen=True)
class Doubt:
    """A swatch that disagrees with the others, and the sentence that says how; its id is None for a base's own."""

    id: int | None
    sentence: str


@dataclass(frozen=True)
class Health:
    """How the swatches of a shelf hold together. `trouble` says what was left out of the fit, or why there is none."""

    verdict: str
    dyes: Mapping[str, DyeHealth]
    suspects: tuple[Doubt, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class SwatchCheck:
    """A swatch beside what the others foretell of it; `foretold_hex` is empty where they foretell nothing."""

    sentence: str
    hex: str
    foretold_hex: str = ""


def health(session: Session) -> Health:
    """Return how the swatches on record hold together; what cannot be fitted is said, not raised."""
    usable = usable_swatches(session)
    try:
        model = fitted(usable.swatches, lots=usable.lots, blends=usable.blends)
    except InputError as error:
        return Health("Nothing can be held against one another yet.", {}, trouble=f"Why: {error.message}.")
    found, odd = checked(usable)
    means = left_out_by_dye(found, model.dyes)
    doubts = tuple(_doubt(usable.swatches[one.found.place], one) for one in odd)
    return Health(
        verdict=_verdict(len(found), len(doubts)),
        dyes={
            name: DyeHealth(_left_out_words(means[name]), _law(model, place)) for place, name in enumerate(model.dyes)
        },
        suspects=doubts,
        trouble=" ".join(f"{note[0].upper()}{note[1:]}." for note in usable.left_out),
    )


def swatch_check(session: Session, swatch_id: int) -> SwatchCheck:
    """Return how one swatch stands to what the others foretell of it."""
    swatch, usable = swatches_of.swatch(session, swatch_id), usable_swatches(session)
    own_hex = shown_hex(swatch_lab(swatch))
    found, odd = checked(usable) if any(one.depths_owf for one in usable.swatches) else ((), ())
    of_place = {one.place: one for one in found if usable.swatches[one.place].id == swatch_id}
    doubt = next((_doubt(swatch, one) for one in odd if one.found.place in of_place), None)
    for one in of_place.values():
        usual = f"It is {one.de00:.1f} ΔE00 from what the others foretell; {one.expected_de00:.1f} is usual."
        return SwatchCheck(doubt.sentence if doubt else usual, own_hex, shown_hex(one.foretold))
    return SwatchCheck(
        "An undyed yarn is what the others are added to."
        if not swatch.depths_owf
        else "No other swatch tells of its dyes, so nothing can be held against it yet.",
        own_hex,
    )


def _verdict(looked_at: int, doubts: int) -> str:
    if not looked_at:
        return "One swatch a dye: none can be held against another yet."
    if not doubts:
        return "The swatches agree with one another."
    return "One swatch disagrees with the others." if doubts == 1 else f"{doubts} swatches disagree with the others."


def _left_out_words(mean_de00: float | None) -> str:
    if mean_de00 is None:
        return "One swatch: nothing to hold it against yet."
    return f"Left out and foretold again: {mean_de00:.1f} ΔE00 on average."


def _doubt(swatch: Swatch, odd: Suspect) -> Doubt:
    """Return what a swatch's disagreement is, with its likeliest cause as a question."""
    day = f" of {swatch.dyed_on.day} {swatch.dyed_on:%B %Y}" if swatch.dyed_on else ""
    which = f"The swatch{day}, {recipe_text(swatch.depths_owf)} on {swatch.base},"
    off = f"is {odd.found.de00:.1f} ΔE00 from what the others foretell; {odd.found.expected_de00:.1f} is usual."
    return Doubt(swatch.id, f"{which} {off} {_question(swatch, odd)}")


def _question(swatch: Swatch, odd: Suspect) -> str:
    match odd.mishap:
        case Mishap.WEIGHING if odd.other is None and len(swatch.depths_owf) > 1:
            return f"It looks as if all of it were {odd.depth_factor:.2g} times as deep: weighing?"
        case Mishap.WEIGHING:
            name = odd.other or next(iter(swatch.depths_owf))
            looks = units.show_percent(float(f"{swatch.depths_owf[name] * odd.depth_factor:.2g}"))
            return f"It looks as if {name} were at {looks}: weighing?"
        case Mishap.OTHER_BASE:
            return f"It looks as it would on {odd.other}: another base?"
        case Mishap.OTHER_DYE:
            return f"It looks as {odd.other} would: another jar?"
    return "Was it weighed, labelled, dried and read as the others were?"


def _law(model: ShelfModel, place: int) -> str:
    """Return a dye's build-up in words: what twice the depth gives."""
    depths = [[0.0] * len(model.dyes) for _ in range(2)]
    depths[0][place], depths[1][place] = ONE, TWO
    once, twice = build_up(model, depths)[:, place]
    gain = f"from {units.show_percent(ONE)} to {units.show_percent(TWO)} its colour gains {twice / once:.2g} times"
    return f"Build-up fitted: {gain}." if model.is_bend_fitted[place] else f"Build-up held at the usual: {gain}."
