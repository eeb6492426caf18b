"""What the swatches of a shelf say about its dyes, and the colour of a mix.

Single-constant Kubelka-Munk theory, see `kubelka`: K/S of the undyed base and of every dye add up. K/S of a dye grows
with depth along its build-up u / (1 + u / h), where u is the depth times the dye's strength on this base, to a power
near 1 (counted from 1 %), and h the depth at which half of what u alone would give is reached. With power 1 this has
the form of Langmuir's isotherm, else that of Sips [1]. The build-up is the same at every wavelength, so that a mix is
linear in the built-up depths and only the last step from them to weighed depths is not.

Source: [1] R. Sips, J. Chem. Phys. 16 (1948) 490-495 (from memory; only the form is taken).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import ciede2000_metric, lab_from_xyz, light_of, reflectance_from_lab
from dyewright.core.mixing.kubelka import k_over_s, reflectance_from_k_over_s, reflectance_slope
from dyewright.core.model import WAVELENGTHS_NM, ObserverTables
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
    "over_yarn_of_lab",
    "predict",
    "reflectance_of_built_up",
]

Array = NDArray[np.float64]

PIVOT_OWF = 0.01  # the depth that counts the same whatever the power of a build-up
BEND, POWER, STRENGTH = 31, 32, 33
"""Places of ln h, of the power and of ln strength in what is known of a dye, after ln k at 31 wavelengths."""
KNOWN = 34  # how many numbers are known of a dye

POOR_FIT_DE00 = 3.0  # ours: a dye whose own swatches the fit misses by more is not what its table says
REPEAT_SD = 0.05
"""Standard deviation of the depth that a dye reaches from one pot to the next, as a share of it (estimate)."""
MODEL_DE00 = 0.2
"""What single-constant theory gets wrong, in ΔE00 a component, where no mixes show it (estimate)."""
MIX_SHARE = 0.01  # the same of a mix's measured curve, as a share of R (estimate)
YARN_CURVE_SD, YARN_CURVE_NM = 0.6, 30.0
"""How far ln K/S of yarn known by its Lab strays from its smoothest curve, and over which distance alike (estimate).

Of 400 invented mixes on wool it strayed by 0.1 to 0.5 from 400 to 640 nm, beyond by up to 1.5.
"""
BLEND_SHIFT = 0.15
"""How far the parts of a blended jar shift against one another, as a share of the colour it gives (estimate)."""


@dataclass(frozen=True)
class ShelfModel:
    """The dyes of a shelf over one undyed base, as fitted from swatches.

    `curves`, shape (n, 31), is each dye's K/S a unit of built-up depth (owf 1). `base_k_over_s` is the undyed base's.
    `half_depth_owf`, shape (n,), is where a dye's build-up is half of proportion (endless where it does not bend),
    `power` its power, `is_bend_fitted` whether the dye's own swatches tell them rather than what is believed of dyes.
    `strength`, shape (n,), is how much of a dye's depth counts on this base and from the tub in use, against the base
    and the tub that its curve was fitted for. `surface_frac` is light that the yarn's surface reflects unchanged.

    `log_covariance`, shape (n, 34, n, 34), is how sure all of this is: for each pair of dyes that of ln k at 31
    wavelengths, ln h, the power and ln strength; where only that of each dye's curve is given, shape (n, 31, 31), the
    rest counts as known. `swatch_counts`, `deepest_owf` and `fit_de00` (how far the fit lies from the dye's own
    swatches, on average) follow `dyes`; `is_spectral` says whether every swatch was a measured curve; `blends` are the
    dyes that are mixtures in the jar. `theory_de00` is what the theory gets wrong of mixes, in ΔE00 a component, by the
    measured mixes of the shelf. `base_covariance`, shape (31, 31), is how sure ln K/S of the base is; None where it
    counts as known.
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
    power: tuple[float, ...] = ()
    is_bend_fitted: tuple[bool, ...] = ()
    blends: frozenset[str] = frozenset()
    theory_de00: float = MODEL_DE00
    base_covariance: Array | None = None

    def __post_init__(self) -> None:
        """Take a depth law that was not given as proportion, and uncertainties that were not given as none."""
        count = len(self.dyes)
        for name, plain in (("half_depth_owf", np.inf), ("strength", 1.0), ("power", 1.0), ("is_bend_fitted", False)):
            if not getattr(self, name):
                object.__setattr__(self, name, (plain,) * count)
        if self.log_covariance.ndim == 3:
            whole = np.zeros((count, KNOWN, count, KNOWN))
            for dye in range(count):
                whole[dye, :BEND, dye, :BEND] = self.log_covariance[dye]
            object.__setattr__(self, "log_covariance", whole)


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
    return _built_up(shelf, np.asarray(depths_owf, float))[0]


