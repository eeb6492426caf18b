"""The observers, lights and the 24-patch chart, as shipped."""

from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import WAVELENGTHS_NM, ChartPatch, Lab, ObserverTables
from dyewright.data._reader import Row, number, rows

__all__ = ["load_chart", "load_observer_tables"]


@cache
def load_observer_tables() -> ObserverTables:
    """Return the tristimulus weights of every shipped light and observer.

    The white point of each is the sum of its weights, so that the perfect reflecting diffuser is Lab 100, 0, 0 exactly.
    """
    columns: dict[tuple[str, int], list[list[float]]] = {}
    for row in rows("observer_weights"):
        key = (row["illuminant"], int(row["observer_deg"]))
        columns.setdefault(key, []).append([number(row, name) for name in ("wx", "wy", "wz")])
    weights = {key: _frozen(np.array(values)) for key, values in columns.items()}
    whites = {key: _frozen(values.sum(axis=0)) for key, values in weights.items()}
    return ObserverTables(weights=MappingProxyType(weights), whites=MappingProxyType(whites))


@cache
def load_chart() -> tuple[ChartPatch, ...]:
    """Return the 24 patches from dark skin on, row by row."""
    spectra = {row["patch"]: _spectrum(row) for row in rows("chart_reflectance")}
    return tuple(
        ChartPatch(
            number=int(row["patch"]),
            name=row["name"],
            lab_after_2014=_lab(row, "after"),
            lab_before_2014=_lab(row, "before"),
            reflectance=spectra[row["patch"]],
        )
        for row in rows("chart_reference")
    )


def _lab(row: Row, date: str) -> Lab:
    return number(row, f"{date}_L"), number(row, f"{date}_a"), number(row, f"{date}_b")


def _spectrum(row: Row) -> tuple[float, ...]:
    return tuple(number(row, f"R{nm:.0f}") for nm in WAVELENGTHS_NM)


def _frozen(values: NDArray[np.float64]) -> NDArray[np.float64]:
    values.flags.writeable = False
    return values
