"""Rows of the tables of practice: what a fibre holds, how it is usually dyed, what is usually warned of."""

from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.model.basis import Trust
from dyewright.core.model.card import Drain, Stage, Substance
from dyewright.core.model.fibre import Fibre

__all__ = [
    "Caution",
    "ClassGroup",
    "Company",
    "DyeCompany",
    "FeltingRow",
    "FibreGroup",
    "FibreWater",
    "Practice",
    "StockLife",
    "UsualDose",
]


@dataclass(frozen=True)
class FibreWater:
    """Water in a fibre: `regain_frac` of the air-dry fibre, and litres a kilogram dry kept after each way to drain.

    `density_kg_l` is that of the fibre itself.
    """

    fibre: Fibre
    regain_frac: float
    retention_l_kg: dict[Drain, float]
    superwash_factor: float
    density_kg_l: float


class FibreGroup(StrEnum):
    """Fibres that are dyed alike."""

    WOOL = "wool"
    SUPERWASH = "superwash wool"
    SILK = "silk"
    NYLON = "nylon"
    CELLULOSE = "cellulose"


class ClassGroup(StrEnum):
    """Dye classes that are dyed alike."""

    LEVELLING = "levelling"
    MILLING = "milling"
    METAL_COMPLEX = "metal complex"
    UNKNOWN = "unknown"
    REACTIVE_COLD = "reactive cold"
    REACTIVE_WARM = "reactive warm"
    REACTIVE_HOT = "reactive hot"
    DIRECT = "direct"
    FOOD = "food"


class Company(StrEnum):
    """Whether dyes of two classes go into one bath."""

    TOGETHER = "together"
    WITH_CARE = "with care"
    APART = "apart"


@dataclass(frozen=True)
class DyeCompany:
    """How dyes of two class groups go together, and why not; of one group they always do."""

    groups: frozenset[ClassGroup]
    company: Company
    reason: str
    source: str
    trust: Trust


@dataclass(frozen=True)
class UsualDose:
    """An assistant as practice doses it: by the pH it is to reach, on weight of fibre, or by the litre of bath."""

    label: str
    substance: Substance
    target_ph: float | None = None
    owf: float | None = None
    bath_g_l: float | None = None
    at_min: float | None = None


@dataclass(frozen=True)
class Practice:
    """How a fibre group is usually dyed with a class: liquor, programme and assistants."""

    fibre_group: FibreGroup
    class_group: ClassGroup
    liquor_l_kg: float
    stages: tuple[Stage, ...]
    doses: tuple[UsualDose, ...]
    note: str
    source: str
    trust: Trust


@dataclass(frozen=True)
class StockLife:
    """How many days a stock solution of a class usually keeps at room temperature."""

    dye_class: str
    days: float
    source: str
    trust: Trust


@dataclass(frozen=True)
class FeltingRow:
    """How readily a fibre felts, untreated wool being 1; `superwash_frac` where it was treated against it."""

    fibre: Fibre
    susceptibility_frac: float
    superwash_frac: float
    trust: Trust


@dataclass(frozen=True)
class Caution:
    """A caution by its key: the sentence, and the source it rests on."""

    key: str
    sentence: str
    source: str
    trust: Trust
