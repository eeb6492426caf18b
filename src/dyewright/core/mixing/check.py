"""How well a shelf foretells each of its own swatches from the others, and which of them disagree.

Each swatch is left out in turn and its dyes are fitted anew from where they were, the rest of the shelf staying as it
is. How far it then lies from what is foretold is judged by what its own reading, its pot and the other swatches let
expect: `surprise` is 1 where it is as far as expected on average, and above 2.3 once in a thousand (chi-squared of
three components). For a swatch that surprises, a few mishaps are tried on it: another depth, another base, another dye.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import ciede2000_metric, delta_e00
from dyewright.core.mixing.fit import solved
from dyewright.core.mixing.joint import Fitted, Problem, cost_of, descend, fitted_labs, judged, part_of
from dyewright.core.mixing.samples import Samples, body_k_over_s
from dyewright.core.mixing.setting import Setting, setting_of
from dyewright.core.mixing.subset import as_lab, narrowed, only
from dyewright.core.model import Lab, ObserverTables, Swatch

__all__ = ["LeftOut", "Mishap", "Suspect", "checked", "left_out", "left_out_by_dye", "suspects"]

Array = NDArray[np.float64]

SURPRISING = 2.3  # once in a thousand swatches
EXPLAINED = 1.5  # a mishap that leaves no more surprise than this explains a swatch (ours)
LEAST_MISWEIGHED = 0.15  # of ln depth: a pot misses by less of itself (three times REPEAT_SD)
FACTORS = np.exp(np.linspace(np.log(0.1), np.log(10), 93))  # of depth that are tried, 5 % apart


class Mishap(StrEnum):
    """What may have happened to a swatch that disagrees with its ladder."""

    WEIGHING = "weighing"
    OTHER_BASE = "other base"
    OTHER_DYE = "other dye"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class LeftOut:
    """A swatch (its place among those given) and how far it lies from what the others foretell, in ΔE00.

    `expected_de00` is how far, root mean square, its reading, its pot and the other swatches let expect.
    """

    place: int
    swatch: Swatch
    foretold: Lab
    de00: float
    expected_de00: float
    surprise: float


@dataclass(frozen=True)
class Suspect:
    """A swatch that disagrees with the others, and the likeliest mishap.

    For weighing, `depth_factor` says what the swatch looks like: 0.75 as if at three quarters of the depth noted, of
    the dye `other` alone where it is a mix. For another base or dye, `other` is its name. `left_de00` is how far the
    swatch lies from what the mishap would give.
    """

    found: LeftOut
    mishap: Mishap
    left_de00: float
    depth_factor: float = 1.0
    other: str | None = None


@dataclass(frozen=True)
class _Shelf:
    """A fit to be looked into: what it was made of, and the place of each dyed swatch among those given."""

    setting: Setting
    problem: Problem
    fit: Fitted
    places: tuple[int, ...]


@dataclass(frozen=True)
class _View:
    """A swatch from the fit without it: its sample, the numbers of all dyes, and the spread (3, 3) to be expected."""

    sample: Samples
    numbers: Array
    spread: Array
    rest_cost: float


def _shelf_of(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    lots: Mapping[str, str] | None,
    surface_frac: float | None,
    blends: Collection[str],
) -> _Shelf:
    setting = setting_of(swatches, tables, lots=lots, blends=blends)
    problem, fit = solved(setting, tables, surface_frac)
    return _Shelf(setting, problem, fit, tuple(at for at, swatch in enumerate(swatches) if swatch.depths_owf))


def left_out(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    *,
    lots: Mapping[str, str] | None = None,
    surface_frac: float | None = None,
    blends: Collection[str] = (),
) -> tuple[LeftOut, ...]:
    """Return how far each dyed swatch lies from what the others foretell; arguments as those of `fit_shelf`.

    A swatch that alone tells of a dye is not among them.
    """
    shelf = _shelf_of(swatches, tables, lots, surface_frac, blends)
    return _all_judged(shelf, _views(shelf, range(len(shelf.places)), ()))


def suspects(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    *,
    lots: Mapping[str, str] | None = None,
    surface_frac: float | None = None,
    blends: Collection[str] = (),
) -> tuple[Suspect, ...]:
    """Return the swatches that disagree with the others of their dyes, the most surprising first.

    One wrong swatch makes its neighbours look wrong too: of those that surprise, the one without which the rest agrees
    best is taken out, and the rest is looked at again, up to half of a dye's swatches.
    """
    return checked(swatches, tables, lots=lots, surface_frac=surface_frac, blends=blends)[1]


def checked(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    *,
    lots: Mapping[str, str] | None = None,
    surface_frac: float | None = None,
    blends: Collection[str] = (),
) -> tuple[tuple[LeftOut, ...], tuple[Suspect, ...]]:
    """Return what `left_out` and `suspects` do, from one fit."""
    shelf = _shelf_of(swatches, tables, lots, surface_frac, blends)
    views = all_views = _views(shelf, range(len(shelf.places)), ())
    found: dict[int, Suspect] = {}
    while views:
        odd = {
            at: view
            for at, view in views.items()
            if _surprise(view, _foretold(shelf, view)) > SURPRISING and _may_go(shelf, at, found)
        }
        look_again: set[int] = set()
        for at in _worst_of_each_dye(shelf, odd, found):
            found[at] = _explained(shelf, at, odd[at])
            look_again |= _sharing_a_dye(shelf, at)
        views = _views(shelf, sorted(look_again), found)
    return _all_judged(shelf, all_views), tuple(sorted(found.values(), key=lambda one: -one.found.surprise))


def _all_judged(shelf: _Shelf, views: Mapping[int, _View]) -> tuple[LeftOut, ...]:
    return tuple(_judged(shelf, place, view) for place, view in views.items())


def left_out_by_dye(found: Sequence[LeftOut], dyes: Sequence[str]) -> dict[str, float | None]:
    """Return the mean ΔE00 over each dye's swatches, each foretold from the others; None for a dye with one swatch."""
    own = {name: [one.de00 for one in found if name in one.swatch.depths_owf] for name in dyes}
    return {name: float(np.mean(off)) if off else None for name, off in own.items()}


