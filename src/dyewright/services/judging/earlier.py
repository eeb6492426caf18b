"""A verdict beside the earlier lots of its colourway."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.model import Judgement, Lab, Lot
from dyewright.core.skeins import to_target
from dyewright.errors import NotFoundError
from dyewright.records import lots, photos, runs
from dyewright.services.shown import shown_hex

__all__ = ["EarlierLot", "earlier_lots"]

SHOWN_LOTS = 6
Z95 = 1.96  # the normal deviate that holds 95 %

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class EarlierLot:
    """How the skeins of a verdict stand to an earlier lot, the standard.

    `low` and `high` add the doubt of both photos and are None where one of them was read without a chart: then the
    figure is rough. `is_within` says whether they match within the tolerance; None where that cannot be told.
    """

    lot_id: UUID
    name: str
    kept_on: date
    hex: str
    de00: float
    low: float | None
    high: float | None
    is_within: bool | None
    words: str


@dataclass(frozen=True)
class _Colour:
    """The mean of some skeins, and its standard errors; None where the photo had no chart."""

    lab: Lab
    sd_lab: Floats | None


def earlier_lots(session: Session, judgement_id: UUID) -> tuple[EarlierLot, ...]:
    """Return the earlier lots of the verdict's colourway, newest first; none where it has no run or no colourway."""
    judgement = photos.judgement(session, judgement_id)
    result: Any = judgement.result
    if judgement.run_id is None or not result["skeins"]:
        return ()
    run = runs.run(session, judgement.run_id)
    if run.colourway_id is None:
        return ()
    now = _seen(judgement, result["sets"][0])
    others = [lot for lot in lots.lots_of_colourway(session, run.colourway_id) if lot.run_id != run.id]
    judged = [(lot, _kept(session, lot)) for lot in others]
    return tuple(_beside(lot, then, now, result["tolerance"]) for lot, then in judged if then is not None)[:SHOWN_LOTS]


def _seen(judgement: Judgement, ids: list[int]) -> _Colour:
    """Return the mean of these skeins of a verdict. All share the chart's error, so that the mean is no surer."""
    result: Any = judgement.result
    skeins = [skein for skein in result["skeins"] if skein["id"] in ids]
    known = [skein for skein in skeins if skein.get("lab_low") and skein.get("lab_high")]
    halves = [(np.array(skein["lab_high"]) - np.array(skein["lab_low"])) / 2 for skein in known]
    sd = np.mean(halves, axis=0) / Z95 if len(known) == len(skeins) else None
    return _Colour(_mean([skein["lab"] for skein in skeins]), sd)


def _mean(labs: list[Lab]) -> Lab:
    lightness, red_green, yellow_blue = np.mean(labs, axis=0).tolist()
    return lightness, red_green, yellow_blue


def _kept(session: Session, lot: Lot) -> _Colour | None:
    """Return the colour of a lot, as sure as its verdict; None where it was not judged."""
    labs = [skein.lab for skein in lot.skeins if skein.lab is not None]
    if not labs:
        return None
    try:
        judgement = None if lot.judgement_id is None else photos.judgement(session, lot.judgement_id)
    except NotFoundError:
        judgement = None
    seen = None if judgement is None else _seen(judgement, [skein.number for skein in lot.skeins])
    return _Colour(_mean(labs), None if seen is None else seen.sd_lab)


def _beside(lot: Lot, then: _Colour, now: _Colour, tolerance_de00: float) -> EarlierLot:
    name, difference = f"lot {lot.name}", difference_words(then.lab, now.lab)
    said = difference if difference.startswith("no ") else f"{difference} than {name}"
    if then.sd_lab is None or now.sd_lab is None:
        words = f"{said}: rough, for one of the two was not read through a chart"
        away = float(delta_e00(then.lab, now.lab))
        return EarlierLot(lot.id, lot.name, lot.kept_on, shown_hex(then.lab), away, None, None, None, _sentence(words))
    found = to_target(now.lab, np.hypot(then.sd_lab, now.sd_lab), then.lab, tolerance_de00)
    match found.is_within:
        case True:
            words = f"{said}: they match"
        case False:
            words = f"{said}: they do not match, sell them as two lots"
        case None:
            words = f"{said}: two photos cannot tell whether they match; lay skeins of both side by side"
    return EarlierLot(
        *(lot.id, lot.name, lot.kept_on, shown_hex(then.lab), found.de00, found.low, found.high, found.is_within),
        _sentence(words),
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
