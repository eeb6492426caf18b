"""What happens after the dye is on: how reactive dyes bond and spoil, and how readily a fibre felts."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from dyewright.core.model import DyeClass, FeltingRow, Fibre, OnCellulose, ReactiveRow, Span, Trust
from dyewright.data._reader import Row, number, rows

__all__ = ["load_felting", "load_reactive"]

_HOUR_MIN = 60.0


@cache
def load_reactive() -> Mapping[DyeClass, ReactiveRow]:
    """Return the numbers of every class of reactive dye."""
    return MappingProxyType({DyeClass(row["dye_class"]): _reactive(row) for row in rows("reactive")})


@cache
def load_felting() -> Mapping[Fibre, FeltingRow]:
    """Return how readily each fibre felts."""
    table = {
        Fibre(row["fibre"]): FeltingRow(
            fibre=Fibre(row["fibre"]),
            susceptibility_frac=number(row, "susceptibility_frac"),
            superwash_frac=number(row, "superwash_frac"),
            trust=Trust(row["trust"]),
        )
        for row in rows("felting")
    }
    return MappingProxyType(table)


def _reactive(row: Row) -> ReactiveRow:
    groups = ("hydrolysis", "neutral", "adsorption", "bonding", "protein")
    return ReactiveRow(
        dye_class=DyeClass(row["dye_class"]),
        neutral_days=_span(row, "neutral_days"),
        protein_fixed_frac=_span(row, "protein_fixed_frac"),
        cellulose=_on_cellulose(row) if row["half_life_h"] else None,
        trust=MappingProxyType({group: Trust(row[f"{group}_trust"]) for group in groups if row[f"{group}_trust"]}),
    )


def _on_cellulose(row: Row) -> OnCellulose:
    return OnCellulose(
        half_life_min=_span(row, "half_life_h", _HOUR_MIN),
        half_life_c=number(row, "half_life_c"),
        ea_kj_mol=_span(row, "ea_kj_mol"),
        ph_order=_span(row, "ph_order"),
        adsorption_l_kg=_span(row, "adsorption_l_kg"),
        unsalted_l_kg=number(row, "unsalted_l_kg"),
        bonding_over_hydrolysis=_span(row, "bonding_over_hydrolysis"),
    )


def _span(row: Row, column: str, factor: float = 1.0) -> Span:
    """Return a number and its range, from the columns `name`, `name_low` and `name_high`."""
    mid, low, high = (factor * number(row, column + end) for end in ("", "_low", "_high"))
    return Span(mid, low, high)
