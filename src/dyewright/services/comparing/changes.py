"""Other ways to dye the same card: one thing changed in one tap. What the card left unsaid is taken as planning does.

The sizes of the steps are common practice, no source: a change that can be seen in the forecast.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from dyewright.core.model import (
    AssistantDose,
    Base,
    Card,
    Drain,
    Dye,
    DyeClass,
    DyeDose,
    Enter,
    Hold,
    Settings,
    Stage,
    To,
    When,
    WhenKind,
)
from dyewright.errors import InputError
from dyewright.services.card_defaults import POT_TARGET_FRAC, complete
from dyewright.services.repeating import repeated_card
from dyewright.units import show_temperature

__all__ = ["Change", "Offer", "changed", "offers", "with_base", "with_dye"]

_Said = TypeVar("_Said", AssistantDose, Stage)

REACTIVE_CLASSES = (
    DyeClass.DICHLOROTRIAZINE,
    DyeClass.BROMOACRYLAMIDE,
    DyeClass.VINYL_SULPHONE,
    DyeClass.MONOCHLOROTRIAZINE,
)
ACID_CLASSES = (DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX, DyeClass.ACID_LEVELLING, DyeClass.ACID_UNKNOWN)
SLOWER, FASTER = 0.5, 2.0
COOLER_C, COOLEST_C = 15.0, 15.0
LONGER_MIN = 20.0
MORE_WATER, LESS_WATER, SHORTEST_L_KG = 1.5, 2 / 3, 10.0
MORE_TURNS = 2.0


class Change(StrEnum):
    """One thing done otherwise."""

    REACTIVE = "reactive"
    ACID = "acid"
    SLOWER = "slower"
    FASTER = "faster"
    COOLER = "cooler"
    ACID_LATER = "acid later"
    MORE_WATER = "more water"
    LESS_WATER = "less water"
    LONGER = "longer"
    MORE_TURNS = "more turns"
    SPUN = "spun"
    SQUEEZED = "squeezed"


@dataclass(frozen=True)
class Offer:
    """A change that makes sense for a card, as a button says it."""

    change: Change
    words: str


def offers(card: Card, settings: Settings | None) -> tuple[Offer, ...]:
    """Return the changes that make sense for a card, the other kind of dye first."""
    full, _ = complete(card, settings)
    is_reactive = any(dye.dye_class.is_reactive for dye in full.dyes)
    found = [
        Offer(Change.ACID, "The same depth with an acid milling dye")
        if is_reactive
        else Offer(Change.REACTIVE, "The same depth with a reactive dye")
    ]
    rises = any(isinstance(stage, To) for stage in full.stages)
    if rises:
        found += [Offer(Change.SLOWER, "Heat half as fast"), Offer(Change.FASTER, "Heat twice as fast")]
    if _enter_c(full) > COOLEST_C:
        found.append(Offer(Change.COOLER, f"Enter at {show_temperature(_cooler_c(full))}"))
    if _later_c(full) is not None and any(dose.substance.is_acid for dose in full.assistants):
        found.append(Offer(Change.ACID_LATER, f"Acid later, at {show_temperature(_later_c(full) or 0.0)}"))
    if _has_room(full):
        found.append(Offer(Change.MORE_WATER, "Half as much water again"))
    found.append(Offer(Change.LESS_WATER, "A third less water"))
    if any(isinstance(stage, Hold) for stage in full.stages):
        found.append(Offer(Change.LONGER, f"Hold {LONGER_MIN:g} min longer"))
    found.append(Offer(Change.MORE_TURNS, "Turn the yarn twice as often"))
    is_spun = full.rinse.drain is Drain.SPUN
    found.append(
        Offer(Change.SQUEEZED, "Squeeze between rinses") if is_spun else Offer(Change.SPUN, "Spin between rinses")
    )
    return tuple(found)


def changed(card: Card, change: Change, settings: Settings | None, dyes: Mapping[DyeClass, Dye]) -> Card:
    """Return a card with one thing done otherwise, its title saying what.

    Args:
        card: the way one starts from.
        change: what is done otherwise.
        settings: the studio's.
        dyes: a dye of the shelf for each class that it holds, for another kind of dye.
    """
    if change in {Change.REACTIVE, Change.ACID}:
        return _other_kind(card, is_reactive=change is Change.REACTIVE, dyes=dyes)
    full, _ = complete(card, settings)
    words = {offer.change: offer.words for offer in offers(card, settings)}
    if change not in words:
        raise InputError(f"'{change.value}' changes nothing on this card; choose another way", field="change")
    return replace(STEPS[change](card, full), title=words[change])


def with_dye(card: Card, dye: Dye) -> Card:
    """Return a card with the same depth of one other dye, dyed as is usual for its class."""
    depth_owf = sum(dose.depth_owf for dose in card.dyes)
    return replace(
        card,
        title=dye.name,
        dyes=(DyeDose(dye.name, dye.dye_class, depth_owf),),
        assistants=_kept(card, dye.dye_class, card.assistants),
        stages=_kept(card, dye.dye_class, card.stages),
    )


def with_base(card: Card, base: Base) -> Card:
    """Return a card on another base, its programme the usual one for that fibre."""
    on_base = repeated_card(card, base=base).card
    is_same = (card.yarn.fibre_frac, card.yarn.is_superwash) == (base.fibre_frac, base.is_superwash)
    return replace(on_base, title=f"On {base.name}", stages=card.stages if is_same else ())


def _kept(card: Card, dye_class: DyeClass, said: tuple[_Said, ...]) -> tuple[_Said, ...]:
    """Return what the card said of acid or programme, or nothing where another class wants its own."""
    return said if {dose.dye_class for dose in card.dyes} == {dye_class} else ()


def _other_kind(card: Card, *, is_reactive: bool, dyes: Mapping[DyeClass, Dye]) -> Card:
    """Return the card with a dye of the other kind: one of the shelf where it has one, else one of no name."""
    wanted = REACTIVE_CLASSES if is_reactive else ACID_CLASSES
    found = next((dyes[dye_class] for dye_class in wanted if dye_class in dyes), None)
    return with_dye(card, found or Dye("A reactive dye" if is_reactive else "An acid dye", wanted[0]))


def _enter_c(full: Card) -> float:
    first = full.stages[0]
    return first.at_c if isinstance(first, Enter) else 0.0


def _cooler_c(full: Card) -> float:
    return max(COOLEST_C, _enter_c(full) - COOLER_C)


def _later_c(full: Card) -> float | None:
    """Return the temperature halfway up, to the next 5 °C below; None where the bath hardly rises."""
    top_c = max((stage.to_c for stage in full.stages if isinstance(stage, To)), default=_enter_c(full))
    middle_c = 5 * ((_enter_c(full) + top_c) / 2 // 5)
    return middle_c if top_c - _enter_c(full) > 20 and middle_c > _enter_c(full) else None


def _heated(full: Card, factor: float) -> tuple[Stage, ...]:
    """Return the programme with its rises faster or slower; one with the heat fully on is halved from 2 °C/min."""
    usual = 2.0  # °C/min, what a lidded 10 L pot gives
    return tuple(
        replace(stage, rate_c_per_min=(stage.rate_c_per_min or usual) * factor) if isinstance(stage, To) else stage
        for stage in full.stages
    )


def _slower(card: Card, full: Card) -> Card:
    return replace(card, stages=_heated(full, SLOWER))


def _faster(card: Card, full: Card) -> Card:
    return replace(card, stages=_heated(full, FASTER))


def _cooler(card: Card, full: Card) -> Card:
    return replace(card, stages=(Enter(_cooler_c(full)), *full.stages[1:]))


def _acid_later(card: Card, full: Card) -> Card:
    when = When(WhenKind.TEMPERATURE, _later_c(full))
    doses = (replace(dose, when=when) if dose.substance.is_acid else dose for dose in full.assistants)
    return replace(card, assistants=tuple(doses))


def _liquor_l(full: Card) -> float:
    return full.water_l if full.water_l is not None else (full.liquor_l_kg or 0.0) * full.yarn.dry_g / 1000


def _has_room(full: Card) -> bool:
    """Tell whether the pots hold half as much water again."""
    return MORE_WATER * _liquor_l(full) <= POT_TARGET_FRAC * sum(pot.volume_l for pot in full.pots)


def _watered(card: Card, full: Card, factor: float) -> Card:
    ratio = _liquor_l(full) / full.yarn.dry_g * 1000
    return replace(card, water_l=None, liquor_l_kg=max(SHORTEST_L_KG, round(ratio * factor, 1)))


def _more_water(card: Card, full: Card) -> Card:
    return _watered(card, full, MORE_WATER)


def _less_water(card: Card, full: Card) -> Card:
    return _watered(card, full, LESS_WATER)


def _longer(card: Card, full: Card) -> Card:
    last = max(i for i, stage in enumerate(full.stages) if isinstance(stage, Hold))
    stages = list[Stage](full.stages)
    hold = stages[last]
    stages[last] = Hold((hold.hold_min if isinstance(hold, Hold) else 0.0) + LONGER_MIN)
    return replace(card, stages=tuple(stages))


def _more_turns(card: Card, full: Card) -> Card:
    pots = (replace(pot, turns_per_min=(pot.turns_per_min or 0.0) * MORE_TURNS) for pot in full.pots)
    return replace(card, pots=tuple(pots))


def _spun(card: Card, _: Card) -> Card:
    return replace(card, rinse=replace(card.rinse, drain=Drain.SPUN))


def _squeezed(card: Card, _: Card) -> Card:
    return replace(card, rinse=replace(card.rinse, drain=Drain.SQUEEZED))


STEPS: dict[Change, Callable[[Card, Card], Card]] = {
    Change.SLOWER: _slower,
    Change.FASTER: _faster,
    Change.COOLER: _cooler,
    Change.ACID_LATER: _acid_later,
    Change.MORE_WATER: _more_water,
    Change.LESS_WATER: _less_water,
    Change.LONGER: _longer,
    Change.MORE_TURNS: _more_turns,
    Change.SPUN: _spun,
    Change.SQUEEZED: _squeezed,
}
