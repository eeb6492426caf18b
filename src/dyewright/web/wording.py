"""Numbers and moments as a page says them: template filters."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from uuid import uuid4

from dyewright import units
from dyewright.services import paper
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["FILTERS"]


def _one_decimal(value: float | None) -> str:
    return "not known" if value is None else f"{value:.1f}"


def _day(moment: date | str | None) -> str:
    """Return a day as "12 March 2026", in the machine's own time zone."""
    if moment is None:
        return ""
    when = datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    local = when.astimezone() if isinstance(when, datetime) else when
    return f"{local.day} {local:%B %Y}"


def _clock(moment: datetime | str | None) -> str:
    """Return a time of day as "14:05", in the machine's own time zone."""
    if moment is None:
        return ""
    when = datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return f"{when.astimezone():%H:%M}"


def _local_minute(moment: datetime) -> str:
    """Return a moment as a form's field of day and time holds it, in the machine's own time zone."""
    return f"{moment.astimezone():%Y-%m-%dT%H:%M}"


def _local_day(moment: datetime) -> str:
    """Return a moment's day as a form's field of a day holds it, in the machine's own time zone."""
    return f"{moment.astimezone():%Y-%m-%d}"


def _fresh_id(_: object = None) -> str:
    """Return a new identifier, so that a form sent twice is recorded once."""
    return str(uuid4())


def _now(_: object = None) -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _without_place(message: str) -> str:
    """Return an error's sentence without the place in a card's file, "[[pot]] volume": on a page the label says it."""
    return re.sub(r"^\[+\w+\]+ \w+(?: =)? (?=')", "", message)


FILTERS: dict[str, Callable[..., object]] = {
    "clock": _clock,
    "day": _day,
    "step_clock": paper.step_clock,
    "colour_words": shown_words,
    "fresh_id": _fresh_id,
    "local_day": _local_day,
    "local_minute": _local_minute,
    "now": _now,
    "one": _one_decimal,
    "percent": units.show_percent,
    "sentence": _without_place,
    "temperature": units.show_temperature,
    "volume": units.show_volume,
    "hex": shown_hex,
    "mass": units.show_mass,
    "duration": units.show_duration,
}
