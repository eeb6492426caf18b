"""Text to numbers: what a dyer types, in the units of the bench, read into core units.

Every function raises InputError with the thing, the text, what is accepted and the way out. The sizes of the units and
their sources are in `scales`.
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from dyewright.errors import InputError
from dyewright.units import scales
from dyewright.units.scales import Scale

__all__ = [
    "PH_MAX",
    "Dimension",
    "Quantity",
    "alkalinity_mg_l",
    "concentration_g_l",
    "duration_min",
    "frac",
    "length_m",
    "liquor_l_kg",
    "mass_g",
    "ph",
    "power_w",
    "quantity",
    "ramp_c_per_min",
    "temperature_c",
    "turns_per_min",
    "volume_l",
]

ABSOLUTE_ZERO_C = -273.15
FAHRENHEIT_ZERO_F = 32.0
PH_MAX = 14.0

_FRACTION_SIGNS = {
    "¼": "1/4",
    "½": "1/2",
    "¾": "3/4",
    "⅓": "1/3",
    "⅔": "2/3",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅕": "1/5",
    "⅙": "1/6",
}
_PLAIN_SIGNS = str.maketrans({"−": "-", "–": "-", "⁄": "/", "∕": "/", "∶": ":", "％": "%", "₃": "3", "⁻": "-"})
_NUMBER = r"""
    [-+]?
    (?: \d+ \s+ \d+ / \d+                     # 1 1/2
      | \d+ / \d+                             # 1/2
      | \d{1,3} (?: [ ] \d{3} )+ (?! \d )     # 12 500
      | \d+ (?: [.,] \d+ )? (?: e [-+]? \d+ )?
      | [.,] \d+
    )
"""
_TERM = re.compile(rf"\s* (?P<number>{_NUMBER}) \s* (?P<unit>[^\d+]*)", re.VERBOSE | re.IGNORECASE)
_ONLY_NUMBER = re.compile(_NUMBER, re.VERBOSE | re.IGNORECASE)
_JOIN = re.compile(r"(?:\s*(?:,|&|\+|\band\b)\s*)+$", re.IGNORECASE)
_THOUSANDS_OR_DECIMAL = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}")


class Dimension(StrEnum):
    """What an amount of open dimension turned out to be; the value says how Quantity counts it."""

    MASS = "g"
    VOLUME = "L"
    OWF = "fraction of the fibre's mass"
    BATH_MASS = "g per L of bath"
    BATH_VOLUME = "L per L of bath"
    PH = "pH"


@dataclass(frozen=True)
class Quantity:
    """An amount whose dimension was open: its dimension, and its value in that dimension's unit."""

    dimension: Dimension
    value: float


@dataclass(frozen=True)
class _Asked:
    """What is being read: the words for a message, kept together."""

    text: str
    thing: str
    field: str | None

    def wrong(self, why: str, *, limit: object = None) -> InputError:
        return InputError(f"{self.thing} '{self.text.strip()}': {why}", field=self.field, value=self.text, limit=limit)


def _tidy(text: str) -> str:
    """Return the text with its unicode variants made plain and its blanks single."""
    for sign, plain in _FRACTION_SIGNS.items():
        text = text.replace(sign, f" {plain} ")
    return " ".join(text.translate(_PLAIN_SIGNS).split())


def _number(text: str, asked: _Asked) -> float:
    """Return one number: 12, 0.5, 0,5, 1/2, 1 1/2, 12 500, 2e-3."""
    if _THOUSANDS_OR_DECIMAL.fullmatch(text):
        large, small = text.replace(",", ""), text.replace(",", ".")
        raise asked.wrong(f"{text} could mean {large} or {small}; leave the comma out or write a point")
    sign = -1.0 if text.startswith("-") else 1.0
    digits = text.lstrip("+-").strip()
    if "/" in digits:
        *whole, part = digits.split()
        above, below = (float(p) for p in part.split("/"))
        if below == 0:
            raise asked.wrong("a fraction over 0 is no number")
        return sign * (sum(float(w) for w in whole) + above / below)
    value = sign * float(digits.replace(" ", "").replace(",", "."))
    if not math.isfinite(value):
        raise asked.wrong("the number is too large to mean anything here")
    return value


