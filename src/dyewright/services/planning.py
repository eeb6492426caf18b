"""From a card to a sheet: amounts, pots, acidity, heat and the order of work."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

from dyewright.core import bath, heat
from dyewright.core.model import (
    AssistantAmount,
    AssistantDose,
    Basis,
    Card,
    Drain,
    DyeAmount,
    DyeDose,
    Enter,
    HeatCurve,
    HeatUp,
    Pot,
    PotShare,
    Settings,
    Sheet,
    SheetStep,
    Spoons,
    StockHint,
    Weigh,
    WhenKind,
)
from dyewright.core.model.acidity import BathPh, DoseAmount
from dyewright.data.practice import load_cautions, load_fibre_waters, load_heat_sources
from dyewright.errors import InputError
from dyewright.files import cards
from dyewright.services.assistants import parse_substance
from dyewright.services.card_defaults import complete
from dyewright.services.order_of_work import Bench, usual_rinses, work_steps
from dyewright.services.plan_notes import (
    HeatedPot,
    LotLiquor,
    acid_notes,
    dye_notes,
    heat_notes,
    when_words,
    yarn_notes,
)
from dyewright.services.water import bath_ph
from dyewright.units import kitchen, show_temperature, show_volume

__all__ = ["card_from_fields", "complete", "plan", "read_card"]


def read_card(text: str, settings: Settings | None = None) -> Card:
    """Return the card that a TOML text holds; kitchen measures are those of the studio."""
    return cards.read_card(text, spoons=_spoons(settings), named_assistant=parse_substance)


def card_from_fields(fields: Mapping[str, str], settings: Settings | None = None) -> Card:
    """Return a card from form fields named like its keys: "yarn.dry", "yarn.fibre.wool", "dye.1.depth".

    Usual units may be left out; empty fields count as not said, and so does a repeated table that is empty throughout.
    """
    return cards.card_from(_nested(fields), spoons=_spoons(settings), named_assistant=parse_substance, is_form=True)


def _spoons(settings: Settings | None) -> Spoons:
    return settings.spoons if settings else Spoons.METRIC


def _nested(fields: Mapping[str, str]) -> dict[str, object]:
    """Return dotted fields as nested tables; numbered ones become lists, empty numbered tables are left out."""
    tree: dict[str, object] = {}
    for path, text in fields.items():
        *parents, last = path.split(".")
        table = tree
        for name in parents:
            inner = table.setdefault(name, {})
            if not isinstance(inner, dict):
                raise InputError(f"field {path} collides with field {name}", field=path)
            table = inner
        table[last] = text
    return {name: _as_list(value) for name, value in tree.items()}


def _as_list(value: object) -> object:
    if not isinstance(value, dict) or not value or not all(key.isdigit() for key in value):
        return value
    tables = [cast("dict[str, str]", value[key]) for key in sorted(value, key=int)]
    return [table for table in tables if any(text for text in table.values())]


@dataclass(frozen=True)
class _Made:
    """Everything computed for a sheet, before it is written out."""

    card: Card
    lot: LotLiquor
    dyes: tuple[DyeAmount, ...]
    assistants: tuple[AssistantAmount, ...]
    pots: tuple[PotShare, ...]
    acidity: BathPh
    heated: Sequence[HeatedPot]
    slowest: HeatedPot
    tap_water_l: float
    basis: Basis


def plan(card: Card, settings: Settings | None = None, *, waters: Callable[[Sheet], int | None] | None = None) -> Sheet:
    """Return the sheet of a card, with every default filled in and named.

    Args:
        card: what the dyer says.
        settings: the studio's, for spoons, water and scale.
        waters: tells from the sheet how many rinses to expect; the usual number where it is None, or does not know.

    Raises:
        InputError: something cannot be: no yarn, a pot too small, a stock too weak, an addition never reached.
    """
    full, defaults = complete(card, settings)
    made = _made(full, defaults, settings)
    notes = _notes(made, defaults, _spoons(settings))
    sheet = _written(made, work_steps(_bench(made, usual_rinses(full))), notes)
    expected = None if waters is None else waters(sheet)
    return sheet if expected is None else _written(made, work_steps(_bench(made, expected)), notes)


def _made(full: Card, defaults: Sequence[str], settings: Settings | None) -> _Made:
    lot = _lot(full)
    acidity = bath_ph(yarn=full.yarn, liquor_l=lot.liquor_l, water=full.water, assistants=full.assistants)
    dyes = tuple(_dye_amount(dose, full) for dose in full.dyes)
    assistants = tuple(
        _assistant_amount(dose, of, settings) for dose, of in zip(acidity.doses, full.assistants, strict=True)
    )
    tap_l = _tap_water_l(lot, dyes, assistants, full)
    pots = _pot_shares(full, lot, dyes, assistants)
    heated = [_heated(pot, share, full) for pot, share in zip(full.pots, pots, strict=True)]
    slowest = max(heated, key=lambda one: (_top(one.curve)[0], -_top(one.curve)[1]))
    basis = Basis.DEFAULT if defaults else acidity.basis
    return _Made(full, lot, dyes, assistants, pots, acidity, heated, slowest, tap_l, basis)


def _bench(made: _Made, rinses: int) -> Bench:
    return Bench(
        card=made.card,
        dyes=made.dyes,
        assistants=made.assistants,
        pots=made.pots,
        curve=made.slowest.curve,
        preheat_min=max(one.preheat_min for one in made.heated),
        tap_water_l=made.tap_water_l,
        liquor_l=made.lot.liquor_l,
        rinses=rinses,
        cautions=dict(load_cautions()),
    )


def _notes(made: _Made, defaults: Sequence[str], spoons: str) -> tuple[str, ...]:
    """Return each note once: defaults first, then what is unusual, then what is good to know."""
    notes = [
        *defaults,
        *bath.liquor_notes(made.lot.ratio_l_kg),
        *(note for share in made.pots for note in bath.pot_notes(share.fill_frac, share.name)),
        *dye_notes(made.card, made.dyes),
        *heat_notes(made.card, made.heated),
        *acid_notes(made.card, made.lot, made.acidity, spoons),
        *yarn_notes(made.card),
    ]
    return tuple(dict.fromkeys(notes))


def _written(made: _Made, steps: tuple[SheetStep, ...], notes: tuple[str, ...]) -> Sheet:
    """Return the sheet of what was computed."""
    lot, acidity, curve = made.lot, made.acidity, made.slowest.curve
    return Sheet(
        title=made.card.title,
        card=made.card,
        dry_g=made.card.yarn.dry_g,
        liquor_l=lot.liquor_l,
        carried_water_l=lot.carried_l,
        water_to_add_l=lot.liquor_l - lot.carried_l,
        tap_water_l=made.tap_water_l,
        liquor_ratio=lot.ratio_l_kg,
        pot_fill_frac=max(share.fill_frac for share in made.pots),
        dyes=made.dyes,
        assistants=made.assistants,
        pots=made.pots,
        ph_before=acidity.ph_before,
        ph_closed=acidity.ph_closed,
        ph_closed_low=acidity.ph_closed_low,
        ph_closed_high=acidity.ph_closed_high,
        ph_stripped=acidity.ph_stripped,
        ph_stripped_low=acidity.ph_stripped_low,
        ph_stripped_high=acidity.ph_stripped_high,
        heat=_heat_up(made.slowest, made.heated),
        t_min=curve.t_min,
        bath_c=tuple(round(c, 3) for c in curve.bath_c),
        steps=steps,
        cautions=_sheet_cautions(steps),
        notes=notes,
        basis=made.basis,
    )


def _lot(card: Card) -> LotLiquor:
    waters, dry = load_fibre_waters(), card.yarn.dry_g
    liquor = card.water_l if card.water_l is not None else bath.liquor_volume_l(dry, card.liquor_l_kg or 0.0)
    carried = dry / 1000 * bath.retention_l_kg(card.yarn, Drain.SQUEEZED, waters)
    bath.water_to_add_l(liquor, carried)  # refuses a liquor that the wet yarn alone exceeds
    return LotLiquor(liquor, carried, liquor / dry * 1000, bath.fibre_volume_l(card.yarn, waters))


def _dye_amount(dose: DyeDose, card: Card) -> DyeAmount:
    """Return a dye's grams, and its stock by jug and by scale where it is taken from one."""
    grams = bath.dye_mass_g(card.yarn.dry_g, dose.depth_owf)
    resolution = card.scale_resolution_g or 0.1
    hint = _stock_to_make(dose, grams, card)
    strength = hint.stock_g_l if hint else dose.stock_g_l
    volume_l = None if strength is None else bath.stock_volume_l(grams, strength)
    return DyeAmount(
        name=dose.name,
        dye_class=dose.dye_class.value,
        depth_owf=dose.depth_owf,
        dye_g=grams,
        weigh=Weigh.POWDER if strength is None else Weigh.STOCK,
        stock_g_l=strength,
        stock_ml=None if volume_l is None else volume_l * 1000,
        stock_g=None if volume_l is None else bath.stock_mass_g(volume_l),
        make_stock=hint,
        weighing_error_frac=bath.weighing_error_frac(grams, resolution) if grams > 0 else None,
    )


