"""Washing off: the waters that a dyeing needs, and how far they risk felting the yarn."""

from dataclasses import dataclass

from dyewright.core.model.basis import Band
from dyewright.core.model.card import Drain, Handling

__all__ = ["Felting", "RinseWater", "WashOff", "WashWay"]


@dataclass(frozen=True)
class RinseWater:
    """One water of a sequence: litres for the whole lot, its temperature, whether it has soap, and what it is for."""

    litres: float
    at_c: float
    has_soap: bool
    what_for: str
    dye_mg_l: Band


@dataclass(frozen=True)
class WashWay:
    """A whole sequence: the waters of the middle case, their litres together, and the felting that goes along.

    `title` says what it does otherwise than planned: "Spun between the rinses, 3 L each".
    """

    title: str
    drain: Drain
    handling: Handling
    rinses: Band
    litres: float
    felting_index: float | None
    waters: tuple[RinseWater, ...]


@dataclass(frozen=True)
class WashOff:
    """What there is to wash out and how.

    `unfixed_owf` is dye on the fibre that is not held and comes off in water, on weight of fibre; for dyes that do not
    bond it is what the yarn carries of the spent bath. `rinses` counts the waters up to and including the first clear
    one; `rinse_litres` is what the middle case uses. `planned` is the card's own way, `cheaper` one that uses less
    water, and `gentler` one that felts less, where there is one. `spotless` counts on until no tint is seen at all.
    """

    unfixed_owf: float | None
    unfixed: Band
    rinses: Band
    rinse_litres: float | None
    spotless: Band
    planned: WashWay
    cheaper: WashWay | None
    gentler: WashWay | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Felting:
    """A ranking index of a dyeing's handling, never a promise: `index` is 0 where nothing felts, about 1 is usual.

    `shares` say how much of it each part of the work adds, by name, as fractions that make 1; `gentler` what to change.
    """

    index: float | None
    rating: str
    shares: tuple[tuple[str, float], ...] = ()
    gentler: str | None = None
