"""The accepted units: how each is written, and its size in the core unit.

Sources: [1] NIST Handbook 44, appendix C, general tables of units (exact US customary volumes and avoirdupois masses).
[2] NIST, Cooking measurement equivalencies (5 mL the teaspoon, 15 mL the tablespoon, 30 mL the fluid ounce).
[3] Weights and Measures Act 1985 (UK), schedule 1: gallon 4.54609 L, pint 1/8 of it, fluid ounce 1/20 of a pint.
[4] Metric cup 250 mL, Australian tablespoon 20 mL, UK teaspoon 5 mL and tablespoon 15 mL: secondary source
(encyclopedias quoting the standards), as in the project's reference notes.
[5] Alkalinity: 1 mg/L as CaCO3 is 1/50.04 meq/L (molar mass of CaCO3 100.09 g/mol, two equivalents); the national
degrees as in the project's reference notes (German 17.85, French 10, Clark 14.25, grain a US gallon 17.12 mg/L).
[6] International inch (25.4 mm) and the international-table BTU (1055.056 J): [1] and NIST SP 811, appendix B.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = [
    "ALKALINITY",
    "AMBIGUOUS_VOLUMES",
    "BATH_MASS",
    "BATH_VOLUME",
    "CONCENTRATION",
    "DURATION",
    "FRACTION",
    "LENGTH",
    "LIQUOR",
    "MASS",
    "POWER",
    "RAMP",
    "SPOONS",
    "TEMPERATURE",
    "TURNS",
    "Scale",
    "volume_scale",
]

Names = tuple[str, ...]


@dataclass(frozen=True)
class Scale:
    """The units of one dimension: spellings of a unit (the first is shown in messages) to its size in the core unit.

    `also` holds units that are accepted but would only lengthen a message.
    """

    thing: str
    units: Mapping[Names, float]
    also: Mapping[Names, float] = field(default_factory=dict)

    def name(self, unit: str) -> str | None:
        """Return the usual spelling of a unit, None where the unit is not known. Capitals do not matter."""
        wanted = unit.casefold()
        known = (*self.units, *self.also)
        return next((names[0] for names in known if wanted in (n.casefold() for n in names)), None)

    def factor(self, unit: str) -> float | None:
        """Return a unit's size in the core unit, None where the unit is not known."""
        name = self.name(unit)
        return next((size for names, size in {**self.units, **self.also}.items() if names[0] == name), None)

    @property
    def accepted(self) -> str:
        """The accepted units as a phrase for a message."""
        return ", ".join(names[0] for names in self.units)


MASS = Scale(
    "mass",
    {
        ("g", "gram", "grams", "gramme", "grammes", "gm"): 1.0,
        ("kg", "kilo", "kilos", "kilogram", "kilograms"): 1000.0,
        ("mg", "milligram", "milligrams"): 0.001,
        ("oz", "ounce", "ounces"): 28.349523125,  # [1]
        ("lb", "lbs", "pound", "pounds"): 453.59237,  # [1]
    },
)

US_GALLON_L = 3.785411784  # [1], 231 cubic inches
UK_GALLON_L = 4.54609  # [3]

_METRIC_VOLUMES: dict[Names, float] = {
    ("L", "litre", "litres", "liter", "liters", "ltr"): 1.0,
    ("mL", "millilitre", "millilitres", "milliliter", "milliliters", "cc"): 0.001,
    ("cL", "centilitre", "centilitres", "centiliter", "centiliters"): 0.01,
    ("dL", "decilitre", "decilitres", "deciliter", "deciliters"): 0.1,
}
_NAMED_VOLUMES: dict[Names, float] = {
    ("US fl oz",): US_GALLON_L / 128,
    ("US cup", "US cups"): US_GALLON_L / 16,
    ("US pint", "US pints"): US_GALLON_L / 8,
    ("US quart", "US quarts"): US_GALLON_L / 4,
    ("US gallon", "US gallons"): US_GALLON_L,
    ("imperial fl oz", "UK fl oz"): UK_GALLON_L / 160,
    ("imperial pint", "imperial pints", "UK pint", "UK pints"): UK_GALLON_L / 8,
    ("imperial quart", "imperial quarts", "UK quart", "UK quarts"): UK_GALLON_L / 4,
    ("imperial gallon", "imperial gallons", "UK gallon", "UK gallons"): UK_GALLON_L,
}
TSP: Names = ("tsp", "teaspoon", "teaspoons")
TBSP: Names = ("tbsp", "tablespoon", "tablespoons", "tbs")
CUP: Names = ("cup", "cups")
FL_OZ: Names = ("fl oz", "fl. oz", "fl. oz.", "fluid ounce", "fluid ounces")
_PINT: Names = ("pint", "pints", "pt")
_QUART: Names = ("quart", "quarts", "qt", "qts")
_GALLON: Names = ("gallon", "gallons", "gal")

SPOONS: Mapping[str, Mapping[Names, float]] = {
    "metric": {TSP: 0.005, TBSP: 0.015, CUP: 0.25, FL_OZ: 0.03},  # [2] but for the cup: [4]
    "US": {  # [1]: tsp = fl oz / 6, tbsp = fl oz / 2
        TSP: US_GALLON_L / 768,
        TBSP: US_GALLON_L / 256,
        CUP: US_GALLON_L / 16,
        FL_OZ: US_GALLON_L / 128,
        _PINT: US_GALLON_L / 8,
        _QUART: US_GALLON_L / 4,
        _GALLON: US_GALLON_L,
    },
    "UK": {  # spoons [4], the rest [3]; a cup is half a pint
        TSP: 0.005,
        TBSP: 0.015,
        CUP: UK_GALLON_L / 16,
        FL_OZ: UK_GALLON_L / 160,
        _PINT: UK_GALLON_L / 8,
        _QUART: UK_GALLON_L / 4,
        _GALLON: UK_GALLON_L,
    },
    "Australian": {TSP: 0.005, TBSP: 0.02, CUP: 0.25, FL_OZ: 0.03},  # [4]; fl oz [2]
}
"""Kitchen measures in litres, by whose spoons and cups hang in the studio."""

