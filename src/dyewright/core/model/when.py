"""The moment of an addition."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["When", "WhenKind"]


class WhenKind(StrEnum):
    """How the moment of an addition is named."""

    SOAK = "soak"
    START = "start"
    TEMPERATURE = "temperature"
    MINUTE = "minute"


@dataclass(frozen=True)
class When:
    """The moment of an addition: in the soak, at the start, at a temperature (°C) or at a minute after heat on."""

    kind: WhenKind = WhenKind.START
    value: float | None = None
