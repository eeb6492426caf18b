"""An old lot as a swatch: its recipe from the run's card, its colour from its judged skeins."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import ciede2000_metric
from dyewright.core.model import Dye, EventKind, Lab, Lot, Run, Swatch
from dyewright.core.progress import standing_events
from dyewright.errors import InputError
from dyewright.records import lots, photos, runs, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.swatches.from_photo import PHOTO_WITHOUT_CHART_DE00, Z95, skein_noise

__all__ = ["LotOffer", "keep_lot_as_swatch", "lot_offer"]


@dataclass(frozen=True)
class LotOffer:
    """Whether a lot can be kept as a swatch.

    `swatch` is what would be kept; where it is None, `refusal` says why. `kept_as` is the swatch it is already.
    `warnings` are doubts that leave it usable.
    """

    swatch: Swatch | None = None
    refusal: str = ""
    warnings: tuple[str, ...] = ()
    kept_as: int | None = None

    @property
    def band(self) -> float:
        """How far the true colour lies from the one kept in 19 of 20 lots, at most; 0 where that is not known."""
        return Z95 * (self.swatch.noise_de00 or 0.0) if self.swatch else 0.0


def keep_lot_as_swatch(session: Session, lot_id: UUID) -> Swatch:
    """Put a lot on record as a swatch; one that is a swatch already stays that one.

    Raises:
        InputError: the lot cannot be a swatch; the sentence says why.
    """
    offer = lot_offer(session, lots.lot(session, lot_id))
    if offer.kept_as is not None:
        return swatches_of.swatch(session, offer.kept_as)
    if offer.swatch is None:
        raise InputError(offer.refusal, field="lot")
    [kept] = swatches_of.add_swatches(session, [offer.swatch])
    return kept


def lot_offer(session: Session, lot: Lot) -> LotOffer:
    """Return the swatch that a lot would be, or why it cannot be one."""
    for one in swatches_of.swatches(session):
        if one.origin.get("lot") == str(lot.id):
            return LotOffer(kept_as=one.id)
    run = runs.run(session, lot.run_id)
    labs = [skein.lab for skein in lot.skeins if skein.lab is not None]
    if not labs:
        return LotOffer(refusal="its colour is not known: judge its skeins on a photo first, then keep the lot anew")
    if run.base_id is None:
        return LotOffer(refusal="the run does not say which yarn it was: plan the next one on a base of the shelf")
    recipe = _recipe(run)
    if not recipe:
        return LotOffer(refusal="the run's card names no dye")
    base = shelf.base(session, run.base_id).name
    swatch = Swatch(
        depths_owf=recipe,
        base=base,
        lab=_mean(labs),
        source="photo",
        dyed_on=lot.kept_on,
        note=f"Lot {lot.name}.",
        origin={"lot": str(lot.id)},
        noise_de00=_noise(session, run, labs),
    )
    on_shelf = {dye.name: dye for dye in shelf.dyes(session)}
    return LotOffer(swatch, warnings=_warnings(run, on_shelf, recipe, swatch.noise_de00))


def _recipe(run: Run) -> dict[str, float]:
    sheet: Mapping[str, Any] = run.sheet
    depths: dict[str, float] = {}
    for dye in sheet.get("dyes", ()):
        depths[dye["name"]] = depths.get(dye["name"], 0.0) + float(dye["depth_owf"])
    return depths


def _mean(labs: list[Lab]) -> Lab:
    lightness, a, b = np.mean(labs, axis=0).tolist()
    return lightness, a, b


def _noise(session: Session, run: Run, labs: list[Lab]) -> float | None:
    """Return the noise of a lot's mean colour: the photo's, which its skeins share, and their own scatter.

    None, which is the usual of a photo, where no verdict on the run is known.
    """
    judged = photos.judgements_of_run(session, run.id)
    seen: list[Mapping[str, Any]] = [skein for verdict in judged[:1] for skein in _seen(verdict.result)]
    if not seen:
        return None
    shared = float(np.mean([skein_noise(one) for one in seen]))
    if len(labs) < 2:
        return shared
    mean = np.mean(labs, axis=0)
    off = (np.array(labs) - mean) @ ciede2000_metric(mean).T
    scatter = np.sum(off**2) / (3 * (len(labs) - 1)) / len(labs)  # variance of the mean, a component
    return float(np.sqrt(shared**2 + scatter))


def _seen(result: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return list(result.get("skeins", ()))


def _warnings(
    run: Run, on_shelf: Mapping[str, Dye], recipe: Mapping[str, float], noise_de00: float | None
) -> tuple[str, ...]:
    said = []
    events = standing_events(run.events)
    added = [str(event.detail.get("what", "")) for event in events if event.kind is EventKind.ADDITION]
    more = [name for name in recipe if any(name.lower() in what.lower() for what in added)]
    if more:
        said.append(f"{', '.join(more)} was added in the pot: put the recipe right if that was more than planned.")
    reactive = [name for name in recipe if name in on_shelf and on_shelf[name].dye_class.is_reactive]
    if reactive:
        said.append(f"{', '.join(reactive)} is reactive: what washed out is not in the yarn, and pots fix unalike.")
    if noise_de00 is None:
        said.append("No verdict on a photo is kept with the run: its colour counts as read from an ordinary photo.")
    elif noise_de00 >= PHOTO_WITHOUT_CHART_DE00:
        said.append("It was judged without a chart: its colour is the camera’s own and counts for little.")
    return tuple(said)
