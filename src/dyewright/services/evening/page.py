"""The pages of swatch evenings: the list, one evening with its sheet or what came of it, the cards to keep."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from dyewright.core.model import Evening
from dyewright.errors import InputError
from dyewright.records import evenings as records_of
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.evening.outcome import JarOutcome, outcomes, surer
from dyewright.services.evening.sheet import sheet_of
from dyewright.services.recipes import recipe_text
from dyewright.services.shown import shown_hex, swatch_lab
from dyewright.services.swatches.from_photo import Z95
from dyewright.sheets.evening import SwatchCard, cards_pdf

__all__ = ["evening_page", "evenings_page", "print_cards"]


@dataclass(frozen=True)
class EveningLine:
    """An evening as the list shows it; `hexes` are the colours that came out, "transparent" where none did yet."""

    id: int | None
    name: str
    held_on: date
    base: str
    jars: int
    kept: int
    hexes: tuple[str, ...]


def evenings_page(session: Session) -> dict[str, object]:
    """Return every swatch evening, the latest first."""
    names = {base.id: base.name for base in shelf.bases(session)}
    colours = {one.id: shown_hex(swatch_lab(one)) for one in swatches_of.swatches(session)}
    return {"evenings": [_line(one, names[one.base_id], colours) for one in records_of.evenings(session)]}


def _line(one: Evening, base: str, colours: Mapping[int | None, str]) -> EveningLine:
    hexes = tuple(colours[jar.swatch_id] for jar in one.jars if jar.swatch_id in colours)
    return EveningLine(one.id, one.name, one.held_on, base, len(one.jars), len(hexes), hexes)


def evening_page(session: Session, evening_id: int, typed: Mapping[str, str] | None = None) -> dict[str, object]:
    """Return one evening: what came of it, its sheet, and what was typed of pot, jars and acid."""
    planned = records_of.evening(session, evening_id)
    came_out = outcomes(session, planned)
    view: dict[str, object] = {
        "evening": planned,
        "base_yarn": shelf.base(session, planned.base_id),
        "outcomes": came_out,
        "kept": sum(one.lab is not None for one in came_out),
        "verdict": _verdict(came_out),
        "surer": surer(session, planned),
        "pots": [(str(one.id), one.name) for one in shelf.vessels(session)],
        "typed": planned.set_up if typed is None else typed,
        "sheet": None,
        "error": None,
    }
    try:
        view["sheet"] = sheet_of(session, evening_id)
    except InputError as error:
        view["error"] = error
    return view


def _verdict(came_out: list[JarOutcome]) -> str:
    """Return what came of an evening in one sentence."""
    held = [one for one in came_out if one.de00 is not None and one.band is not None]
    if not held:
        return "The first of their kind: nothing was foretold."
    within = sum(one.is_as_foretold for one in held)
    worst = max(held, key=lambda one: one.de00 or 0.0)
    if within == len(held):
        return "All came out as foretold." if len(held) > 1 else "It came out as foretold."
    return f"{within} of {len(held)} came out as foretold; jar {worst.jar.number} is farthest off."


def print_cards(session: Session, evening_id: int) -> bytes:
    """Return the retained cards of an evening as PDF: those whose colour is known.

    Raises:
        InputError: no jar has its swatch yet.
    """
    planned = records_of.evening(session, evening_id)
    base = shelf.base(session, planned.base_id).name
    lots = {one.id: one.dye_lots for one in swatches_of.swatches(session)}
    cards = [
        _card(planned, base, one, lots.get(one.jar.swatch_id, {}))
        for one in outcomes(session, planned)
        if one.lab is not None
    ]
    if not cards:
        raise InputError(
            "no jar has its swatch yet: judge the dried skeins first, then print their cards", field="jars"
        )
    return cards_pdf(planned.name, cards)


def _card(planned: Evening, base: str, one: JarOutcome, lots: Mapping[str, str]) -> SwatchCard:
    lightness, a, b = one.lab or (0.0, 0.0, 0.0)
    sure = "" if one.noise_de00 is None else f", ± {Z95 * one.noise_de00:.1f}"
    return SwatchCard(
        number=one.jar.number,
        recipe=recipe_text(one.jar.recipe_owf),
        base=base,
        dyed_on=f"{planned.held_on.day} {planned.held_on:%B %Y}",
        lots="; ".join(f"{name}: tub {lot}" for name, lot in lots.items()),
        measured=f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f}{sure} ({one.source}; D65, 10°)".replace("-", "\u2212"),
        words=one.words,
        hex=one.hex or "#888888",
        seat=one.jar.seat,
    )