def _stock_to_make(dose: DyeDose, dye_g: float, card: Card) -> StockHint | None:
    """Return the stock to prepare where the card names none: for a dose too fine to weigh, or for several pots."""
    if dose.stock_g_l is not None or dye_g == 0:
        return None
    if bath.weigh_as(dye_g, card.scale_resolution_g or 0.1) is Weigh.STOCK:
        return bath.stock_hint(dye_g, card.scale_resolution_g or 0.1)
    return bath.lot_stock(dye_g) if len(card.pots) > 1 else None


def _assistant_amount(amount: DoseAmount, dose: AssistantDose, settings: Settings | None) -> AssistantAmount:
    is_liquid = amount.volume_l is not None
    return AssistantAmount(
        name=amount.label,
        substance=amount.substance,
        amount=(amount.volume_l or 0.0) * 1000 if is_liquid else amount.mass_g or 0.0,
        unit="mL" if is_liquid else "g",
        kitchen=kitchen(amount.volume_l, _spoons(settings)) if amount.volume_l is not None else None,
        when=when_words(amount.when),
        is_solved=amount.is_solved,
        target_ph=dose.target_ph,
    )


def _tap_water_l(lot: LotLiquor, dyes: Sequence[DyeAmount], assistants: Sequence[AssistantAmount], card: Card) -> float:
    """Return what the tap gives: the liquor less the wet yarn's water, the stocks and the liquid assistants."""
    stocks = sum(dye.stock_ml or 0.0 for dye in dyes) / 1000
    liquids = sum(
        amount.amount / 1000
        for amount, dose in zip(assistants, card.assistants, strict=True)
        if amount.unit == "mL" and dose.when.kind is not WhenKind.SOAK
    )
    left = lot.liquor_l - lot.carried_l - stocks - liquids
    if left < 0:
        raise InputError(
            f"{show_volume(stocks)} of dye stock and {show_volume(liquids)} of assistants with the wet yarn's "
            f"{show_volume(lot.carried_l)} are more than the liquor of {show_volume(lot.liquor_l)}: use a stronger "
            "stock, or more liquor",
            field="dye.1.stock",
            value=stocks,
            limit=lot.liquor_l - lot.carried_l,
        )
    return left


