"""A studio's shelf and settings: what is at hand, in the dyer's own names."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from uuid import UUID

from dyewright.core.model.card import Heating, Water
from dyewright.core.model.dye import DyeClass
from dyewright.core.model.fibre import Fibre

__all__ = [
    "Base",
    "Colourway",
    "Dye",
    "Evening",
    "Jar",
    "Palette",
    "Settings",
    "Spoons",
    "TargetKind",
    "Vessel",
    "WetPair",
]


class Spoons(StrEnum):
    """Whose spoons and cups hang in the studio."""

    METRIC = "metric"
    US = "US"
    UK = "UK"
    AUSTRALIAN = "Australian"


@dataclass(frozen=True)
class Settings:
    """What a studio has said about itself; every field has a default that is named on the screen.

    `tolerance_de00` is the CIEDE2000 difference within which skeins match; 1 is common practice, no source.
    """

    name: str
    is_demo: bool = False
    spoons: Spoons = Spoons.METRIC
    water: Water = field(default_factory=Water)
    scale_resolution_g: float = 0.1
    tolerance_de00: float = 1.0
    is_tonal_wanted: bool = False


@dataclass(frozen=True)
class Dye:
    """A tub on the shelf. `dye_class` defaults to "acid, kind unknown" because jars seldom say.

    `dye_lot` is the maker's lot of the tub in use; a new tub is another lot, and one swatch tells its strength.
    """

    name: str
    dye_class: DyeClass = DyeClass.ACID_UNKNOWN
    is_blend: bool = False
    is_fluorescent: bool = False
    price_per_g: Decimal | None = None
    on_shelf_g: Decimal | None = None
    note: str = ""
    id: int | None = None
    dye_lot: str = ""


@dataclass(frozen=True)
class Base:
    """A yarn base, with its undyed colour (D65, 10°) where it was measured.

    `kept_l_kg` is what a skein of it keeps after draining as the dyer does, litres a kilogram dry, where one was
    weighed wet.
    """

    name: str
    fibre_frac: Mapping[Fibre, float]
    is_superwash: bool = False
    undyed_lab: tuple[float, float, float] | None = None
    skein_g: float | None = None
    note: str = ""
    id: int | None = None
    kept_l_kg: float | None = None


@dataclass(frozen=True)
class Vessel:
    """A pot of the studio; the fields are those of `Pot`."""

    name: str
    volume_l: float
    heating: Heating
    diameter_m: float | None = None
    has_lid: bool = True
    power_w: float | None = None
    turns_per_min: float | None = None
    id: int | None = None


@dataclass(frozen=True)
class WetPair:
    """One sample of a base judged wet and, once dry, again (D65, 10°): a base's wet-to-dry shift is learnt from it."""

    base_id: int
    wet_lab: tuple[float, float, float]
    dry_lab: tuple[float, float, float]
    measured_on: date
    note: str = ""
    id: int | None = None


class TargetKind(StrEnum):
    """What a target is known by, from the firmest to the vaguest."""

    MEASURED = "measured"
    LOT = "lot"
    TYPED = "typed"
    SCREEN = "screen"
    PICTURE = "picture"

    @property
    def is_intention(self) -> bool:
        """Whether it is a wish seen on a screen rather than a measured colour."""
        return self in {TargetKind.SCREEN, TargetKind.PICTURE}


@dataclass(frozen=True)
class Palette:
    """Colours taken together from one picture. Its colourways name it; `photo_id` is the picture where it was kept."""

    name: str
    photo_id: UUID | None = None
    created_on: date | None = None
    note: str = ""
    id: int | None = None


@dataclass(frozen=True)
class Colourway:
    """A target and its chosen recipe, by name: `recipe_owf` maps dye names to depths on weight of fibre.

    `target_reflectance` holds 31 values at WAVELENGTHS_NM where the target was measured as a curve. `share_frac` is
    the colour's share of the yarn of the palette `palette_id`.
    """

    name: str
    target_lab: tuple[float, float, float] | None
    target_from: str
    recipe_owf: Mapping[str, float]
    predicted_lab: tuple[float, float, float] | None = None
    base_id: int | None = None
    created_on: date | None = None
    note: str = ""
    id: int | None = None
    target_kind: TargetKind = TargetKind.TYPED
    target_reflectance: tuple[float, ...] | None = None
    palette_id: int | None = None
    share_frac: float | None = None


@dataclass(frozen=True)
class Jar:
    """One jar of a swatch evening: its mini-skein's recipe, and the swatch it became.

    `recipe_owf` is empty for the undyed skein. `seat` names who dyes it, in a class. `mass_g` is the mini-skein.
    """

    number: int
    recipe_owf: Mapping[str, float]
    mass_g: Decimal
    seat: str = ""
    swatch_id: int | None = None


@dataclass(frozen=True)
class Evening:
    """Several mini-skeins dyed at once, in jars in one water bath.

    `stock_g_l` is the strength of the stock solutions, one for all dyes; `set_up` holds what was typed of the pot, the
    jars and the acid, by field; `judgement_id` is the photo's verdict that its swatches were read from.
    """

    name: str
    held_on: date
    base_id: int
    liquor_l_kg: float
    stock_g_l: float
    jars: tuple[Jar, ...] = ()
    judgement_id: UUID | None = None
    note: str = ""
    id: int | None = None
    set_up: Mapping[str, str] = field(default_factory=dict)
