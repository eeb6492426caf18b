"""Recipes as a dyer writes them: "Lagoon 0.5 %", "Lagoon 0.5 + Soot 0.1", "undyed"."""

from collections.abc import Mapping

from dyewright.errors import InputError
from dyewright.units import show_percent

__all__ = ["UNDYED", "recipe_from_text", "recipe_text"]

UNDYED = "undyed"


def recipe_from_text(text: str, *, field: str = "recipe") -> dict[str, float]:
    """Return the depths (fractions) of "Lagoon 0.5 %", "Lagoon 0.5 + Soot 0.1" or "undyed", in per cent each.

    Raises:
        InputError: a part is no dye with its depth; `field` names where it was typed.
    """
    text = text.strip()
    if text.lower() in {"", UNDYED, "none"}:
        return {}
    depths: dict[str, float] = {}
    for part in text.split("+"):
        name, _, amount = part.strip().removesuffix("%").strip().rpartition(" ")
        name = name.strip(" :=")
        try:
            percent = float(amount.replace(",", "."))
        except ValueError:
            percent = -1.0
        if not name or not 0 < percent <= 100:
            raise InputError(
                f"{part.strip()!r} is not a dye with its depth; write for example Lagoon 0.5 %, or undyed",
                field=field,
                value=part,
            )
        depths[name] = depths.get(name, 0.0) + percent / 100
    return depths


def recipe_text(depths_owf: Mapping[str, float]) -> str:
    """Return a recipe as it is written: "Lagoon 0.5 % + Soot 0.1 %", or "undyed"."""
    return " + ".join(f"{name} {show_percent(depth)}" for name, depth in depths_owf.items()) or UNDYED