def _terms(asked: _Asked, example: str) -> list[tuple[float, str]]:
    """Return the numbers of the text with the unit behind each: "1 lb 3 oz" has two."""
    text = _tidy(asked.text)
    if not text:
        raise asked.wrong(f"nothing is written; write for example {example}")
    found, at = [], 0
    while at < len(text):
        match = _TERM.match(text, at)
        if match is None or match.end() == at:
            raise asked.wrong(f"this cannot be read; write for example {example}")
        unit = _JOIN.sub("", match["unit"]).strip()
        found.append((_number(match["number"], asked), unit))
        at = match.end()
        while at < len(text) and text[at] in "+ ":
            at += 1
    return found


def _size(unit: str, scale: Scale, asked: _Asked, default_unit: str | None) -> float:
    """Return a unit's size, or raise the sentence that names what is accepted."""
    factor = scale.factor(unit or default_unit or "")
    if factor is not None:
        return factor
    if not unit:
        raise asked.wrong(f"the unit is missing; add one of {scale.accepted}")
    if scale.thing == "volume" and unit.casefold() in scales.AMBIGUOUS_VOLUMES:
        raise asked.wrong(f"a {unit} differs by country; write 'US {unit}' or 'imperial {unit}', or use L")
    raise asked.wrong(f"unknown unit '{unit}'; use {scale.accepted}")


def _measure(asked: _Asked, scale: Scale, example: str, default_unit: str | None = None) -> float:
    """Return a sum of terms in the core unit, 0 or more."""
    total = 0.0
    terms = _terms(asked, example)
    for value, unit in terms:
        if not unit and len(terms) > 1:
            raise asked.wrong(f"{value:g} has no unit; write for example {example}")
        total += value * _size(unit, scale, asked, default_unit)
        if value < 0:
            raise asked.wrong(f"it is below 0; write 0 or more, for example {example}", limit=0)
    return total


def _single(asked: _Asked, scale: Scale, example: str, default_unit: str | None = None) -> tuple[float, str]:
    """Return the one number of the text and its unit."""
    text = _tidy(asked.text)
    match = _ONLY_NUMBER.match(text)
    if match is None:
        raise asked.wrong(f"this cannot be read; write for example {example}")
    value, unit = _number(match[0], asked), text[match.end() :].strip()
    _size(unit, scale, asked, default_unit)
    return value, unit or default_unit or ""


def _checked_spoons(spoons: str) -> str:
    if spoons not in scales.SPOONS:
        known = ", ".join(scales.SPOONS)
        raise InputError(
            f"spoons '{spoons}' are not known; use one of {known}", field="spoons", value=spoons, limit=known
        )
    return str(spoons)


def mass_g(text: str, *, field: str | None = None, thing: str = "mass", default_unit: str | None = None) -> float:
    """Return a mass in g, 0 or more: "250 g", "9 oz", "1 lb 3 oz"; oz is the ounce of mass here."""
    return _measure(_Asked(text, thing, field), scales.MASS, "'250 g' or '9 oz'", default_unit)


def volume_l(
    text: str,
    spoons: str = "metric",
    *,
    field: str | None = None,
    thing: str = "volume",
    default_unit: str | None = None,
) -> float:
    """Return a volume in L, 0 or more: "6 L", "1 1/2 cups", "8 fl oz", "1 cup + 2 tbsp".

    Args:
        spoons: whose kitchen measures: "metric", "US", "UK" or "Australian".
    """
    scale = scales.volume_scale(_checked_spoons(spoons))
    return _measure(_Asked(text, thing, field), scale, "'6 L' or '1 1/2 cups'", default_unit)


def temperature_c(
    text: str, *, field: str | None = None, thing: str = "temperature", default_unit: str | None = None
) -> float:
    """Return a temperature in °C, above absolute zero: "60 C", "180 °F"."""
    asked = _Asked(text, thing, field)
    value, unit = _single(asked, scales.TEMPERATURE, "'60 C' or '180 F'", default_unit)
    match scales.TEMPERATURE.name(unit):
        case "°F":
            temperature = (value - FAHRENHEIT_ZERO_F) * 5 / 9
        case "K":
            temperature = value + ABSOLUTE_ZERO_C
        case _:
            temperature = value
    if temperature < ABSOLUTE_ZERO_C:
        raise asked.wrong(f"it is below absolute zero, {ABSOLUTE_ZERO_C} °C", limit=ABSOLUTE_ZERO_C)
    return temperature


