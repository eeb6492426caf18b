"""Assistants by name and amount: what a dyer writes, read into doses."""

import re
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

from dyewright import units
from dyewright.core.model import AssistantDose, Strength, Substance
from dyewright.data.acidity import AssistantName, load_assistant_names
from dyewright.errors import InputError

__all__ = ["caution_key", "known_assistants", "parse_addition", "parse_substance", "with_amount"]

_STRENGTH = re.compile(r"^(?P<name>.*?)[\s,]*(?P<percent>\d+(?:[.,]\d+)?)\s*%\s*(?P<kind>w/w|w/v)?$", re.IGNORECASE)
_LIQUID_ACIDS = frozenset({Substance.ACETIC_ACID, Substance.FORMIC_ACID})
_ALKALIS = frozenset(
    {Substance.SODA_ASH, Substance.SODA_ASH_MONOHYDRATE, Substance.SODA_ASH_DECAHYDRATE, Substance.SODIUM_BICARBONATE}
)
STRONG_ACID_FRAC = 0.25  # from here acetic acid burns and its vapour can catch fire (safety sheets, from memory)
_NEEDS_STRENGTH = frozenset({Substance.ACETIC_ACID, Substance.FORMIC_ACID, Substance.AMMONIA})


def known_assistants() -> tuple[str, ...]:
    """Return the names that assistants go by."""
    return tuple(name.name for name in load_assistant_names().values())


def parse_substance(text: str, *, field: str | None = None) -> AssistantDose:
    """Return a dose without an amount from a name with its strength: "white vinegar 5 %", "citric acid".

    Beside vinegar, and beside what is sold as a solid, a percentage is grams in 100 mL; beside acetic and formic acid
    and ammonia it is grams in 100 g, unless "w/v" or "w/w" says otherwise.

    Raises:
        InputError: the name is not known, the strength is missing or is not possible.
    """
    tidy = " ".join(text.replace("’", "'").split())
    match = _STRENGTH.match(tidy)
    entry = _entry(match["name"] if match else tidy, text, field)
    if match is None:
        return _unstated(entry, field)
    percent = float(match["percent"].replace(",", "."))
    if not 0 < percent <= 100:
        raise InputError(
            f"{entry.name}: a strength of {percent:g} % is not possible; it lies above 0 and up to 100 %",
            field=field,
            value=percent,
            limit=100,
        )
    kind = match["kind"]
    strength = entry.strength(percent / 100, is_w_w=None if kind is None else kind.casefold() == "w/w")
    label = f"{entry.name} {percent:g} %{f' {kind.casefold()}' if kind else ''}"
    return AssistantDose(label, entry.substance, strength)


def parse_addition(text: str, spoons: str = "metric", *, field: str | None = None) -> AssistantDose:
    """Return a dose from "white vinegar 5 %=25 mL"; `spoons` says whose kitchen measures are meant.

    Raises:
        InputError: the text has no "=", the assistant is not known, or the amount cannot be read.
    """
    name, sign, amount = text.rpartition("=")
    if not sign:
        raise InputError(
            f"addition '{text}': the amount is missing; write for example 'white vinegar 5 %=25 mL'",
            field=field,
            value=text,
        )
    dose = parse_substance(name, field=field)
    return with_amount(dose, units.quantity(amount, spoons, field=field, thing=dose.label))


def with_amount(dose: AssistantDose, amount: units.Quantity) -> AssistantDose:
    """Return a dose of the same assistant with an amount of whatever dimension."""
    place = {
        units.Dimension.MASS: "mass_g",
        units.Dimension.VOLUME: "volume_l",
        units.Dimension.OWF: "owf",
        units.Dimension.BATH_MASS: "bath_g_l",
        units.Dimension.BATH_VOLUME: "bath_l_l",
        units.Dimension.PH: "target_ph",
    }[amount.dimension]
    bare = AssistantDose(dose.label, dose.substance, dose.strength, when=dose.when, is_when_said=dose.is_when_said)
    values: dict[str, Any] = {place: amount.value}
    return replace(bare, **values)


def caution_key(dose: AssistantDose) -> str | None:
    """Return the key of the caution that stands where this assistant is handled, None where none is usual."""
    if dose.substance in _LIQUID_ACIDS:
        by_mass, by_volume = dose.strength.w_w_frac, dose.strength.w_v_g_l
        strength = by_mass if by_mass is not None else 1.0 if by_volume is None else by_volume / 1000
        return "strong-acid" if strength >= STRONG_ACID_FRAC else "acid"
    if dose.substance is Substance.CITRIC_ACID:
        return "acid"
    if dose.substance is Substance.AMMONIA:
        return "ammonia"
    return "alkali" if dose.substance in _ALKALIS else None


def _entry(name: str, text: str, field: str | None) -> AssistantName:
    """Return a name's entry, or raise the sentence that lists the known ones."""
    names = load_assistant_names()
    wanted = name.casefold().strip(" ,")
    if entry := names.get(wanted):
        return entry
    near = get_close_matches(wanted, names, n=1)
    hint = f"did you mean '{names[near[0]].name}'? Known" if near else "known"
    raise InputError(
        f"assistant '{text.strip()}' is not known; {hint} are {', '.join(known_assistants())}",
        field=field,
        value=text,
        limit=known_assistants(),
    )


def _unstated(entry: AssistantName, field: str | None) -> AssistantDose:
    """Return a dose whose strength was not said: the usual one, or the pure solid."""
    if entry.usual is not None:
        is_vinegar = entry.usual.w_v_g_l is not None
        label = f"{entry.name} {entry.usual.w_v_g_l / 10:g} %" if entry.usual.w_v_g_l is not None else entry.name
        return AssistantDose(label if is_vinegar else entry.name, entry.substance, entry.usual)
    if entry.substance in _NEEDS_STRENGTH:
        raise InputError(
            f"{entry.name}: how strong is it? Add the figure of the label, for example '{entry.name} 10 %'",
            field=field,
            value=entry.name,
        )
    return AssistantDose(entry.name, entry.substance, Strength())
