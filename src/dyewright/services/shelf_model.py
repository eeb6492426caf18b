"""The fitted dyes of a studio, from its records."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from sqlalchemy.orm import Session

from dyewright.core.mixing import ShelfModel, fit_shelf
from dyewright.core.mixing.check import LeftOut, Suspect
from dyewright.core.mixing.check import checked as check_swatches
from dyewright.core.model import Base, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import shelf as records_of
from dyewright.records import swatches as swatches_of

__all__ = ["StudioShelf", "Usable", "checked", "fitted", "studio_shelf", "usable_swatches"]


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
    usable = usable_swatches(session)
    if not any(swatch.depths_owf for swatch in usable.swatches):
        raise InputError(_nothing_usable(swatches_of.swatches(session), usable.blind), field="base")
    return StudioShelf(fitted(usable.swatches, base, lots=usable.lots, blends=usable.blends), usable.left_out)


@dataclass(frozen=True)
class Usable:
    """What of a studio's swatches a fit can use.

    `blind` are bases whose undyed colour is not known; `lots` the tubs in use, `blends` the mixtures in the jar.
    """

    swatches: tuple[Swatch, ...]
    blind: tuple[str, ...]
    glowing: tuple[str, ...]
    lots: Mapping[str, str]
    blends: frozenset[str]

    @property
    def left_out(self) -> tuple[str, ...]:
        """What was left out, in sentences."""
        notes = []
        if self.blind:
            notes.append(f"left out: swatches on {', '.join(self.blind)}, whose undyed colour is not measured")
        if self.glowing:
            notes.append(f"left out: {', '.join(self.glowing)}, fluorescent")
        return tuple(notes)


def usable_swatches(session: Session) -> Usable:
    """Return the swatches on record that a fit can use: not of fluorescent dyes, nor where the base is not known."""
    dyes = records_of.dyes(session)
    swatches = _with_undyed(swatches_of.swatches(session), records_of.bases(session))
    undyed = {swatch.base for swatch in swatches if not swatch.depths_owf}
    glowing = {dye.name for dye in dyes if dye.is_fluorescent}
    return Usable(
        swatches=tuple(one for one in swatches if one.base in undyed and not glowing & set(one.depths_owf)),
        blind=tuple(sorted({swatch.base for swatch in swatches} - undyed)),
        glowing=tuple(sorted(glowing & {name for swatch in swatches for name in swatch.depths_owf})),
        lots={dye.name: dye.dye_lot for dye in dyes if dye.dye_lot},
        blends=frozenset(dye.name for dye in dyes if dye.is_blend),
    )


def fitted(
    swatches: Sequence[Swatch],
    base: str | None = None,
    *,
    lots: Mapping[str, str] | None = None,
    blends: Collection[str] = (),
) -> ShelfModel:
    """Return the fit of some swatches over a base; the one with most of them where None.

    The last fits are kept, because a slider, and the pot screen, ask for the same one again and again.

    Args:
        swatches: dyed ones and those of the undyed bases.
        base: to dye on.
        lots: the tub in use of each dye, where it is known.
        blends: dyes that are mixtures in the jar.

    Raises:
        InputError: no dyed swatch, or a base without its undyed colour.
    """
    return _fitted(_asked(swatches, base, lots or {}, blends))


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
    lots: tuple[tuple[str, str], ...]
    blends: frozenset[str]
    swatches: tuple[Swatch, ...] = field(compare=False)


def _asked(swatches: Sequence[Swatch], base: str | None, lots: Mapping[str, str], blends: Collection[str]) -> _Asked:
    key = tuple(_facts(swatch) for swatch in swatches)
    return _Asked(key, base, tuple(sorted(lots.items())), frozenset(blends), tuple(swatches))


def _facts(swatch: Swatch) -> tuple[object, ...]:
    """Return all of a swatch that a fit looks at."""
    return (
        *(tuple(swatch.depths_owf.items()), tuple(swatch.dye_lots.items()), swatch.base),
        *(swatch.reflectance, swatch.lab, swatch.illuminant, swatch.observer),
        *(swatch.source, swatch.noise_de00, swatch.reads),
    )


def checked(usable: Usable) -> tuple[tuple[LeftOut, ...], tuple[Suspect, ...]]:
    """Return each swatch held against what the others foretell, and those that disagree; their places count.

    It takes seconds for a large shelf, so the last answers are kept.
    """
    return _checked(_asked(usable.swatches, None, usable.lots, usable.blends))


@lru_cache(maxsize=4)
def _checked(asked: _Asked) -> tuple[tuple[LeftOut, ...], tuple[Suspect, ...]]:
    return check_swatches(asked.swatches, load_observer_tables(), lots=dict(asked.lots), blends=asked.blends)


@lru_cache(maxsize=16)
def _fitted(asked: _Asked) -> ShelfModel:
    return fit_shelf(
        asked.swatches, load_observer_tables(), base=asked.base, lots=dict(asked.lots), blends=asked.blends
    )