def length_m(text: str, *, field: str | None = None, thing: str = "length", default_unit: str | None = None) -> float:
    """Return a length in m, 0 or more: "28 cm", "11 in"."""
    return _measure(_Asked(text, thing, field), scales.LENGTH, "'28 cm' or '11 in'", default_unit)


def power_w(text: str, *, field: str | None = None, thing: str = "power", default_unit: str | None = None) -> float:
    """Return a power in W, 0 or more: "1800 W", "1.8 kW", "9000 BTU/h"."""
    return _measure(_Asked(text, thing, field), scales.POWER, "'1800 W' or '1.8 kW'", default_unit)


def duration_min(text: str, *, field: str | None = None, thing: str = "time", default_unit: str | None = None) -> float:
    """Return a time in minutes, 0 or more: "40 min", "1 h 30 min", "1 1/2 hours"."""
    return _measure(_Asked(text, thing, field), scales.DURATION, "'40 min' or '1 h 30 min'", default_unit)


def ramp_c_per_min(
    text: str, *, field: str | None = None, thing: str = "heating rate", default_unit: str | None = None
) -> float:
    """Return a heating rate in °C/min, 0 or more: "1 C/min", "2 °F/min", "60 C/h"."""
    return _measure(_Asked(text, thing, field), scales.RAMP, "'1 C/min'", default_unit)


def turns_per_min(
    text: str, *, field: str | None = None, thing: str = "turning", default_unit: str | None = None
) -> float:
    """Return how often the yarn is turned, per minute: "0.5 /min", "30 per hour", "every 2 min"."""
    asked = _Asked(text, thing, field)
    if match := re.match(r"(?:once\s+)?every\s+(.*)", _tidy(text), re.IGNORECASE):
        interval = match[1] if re.match(r"[\d.,]", match[1]) else f"1 {match[1]}"
        between_min = duration_min(interval, field=field, thing=f"{thing}, every")
        if between_min <= 0:
            raise asked.wrong("the time between turns must be above 0; write for example 'every 2 min'", limit=0)
        return 1 / between_min
    return _measure(asked, scales.TURNS, "'0.5 /min' or 'every 2 min'", default_unit)


def frac(text: str, *, field: str | None = None, thing: str = "share", bare_percent: bool = False) -> float:
    """Return a fraction, 0 or more: "0.8 %" is 0.008. A bare number counts as percent only with `bare_percent`."""
    default_unit = "%" if bare_percent else None
    asked = _Asked(text, thing, field)
    value, unit = _single(asked, scales.FRACTION, "'0.8 %'", default_unit)
    if value < 0:
        raise asked.wrong("it is below 0 %; write 0 % or more", limit=0)
    return value * _size(unit, scales.FRACTION, asked, default_unit)


def liquor_l_kg(
    text: str, *, field: str | None = None, thing: str = "liquor ratio", default_unit: str | None = None
) -> float:
    """Return a liquor ratio in L of bath a kg of dry yarn, above 0: "25:1", "1:25", "25 L/kg"."""
    asked = _Asked(text, thing, field)
    example = "'25:1' or '25 L/kg'"
    parts = _tidy(text).split(":")
    if len(parts) == 1:
        ratio = _measure(asked, scales.LIQUOR, example, default_unit)
    elif len(parts) == 2 and all(_ONLY_NUMBER.fullmatch(p.strip()) for p in parts):
        small, large = sorted(_number(p.strip(), asked) for p in parts)
        if small <= 0:
            raise asked.wrong(f"both sides must be above 0; write for example {example}", limit=0)
        ratio = large / small
    else:
        raise asked.wrong(f"this cannot be read; write for example {example}")
    if ratio <= 0:
        raise asked.wrong(f"it must be above 0; write for example {example}", limit=0)
    return ratio


def concentration_g_l(
    text: str, *, field: str | None = None, thing: str = "strength", default_unit: str | None = None
) -> float:
    """Return a strength in g/L, 0 or more: "5 g/L"; "1 %" is weight by volume, 10 g/L, as dyers mix a stock."""
    asked = _Asked(text, thing, field)
    tidy = _tidy(text)
    if match := re.fullmatch(r"(.+?)\s*(?:g/100|g per 100)\s*ml", tidy, re.IGNORECASE):
        asked_percent = _Asked(f"{match[1]} %", thing, field)
        return _measure(asked_percent, scales.CONCENTRATION, "'1 %' or '10 g/L'")
    return _measure(asked, scales.CONCENTRATION, "'1 %' or '10 g/L'", default_unit)


