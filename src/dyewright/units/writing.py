"""Numbers to text: what a sheet, a page or a label shows."""

import math

from dyewright.errors import InputError
from dyewright.units import scales

__all__ = ["kitchen", "show_duration", "show_mass", "show_percent", "show_temperature", "show_volume"]

THIN = "\u202f"  # a narrow no-break space keeps the number and its unit together
MINUS = "\u2212"
CLOSE_ENOUGH_FRAC = 0.05  # a kitchen measure is read to about a twentieth (estimate)
SIGNIFICANT_DIGITS = 3
DRAWN_DECIMALS = (
    (1.0, 2),
    (20.0, 1),
)  # below so many mL a syringe is read to so many decimals: common practice, no source

_FRACTIONS = {0.0: "", 0.125: "1/8", 0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}


def kitchen(volume_l: float, spoons: str = "metric") -> str:
    """Return a volume in spoons and cups, within a twentieth of it where spoons can: "5 tbsp", "1 1/2 cups".

    Teaspoons come in quarters (an eighth below a half), tablespoons in halves, cups in quarters; a second, smaller
    measure is added where one alone would be too far off. Above 16 cups litres are given.

    Args:
        volume_l: 0 or more.
        spoons: whose kitchen measures: "metric", "US", "UK" or "Australian".
    """
    if spoons not in scales.SPOONS:
        raise InputError(f"spoons '{spoons}' are not known; use one of {', '.join(scales.SPOONS)}", field="spoons")
    measures = scales.SPOONS[spoons]
    tsp_l, tbsp_l, cup_l = measures[scales.TSP], measures[scales.TBSP], measures[scales.CUP]
    if volume_l > 16 * cup_l:
        return show_volume(volume_l).replace(THIN, " ")
    if volume_l >= cup_l / 2:
        return _two_measures(volume_l, ("cup", cup_l, 0.25, 0.25), ("tbsp", tbsp_l, 1.0))
    if volume_l >= 0.95 * tbsp_l:
        return _two_measures(volume_l, ("tbsp", tbsp_l, 0.5, 1.0), ("tsp", tsp_l, 0.5))
    if volume_l < 0.0625 * tsp_l:
        return "under 1/8 tsp" if volume_l > 0 else "0 tsp"
    step = 0.125 if volume_l < 0.45 * tsp_l else 0.25
    return _measure_text(round(volume_l / tsp_l / step) * step, "tsp")


def _two_measures(volume_l: float, large: tuple[str, float, float, float], small: tuple[str, float, float]) -> str:
    """Return a volume in the large measure alone where that is close enough, with some of the small one otherwise.

    A measure is its name, its size, and the step it is filled in; the large one has a second step for when the small
    one joins it.
    """
    name, size_l, step, joined_step = large
    count = round(volume_l / size_l / step) * step
    if abs(count * size_l - volume_l) <= CLOSE_ENOUGH_FRAC * volume_l:
        return _measure_text(count, name)
    small_name, small_l, small_step = small
    whole = math.floor(volume_l / size_l / joined_step) * joined_step
    rest = round((volume_l - whole * size_l) / small_l / small_step) * small_step
    parts = [_measure_text(n, text) for n, text in ((whole, name), (rest, small_name)) if n > 0]
    return " + ".join(parts)


def _measure_text(count: float, name: str) -> str:
    """Return a count of a kitchen measure: 1.5 and "cup" is "1 1/2 cups"."""
    whole, part = divmod(count, 1)
    fraction = _FRACTIONS.get(part) or ("3/8" if part == 0.375 else "")
    number = " ".join(text for text in (f"{whole:.0f}" if whole else "", fraction) if text) or "0"
    return f"{number} {name}s" if name == "cup" and count > 1 else f"{number} {name}"


def _digits(value: float, decimals: int | None = None) -> str:
    """Return a number in plain digits: three significant ones, or fixed decimals; with a true minus sign."""
    if decimals is None:
        magnitude = math.floor(math.log10(abs(value))) if value else 0
        text = _without_zeros(f"{value:.{max(0, SIGNIFICANT_DIGITS - 1 - magnitude)}f}")
    else:
        text = f"{value:.{decimals}f}"
    return text.replace("-", MINUS)


def _without_zeros(text: str) -> str:
    """Return a number's text without zeros at the end of its decimals."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def show_mass(mass_g: float, resolution_g: float | None = None) -> str:
    """Return a mass as text: to the scale's resolution where that is given, else to three digits (kg from 1000 g)."""
    if resolution_g is not None:
        decimals = max(0, -math.floor(math.log10(resolution_g) + 1e-9))
        return f"{_digits(round(mass_g / resolution_g) * resolution_g, decimals)}{THIN}g"
    if abs(mass_g) >= 999.5:
        return f"{_digits(mass_g / 1000)}{THIN}kg"
    return f"{_digits(mass_g)}{THIN}g"


def show_volume(volume_l: float) -> str:
    """Return a volume as text, no finer than it can be drawn: mL below a litre, L from there.

    To 0.01 mL below 1 mL, to 0.1 mL below 20 mL, to three digits above.
    """
    if abs(volume_l) >= 0.9995:
        return f"{_digits(volume_l)}{THIN}L"
    volume_ml = 1000 * volume_l
    decimals = next((decimals for below, decimals in DRAWN_DECIMALS if abs(volume_ml) < below), None)
    if decimals is None:
        return f"{_digits(volume_ml)}{THIN}mL"
    text = _without_zeros(_digits(volume_ml, decimals))
    return f"under 0.01{THIN}mL" if volume_ml > 0 and text == "0" else f"{text}{THIN}mL"


def show_temperature(temperature_c: float) -> str:
    """Return a temperature as text in whole °C."""
    return f"{_digits(round(temperature_c), 0)}{THIN}°C"


def show_percent(frac: float) -> str:
    """Return a fraction as text in percent, to three digits: 0.008 is 0.8 %."""
    return f"{_digits(frac * 100)}{THIN}%"


def show_duration(duration_min: float) -> str:
    """Return a time as text: seconds below a minute, minutes to an hour and a half, then hours and minutes."""
    if 0 < duration_min < 1:
        return f"{_digits(duration_min * 60, 0)}{THIN}s"
    minutes = round(duration_min)
    if minutes < 90:
        return f"{minutes}{THIN}min".replace("-", MINUS)
    hours, rest = divmod(minutes, 60)
    return f"{hours}{THIN}h {rest}{THIN}min" if rest else f"{hours}{THIN}h"
