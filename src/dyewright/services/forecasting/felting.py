"""How far the work planned for a yarn risks felting it, and what to change."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from dyewright.core.model import Drain, Felting, Handling, Rinse, Sheet
from dyewright.core.rinse import (
    DRAIN_STRENGTH,
    HANDLING_STRENGTH,
    LIFTS_A_WATER,
    SOAP_FACTOR,
    STILL_STRENGTH,
    Movement,
    felting_index,
    felting_rating,
    felting_shares,
)
from dyewright.data.after_dyeing import load_felting
from dyewright.services.forecasting.inputs import hold_end_min
from dyewright.services.rinse_waters import is_after_treated, rinse_kind

__all__ = ["Handled", "felting_told", "handled_index", "susceptibility_frac"]

RINSE_PH = 7.0
AFTER_TREATMENT_C, AFTER_TREATMENT_MIN, AFTER_TREATMENT_PH = 80.0, 15.0, 8.3  # Broadbent p. 356
COOL_RINSE_C = 25.0
WORTH_SAYING = 0.08  # of the index
LITTLE = 0.2  # an index that is not worth lowering
LEAST_SHARE = 0.005  # of the index: a part that adds less is not named


@dataclass(frozen=True)
class Handled:
    """How a yarn is handled: its rinse, the number of waters, and how often it is turned against what the plan says."""

    rinse: Rinse
    waters: int
    turning_frac: float = 1.0


def susceptibility_frac(sheet: Sheet) -> float:
    """Return how readily the sheet's yarn felts, untreated wool being 1."""
    yarn, table = sheet.card.yarn, load_felting()
    return sum(
        share * (table[fibre].superwash_frac if yarn.is_superwash else table[fibre].susceptibility_frac)
        for fibre, share in yarn.fibre_frac.items()
    )


def handled_index(sheet: Sheet, handled: Handled) -> float:
    """Return the felting index of the whole work, handled so."""
    return felting_index(_shares(sheet, handled))


def felting_told(sheet: Sheet, waters: int) -> Felting:
    """Return the felting to be expected of the plan with so many waters, and the change that lowers it most."""
    handled = Handled(sheet.card.rinse, waters)
    shares = _shares(sheet, handled)
    index = felting_index(shares)
    return Felting(
        index=round(index, 3),
        rating=felting_rating(index),
        shares=tuple((part, share / index) for part, share in shares if share > LEAST_SHARE * index),
        gentler=_gentler(sheet, handled, index) if index > LITTLE else None,
    )


def _shares(sheet: Sheet, handled: Handled) -> tuple[tuple[str, float], ...]:
    return felting_shares(_movements(sheet, handled), susceptibility_frac(sheet))


def _movements(sheet: Sheet, handled: Handled) -> Iterator[Movement]:
    """Yield the movements of the whole order of work."""
    t_min, bath_c = np.asarray(sheet.t_min, float), np.asarray(sheet.bath_c, float)
    turns = max((pot.turns_per_min or 0.0 for pot in sheet.card.pots), default=0.0) * handled.turning_frac
    is_turned = t_min[1:] <= hold_end_min(sheet) + 1e-6
    moved = np.diff(t_min) * (STILL_STRENGTH + turns * is_turned)
    yield Movement("at the pot", moved, 0.5 * (bath_c[1:] + bath_c[:-1]), _bath_ph(sheet))
    if is_after_treated(sheet.card):
        treated = AFTER_TREATMENT_MIN * (STILL_STRENGTH + turns)
        yield Movement("after-treatment", treated, AFTER_TREATMENT_C, AFTER_TREATMENT_PH)
    rinse = handled.rinse
    card = replace(sheet.card, rinse=rinse)
    for number in range(1, handled.waters + 1):
        water = rinse_kind(card, number, sheet.bath_c[-1])
        soap = SOAP_FACTOR if water.has_soap else 1.0
        strength = soap * LIFTS_A_WATER * HANDLING_STRENGTH[rinse.handling] + DRAIN_STRENGTH[rinse.drain]
        yield Movement("rinsing", strength, water.at_c, RINSE_PH)
    yield Movement("spinning", DRAIN_STRENGTH[Drain.SPUN], min(sheet.bath_c[-1], COOL_RINSE_C), RINSE_PH)


def _bath_ph(sheet: Sheet) -> float:
    return RINSE_PH if sheet.ph_closed is None else sheet.ph_closed


def _gentler(sheet: Sheet, handled: Handled, index: float) -> str | None:
    """Return the change that lowers the index most, in words; None where none is worth it."""
    least, words = min((handled_index(sheet, other), words) for other, words in _others(handled))
    if least >= index * (1 - WORTH_SAYING):
        return None
    return f"{index:.1f} times a usual dyeing of untreated wool. {words}: {least:.1f} times."


def _others(handled: Handled) -> Iterator[tuple[Handled, str]]:
    """Yield gentler ways to handle the yarn, each one change."""
    yield (
        replace(handled, turning_frac=0.5 * handled.turning_frac),
        ("Turn the yarn half as often in the pot, if it stays level"),
    )
    if handled.rinse.handling in {Handling.SWISHED, Handling.UNDER_THE_TAP}:
        yield (
            replace(handled, rinse=replace(handled.rinse, handling=Handling.LIFTED)),
            ("Lower and lift in the rinse, do not swish or spray"),
        )
    yield (
        replace(handled, rinse=replace(handled.rinse, at_c=COOL_RINSE_C)),
        ("Let the yarn cool in its bath to about 25 °C and rinse no warmer"),
    )
