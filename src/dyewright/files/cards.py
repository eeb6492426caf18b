"""Cards: the plan of one dyeing as a TOML file, read into core units and written back.

Amounts are text with a unit. What is not said stays None (or empty), for planning to fill and name. The same reading
serves a form whose fields are named like the card's keys ("yarn.dry", "dye.1.depth").
"""

import difflib
import json
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from dyewright import units
from dyewright.core.model import (
    AssistantDose,
    Card,
    CoolTo,
    Drain,
    DyeClass,
    DyeDose,
    Enter,
    Fibre,
    Heating,
    Hold,
    Pot,
    Rinse,
    Stage,
    To,
    Water,
    When,
    WhenKind,
    Yarn,
)
from dyewright.errors import InputError

__all__ = ["NamedAssistant", "card_from", "read_card", "write_card"]

NamedAssistant = Callable[[str], AssistantDose]
"""Turns "white vinegar 5 %" into a dose without amount; the layer above knows the substances."""

E = TypeVar("E", bound=StrEnum)
T = TypeVar("T")

_KEYS = {
    "": {
        "title",
        "yarn",
        "dye",
        "bath",
        "water",
        "assistant",
        "pot",
        "stage",
        "rinse",
        "scale",
        "tonal",
    },
    "yarn": {"fibre", "superwash", "dry", "skeins", "residue", "scoured"},
    "dye": {"name", "class", "depth", "stock", "mixed_days_ago"},
    "bath": {"liquor", "water"},
    "water": {"alkalinity", "ph", "temperature"},
    "assistant": {"kind", "target_ph", "amount", "when"},
    "pot": {"name", "volume", "diameter", "lid", "power", "heat", "turns_per_min"},
    "stage": {"enter", "to", "rate", "hold", "cool_to"},
    "rinse": {"litres", "drain"},
    "scale": {"resolution"},
}
FINEST_SCALE_G, COARSEST_SCALE_G = 0.0001, 100.0  # an analytical balance; a bathroom scale
MOST_RESIDUE_MEQ_KG = 500.0  # estimate: well below wool's capacity of 820 meq/kg, far above any yarn as sold
_LISTS = {"dye", "assistant", "pot", "stage"}


@dataclass(frozen=True)
class _Table:
    """One table of the card with its place in it: `head` for messages, `path` for fields."""

    values: Mapping[str, object]
    head: str
    path: str
    is_form: bool

    def thing(self, key: str) -> str:
        return f"{self.head} {key}".strip()

    def field(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def wrong(self, key: str, why: str, limit: object = None) -> InputError:
        value = self.values.get(key)
        shown = "" if value is None else f" = {_shown(value)}"
        return InputError(f"{self.thing(key)}{shown}: {why}", field=self.field(key), value=value, limit=limit)

    def text(self, key: str) -> str | None:
        """Return a text; None where the key is absent (or its field left empty)."""
        value = self.values.get(key)
        if value is None or (self.is_form and value == ""):
            return None
        if not isinstance(value, str):
            raise self.wrong(key, "write the amount as text with its unit, in quotation marks")
        return value

    def measured(self, key: str, read: Callable[..., T], default_unit: str | None = None) -> T | None:
        """Return a measured amount; a form may leave out the usual unit, a card may not."""
        text = self.text(key)
        if text is None:
            return None
        extra = {"default_unit": default_unit} if self.is_form and default_unit else {}
        return read(text, field=self.field(key), thing=self.thing(key), **extra)

    def number(self, key: str) -> float | None:
        """Return a plain number."""
        value = self.values.get(key)
        if value is None or (self.is_form and value == ""):
            return None
        if isinstance(value, str) and self.is_form:
            try:
                value = float(value.replace(",", "."))
            except ValueError as error:
                raise self.wrong(key, "write a number") from error
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, "write a number, without quotation marks")
        if not math.isfinite(value):
            raise self.wrong(key, "write a number that can be counted to")
        return float(value)

    def flag(self, key: str, *, default: bool) -> bool:
        value = self.values.get(key, default)
        if self.is_form and isinstance(value, str):
            return value in {"true", "on", "yes"} if value else default
        if not isinstance(value, bool):
            raise self.wrong(key, "write true or false")
        return value

    def choice(self, key: str, kind: type[E], default: E) -> E:
        """Return a member of an enumeration by its value, in any case."""
        text = self.text(key)
        if text is None:
            return default
        known = {member.value.casefold(): member for member in kind}
        found = known.get(" ".join(text.split()).casefold())
        if found is None:
            names = [member.value for member in kind]
            raise self.wrong(key, _did_you_mean(text, names), limit=names)
        return found


