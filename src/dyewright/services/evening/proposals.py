"""Which jars are worth dyeing: the undyed yarn, a swatch of each new tub, ladders, what sharpens colourways."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.mixing import ShelfModel, depth_vector
from dyewright.core.mixing.ladder import MIDDLE_OWF, ladders, sharpening
from dyewright.core.model import Base, Colourway, Dye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.shelf_model import studio_shelf
from dyewright.services.swatches.tubs import bridging_depth, unbridged

__all__ = ["Proposal", "Purpose", "proposed_jars"]

LADDER_JARS = 3  # a dye that was not ticked gets about so many, where none was


class Purpose(StrEnum):
    """What an evening is for, as the form's values."""

    LADDERS = "ladders"
    SHARPEN = "sharpen"
    OWN = "own"

    @property
    def words(self) -> str:
        """What the form calls it."""
        return {
            Purpose.LADDERS: "Depth ladders of these dyes",
            Purpose.SHARPEN: "What sharpens my colourways most",
            Purpose.OWN: "Recipes of my own",
        }[self]


@dataclass(frozen=True)
class Proposal:
    """One proposed jar and why it is worth dyeing."""

    recipe_owf: Mapping[str, float]
    why: str


@dataclass(frozen=True)
class _Known:
    """What the shelf knows on a base: its swatches there, the dyes that may be dyed, the colourways."""

    base: Base
    swatches: Sequence[Swatch]
    dyes: Sequence[Dye]
    colourways: Sequence[Colourway]

    def depths_owf(self, dye: str) -> list[float]:
        """Return the depths at which a dye was dyed alone on this base."""
        return [one.depths_owf[dye] for one in self.swatches if set(one.depths_owf) == {dye}]

    @property
    def has_undyed(self) -> bool:
        """Whether the undyed yarn was measured."""
        return self.base.undyed_lab is not None or any(not one.depths_owf for one in self.swatches)


def proposed_jars(
    session: Session, base: Base, count: int, purpose: Purpose, *, ticked: Sequence[str] = (), palette: str = ""
) -> list[Proposal]:
    """Return the jars worth dyeing on a base: the undyed skein, bridging swatches, then what the evening is for.

    Args:
        session: on the studio's records.
        base: the yarn.
        count: how many jars there is room for.
        purpose: what the evening is for.
        ticked: numbers of the dyes whose ladders are wanted; those known least where none is ticked.
        palette: number of the palette to sharpen; all colourways on this base where empty.

    Raises:
        InputError: there is no colourway to sharpen, or the shelf knows too little to say.
    """
    known = _Known(
        base,
        [one for one in swatches_of.swatches(session) if one.base == base.name],
        [dye for dye in shelf.dyes(session) if not dye.is_fluorescent],
        _wanted(session, palette, base),
    )
    chosen = [] if known.has_undyed else [Proposal({}, "the undyed yarn is not measured yet")]
    if purpose is not Purpose.OWN:
        chosen += _bridging(session, known)
    if purpose is Purpose.SHARPEN:
        chosen += _sharpening(session, known, count - len(chosen))
    if purpose is Purpose.LADDERS:
        chosen += _ladders(known, ticked, count, chosen)
    return chosen[:count]


def _wanted(session: Session, palette: str, base: Base) -> list[Colourway]:
    """Return the colourways that an evening is to sharpen: those of a palette, or all on this base."""
    every = [one for one in colourways_of.colourways(session) if one.recipe_owf]
    if palette:
        return [one for one in every if str(one.palette_id) == palette]
    return [one for one in every if one.base_id == base.id]


def _bridging(session: Session, known: _Known) -> list[Proposal]:
    """Return a swatch of each dye whose tub in use is another than those its swatches came from."""
    every = swatches_of.swatches(session)
    unsure = [dye for dye in known.dyes if unbridged(dye, every)]
    if not unsure:
        return []
    try:
        model = studio_shelf(session, known.base.name).model
    except InputError:  # nothing on this base can be fitted yet: the first swatches will be of the new tub anyway
        return []
    return [
        Proposal(
            {dye.name: bridging_depth(model, dye.name, every)[0]},
            f"a new tub ({dye.dye_lot}): one swatch tells how strong it is",
        )
        for dye in unsure
        if dye.name in model.dyes
    ]


def _sharpening(session: Session, known: _Known, count: int) -> list[Proposal]:
    """Return the swatches after which the wanted colourways are known best.

    Raises:
        InputError: no colourway to sharpen, or the shelf knows too little to say.
    """
    if not known.colourways:
        raise InputError(
            f"no colourway with a recipe is kept for {known.base.name}; keep one, or choose depth ladders",
            field="palette",
        )
    model = studio_shelf(session, known.base.name).model
    recipes = np.array([depth_vector(model, _known_part(one, model)) for one in known.colourways])
    unknown = sorted({name for one in known.colourways for name in one.recipe_owf} - set(model.dyes))
    first = [Proposal({name: MIDDLE_OWF}, f"no swatch of {name} yet") for name in unknown]
    best = sharpening(model, recipes, load_observer_tables(), max(0, count - len(first)))
    chosen = first + [
        Proposal(
            {one.dye: one.depth_owf},
            f"your colourways become sure to ± {one.band_after:.2f} from ± {one.band_now:.2f} ΔE00, on average",
        )
        for one in best
    ]
    names = sorted({name for one in known.colourways for name in one.recipe_owf})
    return chosen + _ladders_of(known, names, count - len(chosen), chosen)


def _known_part(colourway: Colourway, model: ShelfModel) -> dict[str, float]:
    """Return what of a recipe the shelf has swatches of: the rest is dyed for the first time anyway."""
    return {name: depth for name, depth in colourway.recipe_owf.items() if name in model.dyes}


def _ladders(known: _Known, ticked: Sequence[str], count: int, before: Sequence[Proposal]) -> list[Proposal]:
    """Return depths that fill the ladders of the ticked dyes; of those known least where none is ticked.

    Reactive dyes are then left out where there are others: they want a heat of their own.
    """
    names = [dye.name for dye in known.dyes if str(dye.id) in ticked]
    if not names:
        usual = max(1, count // LADDER_JARS)
        alike = [dye.name for dye in known.dyes if not dye.dye_class.is_reactive] or [dye.name for dye in known.dyes]
        names = sorted(alike, key=lambda name: len(known.depths_owf(name)))[:usual]
    return _ladders_of(known, names, count - len(before), before)


def _ladders_of(known: _Known, names: Sequence[str], count: int, before: Sequence[Proposal]) -> list[Proposal]:
    """Return jars that fill the ladders of some dyes, beside those that are proposed before."""
    there = {
        name: [*known.depths_owf(name), *(one.recipe_owf[name] for one in before if name in one.recipe_owf)]
        for name in names
    }
    return [Proposal({name: depth}, _ladder_words(name, len(there[name]))) for name, depth in ladders(there, count)]


def _ladder_words(name: str, there: int) -> str:
    return f"no swatch of {name} yet" if there == 0 else f"the widest gap in {name}'s ladder of {there}"
