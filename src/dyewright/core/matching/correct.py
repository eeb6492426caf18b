"""A dried snip of a recipe moves the recipe: what it tells of the dyes, and the same dyes weighed anew."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import delta_e00, lab_from_xyz, light_of
from dyewright.core.matching.limits import Limits
from dyewright.core.matching.search import Target, nearest
from dyewright.core.mixing import ShelfModel, band_95, lab_of_mix, learnt
from dyewright.core.model import ObserverTables
from dyewright.errors import InputError

__all__ = ["SNIP_DE00", "Correction", "corrected"]

Array = NDArray[np.float64]

SNIP_DE00 = 0.5  # of a dried snip's Lab, a component: a handheld colorimeter on a few strands (estimate)


@dataclass(frozen=True)
class Correction:
    """A recipe moved by what its snip came out as; differences in ΔE00 from the target.

    `depths_owf`, shape (n,), is the moved recipe and `shelf` what is known of the dyes with the snip. `measured_de00`
    is the snip's own difference, `unmoved_de00` what the old recipe is now foretold to miss by in the next pot (some of
    the snip's miss was that pot alone), `moved_de00` the moved one, with `band_de00` round it.
    """

    depths_owf: Array
    shelf: ShelfModel
    measured_de00: float
    unmoved_de00: float
    moved_de00: float
    band_de00: float


def corrected(
    shelf: ShelfModel,
    depths_owf: ArrayLike,
    measured: ArrayLike,
    target: Target,
    tables: ObserverTables,
    limits: Limits | None = None,
    *,
    noise_de00: float = SNIP_DE00,
) -> Correction:
    """Return a recipe moved towards its target by one dried sample of it, with the same dyes.

    Args:
        shelf: the dyes as known before.
        depths_owf: the recipe that was dyed, shape (n,), fractions.
        measured: the sample's Lab (D65, 10°), shape (3,), or its reflectance, shape (31,).
        target: the colour that was meant.
        tables: lights and observers.
        limits: on depths and cost.
        noise_de00: standard deviation of a measured Lab, in ΔE00 a component.

    Raises:
        InputError: no dye in the recipe, or a sample that is neither a Lab nor a curve.
    """
    depths, read = np.asarray(depths_owf, float), np.asarray(measured, float)
    if not depths.any():
        raise InputError("there is no dye in the recipe whose snip was measured", field="mix")
    if read.shape not in {(3,), shelf.base_k_over_s.shape} or not np.isfinite(read).all():
        raise InputError("a snip is told by its L, a and b, or by its whole curve", field="measured")
    wiser = learnt(shelf, depths, read, tables, noise_de00=noise_de00)
    moved = nearest(wiser, depths, target, tables, limits)
    weights, white = light_of(tables, "D65", 10)
    lab = read if read.size == 3 else lab_from_xyz(read @ weights, white)
    before, after = (float(delta_e00(target.lab, lab_of_mix(wiser, one, tables))) for one in (depths, moved))
    return Correction(moved, wiser, float(delta_e00(target.lab, lab)), before, after, band_95(wiser, moved, tables))
