"""The colour core: light, Lab, differences, curve recovery and words."""

from dyewright.core.colour.difference import (
    ciede2000_metric,
    ciede2000_vector,
    delta_cmc,
    delta_e00,
    delta_e76,
    delta_e94_textile,
    delta_grey_scale,
    delta_parts,
    grey_scale_grade,
    grey_scale_text,
)
from dyewright.core.colour.gamut import Fitted, fitted_to_screen
from dyewright.core.colour.lab import (
    adapt_bradford,
    bradford_matrix,
    display_hex,
    display_rgb,
    lab_from_display_hex,
    lab_from_lch,
    lab_from_xyz,
    lch_from_lab,
    linear_from_srgb,
    srgb_from_linear,
    srgb_white,
    srgb_xyz_matrix,
    xyz_from_lab,
)
from dyewright.core.colour.palette import MOST_COLOURS, PictureColour, din99o_from_lab, picture_palette
from dyewright.core.colour.reads import noise_of_reads
from dyewright.core.colour.recovery import (
    reflectance_from_lab,
    reflectance_from_xyz,
)
from dyewright.core.colour.spectra import (
    REPORTED_LIGHTS,
    at_wavelengths,
    light_of,
    xyz_from_reflectance,
)
from dyewright.core.colour.words import (
    colour_words,
    difference_words,
    visibility_words,
)

__all__ = [
    "MOST_COLOURS",
    "REPORTED_LIGHTS",
    "Fitted",
    "PictureColour",
    "adapt_bradford",
    "at_wavelengths",
    "bradford_matrix",
    "ciede2000_metric",
    "ciede2000_vector",
    "colour_words",
    "delta_cmc",
    "delta_e00",
    "delta_e76",
    "delta_e94_textile",
    "delta_grey_scale",
    "delta_parts",
    "difference_words",
    "din99o_from_lab",
    "display_hex",
    "display_rgb",
    "fitted_to_screen",
    "grey_scale_grade",
    "grey_scale_text",
    "lab_from_display_hex",
    "lab_from_lch",
    "lab_from_xyz",
    "lch_from_lab",
    "light_of",
    "linear_from_srgb",
    "noise_of_reads",
    "picture_palette",
    "reflectance_from_lab",
    "reflectance_from_xyz",
    "srgb_from_linear",
    "srgb_white",
    "srgb_xyz_matrix",
    "visibility_words",
    "xyz_from_lab",
    "xyz_from_reflectance",
]