def _views(shelf: _Shelf, places: Collection[int], without: Collection[int]) -> dict[int, _View]:
    """Return each dyed swatch from the fit without it and without some others; those that cannot be left out not."""
    counts = dict.fromkeys(shelf.setting.dyes, 0)
    for at, swatch in enumerate(shelf.setting.dyed):
        for name in swatch.depths_owf if at not in without else ():
            counts[name] += 1
    return {
        at: _view(shelf, at, without)
        for at in places
        if at not in without and all(counts[name] > 1 for name in shelf.setting.dyed[at].depths_owf)
    }


def _view(shelf: _Shelf, at: int, without: Collection[int]) -> _View:
    dyes = _dyes_of(shelf, at)
    others = narrowed(shelf.problem, shelf.fit.numbers, dyes, {at, *without})
    rest = judged(others, descend(others, shelf.fit.numbers[dyes]))
    numbers = shelf.fit.numbers.copy()
    numbers[dyes] = rest.numbers
    sample = as_lab(only(shelf.problem, at))
    part = part_of(shelf.problem, sample, numbers)
    order = np.argsort(sample.entries.dye)
    slopes = np.swapaxes(part.slopes[order], 0, 1).reshape(3, -1)
    root = np.linalg.inv(part.whitening[0])
    spread = slopes @ rest.covariance.reshape(slopes.shape[1], -1) @ slopes.T + root @ root.T
    return _View(sample, numbers, spread, rest.cost)


def _dyes_of(shelf: _Shelf, at: int) -> list[int]:
    return sorted(shelf.setting.dyes.index(name) for name in shelf.setting.dyed[at].depths_owf)


def _surprise(view: _View, lab: Array) -> float:
    """Return how far a swatch lies from a Lab (3,) against what is to be expected of it."""
    off = ciede2000_metric(view.sample.measured[0]) @ (view.sample.measured[0] - lab)
    return float(np.sqrt(off @ np.linalg.solve(view.spread, off) / 3))


def _judged(shelf: _Shelf, at: int, view: _View) -> LeftOut:
    lab = _foretold(shelf, view)
    return LeftOut(
        place=shelf.places[at],
        swatch=shelf.setting.dyed[at],
        foretold=(float(lab[0]), float(lab[1]), float(lab[2])),
        de00=float(delta_e00(view.sample.measured[0], lab)),
        expected_de00=float(np.sqrt(np.trace(view.spread))),
        surprise=_surprise(view, lab),
    )


def _foretold(shelf: _Shelf, view: _View, sample: Samples | None = None) -> Array:
    """Return the Lab (3,) of a swatch, or of what it might have been, from the fit without it."""
    return np.asarray(fitted_labs(shelf.problem, sample or view.sample, view.numbers)[0], float)


