"""The page of swatches: depth ladders by dye, mixes, undyed yarns, and one swatch by itself."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Dye, Lab, Swatch
from dyewright.errors import NotFoundError
from dyewright.records import evenings, lots, photos, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.recipes import recipe_text
from dyewright.services.shown import shown_hex, shown_words, swatch_lab
from dyewright.services.swatches.form import SOURCES, form_of_swatch
from dyewright.services.swatches.from_photo import Z95
from dyewright.services.swatches.table import COLUMNS

__all__ = ["DyeSwatches", "Ladder", "Step", "Where", "swatch_page", "swatches_page"]


@dataclass(frozen=True)
class Step:
    """A swatch as a ladder shows it: `short` is its depth or recipe, `about` all else that is known of it."""

    id: int | None
    short: str
    hex: str
    words: str
    about: str


@dataclass(frozen=True)
class Ladder:
    """Swatches of one dye on one base, from one tub where it was noted, palest first."""

    base: str
    lot: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class DyeSwatches:
    """All that is on record of one dye: its ladders, and how many mixes hold it."""

    dye: Dye
    ladders: tuple[Ladder, ...]
    count: int
    in_mixes: int


@dataclass(frozen=True)
class Where:
    """Where a swatch came from, in words, and the page that shows it, if there is one."""

    words: str
    page: str = ""


def swatches_page(session: Session) -> dict[str, object]:
    """Return the swatches on record as ladders, and the names that a typed one may use."""
    swatches, dyes, bases = swatches_of.swatches(session), shelf.dyes(session), shelf.bases(session)
    undyed = {one.base for one in swatches if not one.depths_owf} | {base.name for base in bases if base.undyed_lab}
    return {
        "count": len(swatches),
        "groups": [group for dye in dyes if (group := dye_swatches(dye, swatches)).count],
        "mixes": [_step(one, recipe_text(one.depths_owf)) for one in swatches if len(one.depths_owf) > 1],
        "undyed": [_step(one, one.base) for one in swatches if not one.depths_owf],
        "dyes": [dye.name for dye in dyes],
        "bases": [base.name for base in bases],
        "without_undyed": sorted({swatch.base for swatch in swatches} - undyed),
        "columns": COLUMNS,
        "sources": SOURCES,
    }


def dye_swatches(dye: Dye, swatches: Sequence[Swatch]) -> DyeSwatches:
    """Return what is on record of one dye, its longest ladder first."""
    own = [one for one in swatches if dye.name in one.depths_owf]
    alone = [one for one in own if len(one.depths_owf) == 1]
    ladders = [
        Ladder(base, lot, tuple(_step(one, units.show_percent(one.depths_owf[dye.name])) for one in steps))
        for (base, lot), steps in _by(alone, lambda one: (one.base, one.dye_lots.get(dye.name, ""))).items()
    ]
    ladders.sort(key=lambda ladder: -len(ladder.steps))
    return DyeSwatches(dye, tuple(ladders), len(own), len(own) - len(alone))


def _by(swatches: Iterable[Swatch], key: Callable[[Swatch], tuple[str, str]]) -> dict[tuple[str, str], list[Swatch]]:
    """Return swatches of one dye by a key, palest first in each."""
    groups: dict[tuple[str, str], list[Swatch]] = {}
    for one in sorted(swatches, key=lambda one: sum(one.depths_owf.values())):
        groups.setdefault(key(one), []).append(one)
    return groups


def _step(swatch: Swatch, short: str) -> Step:
    lab = swatch_lab(swatch)
    return Step(swatch.id, short, shown_hex(lab), shown_words(lab), _about(swatch))


def _about(swatch: Swatch) -> str:
    """Return base, tub, day, source and readings of a swatch, in a line."""
    parts = [
        swatch.base,
        *(f"tub {lot}" for lot in swatch.dye_lots.values()),
        f"{swatch.dyed_on.day} {swatch.dyed_on:%B %Y}" if swatch.dyed_on else "",
        swatch.source + (", a curve" if swatch.reflectance is not None else ""),
        f"read {swatch.reads} times" if swatch.reads > 1 else "",
        f"± {Z95 * swatch.noise_de00:.1f} ΔE00" if swatch.noise_de00 is not None else "",
    ]
    return " · ".join(part for part in parts if part)


def swatch_page(session: Session, swatch_id: int) -> dict[str, object]:
    """Return what the page of one swatch shows: its colour, what is known of it, and the ladder it stands in."""
    swatch = swatches_of.swatch(session, swatch_id)
    alike = [
        one
        for one in swatches_of.swatches(session)
        if one.base == swatch.base and one.depths_owf.keys() == swatch.depths_owf.keys()
    ]
    lab = swatch_lab(swatch)
    steps = [
        _step(one, recipe_text(one.depths_owf) if len(one.depths_owf) != 1 else _depth(one)) for one in _by_depth(alike)
    ]
    return {
        "swatch": swatch,
        "title": recipe_text(swatch.depths_owf),
        "hex": shown_hex(lab),
        "words": shown_words(lab),
        "lab": _shown_lab(swatch, lab),
        "about": _about(swatch),
        "beside": steps,
        "where": _where(session, swatch),
        "typed": form_of_swatch(swatch),
        "sources": SOURCES,
        "bases": [base.name for base in shelf.bases(session)],
        "dyes": [dye.name for dye in shelf.dyes(session)],
    }


def _depth(swatch: Swatch) -> str:
    return units.show_percent(sum(swatch.depths_owf.values()))


def _by_depth(swatches: Sequence[Swatch]) -> list[Swatch]:
    return sorted(swatches, key=lambda one: sum(one.depths_owf.values()))


def _shown_lab(swatch: Swatch, lab: Lab | None) -> str:
    shown, light = (lab, "D65, 10°") if lab is not None else (swatch.lab, f"{swatch.illuminant}, {swatch.observer}°")
    if shown is None:
        return ""
    return "  ".join(f"{value:.1f}" for value in shown).replace("-", "−") + f" under {light}"


def _where(session: Session, swatch: Swatch) -> Where | None:
    """Return where a swatch came from; a page that is gone meanwhile is not led to."""
    try:
        match dict(swatch.origin):
            case {"lot": lot_id}:
                lot = lots.lot(session, UUID(lot_id))
                return Where(f"Kept from lot {lot.name}", f"/lots/{lot.id}")
            case {"evening": evening_id, "jar": jar}:
                held = evenings.evening(session, int(evening_id))
                return Where(f"Jar {jar} of {held.name}", f"/evenings/{held.id}")
            case {"judgement": judgement_id, "skein": skein}:
                judgement = photos.judgement(session, UUID(judgement_id))
                return Where(f"Skein {skein} on a judged photo", f"/verdicts/{judgement.id}")
            case {"file": name}:
                return Where(f"From the table {name}")
    except (NotFoundError, ValueError):
        return None
    return None
