"""What the swatches of a shelf say about its dyes, and the colour of a mix.

Source: single-constant Kubelka-Munk theory, see `kubelka`. K/S grows with depth along a saturating curve, the dye's
build-up: c / (1 + c / h) with c the depth, times the strength of the dye on this base, and h the depth at which half
of what proportion would give is reached (the form of Langmuir's isotherm). The bend is the same at every wavelength,
so that a mix is linear in the built-up depths and only the last step from them to weighed depths is not.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import ciede2000_metric, lab_from_xyz, light_of
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.model import ObserverTables
from dyewright.errors import InputError

__all__ = [
    "POOR_FIT_DE00",
    "REPEAT_SD",
    "ShelfModel",
    "band_95",
    "bands_95",
    "build_up",
    "depth_of_build_up",
    "depth_vector",
    "lab_by_depth",
    "lab_of_built_up",
    "lab_of_mix",
    "lab_slopes",
    "over_yarn",
    "predict",
    "reflectance_of_built_up",
]

Array = NDArray[np.float64]

POOR_FIT_DE00 = 3.0  # ours: a dye whose own swatches the fit misses by more is not what its table says
REPEAT_SD = 0.05
"""Standard deviation of the depth that a dye reaches from one pot to the next, as a share of it (estimate)."""


@dataclass(frozen=True)
class ShelfModel:
    """The dyes of a shelf over one undyed base, as fitted from swatches.

    `curves`, shape (n, 31), is each dye's K/S a unit of built-up depth (owf 1); `log_covariance`, shape (n, 31, 31),
    how sure the logarithm of each curve is, dyes taken as independent. `base_k_over_s` is the undyed base's.
    `half_depth_owf`, shape (n,), is where a dye's build-up is half of proportion (endless where it does not bend);
    `strength`, shape (n,), how much of a dye's depth counts on this base and from the tub in use, against the base and
    the tub that its curve was fitted for. `surface_frac` is light that the yarn's surface reflects unchanged.
    `swatch_counts`, `deepest_owf` and `fit_de00` (how far the fit lies from the dye's own swatches, on average) follow
    `dyes`; `is_spectral` says whether every swatch was a measured curve.
    """

    dyes: tuple[str, ...]
    base: str
    curves: Array
    log_covariance: Array
    base_k_over_s: Array
    swatch_counts: tuple[int, ...]
    deepest_owf: tuple[float, ...]
    fit_de00: tuple[float, ...]
    is_spectral: bool
    notes: tuple[str, ...] = ()
    half_depth_owf: tuple[float, ...] = ()
    strength: tuple[float, ...] = ()
    surface_frac: float = 0.0

    def __post_init__(self) -> None:
        """Take a depth law that was not given as proportion."""
        if not self.half_depth_owf:
            object.__setattr__(self, "half_depth_owf", (np.inf,) * len(self.dyes))
        if not self.strength:
            object.__setattr__(self, "strength", (1.0,) * len(self.dyes))


def depth_vector(shelf: ShelfModel, depths_owf: Mapping[str, float]) -> Array:
    """Return the depths of a recipe in the order of the shelf's dyes, zero for those not in it.

    Raises:
        InputError: a dye is not on the shelf, or a depth is negative or not finite.
    """
    vector = np.zeros(len(shelf.dyes))
    for name, depth in depths_owf.items():
        if name not in shelf.dyes:
            raise InputError(
                f"dye {name!r} has no swatch on this shelf; it knows {', '.join(shelf.dyes)}", field="mix", value=name
            )
        if not (np.isfinite(depth) and depth >= 0):
            raise InputError(
                f"the depth of {name} is {100 * depth:g} %, it must be 0 % or more", field="mix", value=depth, limit=0
            )
        vector[shelf.dyes.index(name)] = depth
    return vector


def build_up(shelf: ShelfModel, depths_owf: ArrayLike) -> Array:
    """Return the built-up depths (..., n) of weighed ones (last axis the shelf's dyes, fractions owf)."""
    counted = np.asarray(depths_owf, float) * np.array(shelf.strength)
    answer: Array = counted / (1 + counted / np.array(shelf.half_depth_owf))
    return answer


def depth_of_build_up(shelf: ShelfModel, built_up: ArrayLike) -> Array:
    """Return the weighed depths (..., n) that give these built-up ones; endless at or beyond `half_depth_owf`."""
    built = np.asarray(built_up, float)
    room = 1 - built / np.array(shelf.half_depth_owf)
    answer: Array = np.where(room > 0, built / np.where(room > 0, room, 1), np.inf) / np.array(shelf.strength)
    return answer


def reflectance_of_built_up(shelf: ShelfModel, built_up: ArrayLike) -> Array:
    """Return the reflectance (..., 31) of yarn with these built-up depths (last axis the shelf's dyes)."""
    body = reflectance_from_k_over_s(shelf.base_k_over_s + np.asarray(built_up, float) @ shelf.curves)
    answer: Array = shelf.surface_frac + (1 - shelf.surface_frac) * body
    return answer


def lab_of_built_up(
    shelf: ShelfModel, built_up: ArrayLike, tables: ObserverTables, *, illuminant: str = "D65", observer: int = 10
) -> Array:
    """Return the Lab (..., 3) of built-up depths under a light."""
    weights, white = light_of(tables, illuminant, observer)
    return lab_from_xyz(reflectance_of_built_up(shelf, built_up) @ weights, white)


def predict(shelf: ShelfModel, depths_owf: ArrayLike) -> Array:
    """Return the reflectance (..., 31) of yarn dyed with these depths (last axis the shelf's dyes, fractions owf)."""
    return reflectance_of_built_up(shelf, build_up(shelf, depths_owf))


def over_yarn(shelf: ShelfModel, reflectance: ArrayLike, name: str) -> ShelfModel:
    """Return the same dyes over yarn that has this reflectance (31,) already, to be called `name`.

    What lies in the yarn is taken as it looks: whichever dyes it holds, additions build up as on undyed yarn.
    """
    body = (np.asarray(reflectance, float) - shelf.surface_frac) / (1 - shelf.surface_frac)
    return replace(shelf, base=name, base_k_over_s=k_over_s(body))


def lab_of_mix(
    shelf: ShelfModel, depths_owf: ArrayLike, tables: ObserverTables, *, illuminant: str = "D65", observer: int = 10
) -> Array:
    """Return the Lab (..., 3) of a mix under a light."""
    return lab_of_built_up(shelf, build_up(shelf, depths_owf), tables, illuminant=illuminant, observer=observer)


def lab_by_depth(
    shelf: ShelfModel, depths_owf: ArrayLike, tables: ObserverTables, *, illuminant: str = "D65", observer: int = 10
) -> tuple[Array, Array]:
    """Return the Lab (..., 3) of mixes (..., n) and its slopes by the logarithm of each weighed depth, (..., n, 3)."""
    weights, white = light_of(tables, illuminant, observer)
    built_up = build_up(shelf, depths_owf)
    lab, slopes = lab_slopes(shelf.base_k_over_s + built_up @ shelf.curves, weights, white, shelf.surface_frac)
    by_log_depth = built_up * (1 - built_up / np.array(shelf.half_depth_owf))
    return lab, by_log_depth[..., None] * (shelf.curves @ slopes)


def lab_slopes(ratio: Array, weights: Array, white: Array, surface_frac: float = 0.0) -> tuple[Array, Array]:
    """Return the Lab (..., 3) of K/S curves (..., 31) and its slopes dLab/d(K/S), shape (..., 31, 3)."""
    body = reflectance_from_k_over_s(ratio)
    xyz = (surface_frac + (1 - surface_frac) * body) @ weights
    d_xyz = (1 - surface_frac) * reflectance_slope(ratio, body)[..., None] * weights
    return lab_from_xyz(xyz, white), d_xyz @ np.swapaxes(_lab_by_xyz(xyz, white), -1, -2)


def _lab_by_xyz(xyz: Array, white: Array) -> Array:
    """Return dLab/dXYZ, shape (..., 3, 3)."""
    ratio = xyz / white
    by_ratio = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio) / (3 * ratio), (29 / 6) ** 2 / 3) / white
    slopes = np.zeros((*xyz.shape, 3))
    slopes[..., 0, 1] = 116 * by_ratio[..., 1]
    slopes[..., 1, 0], slopes[..., 1, 1] = 500 * by_ratio[..., 0], -500 * by_ratio[..., 1]
    slopes[..., 2, 1], slopes[..., 2, 2] = 200 * by_ratio[..., 1], -200 * by_ratio[..., 2]
    return slopes


