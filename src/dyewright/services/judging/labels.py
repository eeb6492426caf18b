"""What of a verdict goes onto the labels of its skeins."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Judgement, WayKind
from dyewright.errors import InputError, NotFoundError
from dyewright.records import lots, photos

__all__ = ["labels_of", "way_of", "write_buyer_caution"]


def way_of(judgement: Judgement, number: int) -> Mapping[str, Any]:
    """Return one of the ways out of a kept verdict, counted from 1.

    Raises:
        NotFoundError: the verdict has no such way.
    """
    result: Any = judgement.result
    ways = result.get("ways") or ()
    if not 1 <= number <= len(ways):
        raise NotFoundError(f"this verdict has no way {number}; it has {len(ways)}")
    way: Mapping[str, Any] = ways[number - 1]
    return way


def labels_of(way: Mapping[str, Any]) -> tuple[int, ...]:
    """Return the skeins whose labels carry a way's sentence for the buyer."""
    beside = way["beside"] if way["kind"] == WayKind.ALTERNATE else ()
    return tuple(sorted({*way["skeins"], *beside}))


def write_buyer_caution(session: Session, judgement_id: UUID, way_number: int) -> str:
    """Write a way's sentence for the buyer onto the labels of its skeins, and return the page to go on to.

    Where no lot was kept from this verdict yet, the form that keeps it comes with the sentence ticked: nothing is
    written before the lot is there.

    Raises:
        InputError: the way has nothing to say to a buyer, or the photo belongs to no run.
        NotFoundError: the verdict has no such way.
    """
    judgement = photos.judgement(session, judgement_id)
    way = way_of(judgement, way_number)
    if not way["for_buyer"]:
        raise InputError(f"“{way['title']}” has nothing for the label", field="way", value=way_number)
    if judgement.run_id is None:
        raise InputError(
            f"this photo belongs to no run, so that there is no lot to label; the sentence is: {way['for_buyer']}",
            field="way",
            value=way_number,
        )
    kept = [lot for lot in lots.lots_of_run(session, judgement.run_id) if lot.judgement_id == judgement_id]
    for lot in kept:
        for skein in lot.skeins:
            if skein.number in labels_of(way):
                lots.write_caution(session, lot.id, skein.number, way["for_buyer"])
    return f"/lots/{kept[0].id}#labels" if kept else f"/runs/{judgement.run_id}?label={way_number}#keep"
