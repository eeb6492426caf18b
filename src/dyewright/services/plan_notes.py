"""What a sheet says beside its figures: doubts, limits, and what the trade's rule would give."""

from collections.abc import Sequence
from dataclasses import dataclass

from dyewright.core import bath
from dyewright.core.model import (
    Card,
    DyeAmount,
    DyeDose,
    FibreGroup,
    HeatCurve,
    StageHeat,
    StageKind,
    ThermalPot,
    To,
    Weigh,
    When,
    WhenKind,
)
from dyewright.core.model.acidity import BathPh
from dyewright.data.practice import load_fibre_waters, load_stock_lives
from dyewright.services.card_defaults import fibre_group
from dyewright.services.stock_age import stock_days, stock_words
from dyewright.services.water import vinegar_rule
from dyewright.units import show_duration, show_mass, show_percent, show_temperature, show_volume

__all__ = ["HeatedPot", "LotLiquor", "acid_notes", "dye_notes", "heat_notes", "when_words", "yarn_notes"]

LEAST_STOCK_ML = 2.0  # estimate: less than this cannot be measured with a kitchen syringe


@dataclass(frozen=True)
class LotLiquor:
    """The liquor of the whole lot."""

    liquor_l: float
    carried_l: float
    ratio_l_kg: float
    displaced_l: float


@dataclass(frozen=True)
class HeatedPot:
    """One pot with its curve, and the time to warm its water before the yarn goes in."""

    name: str
    thermal: ThermalPot
    curve: HeatCurve
    preheat_min: float
    note: str


def heat_notes(card: Card, heated: Sequence[HeatedPot]) -> list[str]:
    """Return what a dyer should know of the heat: rough models, pots that cannot follow, water lost."""
    notes = [*_measured_notes(card), *(one.note for one in heated if one.note)]
    tap_c, enter_c = card.water.temperature_c or 0.0, heated[0].curve.bath_c[0]
    if tap_c > enter_c + 1:
        notes.append(
            f"The water comes at {show_temperature(tap_c)}, warmer than the entering temperature of "
            f"{show_temperature(enter_c)}: let it cool, or take colder water, before the yarn goes in."
        )
    for one in heated:
        notes += [_short_words(one, stage) for stage in one.curve.stages if stage.is_short]
        if one.curve.evaporated_l > 0.05 * one.thermal.water_l:
            notes.append(
                f"{one.name} loses about {show_volume(one.curve.evaporated_l)} to the air: top it up with hot water, "
                "or use the lid."
            )
    if len(heated) > 1:
        notes.append("Times and temperatures are those of the slowest pot.")
    fastest = [s for s in card.stages if isinstance(s, To) and s.rate_c_per_min is None]
    if fastest and any(_fast_c_per_min(one) > 1.5 for one in heated):
        notes.append("At full heat this pot rises faster than 1.5 °C a minute: watch for uneven dyeing.")
    return notes


def _measured_notes(card: Card) -> list[str]:
    """Return which pots heat as a heat-up of theirs was measured."""
    measured = [pot for pot in card.pots if pot.useful_w is not None]
    return [
        f"{pot.name}: heats as measured, {pot.useful_w:g} of its {pot.power_w:g} W go into the pot"
        + ("." if pot.loss_factor == 1.0 else f"; it loses {pot.loss_factor:g} times what is computed.")
        for pot in measured
    ]


def _fast_c_per_min(one: HeatedPot) -> float:
    rises = [
        s for s in one.curve.stages if s.kind is StageKind.TO and s.asked_c_per_min is None and s.end_min > s.start_min
    ]
    return max(((s.end_c - s.start_c) / (s.end_min - s.start_min) for s in rises), default=0.0)


