"""Experiments: one factor varied in steps over a few sample skeins."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from uuid import UUID

__all__ = ["Experiment", "Factor", "Sample"]


class Factor(StrEnum):
    """What an experiment varies."""

    DEPTH = "depth"
    PH = "pH"
    RAMP = "heating rate"
    LIQUOR = "liquor ratio"


@dataclass(frozen=True)
class Sample:
    """One sample skein. `value` is the factor's (depth a fraction, rate °C/min, liquor L/kg); None for the blank.

    `place` is its turn in the order of work. `run_id` is its dyeing once planned, `lab` its judged colour (D65, 10°).
    """

    number: int
    value: float | None
    place: int
    run_id: UUID | None = None
    lab: tuple[float, float, float] | None = None
    note: str = ""


@dataclass(frozen=True)
class Experiment:
    """A small planned series: `card_toml` is the card that all samples share but for the factor.

    The blank is a skein of the same yarn that goes through the same work without dye.
    """

    name: str
    factor: Factor
    card_toml: str
    base_id: int | None
    sample_g: float
    samples: tuple[Sample, ...]
    created_on: date
    judgement_id: UUID | None = None
    note: str = ""
    id: int | None = None
