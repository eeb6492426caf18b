"""From the dried skeins of a swatch evening to swatches: whose colour is whose, and what it tells."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00
from dyewright.core.evening import matched_in_order, reading_order
from dyewright.core.model import Base, Basis, Evening, Jar, Judgement, Lab, Swatch
from dyewright.errors import InputError
from dyewright.records import evenings as records_of
from dyewright.records import photos, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.evening.amounts import drawn_recipe
from dyewright.services.evening.outcome import all_foretold
from dyewright.services.matching import colour_from_text
from dyewright.services.recipes import recipe_text
from dyewright.services.swatches.from_photo import WITHOUT_CHART, Z95, skein_noise

__all__ = ["assign_page", "keep_swatches"]

LATEST = 6  # verdicts that are offered
UNKNOWN_DE00 = 25.0  # taken as the difference from a jar of which nothing is foretold (estimate)
ODD_DE00 = 15.0  # a skein this far from what its jar should be is likelier another (estimate)
READ_WITH = ("colorimeter", "spectrophotometer")

Form = Mapping[str, str]


@dataclass(frozen=True)
class Region:
    """A judged skein on the photo: its box in pixels, its colour, how sure it is."""

    id: int
    left_px: float
    top_px: float
    width_px: float
    height_px: float
    hex: str
    words: str
    band: float
    lab: Lab


def assign_page(
    session: Session, evening_id: int, judgement_id: UUID | None, typed: Form | None = None
) -> dict[str, object]:
    """Return what the page for telling the skeins of a verdict apart shows: each region with the jar it seems to be."""
    planned = records_of.evening(session, evening_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    regions = [] if judgement is None else _regions(judgement)
    matched = _matched(session, planned, regions)
    usual = {f"region.{region.id}": "" if jar is None else str(jar.number) for region, jar in matched.jars}
    return {
        "evening": planned,
        "judgement": judgement,
        "photo": None if judgement is None else photos.photo(session, judgement.photo_id),
        "is_relative": judgement is not None and judgement.result["basis"] == Basis.RELATIVE,
        "regions": regions,
        "doubts": matched.doubts,
        "jars": [(jar.number, recipe_text(jar.recipe_owf)) for jar in planned.jars],
        "options": [(str(jar.number), f"jar {jar.number}: {recipe_text(jar.recipe_owf)}") for jar in planned.jars],
        "latest": photos.all_judgements(session)[-LATEST:][::-1],
        "read_with": READ_WITH,
        "typed": {**usual, "source": READ_WITH[0]} if typed is None else dict(typed),
    }


@dataclass(frozen=True)
class _Matched:
    """Each region with the jar it seems to be, and what is odd about that, in sentences."""

    jars: tuple[tuple[Region, Jar | None], ...]
    doubts: tuple[str, ...]


def _matched(session: Session, planned: Evening, regions: Sequence[Region]) -> _Matched:
    """Return which jar each region seems to be: in the order of the tags, by the colours where one is missing."""
    foretold = all_foretold(session, planned)
    costs = np.full((len(regions), len(planned.jars)), UNKNOWN_DE00)
    for place, lab in enumerate(foretold):
        if lab is not None:
            costs[:, place] = [float(delta_e00(lab, region.lab)) for region in regions]
    found = matched_in_order(costs)
    jars = tuple(
        (region, None if place is None else planned.jars[place]) for region, place in zip(regions, found, strict=True)
    )
    doubts = [] if not regions else _count_doubts(planned, [jar for _, jar in jars], len(regions))
    for row, chosen in enumerate(found):
        if chosen is not None and foretold[chosen] is not None and costs[row, chosen] > ODD_DE00:
            doubts.append(
                f"Skein {regions[row].id} is {costs[row, chosen]:.0f} ΔE00 from what jar {planned.jars[chosen].number} "
                "should be: is it another jar?"
            )
    return _Matched(jars, tuple(doubts))


def _count_doubts(planned: Evening, given: Sequence[Jar | None], skeins: int) -> list[str]:
    """Return which jars have no skein, and how many skeins no jar."""
    lacking = [str(jar.number) for jar in planned.jars if jar not in given]
    if lacking:
        which = f"jar {lacking[0]} has" if len(lacking) == 1 else f"jars {', '.join(lacking)} have"
        return [f"{skeins} skeins were found for {len(planned.jars)} jars: {which} none, by order and colour."]
    if skeins > len(planned.jars):
        return [f"{skeins} skeins were found for {len(planned.jars)} jars: some are of no jar, by order and colour."]
    return []


def _regions(judgement: Judgement) -> list[Region]:
    """Return the skeins of a verdict in the order in which tags are laid: row by row from the top left."""
    seen = _seen(judgement)
    order = reading_order([[(float(x), float(y)) for x, y in skein["outline"]] for skein in seen])
    return [_region(seen[place]) for place in order]


def _seen(judgement: Judgement) -> list[Mapping[str, Any]]:
    result: Mapping[str, Any] = judgement.result
    return list(result["skeins"])


def _region(skein: Mapping[str, Any]) -> Region:
    xs, ys = zip(*skein["outline"], strict=True)
    return Region(
        id=skein["id"],
        left_px=min(xs),
        top_px=min(ys),
        width_px=max(xs) - min(xs),
        height_px=max(ys) - min(ys),
        hex=skein["hex"],
        words=skein["colour_words"],
        band=Z95 * skein_noise(skein),
        lab=_lab(skein["lab"]),
    )


def keep_swatches(session: Session, evening_id: int, judgement_id: UUID | None, form: Form) -> Evening:
    """Keep the jars' colours as swatches, each once: a jar that has its swatch already gets the new colour.

    A colour that was typed for a jar goes before the photo's.

    Raises:
        InputError: no colour at all, two regions for one jar, or a colour that cannot be read; nothing is kept then.
    """
    planned = records_of.evening(session, evening_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    read = {} if judgement is None else _from_photo(judgement, planned, form)
    read |= _from_typed(planned, form)
    if not read:
        raise InputError(
            "no jar has a colour yet: say which skein of the photo is which jar, or type a jar's colour", field="jars"
        )
    base = shelf.base(session, planned.base_id)
    jars = tuple(_kept(session, planned, jar, base, read.get(jar.number)) for jar in planned.jars)
    told_by = planned.judgement_id if judgement is None else judgement.id
    return records_of.save_evening(session, replace(planned, jars=jars, judgement_id=told_by))


def _from_photo(judgement: Judgement, planned: Evening, form: Form) -> dict[int, Swatch]:
    """Return the colour of each jar that a region was given to."""
    numbers = {str(jar.number): jar.number for jar in planned.jars}
    is_relative = judgement.result["basis"] == Basis.RELATIVE
    read: dict[int, Swatch] = {}
    for skein in _seen(judgement):
        field = f"region.{skein['id']}"
        chosen = form.get(field, "")
        if not chosen:
            continue
        if chosen not in numbers:
            raise InputError(f"this evening has no jar {chosen}", field=field, value=chosen)
        if numbers[chosen] in read:
            raise InputError(
                f"jar {chosen} is given twice; each skein of the photo is one jar, or none", field=field, value=chosen
            )
        read[numbers[chosen]] = Swatch(
            {},
            "",
            lab=_lab(skein["lab"]),
            source="photo",
            note=WITHOUT_CHART if is_relative else "",
            origin={"judgement": str(judgement.id), "skein": str(skein["id"])},
            noise_de00=skein_noise(skein),
        )
    return read


def _from_typed(planned: Evening, form: Form) -> dict[int, Swatch]:
    source = form.get("source", READ_WITH[0])
    if source not in READ_WITH:
        raise InputError(f"read with {source!r}: use one of {', '.join(READ_WITH)}", field="source", value=source)
    read = {}
    for jar in planned.jars:
        text = form.get(f"lab.{jar.number}", "").strip()
        if text:
            try:
                lab = colour_from_text(text).lab
            except InputError as error:
                raise InputError(error.message, field=f"lab.{jar.number}", value=text) from error
            read[jar.number] = Swatch({}, "", lab=lab, source=source)
    return read


def _lab(values: Sequence[float]) -> Lab:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b


def _kept(session: Session, planned: Evening, jar: Jar, base: Base, read: Swatch | None) -> Jar:
    """Return the jar with its swatch kept; a swatch that was taken off the shelf since is made anew."""
    if read is None:
        return jar
    dyes = shelf.dyes(session)
    drawn = drawn_recipe(planned, jar)
    lots = {dye.name: dye.dye_lot for dye in dyes if dye.name in drawn and dye.dye_lot}
    there = {one.id for one in swatches_of.swatches(session)}
    swatch = replace(
        read,
        depths_owf=drawn,
        base=base.name,
        dyed_on=planned.held_on,
        dye_lots=lots,
        origin={"evening": str(planned.id), "jar": str(jar.number), **read.origin},
        id=jar.swatch_id if jar.swatch_id in there else None,
    )
    if swatch.id is not None:
        swatches_of.change_swatch(session, swatch)
        return jar
    [made] = swatches_of.add_swatches(session, [swatch])
    return replace(jar, swatch_id=made.id)