def _built_up(shelf: ShelfModel, depths_owf: Array) -> tuple[Array, Array]:
    """Return the built-up depths and the share of them that bending has left to grow, both (..., n)."""
    counted = PIVOT_OWF * (depths_owf * np.array(shelf.strength) / PIVOT_OWF) ** np.array(shelf.power)
    left = 1 / (1 + counted / np.array(shelf.half_depth_owf))
    return counted * left, left


def depth_of_build_up(shelf: ShelfModel, built_up: ArrayLike) -> Array:
    """Return the weighed depths (..., n) that give these built-up ones; endless at or beyond `half_depth_owf`."""
    built = np.asarray(built_up, float)
    room = 1 - built / np.array(shelf.half_depth_owf)
    counted = np.where(room > 0, built / np.where(room > 0, room, 1), np.inf)
    answer: Array = PIVOT_OWF * (counted / PIVOT_OWF) ** (1 / np.array(shelf.power)) / np.array(shelf.strength)
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
    return replace(shelf, base=name, base_k_over_s=k_over_s(body), base_covariance=None)


def over_yarn_of_lab(shelf: ShelfModel, lab: ArrayLike, name: str, tables: ObserverTables) -> ShelfModel:
    """Return the same dyes over yarn of which only the Lab (D65, 10°) is known, to be called `name`.

    Its curve is the smoothest of many that look like it; how it differs from the true one counts in the band.

    Raises:
        OutOfRangeError: no yarn can have this colour.
    """
    over = over_yarn(shelf, reflectance_from_lab(lab, tables), name)
    weights, white = light_of(tables, "D65", 10)
    seen = lab_slopes(over.base_k_over_s, weights, white, shelf.surface_frac)[1].T * over.base_k_over_s
    apart_nm = WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM
    free = YARN_CURVE_SD**2 * np.exp(-((apart_nm / YARN_CURVE_NM) ** 2) / 2)
    fixed = free @ seen.T @ np.linalg.solve(seen @ free @ seen.T + TRACE_OWF * np.eye(3), seen @ free)
    return replace(over, base_covariance=free - fixed)


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
    built_up, left = _built_up(shelf, np.asarray(depths_owf, float))
    lab, slopes = lab_slopes(shelf.base_k_over_s + built_up @ shelf.curves, weights, white, shelf.surface_frac)
    by_log_depth = built_up * left * np.array(shelf.power)
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

    Carried to the colour by their slopes: how sure the dyes' curves, build-ups and strengths on this base and from
    these tubs are (measurement, number and agreement of the swatches), the depth that a dye reaches from pot to pot
    (REPEAT_SD), and the curve of dyed yarn of which only a Lab is known. Added are what the theory gets wrong
    (MODEL_DE00), the shift of a blended jar (BLEND_SHIFT), and, for a dye whose own swatches the fit misses by more
    than POOR_FIT_DE00, that miss, up to the whole of it at its deepest swatch.

    Args:
        shelf: the fitted dyes.
        depths_owf: recipes, shape (k, n), fractions.
        tables: lights and observers.
    """
    return np.array([radius_95(band_covariance(shelf, row, tables)) for row in depths_owf])


def band_covariance(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> Array:
    """Return the covariance (3, 3) of the colour of one recipe's pots, in the components of ΔE00 at D65, 10°."""
    if not np.any(depths_owf):
        return np.zeros((3, 3))
    by_ratio = _colour_by_ratio(shelf, depths_owf, tables)
    slopes = known_slopes(shelf, depths_owf, by_ratio)
    covariance: Array = unsure_covariance(shelf, slopes, slopes) + pot_covariance(shelf, depths_owf, slopes)
    if shelf.base_covariance is None:
        return covariance
    by_base = by_ratio * shelf.base_k_over_s
    return np.asarray(covariance + by_base @ shelf.base_covariance @ by_base.T, float)


