"""Fibres and the yarn that goes into the bath."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Fibre", "Yarn"]


class Fibre(StrEnum):
    """A fibre the tables know."""

    WOOL = "wool"
    ALPACA = "alpaca"
    MOHAIR = "mohair"
    SILK = "silk"
    NYLON = "nylon"
    COTTON = "cotton"
    LINEN = "linen"
    VISCOSE = "viscose"


@dataclass(frozen=True)
class Yarn:
    """The yarn of one lot, as weighed before it is wetted.

    `fibre_frac` maps each fibre to its share of the mass, adding up to 1. `is_superwash` speaks of the wool in it.
    `residue_meq_kg` is acid (> 0) or alkali (< 0) that the yarn brings from the mill, in milliequivalents a kilogram.
    `is_scoured` where the yarn is sold ready to dye. An empty `fibre_frac` on a card is "not said".
    """

    fibre_frac: Mapping[Fibre, float]
    dry_g: float
    is_superwash: bool = False
    skeins: int | None = None
    residue_meq_kg: float = 0.0
    is_scoured: bool = False
