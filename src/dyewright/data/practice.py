"""How fibres are usually dyed, what they hold, what heats them, what is warned of: the tables of practice."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from dyewright.core.model import (
    Caution,
    ClassGroup,
    Company,
    CoolTo,
    Drain,
    DyeClass,
    DyeCompany,
    Enter,
    Fibre,
    FibreGroup,
    FibreWater,
    Heating,
    HeatSource,
    Hold,
    Practice,
    Stage,
    StockLife,
    Substance,
    To,
    Trust,
    UsualDose,
)
from dyewright.data._reader import Row, number, optional_number, rows

__all__ = [
    "load_cautions",
    "load_dye_company",
    "load_fibre_waters",
    "load_heat_sources",
    "load_practices",
    "load_stock_lives",
]


@cache
def load_fibre_waters() -> Mapping[Fibre, FibreWater]:
    """Return regain, retention and density of each fibre."""
    table = {
        Fibre(row["fibre"]): FibreWater(
            fibre=Fibre(row["fibre"]),
            regain_frac=number(row, "regain_frac"),
            retention_l_kg={drain: number(row, f"{drain.value}_l_kg") for drain in Drain},
            superwash_factor=number(row, "superwash_factor"),
            density_kg_l=number(row, "density_kg_l"),
        )
        for row in rows("fibre_water")
    }
    return MappingProxyType(table)


@cache
def load_heat_sources() -> Mapping[Heating, HeatSource]:
    """Return efficiency, usual power and shape for each kind of heat."""
    table = {
        Heating(row["heating"]): HeatSource(
            heating=Heating(row["heating"]),
            efficiency_frac=number(row, "efficiency_frac"),
            default_power_w=number(row, "default_power_w"),
            height_to_diameter=number(row, "height_to_diameter"),
            evaporation_frac=number(row, "evaporation_frac"),
            is_rough=row["is_rough"] == "yes",
            note=row["note"],
            source=row["source"],
            trust=Trust(row["trust"]),
        )
        for row in rows("heat_sources")
    }
    return MappingProxyType(table)


@cache
def load_practices() -> Mapping[tuple[FibreGroup, ClassGroup], Practice]:
    """Return the usual liquor, programme and assistants for each fibre group and class group."""
    doses: dict[tuple[FibreGroup, ClassGroup], list[UsualDose]] = {}
    for row in rows("practice_doses"):
        doses.setdefault(_key(row), []).append(_dose(row))
    table = {
        _key(row): Practice(
            fibre_group=FibreGroup(row["fibre_group"]),
            class_group=ClassGroup(row["class_group"]),
            liquor_l_kg=number(row, "liquor_l_kg"),
            stages=_stages(row),
            doses=tuple(doses.get(_key(row), ())),
            note=row["note"],
            source=row["source"],
            trust=Trust(row["trust"]),
        )
        for row in rows("practice")
    }
    return MappingProxyType(table)


@cache
def load_stock_lives() -> Mapping[DyeClass, StockLife]:
    """Return how long a stock of each class that spoils usually keeps."""
    table = {
        DyeClass(row["dye_class"]): StockLife(row["dye_class"], number(row, "days"), row["source"], Trust(row["trust"]))
        for row in rows("stock_life")
    }
    return MappingProxyType(table)


@cache
def load_cautions() -> Mapping[str, Caution]:
    """Return the cautions by key."""
    table = {
        row["key"]: Caution(row["key"], row["sentence"], row["source"], Trust(row["trust"])) for row in rows("cautions")
    }
    return MappingProxyType(table)


@cache
def load_dye_company() -> Mapping[frozenset[ClassGroup], DyeCompany]:
    """Return how two class groups go together in one bath, each pair of different groups once."""
    table = {}
    for row in rows("dye_company"):
        groups = frozenset({ClassGroup(row["class_group"]), ClassGroup(row["other_group"])})
        table[groups] = DyeCompany(groups, Company(row["company"]), row["reason"], row["source"], Trust(row["trust"]))
    return MappingProxyType(table)


def _key(row: Row) -> tuple[FibreGroup, ClassGroup]:
    return FibreGroup(row["fibre_group"]), ClassGroup(row["class_group"])


def _stages(row: Row) -> tuple[Stage, ...]:
    """Return enter, the slow rise through the strike, the rise to the top, the hold and the cooling."""
    enter_c, top_c = number(row, "enter_c"), number(row, "top_c")
    strike_c, cool_c = optional_number(row, "strike_to_c"), optional_number(row, "cool_to_c")
    stages: list[Stage] = [Enter(enter_c)]
    if strike_c is not None:
        stages.append(To(strike_c, number(row, "strike_c_per_min")))
    if top_c > enter_c:
        stages.append(To(top_c, number(row, "top_c_per_min")))
    stages.append(Hold(number(row, "hold_min")))
    if cool_c is not None:
        stages.append(CoolTo(cool_c))
    return tuple(stages)


def _dose(row: Row) -> UsualDose:
    return UsualDose(
        label=row["label"],
        substance=Substance(row["substance"]),
        target_ph=optional_number(row, "target_ph"),
        owf=optional_number(row, "owf"),
        bath_g_l=optional_number(row, "bath_g_l"),
        at_min=optional_number(row, "at_min"),
    )
