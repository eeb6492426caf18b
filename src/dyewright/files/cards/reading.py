"""A card's text, or a form whose fields are named like its keys ("yarn.dry", "dye.1.depth"), read into core units.

Amounts are text with a unit. What is not said stays None (or empty), for planning to fill and name.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace

from dyewright import units
from dyewright.core import bath as amounts
from dyewright.core.model import (
    AssistantDose,
    Card,
    CoolTo,
    Drain,
    DyeClass,
    DyeDose,
    Enter,
    Fibre,
    Handling,
    Heating,
    Hold,
    Pot,
    Rinse,
    Stage,
    To,
    Water,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.files.cards.moments import dye_moments, moment
from dyewright.files.cards.tables import KEYS, LISTS, Table, did_you_mean, table_of, tables_of

__all__ = ["NamedAssistant", "card_from", "read_card"]

NamedAssistant = Callable[[str], AssistantDose]
"""Turns "white vinegar 5 %" into a dose without amount; the layer above knows the substances."""

FINEST_SCALE_G, COARSEST_SCALE_G = 0.0001, 100.0  # an analytical balance; a bathroom scale
LOSS_FACTORS = 0.2, 5.0  # estimate: a pot in a hay box; one in the wind
MOST_RESIDUE_MEQ_KG = 500.0  # estimate: well below wool's capacity of 820 meq/kg, far above any yarn as sold


def read_card(text: str, *, spoons: str, named_assistant: NamedAssistant) -> Card:
    """Return the card that a TOML text holds.

    Args:
        text: the file's content.
        spoons: whose kitchen measures the text uses.
        named_assistant: knows the acids and salts by name.

    Raises:
        InputError: no TOML, an unknown key, or a value that cannot be read; names the key, the value and the way out.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the card is no readable TOML: {error}", field="card") from error
    return card_from(data, spoons=spoons, named_assistant=named_assistant)


def card_from(
    data: Mapping[str, object], *, spoons: str, named_assistant: NamedAssistant, is_form: bool = False
) -> Card:
    """Return the card that nested tables hold, as TOML gives them or as a form's fields do.

    With `is_form`, empty fields count as not said and the usual unit may be left out.
    """
    top = table_of(data, "", is_form=is_form)
    for name in KEYS[""] - LISTS - {"title", "tonal", "after_treatment"}:
        table_of(data, name, is_form=is_form)
    bath = table_of(data, "bath", is_form=is_form)

    def volume(text: str, **words: str) -> float:
        return units.volume_l(text, spoons, **words)

    liquor, water_l = bath.measured("liquor", units.liquor_l_kg, "L/kg"), bath.measured("water", volume, "L")
    if liquor is not None and water_l is not None:
        raise bath.wrong("water", "[bath] liquor is given too; keep one of the two")
    resolution = _resolution(table_of(data, "scale", is_form=is_form))
    return Card(
        title=top.text("title") or "",
        yarn=_yarn(table_of(data, "yarn", is_form=is_form)),
        dyes=tuple(_dye(table, i) for i, table in enumerate(tables_of(data, "dye", is_form=is_form), start=1)),
        liquor_l_kg=liquor,
        water_l=water_l,
        water=_water(table_of(data, "water", is_form=is_form)),
        assistants=tuple(
            _assistant(table, spoons, named_assistant) for table in tables_of(data, "assistant", is_form=is_form)
        ),
        pots=tuple(_pot(table, volume) for table in tables_of(data, "pot", is_form=is_form)),
        stages=tuple(_stage(table) for table in tables_of(data, "stage", is_form=is_form)),
        rinse=_rinse(table_of(data, "rinse", is_form=is_form), volume),
        scale_resolution_g=resolution,
        is_tonal_wanted=_wish(top),
        is_after_treated=top.flag("after_treatment", default=False),
    )


def _wish(top: Table) -> bool | None:
    """Return whether tonal skeins are wanted; None where nothing is said."""
    return None if top.values.get("tonal") in {None, ""} else top.flag("tonal", default=False)


def _resolution(table: Table) -> float | None:
    resolution = table.measured("resolution", units.mass_g, "g")
    if resolution is not None and not FINEST_SCALE_G <= resolution <= COARSEST_SCALE_G:
        raise table.wrong(
            "resolution",
            f"a scale reads in steps of {FINEST_SCALE_G:g} to {COARSEST_SCALE_G:g} g; write its last digit, '0.1 g'",
            limit=(FINEST_SCALE_G, COARSEST_SCALE_G),
        )
    return resolution


