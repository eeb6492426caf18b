"""One absorption curve per dye, fitted jointly to all its swatches and to the mixes that hold it.

Fitting one curve to a whole ladder is what makes swatches of which only a Lab is known useful: each depth filters the
light anew. Here swatches are read and checked; `joint` holds the numerical part and `kubelka` the model's source.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import lab_from_xyz, light_of, xyz_from_lab
from dyewright.core.mixing.joint import Sample, curve_or_grey, fit_groups
from dyewright.core.mixing.kubelka import k_over_s
from dyewright.core.mixing.shelf import POOR_FIT_DE00, ShelfModel
from dyewright.core.model import ObserverTables, Swatch
from dyewright.errors import InputError

__all__ = ["fit_shelf"]

Array = NDArray[np.float64]

# Standard deviation of one Lab reading, in ΔE00 a component (estimate): the tool itself is not asked for it.
LAB_NOISE = {"spectrophotometer": 0.15, "colorimeter": 0.3, "photo": 1.5, "invented": 0.3}


def fit_shelf(swatches: Sequence[Swatch], tables: ObserverTables, *, base: str | None = None) -> ShelfModel:
    """Return the dyes of a set of swatches over one of its bases.

    Args:
        swatches: those of the undyed bases (no dyes) and of dyed yarn, single or mixed.
        tables: lights and observers.
        base: the base to dye on; the one with most swatches where None. Dyes known from another base only are taken
            over by their own undyed colours, and a note says so.

    Raises:
        InputError: no dyed swatch, a base whose undyed colour is missing, or a swatch that cannot be.
    """
    bases = _undyed_bases(swatches, tables)
    dyed = [swatch for swatch in swatches if swatch.depths_owf]
    if not dyed:
        raise InputError("there is no dyed swatch: one of each dye at a known depth is enough to start", field="shelf")
    for swatch in dyed:
        _require_base(swatch.base, bases)
    chosen = base if base is not None else _most_used([swatch.base for swatch in dyed])
    _require_base(chosen, bases)
    dyes = tuple(dict.fromkeys(name for swatch in dyed for name in swatch.depths_owf))
    samples = [_sample(swatch, dyes, bases, tables) for swatch in dyed]
    curves, covariance, fit_de00 = fit_groups(samples, len(dyes))
    using = [[swatch for swatch in dyed if name in swatch.depths_owf] for name in dyes]
    return ShelfModel(
        dyes=dyes,
        base=chosen,
        curves=curves,
        log_covariance=covariance,
        base_k_over_s=bases[chosen],
        swatch_counts=tuple(len(own) for own in using),
        deepest_owf=tuple(
            max(swatch.depths_owf[name] for swatch in own) for name, own in zip(dyes, using, strict=True)
        ),
        fit_de00=fit_de00,
        is_spectral=all(swatch.reflectance is not None for swatch in dyed),
        notes=(
            *_notes(chosen, base, bases, dict(zip(dyes, using, strict=True))),
            *(_misfit(name, missed) for name, missed in zip(dyes, fit_de00, strict=True) if missed > POOR_FIT_DE00),
        ),
    )


def _undyed_bases(swatches: Sequence[Swatch], tables: ObserverTables) -> dict[str, Array]:
    """Return the K/S of each base, the mean where it was measured several times."""
    found: dict[str, list[Array]] = {}
    for swatch in swatches:
        if not swatch.depths_owf:
            found.setdefault(swatch.base, []).append(_curve(swatch, tables))
    return {name: k_over_s(np.mean(curves, axis=0)) for name, curves in found.items()}


def _require_base(name: str, bases: Mapping[str, Array]) -> None:
    if name not in bases:
        raise InputError(
            f"base {name!r} has no undyed swatch, and a dye's colour is what it adds to the undyed yarn: "
            "measure the undyed base and add it as a row with depth 0",
            field="base",
            value=name,
        )


def _most_used(names: Sequence[str]) -> str:
    return max(dict.fromkeys(names), key=names.count)


def _curve(swatch: Swatch, tables: ObserverTables) -> Array:
    if swatch.reflectance is not None:
        return np.array(swatch.reflectance)
    if swatch.lab is None:
        raise InputError(f"{_label(swatch)} has neither a curve nor a Lab", field="shelf")
    weights, white = light_of(tables, swatch.illuminant, swatch.observer)
    return curve_or_grey(xyz_from_lab(swatch.lab, white), weights)


def _label(swatch: Swatch) -> str:
    mix = " + ".join(f"{name} {100 * depth:g} %" for name, depth in swatch.depths_owf.items())
    return f"the swatch {mix or 'undyed'} on {swatch.base}"


def _sample(swatch: Swatch, dyes: tuple[str, ...], bases: Mapping[str, Array], tables: ObserverTables) -> Sample:
    for name, depth in swatch.depths_owf.items():
        if not (np.isfinite(depth) and 0 < depth <= 1):
            raise InputError(
                f"{_label(swatch)} gives {name} a depth of {100 * depth:g} %; it must be above 0 % and at most 100 %",
                field="depth_percent",
                value=depth,
                limit=1,
            )
    curve = None if swatch.reflectance is None else np.array(swatch.reflectance)
    light = ("D65", 10) if curve is not None else (swatch.illuminant, swatch.observer)
    weights, white = light_of(tables, *light)
    if curve is None and swatch.lab is None:
        raise InputError(f"{_label(swatch)} has neither a curve nor a Lab", field="shelf")
    lab = np.array(swatch.lab) if curve is None else lab_from_xyz(curve @ weights, white)
    return Sample(
        depths=np.array([swatch.depths_owf.get(name, 0.0) for name in dyes]),
        base=bases[swatch.base],
        curve=curve,
        lab=lab,
        weights=weights,
        white=white,
        noise=LAB_NOISE.get(swatch.source, LAB_NOISE["photo"]),
    )


def _notes(
    chosen: str, asked: str | None, bases: Mapping[str, Array], using: Mapping[str, Sequence[Swatch]]
) -> tuple[str, ...]:
    notes = []
    if asked is None and len(bases) > 1:
        notes.append(f"on {chosen}, the base with most swatches; name another to dye on that")
    elsewhere = [name for name, own in using.items() if all(swatch.base != chosen for swatch in own)]
    if elsewhere:
        notes.append(
            f"not yet dyed on {chosen}: {', '.join(elsewhere)}; carried over by the undyed colours of both bases"
        )
    mixed = [name for name, own in using.items() if all(len(swatch.depths_owf) > 1 for swatch in own)]
    if mixed:
        notes.append(f"known from mixes only: {', '.join(mixed)}; a swatch of the dye alone would tell more")
    return tuple(notes)


def _misfit(name: str, missed_de00: float) -> str:
    return (
        f"{name}: no dye over this undyed yarn gives its swatches, the nearest misses them by {missed_de00:.1f} ΔE00; "
        "are swatch, depth and base the right ones? A dye can only darken"
    )
