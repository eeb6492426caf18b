"""A card: everything a dyer says about one dyeing before it is planned, in core units.

None means "not said": planning fills it with a default and names that default in the sheet's notes.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from dyewright.core.model.dye import DyeDose
from dyewright.core.model.fibre import Yarn
from dyewright.core.model.when import When, WhenKind

__all__ = [
    "AssistantDose",
    "Card",
    "CoolTo",
    "Drain",
    "Enter",
    "Handling",
    "Heating",
    "Hold",
    "Pot",
    "Rinse",
    "Stage",
    "Strength",
    "Substance",
    "To",
    "Water",
    "When",
    "WhenKind",
]


class Substance(StrEnum):
    """An acid, alkali or salt that the acidity model knows."""

    ACETIC_ACID = "acetic acid"
    CITRIC_ACID = "citric acid"
    FORMIC_ACID = "formic acid"
    AMMONIUM_SULPHATE = "ammonium sulphate"
    SODIUM_ACETATE = "sodium acetate"
    SODIUM_BICARBONATE = "sodium bicarbonate"
    SODA_ASH = "soda ash"
    SODA_ASH_MONOHYDRATE = "soda ash monohydrate"
    SODA_ASH_DECAHYDRATE = "soda ash decahydrate"
    AMMONIA = "ammonia"
    GLAUBERS_SALT = "Glauber's salt"
    GLAUBERS_SALT_DECAHYDRATE = "Glauber's salt decahydrate"
    COMMON_SALT = "common salt"
    LEVELLING_AGENT = "levelling agent"
    WETTING_AGENT = "wetting agent"

    @property
    def is_acid(self) -> bool:
        """Whether it is an acid as such: it lowers the pH at once, where ammonium sulphate does so as it boils."""
        return self in {Substance.ACETIC_ACID, Substance.CITRIC_ACID, Substance.FORMIC_ACID}


@dataclass(frozen=True)
class Strength:
    """What is in the bottle: pure solid (both None), or a solution of known strength.

    `w_v_g_l` is grams of substance a litre of solution (5 % w/v is 50 g/L); `w_w_frac` is grams a gram of solution.
    One of them at most is given.
    """

    w_v_g_l: float | None = None
    w_w_frac: float | None = None


@dataclass(frozen=True)
class AssistantDose:
    """One assistant: as bought (`label`), what it is, and either how much or the pH it is to reach.

    Exactly one of the amounts is given: grams or litres as such, a fraction of the fibre's mass, grams or litres a
    litre of bath, or a target pH. `is_when_said` is False where `when` is only what stands in for a moment not said.
    """

    label: str
    substance: Substance
    strength: Strength = field(default_factory=Strength)
    mass_g: float | None = None
    volume_l: float | None = None
    owf: float | None = None
    bath_g_l: float | None = None
    bath_l_l: float | None = None
    target_ph: float | None = None
    when: When = field(default_factory=When)
    is_when_said: bool = True


@dataclass(frozen=True)
class Water:
    """Tap water. `alkalinity_mg_l` is as CaCO3; None is "unknown" and makes every answer a range; 0 is pure water."""

    alkalinity_mg_l: float | None = None
    ph: float | None = None
    temperature_c: float | None = None


class Heating(StrEnum):
    """What heats the bath."""

    INDUCTION = "induction"
    ELECTRIC = "electric"
    GAS = "gas"
    THERMOSTAT = "thermostat vessel"
    STEAMER = "steamer"
    OVEN = "oven"
    MICROWAVE = "microwave"
    TRAY = "tray"


@dataclass(frozen=True)
class Pot:
    """A vessel with its heat. `volume_l` is to the brim; `turns_per_min` is how often the yarn is turned.

    `useful_w` is the heat that enters the pot with the knob fully on, where a heat-up was measured; `loss_factor`
    multiplies its computed losses, 1 where nothing was measured.
    """

    volume_l: float
    diameter_m: float | None = None
    has_lid: bool = True
    power_w: float | None = None
    heating: Heating = Heating.ELECTRIC
    turns_per_min: float | None = None
    name: str | None = None
    useful_w: float | None = None
    loss_factor: float = 1.0


@dataclass(frozen=True)
class Enter:
    """Yarn and dye go in at this temperature: t = 0 is then, with heat on."""

    at_c: float


@dataclass(frozen=True)
class To:
    """Heat to a temperature; `rate_c_per_min` None is as fast as the pot's heat allows."""

    to_c: float
    rate_c_per_min: float | None = None


@dataclass(frozen=True)
class Hold:
    """Stay at the temperature reached."""

    hold_min: float


@dataclass(frozen=True)
class CoolTo:
    """Cool under the lid, by itself."""

    to_c: float


Stage = Enter | To | Hold | CoolTo


class Drain(StrEnum):
    """How a skein is drained, which sets how much liquor it keeps."""

    DRIPPING = "dripping"
    SQUEEZED = "squeezed"
    SPUN = "spun"


class Handling(StrEnum):
    """How the yarn is moved in its rinses."""

    STILL = "still"
    LIFTED = "lifted"
    SWISHED = "swished"
    UNDER_THE_TAP = "under the tap"


@dataclass(frozen=True)
class Rinse:
    """One rinse: its water (the dye bath's volume where None) and how the yarn is drained between rinses.

    `at_c` None is about as warm as the yarn. `kept_l_kg` is what a wet skein of this yarn keeps after draining, litres
    a kilogram dry, where it was weighed; None takes the table's.
    """

    water_l: float | None = None
    drain: Drain = Drain.SQUEEZED
    at_c: float | None = None
    has_soap: bool = False
    handling: Handling = Handling.LIFTED
    kept_l_kg: float | None = None


@dataclass(frozen=True)
class Card:
    """The plan of one dyeing as the dyer states it; see the module's note on None.

    `liquor_l_kg` is the liquor ratio as litres of bath a kilogram of dry yarn; `water_l` the total liquor, the water
    of the wetted-out yarn included. At most one of them is given. `is_after_treated`: reactive dye on wool is treated
    with ammonia at 80 °C after dyeing, then rinsed with acid.
    """

    title: str
    yarn: Yarn
    dyes: tuple[DyeDose, ...]
    liquor_l_kg: float | None = None
    water_l: float | None = None
    water: Water = field(default_factory=Water)
    assistants: tuple[AssistantDose, ...] = ()
    pots: tuple[Pot, ...] = ()
    stages: tuple[Stage, ...] = ()
    rinse: Rinse = field(default_factory=Rinse)
    scale_resolution_g: float | None = None
    is_tonal_wanted: bool | None = None
    is_after_treated: bool = False
