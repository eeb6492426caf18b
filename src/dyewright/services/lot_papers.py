"""What is printed with a lot: the card for its snips, the labels of its skeins, and the buyer's caution on them."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import Base, Basis, ChartKind, EventKind, Judgement, Lot, Run, Skein
from dyewright.core.progress import standing_events
from dyewright.errors import InputError, NotFoundError
from dyewright.records import colourways, lots, photos, runs, shelf
from dyewright.services.paper import fibre_words
from dyewright.services.shown import shown_hex, shown_words
from dyewright.sheets.lot_papers import SkeinLabel, SnipCard, SnipPlace, skein_labels_pdf, snip_card_pdf
from dyewright.sheets.pdf import qr_svg
from dyewright.units import show_mass, show_percent

__all__ = ["CAUTION_LIMIT", "print_labels", "print_snip_card", "write_caution"]

CAUTION_LIMIT = 120  # characters: two lines of a label


def print_snip_card(session: Session, lot_id: UUID, *, page_url: str) -> bytes:
    """Return the card for a lot's snips as PDF; the code on it leads back to the lot's page."""
    lot = lots.lot(session, lot_id)
    run = runs.run(session, lot.run_id)
    return snip_card_pdf(
        SnipCard(
            title=_name(session, run),
            subtitle=f"Lot {lot.name}, kept {_day(lot.kept_on)}",
            facts=_facts(session, run, lot),
            recipe=_recipe(run),
            judged=_judged(session, lot),
            places=[_place(skein) for skein in lot.skeins],
            footer=", ".join(filter(None, [_studio(session), f"lot {lot.name}", f"Dyewright {dyewright.__version__}"])),
            qr=qr_svg(page_url),
        )
    )


def print_labels(session: Session, lot_id: UUID) -> bytes:
    """Return the labels of a lot's skeins as PDF."""
    lot = lots.lot(session, lot_id)
    run = runs.run(session, lot.run_id)
    base = None if run.base_id is None else shelf.base(session, run.base_id)
    studio = _studio(session)
    name = _name(session, run)
    return skein_labels_pdf(
        f"Labels of lot {lot.name}", [_label(lot, skein, studio, name, base) for skein in lot.skeins]
    )


def write_caution(session: Session, lot_id: UUID, number: int, caution: str) -> None:
    """Write the sentence for the buyer onto the label of a skein; an empty one takes it off.

    Raises:
        InputError: it is longer than a label holds.
        NotFoundError: the lot, or the skein in it, is not in the studio.
    """
    text = " ".join(caution.split())
    if len(text) > CAUTION_LIMIT:
        raise InputError(
            f"the caution of skein {number} is {len(text)} characters long, a label holds {CAUTION_LIMIT}: shorten it",
            field=f"caution_{number}",
            value=len(text),
            limit=CAUTION_LIMIT,
        )
    lots.write_caution(session, lot_id, number, text)


def _studio(session: Session) -> str:
    """Return whose papers these are; the demo's say that nothing on them is real."""
    settings = shelf.studio_settings(session)
    if settings is None:
        return ""
    return f"{settings.name} (invented data)" if settings.is_demo else settings.name


def _name(session: Session, run: Run) -> str:
    """Return what the colour is called: its colourway's name, else the run's title."""
    if run.colourway_id is None:
        return run.title
    try:
        return colourways.colourway(session, run.colourway_id).name
    except NotFoundError:  # the colourway was taken away since
        return run.title


def _facts(session: Session, run: Run, lot: Lot) -> list[tuple[str, str]]:
    sheet: Mapping[str, Any] = run.sheet
    base = None if run.base_id is None else shelf.base(session, run.base_id)
    happened = [event.happened_at for event in standing_events(run.events) if event.kind is EventKind.STARTED]
    dyed = [("Dyed", _day(min(happened)))] if happened else []
    yarn = [] if base is None else [("Base", base.name), ("Fibres", _fibres(base))]
    liquor = [("Liquor", f"{sheet['liquor_ratio']:.0f} : 1")] if sheet.get("liquor_ratio") else []
    skeins = [("Skeins", f"{len(lot.skeins)}, {show_mass(sheet['dry_g'])} dry in all")]
    return [("Run", f"{run.number}, {run.title}"), *dyed, *yarn, *skeins, *liquor]


def _recipe(run: Run) -> list[tuple[str, str, str]]:
    sheet: Mapping[str, Any] = run.sheet
    dyes = [(dye["name"], show_percent(dye["depth_owf"]), show_mass(dye["dye_g"])) for dye in sheet.get("dyes", ())]
    helpers = [(one["name"], f"{one['amount']:.3g} {one['unit']}", one["when"]) for one in sheet.get("assistants", ())]
    return [*dyes, *helpers]


def _judged(session: Session, lot: Lot) -> str:
    """Return who read the colours, and how well."""
    if all(skein.lab is None for skein in lot.skeins):
        return "The colours were not judged: the snips alone tell."
    if lot.judgement_id is None:
        return "L*, a*, b* are for daylight (D65, 10°); how they were read, and how well, is not on record."
    return _judged_by(photos.judgement(session, lot.judgement_id))


def _judged_by(judgement: Judgement) -> str:
    result: Mapping[str, Any] = judgement.result
    chart, day = result["chart"], _day(judgement.judged_at)
    if result.get("basis") == Basis.RELATIVE:
        return (
            f"Judged by photo on {day} without a chart: the figures are the camera's own, only their differences count."
        )
    kind = chart.get("kind", ChartKind.PATCHES)
    error = chart.get("left_out_de00_median")
    if error is None:
        return f"Judged by photo on {day} against a {kind}: L*, a*, b* for daylight (D65, 10°), the hue less sure."
    return (
        f"Judged by photo on {day} through a chart: L*, a*, b* for daylight (D65, 10°). The chart's own patches were "
        f"read to {error:.1f} ΔE00, yarn to about twice that."
    )


def _place(skein: Skein) -> SnipPlace:
    mass = "" if skein.mass_g is None else show_mass(float(skein.mass_g))
    together = "" if skein.matching_set is None else f"set {skein.matching_set}"
    return SnipPlace(
        number=str(skein.number),
        swatch_hex=None if skein.lab is None else shown_hex(skein.lab),
        lab="" if skein.lab is None else _lab(skein.lab),
        words="" if skein.lab is None else shown_words(skein.lab),
        detail=", ".join(part for part in (mass, together) if part),
    )


def _label(lot: Lot, skein: Skein, studio: str, name: str, base: Base | None) -> SkeinLabel:
    return SkeinLabel(
        studio=studio,
        name=name,
        base="" if base is None else base.name,
        fibres="" if base is None else _fibres(base),
        mass="" if skein.mass_g is None else show_mass(float(skein.mass_g)),
        lot=f"Lot {lot.name}, skein {skein.number}",
        together="" if skein.matching_set is None else f"goes with set {skein.matching_set}",
        caution=skein.caution,
    )


def _fibres(base: Base) -> str:
    return fibre_words(base.fibre_frac, is_superwash=base.is_superwash)


def _lab(lab: tuple[float, float, float]) -> str:
    return "  ".join(f"{value:.1f}" for value in lab).replace("-", "−")


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
