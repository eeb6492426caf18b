"""One swatch as it is typed: put on record, or changed."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from dyewright.core.mixing.samples import LAB_NOISE
from dyewright.core.model import Swatch
from dyewright.errors import InputError
from dyewright.files.swatches import lots_text, read_lots
from dyewright.services.matching import colour_from_text
from dyewright.services.recipes import recipe_from_text, recipe_text

__all__ = ["SOURCES", "day_from_form", "form_of_swatch", "swatch_from_form"]

Form = Mapping[str, str]

SOURCES = tuple(LAB_NOISE)
MOST_NOISE_DE00 = 20.0  # beyond this a colour tells nothing


def swatch_from_form(form: Form, before: Swatch | None = None) -> Swatch:
    """Return a swatch as typed; one that is on record keeps its colour, which the form does not ask again.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    base = form.get("base", "").strip()
    if not base:
        raise InputError("which yarn is it on? Give the base a name", field="base")
    depths = recipe_from_text(form.get("recipe", ""))
    told = before or Swatch(depths, base, lab=_colour(form))
    return replace(
        told,
        depths_owf=depths,
        base=base,
        source=_source(form, told),
        dyed_on=day_from_form(form),
        note=form.get("note", "").strip(),
        dye_lots=read_lots(form.get("dye_lot", ""), depths),
        noise_de00=_noise(form),
    )


def form_of_swatch(swatch: Swatch) -> dict[str, str]:
    """Return what the form shows for a swatch on record."""
    return {
        "recipe": recipe_text(swatch.depths_owf),
        "base": swatch.base,
        "source": swatch.source,
        "dyed_on": swatch.dyed_on.isoformat() if swatch.dyed_on else "",
        "note": swatch.note,
        "dye_lot": lots_text(swatch),
        "noise_de00": "" if swatch.noise_de00 is None else f"{swatch.noise_de00:.2g}",
    }


def _colour(form: Form) -> tuple[float, float, float]:
    text = form.get("colour", "").strip()
    try:
        return colour_from_text(text).lab
    except InputError as error:
        raise InputError(error.message, field="colour", value=text) from error


def _source(form: Form, told: Swatch) -> str:
    source = form.get("source", "").strip() or told.source
    if source not in SOURCES:
        raise InputError(f"{source!r} is not a source; it is one of {', '.join(SOURCES)}", field="source", value=source)
    return source


def day_from_form(form: Form) -> date | None:
    """Return the day of dyeing; None where it is left open."""
    text = form.get("dyed_on", "").strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(f"{text!r} is not a day; write it like 2026-03-12", field="dyed_on", value=text) from None


def _noise(form: Form) -> float | None:
    text = form.get("noise_de00", "").strip()
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 < value <= MOST_NOISE_DE00:
        raise InputError(
            f"the noise is {text!r}; it must be above 0 and at most {MOST_NOISE_DE00:g} ΔE00, or empty for the usual",
            field="noise_de00",
            value=text,
            limit=MOST_NOISE_DE00,
        )
    return value
