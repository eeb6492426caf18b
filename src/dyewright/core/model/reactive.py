"""Reactive dyes: how fast they bond or are used up by water, as the shipped table `reactive` says."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from dyewright.core.model.basis import Trust
from dyewright.core.model.dye import DyeClass

__all__ = ["OnCellulose", "ReactiveRow", "Span"]


@dataclass(frozen=True)
class Span:
    """A number with the range that holds it in nine of ten cases; a number known for sure has no width."""

    mid: float
    low: float
    high: float


@dataclass(frozen=True)
class OnCellulose:
    """A class of reactive dye on cotton, linen or viscose with alkali.

    `half_life_min` is that of the dye in water at `half_life_c` and pH 11 (as measured at 25 °C); it grows tenfold in
    1/`ph_order` units of pH towards neutral. `adsorption_l_kg` is dye on the fibre over dye in the bath with the usual
    salt, `unsalted_l_kg` without; `bonding_over_hydrolysis` how much faster the dye on the fibre bonds than the dye in
    the bath hydrolyses.
    """

    half_life_min: Span
    half_life_c: float
    ea_kj_mol: Span
    ph_order: Span
    adsorption_l_kg: Span
    unsalted_l_kg: float
    bonding_over_hydrolysis: Span


@dataclass(frozen=True)
class ReactiveRow:
    """One class of reactive dye; `cellulose` is None where it is not made for it.

    `neutral_days` is the half-life in plain water at 25 °C. `protein_fixed_frac` is what bonds of the dye supplied to
    wool in acid near the boil. `trust` says of each group of numbers where it comes from.
    """

    dye_class: DyeClass
    neutral_days: Span
    protein_fixed_frac: Span
    cellulose: OnCellulose | None
    trust: Mapping[str, Trust] = field(default_factory=dict)
