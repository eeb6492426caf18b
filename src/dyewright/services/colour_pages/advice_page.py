"""Shelf advice: which dyes to add for a palette, and which swatch to dye next so that its colours are known best."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.matching import Addition, Limits, additions, likely_count
from dyewright.core.mixing import ShelfModel, lab_of_mix, next_swatch
from dyewright.core.model import Lab, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.files.swatches import read_swatches
from dyewright.records import colourways as colourways_of
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.bench import Asked
from dyewright.services.colour_targets import wanted_colour
from dyewright.services.company import kept_apart
from dyewright.services.matching import colour_from_text
from dyewright.services.shelf_model import Usable, fitted, studio_shelf, usable_swatches
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["AdvicePage", "advice_page", "advice_view"]

TOLERANCE_DE00 = 2.0  # alternate the skeins every two rows (common practice, no source)
MOST_TARGETS = 12
LARGEST_BYTES = 2_000_000  # candidates are a list of a few dyes; more is some other file
CLEARLY_DE00 = 0.3  # by which an addition brings the colours nearer on average to be worth a word (estimate)
TYPED_PERCENT = 1.0  # depth of a typed candidate where none is said (common practice, no source)
TYPED = re.compile(
    r"^(?P<name>\S.*?)[\s:=,]+"
    r"(?P<colour>(?:hex\s+)?\#[0-9a-fA-F]{6}|(?:lab\s+)?\d[\d.]*\s+-?\d[\d.]*\s+-?\d[\d.]*)"
    r"(?:\s+at\s+(?P<percent>\d[\d.,]*)\s*%?)?$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Wish:
    """A colour of the palette."""

    name: str
    lab: Lab
    hex: str


@dataclass(frozen=True)
class OfferRow:
    """What one colour comes to with an addition."""

    wish: Wish
    hex: str
    de00: float
    is_within: bool
    recipe: str


@dataclass(frozen=True)
class Offer:
    """An addition as the page shows it: its dyes in words, how many colours it reaches, how sure that is."""

    dyes: tuple[str, ...]
    title: str
    reached: int
    sure: str
    rows: tuple[OfferRow, ...]


@dataclass(frozen=True)
class AdvicePage:
    """Which dyes would make most of a palette reachable on a base."""

    base: str
    verdict: str
    why: str
    today: Offer
    offers: tuple[Offer, ...]
    surer: str
    notes: tuple[str, ...]


def advice_view(session: Session) -> dict[str, object]:
    """Return what advice can be asked for: bases, and palettes with their number of colours."""
    sizes: dict[int | None, int] = {}
    for one in colourways_of.colourways(session):
        sizes[one.palette_id] = sizes.get(one.palette_id, 0) + 1
    return {
        "bases": [base.name for base in shelf_of.bases(session)],
        "palettes": [
            (str(one.id), f"{one.name}, {sizes.get(one.id, 0)} colours") for one in colourways_of.palettes(session)
        ],
    }


def advice_page(session: Session, asked: Asked, table: bytes = b"", table_name: str = "") -> AdvicePage:
    """Return advice on a palette from candidates that were typed or stand in a swatch table.

    Raises:
        InputError: no colour or no candidate, or one that cannot be worked with; the field is named.
    """
    wishes = _wishes(session, asked)
    own = studio_shelf(session, asked.get("base", "").strip() or None).model
    usable = usable_swatches(session)
    bought = _candidates(asked.get("candidates", ""), table, table_name, own, usable)
    model = fitted((*usable.swatches, *bought), own.base, lots=usable.lots, blends=usable.blends)
    names = [name for name in model.dyes if name not in own.dyes]
    tables = load_observer_tables()
    limits = Limits(apart=frozenset(kept_apart(shelf_of.dyes(session))))
    labs = np.array([wish.lab for wish in wishes])
    found = additions(model, names, labs, tables, tolerance_de00=TOLERANCE_DE00, limits=limits)
    today, *every = (_offer(model, one, wishes) for one in found)
    more = [offer for offer in every if _helps(offer, today)]
    return AdvicePage(
        base=own.base,
        verdict=_verdict(today, more, len(wishes)),
        why=_why(today, more, idle=len({name for offer in more for name in offer.dyes}) < len(names)),
        today=today,
        offers=tuple(more),
        surer=_surer(model, found[0], names),
        notes=(*usable.left_out, *_notes(bought), *own.notes),
    )


def _wishes(session: Session, asked: Asked) -> list[Wish]:
    """Return the palette's colours, then those typed one a line."""
    wishes = []
    palette = asked.get("palette", "").strip()
    if palette:
        for one in colourways_of.colourways(session):
            lab = one.target_lab or one.predicted_lab
            if str(one.palette_id) == palette and lab is not None:
                wishes.append(Wish(one.name.rpartition(" · ")[2], lab, shown_hex(lab)))
    for line in asked.get("targets", "").splitlines():
        if line.strip():
            lab = wanted_colour(session, line, field="targets").target.lab
            wishes.append(Wish(shown_words(lab), lab, shown_hex(lab)))
    if not 1 <= len(wishes) <= MOST_TARGETS:
        raise InputError(
            f"{len(wishes)} colours were named: choose a palette, or write 1 to {MOST_TARGETS} colours, one a line",
            field="targets",
            value=len(wishes),
            limit=MOST_TARGETS,
        )
    return wishes


