"""Mixing: from swatches to dyes, from dyes to the colour of a mix."""

from dyewright.core.mixing.advice import NextSwatch, after_swatch, next_swatch
from dyewright.core.mixing.fit import fit_shelf
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.shelf import (
    REPEAT_SD,
    ShelfModel,
    band_95,
    depth_vector,
    lab_of_mix,
    lab_slopes,
    predict,
)

__all__ = [
    "REPEAT_SD",
    "NextSwatch",
    "ShelfModel",
    "after_swatch",
    "band_95",
    "depth_vector",
    "fit_shelf",
    "k_over_s",
    "lab_of_mix",
    "lab_slopes",
    "next_swatch",
    "predict",
    "reflectance_from_k_over_s",
    "reflectance_slope",
]
