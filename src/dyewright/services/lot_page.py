"""The pages of the lot book: the search with what it found, and one lot."""

from collections.abc import Mapping
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Lot
from dyewright.errors import InputError
from dyewright.records import colourways, lots, runs, shelf
from dyewright.services import lotbook, running
from dyewright.services.run_page import lot_against_target
from dyewright.services.shown import shown_words
from dyewright.services.swatches.from_lot import lot_offer

__all__ = ["lot_page", "lots_page"]


def lots_page(session: Session, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the lot book shows for a search; one that cannot be read shows its sentence and finds nothing."""
    try:
        asked = lotbook.search_from_form(typed)
    except InputError as error:
        return {"lots": [], "typed": typed, "error": error, "near": None, "is_search": True}
    found = lotbook.search(session, asked)
    is_search = any(value.strip() for value in typed.values())
    return {"lots": found, "typed": typed, "error": None, "near": asked.near, "is_search": is_search}


def lot_page(session: Session, lot_id: UUID) -> dict[str, object]:
    """Return everything that a lot's page shows."""
    lot = lots.lot(session, lot_id)
    run = runs.run(session, lot.run_id)
    colourway = None if run.colourway_id is None else colourways.colourway(session, run.colourway_id)
    return {
        "lot": lot,
        "run": run,
        "base_yarn": None if run.base_id is None else shelf.base(session, run.base_id),
        "colourway": colourway,
        "against": lot_against_target(lot, colourway),
        "together": _together(lot),
        "photos": running.photos_of(session, run),
        "words": _colour_words(lot),
        "offer": lot_offer(session, lot),
    }


def _together(lot: Lot) -> str:
    """How the skeins of a lot hold together, as a sentence."""
    sets = sorted({skein.matching_set for skein in lot.skeins if skein.matching_set})
    members = {letter: [skein.number for skein in lot.skeins if skein.matching_set == letter] for letter in sets}
    if not sets:
        return "Not judged yet: how the skeins match is not known."
    if len(sets) == 1:
        return "One skein." if len(lot.skeins) == 1 else f"All {len(lot.skeins)} together."
    parts = [_numbers(numbers) + (" together" if len(numbers) > 1 else " alone") for numbers in members.values()]
    return "; ".join(parts).capitalize() + "."


def _numbers(numbers: list[int]) -> str:
    *before, last = map(str, numbers)
    return f"{', '.join(before)} and {last}" if before else last


def _colour_words(lot: Lot) -> str:
    """The colour of a lot in words, of its first judged skein."""
    return next((shown_words(skein.lab) for skein in lot.skeins if skein.lab is not None), "colour not judged")