def _shown(value: object) -> str:
    return f"'{value}'" if isinstance(value, str) else str(value)


def _did_you_mean(word: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(word.casefold(), [name.casefold() for name in known], n=1)
    hint = next((f"did you mean '{name}'? " for name in known if near and name.casefold() == near[0]), "")
    return f"not known; {hint}Known are: {', '.join(known)}"


def _table(data: Mapping[str, object], name: str, *, is_form: bool) -> _Table:
    """Return a table of the card (empty where absent), with its keys checked."""
    values = data.get(name, {}) if name else data
    if not isinstance(values, Mapping):
        raise InputError(f"[{name}] must be a table of its own, got {_shown(values)}", field=name, value=values)
    return _checked(_Table(values, f"[{name}]" if name else "", name, is_form), name)


def _tables(data: Mapping[str, object], name: str, *, is_form: bool) -> list[_Table]:
    """Return the tables that repeat, numbered from 1 where there are several."""
    listed = data.get(name, [])
    if not isinstance(listed, Sequence) or isinstance(listed, str) or not all(isinstance(t, Mapping) for t in listed):
        raise InputError(f"[[{name}]] must be tables in double brackets", field=name, value=str(listed))
    several = len(listed) > 1
    return [
        _checked(_Table(values, f"[[{name}]] {i}" if several else f"[[{name}]]", f"{name}.{i}", is_form), name)
        for i, values in enumerate(listed, start=1)
    ]


def _checked(table: _Table, name: str) -> _Table:
    for key in table.values:
        if key not in _KEYS[name]:
            known = sorted(_KEYS[name])
            raise InputError(f"{table.thing(key)}: {_did_you_mean(key, known)}", field=table.field(key), limit=known)
    return table


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
    top = _table(data, "", is_form=is_form)
    for name in _KEYS[""] - _LISTS - {"title", "tonal"}:
        _table(data, name, is_form=is_form)
    bath = _table(data, "bath", is_form=is_form)

    def volume(text: str, **words: str) -> float:
        return units.volume_l(text, spoons, **words)

    liquor, water_l = bath.measured("liquor", units.liquor_l_kg, "L/kg"), bath.measured("water", volume, "L")
    if liquor is not None and water_l is not None:
        raise bath.wrong("water", "[bath] liquor is given too; keep one of the two")
    resolution = _resolution(_table(data, "scale", is_form=is_form))
    return Card(
        title=top.text("title") or "",
        yarn=_yarn(_table(data, "yarn", is_form=is_form)),
        dyes=tuple(_dye(table, i) for i, table in enumerate(_tables(data, "dye", is_form=is_form), start=1)),
        liquor_l_kg=liquor,
        water_l=water_l,
        water=_water(_table(data, "water", is_form=is_form)),
        assistants=tuple(
            _assistant(table, spoons, named_assistant) for table in _tables(data, "assistant", is_form=is_form)
        ),
        pots=tuple(_pot(table, volume) for table in _tables(data, "pot", is_form=is_form)),
        stages=tuple(_stage(table) for table in _tables(data, "stage", is_form=is_form)),
        rinse=_rinse(_table(data, "rinse", is_form=is_form), volume),
        scale_resolution_g=resolution,
        is_tonal_wanted=top.flag("tonal", default=False),
    )


def _resolution(table: _Table) -> float | None:
    resolution = table.measured("resolution", units.mass_g, "g")
    if resolution is not None and not FINEST_SCALE_G <= resolution <= COARSEST_SCALE_G:
        raise table.wrong(
            "resolution",
            f"a scale reads in steps of {FINEST_SCALE_G:g} to {COARSEST_SCALE_G:g} g; write its last digit, '0.1 g'",
            limit=(FINEST_SCALE_G, COARSEST_SCALE_G),
        )
    return resolution


def _yarn(table: _Table) -> Yarn:
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


def _fibres(table: _Table) -> Mapping[Fibre, float]:
    """Return each fibre's share of the mass; empty where nothing is said."""
    given = table.values.get("fibre")
    if given is None or given == "":
        return {}
    if isinstance(given, str):
        return {table.choice("fibre", Fibre, Fibre.WOOL): 1.0}
    if not isinstance(given, Mapping):
        raise table.wrong("fibre", "write { wool = 80, nylon = 20 }, in % by mass")
    inner = _Table(given, f"{table.head} fibre", table.field("fibre"), table.is_form)
    shares: dict[Fibre, float] = {}
    for name in given:
        share = inner.number(name)
        if name not in set(Fibre):
            raise inner.wrong(name, _did_you_mean(name, [fibre.value for fibre in Fibre]))
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


def _dye(table: _Table, place: int) -> DyeDose:
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
    )


