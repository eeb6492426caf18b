"""One absorption curve and one build-up per dye, fitted jointly to all its swatches and to the mixes that hold it.

Fitting one curve to a whole ladder is what makes swatches of which only a Lab is known useful: each depth filters the
light anew. `samples` reads the swatches, `joint` holds the numerical part and `kubelka` the model's source.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import delta_e00, xyz_from_lab
from dyewright.core.mixing.fit_notes import fit_notes, misfit_notes, theory_notes
from dyewright.core.mixing.joint import (
    LOG_HALF_DEPTH_SD,
    POWER_SD,
    Fitted,
    Problem,
    believed,
    cost_of,
    descend,
    fitted_labs,
    judged,
    measured_labs,
)
from dyewright.core.mixing.samples import (
    N,
    Samples,
    body_k_over_s,
    curve_or_grey,
    samples_of,
)
from dyewright.core.mixing.setting import Setting, setting_of
from dyewright.core.mixing.shelf import BEND, KNOWN, POWER, STRENGTH, ShelfModel
from dyewright.core.mixing.subset import best_fit
from dyewright.core.mixing.theory import LITTLE_FAITH_DE00, theory_error
from dyewright.core.model import ObserverTables, Swatch
from dyewright.errors import InputError

__all__ = ["fit_shelf"]

Array = NDArray[np.float64]

FAINTEST = 1e-3  # first guess: no curve falls below this share of its peak
BEND_TOLD = 0.5  # a build-up counts as fitted where swatches leave less than this share of what was believed of it
SURFACES = (0.0, 0.004, 0.01, 0.02)  # shares of light, tried where the reflection is to be found
DARK_L = 25.0  # L* below which a reflection of 1 % is a quarter of the light, so that a swatch tells it (estimate)
MOST_SURFACE = 0.05  # Fresnel at n = 1.55, wool's, straight on: (0.55/2.55)² = 0.047


def fit_shelf(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    *,
    base: str | None = None,
    lots: Mapping[str, str] | None = None,
    surface_frac: float | None = None,
    blends: Collection[str] = (),
) -> ShelfModel:
    """Return the dyes of a set of swatches over one of its bases.

    Args:
        swatches: those of the undyed bases (no dyes) and of dyed yarn, single or mixed.
        tables: lights and observers.
        base: the base to dye on; the one with most swatches where None. Dyes known from another base only are taken
            over by both undyed colours and the strength that other dyes, or none, show there; a note says so.
        lots: the tub in use of each dye, where it is known; the one with most swatches where not.
        surface_frac: light that the yarn's surface reflects unchanged, 0 to 0.05; None to find it from the swatches
            where one is dark enough to tell, else 0.
        blends: dyes that are mixtures in the jar, whose colour is less sure.

    Raises:
        InputError: no dyed swatch, a base whose undyed colour is missing, or a swatch that cannot be.
    """
    setting = setting_of(swatches, tables, base=base, lots=lots, blends=blends)
    problem, fit = solved(setting, tables, surface_frac)
    return _model(setting, problem, fit, fit_notes(setting, fit.numbers, asked=base))


def solved(setting: Setting, tables: ObserverTables, surface_frac: float | None) -> tuple[Problem, Fitted]:
    """Return the problem of a setting and its solution; `surface_frac` and errors as those of `fit_shelf`."""
    require_surface(surface_frac)
    if surface_frac is not None:
        return fitted(setting, tables, surface_frac)
    alike = problem_of(setting, tables, 0.0).samples
    is_dark = any(np.any(measured_labs(samples)[:, 0] < DARK_L) for samples in alike)
    return _with_surface(setting, tables) if is_dark else fitted(setting, tables, 0.0)


def require_surface(surface_frac: float | None) -> None:
    """Raise InputError where a yarn's surface cannot reflect that share of the light."""
    if surface_frac is not None and not 0 <= surface_frac <= MOST_SURFACE:
        raise InputError(
            f"the surface reflection is {100 * surface_frac:g} %, it must be from 0 to {100 * MOST_SURFACE:g} %; "
            "leave it out to have it found from the dark swatches",
            field="surface_frac",
            value=surface_frac,
            limit=MOST_SURFACE,
        )


