"""A sheet: the plan of one dyeing, with amounts, pots, heat, acidity and the order of work.

Field names are the keys of `plan --json`; None means not known.
"""

from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.model.basis import Basis
from dyewright.core.model.card import Card, Substance

__all__ = [
    "AssistantAmount",
    "DyeAmount",
    "HeatUp",
    "PotShare",
    "Sheet",
    "SheetStep",
    "StepKind",
    "StockHint",
    "Weigh",
]


class Weigh(StrEnum):
    """What goes on the scale: the powder itself, or a stock solution made from more of it."""

    POWDER = "powder"
    STOCK = "stock"


@dataclass(frozen=True)
class StockHint:
    """A stock solution worth making: `powder_g` in `volume_l` gives `stock_g_l`."""

    stock_g_l: float
    volume_l: float
    powder_g: float


@dataclass(frozen=True)
class DyeAmount:
    """One dye of the sheet. `stock_ml` and `stock_g` are the same dose by jug and by scale, at `stock_g_l`.

    The stock figures are None where the powder goes in. `make_stock` says which stock to prepare where none was named.
    `weighing_error_frac` is what the last digit of the scale is worth in the powder's own mass.
    """

    name: str
    dye_class: str
    depth_owf: float
    dye_g: float
    weigh: Weigh
    stock_g_l: float | None = None
    stock_ml: float | None = None
    stock_g: float | None = None
    make_stock: StockHint | None = None
    weighing_error_frac: float | None = None


@dataclass(frozen=True)
class AssistantAmount:
    """One assistant as it is measured out: `amount` in `unit` ("mL" or "g"), and the same in kitchen measures.

    `when` is text ("start", "70 °C", "20 min"); `is_solved` where the amount was computed to reach a pH.
    """

    name: str
    substance: Substance
    amount: float
    unit: str
    kitchen: str | None
    when: str
    is_solved: bool = False
    target_ph: float | None = None


@dataclass(frozen=True)
class PotShare:
    """What one pot gets. `share_frac` is its part of the lot; amounts follow the order of the sheet's lists."""

    name: str
    volume_l: float
    share_frac: float
    dry_g: float
    skeins: int | None
    liquor_l: float
    water_to_add_l: float
    fill_frac: float
    dye_g: tuple[float, ...]
    stock_ml: tuple[float | None, ...]
    assistants: tuple[float, ...]


@dataclass(frozen=True)
class HeatUp:
    """The heating of the programme in the slowest pot: from entering to the highest temperature.

    `full_power_min` is what the same rise takes with the heat fully on, `c_per_min` the mean of the programme.
    """

    from_c: float
    to_c: float
    minutes: float
    c_per_min: float
    full_power_min: float | None
    full_power_c_per_min: float | None
    energy_kwh: float
    evaporated_l: float


class StepKind(StrEnum):
    """What a step is about; a screen may group by it."""

    PREPARE = "prepare"
    ENTER = "enter"
    ADD = "add"
    HEAT = "heat"
    HOLD = "hold"
    COOL = "cool"
    RINSE = "rinse"
    FINISH = "finish"


@dataclass(frozen=True)
class SheetStep:
    """One thing to do. `at_min` counts from heat on with yarn and dye in; None for preparation before the bath is made.

    `is_wait` where the step is mostly time passing; `at_c` is the bath's temperature at its beginning.
    """

    key: str
    kind: StepKind
    title: str
    text: str
    caution: str | None = None
    at_min: float | None = None
    duration_min: float | None = None
    until_min: float | None = None
    at_c: float | None = None
    is_wait: bool = False


@dataclass(frozen=True)
class Sheet:
    """The plan of one dyeing.

    `card` is the card with every default filled in; `notes` names those defaults. The `_low` and `_high` of a pH are
    the same as the value where the water is known. `t_min` and `bath_c` are the expected temperature of the bath.
    `tap_water_l` is what the tap gives: `water_to_add_l` less what comes in as stock and liquid assistants.
    """

    title: str
    card: Card
    dry_g: float
    liquor_l: float
    carried_water_l: float
    water_to_add_l: float
    tap_water_l: float
    liquor_ratio: float
    pot_fill_frac: float
    dyes: tuple[DyeAmount, ...]
    assistants: tuple[AssistantAmount, ...]
    pots: tuple[PotShare, ...]
    ph_before: float | None
    ph_closed: float | None
    ph_closed_low: float | None
    ph_closed_high: float | None
    ph_stripped: float | None
    ph_stripped_low: float | None
    ph_stripped_high: float | None
    heat: HeatUp
    t_min: tuple[float, ...]
    bath_c: tuple[float, ...]
    steps: tuple[SheetStep, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    basis: Basis
