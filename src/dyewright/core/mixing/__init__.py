"""Mixing: from swatches to dyes, from dyes to the colour of a mix."""

from dyewright.core.mixing.advice import NextSwatch, next_swatch
from dyewright.core.mixing.blend import BlendRule, blended_reflectance, fit_blend_constant
from dyewright.core.mixing.check import LeftOut, Mishap, Suspect, checked, left_out, left_out_by_dye, suspects
from dyewright.core.mixing.fit import fit_shelf
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.learn import after_swatch, learnt
from dyewright.core.mixing.shelf import (
    REPEAT_SD,
    ShelfModel,
    band_95,
    bands_95,
    build_up,
    depth_of_build_up,
    depth_vector,
    lab_by_depth,
    lab_of_built_up,
    lab_of_mix,
    lab_slopes,
    over_yarn,
    over_yarn_of_lab,
    predict,
    reflectance_of_built_up,
)

__all__ = [
    "REPEAT_SD",
    "BlendRule",
    "LeftOut",
    "Mishap",
    "NextSwatch",
    "ShelfModel",
    "Suspect",
    "after_swatch",
    "band_95",
    "bands_95",
    "blended_reflectance",
    "build_up",
    "checked",
    "depth_of_build_up",
    "depth_vector",
    "fit_blend_constant",
    "fit_shelf",
    "k_over_s",
    "lab_by_depth",
    "lab_of_built_up",
    "lab_of_mix",
    "lab_slopes",
    "learnt",
    "left_out",
    "left_out_by_dye",
    "next_swatch",
    "over_yarn",
    "over_yarn_of_lab",
    "predict",
    "reflectance_from_k_over_s",
    "reflectance_of_built_up",
    "reflectance_slope",
    "suspects",
]
