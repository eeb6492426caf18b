"""Uptake of dyes by fibres: how fast, how far, and what a look at the bath says about it."""

from dyewright.core.uptake.clarity import (
    CLEAR_READING,
    Reweighed,
    bath_exhaustion,
    clear_limit_mg_l,
    clear_time,
    effective_samples,
    first_reached_min,
    quantile_band,
    reweigh,
    start_mg_l,
    value_band,
)
from dyewright.core.uptake.equilibrium import equilibrium_shares, partition_l_kg
from dyewright.core.uptake.kinetics import (
    SURE_PH,
    arrhenius,
    half_saturation_ph,
    k95_of_t50,
    k95_superwash,
    ln_k_per_c_of_t50,
    rate_at_ph,
    site_occupation,
    t50_of_k95,
)
from dyewright.core.uptake.outlook import CONTINUED_TO_MIN, Outlook, look_ahead
from dyewright.core.uptake.samples import SHIFT_SD_C, Ensemble, at_shifts, central, class_prior_sd, draw
from dyewright.core.uptake.stepping import DyeBath, at_times, on_fibre

__all__ = [
    "CLEAR_READING",
    "CONTINUED_TO_MIN",
    "SHIFT_SD_C",
    "SURE_PH",
    "DyeBath",
    "Ensemble",
    "Outlook",
    "Reweighed",
    "arrhenius",
    "at_shifts",
    "at_times",
    "bath_exhaustion",
    "central",
    "class_prior_sd",
    "clear_limit_mg_l",
    "clear_time",
    "draw",
    "effective_samples",
    "equilibrium_shares",
    "first_reached_min",
    "half_saturation_ph",
    "k95_of_t50",
    "k95_superwash",
    "ln_k_per_c_of_t50",
    "look_ahead",
    "on_fibre",
    "partition_l_kg",
    "quantile_band",
    "rate_at_ph",
    "reweigh",
    "site_occupation",
    "start_mg_l",
    "t50_of_k95",
    "value_band",
]
