"""How much of a reactive dye in an old stock solution can still bond."""

import numpy as np
from scipy.special import ndtri

from dyewright.core.model import DyeDose, Span
from dyewright.core.reactive import stock_active_frac
from dyewright.data.after_dyeing import load_reactive
from dyewright.units import show_percent

__all__ = ["stock_days", "stock_left", "stock_words"]

_NORMAL = ndtri((np.arange(64) + 0.5) / 64)  # evenly likely values of a standard normal
WORTH_SAYING_FRAC = 0.95  # where even the worse case leaves more, nothing is said


def stock_days(dose: DyeDose) -> float:
    """Return the age in days of the stock that a dose is taken from; powder has none."""
    return dose.mixed_days_ago if dose.stock_g_l is not None else 0.0


def stock_left(dose: DyeDose) -> Span | None:
    """Return the share of the stock's dye that can still bond, over how long-lived it is and where it was kept.

    None where the dye does not spoil so.
    """
    row = load_reactive().get(dose.dye_class)
    if row is None:
        return None
    left = stock_active_frac(row, stock_days(dose), _NORMAL[:, None], _NORMAL[None, :])
    low, mid, high = np.quantile(left, [0.05, 0.5, 0.95])
    return Span(float(mid), float(low), float(high))


def stock_words(dose: DyeDose) -> str | None:
    """Return the sentence of an old stock: "mixed 9 days ago: about 90 % left (68–98)"; None where it is fresh."""
    left = stock_left(dose)
    if left is None or left.low > WORTH_SAYING_FRAC:
        return None
    days, share = stock_days(dose), show_percent(round(left.mid, 2))
    span = f"{100 * left.low:.0f}–{100 * left.high:.0f}"
    return (
        f"{dose.name}: mixed {days:g} {'day' if days == 1 else 'days'} ago: about {share} left "
        f"({span}; an estimate, anywhere from fridge to warm room) that can bond. The rest still colours, and washes "
        "out. With soda ash in it a stock lasts hours."
    )