def _water(table: _Table) -> Water:
    ph = table.number("ph")
    if ph is not None and not 0 <= ph <= 14:
        raise table.wrong("ph", "a pH lies between 0 and 14", limit=(0, 14))
    temperature = table.measured("temperature", units.temperature_c, "C")
    if temperature is not None and not 0 <= temperature <= 100:
        raise table.wrong("temperature", "tap water lies between 0 and 100 °C", limit=(0, 100))
    return Water(
        alkalinity_mg_l=table.measured("alkalinity", units.alkalinity_mg_l, "mg/L"),
        ph=ph,
        temperature_c=temperature,
    )


def _assistant(table: _Table, spoons: str, named_assistant: NamedAssistant) -> AssistantDose:
    kind = table.text("kind")
    if kind is None:
        raise table.wrong("kind", "say what it is, for example 'white vinegar 5 %'")
    try:
        dose = named_assistant(kind)
    except InputError as error:
        message = f"{table.thing('kind')}: {error.message}"
        raise InputError(message, field=table.field("kind"), value=kind, limit=error.limit) from error
    dose = replace(dose, label=kind, when=_when(table))
    target, amount = table.number("target_ph"), table.text("amount")
    if target is not None and amount is not None:
        raise table.wrong("amount", "target_ph is given too; keep one of the two")
    if target is not None:
        if not 0 <= target <= 14:
            raise table.wrong("target_ph", "a pH lies between 0 and 14", limit=(0, 14))
        return replace(dose, target_ph=target)
    return dose if amount is None else _with_amount(dose, table, spoons)


def _with_amount(dose: AssistantDose, table: _Table, spoons: str) -> AssistantDose:
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


def _when(table: _Table) -> When:
    """Return the moment of an addition: "soak", "start", "70 C" or "20 min"."""
    text = table.text("when")
    if text is None or text.strip().casefold() == "start":
        return When(WhenKind.START)
    if text.strip().casefold() == "soak":
        return When(WhenKind.SOAK)
    for kind, read in ((WhenKind.TEMPERATURE, units.temperature_c), (WhenKind.MINUTE, units.duration_min)):
        try:
            return When(kind, read(text))
        except InputError:
            continue
    raise table.wrong("when", "write soak, start, a temperature such as '70 C', or a time such as '20 min'")


def _pot(table: _Table, volume: Callable[..., float]) -> Pot:
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
    )


def _turns(table: _Table) -> float | None:
    """Return turns a minute: a plain number, or text such as "every 5 min"."""
    value = table.values.get("turns_per_min")
    if isinstance(value, str) and value:
        return table.measured("turns_per_min", units.turns_per_min, "/min")
    turns = table.number("turns_per_min")
    if turns is not None and turns < 0:
        raise table.wrong("turns_per_min", "the yarn is turned 0 times a minute or more", limit=0)
    return turns


def _stage(table: _Table) -> Stage:
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


def _rinse(table: _Table, volume: Callable[..., float]) -> Rinse:
    litres = table.measured("litres", volume, "L")
    if litres is not None and litres <= 0:
        raise table.wrong("litres", "a rinse takes more than 0 L", limit=0)
    return Rinse(water_l=litres, drain=table.choice("drain", Drain, Drain.SQUEEZED))


def write_card(card: Card) -> str:
    """Return the card as TOML that reads back to the same card; what is not said is left out."""
    title = f"title = {_quoted(card.title)}\n" if card.title else ""
    parts = [title + ("tonal = true\n" if card.is_tonal_wanted else "")]
    parts += [_block("[yarn]", _yarn_lines(card.yarn))]
    parts += [_block("[[dye]]", _dye_lines(dye)) for dye in card.dyes]
    parts += [_block("[bath]", [("liquor", _liquor(card.liquor_l_kg)), ("water", _litres(card.water_l))])]
    parts += [_block("[water]", _water_lines(card.water))]
    parts += [_block("[[assistant]]", _assistant_lines(dose)) for dose in card.assistants]
    parts += [_block("[[pot]]", _pot_lines(pot)) for pot in card.pots]
    parts += [_block("[[stage]]", _stage_lines(stage)) for stage in card.stages]
    rinse = [("litres", _litres(card.rinse.water_l)), ("drain", _quoted(card.rinse.drain.value))]
    parts += [_block("[rinse]", rinse)]
    parts += [_block("[scale]", [("resolution", _text(card.scale_resolution_g, "g"))])]
    return "\n".join(part for part in parts if part)


