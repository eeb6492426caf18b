"""Answers about colour: the field names are the keys of the JSON that scripts rely on."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.model.basis import Basis
from dyewright.core.model.colour import Lab

__all__ = ["ColourDifference", "Match", "MixDye", "Overdye", "Recipe", "Shade", "Why"]


@dataclass(frozen=True)
class MixDye:
    """One dye of a mix: its depth in per cent on the weight of fibre, as it is printed."""

    name: str
    depth_percent: float


@dataclass(frozen=True)
class Shade:
    """The colour that a mix is foretold to give on a base (D65, 10°), and how sure it is.

    `de00_95` is the radius in ΔE00 that holds 19 of 20 pots. `other_light` is the Lab under other lights, each against
    that light's own white. `reflectance` belongs to `wavelength_nm`.
    """

    base: str
    dyes: tuple[MixDye, ...]
    lab: Lab
    other_light: Mapping[str, Lab]
    reflectance: tuple[float, ...]
    wavelength_nm: tuple[float, ...]
    de00_95: float
    words: str
    hex: str
    is_beyond_screen: bool
    basis: Basis
    notes: tuple[str, ...] = ()


class Why(StrEnum):
    """What a recipe is best at among those found."""

    CLOSEST = "closest"
    STEADIEST = "steadiest"
    FEWEST_DYES = "fewest dyes"
    CHEAPEST = "cheapest"


@dataclass(frozen=True)
class Recipe:
    """One way to a target.

    `lab` is the colour foretold (D65, 10°), `de00` and `decmc21` its difference from the target (CMC with the target as
    standard). `other_light` is ΔE00 under other lights, None where the target is known by a Lab alone.
    `weighing_de00_p95` is how far weighing alone may move the colour, `de00_95` the radius that holds 19 of 20 pots.
    `cost_per_kg` is the dyes' price for a kilogram of yarn, None where a price is missing. `because` says in a sentence
    why the recipe is shown; `from_stock` names the dyes of which too little is needed to be weighed as powder, where
    yarn and scale are known.
    """

    dyes: tuple[MixDye, ...]
    lab: Lab
    de00: float
    decmc21: float
    other_light: Mapping[str, float] | None
    weighing_de00_p95: float
    de00_95: float
    why: tuple[Why, ...]
    words: str
    hex: str
    cost_per_kg: float | None = None
    because: str = ""
    from_stock: tuple[str, ...] = ()


@dataclass(frozen=True)
class Match:
    """The recipes for a target, the recommended one first.

    `reachable` says whether the closest recipe lies within one lot of the target (ΔE00 1). `combinations` is how many
    sets of dyes were tried; `seconds` the search alone, `fit_seconds` the fit of the shelf.
    """

    target_lab: Lab
    target_words: str
    target_hex: str
    base: str
    recipes: tuple[Recipe, ...]
    reachable: bool
    verdict: str
    combinations: int
    seconds: float
    fit_seconds: float
    basis: Basis
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Overdye(Match):
    """The recipes that take yarn already dyed to a target by additions only; none where none helps or is needed.

    `from_lab` is the yarn's colour (D65, 10°), `advice` what to do, in sentences; `darker_lab` the lightest colour of
    the target's hue and chroma that is reached where the target itself is not.
    """

    from_lab: Lab
    from_words: str
    from_hex: str
    advice: tuple[str, ...]
    darker_lab: Lab | None = None


@dataclass(frozen=True)
class ColourDifference:
    """How a sample differs from its standard: CIELAB, CIE94 (textile), CIEDE2000, CMC(1:1) and (2:1), grey scale.

    `dl`, `dc` and `dh` are the differences of L*, C*ab and H*ab; `visible` says what the difference means for skeins.
    """

    de76: float
    de94: float
    de00: float
    decmc11: float
    decmc21: float
    grey_scale_change: str
    dl: float
    dc: float
    dh: float
    words: str
    visible: str
    basis: Basis
    notes: tuple[str, ...] = ()