def _candidates(text: str, table: bytes, table_name: str, own: ShelfModel, usable: Usable) -> list[Swatch]:
    """Return the candidates' swatches on the base that is dyed, or on one whose undyed colour is known."""
    if len(table) > LARGEST_BYTES:
        raise InputError(
            f"{table_name} is {len(table) / 1e6:.1f} MB; a table of candidates is at most {LARGEST_BYTES / 1e6:.0f} MB",
            field="candidates",
            value=len(table),
            limit=LARGEST_BYTES,
        )
    try:
        swatches = _read(text, table, table_name, own.base)
    except InputError as error:
        raise InputError(error.message, field="candidates", value=error.value, limit=error.limit) from error
    known = {swatch.base for swatch in (*usable.swatches, *swatches) if not swatch.depths_owf}
    placed = [swatch if swatch.base in known else replace(swatch, base=own.base) for swatch in swatches]
    here = sorted({name for swatch in placed for name in swatch.depths_owf} & set(own.dyes))
    if here:
        raise InputError(
            f"{', '.join(here)} is on the shelf already: name only dyes that you think of adding", field="candidates"
        )
    if not any(swatch.depths_owf for swatch in placed):
        raise InputError(
            "no candidate was named: write one a line, such as Saffron lab 70 20 60 at 1 %, or bring a swatch table",
            field="candidates",
        )
    measured = {swatch.base for swatch in usable.swatches if not swatch.depths_owf}
    return [swatch for swatch in placed if swatch.depths_owf or swatch.base not in measured]


def _read(text: str, table: bytes, table_name: str, base: str) -> list[Swatch]:
    if table:
        return read_swatches(table, table_name, base=base)
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if lines and re.match(r"(?i)dye\b.*depth_percent", lines[0]):
        return read_swatches("\n".join(lines).encode(), "the list", base=base)
    return [_typed(line, base) for line in lines]


def _typed(line: str, base: str) -> Swatch:
    """Return the swatch of "Saffron lab 70 20 60 at 1 %"; a screen colour counts as a photo does."""
    parts = TYPED.match(line)
    if parts is None:
        raise InputError(
            f"{line!r} is no candidate: write its name, its colour on yarn and the depth, such as "
            "Saffron lab 70 20 60 at 1 %, or Saffron #c89a3a at 1 %",
            value=line,
        )
    percent = float((parts["percent"] or f"{TYPED_PERCENT:g}").replace(",", "."))
    if not 0 < percent <= 100:
        raise InputError(
            f"the depth of {parts['name']} is {percent:g} %; it lies above 0 % and up to 100 %", value=line
        )
    colour = parts["colour"]
    source = "photo" if "#" in colour else "colorimeter"
    return Swatch({parts["name"]: percent / 100}, base, lab=colour_from_text(colour).lab, source=source)


