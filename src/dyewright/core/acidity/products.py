"""An assistant as bought: how much of the substance is in a gram or a millilitre of it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dyewright.core.model import AssistantDose
from dyewright.core.model.acidity import SubstanceFacts
from dyewright.errors import InputError

__all__ = ["Product", "product_of"]

WATER_DENSITY_KG_L = 1.0  # of a dilute solution without a row of its own: 2 % low for 5 % of a salt
SOLID_FRAC_MIN = (
    0.55  # below it a "w/w" of a solid is a solution; the poorest hydrate named, sodium acetate's, has 0.60
)
G_PER_KG = 1000.0


@dataclass(frozen=True)
class Product:
    """An assistant as bought: whether it is measured as a liquid, its density, and its share of substance by mass."""

    is_liquid: bool
    density_kg_l: float
    active_frac: float
    gives_mol_g: Mapping[str, float]

    def mass_g(self, volume_l: float) -> float:
        """Return the mass of a volume of the product, g."""
        return volume_l * self.density_kg_l * G_PER_KG

    def volume_l(self, mass_g: float) -> float:
        """Return the volume of a mass of the product, L."""
        return mass_g / (self.density_kg_l * G_PER_KG)


def product_of(dose: AssistantDose, facts: SubstanceFacts) -> Product:
    """Return what a gram of the assistant holds.

    A strength by volume is grams a litre of solution; a strength by mass is turned with the solution's density. A
    spoon of a solid is turned with its bulk density, which is sure to 40 % only.

    Raises:
        InputError: the strength is 0 or more than the pure substance holds.
    """
    by_volume, by_mass = dose.strength.w_v_g_l, dose.strength.w_w_frac
    is_solid = facts.bulk_kg_l is not None
    if by_volume is not None:
        density = _solution_density_kg_l(facts, by_volume / G_PER_KG)
        active, is_liquid = by_volume / (density * G_PER_KG), True
    elif by_mass is not None and not (is_solid and by_mass > SOLID_FRAC_MIN):
        density, active, is_liquid = _solution_density_kg_l(facts, by_mass), by_mass, True
    elif is_solid:
        density, active, is_liquid = facts.bulk_kg_l or WATER_DENSITY_KG_L, by_mass or 1.0, False
    else:
        density, active, is_liquid = _solution_density_kg_l(facts, 1.0), 1.0, True
    if not 0 < active <= 1:
        raise InputError(
            f"{dose.label}: a strength of {active:.3g} g in a gram is not possible; it lies above 0 and up to 100 %",
            field="strength",
            value=active,
            limit=1,
        )
    mol_g = active / facts.molar_mass_g_mol if facts.molar_mass_g_mol else 0.0
    gives = {name: moles * mol_g for name, moles in facts.gives.items()}
    return Product(is_liquid, density, active, gives)


def _solution_density_kg_l(facts: SubstanceFacts, mass_frac: float) -> float:
    """Return the density of a solution, along straight lines between the table's rows."""
    if not facts.density_kg_l:
        return WATER_DENSITY_KG_L
    fractions = sorted(facts.density_kg_l)
    return float(np.interp(mass_frac, fractions, [facts.density_kg_l[f] for f in fractions]))
