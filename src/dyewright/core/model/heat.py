"""What heats a bath, and the temperature it really gets."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from dyewright.core.model.basis import Trust
from dyewright.core.model.card import Heating

__all__ = ["HeatCurve", "HeatSource", "LearntHeat", "MeasuredHeatUp", "StageHeat", "StageKind", "ThermalPot"]


@dataclass(frozen=True)
class HeatSource:
    """One row of the heat source table.

    `efficiency_frac` is the share of the drawn power that reaches the pot; `default_power_w` stands in where the card
    says none; `height_to_diameter` shapes a vessel whose diameter is not known; `evaporation_frac` is the share of
    free evaporation that the vessel allows without a lid (0 in a steamer). `is_rough` where the model is only a guide.
    """

    heating: Heating
    efficiency_frac: float
    default_power_w: float
    height_to_diameter: float
    evaporation_frac: float
    is_rough: bool
    note: str
    source: str
    trust: Trust


@dataclass(frozen=True)
class ThermalPot:
    """A pot with its load, reduced to what its temperature depends on.

    `useful_w` is the heat that can enter the pot; `side_m2` and `top_m2` are its side and its opening; `loss_factor`
    multiplies what they lose.
    """

    water_l: float
    fibre_g: float
    pot_g: float
    useful_w: float
    efficiency_frac: float
    side_m2: float
    top_m2: float
    has_lid: bool
    evaporation_frac: float = 1.0
    loss_factor: float = 1.0


class StageKind(StrEnum):
    """The kinds of stage that take time."""

    TO = "to"
    HOLD = "hold"
    COOL = "cool"


@dataclass(frozen=True)
class StageHeat:
    """One stage as this pot gives it. `is_short` where the pot could not follow: slower, or not as hot."""

    kind: StageKind
    start_min: float
    end_min: float
    start_c: float
    end_c: float
    asked_c: float | None
    asked_c_per_min: float | None
    is_short: bool


@dataclass(frozen=True)
class HeatCurve:
    """The bath's temperature through a programme, from heat on.

    `energy_kwh` is what the heat source draws; `kept_kj`, `lost_kj` and `given_kj` are the balance of the bath:
    given = kept + lost.
    """

    t_min: tuple[float, ...]
    bath_c: tuple[float, ...]
    stages: tuple[StageHeat, ...]
    evaporated_l: float
    energy_kwh: float
    given_kj: float
    kept_kj: float
    lost_kj: float


@dataclass(frozen=True)
class MeasuredHeatUp:
    """A pot of water heated once and watched: minutes and °C, with the knob left at one setting.

    `knob` is the setting as the dyer calls it ("7 of 9"); empty for full power. `room_c` is the air around it.
    """

    vessel_id: int
    knob: str
    water_l: float
    has_lid: bool
    readings: tuple[tuple[float, float], ...]
    room_c: float = 20.0
    measured_on: date | None = None
    note: str = ""
    id: int | None = None


@dataclass(frozen=True)
class LearntHeat:
    """What a measured heat-up says of a vessel at one knob setting.

    `useful_w` is the heat that enters the pot; `loss_factor` multiplies the computed losses (1 where the readings do
    not tell). `rms_c` is what the fit misses. `holds_c` is where the setting holds the pot's usual water under its lid.
    """

    knob: str
    useful_w: float
    loss_factor: float
    rms_c: float
    holds_c: float
    readings: int
