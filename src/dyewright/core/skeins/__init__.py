"""Skeins in a photo: calibration by a chart, light, colour of lit strands, differences, sets and the verdict."""

from dyewright.core.skeins.calibrate import (
    FIT_LIMIT_DE00,
    LEAST_PATCHES,
    Calibration,
    ColourDoubt,
    Fit,
    calibrate,
    chart_problem,
    relative_calibration,
)
from dyewright.core.skeins.camera_space import outside_camera, outside_words
from dyewright.core.skeins.covered import misfits
from dyewright.core.skeins.grey import GREY_CARD, WHITE_PAPER, PlainSurface, grey_calibration
from dyewright.core.skeins.inside import depth_inside, inside_outline
from dyewright.core.skeins.lamps import LAMPS, LampEvidence, lamp_evidence, lamp_patterns, light_warnings, light_words
from dyewright.core.skeins.light import LightField, light_field, log_light_slopes
from dyewright.core.skeins.parts import PartGrid
from dyewright.core.skeins.regions import SkeinPixels, SkeinReading, read_skein
from dyewright.core.skeins.sets import Errors, matching_sets, pair_differences, to_target
from dyewright.core.skeins.tone import straightened
from dyewright.core.skeins.verdict import advice, verdict

__all__ = [
    "FIT_LIMIT_DE00",
    "GREY_CARD",
    "LAMPS",
    "LEAST_PATCHES",
    "WHITE_PAPER",
    "Calibration",
    "ColourDoubt",
    "Errors",
    "Fit",
    "LampEvidence",
    "LightField",
    "PartGrid",
    "PlainSurface",
    "SkeinPixels",
    "SkeinReading",
    "advice",
    "calibrate",
    "chart_problem",
    "depth_inside",
    "grey_calibration",
    "inside_outline",
    "lamp_evidence",
    "lamp_patterns",
    "light_field",
    "light_warnings",
    "light_words",
    "log_light_slopes",
    "matching_sets",
    "misfits",
    "outside_camera",
    "outside_words",
    "pair_differences",
    "read_skein",
    "relative_calibration",
    "straightened",
    "to_target",
    "verdict",
]