def _yarn(table: Table) -> Yarn:
    dry = table.measured("dry", units.mass_g, "g")
    if dry is None:
        raise table.wrong("dry", "the yarn's dry weight is missing; write for example '250 g'")
    if dry <= 0:
        raise table.wrong("dry", "the dry weight must be above 0 g: weigh the yarn before it is wetted", limit=0)
    skeins = table.number("skeins")
    if skeins is not None and (skeins < 1 or skeins != int(skeins)):
        raise table.wrong("skeins", "write a whole number from 1 on", limit=1)
    residue = table.number("residue") or 0.0
    if abs(residue) > MOST_RESIDUE_MEQ_KG:
        raise table.wrong(
            "residue",
            f"yarn carries {MOST_RESIDUE_MEQ_KG:g} meq/kg of acid or alkali at most",
            limit=MOST_RESIDUE_MEQ_KG,
        )
    return Yarn(
        fibre_frac=_fibres(table),
        dry_g=dry,
        is_superwash=table.flag("superwash", default=False),
        skeins=None if skeins is None else int(skeins),
        residue_meq_kg=residue,
        is_scoured=table.flag("scoured", default=False),
    )


def _fibres(table: Table) -> Mapping[Fibre, float]:
    """Return each fibre's share of the mass; empty where nothing is said."""
    given = table.values.get("fibre")
    if given is None or given == "":
        return {}
    if isinstance(given, str):
        return {table.choice("fibre", Fibre, Fibre.WOOL): 1.0}
    if not isinstance(given, Mapping):
        raise table.wrong("fibre", "write { wool = 80, nylon = 20 }, in % by mass")
    inner = Table(given, f"{table.head} fibre", table.field("fibre"), table.is_form)
    shares: dict[Fibre, float] = {}
    for name in given:
        share = inner.number(name)
        if name not in set(Fibre):
            raise inner.wrong(name, did_you_mean(name, [fibre.value for fibre in Fibre]))
        if share is None:
            continue
        if share < 0:
            raise inner.wrong(name, "a share is 0 % or more", limit=0)
        shares[Fibre(name)] = share
    if not shares and table.is_form:
        return {}
    total = sum(shares.values())
    if abs(total - 100) > 1:
        raise table.wrong("fibre", f"the shares add up to {total:g} %, they must make 100 %", limit=100)
    return {fibre: share / total for fibre, share in shares.items() if share > 0}


def _dye(table: Table, place: int) -> DyeDose:
    depth = table.measured("depth", units.frac)
    if depth is None:
        raise table.wrong("depth", "the depth is missing; write for example '0.8 %' of the yarn's weight")
    if depth > 1:
        raise table.wrong("depth", "a depth lies between 0 and 100 % of the yarn's weight", limit=1)
    stock = table.measured("stock", units.concentration_g_l, "%")
    if stock is not None and stock <= 0:
        raise table.wrong("stock", "a stock solution must be stronger than 0 %", limit=0)
    age = table.number("mixed_days_ago") or 0.0
    if age < 0:
        raise table.wrong("mixed_days_ago", "a stock is 0 days old or more", limit=0)
    return DyeDose(
        name=table.text("name") or f"Dye {place}",
        dye_class=table.choice("class", DyeClass, DyeClass.ACID_UNKNOWN),
        depth_owf=depth,
        stock_g_l=stock,
        mixed_days_ago=age,
        parts=dye_moments(table),
    )


def _water(table: Table) -> Water:
    ph = table.number("ph")
    if ph is not None and not 0 <= ph <= 14:
        raise table.wrong("ph", "a pH lies between 0 and 14", limit=(0, 14))
    temperature = table.measured("temperature", units.temperature_c, "C")
    if temperature is not None and not 0 <= temperature <= 100:
        raise table.wrong("temperature", "tap water lies between 0 and 100 °C", limit=(0, 100))
    return Water(
        alkalinity_mg_l=_alkalinity(table),
        ph=ph,
        temperature_c=temperature,
    )


def _alkalinity(table: Table) -> float | None:
    bare = table.values.get("alkalinity")
    if bare == 0 and not isinstance(bare, bool):  # pure water: nothing is nothing in every unit
        return 0.0
    return table.measured("alkalinity", units.alkalinity_mg_l, "mg/L")


def _assistant(table: Table, spoons: str, named_assistant: NamedAssistant) -> AssistantDose:
    kind = table.text("kind")
    if kind is None:
        raise table.wrong("kind", "say what it is, for example 'white vinegar 5 %'")
    try:
        dose = named_assistant(kind)
    except InputError as error:
        message = f"{table.thing('kind')}: {error.message}"
        raise InputError(message, field=table.field("kind"), value=kind, limit=error.limit) from error
    dose = replace(dose, label=kind, when=moment(table), is_when_said=table.text("when") is not None)
    target, amount = table.number("target_ph"), table.text("amount")
    if target is not None and amount is not None:
        raise table.wrong("amount", "target_ph is given too; keep one of the two")
    if target is not None:
        if not 0 <= target <= 14:
            raise table.wrong("target_ph", "a pH lies between 0 and 14", limit=(0, 14))
        return replace(dose, target_ph=target)
    return dose if amount is None else _with_amount(dose, table, spoons)


