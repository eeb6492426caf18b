"""Skeins in a photo: calibration by a chart, light, colour of lit strands, differences, sets and the verdict."""

from dyewright.core.skeins.calibrate import (
    FIT_LIMIT_DE00,
    Calibration,
    calibrate,
    misfits,
    relative_calibration,
    straightened,
)
from dyewright.core.skeins.light import LightField, light_field
from dyewright.core.skeins.parts import PartGrid
from dyewright.core.skeins.regions import SkeinReading, read_skein
from dyewright.core.skeins.sets import Doubt, matching_sets, pair_differences, to_target
from dyewright.core.skeins.verdict import advice, verdict

__all__ = [
    "FIT_LIMIT_DE00",
    "Calibration",
    "Doubt",
    "LightField",
    "PartGrid",
    "SkeinReading",
    "advice",
    "calibrate",
    "light_field",
    "matching_sets",
    "misfits",
    "pair_differences",
    "read_skein",
    "relative_calibration",
    "straightened",
    "to_target",
    "verdict",
]
