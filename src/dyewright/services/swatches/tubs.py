"""Tubs of dye: what its swatches say of a dye, and what a new tub asks for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import delta_e00
from dyewright.core.mixing import ShelfModel, lab_of_mix
from dyewright.core.mixing.ladder import MIDDLE_OWF
from dyewright.core.model import Dye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.learning.page import shelf_taught
from dyewright.services.shelf_model import fitted, usable_swatches
from dyewright.services.swatches.page import dye_swatches

__all__ = ["TubAdvice", "bridging_depth", "dye_page", "save_tub", "unbridged"]

LITTLE_MORE = 1.1  # a tub so much stronger is what a bridging swatch must be able to show
ENOUGH = 0.8  # of the largest change is as good: a deeper swatch is weighed more surely (estimate)
EARLIER = "earlier"  # what the tub before is called where it had no lot


@dataclass(frozen=True)
class TubAdvice:
    """The bridging swatch that tells a new tub's strength: at which depth, on which base, and what it shows.

    `shows_de00` is how far a tub a tenth stronger moves its colour.
    """

    depth: str
    base: str
    shows_de00: float


def unbridged(dye: Dye, swatches: Sequence[Swatch]) -> bool:
    """Return whether the tub in use is known by no swatch, while others of the dye are noted as from another."""
    noted = {one.dye_lots.get(dye.name, "") for one in swatches if dye.name in one.depths_owf}
    return bool(dye.dye_lot) and any(noted) and dye.dye_lot not in noted


def dye_page(session: Session, dye_id: int) -> dict[str, object]:
    """Return what a dye's page shows beside its form: its swatches, what the fit says of it, and a new tub's swatch."""
    dye, swatches = shelf.dye(session, dye_id), swatches_of.swatches(session)
    known = dye_swatches(dye, swatches)
    unnoted = sum(dye.name in one.depths_owf and dye.name not in one.dye_lots for one in swatches)
    view: dict[str, object] = {"known": known, "unnoted": unnoted, "notes_of_fit": (), "bridge": None}
    view |= shelf_taught(session)
    usable = usable_swatches(session)
    try:
        model = fitted(usable.swatches, lots=usable.lots, blends=usable.blends)
    except InputError:  # nothing to fit yet: the swatches page says why
        return view
    said = f"{dye.name}: "
    view["notes_of_fit"] = tuple(note.removeprefix(said) for note in model.notes if note.startswith(said))
    if unbridged(dye, swatches) and dye.name in model.dyes:
        view |= {"bridge": _bridge(model, dye.name, swatches), "notes_of_fit": ()}
    return view


def _bridge(model: ShelfModel, name: str, swatches: Sequence[Swatch]) -> TubAdvice:
    depth_owf, shows_de00 = bridging_depth(model, name, swatches)
    return TubAdvice(units.show_percent(depth_owf), model.base, shows_de00)


def bridging_depth(model: ShelfModel, name: str, swatches: Sequence[Swatch]) -> tuple[float, float]:
    """Return the depth, of those the dye was dyed at, whose colour a change of strength moves most, and by how much."""
    own = {one.depths_owf[name] for one in swatches if list(one.depths_owf) == [name] and one.base == model.base}
    depths = sorted(own) or [MIDDLE_OWF]
    recipes = np.zeros((2, len(depths), len(model.dyes)))
    recipes[:, :, model.dyes.index(name)] = np.outer([1.0, LITTLE_MORE], depths)
    plain, stronger = lab_of_mix(model, recipes, load_observer_tables())
    shown = delta_e00(plain, stronger)
    best = int(np.flatnonzero(shown >= ENOUGH * shown.max())[-1])
    return depths[best], float(shown[best])


def save_tub(session: Session, dye: Dye, form: Mapping[str, str]) -> Dye:
    """Put a dye on the shelf or change it; where the tub is new, its swatches so far are noted as from the one before.

    Without such a note they would count as from the new tub, and nothing would show that it is stronger or weaker.
    """
    before = None if dye.id is None else shelf.dye(session, dye.id)
    saved = shelf.save_dye(session, dye)
    if before is not None and "is_new_tub" in form and dye.dye_lot != before.dye_lot:
        for one in swatches_of.swatches(session):
            if dye.name in one.depths_owf and dye.name not in one.dye_lots:
                lots = {**one.dye_lots, dye.name: before.dye_lot or EARLIER}
                swatches_of.change_swatch(session, replace(one, dye_lots=lots))
    return saved
