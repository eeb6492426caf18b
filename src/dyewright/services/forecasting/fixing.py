"""What has bonded by the end of the plan, and what is left loose on the yarn and in the bath."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import DyeForecast, Sheet
from dyewright.core.reactive import (
    BONDING_HALF_LIFE_MIN,
    bonded_on_protein,
    bonding_share,
    spread,
    stock_active_frac,
)
from dyewright.core.uptake import Ensemble, Outlook, quantile_band, value_band
from dyewright.data.after_dyeing import load_reactive
from dyewright.services.forecasting.inputs import ModelledDyes
from dyewright.services.stock_age import stock_days

__all__ = ["Dyed", "dyed_on_protein", "with_fixation"]

Floats = NDArray[np.float64]

MG_A_KG = 1e6  # mg of dye on a kilogram of fibre at a depth of 1


@dataclass(frozen=True)
class Dyed:
    """The dyes of a pot with a model, for every sample, as fractions of the dye supplied.

    `places` are their places in the card. `exhaustion` and `fixed` have shape (samples, dyes, times) and run to the
    plan's end; `hydrolysed` (samples, dyes) is the dye used up by then. `is_bonding` says of each dye whether it is
    reactive; `carried_factor` (samples, dyes) multiplies what the drained yarn carries of the spent bath.
    """

    places: tuple[int, ...]
    depth_owf: Floats
    t_min: Floats
    exhaustion: Floats
    fixed: Floats
    hydrolysed: Floats
    is_bonding: NDArray[np.bool_]
    carried_factor: Floats

    @property
    def loose_mg_kg(self) -> Floats:
        """Return the reactive dye that is on the fibre and not held, mg/kg, shape (samples, dyes)."""
        loose = np.maximum(self.exhaustion[..., -1] - self.fixed[..., -1], 0.0)
        return np.where(self.is_bonding, loose, 0.0) * self.depth_owf * MG_A_KG

    def spent_mg_l(self, liquor_l_kg: float) -> Floats:
        """Return each dye in the spent bath, mg/L, shape (samples, dyes)."""
        return (1.0 - self.exhaustion[..., -1]) * self.depth_owf * MG_A_KG / liquor_l_kg


def dyed_on_protein(
    sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, ensemble: Ensemble, rng: np.random.Generator | None = None
) -> Dyed:
    """Return what becomes of the dyes that go on as acid dyes do: reactive ones bond on the fibre.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        outlook: their uptake.
        ensemble: the samples.
        rng: draws what the ensemble does not hold; the middles where None.
    """
    doses = [sheet.card.dyes[place] for place in modelled.places]
    samples, count = outlook.exhaustion.shape[:2]
    normal = np.zeros((3, samples)) if rng is None else np.clip(rng.standard_normal((3, samples)), -3.0, 3.0)
    is_bonding = np.array([dose.dye_class.is_reactive for dose in doses])
    fixed, hydrolysed = np.zeros_like(outlook.exhaustion), np.zeros((samples, count))
    if is_bonding.any():
        half_life_min = spread(normal[0], BONDING_HALF_LIFE_MIN)
        reacted = bonded_on_protein(outlook.t_min, outlook.bath_c, outlook.exhaustion, half_life_min)
        for n in np.flatnonzero(is_bonding):
            row = load_reactive()[doses[n].dye_class]
            usual = float(np.mean([one.equilibrium_frac for one in modelled.kinds[n][0]]))
            share = bonding_share(row.protein_fixed_frac.mid, usual, ensemble.load_factor[:, n])
            active = stock_active_frac(row, stock_days(doses[n]), normal[1], normal[2])
            fixed[:, n] = (share * active)[:, None] * reacted[:, n]
            hydrolysed[:, n] = (1.0 - share) * active * reacted[:, n, -1] + (1.0 - active)
    return Dyed(
        places=modelled.places,
        depth_owf=np.array([dose.depth_owf for dose in doses]),
        t_min=outlook.t_min,
        exhaustion=outlook.exhaustion,
        fixed=fixed,
        hydrolysed=hydrolysed,
        is_bonding=is_bonding,
        carried_factor=np.where(is_bonding, 1.0, ensemble.load_factor),
    )


def with_fixation(dyes: tuple[DyeForecast, ...], dyed: Dyed, weights: Floats) -> tuple[DyeForecast, ...]:
    """Return the dyes' forecasts with what has bonded, where it is a reactive dye with a model."""
    told = list(dyes)
    for n, place in enumerate(dyed.places):
        if dyed.is_bonding[n]:
            at_end = value_band(dyed.fixed[:, n, -1], weights)
            told[place] = replace(
                dyes[place],
                fixed_frac=at_end.mid,
                hydrolysed_frac=value_band(dyed.hydrolysed[:, n], weights).mid,
                fixed=quantile_band(dyed.fixed[:, n], weights)[1],
                fixed_at_end=at_end,
            )
    return tuple(told)