def _may_go(shelf: _Shelf, at: int, gone: Collection[int]) -> bool:
    """Whether no more than half of the swatches of each of its dyes would be taken out with a swatch."""
    for name in shelf.setting.dyed[at].depths_owf:
        own = [place for place, swatch in enumerate(shelf.setting.dyed) if name in swatch.depths_owf]
        if 2 * (1 + sum(place in gone for place in own)) > len(own):
            return False
    return True


def _sharing_a_dye(shelf: _Shelf, at: int) -> set[int]:
    names = set(shelf.setting.dyed[at].depths_owf)
    return {place for place, swatch in enumerate(shelf.setting.dyed) if names & set(swatch.depths_owf)}


def _worst_of_each_dye(shelf: _Shelf, odd: Mapping[int, _View], gone: Collection[int]) -> list[int]:
    """Return the odd swatches without which the rest agrees best, no two of them of one dye."""
    saved = {}
    for at, view in odd.items():
        dyes = _dyes_of(shelf, at)
        with_it = narrowed(shelf.problem, shelf.fit.numbers, dyes, gone)
        saved[at] = cost_of(with_it, descend(with_it, shelf.fit.numbers[dyes])) - view.rest_cost
    worst: list[int] = []
    for at in sorted(odd, key=lambda place: -saved[place]):
        if not _sharing_a_dye(shelf, at) & set(worst):
            worst.append(at)
    return worst


@dataclass(frozen=True)
class _Tried:
    """A mishap tried on a swatch: what it would give, and how far off the swatch then still is."""

    mishap: Mishap
    lab: Array
    surprise: float
    factor: float = 1.0
    other: str | None = None


def _explained(shelf: _Shelf, at: int, view: _View) -> Suspect:
    """Return a swatch with the mishap that explains it best."""
    found = _judged(shelf, at, view)
    tried = [*_other_depths(shelf, view), *_other_bases(shelf, at, view), *_other_dyes(shelf, view)]
    best = min(tried, key=lambda one: one.surprise)
    if best.surprise > EXPLAINED:
        return Suspect(found, Mishap.NOT_KNOWN, found.de00)
    left = float(delta_e00(view.sample.measured[0], best.lab))
    return Suspect(found, best.mishap, left, best.factor, best.other)


def _other_depths(shelf: _Shelf, view: _View) -> list[_Tried]:
    """Return what other depths would give: of the one dye, or of each dye of a mix and of all of them."""
    entries = view.sample.entries
    one_each = np.eye(len(entries.dye), dtype=bool)
    chosen = one_each if len(one_each) == 1 else [*one_each, np.ones(len(one_each), bool)]
    tried = []
    for rows in chosen:
        for factor in FACTORS[np.abs(np.log(FACTORS)) > LEAST_MISWEIGHED]:
            depths = np.where(rows, factor, 1) * entries.depth_owf
            lab = _foretold(shelf, view, replace(view.sample, entries=replace(entries, depth_owf=depths)))
            name = shelf.setting.dyes[entries.dye[rows][0]] if rows.sum() == 1 < len(rows) else None
            tried.append(_Tried(Mishap.WEIGHING, lab, _surprise(view, lab), float(factor), name))
    return tried


def _other_bases(shelf: _Shelf, at: int, view: _View) -> list[_Tried]:
    """Return what the same recipe would give on each other base."""
    swatch, entries = shelf.setting.dyed[at], view.sample.entries
    tried = []
    for name, curve in shelf.setting.undyed.items():
        if name == swatch.base:
            continue
        columns = [
            shelf.setting.columns(shelf.setting.dyes[dye], name, swatch.dye_lots.get(shelf.setting.dyes[dye], ""))
            for dye in entries.dye
        ]
        moved = replace(
            view.sample,
            base=body_k_over_s(curve, shelf.problem.surface_frac)[None],
            entries=replace(entries, columns=np.array(columns)),
        )
        lab = _foretold(shelf, view, moved)
        tried.append(_Tried(Mishap.OTHER_BASE, lab, _surprise(view, lab), other=name))
    return tried


def _other_dyes(shelf: _Shelf, view: _View) -> list[_Tried]:
    """Return what each other dye would give in place of the only one."""
    entries = view.sample.entries
    tried = []
    for dye, name in enumerate(shelf.setting.dyes if len(entries.dye) == 1 else ()):
        if dye == entries.dye[0]:
            continue
        # The tub's factor is the own dye's; the base's counts for all.
        own = replace(entries, dye=np.array([dye]), columns=np.array([[entries.columns[0, 0], -1]]))
        lab = _foretold(shelf, view, replace(view.sample, entries=own))
        tried.append(_Tried(Mishap.OTHER_DYE, lab, _surprise(view, lab), other=name))
    return tried
