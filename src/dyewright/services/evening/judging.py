"""From the dried skeins of a swatch evening to swatches: whose colour is whose, and what it tells."""

from collections.abc import Mapping
from dataclasses import replace
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Base, Basis, Evening, Jar, Swatch
from dyewright.records import evenings as records_of
from dyewright.records import photos, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.evening.amounts import drawn_recipe
from dyewright.services.evening.outcome import all_foretold
from dyewright.services.recipes import recipe_text
from dyewright.services.tagged import LATEST, READ_WITH, matched, read_colours, regions_of

__all__ = ["assign_page", "keep_swatches"]

Form = Mapping[str, str]


def assign_page(
    session: Session, evening_id: int, judgement_id: UUID | None, typed: Form | None = None
) -> dict[str, object]:
    """Return what the page for telling the skeins of a verdict apart shows: each region with the jar it seems to be."""
    planned = records_of.evening(session, evening_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    regions = regions_of(judgement)
    foretold = {jar.number: lab for jar, lab in zip(planned.jars, all_foretold(session, planned), strict=True)}
    found = matched(regions, foretold, "jar")
    usual = {f"region.{region.id}": "" if number is None else str(number) for region, number in found.numbers}
    return {
        "name": planned.name,
        "judgement": judgement,
        "photo": None if judgement is None else photos.photo(session, judgement.photo_id),
        "is_relative": judgement is not None and judgement.result["basis"] == Basis.RELATIVE,
        "regions": regions,
        "doubts": found.doubts,
        "numbered": [(jar.number, recipe_text(jar.recipe_owf)) for jar in planned.jars],
        "options": [(str(jar.number), f"jar {jar.number}: {recipe_text(jar.recipe_owf)}") for jar in planned.jars],
        "latest": photos.all_judgements(session)[-LATEST:][::-1],
        "read_with": READ_WITH,
        "typed": {**usual, "source": READ_WITH[0]} if typed is None else dict(typed),
    }


def keep_swatches(session: Session, evening_id: int, judgement_id: UUID | None, form: Form) -> Evening:
    """Keep the jars' colours as swatches, each once: a jar that has its swatch already gets the new colour.

    A colour that was typed for a jar goes before the photo's.

    Raises:
        InputError: no colour at all, two regions for one jar, or a colour that cannot be read; nothing is kept then.
    """
    planned = records_of.evening(session, evening_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    read = read_colours(judgement, [jar.number for jar in planned.jars], form, "jar")
    base = shelf.base(session, planned.base_id)
    jars = tuple(_kept(session, planned, jar, base, read.get(jar.number)) for jar in planned.jars)
    told_by = planned.judgement_id if judgement is None else judgement.id
    return records_of.save_evening(session, replace(planned, jars=jars, judgement_id=told_by))


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
