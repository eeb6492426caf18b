"""What is odd about the looks at a bath."""

from collections.abc import Sequence
from itertools import pairwise

from dyewright.core.model import ClarityReading
from dyewright.core.uptake import Reweighed

__all__ = ["reading_notes"]

SAME_RUNG_FRAC = 0.7  # half a rung of the clarity ladder, 2^-0.5: what a later reading may look darker by


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