def _offer(model: ShelfModel, addition: Addition, wishes: Sequence[Wish]) -> Offer:
    labs = lab_of_mix(model, addition.depths_owf, load_observer_tables())
    rows = tuple(
        OfferRow(
            wish=wish,
            hex=shown_hex((float(lab[0]), float(lab[1]), float(lab[2]))),
            de00=float(off),
            is_within=bool(off <= TOLERANCE_DE00),
            recipe=_recipe(model, depths),
        )
        for wish, lab, off, depths in zip(wishes, labs, addition.de00, addition.depths_owf, strict=True)
    )
    least, most = likely_count(addition.chance_frac)
    likely = f"{least}" if least == most else f"{least} to {most}"
    return Offer(
        dyes=addition.dyes,
        title=" and ".join(addition.dyes) or "The shelf as it is",
        reached=addition.reached,
        sure=f"{likely} of {len(wishes)} in 19 of 20 cases",
        rows=rows,
    )


def _recipe(model: ShelfModel, depths: np.ndarray) -> str:
    used = [(name, depth) for name, depth in zip(model.dyes, depths.tolist(), strict=True) if depth > 0]
    return ", ".join(f"{name} {units.show_percent(depth)}" for name, depth in used) or "undyed"


def _helps(offer: Offer, today: Offer) -> bool:
    """Return whether an addition reaches more colours, or brings them clearly nearer."""
    return offer.reached > today.reached or _mean_off(offer) < _mean_off(today) - CLEARLY_DE00


def _mean_off(offer: Offer) -> float:
    return float(np.mean([row.de00 for row in offer.rows]))


def _verdict(today: Offer, more: Sequence[Offer], count: int) -> str:
    of = f"{count} colours" if count > 1 else "1 colour"
    if today.reached == count:
        return f"Your shelf reaches {'all ' if count > 1 else ''}{of} already: nothing needs to be bought."
    best = max(more, key=lambda offer: (offer.reached, -len(offer.dyes)), default=today)
    if best.reached <= today.reached:
        return f"None of these brings more within ΔE00 {TOLERANCE_DE00:g}: {today.reached} of {of} stay reached."
    verb = "comes" if best.reached == 1 else "come"
    return f"With {best.title} {best.reached} of {of} {verb} within ΔE00 {TOLERANCE_DE00:g}; today {today.reached}."


def _why(today: Offer, more: Sequence[Offer], *, idle: bool) -> str:
    """Return what the best addition brings, how sure that is, and whether others bring nothing."""
    best = max(more, key=lambda offer: (offer.reached, -len(offer.dyes)), default=today)
    gained = [
        now.wish.name for now, then in zip(today.rows, best.rows, strict=True) if then.is_within and not now.is_within
    ]
    said = [f"It brings {', '.join(gained)}."] if gained else []
    said.append(f"Counted by how sure the swatches are: {best.sure}.")
    if idle:
        said.append("The candidates that are not shown bring no more within reach.")
    return " ".join(said)


def _surer(model: ShelfModel, today: Addition, candidates: Sequence[str]) -> str:
    """Return which swatch of the dyes at hand sharpens this palette's predictions most."""
    advice = next_swatch(model, today.depths_owf, load_observer_tables())
    if advice is None or advice.dye in candidates:
        return "No single swatch would sharpen the predictions of these colours by much."
    return (
        f"Dye one swatch of {advice.dye} at {units.show_percent(advice.depth_owf)}: the bands of these colours narrow "
        f"from ± {advice.band_now:.1f} to ± {advice.band_after:.1f} on average."
    )


def _notes(bought: Sequence[Swatch]) -> tuple[str, ...]:
    counts: dict[str, int] = {}
    for swatch in bought:
        for name in swatch.depths_owf:
            counts[name] = counts.get(name, 0) + 1
    few = sorted(name for name, count in counts.items() if count == 1)
    notes = ["the candidates' class is not known here: look whether it goes into one bath with yours"]
    if few:
        notes.append(f"known by one colour only: {', '.join(few)}; what it gives in mixes is less sure")
    return tuple(notes)
