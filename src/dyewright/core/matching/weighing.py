"""How far a recipe's colour moves by what happens at the bench: the scale, the stock, the yarn's moisture.

Sources: [1] regain of wool 13 to 18 % of its dry mass: commercial yarn conditioning, secondary table; silk and cotton
vary less. [2] ISO 7886-1, syringes of 5 mL and more deliver within 4 % (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.bath import WEIGHING_LIMIT_FRAC
from dyewright.core.colour import ciede2000_metric, delta_e00
from dyewright.core.mixing import ShelfModel, lab_by_depth, lab_of_mix
from dyewright.core.model import ObserverTables

__all__ = ["REGAIN_SD", "WEIGHING_SD", "Weighing", "dose_sd_frac", "weighing_p95", "weighing_rms"]

Array = NDArray[np.float64]

WEIGHING_SD = 0.02
"""Standard deviation of one dose beside its scale, as a share: dust, what stays in the jar, uptake (estimate)."""
REGAIN_SD = 0.02
"""Standard deviation of the yarn's dry mass as weighed, as a share, from its moisture.

The 5 points of [1] over 1.15, spread evenly, make 1.3 %; unaired or steamed yarn a little more (estimate). It moves the
depth of all dyes together.
"""
SYRINGE_SD = 0.023  # standard deviation of a dose from stock: the 4 % of [2] spread evenly
DRAWS = 400


@dataclass(frozen=True)
class Weighing:
    """How doses are weighed: their scatter and the yarn's as shares, and, where known, yarn and scale in grams."""

    sd_frac: float = WEIGHING_SD
    regain_sd_frac: float = REGAIN_SD
    fibre_mass_g: float | None = None
    scale_resolution_g: float | None = None


def dose_sd_frac(depths_owf: Array, weighing: Weighing) -> Array:
    """Return the standard deviation of each dose, as a share of it and of its shape; 0 where there is no dose.

    Tare and load are each read to half a step of the scale, so their difference scatters over a step to either side
    like two dice. What is too little for the scale as powder comes from a stock, whose powder is not.
    """
    own = np.full(depths_owf.shape, weighing.sd_frac)
    if weighing.fibre_mass_g and weighing.scale_resolution_g:
        dose_g = depths_owf * weighing.fibre_mass_g
        step = np.divide(weighing.scale_resolution_g, dose_g, out=np.full(dose_g.shape, np.inf), where=dose_g > 0)
        stock = np.hypot(SYRINGE_SD, WEIGHING_LIMIT_FRAC / np.sqrt(6))
        own = np.hypot(own, np.where(step <= WEIGHING_LIMIT_FRAC, step / np.sqrt(6), stock))
    return np.where(depths_owf > 0, own, 0.0)


def weighing_rms(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables, weighing: Weighing) -> Array:
    """Return the root mean square ΔE00 (k,) that weighing and moisture cause in recipes (k, n), by the slopes."""
    lab, slopes = lab_by_depth(shelf, depths_owf, tables)
    felt = np.einsum("kec,kdc->kde", ciede2000_metric(lab), slopes)
    doses = np.einsum("kd,kde->k", dose_sd_frac(depths_owf, weighing) ** 2, felt**2)
    together = weighing.regain_sd_frac**2 * np.sum(felt.sum(axis=1) ** 2, axis=-1)
    answer: Array = np.sqrt(doses + together)
    return answer


def weighing_p95(
    shelf: ShelfModel,
    depths_owf: Array,
    tables: ObserverTables,
    rng: np.random.Generator,
    weighing: Weighing | None = None,
) -> float:
    """Return the ΔE00 that 95 of 100 weighings of one recipe stay within, by drawing doses and the yarn's moisture."""
    weighing = weighing or Weighing()
    doses = rng.normal(0, 1, (DRAWS, len(depths_owf))) * dose_sd_frac(depths_owf, weighing)
    moisture = rng.normal(0, weighing.regain_sd_frac, (DRAWS, 1))
    drawn = depths_owf * np.exp(doses + moisture)
    nominal = lab_of_mix(shelf, depths_owf, tables)
    return float(np.percentile(delta_e00(nominal, lab_of_mix(shelf, drawn, tables)), 95))