def alkalinity_mg_l(
    text: str, *, field: str | None = None, thing: str = "alkalinity", default_unit: str | None = None
) -> float | None:
    """Return the alkalinity of water in mg/L as CaCO3, 0 or more; None where the text says "unknown"."""
    if _tidy(text).casefold() in {"unknown", "not known", "?"}:
        return None
    if re.fullmatch(r"0+(?:[.,]0*)?", _tidy(text)):
        return 0.0  # pure water: nothing is nothing in any unit
    asked = _Asked(text, thing, field)
    value, unit = _single(asked, scales.ALKALINITY, "'110 mg/L', '6 °dH' or 'unknown'", default_unit)
    if value < 0:
        raise asked.wrong("it is below 0; write 0 (pure water) or more, or 'unknown'", limit=0)
    return value * _size(unit, scales.ALKALINITY, asked, default_unit)


def ph(text: str, *, field: str | None = None, thing: str = "pH") -> float:
    """Return a pH from 0 to 14: "4.5" or "pH 4.5"."""
    asked = _Asked(text, thing, field)
    bare = re.sub(r"(?i)\bph\b", "", _tidy(text)).strip(" =:")
    if not _ONLY_NUMBER.fullmatch(bare):
        raise asked.wrong("this cannot be read; write for example 'pH 4.5'")
    value = _number(bare, asked)
    if not 0 <= value <= PH_MAX:
        raise asked.wrong(f"a pH lies from 0 to {PH_MAX:g}", limit=PH_MAX)
    return value


def quantity(text: str, spoons: str = "metric", *, field: str | None = None, thing: str = "amount") -> Quantity:
    """Return an amount whose dimension is open.

    "25 mL", "2 tbsp", "8 fl oz" are volumes; "2 g", "1 oz" masses; "2 % owf" (or "2 %") is on the weight of fibre;
    "5 g/L", "15 mL/L" and "2 tbsp per 8 cups" are per litre of bath; "pH 4.5" is a target.
    """
    asked = _Asked(text, thing, field)
    if re.search(r"\bph\b", text, re.IGNORECASE):
        return Quantity(Dimension.PH, ph(text, field=field, thing=thing))
    volumes = scales.volume_scale(_checked_spoons(spoons))
    if match := re.fullmatch(r"(.+)\s+(?:per|to|in)\s+(\d.*)", _tidy(text), re.IGNORECASE):
        return _per_bath(_Asked(match[1], thing, field), _Asked(match[2], f"{thing}, per", field), volumes)
    candidates = {
        Dimension.MASS: scales.MASS,
        Dimension.VOLUME: volumes,
        Dimension.OWF: scales.FRACTION,
        Dimension.BATH_MASS: scales.BATH_MASS,
        Dimension.BATH_VOLUME: scales.BATH_VOLUME,
    }
    example = "'25 mL', '2 g', '2 % owf', '5 g/L' or 'pH 4.5'"
    first_unit = _terms(asked, example)[0][1]
    for dimension, scale in candidates.items():
        if scale.factor(first_unit) is not None:
            return Quantity(dimension, _measure(asked, scale, example))
    units = ", ".join(scale.accepted for scale in candidates.values())
    what = f"unknown unit '{first_unit}'" if first_unit else "the unit is missing"
    raise asked.wrong(f"{what}; write for example {example} (units: {units})")


def _per_bath(amount: _Asked, bath: _Asked, volumes: Scale) -> Quantity:
    """Return an amount for each volume of bath: "2 tbsp per 8 cups"."""
    bath_l = _measure(bath, volumes, "'2 tbsp per 8 cups'")
    if bath_l <= 0:
        raise bath.wrong("the bath must be above 0 L", limit=0)
    if scales.MASS.factor(_terms(amount, "'5 g'")[0][1]) is not None:
        return Quantity(Dimension.BATH_MASS, _measure(amount, scales.MASS, "'5 g'") / bath_l)
    return Quantity(Dimension.BATH_VOLUME, _measure(amount, volumes, "'2 tbsp'") / bath_l)