AMBIGUOUS_VOLUMES = frozenset(name for names in (_PINT, _QUART, _GALLON) for name in names)
"""Measures whose size depends on the country, and which metric and Australian spoons do not settle."""

LENGTH = Scale(
    "length",
    {
        ("cm", "centimetre", "centimetres", "centimeter", "centimeters"): 0.01,
        ("m", "metre", "metres", "meter", "meters"): 1.0,
        ("mm", "millimetre", "millimetres", "millimeter", "millimeters"): 0.001,
        ("in", "inch", "inches", '"', "″"): 0.0254,  # [6]
        ("ft", "foot", "feet", "'", "′"): 0.3048,  # [6]
    },
)
POWER = Scale(
    "power",
    {
        ("W", "watt", "watts"): 1.0,
        ("kW", "kilowatt", "kilowatts"): 1000.0,
        ("BTU/h", "BTU/hr", "BTU per hour"): 1055.05585262 / 3600,  # [6]
    },
)
DURATION = Scale(
    "time",
    {
        ("min", "mins", "minute", "minutes"): 1.0,
        ("h", "hr", "hrs", "hour", "hours"): 60.0,
        ("s", "sec", "secs", "second", "seconds"): 1 / 60,
        ("d", "day", "days"): 1440.0,
    },
)
TEMPERATURE = Scale(
    "temperature",
    {
        ("°C", "C", "ºC", "deg C", "degrees C", "Celsius", "degrees Celsius"): 1.0,
        ("°F", "F", "ºF", "deg F", "degrees F", "Fahrenheit", "degrees Fahrenheit"): 5 / 9,
        ("K", "kelvin"): 1.0,
    },
)
"""The size of one degree; the zero points are set where a temperature is read."""
RAMP = Scale(
    "heating rate",
    {
        ("°C/min", "C/min", "ºC/min", "°C per min", "C per min", "K/min"): 1.0,
        ("°C/h", "C/h", "ºC/h", "°C per h", "C per h", "°C per hour", "C per hour"): 1 / 60,
        ("°F/min", "F/min", "ºF/min", "°F per min", "F per min"): 5 / 9,
        ("°F/h", "F/h", "ºF/h", "°F per h", "F per h", "°F per hour", "F per hour"): 5 / 9 / 60,
    },
)
TURNS = Scale(
    "turning",
    {
        ("/min", "per min", "per minute", "turns/min", "turns per min", "turns per minute", "a minute"): 1.0,
        ("/h", "per h", "per hour", "turns/h", "turns per h", "turns per hour", "an hour"): 1 / 60,
    },
)
FRACTION = Scale(
    "share",
    {("%", "% owf", "% omf", "percent", "per cent", "percent owf", "% on weight of fibre"): 0.01, ("g/kg",): 0.001},
)
LIQUOR = Scale(
    "liquor ratio", {("L/kg", "l per kg", "litres/kg", "mL/g"): 1.0, ("US gal/lb",): US_GALLON_L / 0.45359237}
)
CONCENTRATION = Scale(
    "strength",
    {
        ("g/L", "g per L", "g/litre", "grams per litre"): 1.0,
        ("%", "% w/v", "percent", "g/100 mL", "g per 100 mL"): 10.0,
        ("mg/L", "mg per L"): 0.001,
        ("mg/mL",): 1.0,
    },
)
BATH_MASS = Scale(
    "amount a litre", {("g/L", "g per L", "g/litre", "grams per litre"): 1.0, ("mg/L", "mg per L"): 0.001}
)
BATH_VOLUME = Scale("amount a litre", {("mL/L", "mL per L", "mL/litre"): 0.001})

_MG_L_PER_MEQ_L = 50.04  # [5]
ALKALINITY = Scale(
    "alkalinity",
    {
        ("mg/L", "mg/L as CaCO3", "mg/L CaCO3", "mg/litre", "mg per L", "ppm", "ppm CaCO3", "ppm as CaCO3"): 1.0,
        ("meq/L", "mval/L", "mmol/L", "mmol/L HCO3", "mmol/L HCO3-"): _MG_L_PER_MEQ_L,  # acid capacity: one H+ each
        ("mg/L HCO3", "mg/L as HCO3", "mg/L HCO3-", "mg/L bicarbonate"): 0.820,  # [5]
        ("°dH", "dH", "°KH", "KH", "dKH", "°dKH"): 17.85,  # [5]
        ("°fH", "fH", "°f"): 10.0,  # [5]
        ("°Clark", "Clark", "°e"): 14.25,  # [5]
        ("gpg", "grains per gallon", "grains/gal"): 17.12,  # [5]
    },
)


def volume_scale(spoons: str) -> Scale:
    """Return the volumes that are accepted where these spoons are in use; `spoons` is a key of SPOONS."""
    return Scale("volume", {**_METRIC_VOLUMES, **SPOONS[spoons]}, also=_NAMED_VOLUMES)
