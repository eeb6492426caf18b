"""What came of a swatch evening: each jar beside what was foretold, and how much surer the shelf is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00
from dyewright.core.mixing import ShelfModel, band_95, bands_95, depth_vector, lab_of_mix
from dyewright.core.mixing.samples import lab_noise
from dyewright.core.model import Base, Colourway, Evening, Jar, Lab, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.records import colourways, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.recipes import recipe_text
from dyewright.services.shelf_model import fitted, usable_swatches
from dyewright.services.shown import shown_hex, shown_words, swatch_lab

__all__ = ["JarOutcome", "Surer", "all_foretold", "outcomes", "surer"]

RADIUS_95 = 2.795  # of a normal scatter alike in three components: the root of chi-squared's 95 % point, 7.815
TELLING_FRAC = 0.02  # a band that moves by less has hardly moved (estimate)


@dataclass(frozen=True)
class JarOutcome:
    """One jar after judging: the colour that came out, and what the shelf had foretold without this evening.

    `foretold_*`, `de00` and `band` are None where no swatch of its dyes was there before.
    """

    jar: Jar
    recipe: str
    hex: str | None
    words: str
    lab: Lab | None
    noise_de00: float | None
    source: str
    foretold_hex: str | None
    de00: float | None
    band: float | None

    @property
    def open_de00(self) -> float | None:
        """How far apart the two may well be: the band of what was foretold and that of the reading together."""
        return None if self.band is None else float(np.hypot(self.band, RADIUS_95 * (self.noise_de00 or 0.0)))

    @property
    def is_as_foretold(self) -> bool:
        """Whether what came out lies no farther off than that."""
        return self.de00 is not None and self.open_de00 is not None and self.de00 <= self.open_de00


@dataclass(frozen=True)
class Surer:
    """How sure some recipes are before and after an evening: the root of their mean square band, in ΔE00."""

    of_what: str
    before: float | None
    after: float

    @property
    def is_surer(self) -> bool:
        """Whether the band narrowed enough to tell."""
        return self.before is not None and self.after < (1 - TELLING_FRAC) * self.before

    @property
    def is_less_sure(self) -> bool:
        """Whether the band widened: swatches that disagree with the others do that."""
        return self.before is not None and self.after > (1 + TELLING_FRAC) * self.before


def all_foretold(session: Session, planned: Evening) -> list[Lab | None]:
    """Return the colour that each jar should have, the undyed yarn's too; None where the shelf cannot say.

    This evening's own swatches count for nothing in it.
    """
    base = shelf.base(session, planned.base_id)
    model = _model(session, base, without=_swatch_ids(planned))
    if model is None:
        return [None if jar.recipe_owf else base.undyed_lab for jar in planned.jars]
    return [_foretold(model, jar.recipe_owf)[0] for jar in planned.jars]


def outcomes(session: Session, planned: Evening) -> list[JarOutcome]:
    """Return each jar with the colour that came out, beside what the shelf foretells without this evening."""
    kept = {one.id: one for one in swatches_of.swatches(session)}
    base = shelf.base(session, planned.base_id)
    before = _model(session, base, without=_swatch_ids(planned))
    return [_outcome(jar, kept.get(jar.swatch_id), before) for jar in planned.jars]


def _swatch_ids(planned: Evening) -> set[int]:
    return {jar.swatch_id for jar in planned.jars if jar.swatch_id is not None}


def _model(session: Session, base: Base, without: set[int]) -> ShelfModel | None:
    """Return the fit over a base without some swatches; None where there is nothing to fit."""
    usable = usable_swatches(session)
    rest = [one for one in usable.swatches if one.id not in without]
    is_dyed, is_base_known = (
        any(one.depths_owf for one in rest),
        any(one.base == base.name and not one.depths_owf for one in rest),
    )
    if not (is_dyed and is_base_known):
        return None
    return fitted(rest, base.name, lots=usable.lots, blends=usable.blends)


def _outcome(jar: Jar, swatch: Swatch | None, before: ShelfModel | None) -> JarOutcome:
    lab = None if swatch is None else swatch_lab(swatch)
    recipe = jar.recipe_owf if swatch is None else swatch.depths_owf
    foretold, band = _foretold(before, recipe)
    return JarOutcome(
        jar=jar,
        recipe=recipe_text(jar.recipe_owf),
        hex=None if lab is None else shown_hex(lab),
        words=shown_words(lab),
        lab=lab,
        noise_de00=None if swatch is None else lab_noise(swatch),
        source="" if swatch is None else swatch.source,
        foretold_hex=None if foretold is None else shown_hex(foretold),
        de00=None if foretold is None or lab is None else float(delta_e00(foretold, lab)),
        band=band,
    )


def _foretold(model: ShelfModel | None, recipe_owf: Mapping[str, float]) -> tuple[Lab | None, float | None]:
    """Return the colour that a recipe should have, and its band; of the undyed yarn only the colour on record."""
    if model is None or not set(recipe_owf) <= set(model.dyes):
        return None, None
    depths, tables = depth_vector(model, recipe_owf), load_observer_tables()
    lab = _as_lab(lab_of_mix(model, depths, tables))
    return lab, band_95(model, depths, tables) if recipe_owf else None


def surer(session: Session, planned: Evening) -> Surer | None:
    """Return how much surer the colourways on this base are for an evening, or its own recipes where there are none.

    None where the evening has no swatch yet. `before` is None where a dye of them had no swatch before.
    """
    base = shelf.base(session, planned.base_id)
    after = _model(session, base, without=set())
    if after is None or not _swatch_ids(planned):
        return None
    touched = {name for jar in planned.jars for name in jar.recipe_owf}
    ways = [way for way in colourways.colourways(session) if _is_concerned(way, base, touched, after)]
    recipes = [way.recipe_owf for way in ways] or [
        jar.recipe_owf for jar in planned.jars if jar.recipe_owf and set(jar.recipe_owf) <= set(after.dyes)
    ]
    if not recipes:
        return None
    count = len(ways)
    of_what = f"{count} colourway{'' if count == 1 else 's'} with these dyes" if ways else "the recipes of this evening"
    before = _model(session, base, without=_swatch_ids(planned))
    return Surer(of_what, _mean_band(before, recipes), _mean_band(after, recipes) or 0.0)


def _is_concerned(way: Colourway, base: Base, touched: set[str], model: ShelfModel) -> bool:
    names = set(way.recipe_owf)
    return way.base_id == base.id and bool(names & touched) and names <= set(model.dyes)


def _mean_band(model: ShelfModel | None, recipes: Sequence[Mapping[str, float]]) -> float | None:
    """Return the root of the mean square band of some recipes; None where a dye of them is not known."""
    if model is None or not {name for recipe in recipes for name in recipe} <= set(model.dyes):
        return None
    depths = np.array([depth_vector(model, recipe) for recipe in recipes])
    return float(np.sqrt(np.mean(bands_95(model, depths, load_observer_tables()) ** 2)))


def _as_lab(values: NDArray[np.float64]) -> Lab:
    lightness, a, b = values.tolist()
    return lightness, a, b
