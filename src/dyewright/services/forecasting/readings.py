"""Looks at the bath: read from text, and what is odd about them."""

from collections.abc import Sequence
from itertools import pairwise

from dyewright.core.model import ClarityReading
from dyewright.core.uptake import Reweighed
from dyewright.errors import InputError
from dyewright.units import duration_min, frac

__all__ = ["parse_reading", "reading_notes"]

SAME_RUNG_FRAC = 0.7  # half a rung of the clarity ladder, 2^-0.5: what a later reading may look darker by


def parse_reading(text: str) -> ClarityReading:
    """Return a clarity reading from "21 min: 0.87"; the uptake may also be "87 %" or a step of the ladder, "7/8".

    Raises:
        InputError: no colon, no time, or an uptake that is not a fraction from 0 to 1.
    """
    when, colon, uptake = text.partition(":")
    if not colon:
        raise InputError(
            f"reading {text!r}: give the time and the fraction that is in, for example '21 min: 0.87'", field="observe"
        )
    at_min = duration_min(when.strip(), field="observe", thing="time of a reading")
    return ClarityReading(at_min=at_min, exhaustion=_uptake(uptake.strip(), text))


def _uptake(words: str, text: str) -> float:
    if "%" in words:
        return frac(words, field="observe", thing="uptake")
    over, _, under = words.partition("/")
    try:
        return float(over) / float(under or 1)
    except (ValueError, ZeroDivisionError) as error:
        raise InputError(
            f"reading {text!r}: {words!r} is no uptake; give a fraction from 0 to 1, for example 0.87, 87 % or 7/8",
            field="observe",
            value=words,
            limit=1,
        ) from error


def reading_notes(readings: Sequence[ClarityReading], weighed: Reweighed) -> list[str]:
    """Return what is odd about the readings: the bath going back, or a course that the model hardly knows."""
    notes = []
    for earlier, later in pairwise(readings):
        if (1.0 - earlier.exhaustion) < SAME_RUNG_FRAC * (1.0 - later.exhaustion):
            notes.append(
                f"At {later.at_min:g} min the bath is noted as darker than at {earlier.at_min:g} min: was dye added, "
                "or is one of the two a slip? Both are used."
            )
    if weighed.is_unlikely:
        notes.append(
            "What was seen in the bath is unlikely under this model: the dye, the acid, the temperature or a reading "
            "may be other than planned. The forecast leans towards it, but with less weight."
        )
    return notes
