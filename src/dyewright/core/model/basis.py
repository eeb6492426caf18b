"""How a computed answer is grounded, and how sure it is."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Band", "Basis", "Trust"]


class Basis(StrEnum):
    """What an answer leans on; a screen shows it beside the number."""

    MEASURED = "measured"
    FITTED = "fitted"
    DEFAULT = "default"
    RELATIVE = "relative"


class Trust(StrEnum):
    """Where a constant of a shipped table comes from, as its row says."""

    MEASURED = "measured"
    PUBLISHED = "published"
    FROM_MEMORY = "from memory"
    COMMON_PRACTICE = "common practice, no source"
    ESTIMATE = "estimate"


@dataclass(frozen=True)
class Band:
    """A value with the range that holds it in nine of ten cases; None where it is not known or never happens."""

    mid: float | None
    low: float | None
    high: float | None
