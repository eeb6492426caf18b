"""Colours, spectra and swatches: the data that the colour engine reads."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

__all__ = ["WAVELENGTHS_NM", "ChartPatch", "Lab", "ObserverTables", "Swatch"]

Lab = tuple[float, float, float]
"""CIELAB under D65 for the 10° observer, unless a neighbour says otherwise."""

WAVELENGTHS_NM: NDArray[np.float64] = np.arange(400.0, 701.0, 10.0)
"""The 31 wavelengths of every spectrum inside the package: 400 to 700 nm by 10 nm."""
WAVELENGTHS_NM.flags.writeable = False


@dataclass(frozen=True)
class ObserverTables:
    """Tristimulus weights, shape (31, 3), by (illuminant, observer in degrees), and the white point of each.

    XYZ = reflectance @ weights, with Y = 100 for the perfect reflecting diffuser. Illuminants: "D65", "A", "FL11",
    "LED-B3", "D50"; observers: 2 and 10.
    """

    weights: Mapping[tuple[str, int], NDArray[np.float64]]
    whites: Mapping[tuple[str, int], NDArray[np.float64]]


@dataclass(frozen=True)
class Swatch:
    """One dyed sample with its known recipe and its measured colour.

    `depths_owf` maps dye names to depth as a fraction; empty for the undyed base. `reflectance` holds 31 values from 0
    to 1 at WAVELENGTHS_NM, or is None where only a Lab is known, which is then under `illuminant` for `observer`.
    `source` is "spectrophotometer", "colorimeter", "photo" or "invented".

    `dye_lots` maps dye names to the maker's lot of the tub that each came from, where it was noted. `reads` is how
    often the sample was read for this mean, `noise_de00` the standard deviation of the mean colour, in ΔE00 a
    component, where the reads or the photo told it (None: that of its source). `origin` says where a swatch came
    from, in plain text by key: `file` and `row`, or `lot`, `judgement`, `evening` and `jar`.
    """

    depths_owf: Mapping[str, float]
    base: str
    reflectance: tuple[float, ...] | None = None
    lab: Lab | None = None
    illuminant: str = "D65"
    observer: int = 10
    source: str = "colorimeter"
    dyed_on: date | None = None
    note: str = ""
    id: int | None = None
    origin: Mapping[str, str] = field(default_factory=dict)
    dye_lots: Mapping[str, str] = field(default_factory=dict)
    noise_de00: float | None = None
    reads: int = 1


@dataclass(frozen=True)
class ChartPatch:
    """One patch of the 24-patch chart, numbered from dark skin in reading order.

    The two Labs (D50, 2°) are for charts made after and before November 2014; `reflectance` holds 31 values at
    WAVELENGTHS_NM and belongs to the earlier recipe.
    """

    number: int
    name: str
    lab_after_2014: Lab
    lab_before_2014: Lab
    reflectance: tuple[float, ...]
