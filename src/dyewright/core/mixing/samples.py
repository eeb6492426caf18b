"""Swatches made ready for the fit: arrays of samples, and of the dyes in each.

Sources: noise of sources and what reads tell: estimates, said beside each constant.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import lab_from_xyz, light_of, reflectance_from_xyz, xyz_from_lab
from dyewright.core.mixing.kubelka import k_over_s
from dyewright.core.model import WAVELENGTHS_NM, ObserverTables, Swatch
from dyewright.errors import InputError, OutOfRangeError

__all__ = ["LAB_NOISE", "Entries", "Samples", "curve_noise", "lab_noise", "require_usable", "swatch_words", "undyed"]

Array = NDArray[np.float64]
Places = NDArray[np.intp]

N = len(WAVELENGTHS_NM)

# Standard deviation of one Lab reading, in ΔE00 a component (estimate): the tool itself is not asked for it.
LAB_NOISE = {"spectrophotometer": 0.15, "colorimeter": 0.3, "photo": 1.5, "invented": 0.3}
LEAST_NOISE = 0.05  # of a mean, in ΔE00 a component: a few reads that happen to agree are no better (estimate)
CURVE_NOISE = 0.002  # standard deviation of a measured reflectance near black (estimate)
CURVE_NOISE_SHARE = 0.01  # and its share of the reflectance (estimate)
OWN_SHARE = 0.5  # share of the variance that is the instrument's own and does not fall with more reads (estimate)


@dataclass(frozen=True)
class Entries:
    """One row for each dye in each sample: which sample, which dye, its weighed depth, its columns of strength.

    `columns`, shape (e, 2), are the places of the base's and the tub's factor in a dye's numbers, -1 for none.
    """

    sample: Places
    dye: Places
    depth_owf: Array
    columns: Places


@dataclass(frozen=True)
class Samples:
    """Samples that were read alike: all as curves, or all as Labs under one light.

    `base` (s, 31) is the K/S of the yarn below; `measured` the curves (s, 31) or Labs (s, 3); `noise` (s, m) their
    standard deviation, of R or in ΔE00 a component; `place` each sample's number among all swatches.
    """

    place: Places
    base: Array
    measured: Array
    noise: Array
    weights: Array
    white: Array
    is_curve: bool
    entries: Entries


def undyed(swatches: Sequence[Swatch], tables: ObserverTables) -> dict[str, Array]:
    """Return the reflectance of each undyed base, the mean where it was measured several times."""
    found: dict[str, list[Array]] = {}
    for swatch in swatches:
        if not swatch.depths_owf:
            found.setdefault(swatch.base, []).append(_own_curve(swatch, tables))
    return {name: np.mean(curves, axis=0) for name, curves in found.items()}


def body_k_over_s(reflectance: Array, surface_frac: float) -> Array:
    """Return K/S of yarn below a surface that reflects a share of the light unchanged."""
    return k_over_s((reflectance - surface_frac) / (1 - surface_frac))


def _own_curve(swatch: Swatch, tables: ObserverTables) -> Array:
    if swatch.reflectance is not None:
        return np.array(swatch.reflectance)
    weights, white = light_of(tables, swatch.illuminant, swatch.observer)
    return curve_or_grey(xyz_from_lab(_lab(swatch), white), weights)


def _lab(swatch: Swatch) -> Array:
    if swatch.lab is None:
        raise InputError(f"{swatch_words(swatch)} has neither a curve nor a Lab", field="shelf")
    return np.array(swatch.lab)


def curve_or_grey(xyz: Array, weights: Array) -> Array:
    """Return smooth curves (..., 31) with these XYZ; a grey of the same Y where noise has made a colour impossible."""
    try:
        return reflectance_from_xyz(xyz, weights)
    except OutOfRangeError:
        if xyz.ndim > 1:
            return np.array([curve_or_grey(one, weights) for one in xyz])
        return np.full(N, np.clip(xyz[1] / 100, 1e-3, 1))


def swatch_words(swatch: Swatch) -> str:
    """Return how a message names a swatch."""
    mix = " + ".join(f"{name} {100 * depth:g} %" for name, depth in swatch.depths_owf.items())
    return f"the swatch {mix or 'undyed'} on {swatch.base}"


def require_usable(swatch: Swatch) -> None:
    """Raise InputError where a dyed swatch has a depth that cannot be, or no colour."""
    for name, depth in swatch.depths_owf.items():
        if not (np.isfinite(depth) and 0 < depth <= 1):
            raise InputError(
                f"{swatch_words(swatch)} gives {name} a depth of {100 * depth:g} %; it must be above 0 % and at most "
                "100 %",
                field="depth_percent",
                value=depth,
                limit=1,
            )
    if swatch.reflectance is None:
        _lab(swatch)


def _fewer_by_reads(reads: int) -> float:
    return float(np.sqrt(OWN_SHARE + (1 - OWN_SHARE) / max(reads, 1)))


def lab_noise(swatch: Swatch) -> float:
    """Return the standard deviation of a swatch's Lab, in ΔE00 a component."""
    if swatch.noise_de00 is not None:
        return max(swatch.noise_de00, LEAST_NOISE)
    return LAB_NOISE.get(swatch.source, LAB_NOISE["photo"]) * _fewer_by_reads(swatch.reads)


