"""Swatches from a judged photo: each skein with its colour, a recipe said beside it, and how sure the colour is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import ciede2000_metric
from dyewright.core.model import Basis, Judgement, Lab, Swatch
from dyewright.errors import InputError
from dyewright.files.swatches import read_lots
from dyewright.records import photos, runs, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.recipes import recipe_from_text, recipe_text
from dyewright.services.swatches.form import day_from_form

__all__ = ["PHOTO_WITHOUT_CHART_DE00", "Z95", "from_photo_page", "keep_from_photo", "skein_noise"]

Z95 = 1.96  # half of the interval that holds 95 of 100, over the standard deviation of a normal scatter
PHOTO_WITHOUT_CHART_DE00 = 5.0  # of a colour that is a camera's own, in ΔE00 a component (estimate)
WITHOUT_CHART = "Read from a photo without a chart: the camera’s own colour."


@dataclass(frozen=True)
class JudgedSkein:
    """A skein of a verdict as the form asks for its recipe; `kept_as` is the swatch it became, if any."""

    id: int
    hex: str
    words: str
    noise_de00: float
    kept_as: int | None

    @property
    def band(self) -> float:
        """How far the true colour lies from the read one in 19 of 20 photos, at most."""
        return Z95 * self.noise_de00


def from_photo_page(session: Session, judgement_id: UUID, typed: Mapping[str, str] | None = None) -> dict[str, object]:
    """Return what the page for keeping a photo's skeins as swatches shows."""
    judgement = photos.judgement(session, judgement_id)
    skeins = _skeins(session, judgement)
    bases = shelf.bases(session)
    return {
        "judgement": judgement,
        "photo": photos.photo(session, judgement.photo_id),
        "skeins": skeins,
        "palest": max(_seen(judgement), key=lambda seen: float(seen["lab"][0]), default={"id": None})["id"],
        "is_relative": _is_relative(judgement),
        "typed": dict(typed) if typed is not None else _suggested(session, judgement),
        "dyes": [dye.name for dye in shelf.dyes(session)],
        "bases": [base.name for base in bases],
        "usual": Z95 * PHOTO_WITHOUT_CHART_DE00,
        "known_fields": {
            "base",
            "dyed_on",
            *(f"{name}_{skein.id}" for skein in skeins for name in ("recipe", "dye_lot")),
        },
        "to_keep": sum(skein.kept_as is None for skein in skeins),
    }


def keep_from_photo(session: Session, judgement_id: UUID, form: Mapping[str, str]) -> Sequence[Swatch]:
    """Put the skeins whose recipe is said on record as swatches; the others stay what they are, skeins on a photo.

    Raises:
        InputError: a recipe, the base or the day cannot be worked with, or no recipe is said; nothing is kept then.
    """
    judgement = photos.judgement(session, judgement_id)
    base, day = form.get("base", "").strip(), day_from_form(form)
    if not base:
        raise InputError("which yarn are they on? Give the base a name", field="base")
    new = []
    for skein, seen in zip(_skeins(session, judgement), _seen(judgement), strict=True):
        recipe, field = form.get(f"recipe_{skein.id}", "").strip(), f"recipe_{skein.id}"
        if not recipe or skein.kept_as is not None:
            continue
        depths = recipe_from_text(recipe, field=field)
        new.append(
            Swatch(
                depths_owf=depths,
                base=base,
                lab=_lab(seen["lab"]),
                source="photo",
                dyed_on=day,
                note=WITHOUT_CHART if _is_relative(judgement) else "",
                origin={"judgement": str(judgement.id), "skein": str(skein.id)},
                dye_lots=_lots(form, depths, skein.id),
                noise_de00=skein.noise_de00,
            )
        )
    if not new:
        raise InputError("no skein has a recipe yet: write one beside each that is to be kept", field="recipe_1")
    return swatches_of.add_swatches(session, new)


def skein_noise(seen: Mapping[str, Any]) -> float:
    """Return how sure a judged skein's colour is, as a standard deviation in ΔE00 a component."""
    if seen["lab_low"] is None or seen["lab_high"] is None:
        return PHOTO_WITHOUT_CHART_DE00
    sd_lab = (np.array(seen["lab_high"]) - np.array(seen["lab_low"])) / (2 * Z95)
    spread = ciede2000_metric(np.array(seen["lab"])) * sd_lab  # (3, 3): each component's part of ΔE00
    return float(np.sqrt(np.sum(spread**2) / 3))


def _lots(form: Mapping[str, str], depths: Mapping[str, float], skein_id: int) -> dict[str, str]:
    field = f"dye_lot_{skein_id}"
    try:
        return read_lots(form.get(field, ""), depths)
    except InputError as error:
        raise InputError(error.message, field=field, value=error.value) from error


def _seen(judgement: Judgement) -> Sequence[Mapping[str, Any]]:
    result: Mapping[str, Any] = judgement.result
    skeins: Sequence[Mapping[str, Any]] = result["skeins"]
    return skeins


def _lab(values: Sequence[float]) -> Lab:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b


def _is_relative(judgement: Judgement) -> bool:
    return judgement.result["basis"] == Basis.RELATIVE


def _skeins(session: Session, judgement: Judgement) -> list[JudgedSkein]:
    kept = {
        one.origin.get("skein"): one.id
        for one in swatches_of.swatches(session)
        if one.origin.get("judgement") == str(judgement.id)
    }
    return [
        JudgedSkein(seen["id"], seen["hex"], seen["colour_words"], skein_noise(seen), kept.get(str(seen["id"])))
        for seen in _seen(judgement)
    ]


def _suggested(session: Session, judgement: Judgement) -> dict[str, str]:
    """Return the form as proposed: the only base; for a run's photo its base, its recipe and the day of the photo."""
    bases = shelf.bases(session)
    typed = {"base": bases[0].name if len(bases) == 1 else ""}
    if judgement.run_id is None:
        return typed
    run = runs.run(session, judgement.run_id)
    sheet: Mapping[str, Any] = run.sheet
    recipe = recipe_text({dye["name"]: dye["depth_owf"] for dye in sheet["dyes"]})
    typed |= {f"recipe_{seen['id']}": recipe for seen in _seen(judgement)}
    typed["dyed_on"] = photos.photo(session, judgement.photo_id).taken_at.date().isoformat()
    return typed | ({"base": shelf.base(session, run.base_id).name} if run.base_id is not None else {})
