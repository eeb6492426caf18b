"""How classes of dye go onto fibres, and how much dye a fibre can hold."""

from functools import cache
from types import MappingProxyType

from dyewright.core.model import DyeClass, Fibre, Trust, UptakeRow, UptakeTables
from dyewright.data._reader import Row, number, optional_number, rows

__all__ = ["load_uptake"]


@cache
def load_uptake() -> UptakeTables:
    """Return the uptake rows of every fibre and class that has a model, and the fibres' capacity for dye."""
    parsed = [_row(row) for row in rows("uptake")]
    return UptakeTables(
        rows=MappingProxyType({(row.fibre, row.dye_class): row for row in parsed}),
        saturation_owf=MappingProxyType(
            {Fibre(row["fibre"]): number(row, "pure_owf") for row in rows("dye_saturation")}
        ),
    )


def _row(row: Row) -> UptakeRow:
    return UptakeRow(
        fibre=Fibre(row["fibre"]),
        dye_class=DyeClass(row["dye_class"]),
        t50_c=number(row, "t50_c"),
        ea_kj_mol=number(row, "ea_kj_mol"),
        rate_factor=number(row, "rate_factor"),
        equilibrium_frac=number(row, "equilibrium_frac"),
        ph_ref=number(row, "ph_ref"),
        k0_l_kg=optional_number(row, "k0_l_kg"),
        z=number(row, "z"),
        theta0=number(row, "theta0"),
        trust=MappingProxyType({key: Trust(row[f"{key}_trust"]) for key in ("t50", "ea", "equilibrium")}),
    )