_Lines = list[tuple[str, str | None]]


def _block(head: str, lines: _Lines) -> str:
    said = [f"{key} = {value}\n" for key, value in lines if value is not None]
    return f"{head}\n{''.join(said)}" if said else ""


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _plain(value: float) -> str:
    """Return the shortest decimal text of a number, without an exponent for ordinary sizes."""
    return f"{value:.15g}"


def _text(value: float | None, unit: str, factor: float = 1) -> str | None:
    return None if value is None else _quoted(f"{_plain(value * factor)} {unit}")


def _litres(value: float | None) -> str | None:
    return _text(value, "mL", 1000) if value is not None and value < 1 else _text(value, "L")


def _liquor(value: float | None) -> str | None:
    return None if value is None else _quoted(f"{_plain(value)} L/kg" if value < 1 else f"{_plain(value)}:1")


def _yarn_lines(yarn: Yarn) -> _Lines:
    shares = ", ".join(f"{fibre.value} = {_plain(share * 100)}" for fibre, share in yarn.fibre_frac.items())
    return [
        ("fibre", f"{{ {shares} }}" if shares else None),
        ("superwash", "true" if yarn.is_superwash else None),
        ("scoured", "true" if yarn.is_scoured else None),
        ("dry", _text(yarn.dry_g, "g")),
        ("skeins", None if yarn.skeins is None else str(yarn.skeins)),
        ("residue", _plain(yarn.residue_meq_kg) if yarn.residue_meq_kg else None),
    ]


def _dye_lines(dye: DyeDose) -> _Lines:
    return [
        ("name", _quoted(dye.name)),
        ("class", _quoted(dye.dye_class.value)),
        ("depth", _text(dye.depth_owf, "%", 100)),
        ("stock", _text(dye.stock_g_l, "g/L")),
        ("mixed_days_ago", _plain(dye.mixed_days_ago) if dye.mixed_days_ago else None),
    ]


def _water_lines(water: Water) -> _Lines:
    alkalinity = None if water.alkalinity_mg_l is None else _text(water.alkalinity_mg_l, "mg/L")
    return [
        ("alkalinity", alkalinity),
        ("ph", None if water.ph is None else _plain(water.ph)),
        ("temperature", _text(water.temperature_c, "C")),
    ]


def _assistant_lines(dose: AssistantDose) -> _Lines:
    amounts = (
        _text(dose.mass_g, "g"),
        _litres(dose.volume_l),
        _text(dose.owf, "% owf", 100),
        _text(dose.bath_g_l, "g/L"),
        _text(dose.bath_l_l, "mL/L", 1000),
    )
    return [
        ("kind", _quoted(dose.label)),
        ("target_ph", None if dose.target_ph is None else _plain(dose.target_ph)),
        ("amount", next((amount for amount in amounts if amount is not None), None)),
        ("when", _when_text(dose.when)),
    ]


def _when_text(when: When) -> str:
    match when.kind:
        case WhenKind.SOAK | WhenKind.START:
            return _quoted(when.kind.value)
        case WhenKind.TEMPERATURE:
            return _quoted(f"{_plain(when.value or 0.0)} C")
        case WhenKind.MINUTE:
            return _quoted(f"{_plain(when.value or 0.0)} min")


def _pot_lines(pot: Pot) -> _Lines:
    return [
        ("name", None if pot.name is None else _quoted(pot.name)),
        ("volume", _text(pot.volume_l, "L")),
        ("diameter", _text(pot.diameter_m, "cm", 100)),
        ("lid", "true" if pot.has_lid else "false"),
        ("power", _text(pot.power_w, "W")),
        ("heat", _quoted(pot.heating.value)),
        ("turns_per_min", None if pot.turns_per_min is None else _plain(pot.turns_per_min)),
    ]


def _stage_lines(stage: Stage) -> _Lines:
    match stage:
        case Enter():
            return [("enter", _text(stage.at_c, "C"))]
        case To():
            return [("to", _text(stage.to_c, "C")), ("rate", _text(stage.rate_c_per_min, "C/min"))]
        case Hold():
            return [("hold", _text(stage.hold_min, "min"))]
        case CoolTo():
            return [("cool_to", _text(stage.to_c, "C"))]
