"""Skeins in a photo: calibration by a chart, light, colour of lit strands, differences, sets and the verdict."""

from dyewright.core.skeins.calibrate import (
    FIT_LIMIT_DE00,
    Calibration,
    Fit,
    calibrate,
    relative_calibration,
)
from dyewright.core.skeins.covered import misfits
from dyewright.core.skeins.inside import depth_inside, inside_outline
from dyewright.core.skeins.light import LightField, light_field, log_light_slopes
from dyewright.core.skeins.parts import PartGrid
from dyewright.core.skeins.regions import SkeinPixels, SkeinReading, read_skein
from dyewright.core.skeins.sets import Errors, matching_sets, pair_differences, to_target
from dyewright.core.skeins.tone import straightened
from dyewright.core.skeins.verdict import advice, verdict

__all__ = [
    "FIT_LIMIT_DE00",
    "Calibration",
    "Errors",
    "Fit",
    "LightField",
    "PartGrid",
    "SkeinPixels",
    "SkeinReading",
    "advice",
    "calibrate",
    "depth_inside",
    "inside_outline",
    "light_field",
    "log_light_slopes",
    "matching_sets",
    "misfits",
    "pair_differences",
    "read_skein",
    "relative_calibration",
    "straightened",
    "to_target",
    "verdict",
]
