"""What was seen of a dyeing, as the forecast takes it: from the events of a run, and from words."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from dyewright.core.model import (
    ClarityAtHeat,
    ClarityReading,
    EventKind,
    Observed,
    PhReading,
    Progress,
    Sheet,
    TemperatureReading,
)
from dyewright.core.uptake import CLEAR_READING, CONTINUED_TO_MIN
from dyewright.errors import InputError
from dyewright.services.forecasting.inputs import hold_end_min
from dyewright.services.questions import SureLimits, ask_or_refuse, sure_limits
from dyewright.units import duration_min, frac, ph, temperature_c

__all__ = ["observed_in", "observed_in_words", "share_taken_up"]

EXAMPLES = "'21 min: 0.87', '68 C: 1/2', '25 min: 82 C', '5 min: pH 4.4' or 'rinses: 3'"
LADDER_SIGNS = {"½": "1/2", "¾": "3/4", "⅞": "7/8", "clear": str(CLEAR_READING), "start": "0"}
TEMPERATURE = re.compile(r"-?[\d.,]+\s*°?\s*[CFcf](elsius|ahrenheit)?")
PH = re.compile(r"p\s*h\b\s*", re.IGNORECASE)
NOT_PLANNED = sure_limits(None)


def observed_in(seen: Progress, sheet: Sheet) -> Observed:
    """Return what a run's events say of its bath, as far as the forecast reaches; its waters count however late."""
    last_min = max(CONTINUED_TO_MIN, hold_end_min(sheet))
    at_heat = {event.id: event.detail["bath_c"] for event in seen.standing if _is_at_heat(event.kind, event.detail)}

    def covered(at_min: float | None) -> float | None:
        return round(at_min, 2) if at_min is not None and 0 <= at_min <= last_min else None

    clarities = [(covered(look.at_min), look) for look in seen.clarities if look.event_id not in at_heat]
    temperatures = [(covered(read.at_min), read) for read in seen.temperatures]
    phs = [(covered(read.at_min), read) for read in seen.phs]
    return Observed(
        clarities=tuple(ClarityReading(at, look.exhaustion, look.sd_rungs) for at, look in clarities if at is not None),
        clarities_at_heat=tuple(
            ClarityAtHeat(float(str(at_heat[look.event_id])), look.exhaustion)
            for look in seen.clarities
            if look.event_id in at_heat
        ),
        temperatures=tuple(TemperatureReading(at, read.bath_c) for at, read in temperatures if at is not None),
        phs=tuple(PhReading(at, read.ph) for at, read in phs if at is not None),
        rinses=seen.rinses,
    )


def _is_at_heat(kind: EventKind, detail: object) -> bool:
    return kind is EventKind.CLARITY and isinstance(detail, dict) and detail.get("bath_c") is not None


def observed_in_words(texts: Iterable[str], *, limits: SureLimits = NOT_PLANNED) -> Observed:
    """Return what sentences such as "21 min: 7/8" or "rinses: 3" say together.

    Raises:
        InputError: one of them cannot be read, or says what can hardly be.
    """
    seen = Observed()
    for text in texts:
        seen = _with(seen, text, limits)
    return seen


def _with(seen: Observed, text: str, limits: SureLimits) -> Observed:
    when, colon, value = (part.strip() for part in text.partition(":"))
    if not colon or not value:
        raise InputError(
            f"'{text}' is not something seen: write when and what, for example {EXAMPLES}", field="observe", value=text
        )
    if when.lower() in {"rinses", "rinse", "waters"}:
        return replace(seen, rinses=_waters(value, text, limits))
    if TEMPERATURE.fullmatch(when):
        at_heat = ClarityAtHeat(_temperature(when, limits), share_taken_up(value, field="observe"))
        return replace(seen, clarities_at_heat=(*seen.clarities_at_heat, at_heat))
    at_min = duration_min(when, field="observe", thing="time of a reading")
    if TEMPERATURE.fullmatch(value):
        read = TemperatureReading(at_min, _temperature(value, limits))
        return replace(seen, temperatures=(*seen.temperatures, read))
    if PH.match(value):
        read_ph = ph(PH.sub("", value, count=1), field="observe")
        ask_or_refuse("ph", read_ph, limits, field="observe")
        return replace(seen, phs=(*seen.phs, PhReading(at_min, read_ph)))
    return replace(seen, clarities=(*seen.clarities, ClarityReading(at_min, share_taken_up(value, field="observe"))))


def _temperature(text: str, limits: SureLimits) -> float:
    bath_c = temperature_c(text, field="observe", thing="bath temperature")
    ask_or_refuse("temperature", bath_c, limits, field="observe")
    return bath_c


def _waters(value: str, text: str, limits: SureLimits) -> int:
    if not value.isascii() or not value.isdigit():
        raise InputError(
            f"'{text}': count the waters up to the first clear one, for example 'rinses: 3'", field="observe"
        )
    ask_or_refuse("rinsed", int(value), limits, field="observe")
    return int(value)


def share_taken_up(words: str, *, field: str, is_bare_percent: bool = False) -> float:
    """Return the share of the dye that is in the yarn, from "0.87", "87 %", "7/8", "⅞" or "clear".

    Args:
        words: what was typed.
        field: whose error it is.
        is_bare_percent: a number above 1 without a sign is percent, as a dyer writes it in a form.

    Raises:
        InputError: it is none of these, or not from nothing to all.
    """
    text = LADDER_SIGNS.get(words.strip().lower(), words.strip())
    share = frac(text, field=field, thing="share of dye taken up") if "%" in text else _ratio(text, words, field)
    if is_bare_percent and "%" not in text and "/" not in text and share > 1:
        share /= 100.0
    if not 0 <= share <= 1:
        raise InputError(
            f"{words} of the dye cannot be in the yarn: it goes from 0 (the start) to 1 (all of it)",
            field=field,
            value=words,
            limit=1,
        )
    return share


def _ratio(text: str, words: str, field: str) -> float:
    parts: Sequence[str] = text.replace(" ", "").replace(",", ".").split("/")
    try:
        return (
            float(Fraction(parts[0]) / Fraction(parts[1]))
            if len(parts) == 2
            else float(Fraction(text.replace(",", ".")))
        )
    except (ValueError, ZeroDivisionError) as error:
        raise InputError(
            f"'{words}' is no share of the dye; write 7/8, 87 % or 0.87", field=field, value=words, limit=1
        ) from error
