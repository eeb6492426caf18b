"""What each water of a rinse is: its temperature, its soap and what it is for."""

from dataclasses import dataclass

from dyewright.core.model import Card, FibreGroup
from dyewright.services.card_defaults import fibre_group

__all__ = ["RinseKind", "bonds_on_cellulose", "bonds_on_protein", "is_after_treated", "rinse_kind"]

COLD_TAP_C = 15.0  # estimate, where the tap's temperature is not said
HOT_TAP_C = 60.0  # common practice, no source: as hot as a tap gives


@dataclass(frozen=True)
class RinseKind:
    """One water: °C, whether it has soap, and what it is for."""

    at_c: float
    has_soap: bool
    what_for: str


def bonds_on_cellulose(card: Card) -> bool:
    """Return whether a reactive dye is to bond on cotton, linen or viscose."""
    return fibre_group(card.yarn) is FibreGroup.CELLULOSE and any(dye.dye_class.is_reactive for dye in card.dyes)


def bonds_on_protein(card: Card) -> bool:
    """Return whether a reactive dye is to bond on wool, silk or nylon."""
    return fibre_group(card.yarn) is not FibreGroup.CELLULOSE and any(dye.dye_class.is_reactive for dye in card.dyes)


def is_after_treated(card: Card) -> bool:
    """Return whether the card's yarn gets the after-treatment of reactive dye on wool: asked for, and of use."""
    return card.is_after_treated and bonds_on_protein(card)


def rinse_kind(card: Card, number: int, yarn_c: float) -> RinseKind:
    """Return what the water of a number, counted from 1, is.

    Reactive dye on cellulose: the first cold to drop the salt, then as hot as the tap gives with soap (Broadbent
    p. 344); everything else about as warm as the yarn. The card's own temperature and soap win.

    Args:
        card: with its defaults filled in.
        number: from 1 on.
        yarn_c: temperature of the yarn when it comes out of the bath.
    """
    rinse = card.rinse
    if not bonds_on_cellulose(card):
        at_c = min(yarn_c, HOT_TAP_C) if rinse.at_c is None else rinse.at_c
        return RinseKind(at_c, rinse.has_soap, "to clear")
    if number == 1:
        cold_c = COLD_TAP_C if card.water.temperature_c is None else card.water.temperature_c
        return RinseKind(cold_c if rinse.at_c is None else rinse.at_c, False, "to drop the salt")
    at_c = HOT_TAP_C if rinse.at_c is None else rinse.at_c
    return RinseKind(at_c, rinse.has_soap or rinse.at_c is None, "to bring the loose dye out")
