"""Which of the many recipes that reach a target are worth a pot.

On a full shelf hundreds of combinations meet a target exactly under daylight, so that the error alone ranks nothing:
the order here is by what goes wrong afterwards (other light, weighing, a curve not well known, one more jar to weigh).
The weights of that order and what counts as a noticeable step are the project's own choice (estimate).
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import REPORTED_LIGHTS, delta_e00, lab_from_xyz, light_of
from dyewright.core.matching.limits import LEAST_OWF, Limits
from dyewright.core.matching.search import Solutions, Target
from dyewright.core.matching.slips import Merits, recipe_of
from dyewright.core.matching.weighing import Weighing, weighing_p95, weighing_rms
from dyewright.core.mixing import ShelfModel, bands_95, lab_of_mix
from dyewright.core.model import ObserverTables, Recipe, Why
from dyewright.errors import NoMatchError

__all__ = ["REACHED_DE00", "choose_recipes"]

Array = NDArray[np.float64]

REACHED_DE00 = 1.0  # a match closer than this passes as the target (common practice: CMC or CIEDE2000 of 1)
NOT_SEEN_DE00 = 0.5  # recipes this much apart look the same (common practice)
ALTERNATE_DE00 = 2.0  # still fit for alternating skeins (common practice)
LOOKED_AT = 150  # solutions whose band is worked out
PRICE_OF_A_DYE = 0.15  # in ΔE00, for each dye (estimate)

# What one recipe must be better by to be worth showing beside another (estimate): half of what is not seen in
# daylight and by weighing; other lights, and a band, are known less well; cost as a share.
STEP_DE00, STEP_LIGHT, STEP_WEIGHING, STEP_BAND, STEP_COST_FRAC = 0.25, 0.5, 0.25, 0.5, 0.05
SAME_STEPS = 0.1  # of such a step that counts as no difference: 0.025 ΔE00, far above what the solver leaves (estimate)


@dataclass(frozen=True)
class _Candidates:
    """Solutions worth showing, one row each: depths, colour error and what else may go wrong, all in ΔE00."""

    depths: Array
    de00: Array
    other_light: Array  # (k, lights); no lights where the target's curve is not known
    weighing: Array
    cost: Array  # per kilogram of yarn; nan where a price is missing
    band: Array  # nan where it was not worked out

    @property
    def n_dyes(self) -> NDArray[np.intp]:
        counts: NDArray[np.intp] = np.count_nonzero(self.depths, axis=1)
        return counts

    @property
    def mean_light(self) -> Array:
        """The mean ΔE00 under the other lights, 0 where they are not known."""
        answer: Array = self.other_light.sum(axis=1) / max(self.other_light.shape[1], 1)
        return answer

    @property
    def unsteadiness(self) -> Array:
        answer: Array = np.hypot(self.mean_light, self.weighing)
        return answer

    @property
    def trouble(self) -> Array:
        """The order of recommendation: everything that may go wrong, in ΔE00."""
        sure = np.sqrt(self.de00**2 + self.unsteadiness**2 + (np.nan_to_num(self.band) / 2) ** 2)
        answer: Array = sure + PRICE_OF_A_DYE * self.n_dyes
        return answer

    @property
    def is_usable(self) -> NDArray[np.bool_]:
        """Whether a recipe is near enough to be shown for something else than its colour."""
        answer: NDArray[np.bool_] = self.de00 <= max(ALTERNATE_DE00, self.de00.min() + REACHED_DE00)
        return answer

    @property
    def in_steps(self) -> Array:
        """Everything a recipe is compared by (k, 6), each counted in noticeable steps; a missing price is endless."""
        cost = np.log(np.where(np.isfinite(self.cost), self.cost, np.inf) + 1e-9) / np.log1p(STEP_COST_FRAC)
        steps = (
            self.de00 / STEP_DE00,
            self.mean_light / STEP_LIGHT,
            self.weighing / STEP_WEIGHING,
            np.nan_to_num(self.band) / STEP_BAND,
            cost,
            2.0 * self.n_dyes,  # one dye fewer is always noticed
        )
        return np.stack(steps, axis=1)

    def rows(self, chosen: NDArray[np.intp]) -> "_Candidates":
        """Return some of the rows, in the order given."""
        return _Candidates(*(getattr(self, column.name)[chosen] for column in fields(self)))


def choose_recipes(
    shelf: ShelfModel,
    target: Target,
    found: Solutions,
    tables: ObserverTables,
    rng: np.random.Generator,
    *,
    best: int = 10,
    weighing: Weighing | None = None,
    limits: Limits | None = None,
) -> tuple[Recipe, ...]:
    """Return up to `best` recipes, the recommended one first, then the best of each kind, then what they do not beat.

    Recommended is, among the best of each kind that look as close as the closest, the one with least that may go wrong.
    Of the others none is shown that one recipe beats in everything: colour, other light, weighing, how sure it is,
    number of dyes, and cost. Those come first that are noticeably better than every one before them at something.

    Raises:
        NoMatchError: nothing that was found moves the yarn towards the target.
    """
    weighing, limits = weighing or Weighing(), limits or Limits()
    rows = _candidates(shelf, target, found, tables, weighing, limits)
    picks = _best_of_each(rows)
    looks_closest = [row for _, row in picks if rows.de00[row] <= rows.de00.min() + NOT_SEEN_DE00]
    recommended = min(looks_closest, key=lambda row: rows.trouble[row])
    order = _unbeaten(rows, list(dict.fromkeys([recommended, *(row for _, row in picks)])))[: max(best, 1)]
    recipes = []
    for row in order:
        merits = Merits(
            why=tuple(kind for kind, pick in picks if pick == row),
            other_light=rows.other_light[row],
            band=float(rows.band[row]),
            weighing_de00=weighing_p95(shelf, rows.depths[row], tables, rng, weighing),
            weighing=weighing,
            cost_per_kg=float(rows.cost[row]),
        )
        recipes.append(recipe_of(shelf, target, rows.depths[row], tables, merits))
    return tuple(recipes)


def _unbeaten(rows: _Candidates, first: list[int]) -> list[int]:
    """Return the first rows; then by trouble those noticeably better than all before at something; then the rest.

    No usable row is among the later ones that another equals in everything and beats in something, both as far as
    SAME_STEPS tells them apart.
    """
    steps = rows.in_steps
    order = [row for row in np.argsort(rows.trouble, kind="stable").tolist() if rows.is_usable[row]]
    noticed = list(first)
    for row in order:
        if row not in noticed and (steps[row] < steps[noticed] - 1).any(axis=1).all():
            noticed.append(row)
    told = np.round(steps / SAME_STEPS)
    others = [row for row in order if row not in noticed and not _is_beaten(told[row], told[rows.is_usable])]
    return [*noticed, *others]


def _is_beaten(own: Array, others: Array) -> bool:
    """Return whether one of the others is as good in everything (Pareto) and better in something."""
    return bool(np.any((others <= own).all(axis=1) & (others < own).any(axis=1)))


def _candidates(
    shelf: ShelfModel, target: Target, found: Solutions, tables: ObserverTables, weighing: Weighing, limits: Limits
) -> _Candidates:
    depths, de00 = _worth_dyeing(shelf, found, limits)
    everything = _Candidates(
        depths=depths,
        de00=de00,
        other_light=_under_other_lights(shelf, target.reflectance, depths, tables),
        weighing=weighing_rms(shelf, depths, tables, weighing),
        cost=_cost_per_kg(shelf, depths, limits),
        band=np.full(len(depths), np.nan),
    )
    rows = everything.rows(_worth_a_look(everything))
    return _Candidates(**{**vars(rows), "band": bands_95(shelf, rows.depths, tables)})


def _worth_dyeing(shelf: ShelfModel, found: Solutions, limits: Limits) -> tuple[Array, Array]:
    """Return the solutions in which every dye does something, unless it was asked for, and that beat no dye at all."""
    is_asked = np.array([name in limits.must_use for name in shelf.dyes])
    # A dye that stands at its least is one too many: the combination without it was tried on its own.
    is_real = np.all((found.depths_owf > 1.001 * LEAST_OWF) | (found.depths_owf == 0) | is_asked, axis=1)
    is_real &= (found.de00 < found.bare_de00) | is_asked.any()
    if not is_real.any():
        raise NoMatchError(
            "no mix of this shelf moves the undyed base towards the target; dye nothing, or a lighter base"
        )
    return found.depths_owf[is_real], found.de00[is_real]


def _worth_a_look(rows: _Candidates) -> NDArray[np.intp]:
    """Return the rows to work out: those with least trouble, the closest and cheapest, the best of each size."""
    orders = [rows.trouble, rows.de00, np.where(rows.de00 < ALTERNATE_DE00, rows.cost, np.nan)]
    for size in np.unique(rows.n_dyes):
        orders += [np.where(rows.n_dyes == size, values, np.nan) for values in (rows.trouble, rows.de00)]
    share = max(1, LOOKED_AT // len(orders))
    firsts = [np.argsort(values, kind="stable")[: np.count_nonzero(np.isfinite(values))][:share] for values in orders]
    return np.unique(np.concatenate(firsts))


def _under_other_lights(shelf: ShelfModel, curve: Array | None, depths: Array, tables: ObserverTables) -> Array:
    """Return ΔE00 (k, lights) between target and mixes under the lights reported beside daylight, 10°."""
    if curve is None:
        return np.zeros((len(depths), 0))
    columns = []
    for illuminant in REPORTED_LIGHTS:
        weights, white = light_of(tables, illuminant, 10)
        goal = lab_from_xyz(curve @ weights, white)
        columns.append(delta_e00(goal, lab_of_mix(shelf, depths, tables, illuminant=illuminant)))
    return np.stack(columns, axis=-1)


def _cost_per_kg(shelf: ShelfModel, depths: Array, limits: Limits) -> Array:
    prices = np.array([limits.price_per_g.get(name, np.nan) for name in shelf.dyes])
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
    usable = rows.is_usable
    is_fewest = usable & (rows.n_dyes == rows.n_dyes[usable].min())
    nearest = rows.de00[is_fewest].min()
    picks.append((Why.FEWEST_DYES, _least(rows.trouble, is_fewest & (rows.de00 <= nearest + 0.1 * NOT_SEEN_DE00))))
    if np.any(usable & np.isfinite(rows.cost)):
        picks.append((Why.CHEAPEST, _least(np.where(np.isfinite(rows.cost), rows.cost, np.inf), usable)))
    return picks
