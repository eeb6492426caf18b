"""A card for the next time: another weight, base or pot, everything that depends on it scaled or left to compute."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dyewright.core.model import AssistantDose, Base, Card, Pot, Vessel, Yarn
from dyewright.errors import InputError
from dyewright.units import show_mass

__all__ = ["RepeatedCard", "pot_of", "repeated_card"]


@dataclass(frozen=True)
class RepeatedCard:
    """The new card, and what was changed in it, in sentences."""

    card: Card
    notes: tuple[str, ...]


def repeated_card(
    card: Card, *, dry_g: float | None = None, base: Base | None = None, pots: Sequence[Pot] = ()
) -> RepeatedCard:
    """Return the card for a repeat. What is None or empty stays as it was.

    Depths, ratios and target pH hold for any weight. Amounts given outright (litres of bath, grams of acid) grow with
    the yarn, so that their share of it stays.

    Raises:
        InputError: no yarn.
    """
    notes: list[str] = []
    if dry_g is not None and not dry_g > 0:
        raise InputError(f"{show_mass(dry_g)} of yarn cannot be dyed; weigh it dry", field="dry", value=dry_g, limit=0)
    if dry_g is not None and dry_g != card.yarn.dry_g:
        notes.append(f"Repeated on {show_mass(dry_g)} of yarn instead of {show_mass(card.yarn.dry_g)}.")
        card = _on_weight(card, dry_g)
    if base is not None:
        card, said = _on_base(card, base)
        notes.extend(said)
    if pots:
        card = replace(card, pots=tuple(pots))
        notes.append(f"Repeated in {' and '.join(pot.name or 'a pot' for pot in pots)}.")
    return RepeatedCard(card, tuple(notes))


def pot_of(vessel: Vessel) -> Pot:
    """Return a vessel of the shelf as the pot of a card."""
    return Pot(
        volume_l=vessel.volume_l,
        diameter_m=vessel.diameter_m,
        has_lid=vessel.has_lid,
        power_w=vessel.power_w,
        heating=vessel.heating,
        turns_per_min=vessel.turns_per_min,
        name=vessel.name,
    )


def _on_weight(card: Card, dry_g: float) -> Card:
    factor = dry_g / card.yarn.dry_g
    rinse = replace(card.rinse, water_l=_times(card.rinse.water_l, factor))
    return replace(
        card,
        yarn=replace(card.yarn, dry_g=dry_g, skeins=_skeins(card.yarn, factor)),
        water_l=_times(card.water_l, factor),
        assistants=tuple(_scaled(dose, factor) for dose in card.assistants),
        rinse=rinse,
    )


def _on_base(card: Card, base: Base) -> tuple[Card, list[str]]:
    yarn = replace(card.yarn, fibre_frac=base.fibre_frac, is_superwash=base.is_superwash)
    if base.skein_g:
        yarn = replace(yarn, skeins=max(1, round(card.yarn.dry_g / base.skein_g)))
    is_same = (base.fibre_frac, base.is_superwash) == (card.yarn.fibre_frac, card.yarn.is_superwash)
    kept = card.rinse.kept_l_kg if is_same and base.kept_l_kg is None else base.kept_l_kg
    card = replace(card, rinse=replace(card.rinse, kept_l_kg=kept))
    if is_same:
        return replace(card, yarn=yarn), []
    note = (
        f"Repeated on {base.name}: another fibre takes the dyes otherwise, so the colour can differ; swatch it first."
    )
    return replace(card, yarn=yarn), [note]


def _scaled(dose: AssistantDose, factor: float) -> AssistantDose:
    return replace(dose, mass_g=_times(dose.mass_g, factor), volume_l=_times(dose.volume_l, factor))


def _skeins(yarn: Yarn, factor: float) -> int | None:
    if yarn.skeins is None:
        return None
    count = yarn.skeins * factor
    return round(count) if abs(count - round(count)) < 0.05 and round(count) > 0 else None


def _times(amount: float | None, factor: float) -> float | None:
    return None if amount is None else amount * factor
