"""What was seen of a dyeing at the pot, and what it leaves open."""

from dataclasses import dataclass

__all__ = ["ClarityAtHeat", "ClarityReading", "Doubt", "Observed", "PhReading", "TemperatureReading"]


@dataclass(frozen=True)
class ClarityReading:
    """A spoonful of bath held against the clarity ladder: minutes after heat on, and the fraction that has gone in.

    `sd_rungs` is its doubt in halvings of the bath; None takes that of a look by eye.
    """

    at_min: float
    exhaustion: float
    sd_rungs: float | None = None


@dataclass(frozen=True)
class ClarityAtHeat:
    """A look at the bath of which only the bath's temperature was noted: "half gone at 68 °C", on the way up."""

    bath_c: float
    exhaustion: float


@dataclass(frozen=True)
class TemperatureReading:
    """A temperature of the bath, minutes after heat on."""

    at_min: float
    bath_c: float


@dataclass(frozen=True)
class PhReading:
    """A pH of the bath by strip or meter on a cooled sample, minutes after heat on."""

    at_min: float
    ph: float


@dataclass(frozen=True)
class Observed:
    """Everything that was seen of one dyeing. `rinses` counts the waters up to and including the first clear one."""

    clarities: tuple[ClarityReading, ...] = ()
    clarities_at_heat: tuple[ClarityAtHeat, ...] = ()
    temperatures: tuple[TemperatureReading, ...] = ()
    phs: tuple[PhReading, ...] = ()
    rinses: int | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was seen."""
        return self == Observed()


@dataclass(frozen=True)
class Doubt:
    """A question about what was seen: `reading` names it ("clarity at 48 min"), `ways` are answers to choose from."""

    reading: str
    question: str
    ways: tuple[str, ...] = ()
