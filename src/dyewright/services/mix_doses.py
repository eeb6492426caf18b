"""What the dyes of a mix weigh for the yarn, how they are measured, and what they cost."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from dyewright import units
from dyewright.core.bath import LEAST_DOSE_L, STOCK_STRENGTHS_G_L, stock_hint, stock_volume_l, weigh_as
from dyewright.core.model import Dye, Weigh

__all__ = ["LEAST_STOCK_G", "Dose", "dose_of", "mix_cost", "plan_query"]

LEAST_STOCK_G = LEAST_DOSE_L * min(STOCK_STRENGTHS_G_L)
"""The least dye that can be measured at all: the least dose of the weakest usual stock."""


@dataclass(frozen=True)
class Dose:
    """What one dye weighs for the yarn, as powder or as stock; `why` says in a sentence why it is no powder."""

    dye: str
    label: str
    amount: str
    why: str = ""


def dose_of(name: str, depth_owf: float, dry_g: float, scale_resolution_g: float) -> Dose:
    """Return how the dose of one dye is measured on this scale."""
    dye_g = depth_owf * dry_g
    if weigh_as(dye_g, scale_resolution_g) is Weigh.POWDER:
        return Dose(name, name, units.show_mass(dye_g, scale_resolution_g))
    hint = stock_hint(dye_g, scale_resolution_g)
    strength = f"{hint.stock_g_l / 10:g}\u00a0% stock"
    millilitres = units.show_volume(stock_volume_l(dye_g, hint.stock_g_l))
    is_lost = dye_g < LEAST_STOCK_G * (1 - 1e-9)
    end = (
        f", too little to measure well (from {1000 * LEAST_DOSE_L:g}\u00a0mL): leave it out, or dye more yarn at once"
        if is_lost
        else ""
    )
    why = (
        f"{units.show_percent(depth_owf)} of {units.show_mass(dry_g)} is {_milligrams(dye_g)}, too little for a scale "
        f"of {scale_resolution_g:g}\u00a0g: {millilitres} of {strength}{end}"
    )
    return Dose(name, f"{name}, as {strength}", millilitres, why)


def _milligrams(mass_g: float) -> str:
    return f"{1000 * mass_g:.2g}\u00a0mg" if mass_g < 0.0995 else units.show_mass(mass_g)


def mix_cost(mix: Mapping[str, float], tubs: Mapping[str, Dye], dry_g: float) -> str | None:
    """Return what the dyes of a mix cost, in the dyer's currency; None where a price is missing."""
    prices = [tubs[name].price_per_g if name in tubs else None for name in mix]
    if not prices or any(price is None for price in prices):
        return None
    return f"{sum(float(price or 0) * depth * dry_g for price, depth in zip(prices, mix.values(), strict=True)):.2f}"


def plan_query(mix: Mapping[str, float], dry_g: float, base_id: int | None) -> str:
    """Return the planning page's address part for a mix: dyes with their depths, base and weight."""
    dyes = ";".join(f"{name} {100 * depth:.3g} %" for name, depth in mix.items() if depth > 0)
    base = {} if base_id is None else {"base": str(base_id)}
    return urlencode({"dyes": dyes, "weight": f"{dry_g:g} g", **base})
