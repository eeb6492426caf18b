"""What is odd about what was seen at a pot, as questions with ways to answer them."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from dyewright.core.model import ClarityReading, Doubt, Observed, PhReading, TemperatureReading
from dyewright.core.uptake import (
    CLEAR_READING,
    FAR_C,
    Course,
    DyeBath,
    Verdict,
    expected_c,
    reads_as_fahrenheit,
    rung,
)
from dyewright.services.bath_colours import LADDER
from dyewright.services.forecasting.looking import Watched
from dyewright.units import show_temperature

__all__ = ["doubts_of", "doubts_of_pot", "seen_notes"]

SAME_RUNG_FRAC = 0.7  # half a rung of the clarity ladder, 2^-0.5: what a later reading may look darker by
UNUSUAL_SD = 2.5  # from what the class lets expect: worth a sentence
FAR_PH = 0.5  # outside the band expected; a strip is good to 0.3
NOT_WHOLE = (
    "A dye of this pot has no model, and a glass of bath holds it too: looks at the bath are kept and change nothing, "
    "temperatures and strips count."
)
NEUTRAL_PH = 7.0
SLIP = "a slip: take it back"


def doubts_of(observed: Observed, seen: Watched, planned: Course, bath: DyeBath) -> tuple[Doubt, ...]:
    """Return the questions that what was seen raises.

    Args:
        observed: everything that was seen.
        seen: what it made of the forecast.
        planned: the temperature as planned.
        bath: the pot as planned.
    """
    found = [
        *doubts_of_pot(observed, seen.wild, planned, bath),
        *_about_heats(observed, seen),
        *_about_darker(observed.clarities, bath),
    ]
    asked = {doubt.reading for doubt in found}
    odd = [verdict for verdict in seen.followed.verdicts if verdict.is_odd and verdict.name not in asked]
    return (*found, *map(_about_look, odd))


def doubts_of_pot(
    observed: Observed, wild: Sequence[TemperatureReading], planned: Course, bath: DyeBath
) -> tuple[Doubt, ...]:
    """Return the questions that the temperatures and the strips of a pot raise.

    Args:
        observed: everything that was seen.
        wild: the temperatures that were left out.
        planned: the temperature as planned.
        bath: the pot as planned.
    """
    return (*_about_temperatures(observed.temperatures, wild, planned), *_about_phs(observed.phs, bath))


def seen_notes(seen: Watched, *, is_whole: bool) -> list[str]:
    """Return that a pot is not as its class, where several looks agree on it, or that looks could not be used.

    Args:
        seen: what was seen.
        is_whole: whether every dye of the card has a model.
    """
    if not is_whole:
        return [NOT_WHOLE]
    if seen.surprise_sd <= UNUSUAL_SD:
        return []
    return ["This pot does not go as its class of dye usually does, and what was seen agrees: the forecast follows it."]


def _about_temperatures(
    readings: Sequence[TemperatureReading], wild: Sequence[TemperatureReading], planned: Course
) -> Iterator[Doubt]:
    believed = [one for one in readings if one not in wild]
    for reading in readings:
        others = [one for one in believed if one is not reading]
        expected = expected_c(planned, others, reading.at_min)
        is_wild = reading in wild
        if not is_wild and abs(reading.bath_c - expected) <= FAR_C:
            continue
        is_f = reads_as_fahrenheit(reading.bath_c, expected)
        why = "it fits in °F" if is_f else "no pot does that"
        used = f"It is left out: {why}." if is_wild else "It is used as it was read."
        yield Doubt(
            f"temperature at {reading.at_min:.0f} min",
            f"{show_temperature(reading.bath_c)} was read, about {show_temperature(expected)} was expected. {used}",
            _ways_of_temperature(reading.bath_c, expected),
        )


def _ways_of_temperature(read_c: float, expected: float) -> tuple[str, ...]:
    is_f = reads_as_fahrenheit(read_c, expected)
    ways = [f"it was {read_c:.0f} °F, {show_temperature((read_c - 32.0) / 1.8)}"] if is_f else []
    ways.append("the thermometer touched the bottom" if read_c > expected else "the heat was lower than planned")
    return (*ways, SLIP)


def _about_phs(readings: Sequence[PhReading], bath: DyeBath) -> Iterator[Doubt]:
    for reading in readings:
        row = int(np.clip(np.searchsorted(bath.t_min, reading.at_min, side="right") - 1, 0, bath.t_min.size - 1))
        low, high = float(bath.ph_low[row]), float(bath.ph_high[row])
        if low - FAR_PH <= reading.ph <= high + FAR_PH:
            continue
        expected = f"{low:.1f}" if high - low < 0.1 else f"{low:.1f} to {high:.1f}"
        likely = _likely_of_ph(reading.ph, low, high)
        yield Doubt(
            f"pH at {reading.at_min:.0f} min",
            f"pH {reading.ph:g} was read where {expected} was expected. The forecast goes by the reading.",
            (*likely, "the strip was read in hot bath", SLIP),
        )


def _likely_of_ph(ph: float, low: float, high: float) -> tuple[str, ...]:
    """Return what may have gone otherwise than planned in a bath whose pH is not the one expected."""
    if low >= NEUTRAL_PH:
        return ("alkali forgotten", "less alkali than planned") if ph < low else ("more alkali than planned",)
    return ("acid forgotten", "harder water than planned") if ph > high else ("more acid than planned", "softer water")


def _about_heats(observed: Observed, seen: Watched) -> Iterator[Doubt]:
    for reading, at_min in zip(observed.clarities_at_heat, seen.at_heat, strict=True):
        if at_min is None:
            yield Doubt(
                f"clarity at {reading.bath_c:.0f} °C",
                f"On its way up the bath does not pass {show_temperature(reading.bath_c)} in the forecast. The look is "
                "left out.",
                ("the pot was hotter than planned: note a temperature", SLIP),
            )


def _about_darker(readings: Sequence[ClarityReading], bath: DyeBath) -> Iterator[Doubt]:
    """Yield a question for every look that finds more dye in the bath than the one before, and none went in."""
    by_time = sorted(readings, key=lambda one: one.at_min)
    for earlier, later in pairwise(by_time):
        if (1.0 - earlier.exhaustion) >= SAME_RUNG_FRAC * (1.0 - later.exhaustion):
            continue
        if _supplied(bath, later.at_min) > _supplied(bath, earlier.at_min):
            continue
        yield Doubt(
            f"clarity at {later.at_min:.0f} min",
            f"The bath is noted as darker than at {earlier.at_min:.0f} min. Both are used, each as far as the rest "
            "bears it out.",
            ("dye was added", f"the look at {earlier.at_min:.0f} min was the slip", SLIP),
        )


def _supplied(bath: DyeBath, at_min: float) -> float:
    row = int(np.clip(np.searchsorted(bath.t_min, at_min, side="right") - 1, 0, bath.t_min.size - 1))
    return float(bath.supplied[:, row].sum())


def _about_look(verdict: Verdict) -> Doubt:
    """Return the question about a look that the class and the other looks contradict."""
    if verdict.name == "rinses":
        return Doubt(verdict.name, _rinse_question(verdict), ("the waters were smaller or larger than planned", SLIP))
    if verdict.is_least:
        return Doubt(
            verdict.name,
            "The bath looked clear where a tint was still to be expected, by all else that is known. Hold it against "
            "white paper once more.",
            ("it is clear", SLIP),
        )
    low, high = _rung_words(verdict.low), _rung_words(verdict.high)
    expected = f"“{low}”" if low == high else f"Between “{low}” and “{high}”"
    force = "It hardly counts until another look bears it out" if verdict.force_frac < 0.5 else "It counts; look again"
    return Doubt(
        verdict.name,
        f"{expected} was to be expected then, by all else that is known. {force}.",
        ("dye was added", "the pot was cooler or hotter: note a temperature", "the acid was forgotten", SLIP),
    )


def _rinse_question(verdict: Verdict) -> str:
    low, high = (max(1, int(np.ceil(bound))) for bound in (verdict.low, verdict.high))
    span = f"{low}" if low == high else f"{low} to {high}"
    expected = "One rinse was" if span == "1" else f"{span} rinses were"
    return f"{expected} to be expected, by all else that is known. The count has little force."


def _rung_words(halvings: float) -> str:
    """Return a rung as the glass beside it is called: "¾", "clear"."""
    return min(LADDER, key=lambda glass: abs(float(rung(min(glass[1], CLEAR_READING))) - halvings))[0]
