"""Swatches brought to the shelf: a table from a file or pasted, or one swatch typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.model import Swatch
from dyewright.errors import InputError
from dyewright.files.swatches import read_swatches, write_swatches
from dyewright.records import shelf as shelf_of
from dyewright.records import swatches as swatches_of
from dyewright.services.matching import colour_from_text
from dyewright.services.recipes import recipe_from_text, recipe_text
from dyewright.services.shown import shown_hex, shown_words, swatch_lab

__all__ = ["bring_table", "bring_typed", "swatches_view", "table_text"]

COLUMNS = "dye,depth_percent,base,L,a,b,illuminant,observer,source"
LARGEST_BYTES = 5_000_000  # a thousand swatches with their curves are about 0.3 MB


@dataclass(frozen=True)
class SwatchLine:
    """A swatch as the page lists it."""

    id: int | None
    recipe: str
    base: str
    hex: str
    words: str
    source: str


def swatches_view(session: Session) -> dict[str, object]:
    """Return the swatches on record and the names that a typed one may use."""
    swatches = swatches_of.swatches(session)
    undyed = {one.base for one in swatches if not one.depths_owf}
    undyed |= {base.name for base in shelf_of.bases(session) if base.undyed_lab}
    return {
        "swatches": [_line(swatch) for swatch in swatches],
        "dyes": [dye.name for dye in shelf_of.dyes(session)],
        "bases": [base.name for base in shelf_of.bases(session)],
        "without_undyed": sorted({swatch.base for swatch in swatches} - undyed),
        "columns": COLUMNS,
    }


def _line(swatch: Swatch) -> SwatchLine:
    lab = swatch_lab(swatch)
    return SwatchLine(
        id=swatch.id,
        recipe=recipe_text(swatch.depths_owf),
        base=swatch.base,
        hex=shown_hex(lab),
        words=shown_words(lab),
        source=swatch.source + (", a curve" if swatch.reflectance is not None else ""),
    )


def bring_table(session: Session, data: bytes, name: str) -> Sequence[Swatch]:
    """Put the swatches of a table on record, all or none.

    Raises:
        InputError: the file is too large, or a row is wrong; nothing is kept then.
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"{name} is {len(data) / 1e6:.1f} MB; a swatch table is at most {LARGEST_BYTES / 1e6:.0f} MB",
            field="table",
            value=len(data),
            limit=LARGEST_BYTES,
        )
    return swatches_of.add_swatches(session, read_swatches(data, name))


def bring_typed(session: Session, form: Mapping[str, str]) -> Sequence[Swatch]:
    """Put one typed swatch on record: recipe, base, colour.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    base = form.get("base", "").strip()
    if not base:
        raise InputError("which yarn is it on? Give the base a name", field="base")
    colour = form.get("colour", "").strip()
    try:
        lab = colour_from_text(colour).lab
    except InputError as error:
        raise InputError(error.message, field="colour", value=colour) from error
    source = form.get("source", "colorimeter")
    swatch = Swatch(recipe_from_text(form.get("recipe", "")), base, lab=lab, source=source)
    return swatches_of.add_swatches(session, [swatch])


def table_text(session: Session) -> str:
    """Return the swatches on record as a table that can be brought in again."""
    return write_swatches(swatches_of.swatches(session))
