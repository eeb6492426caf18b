"""Which of the many recipes that reach a target are worth a pot.

On a full shelf hundreds of combinations meet a target exactly under daylight, so that the error alone ranks nothing:
the order here is by what goes wrong afterwards (other light, weighing, a curve not well known, one more jar to weigh).
The weights of that order are the project's own choice (estimate).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import (
    REPORTED_LIGHTS,
    ciede2000_metric,
    colour_words,
    delta_cmc,
    delta_e00,
    difference_words,
    display_hex,
    lab_from_xyz,
    light_of,
)
from dyewright.core.matching.limits import LEAST_OWF
from dyewright.core.matching.search import Solutions, Target
from dyewright.core.mixing import ShelfModel, band_95, lab_of_mix, lab_slopes
from dyewright.core.model import MixDye, ObserverTables, Recipe, Why
from dyewright.errors import NoMatchError

__all__ = ["REACHED_DE00", "WEIGHING_SD", "Weighing", "choose_recipes", "weighing_p95"]

Array = NDArray[np.float64]

REACHED_DE00 = 1.0  # a match closer than this passes as the target (common practice: CMC or CIEDE2000 of 1)
NOT_SEEN_DE00 = 0.5  # recipes this much apart look the same (common practice)
ALTERNATE_DE00 = 2.0  # still fit for alternating skeins (common practice)
LOOKED_AT = 150  # closest solutions whose band is worked out
WEIGHING_SD = 0.02  # standard deviation of one weighed or measured dose, as a share of it (estimate)
DRAWS = 400
PRICE_OF_A_DYE = 0.15  # in ΔE00, for each dye (estimate)


@dataclass(frozen=True)
class Weighing:
    """How doses are weighed: their scatter as a share, and, where both are known, yarn and scale in grams."""

    sd_frac: float = WEIGHING_SD
    fibre_mass_g: float | None = None
    scale_resolution_g: float | None = None


@dataclass(frozen=True)
class _Candidates:
    """Solutions worth showing, one row each: depths, colour error and what else may go wrong, all in ΔE00."""

    depths: Array
    de00: Array
    other_light: Array | None  # (k, lights)
    weighing: Array
    band: Array
    cost: Array  # per kilogram of yarn; nan where a price is missing

    @property
    def n_dyes(self) -> NDArray[np.intp]:
        counts: NDArray[np.intp] = np.count_nonzero(self.depths, axis=1)
        return counts

    @property
    def unsteadiness(self) -> Array:
        light = 0.0 if self.other_light is None else self.other_light.mean(axis=1)
        answer: Array = np.hypot(light, self.weighing)
        return answer

    @property
    def trouble(self) -> Array:
        """The order of recommendation: everything that may go wrong, in ΔE00."""
        sure = np.sqrt(self.de00**2 + self.unsteadiness**2 + (self.band / 2) ** 2)
        answer: Array = sure + PRICE_OF_A_DYE * self.n_dyes
        return answer


def choose_recipes(
    shelf: ShelfModel,
    target: Target,
    found: Solutions,
    tables: ObserverTables,
    rng: np.random.Generator,
    *,
    best: int = 10,
    weighing: Weighing | None = None,
    price_per_g: Mapping[str, float] | None = None,
) -> tuple[Recipe, ...]:
    """Return up to `best` recipes, the recommended one first, then the best of each kind, then the next by trouble.

    Recommended is, among the best of each kind that look as close as the closest, the one with least that may go wrong.

    Raises:
        NoMatchError: the search found nothing.
    """
    weighing = weighing or Weighing()
    rows = _candidates(shelf, target, found, tables, weighing, price_per_g or {})
    picks = _best_of_each(rows)
    looks_closest = [row for _, row in picks if rows.de00[row] <= rows.de00.min() + NOT_SEEN_DE00]
    recommended = min(looks_closest, key=lambda row: rows.trouble[row])
    by_trouble = np.argsort(rows.trouble, kind="stable").tolist()
    order = list(dict.fromkeys([recommended, *(row for _, row in picks), *by_trouble]))[: max(best, 1)]
    why = {row: tuple(kind for kind, pick in picks if pick == row) for row in order}
    scatter = [weighing_p95(shelf, rows.depths[row], tables, rng, weighing) for row in order]
    return tuple(
        _recipe(shelf, target, rows, row, why[row], off, tables) for row, off in zip(order, scatter, strict=True)
    )


def _candidates(
    shelf: ShelfModel,
    target: Target,
    found: Solutions,
    tables: ObserverTables,
    weighing: Weighing,
    price_per_g: Mapping[str, float],
) -> _Candidates:
    # A dye that stands at its least dose is one too many: the combination without it was tried on its own.
    is_real = np.count_nonzero(found.depths_owf > 1.001 * LEAST_OWF, axis=1) == found.sizes
    if not is_real.any():
        raise NoMatchError(
            "no mix of this shelf moves the undyed base towards the target; dye nothing, or a lighter base"
        )
    depths, de00 = found.depths_owf[is_real], found.de00[is_real]
    chosen = _worth_a_look(depths, de00)
    depths, de00 = depths[chosen], de00[chosen]
    lights = None if target.reflectance is None else _under_other_lights(shelf, target.reflectance, depths, tables)
    return _Candidates(
        depths=depths,
        de00=de00,
        other_light=lights,
        weighing=_weighing_slope(shelf, depths, tables, weighing.sd_frac),
        band=np.array([band_95(shelf, row, tables) for row in depths]),
        cost=_cost_per_kg(shelf, depths, price_per_g),
    )


def _worth_a_look(depths: Array, de00: Array) -> NDArray[np.intp]:
    """Return the rows to work out: the closest, and the closest few of each number of dyes."""
    n_dyes = np.count_nonzero(depths, axis=1)
    few = [np.flatnonzero(n_dyes == size)[: LOOKED_AT // 3] for size in np.unique(n_dyes)]
    return np.unique(np.concatenate([np.arange(min(len(de00), LOOKED_AT)), *few]))


def _under_other_lights(shelf: ShelfModel, reflectance: Array, depths: Array, tables: ObserverTables) -> Array:
    """Return ΔE00 (k, lights) between target and mixes under the lights reported beside daylight, 10°."""
    columns = []
    for illuminant in REPORTED_LIGHTS:
        weights, white = light_of(tables, illuminant, 10)
        goal = lab_from_xyz(reflectance @ weights, white)
        columns.append(delta_e00(goal, lab_of_mix(shelf, depths, tables, illuminant=illuminant)))
    return np.stack(columns, axis=-1)


def _weighing_slope(shelf: ShelfModel, depths: Array, tables: ObserverTables, sd_frac: float) -> Array:
    """Return the root mean square ΔE00 that doses off by `sd_frac` cause, by the slopes."""
    weights, white = light_of(tables, "D65", 10)
    lab, slopes = lab_slopes(shelf.base_k_over_s + depths @ shelf.curves, weights, white)
    by_dye = np.einsum("kd,dw,kwc->kdc", depths, shelf.curves, slopes, optimize=True)
    felt = np.einsum("kec,kdc->kde", ciede2000_metric(lab), by_dye)
    answer: Array = sd_frac * np.sqrt(np.sum(felt**2, axis=(1, 2)))
    return answer


def _cost_per_kg(shelf: ShelfModel, depths: Array, price_per_g: Mapping[str, float]) -> Array:
    prices = np.array([price_per_g.get(name, np.nan) for name in shelf.dyes])
    grams = 1000 * depths
    answer: Array = np.where(grams > 0, grams * prices, 0).sum(axis=1)
    return answer


def _least(values: Array, allowed: NDArray[np.bool_]) -> int:
    return int(np.argmin(np.where(allowed, values, np.inf)))


def _best_of_each(rows: _Candidates) -> list[tuple[Why, int]]:
    """Return the row that is best of each kind; a kind may ask for a little closeness in return."""
    closest = rows.de00.min()
    picks = [(Why.CLOSEST, _least(rows.trouble, rows.de00 <= closest + 0.1 * NOT_SEEN_DE00))]
    near = rows.de00 <= max(REACHED_DE00, closest + NOT_SEEN_DE00)
    picks.append((Why.STEADIEST, _least(rows.unsteadiness, near)))
    usable = rows.de00 <= max(ALTERNATE_DE00, closest + REACHED_DE00)
    picks.append((Why.FEWEST_DYES, _least(100.0 * rows.n_dyes + rows.de00, usable)))
    if np.any(usable & np.isfinite(rows.cost)):
        picks.append((Why.CHEAPEST, _least(np.where(np.isfinite(rows.cost), rows.cost, np.inf), usable)))
    return picks


def _recipe(
    shelf: ShelfModel,
    target: Target,
    rows: _Candidates,
    row: int,
    why: tuple[Why, ...],
    weighing_de00: float,
    tables: ObserverTables,
) -> Recipe:
    lab = lab_of_mix(shelf, rows.depths[row], tables)
    lights = rows.other_light
    used = np.flatnonzero(rows.depths[row])
    by_depth = sorted(used.tolist(), key=lambda dye: -rows.depths[row, dye])
    return Recipe(
        dyes=tuple(MixDye(shelf.dyes[dye], 100 * float(rows.depths[row, dye])) for dye in by_depth),
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        de00=float(rows.de00[row]),
        decmc21=float(delta_cmc(target.lab, lab)),
        other_light=None if lights is None else dict(zip(REPORTED_LIGHTS, lights[row].tolist(), strict=True)),
        weighing_de00_p95=weighing_de00,
        de00_95=float(rows.band[row]),
        why=why,
        words=f"{colour_words(lab)}, {difference_words(target.lab, lab)}",
        hex=display_hex(lab, tables.whites["D65", 10]),
        cost_per_kg=float(rows.cost[row]) if np.isfinite(rows.cost[row]) else None,
    )


def weighing_p95(
    shelf: ShelfModel,
    depths_owf: Array,
    tables: ObserverTables,
    rng: np.random.Generator,
    weighing: Weighing | None = None,
) -> float:
    """Return the ΔE00 that 95 of 100 weighings of one recipe stay within, by drawing doses.

    Each dose scatters by a share of itself; where yarn and scale are known it is also read to the scale's step.
    """
    weighing = weighing or Weighing()
    drawn = depths_owf * np.exp(rng.normal(0, weighing.sd_frac, (DRAWS, len(depths_owf))))
    if weighing.fibre_mass_g and weighing.scale_resolution_g:
        step = weighing.scale_resolution_g / weighing.fibre_mass_g
        drawn = np.where(drawn > 0, np.maximum(drawn + rng.uniform(-step / 2, step / 2, drawn.shape), 0), 0)
    nominal = lab_of_mix(shelf, depths_owf, tables)
    return float(np.percentile(delta_e00(nominal, lab_of_mix(shelf, drawn, tables)), 95))