def fitted(
    setting: Setting, tables: ObserverTables, surface_frac: float, start: Array | None = None
) -> tuple[Problem, Fitted]:
    """Return the problem of a setting and its solution, from a start (n, p) or a first guess.

    Measured mixes say first what the theory gets wrong of them.
    """
    problem = problem_of(setting, tables, surface_frac)
    numbers = problem.start if start is None else start
    if any(len(swatch.depths_owf) > 1 for swatch in setting.dyed):
        off, numbers = theory_error(replace(problem, theory_de00=LITTLE_FAITH_DE00), numbers)
        problem = replace(problem, theory_de00=off)
    return problem, judged(problem, best_fit(problem, numbers))


def _with_surface(setting: Setting, tables: ObserverTables) -> tuple[Problem, Fitted]:
    """Return the problem with the surface reflection that fits the swatches best, and its solution.

    The best of a few, each begun from the last until it gets no better, and then the lowest point of the parabola
    through it and its neighbours. Other starts are tried in the end only.
    """
    found: list[Array] = []
    costs: list[float] = []
    for share in SURFACES:
        problem = problem_of(setting, tables, share)
        numbers = descend(problem, found[-1] if found else problem.start)
        found.append(numbers)
        costs.append(cost_of(problem, numbers))
        if len(costs) > 2 and costs[-1] > costs[-2]:
            break
    best = int(np.clip(np.argmin(costs), 1, len(costs) - 2))
    near = slice(best - 1, best + 2)
    bend, slope = np.polyfit(SURFACES[near], costs[near], 2)[:2].tolist()
    lowest = -slope / (2 * bend) if bend > 0 else SURFACES[int(np.argmin(costs))]
    share = float(np.clip(lowest, SURFACES[best - 1], SURFACES[best + 1]))
    return fitted(setting, tables, share, found[best])


def problem_of(setting: Setting, tables: ObserverTables, surface_frac: float) -> Problem:
    """Return the samples of a setting and what is believed of its dyes."""
    bodies = {name: body_k_over_s(curve, surface_frac) for name, curve in setting.undyed.items()}
    columns = {
        (name, swatch.base, swatch.dye_lots.get(name, "")): setting.columns(
            name, swatch.base, swatch.dye_lots.get(name, "")
        )
        for swatch in setting.dyed
        for name in swatch.depths_owf
    }
    samples = samples_of(setting.dyed, setting.dyes, bodies, columns, tables)
    guess = _first_guess(samples, len(setting.dyes), surface_frac)
    n_tubs = max(len(tubs) for tubs in setting.tubs.values())
    return Problem(
        samples=samples,
        first=guess,
        centre=believed(guess, len(setting.bases) - 1 + n_tubs),
        n_bases=len(setting.bases) - 1,
        is_base_common=True,
        is_blend=np.array([name in setting.blends for name in setting.dyes]),
        surface_frac=surface_frac,
    )


def _first_guess(samples: Sequence[Samples], n_dyes: int, surface_frac: float) -> Array:
    """Return curves (n, 31) from each swatch on its own, shared among the dyes of a mix by depth, averaged."""
    total, weights = np.zeros((n_dyes, N)), np.zeros(n_dyes)
    for alike in samples:
        entries = alike.entries
        curve = alike.measured
        if not alike.is_curve:
            curve = curve_or_grey(xyz_from_lab(alike.measured, alike.white), alike.weights)
        added = np.maximum(body_k_over_s(curve, surface_frac) - alike.base, 0)
        counts = np.bincount(entries.sample)
        depth = np.bincount(entries.sample, entries.depth_owf)
        weight = counts[entries.sample] ** -4.0  # a swatch of one dye says more about it than a mix does
        per_depth = (added / depth[:, None])[entries.sample] * weight[:, None]
        np.add.at(total, entries.dye, per_depth)
        np.add.at(weights, entries.dye, weight)
    guess = total / weights[:, None]
    peak = np.maximum(guess.max(axis=1, keepdims=True), 1e-2)
    curves: Array = np.maximum(guess, FAINTEST * peak)
    return curves


