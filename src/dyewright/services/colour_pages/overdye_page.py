"""The page of over-dyeing: yarn as it is, a target, and the additions that lead there, or why none does."""

from dataclasses import dataclass
from urllib.parse import urlencode

from sqlalchemy.orm import Session

from dyewright.core.matching import Weighing
from dyewright.core.model import Overdye
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.bench import Asked, Bench, bench_of
from dyewright.services.colour_pages.slips import Slip, slips_of
from dyewright.services.colour_targets import Wanted, colour_chips, lab_text, wanted_colour
from dyewright.services.company import kept_apart
from dyewright.services.limits_form import limits_of
from dyewright.services.matching import Search
from dyewright.services.mix_doses import plan_query
from dyewright.services.overdyeing import STRIPPING, overdye_on
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["OverdyePage", "overdye_page", "overdye_view"]


@dataclass(frozen=True)
class OverdyePage:
    """What over-dyeing comes to.

    `slips` lead to the planning page. `stripping` is the caution where stripping is spoken of; `darker_query` leads to
    the nearest darker target that is reached, shown as `darker_hex`.
    """

    found: Overdye
    have: Wanted
    best_hex: str | None
    best_words: str
    advice: tuple[str, ...]
    stripping: str | None
    slips: tuple[Slip, ...]
    darker_query: str | None
    darker_hex: str | None


def overdye_view(session: Session) -> dict[str, object]:
    """Return what the yarn as it is can be taken from: lots and swatches on record, and the bases below."""
    lots, swatches = colour_chips(session)
    return {"bases": [base.name for base in shelf_of.bases(session)], "lot_colours": lots, "swatch_colours": swatches}


def overdye_page(session: Session, asked: Asked) -> OverdyePage | None:
    """Return what over-dyeing comes to; None while the yarn or the colour wanted is still to be said.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    if not asked.get("have", "").strip() or not asked.get("target", "").strip():
        return None
    have = wanted_colour(session, asked.get("have", ""), field="have")
    bench = bench_of(session, asked)
    found = overdye_on(bench.shelf.model, have.target, bench.wanted.target, how=_search(bench))
    best = found.recipes[0] if found.recipes else None
    base_id = bench.base.id if bench.base else None
    is_stripped = STRIPPING in found.advice
    darker = {**asked, "target": lab_text(found.darker_lab)} if found.darker_lab else None
    return OverdyePage(
        found=found,
        have=have,
        best_hex=best.hex if best else None,
        best_words=shown_words(best.lab) if best else "",
        advice=tuple(sentence for sentence in found.advice if sentence != STRIPPING),
        stripping=STRIPPING if is_stripped else None,
        slips=slips_of(found, {}, bench.dry_g, lambda mix: plan_query(mix, bench.dry_g, base_id)),
        darker_query=urlencode(darker) if darker else None,
        darker_hex=shown_hex(found.darker_lab) if found.darker_lab else None,
    )


def _search(bench: Bench) -> Search:
    """Return how additions are looked for: within what is on the shelf, and what can be measured for this yarn."""
    names = bench.shelf.model.dyes
    apart = kept_apart([tub for tub in bench.tubs if tub.name in names])
    limits = limits_of({}, names, bench.settings, apart, tubs=bench.tubs, dry_g=bench.dry_g, base=bench.base)
    weighing = Weighing(fibre_mass_g=bench.dry_g, scale_resolution_g=bench.settings.scale_resolution_g)
    return Search(limits, weighing=weighing)