def band_95(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> float:
    """Return the band of one recipe, shape (n,); see `bands_95`."""
    return float(bands_95(shelf, np.asarray(depths_owf, float)[None], tables)[0])


def bands_95(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> Array:
    """Return the radius (k,), in ΔE00 (D65, 10°), round each predicted colour that holds 19 of 20 pots of its recipe.

    Two causes are carried to the colour by their slopes: how sure the dyes' curves are (measurement, number and
    agreement of the swatches), and the depth that a dye reaches from pot to pot (REPEAT_SD). A dye whose own swatches
    the fit misses by more than POOR_FIT_DE00 adds that miss, up to the whole of it at its deepest swatch. What
    single-constant theory itself gets wrong on a given fibre shows only where swatches of mixes were measured.

    Args:
        shelf: the fitted dyes.
        depths_owf: recipes, shape (k, n), fractions.
        tables: lights and observers.
    """
    return np.array([_band_of(shelf, row, tables) for row in depths_owf])


def _band_of(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> float:
    weights, white = light_of(tables, "D65", 10)
    lab, slopes = lab_slopes(shelf.base_k_over_s + depths_owf @ shelf.curves, weights, white)
    to_e00 = ciede2000_metric(lab)
    covariance = np.zeros((3, 3))
    for depth, curve, unsure in zip(depths_owf, shelf.curves, shelf.log_covariance, strict=True):
        by_log = to_e00 @ (depth * curve[:, None] * slopes).T  # (3, 31): by the logarithm of the curve
        by_depth = by_log.sum(axis=1)  # by the logarithm of the depth
        covariance += by_log @ unsure @ by_log.T + REPEAT_SD**2 * np.outer(by_depth, by_depth)
    missed = np.where(np.array(shelf.fit_de00) > POOR_FIT_DE00, shelf.fit_de00, 0.0)
    missed = missed * np.minimum(1.0, depths_owf / np.array(shelf.deepest_owf))
    return radius_95(covariance + np.eye(3) * np.sum(missed**2) / 3)


def radius_95(covariance: Array) -> float:
    """Return the radius that holds 95 % of a normal scatter about 0 with this covariance, shape (3, 3).

    The squared length is taken as a scaled chi-squared with the same mean and variance (Satterthwaite, Biometrics
    Bull. 2 (1946) 110-114), whose quantile is Wilson's and Hilferty's (Proc. Nat. Acad. Sci. 17 (1931) 684-688):
    within 3 % of the exact radius.
    """
    mean = np.trace(covariance)
    if mean <= 0:
        return 0.0
    degrees = mean**2 / np.sum(covariance * covariance.T)
    part = 2 / (9 * degrees)
    return float(np.sqrt(mean * (1 - part + NORMAL_95 * np.sqrt(part)) ** 3))


NORMAL_95 = 1.6448536  # the 95 % quantile of the standard normal distribution
