"""Doubts about what was seen, as questions to whoever stands at the pot: which entry is meant, and what it may be."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from dyewright.core.model import Doubt, EventKind, Progress
from dyewright.services._events import ABOUT

__all__ = ["AskedDoubt", "AskedWay", "open_doubts"]

NAMED = re.compile(r"(?P<thing>clarity|temperature|pH|rinses)(?: at (?P<at>[\d.]+)\s*(?P<unit>min|°C))?", re.IGNORECASE)
IN_FAHRENHEIT = re.compile(r"it was (\d+) °F")
SETTLING = {"undo", "reread"}
SAME_MIN, SAME_C = 0.6, 0.6  # a doubt names its reading in whole minutes and degrees


@dataclass(frozen=True)
class AskedWay:
    """One answer: what its button says, the kind that a tap sends, and its value."""

    words: str
    kind: str
    value: str


@dataclass(frozen=True)
class AskedDoubt:
    """A doubt with the entry that it is about; `event_id` is None where that cannot be told.

    `ways` are the answers that change or confirm the entry, `others` what else may have happened.
    """

    reading: str
    question: str
    ways: tuple[AskedWay, ...]
    others: tuple[AskedWay, ...]
    event_id: UUID | None


@dataclass(frozen=True)
class _Entry:
    event_id: UUID
    thing: str
    at_min: float | None
    bath_c: float | None = None


def open_doubts(doubts: Iterable[Doubt], seen: Progress) -> tuple[AskedDoubt, ...]:
    """Return the doubts that nobody has answered, each with its entry, the one about the newest entry first."""
    answered = {str(event.detail.get(ABOUT)) for event in seen.standing if event.detail.get(ABOUT)}
    entries = list(_entries(seen))
    recorded: dict[UUID | None, tuple[datetime, datetime]] = {
        event.id: (event.recorded_at, event.happened_at) for event in seen.standing
    }
    asked = (_asked(doubt, entries) for doubt in doubts)
    still_open = [doubt for doubt in asked if str(doubt.event_id) not in answered]
    named = [doubt for doubt in still_open if doubt.event_id is not None]
    named.sort(key=lambda doubt: recorded[doubt.event_id], reverse=True)
    return (*named, *(doubt for doubt in still_open if doubt.event_id is None))


def _asked(doubt: Doubt, entries: list[_Entry]) -> AskedDoubt:
    entry = _entry_of(doubt, entries)
    ways = [_way(words, doubt.reading) for words in doubt.ways]
    if not any(_is_plain(way) for way in ways):
        ways.append(_way("it is right as noted", doubt.reading))
    settling = tuple(way for way in ways if way.kind in SETTLING or _is_plain(way))
    others = tuple(way for way in ways if way not in settling)
    return AskedDoubt(doubt.reading, doubt.question, settling, others, None if entry is None else entry.event_id)


def _is_plain(way: AskedWay) -> bool:
    """Whether an answer says that the entry is right."""
    return way.words.startswith("It is")


def _way(words: str, reading: str) -> AskedWay:
    """Return what an answer does: it takes the entry back, reads it in °F, records an addition, or is noted."""
    shown = words[:1].upper() + words[1:]
    if words.startswith("a slip"):
        return AskedWay(shown, "undo", "")
    if in_fahrenheit := IN_FAHRENHEIT.match(words):
        return AskedWay(shown, "reread", f"{in_fahrenheit[1]} F")
    return AskedWay(shown, "dye" if words == "dye was added" else "answer", f"{reading}: {words}")


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