def _pot_shares(
    card: Card, lot: LotLiquor, dyes: Sequence[DyeAmount], assistants: Sequence[AssistantAmount]
) -> tuple[PotShare, ...]:
    """Return what each pot gets: whole skeins where their number is known, else in proportion to its volume."""
    shares = bath.share_of_lot([pot.volume_l for pot in card.pots])
    skeins: Sequence[int | None] = [None] * len(shares)
    if card.yarn.skeins is not None:
        whole = bath.skeins_of_shares(card.yarn.skeins, shares)
        skeins, shares = whole, tuple(count / card.yarn.skeins for count in whole)
    return tuple(
        PotShare(
            name=pot.name or "The pot",
            volume_l=pot.volume_l,
            share_frac=share,
            dry_g=card.yarn.dry_g * share,
            skeins=count,
            liquor_l=lot.liquor_l * share,
            water_to_add_l=(lot.liquor_l - lot.carried_l) * share,
            fill_frac=bath.pot_fill_frac(lot.liquor_l * share, lot.displaced_l * share, pot.volume_l),
            dye_g=tuple(dye.dye_g * share for dye in dyes),
            stock_ml=tuple(None if dye.stock_ml is None else dye.stock_ml * share for dye in dyes),
            assistants=tuple(amount.amount * share for amount in assistants),
        )
        for pot, share, count in zip(card.pots, shares, skeins, strict=True)
    )


def _heated(pot: Pot, share: PotShare, card: Card) -> HeatedPot:
    source = load_heat_sources()[pot.heating]
    thermal = heat.thermal_pot(pot, source, water_l=share.liquor_l, fibre_g=share.dry_g)
    tap_c, enter_c = card.water.temperature_c or 0.0, _enter_c(card)
    preheat = heat.full_power_min(thermal, tap_c, enter_c)
    if preheat is None:
        raise InputError(
            f"{share.name} never gets from {show_temperature(tap_c)} to the entering temperature of "
            f"{show_temperature(enter_c)}: it stops at {show_temperature(heat.stagnation_c(thermal))}; give it more "
            "heat or a lid, or enter cooler",
            field="pot.1.power",
            value=pot.power_w,
            limit=heat.stagnation_c(thermal),
        )
    return HeatedPot(share.name, thermal, heat.heat_curve(thermal, card.stages), preheat, source.note)


def _enter_c(card: Card) -> float:
    first = card.stages[0]
    return first.at_c if isinstance(first, Enter) else 0.0


def _top(curve: HeatCurve) -> tuple[float, float]:
    """Return when the bath is first as hot as it gets (within 0.05 °C), and how hot that is."""
    top_c = max(curve.bath_c)
    when = next(t for t, c in zip(curve.t_min, curve.bath_c, strict=True) if c >= top_c - 0.05)
    return when, top_c


def _heat_up(slowest: HeatedPot, heated: Sequence[HeatedPot]) -> HeatUp:
    minutes, top_c = _top(slowest.curve)
    from_c = slowest.curve.bath_c[0]
    full = heat.full_power_min(slowest.thermal, from_c, round(top_c, 3))
    return HeatUp(
        from_c=from_c,
        to_c=round(top_c, 3),
        minutes=minutes,
        c_per_min=(top_c - from_c) / minutes if minutes > 0 else 0.0,
        full_power_min=full,
        full_power_c_per_min=(top_c - from_c) / full if full else None,
        energy_kwh=sum(one.curve.energy_kwh for one in heated),
        evaporated_l=sum(one.curve.evaporated_l for one in heated),
    )


def _sheet_cautions(steps: Sequence[SheetStep]) -> tuple[str, ...]:
    """Return each caution once, in the order of the work, then the two that hold throughout."""
    table = load_cautions()
    at_steps = [step.caution for step in steps if step.caution]
    return tuple(dict.fromkeys([*at_steps, table["vessels"].sentence, table["defer"].sentence]))