def _short_words(one: HeatedPot, stage: StageHeat) -> str:
    asked, got = show_temperature(stage.asked_c or 0.0), show_temperature(stage.end_c)
    if stage.kind is StageKind.COOL:
        return f"{one.name} does not cool to {asked} by itself: it comes to {got}."
    if stage.kind is StageKind.HOLD:
        return f"{one.name} cannot hold {asked}: it sinks to {got}. Use the lid, or more heat."
    if abs(stage.end_c - (stage.asked_c or 0.0)) > 0.5:
        return f"{one.name} never gets to {asked}: it stops at about {got}. Use the lid, more heat or less water."
    minutes = stage.end_min - stage.start_min
    wanted = (stage.end_c - stage.start_c) / (stage.asked_c_per_min or 1.0)
    return (
        f"{one.name} cannot follow {stage.asked_c_per_min:g} °C/min up to {asked}: it takes "
        f"{show_duration(minutes)} instead of {show_duration(wanted)}."
    )


def dye_notes(card: Card, dyes: Sequence[DyeAmount]) -> list[str]:
    """Return notes on weighing, on stocks too small to measure, and on stocks too old."""
    notes = []
    for dose, dye in zip(card.dyes, dyes, strict=True):
        if bath.weigh_as(dye.dye_g, card.scale_resolution_g or 0.1) is Weigh.STOCK and dye.make_stock is not None:
            notes.append(
                f"{dye.name}: {show_mass(dye.dye_g)} is too little for a scale that reads to "
                f"{show_mass(card.scale_resolution_g or 0.1)}; it is taken from a stock."
            )
        elif dye.stock_ml is not None and 0 < dye.stock_ml < LEAST_STOCK_ML:
            notes.append(
                f"{dye.name}: {show_volume(dye.stock_ml / 1000)} of stock is hard to measure; thin the stock ten times "
                "and take ten times as much."
            )
        if len(dose.parts) > 1:
            moments = ", ".join(when_words(when) for when in dose.parts)
            notes.append(
                f"{dye.name} goes in by {len(dose.parts)} equal parts: {moments}. Each strikes anew, the "
                "faster the hotter the bath is then."
            )
        aged = stock_words(dose)
        if aged is not None:
            notes.append(aged + _past_its_life(dose))
    return notes


def when_words(when: When) -> str:
    """Return a moment as the sheet writes it: "start", "70 °C", "20 min"."""
    match when.kind:
        case WhenKind.TEMPERATURE:
            return show_temperature(when.value or 0.0)
        case WhenKind.MINUTE:
            return f"{when.value or 0.0:g} min"
        case WhenKind.SOAK | WhenKind.START:
            return when.kind.value


def _past_its_life(dose: DyeDose) -> str:
    life = load_stock_lives().get(dose.dye_class)
    if life is None or stock_days(dose) <= life.days:
        return ""
    return f" It is older than the {life.days:g} days such a stock usually keeps: mix it fresh where the shade matters."


def acid_notes(card: Card, lot: LotLiquor, acidity: BathPh, spoons: str) -> list[str]:
    """Return the acidity's own notes, and what the trade's rule would give in this water."""
    notes = list(acidity.notes)
    if fibre_group(card.yarn) is FibreGroup.CELLULOSE:
        return notes
    rule = vinegar_rule(yarn=card.yarn, liquor_l=lot.liquor_l, water=card.water, spoons=spoons)
    per_100_g = show_volume(rule.volume_per_100_g_l or 0.0)
    notes.append(
        "The trade's rule, 2 tablespoons of 5 % vinegar to 8 cups of water (common practice, no source), would be "
        f"{show_volume(rule.volume_l)} ({rule.kitchen}) here, {per_100_g} per 100 g of yarn, and give "
        f"{_ph_words(rule.ph_closed_low, rule.ph_closed_high)} in this water."
    )
    return notes


def _ph_words(low: float, high: float) -> str:
    return f"pH {low:.1f}" if high - low < 0.05 else f"pH {low:.1f} to {high:.1f}"


def yarn_notes(card: Card) -> list[str]:
    """Return what the weighed yarn holds of water."""
    dry = bath.bone_dry_g(card.yarn, load_fibre_waters())
    regain = card.yarn.dry_g / dry - 1
    water = f"{show_percent(round(regain, 2))} of its bone-dry weight in water ({show_mass(dry)} bone dry)"
    return [f"Depths are on the yarn as weighed; it holds about {water}, as hand-dyers' recipes assume."]
