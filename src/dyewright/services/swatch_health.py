"""How the swatches of a shelf hold together: each dye's build-up, and how far each swatch is from the others' word."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.mixing import ShelfModel, build_up
from dyewright.errors import InputError
from dyewright.services.shelf_model import fitted, usable_swatches

__all__ = ["Doubt", "DyeHealth", "Health", "doubt_about", "health"]


@dataclass(frozen=True)
class DyeHealth:
    """What is known of a dye, in sentences: how its swatches were foretold from the others, and its build-up."""

    left_out: str
    law: str


@dataclass(frozen=True)
class Doubt:
    """A swatch that disagrees with the others, and the sentence that says how."""

    id: int
    sentence: str


@dataclass(frozen=True)
class Health:
    """How the swatches of a shelf hold together. `trouble` says what was left out of the fit, or why there is none."""

    verdict: str
    dyes: Mapping[str, DyeHealth]
    suspects: tuple[Doubt, ...] = ()
    trouble: str = ""


def health(session: Session) -> Health:
    """Return how the swatches on record hold together; what cannot be fitted is said, not raised."""
    usable = usable_swatches(session)
    try:
        model = fitted(usable.swatches, lots=usable.lots, blends=usable.blends)
    except InputError as error:
        return Health("Nothing can be held against one another yet.", {}, trouble=error.message)
    return Health(
        verdict="",
        dyes={name: DyeHealth("", _law(model, place)) for place, name in enumerate(model.dyes)},
        trouble=" ".join(usable.left_out),
    )


def doubt_about(session: Session, swatch_id: int) -> Doubt | None:
    """Return the doubt about one swatch, if there is any."""
    return next((doubt for doubt in health(session).suspects if doubt.id == swatch_id), None)


def _law(model: ShelfModel, place: int) -> str:
    """Return a dye's build-up in words: what twice the depth gives."""
    depths = [[0.01 if dye == place else 0.0 for dye in range(len(model.dyes))] for _ in range(2)]
    depths[1][place] = 0.02
    once, twice = build_up(model, depths)[:, place]
    gain = f"from 1 % to 2 % it grows {twice / once:.2g} times"
    return f"Build-up fitted: {gain}." if model.is_bend_fitted[place] else f"Build-up held at the usual: {gain}."
