"""How much of an acid or alkali brings a bath to a pH."""

import math
from collections.abc import Mapping, Sequence

from scipy.optimize import brentq

from dyewright.core.acidity.solution import FibreLoad, solve_bath
from dyewright.core.model.acidity import AcidityTables
from dyewright.errors import InputError, OutOfRangeError

__all__ = ["dose_for_ph"]

PH_REACHED = 1e-4  # a hundredth of what a meter shows
LEAST_FRAC = 1e-7  # of the most that can go in; no scale or syringe measures less
LOG_TOLERANCE = 1e-5


def dose_for_ph(
    tables: AcidityTables,
    totals_mol_l: Mapping[str, float],
    gives_mol_g: Mapping[str, float],
    target_ph: float,
    *,
    most_g_l: float,
    fibres: Sequence[FibreLoad] = (),
) -> float:
    """Return the amount of a substance that brings a closed bath to a pH at 25 °C, g of it a litre of liquor.

    Args:
        totals_mol_l: the bath before, as for `solve_bath`.
        gives_mol_g: moles of each total that a gram of the substance, as bought, adds.
        target_ph: 0 to 14.
        most_g_l: the most that can go in, g/L, above 0.

    Raises:
        OutOfRangeError: the pH lies outside what the bath takes up to that amount; `limit` is the pH nearest to it.
    """
    if most_g_l <= 0:
        raise InputError(f"most_g_l must be above 0, got {most_g_l}", field="most_g_l", value=most_g_l, limit=0)

    def off_target(dose_g_l: float) -> float:
        added = {
            name: totals_mol_l.get(name, 0.0) + dose_g_l * gives_mol_g.get(name, 0.0)
            for name in {*totals_mol_l, *gives_mol_g}
        }
        return solve_bath(tables, added, fibres=fibres).ph - target_ph

    none, most = off_target(0.0), off_target(most_g_l)
    if abs(none) < PH_REACHED:
        return 0.0
    if none * most > 0:
        nearest = target_ph + (none if abs(none) < abs(most) else most)
        raise OutOfRangeError(
            f"pH {target_ph:g} cannot be reached; the nearest is pH {nearest:.2f}",
            field="target_ph",
            value=target_ph,
            limit=nearest,
        )
    # Doses span decades and the pH runs with their logarithm, so that is what the search halves.
    least_g_l = most_g_l * LEAST_FRAC
    if off_target(least_g_l) * none <= 0:
        return least_g_l
    log_dose = brentq(
        lambda log_g_l: off_target(math.exp(log_g_l)),
        math.log(least_g_l),
        math.log(most_g_l),
        xtol=LOG_TOLERANCE,
    )
    return math.exp(log_dose)
