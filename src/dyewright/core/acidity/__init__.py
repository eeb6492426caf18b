"""The acidity of dye baths: charge balance, carbon dioxide, and the fibre as a buffer."""

from dyewright.core.acidity.dosing import dose_for_ph
from dyewright.core.acidity.equilibria import (
    DAVIES_LIMIT_MOL_L,
    REFERENCE_C,
    activity_coefficient,
    davies_slope,
    pk_at,
    water_density_kg_l,
)
from dyewright.core.acidity.fibre import acid_bound, donnan_log_ratio, fixed_charge, half_saturation_ph
from dyewright.core.acidity.products import Product, product_of
from dyewright.core.acidity.solution import AIR_CO2_ATM, FibreLoad, Solved, carbonate_total_mol_l, solve_bath

__all__ = [
    "AIR_CO2_ATM",
    "DAVIES_LIMIT_MOL_L",
    "REFERENCE_C",
    "FibreLoad",
    "Product",
    "Solved",
    "acid_bound",
    "activity_coefficient",
    "carbonate_total_mol_l",
    "davies_slope",
    "donnan_log_ratio",
    "dose_for_ph",
    "fixed_charge",
    "half_saturation_ph",
    "pk_at",
    "product_of",
    "solve_bath",
    "water_density_kg_l",
]
