"""A shelf of invented dyes with known curves, to see what a fit recovers.

The worlds at the end make swatches by another model than the one fitted: other depth laws, dyes that scatter, a surface
that reflects.
"""

from dataclasses import dataclass

import numpy as np

from dyewright.core.colour import lab_from_xyz
from dyewright.core.mixing import ShelfModel, k_over_s, reflectance_from_k_over_s
from dyewright.core.model import WAVELENGTHS_NM, Swatch
from dyewright.data.colour import load_observer_tables

TABLES = load_observer_tables()
WEIGHTS, WHITE = TABLES.weights["D65", 10], TABLES.whites["D65", 10]
N = len(WAVELENGTHS_NM)
LADDER = (0.001, 0.003, 0.01, 0.02, 0.04)
BASE = k_over_s(0.80 - 0.25 * np.exp(-(WAVELENGTHS_NM - 400) / 50))  # an ecru: yellowish white


def invented_curves(rng, count):
    """Return K/S a unit of depth (count, 31): a main band, a side band and a faint floor."""
    place = rng.uniform(410, 660, (count, 1))
    width = rng.uniform(25, 55, (count, 1))
    side = np.clip(place - rng.uniform(60, 150, (count, 1)), 380, 700)
    main = np.exp(-((WAVELENGTHS_NM - place) ** 2) / (2 * width**2))
    beside = rng.uniform(0.1, 0.5, (count, 1)) * np.exp(-((WAVELENGTHS_NM - side) ** 2) / (2 * 40**2))
    return rng.uniform(250, 900, (count, 1)) * (main + beside + 0.01)


def known_shelf(curves, **more):
    """Return a shelf of dyes that are known exactly, over the ecru base: as a perfect fit would leave it."""
    count = len(curves)
    given = {
        "dyes": tuple(f"dye {dye}" for dye in range(count)),
        "base": "ecru",
        "curves": curves,
        "log_covariance": np.zeros((count, N, N)),
        "base_k_over_s": BASE,
        "swatch_counts": (5,) * count,
        "deepest_owf": (LADDER[-1],) * count,
        "fit_de00": (0.0,) * count,
        "is_spectral": True,
    }
    return ShelfModel(**{**given, **more})


# Main and side bands of twelve acid dyes: place and width in nm, height; after spectra of the trade's usual structures,
# from memory (azo yellow, orange, scarlet and red with two peaks; xanthene and triphenylmethane, narrow; anthraquinone
# violet and blue with two peaks; turquoise, navy, black, brown). The first number is the height of all, K/S a unit.
ACID_BANDS = (
    (900, (425, 40, 1)),
    (700, (400, 58, 1)),
    (650, (480, 40, 1), (410, 30, 0.15)),
    (600, (508, 28, 0.9), (540, 20, 0.8), (410, 40, 0.12)),
    (800, (556, 14, 1), (525, 20, 0.42), (410, 40, 0.05)),
    (500, (550, 30, 0.8), (588, 24, 0.9), (420, 40, 0.1)),
    (400, (596, 24, 0.75), (640, 22, 1), (420, 30, 0.1)),
    (750, (625, 20, 1), (580, 25, 0.35), (415, 25, 0.2)),
    (600, (668, 25, 1), (610, 25, 0.35), (410, 25, 0.08)),
    (420, (590, 65, 1), (440, 50, 0.35)),
    (520, (580, 90, 1), (450, 60, 0.75)),
    (380, (450, 80, 1)),
)


def acid_curves():
    """Return K/S a unit of depth (12, 31) of dyes with the bands of real ones, over a faint floor."""
    return np.array(
        [
            3 + height * sum(part * np.exp(-(((WAVELENGTHS_NM - nm) / wide) ** 2) / 2) for nm, wide, part in bands)
            for height, *bands in ACID_BANDS
        ]
    )


def lab_of(ratio):
    return lab_from_xyz(reflectance_from_k_over_s(ratio) @ WEIGHTS, WHITE)


def base_swatch(rng=None, noise=0.0, name="ecru", *, with_curve=False):
    return _swatch({}, BASE, rng, noise, name, with_curve=with_curve)


