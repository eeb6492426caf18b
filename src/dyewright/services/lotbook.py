"""The lot book: finding what was dyed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite, nan
from typing import Any

from sqlalchemy.orm import Session

from dyewright.core.colour import lab_from_display_hex, light_of
from dyewright.core.model import EventKind, Lab, Lot, LotSummary, Run
from dyewright.core.progress import standing_events
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import colourways, lots, shelf
from dyewright.services.shown import shown_words

__all__ = ["LotSearch", "search", "search_from_form", "search_text"]

WITHIN_DE76 = 12.0  # about "the same sort of colour"; estimate


@dataclass(frozen=True)
class LotSearch:
    """What is looked for; None and empty do not narrow the search."""

    words: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    near: Lab | None = None
    within_de76: float = WITHIN_DE76


def search(session: Session, asked: LotSearch) -> list[LotSummary]:
    """Return the lots that answer, nearest colour first where one is asked for, else newest first."""
    return lots.search_lots(
        session,
        words=asked.words,
        since=asked.since,
        until=asked.until,
        near=asked.near,
        within_de76=asked.within_de76,
    )


def search_from_form(typed: Mapping[str, str]) -> LotSearch:
    """Return the search that a form asks for: `words`, `since`, `until`, `near`.

    Raises:
        InputError: a day or a colour that cannot be read.
    """
    near = typed.get("near", "").strip()
    return LotSearch(
        words=tuple(typed.get("words", "").split()),
        since=_day(typed, "since"),
        until=_day(typed, "until"),
        near=_colour(near) if near else None,
    )


def search_text(session: Session, run: Run, lot: Lot) -> str:
    """Return all that a lot is to be found by: names, dyes, base, notes, and its colours in words."""
    dyes: Any = run.sheet.get("dyes", ())
    notes = [event.detail["text"] for event in standing_events(run.events) if event.kind is EventKind.NOTE]
    words = [
        lot.name,
        run.title,
        f"run {run.number}",
        lot.note,
        *(str(dye["name"]) for dye in dyes),
        *(str(note) for note in notes),
        *(skein.note for skein in lot.skeins),
        *sorted({shown_words(skein.lab) for skein in lot.skeins if skein.lab is not None}),
    ]
    if run.base_id is not None:
        words.append(shelf.base(session, run.base_id).name)
    if run.colourway_id is not None:
        words.append(colourways.colourway(session, run.colourway_id).name)
    return "\n".join(word for word in words if word)


def _day(typed: Mapping[str, str], field: str) -> date | None:
    text = typed.get(field, "").strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(f"“{text}” is not a day; write it like 2026-03-01", field=field, value=text) from None


def _colour(text: str) -> Lab:
    """A colour as "#4a7c80", as "lab 50 -20 -5" or as the three numbers alone."""
    try:
        if text.startswith("#"):
            _, white = light_of(load_observer_tables(), "D65", 10)
            numbers = [float(value) for value in lab_from_display_hex(text, white)]
        else:
            numbers = [float(part) for part in text.casefold().removeprefix("lab").split()]
        lightness, red_green, yellow_blue = numbers
    except ValueError:  # InputError is one too
        numbers = [nan]
    if not all(isfinite(number) for number in numbers):
        raise InputError(
            f"“{text}” is not a colour; write lab 50 -20 -5, or a screen colour like #4a7c80", field="near", value=text
        )
    return lightness, red_green, yellow_blue
