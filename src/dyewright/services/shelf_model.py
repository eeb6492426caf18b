"""The fitted dyes of a studio, from its records."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from sqlalchemy.orm import Session

from dyewright.core.mixing import ShelfModel, fit_shelf
from dyewright.core.model import Base, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import shelf as records_of
from dyewright.records import swatches as swatches_of

__all__ = ["StudioShelf", "fitted", "studio_shelf"]


@dataclass(frozen=True)
class StudioShelf:
    """The fitted dyes over a base, and what was left out of the fit, in sentences."""

    model: ShelfModel
    left_out: tuple[str, ...]


def studio_shelf(session: Session, base: str | None) -> StudioShelf:
    """Return the studio's dyes fitted over a base; the one with most swatches where None.

    Fluorescent dyes are never matched; swatches on a base whose undyed colour is not known cannot be used.

    Raises:
        InputError: no usable swatch, or the base's undyed colour is not known.
    """
    swatches = _with_undyed(swatches_of.swatches(session), records_of.bases(session))
    glowing = {dye.name for dye in records_of.dyes(session) if dye.is_fluorescent}
    undyed = {swatch.base for swatch in swatches if not swatch.depths_owf}
    usable = [swatch for swatch in swatches if swatch.base in undyed and not glowing & set(swatch.depths_owf)]
    notes = []
    blind = sorted({swatch.base for swatch in swatches} - undyed)
    if blind:
        notes.append(f"left out: swatches on {', '.join(blind)}, whose undyed colour is not measured")
    seen = sorted(glowing & {name for swatch in swatches for name in swatch.depths_owf})
    if seen:
        notes.append(f"left out: {', '.join(seen)}, fluorescent")
    if not any(swatch.depths_owf for swatch in usable):
        raise InputError(_nothing_usable(swatches, blind), field="base")
    return StudioShelf(fitted(usable, base), tuple(notes))


def fitted(swatches: Sequence[Swatch], base: str | None = None) -> ShelfModel:
    """Return the fit of some swatches over a base; the one with most of them where None.

    The last fits are kept, because a slider, and the pot screen, ask for the same one again and again.

    Raises:
        InputError: no dyed swatch, or a base without its undyed colour.
    """
    return _fitted(_asked(swatches, base))


def _nothing_usable(swatches: Sequence[Swatch], blind: Sequence[str]) -> str:
    if swatches and blind:
        return (
            f"the undyed colour of {', '.join(blind)} is not measured, and a dye's colour is what it adds to the "
            "undyed yarn: add a swatch of depth 0"
        )
    return "no swatch of a dye is on record yet: one a dye, and one of the undyed yarn, make matching work"


def _with_undyed(swatches: Sequence[Swatch], bases: Sequence[Base]) -> list[Swatch]:
    """Return the swatches, with a base's undyed colour from the shelf where no swatch of depth 0 tells it."""
    told = {swatch.base for swatch in swatches if not swatch.depths_owf}
    more = [Swatch({}, base.name, lab=base.undyed_lab) for base in bases if base.undyed_lab and base.name not in told]
    return [*swatches, *more]


@dataclass(frozen=True)
class _Asked:
    """What a fit depends on; two of the same key are one fit."""

    key: tuple[object, ...]
    base: str | None
    swatches: tuple[Swatch, ...] = field(compare=False)


def _asked(swatches: Sequence[Swatch], base: str | None) -> _Asked:
    key = tuple(
        (tuple(one.depths_owf.items()), one.base, one.reflectance, one.lab, one.illuminant, one.observer, one.source)
        for one in swatches
    )
    return _Asked(key, base, tuple(swatches))


@lru_cache(maxsize=16)
def _fitted(asked: _Asked) -> ShelfModel:
    return fit_shelf(asked.swatches, load_observer_tables(), base=asked.base)
