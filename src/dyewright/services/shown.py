"""Colours as a page shows them: a display code and words for a measured Lab."""

from functools import cache

from dyewright.core.colour import colour_words, display_hex, lab_from_xyz, light_of, xyz_from_reflectance
from dyewright.core.model import Lab, ObserverTables, Swatch
from dyewright.data.colour import load_observer_tables

__all__ = ["LIGHT_WORDS", "daylight_white", "shown_hex", "shown_words", "swatch_lab"]

LIGHT_WORDS = {"D65": "Daylight", "A": "Lamp", "FL11": "Shop tube", "LED-B3": "LED"}
"""Each light as a dyer calls it."""


@cache
def _tables() -> ObserverTables:
    return load_observer_tables()


def daylight_white() -> tuple[float, ...]:
    """Return the white point that the project's colours refer to (D65, 10°), Y = 100."""
    return tuple(_tables().whites["D65", 10])


def shown_hex(lab: Lab | None) -> str:
    """Return the sRGB code that shows a colour (D65, 10°) on a screen; "transparent" where it is not known."""
    return "transparent" if lab is None else display_hex(lab, daylight_white())


def shown_words(lab: Lab | None) -> str:
    """Return a colour in words: "deep greyish teal"."""
    return "not known" if lab is None else colour_words(lab)


def swatch_lab(swatch: Swatch) -> Lab | None:
    """Return a swatch's Lab (D65, 10°), from its curve where it has one; None where it was read under another light."""
    if swatch.reflectance is not None:
        weights, white = light_of(_tables(), "D65", 10)
        lightness, a, b = lab_from_xyz(xyz_from_reflectance(swatch.reflectance, weights), white)
        return float(lightness), float(a), float(b)
    return swatch.lab if (swatch.illuminant, swatch.observer) == ("D65", 10) else None
