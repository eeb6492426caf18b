"""A card written as TOML that reads back the same."""

import json
from collections.abc import Sequence

from dyewright.core.model import (
    AssistantDose,
    Card,
    CoolTo,
    DyeDose,
    Enter,
    Handling,
    Hold,
    Pot,
    Rinse,
    Stage,
    To,
    Water,
    When,
    Yarn,
)
from dyewright.files.cards.moments import moment_text

__all__ = ["write_card"]

_Lines = list[tuple[str, str | None]]


def write_card(card: Card) -> str:
    """Return the card as TOML that reads back to the same card; what is not said is left out."""
    title = f"title = {_quoted(card.title)}\n" if card.title else ""
    wish = "" if card.is_tonal_wanted is None else f"tonal = {str(card.is_tonal_wanted).lower()}\n"
    treated = "after_treatment = true\n" if card.is_after_treated else ""
    parts = [title + wish + treated]
    parts += [_block("[yarn]", _yarn_lines(card.yarn))]
    parts += [_block("[[dye]]", _dye_lines(dye)) for dye in card.dyes]
    parts += [_block("[bath]", [("liquor", _liquor(card.liquor_l_kg)), ("water", _litres(card.water_l))])]
    parts += [_block("[water]", _water_lines(card.water))]
    parts += [_block("[[assistant]]", _assistant_lines(dose)) for dose in card.assistants]
    parts += [_block("[[pot]]", _pot_lines(pot)) for pot in card.pots]
    parts += [_block("[[stage]]", _stage_lines(stage)) for stage in card.stages]
    parts += [_block("[rinse]", _rinse_lines(card.rinse))]
    parts += [_block("[scale]", [("resolution", _text(card.scale_resolution_g, "g"))])]
    return "\n".join(part for part in parts if part)


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
        ("when", _moments(dye.parts)),
    ]


def _moments(parts: Sequence[When]) -> str | None:
    """Return the moments of a dye's parts; None for the usual one, the start."""
    texts = [_quoted(moment_text(when)) for when in parts]
    if len(texts) > 1:
        return f"[{', '.join(texts)}]"
    return None if parts == (When(),) else texts[0]


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
        ("when", _quoted(moment_text(dose.when))),
    ]


def _pot_lines(pot: Pot) -> _Lines:
    return [
        ("name", None if pot.name is None else _quoted(pot.name)),
        ("volume", _text(pot.volume_l, "L")),
        ("diameter", _text(pot.diameter_m, "cm", 100)),
        ("lid", "true" if pot.has_lid else "false"),
        ("power", _text(pot.power_w, "W")),
        ("heat", _quoted(pot.heating.value)),
        ("turns_per_min", None if pot.turns_per_min is None else _plain(pot.turns_per_min)),
        ("useful", _text(pot.useful_w, "W")),
        ("loss_factor", None if pot.loss_factor == 1.0 else _plain(pot.loss_factor)),
    ]


def _rinse_lines(rinse: Rinse) -> _Lines:
    return [
        ("litres", _litres(rinse.water_l)),
        ("drain", _quoted(rinse.drain.value)),
        ("temperature", _text(rinse.at_c, "C")),
        ("soap", "true" if rinse.has_soap else None),
        ("handling", None if rinse.handling is Handling.LIFTED else _quoted(rinse.handling.value)),
        ("kept", _text(rinse.kept_l_kg, "L/kg")),
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