def curve_noise(swatch: Swatch) -> Array:
    """Return the standard deviation of a swatch's curve, (31,); a noise told in ΔE00 scales it against the usual."""
    usual = np.hypot(CURVE_NOISE, CURVE_NOISE_SHARE * np.array(swatch.reflectance))
    if swatch.noise_de00 is not None:
        return usual * max(swatch.noise_de00, LEAST_NOISE) / LAB_NOISE["spectrophotometer"]
    return usual * _fewer_by_reads(swatch.reads)


def lab_of_swatch(swatch: Swatch, tables: ObserverTables) -> Array:
    """Return a swatch's Lab, under D65 for 10° where its curve is known, else under its own light."""
    if swatch.reflectance is None:
        return _lab(swatch)
    weights, white = light_of(tables, "D65", 10)
    return lab_from_xyz(np.array(swatch.reflectance) @ weights, white)


def light_of_swatch(swatch: Swatch) -> tuple[str, int]:
    """Return the light and observer that `lab_of_swatch` is under."""
    return ("D65", 10) if swatch.reflectance is not None else (swatch.illuminant, swatch.observer)


def samples_of(
    swatches: Sequence[Swatch],
    dyes: Sequence[str],
    bases: Mapping[str, Array],
    columns: Mapping[tuple[str, str, str], tuple[int, int]],
    tables: ObserverTables,
) -> tuple[Samples, ...]:
    """Return dyed swatches as arrays, those read alike together.

    Args:
        swatches: dyed ones, in the order that `place` counts.
        dyes: names, in the order of the fit.
        bases: K/S of each undyed base.
        columns: of dye, base and tub: the places of both factors, -1 for none.
        tables: lights and observers.
    """
    kinds: dict[tuple[bool, str, int], list[int]] = {}
    for place, swatch in enumerate(swatches):
        kinds.setdefault((swatch.reflectance is not None, *light_of_swatch(swatch)), []).append(place)
    return tuple(
        _alike([swatches[place] for place in places], places, dyes, bases, columns, tables) for places in kinds.values()
    )


def _alike(
    swatches: Sequence[Swatch],
    places: Sequence[int],
    dyes: Sequence[str],
    bases: Mapping[str, Array],
    columns: Mapping[tuple[str, str, str], tuple[int, int]],
    tables: ObserverTables,
) -> Samples:
    weights, white = light_of(tables, *light_of_swatch(swatches[0]))
    is_curve = swatches[0].reflectance is not None
    rows = [
        (row, dyes.index(name), depth, columns[name, swatch.base, swatch.dye_lots.get(name, "")])
        for row, swatch in enumerate(swatches)
        for name, depth in swatch.depths_owf.items()
    ]
    return Samples(
        place=np.array(places),
        base=np.array([bases[swatch.base] for swatch in swatches]),
        measured=np.array([swatch.reflectance if is_curve else _lab(swatch) for swatch in swatches]),
        noise=np.array([curve_noise(one) if is_curve else np.full(3, lab_noise(one)) for one in swatches]),
        weights=weights,
        white=white,
        is_curve=is_curve,
        entries=Entries(
            sample=np.array([row for row, *_ in rows]),
            dye=np.array([dye for _, dye, *_ in rows]),
            depth_owf=np.array([depth for *_, depth, _ in rows]),
            columns=np.array([own for *_, own in rows]),
        ),
    )
