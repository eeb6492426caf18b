"""The clarity ladder of one bath: the starting bath diluted to a half, a quarter …, in the bath's own colours."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import lab_from_xyz, light_of, xyz_from_reflectance
from dyewright.core.mixing import ShelfModel, depth_vector
from dyewright.core.mixing.bath import bath_reflectance
from dyewright.core.model import Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import swatches as swatches_of
from dyewright.services.shelf_model import fitted
from dyewright.services.shown import shown_hex

__all__ = ["LADDER", "Glass", "clarity_ladder", "dyes_without_swatch", "model_of_dyes"]

LADDER = (  # what is in the yarn when the bath looks like the start diluted to 1, 1/2, 1/4 ...
    ("start", 0.0),
    ("½ in", 0.5),
    ("¾", 0.75),
    ("⅞", 0.875),
    ("15/16", 0.9375),
    ("clear", 0.96875),
)
GREY_PATH = 2.0  # absorbance of the starting bath drawn for dyes without a swatch


@dataclass(frozen=True)
class Glass:
    """One rung of the ladder. `is_own_colour` is False where no swatch tells the dyes' colours, and grey stands in."""

    words: str
    exhaustion: float
    hex: str
    is_own_colour: bool


def clarity_ladder(session: Session, sheet: Mapping[str, Any]) -> tuple[Glass, ...]:
    """Return the glasses of a planned bath, from the start to clear."""
    left = 1.0 - np.array([exhaustion for _, exhaustion in LADDER])
    depths = {dye["name"]: dye["depth_owf"] for dye in sheet.get("dyes", ())}
    model = model_of_dyes(session, tuple(depths))
    if model is None or not depths:
        reflectance = np.broadcast_to(10.0 ** -(GREY_PATH * left)[:, None], (len(left), 31))
    else:
        reflectance = bath_reflectance(model, depth_vector(model, depths), left, _liquor_l_kg(sheet))
    tables = load_observer_tables()
    weights, white = light_of(tables, "D65", 10)
    labs = lab_from_xyz(xyz_from_reflectance(reflectance, weights), white)
    return tuple(
        Glass(words, exhaustion, shown_hex((float(lab[0]), float(lab[1]), float(lab[2]))), model is not None)
        for (words, exhaustion), lab in zip(LADDER, labs, strict=True)
    )


def _liquor_l_kg(sheet: Mapping[str, Any]) -> float:
    return float(sheet["liquor_l"]) / float(sheet["dry_g"]) * 1000.0


def model_of_dyes(session: Session, dyes: tuple[str, ...]) -> ShelfModel | None:
    """Return the fitted dyes, from whatever base has swatches of them; None where the swatches do not suffice."""
    if dyes_without_swatch(session, dyes):
        return None
    try:
        return fitted(_swatches_of(session, dyes))
    except InputError:  # a base without an undyed swatch: grey glasses serve as well for comparing clarity
        return None


def dyes_without_swatch(session: Session, dyes: tuple[str, ...]) -> tuple[str, ...]:
    """Return the dyes that no swatch shows by themselves or in a mix of just these dyes."""
    shown = {name for swatch in _swatches_of(session, dyes) for name in swatch.depths_owf}
    return tuple(name for name in dyes if name not in shown)


def _swatches_of(session: Session, dyes: tuple[str, ...]) -> list[Swatch]:
    """Return the swatches of these dyes and their mixes, and those of undyed yarn."""
    return [swatch for swatch in swatches_of.swatches(session) if all(name in dyes for name in swatch.depths_owf)]
