"""Doubts about what was seen, as questions to whoever stands at the pot: which entry is meant, and what it may be."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from uuid import UUID

from dyewright.core.model import Doubt, EventKind, Progress
from dyewright.services._events import ABOUT

__all__ = ["AskedDoubt", "open_doubts"]

NAMED = re.compile(r"(?P<thing>clarity|temperature|pH|rinses)(?: at (?P<at>[\d.]+)\s*(?P<unit>min|°C))?", re.IGNORECASE)
SAME_MIN, SAME_C = 0.6, 0.6  # a doubt names its reading in whole minutes and degrees


@dataclass(frozen=True)
class AskedDoubt:
    """A doubt with the entry that it is about; `event_id` is None where that cannot be told."""

    reading: str
    question: str
    ways: tuple[str, ...]
    event_id: UUID | None
    is_look: bool


@dataclass(frozen=True)
class _Entry:
    event_id: UUID
    thing: str
    at_min: float | None
    bath_c: float | None = None


def open_doubts(doubts: Iterable[Doubt], seen: Progress) -> tuple[AskedDoubt, ...]:
    """Return the doubts that nobody has answered, each with its entry."""
    answered = {str(event.detail.get(ABOUT)) for event in seen.standing if event.detail.get(ABOUT)}
    entries = list(_entries(seen))
    asked = (_asked(doubt, entries) for doubt in doubts)
    return tuple(doubt for doubt in asked if str(doubt.event_id) not in answered)


def _asked(doubt: Doubt, entries: list[_Entry]) -> AskedDoubt:
    entry = _entry_of(doubt, entries)
    is_look = doubt.reading.lower().startswith("clarity")
    return AskedDoubt(doubt.reading, doubt.question, doubt.ways, None if entry is None else entry.event_id, is_look)


def _entry_of(doubt: Doubt, entries: list[_Entry]) -> _Entry | None:
    named = NAMED.match(doubt.reading)
    if named is None:
        return None
    same = [entry for entry in entries if entry.thing == named["thing"].lower()]
    if named["at"] is None:
        return same[-1] if same else None
    at = float(named["at"])
    if named["unit"] == "min":
        near = [entry for entry in same if entry.at_min is not None and abs(entry.at_min - at) < SAME_MIN]
    else:
        near = [entry for entry in same if entry.bath_c is not None and abs(entry.bath_c - at) < SAME_C]
    return near[-1] if near else None


def _entries(seen: Progress) -> Iterator[_Entry]:
    bath_c = {event.id: event.detail.get("bath_c") for event in seen.standing if event.kind is EventKind.CLARITY}
    for look in seen.clarities:
        noted_c = bath_c.get(look.event_id)
        yield _Entry(look.event_id, "clarity", look.at_min, None if noted_c is None else float(str(noted_c)))
    for read in seen.temperatures:
        yield _Entry(read.event_id, "temperature", read.at_min)
    for ph in seen.phs:
        yield _Entry(ph.event_id, "ph", ph.at_min)
    for event in seen.standing:
        if event.kind is EventKind.RINSED:
            yield _Entry(event.id, "rinses", None)