def unsure_covariance(shelf: ShelfModel, one: Array, other: Array) -> Array:
    """Return how what is not known of the dyes moves two things together, (m, l), by their slopes (n, m or l, 34)."""
    rows, columns = np.flatnonzero(one.any(axis=(1, 2))), np.flatnonzero(other.any(axis=(1, 2)))
    covariance = shelf.log_covariance[rows][:, :, columns].reshape(KNOWN * len(rows), -1)
    left, right = (np.swapaxes(part, 0, 1).reshape(part.shape[1], -1) for part in (one[rows], other[columns]))
    return np.asarray(left @ covariance @ right.T, float)


def pot_covariance(shelf: ShelfModel, depths_owf: Array, slopes: Array) -> Array:
    """Return what pots of one recipe differ by (3, 3) beside what is not known of its dyes: see `bands_95`."""
    missed = np.where(np.array(shelf.fit_de00) > POOR_FIT_DE00, shelf.fit_de00, 0.0)
    missed = missed * np.minimum(1.0, depths_owf / np.array(shelf.deepest_owf))
    off = theory_variance(shelf, depths_owf) + np.sum(missed**2) / 3
    return np.asarray(scatter_covariance(shelf, slopes) + np.eye(3) * off, float)


def theory_variance(shelf: ShelfModel, depths_owf: Array) -> float:
    """Return the variance, a component, of what the theory gets wrong: all of it where no dye makes most of a mix."""
    parts = build_up(shelf, depths_owf) * shelf.curves.max(axis=1)
    shares = parts / max(float(parts.sum()), TRACE_OWF)
    mixed = min(1.0, 2 * (1 - float(shares @ shares)))
    return MODEL_DE00**2 + mixed * (shelf.theory_de00**2 - MODEL_DE00**2)


def scatter_covariance(shelf: ShelfModel, slopes: Array) -> Array:
    """Return the covariance (m, m) from the depths that dyes reach in a pot and the shift of blended jars."""
    by_depth = slopes[:, :, STRENGTH]
    is_blend = np.array([name in shelf.blends for name in shelf.dyes])
    shifted = BLEND_SHIFT**2 * np.sum(slopes[is_blend, :, :BEND].sum(axis=2) ** 2) / slopes.shape[1]
    return np.asarray(REPEAT_SD**2 * by_depth.T @ by_depth + np.eye(slopes.shape[1]) * shifted, float)


def colour_slopes(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> Array:
    """Return the slopes (n, 3, 34) of one recipe's colour, in the components of ΔE00, by what is known of each dye."""
    return known_slopes(shelf, depths_owf, _colour_by_ratio(shelf, depths_owf, tables))


def _colour_by_ratio(shelf: ShelfModel, depths_owf: Array, tables: ObserverTables) -> Array:
    """Return the slopes (3, 31) of one recipe's colour, in the components of ΔE00, by its K/S."""
    weights, white = light_of(tables, "D65", 10)
    ratio = shelf.base_k_over_s + build_up(shelf, depths_owf) @ shelf.curves
    lab, slopes = lab_slopes(ratio, weights, white, shelf.surface_frac)
    return np.asarray(ciede2000_metric(lab) @ slopes.T, float)


def known_slopes(shelf: ShelfModel, depths_owf: Array, by_ratio: Array) -> Array:
    """Return slopes (n, m, 34) by what is known of each dye, of what has slopes (m, 31) by K/S of the recipe."""
    built_up, left = _built_up(shelf, depths_owf)
    answer = np.empty((len(built_up), len(by_ratio), KNOWN))
    answer[:, :, :BEND] = by_ratio * (built_up[:, None] * shelf.curves)[:, None, :]
    whole = answer[:, :, :BEND].sum(axis=2)
    logs = np.log(np.maximum(depths_owf * np.array(shelf.strength), TRACE_OWF) / PIVOT_OWF)
    answer[:, :, BEND] = whole * (1 - left)[:, None]
    answer[:, :, POWER] = whole * (left * logs)[:, None]
    answer[:, :, STRENGTH] = whole * (left * np.array(shelf.power))[:, None]
    return answer


TRACE_OWF = 1e-9  # a depth so small that it has no colour, in place of 0 where a logarithm is taken


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