def ladder_swatches(rng, curves, noise, *, depths=LADDER, depth_sd=0.0, with_curve=False, name="ecru"):
    """Return swatches of each dye at each depth, with noise in ΔE*ab a component and in depth as a share."""
    return [
        _swatch(
            {f"dye {dye}": depth},
            BASE + depth * np.exp(rng.normal(0, depth_sd)) * curve,
            rng,
            noise,
            name,
            with_curve=with_curve,
        )
        for dye, curve in enumerate(curves)
        for depth in depths
    ]


def random_mixes(rng, count, n_dyes, deepest=0.02):
    """Return depths (count, n_dyes) of mixes of two or three dyes."""
    depths = np.zeros((count, n_dyes))
    for row in depths:
        chosen = rng.choice(n_dyes, rng.integers(2, 4), replace=False)
        row[chosen] = deepest * rng.uniform(0.05, 1, len(chosen))
    return depths


# How depth builds up, one number a depth of 1 %: proportion, a power (Freundlich), a saturation (Langmuir).
DEPTH_LAWS = {
    "proportional": lambda depth: depth,
    "power 0.85": lambda depth: 0.01 * (depth / 0.01) ** 0.85,
    "langmuir": lambda depth: depth / (1 + depth / 0.06),
}


@dataclass(frozen=True)
class World:
    """What makes the colours of yarn: curves, a depth law, scattering of dyes, and what the surface sends back.

    Two constants (K. Duncan, Proc. Phys. Soc. 52 (1940) 390): K and S of fibre and dyes add up, S of the fibre is 1.
    Surface (J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727): `outer` of the light is sent back unchanged, `inner` of
    that which comes from below goes down again.
    """

    curves: np.ndarray
    law: str = "proportional"
    scattering: np.ndarray | float = 0.0
    outer: float = 0.0
    inner: float = 0.0

    def reflectance(self, depths):
        built = DEPTH_LAWS[self.law](np.asarray(depths, float))
        ratio = (BASE + built @ self.curves) / (1 + np.sum(built * self.scattering, axis=-1, keepdims=True))
        body = reflectance_from_k_over_s(ratio)
        return self.outer + (1 - self.outer) * (1 - self.inner) * body / (1 - self.inner * body)

    def lab(self, depths):
        return lab_from_xyz(self.reflectance(depths) @ WEIGHTS, WHITE)

    def swatch(self, depths, rng, noise, *, depth_sd=0.0, name="ecru", tubs=None):
        """Return a swatch read as Lab with noise, whose pot missed each depth by a share."""
        reached = np.asarray(depths, float) * np.exp(rng.normal(0, depth_sd, len(self.curves)))
        noted = {f"dye {dye}": float(depths[dye]) for dye in np.flatnonzero(depths)}
        lab = self.lab(reached) + rng.normal(0, noise, 3)
        source = "photo" if noise > 0.6 else "colorimeter"
        return Swatch(noted, name, lab=tuple(lab), source=source, dye_lots=tubs or {})

    def shelf(self, rng, noise, *, depths=LADDER, depth_sd=0.0):
        """Return the undyed base and a ladder of each dye."""
        ladders = [depth * row for row in np.eye(len(self.curves)) for depth in depths]
        return [self.swatch(row, rng, noise, depth_sd=depth_sd) for row in [np.zeros(len(self.curves)), *ladders]]


def _swatch(depths, ratio, rng, noise, base, *, with_curve):
    source = "spectrophotometer" if with_curve else ("photo" if noise > 0.6 else "colorimeter")
    if with_curve:
        curve = reflectance_from_k_over_s(ratio)
        curve = np.clip(curve + (rng.normal(0, noise, 31) if noise else 0), 0.001, 1)
        return Swatch(depths_owf=depths, base=base, reflectance=tuple(curve), source=source)
    lab = lab_of(ratio) + (rng.normal(0, noise, 3) if noise else 0)
    return Swatch(depths_owf=depths, base=base, lab=tuple(lab), source=source)
