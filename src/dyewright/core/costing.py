"""What a dyeing costs: dye by the gram, power by the kilowatt hour. Money is Decimal, in whatever currency is used.

Plain arithmetic, no source. Assistants and water have no price on the shelf and are left out; the caller says so.
"""

from collections.abc import Sequence
from decimal import Decimal

__all__ = ["dye_cost", "energy_cost"]


def dye_cost(dye_g: Sequence[float], price_per_g: Sequence[Decimal | None]) -> Decimal | None:
    """Return what the dyes of a pot cost together; None where a dye that goes in has no price.

    Args:
        dye_g: of each dye, g, >= 0.
        price_per_g: of each dye, money a gram, None where it is not known.
    """
    total = Decimal(0)
    for grams, price in zip(dye_g, price_per_g, strict=True):
        if grams <= 0:
            continue
        if price is None:
            return None
        total += Decimal(str(grams)) * price
    return total


def energy_cost(energy_kwh: float, price_per_kwh: Decimal) -> Decimal:
    """Return what the drawn power costs, at a price a kilowatt hour, >= 0."""
    return Decimal(str(energy_kwh)) * price_per_kwh
