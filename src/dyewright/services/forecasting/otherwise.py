"""A sheet with one thing done otherwise: another heat-up, the acid or the dye at other moments.

Only what the uptake is computed from changes: the card's moments, the amounts, and the temperature over time.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Sheet, When, WhenKind

__all__ = ["acid_later", "acid_to", "dye_moved", "entered", "heated", "is_acid_early", "mean_rate_c_per_min"]

Floats = NDArray[np.float64]

EARLY = {WhenKind.SOAK, WhenKind.START}
FIRST_RISE_C = 5.0  # a cooler entry is heated as fast as the first degrees of the plan
USUAL_C_PER_MIN = 1.0  # common practice, no source
EDGE_C = 0.3  # the curve's points are half a minute apart


def heated(sheet: Sheet, low_c: float, high_c: float, c_per_min: float) -> Sheet:
    """Return the sheet with its rise between two temperatures at this rate."""
    t_min, bath_c = np.asarray(sheet.t_min, float), np.asarray(sheet.bath_c, float)
    rise = np.diff(bath_c)
    is_inside = (rise > 0) & (bath_c[:-1] >= low_c - EDGE_C) & (bath_c[1:] <= high_c + EDGE_C)
    lasting = np.where(is_inside, rise / c_per_min, np.diff(t_min))
    return _with_curve(sheet, np.concatenate([t_min[:1], t_min[0] + np.cumsum(lasting)]), bath_c)


def entered(sheet: Sheet, at_c: float) -> Sheet:
    """Return the sheet with its yarn entered cooler, and heated as the plan begins, or hotter."""
    t_min, bath_c = np.asarray(sheet.t_min, float), np.asarray(sheet.bath_c, float)
    if at_c >= bath_c[0]:
        start = int(np.argmax(bath_c >= at_c))
        return _with_curve(sheet, t_min[start:] - t_min[start], bath_c[start:])
    reached = int(np.argmax(bath_c >= bath_c[0] + FIRST_RISE_C))
    rate = (bath_c[reached] - bath_c[0]) / (t_min[reached] - t_min[0]) if reached else USUAL_C_PER_MIN
    longer = (bath_c[0] - at_c) / rate
    before = np.linspace(0.0, 1.0, max(2, int(2 * longer)), endpoint=False)
    return _with_curve(
        sheet,
        np.concatenate([longer * before, t_min + longer]),
        np.concatenate([at_c + (bath_c[0] - at_c) * before, bath_c]),
    )


def _with_curve(sheet: Sheet, t_min: Floats, bath_c: Floats) -> Sheet:
    return replace(sheet, t_min=tuple(t_min.tolist()), bath_c=tuple(bath_c.tolist()))


def is_acid_early(sheet: Sheet) -> bool:
    """Tell whether acid goes in before the yarn."""
    return any(dose.substance.is_acid and dose.when.kind in EARLY for dose in sheet.card.assistants)


def acid_later(sheet: Sheet, when: When) -> Sheet:
    """Return the sheet with half of its early acid kept for a later moment."""
    doses, amounts = list(sheet.card.assistants), list(sheet.assistants)
    for i, dose in enumerate(sheet.card.assistants):
        if dose.substance.is_acid and dose.when.kind in EARLY:
            amounts[i] = replace(amounts[i], amount=amounts[i].amount / 2)
            doses.append(replace(dose, when=when))
            amounts.append(amounts[i])
    return replace(sheet, card=replace(sheet.card, assistants=tuple(doses)), assistants=tuple(amounts))


def acid_to(sheet: Sheet, ph: float) -> Sheet:
    """Return the sheet with its bath at this pH."""
    return replace(
        sheet,
        ph_closed=ph,
        ph_closed_low=ph,
        ph_closed_high=ph,
        ph_stripped=ph,
        ph_stripped_low=ph,
        ph_stripped_high=ph,
    )


def dye_moved(sheet: Sheet, names: Sequence[str], parts: tuple[When, ...]) -> Sheet:
    """Return the sheet with some dyes going in at other moments, by equal parts."""
    dyes = tuple(replace(dye, parts=parts) if dye.name in names else dye for dye in sheet.card.dyes)
    return replace(sheet, card=replace(sheet.card, dyes=dyes))


def mean_rate_c_per_min(sheet: Sheet, low_c: float, high_c: float) -> float:
    """Return how fast the plan first rises between two temperatures; 0 where it does not rise through both."""
    t_min, bath_c = np.asarray(sheet.t_min, float), np.asarray(sheet.bath_c, float)
    if not bath_c[0] - EDGE_C <= low_c < high_c <= bath_c.max() + EDGE_C:
        return 0.0
    begins, ends = np.argmax(bath_c >= low_c - EDGE_C), np.argmax(bath_c >= high_c - EDGE_C)
    lasting = float(t_min[ends] - t_min[begins])
    return (high_c - low_c) / lasting if lasting > 0 else 0.0