def _model(setting: Setting, problem: Problem, fit: Fitted, notes: tuple[str, ...]) -> ShelfModel:
    own = [setting.own(name) for name in setting.dyes]
    pick = _picked(setting, fit.numbers.shape[1])
    numbers = np.einsum("nkp,np->nk", pick, fit.numbers)
    missed = _missed(problem, fit.numbers, len(setting.dyes))
    covariance = np.einsum("nkp,npmq,mlq->nkml", pick, fit.covariance, pick, optimize=True)
    return ShelfModel(
        dyes=setting.dyes,
        base=setting.base,
        curves=np.exp(numbers[:, :BEND]),
        log_covariance=covariance,
        base_k_over_s=body_k_over_s(setting.undyed[setting.base], problem.surface_frac),
        swatch_counts=tuple(map(len, own)),
        deepest_owf=tuple(
            max(swatch.depths_owf[name] for swatch in swatches)
            for name, swatches in zip(setting.dyes, own, strict=True)
        ),
        fit_de00=missed,
        is_spectral=all(swatch.reflectance is not None for swatch in setting.dyed),
        notes=(*notes, *theory_notes(problem.theory_de00), *misfit_notes(setting.dyes, missed)),
        half_depth_owf=tuple(np.exp(numbers[:, BEND]).tolist()),
        strength=tuple(np.exp(numbers[:, STRENGTH]).tolist()),
        surface_frac=problem.surface_frac,
        power=tuple(numbers[:, POWER].tolist()),
        is_bend_fitted=_is_told(fit),
        blends=setting.blends,
        theory_de00=problem.theory_de00,
    )


def _picked(setting: Setting, size: int) -> Array:
    """Return the matrices (n, 34, p) from a dye's numbers to those known of it on the base and from the tub asked."""
    pick = np.zeros((len(setting.dyes), KNOWN, size))
    pick[:, range(STRENGTH), range(STRENGTH)] = 1
    for dye, name in enumerate(setting.dyes):
        for column in setting.columns(name, setting.base, setting.in_use[name]):
            if column >= 0:
                pick[dye, STRENGTH, column] = 1
    return pick


def _missed(problem: Problem, numbers: Array, n_dyes: int) -> tuple[float, ...]:
    """Return how far each dye's swatches lie from the fit at the depth that was noted, on average, in ΔE00."""
    total, counts = np.zeros(n_dyes), np.zeros(n_dyes)
    for alike in problem.samples:
        off = delta_e00(measured_labs(alike), fitted_labs(problem, alike, numbers))
        np.add.at(total, alike.entries.dye, off[alike.entries.sample])
        np.add.at(counts, alike.entries.dye, 1)
    return tuple((total / counts).tolist())


def _is_told(fit: Fitted) -> tuple[bool, ...]:
    """Return whether swatches tell how each dye builds up: how it grows in depth tenfold about 1 %, logarithms."""
    grows = np.array([-0.5, np.log(10)])  # by ln h, where it bends by a quarter, and by the power
    believed_sd = np.hypot(*(grows * (LOG_HALF_DEPTH_SD, POWER_SD)))
    places = [BEND, POWER]
    left = [np.sqrt(grows @ fit.covariance[dye][places][:, dye, places] @ grows) for dye in range(len(fit.numbers))]
    return tuple(bool(sd < BEND_TOLD * believed_sd) for sd in left)