def _with_amount(dose: AssistantDose, table: Table, spoons: str) -> AssistantDose:
    text = table.text("amount") or ""
    quantity = units.quantity(text, spoons, field=table.field("amount"), thing=table.thing("amount"))
    match quantity.dimension:
        case units.Dimension.MASS:
            return replace(dose, mass_g=quantity.value)
        case units.Dimension.VOLUME:
            return replace(dose, volume_l=quantity.value)
        case units.Dimension.OWF:
            return replace(dose, owf=quantity.value)
        case units.Dimension.BATH_MASS:
            return replace(dose, bath_g_l=quantity.value)
        case units.Dimension.BATH_VOLUME:
            return replace(dose, bath_l_l=quantity.value)
        case units.Dimension.PH:
            return replace(dose, target_ph=quantity.value)


def _pot(table: Table, volume: Callable[..., float]) -> Pot:
    litres = table.measured("volume", volume, "L")
    if litres is None:
        raise table.wrong("volume", "the pot's volume to the brim is missing; write for example '12 L'")
    if litres <= 0:
        raise table.wrong("volume", "a pot holds more than 0 L", limit=0)
    diameter = table.measured("diameter", units.length_m, "cm")
    if diameter is not None and diameter <= 0:
        raise table.wrong("diameter", "a pot is more than 0 cm across", limit=0)
    return Pot(
        volume_l=litres,
        diameter_m=diameter,
        has_lid=table.flag("lid", default=True),
        power_w=table.measured("power", units.power_w, "W"),
        heating=table.choice("heat", Heating, Heating.ELECTRIC),
        turns_per_min=_turns(table),
        name=table.text("name"),
        useful_w=table.measured("useful", units.power_w, "W"),
        loss_factor=_loss_factor(table),
    )


def _loss_factor(table: Table) -> float:
    """Return how much more than the computed heat the pot loses; 1 where nothing is said."""
    factor = table.number("loss_factor")
    if factor is None:
        return 1.0
    low, high = LOSS_FACTORS
    if not low <= factor <= high:
        raise table.wrong(
            "loss_factor", f"a pot loses {low:g} to {high:g} times the computed heat; measure its heat-up", (low, high)
        )
    return factor


def _turns(table: Table) -> float | None:
    """Return turns a minute: a plain number, or text such as "every 5 min"."""
    value = table.values.get("turns_per_min")
    if isinstance(value, str) and value:
        return table.measured("turns_per_min", units.turns_per_min, "/min")
    turns = table.number("turns_per_min")
    if turns is not None and turns < 0:
        raise table.wrong("turns_per_min", "the yarn is turned 0 times a minute or more", limit=0)
    return turns


def _stage(table: Table) -> Stage:
    kinds = {"enter", "to", "hold", "cool_to"} & {key for key in table.values if table.values[key] != ""}
    if len(kinds) != 1:
        raise InputError(
            f"{table.head}: a stage has exactly one of enter, to (with rate), hold, cool_to; got "
            f"{', '.join(sorted(kinds)) or 'none'}",
            field=table.path,
            value=sorted(kinds),
        )
    kind = kinds.pop()
    rate = table.measured("rate", units.ramp_c_per_min, "C/min")
    if rate is not None and kind != "to":
        raise table.wrong("rate", "only a stage with 'to' has a rate")
    if rate is not None and rate <= 0:
        raise table.wrong("rate", "a heating rate is above 0 °C/min", limit=0)
    if kind == "hold":
        return Hold(table.measured("hold", units.duration_min, "min") or 0.0)
    at_c = table.measured(kind, units.temperature_c, "C")
    if at_c is None or not 0 <= at_c <= 100:
        raise table.wrong(kind, "a bath stays between 0 and 100 °C", limit=(0, 100))
    if kind == "to":
        return To(at_c, rate)
    return Enter(at_c) if kind == "enter" else CoolTo(at_c)


def _rinse(table: Table, volume: Callable[..., float]) -> Rinse:
    litres = table.measured("litres", volume, "L")
    if litres is not None and litres <= 0:
        raise table.wrong("litres", "a rinse takes more than 0 L", limit=0)
    at_c = table.measured("temperature", units.temperature_c, "C")
    if at_c is not None and not 0 <= at_c <= 100:
        raise table.wrong("temperature", "a rinse lies between 0 and 100 °C", limit=(0, 100))
    kept = table.measured("kept", units.liquor_l_kg, "L/kg")
    return Rinse(
        water_l=litres,
        drain=table.choice("drain", Drain, Drain.SQUEEZED),
        at_c=at_c,
        has_soap=table.flag("soap", default=False),
        handling=table.choice("handling", Handling, Handling.LIFTED),
        kept_l_kg=None if kept is None else amounts.check_kept(kept, field=table.field("kept")),
    )
