"""Dye classes and a dose of dye in a bath."""

from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.model.when import When

__all__ = ["DyeClass", "DyeDose"]


class DyeClass(StrEnum):
    """The dyeing behaviour of a dye, in the trade's classes."""

    ACID_LEVELLING = "acid levelling"
    ACID_MILLING = "acid milling"
    METAL_COMPLEX = "metal complex 1:2"
    ACID_UNKNOWN = "acid, kind unknown"
    DICHLOROTRIAZINE = "reactive dichlorotriazine"
    VINYL_SULPHONE = "reactive vinyl sulphone"
    MONOCHLOROTRIAZINE = "reactive monochlorotriazine"
    BROMOACRYLAMIDE = "reactive bromoacrylamide"
    DIRECT = "direct"
    FOOD = "food colour"

    @property
    def is_reactive(self) -> bool:
        """Whether the dye bonds with the fibre."""
        return self.value.startswith("reactive")


@dataclass(frozen=True)
class DyeDose:
    """One dye of a recipe: its depth on the weight of fibre, and the stock solution it is taken from.

    `depth_owf` is a fraction (0.008 is 0.8 %). `stock_g_l` is the strength of the stock (10 g/L is 1 % w/v),
    None where the powder goes in. `mixed_days_ago` is the age of that stock in days. `parts` are the moments at which
    it goes in, in equal parts: one moment, the start, unless it is added in several.
    """

    name: str
    dye_class: DyeClass
    depth_owf: float
    stock_g_l: float | None = None
    mixed_days_ago: float = 0.0
    parts: tuple[When, ...] = (When(),)
