"""Skeins of a verdict given to orders that each need some that match."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Assignment, JudgeResult, PairDifference
from dyewright.core.skeins.assign import assign
from dyewright.errors import InputError
from dyewright.records import photos
from dyewright.services.unplain import from_plain

__all__ = ["MOST_ORDERS", "orders_from_text", "shared_out", "shared_out_of"]

MOST_ORDERS, MOST_SKEINS = 20, 200  # of one lot; ours, so that a slip of the finger is told at once


def orders_from_text(text: str) -> tuple[int, ...]:
    """Return how many skeins each order needs, from "3, 2".

    Raises:
        InputError: none named, something that is no whole number above 0, or more than a lot can serve.
    """
    parts = text.replace(";", " ").replace(",", " ").split()
    wrong = next((part for part in parts if not (part.isascii() and part.isdigit()) or int(part) < 1), None)
    if wrong is not None or not parts:
        raise InputError(
            f"the orders {text!r} are not understood: write how many skeins each needs, such as 3, 2",
            field="orders",
            value=text,
        )
    wanted = tuple(int(part) for part in parts)
    if len(wanted) > MOST_ORDERS or max(wanted) > MOST_SKEINS:
        raise InputError(
            f"the orders {text!r} are too many: at most {MOST_ORDERS} orders of {MOST_SKEINS} skeins",
            field="orders",
            value=text,
            limit=MOST_ORDERS,
        )
    return wanted


def shared_out(result: JudgeResult, wanted: Sequence[int]) -> Assignment:
    """Return which skeins of a verdict go to which order."""
    return assign([skein.id for skein in result.skeins], result.pairs, wanted, result.tolerance, result.sets)


def shared_out_of(session: Session, judgement_id: UUID, text: str) -> Assignment:
    """Return which skeins of a kept verdict go to which order, as typed on its page.

    Raises:
        InputError: the orders cannot be read.
    """
    wanted = orders_from_text(text)
    result: Any = photos.judgement(session, judgement_id).result
    pairs = [from_plain(PairDifference, pair) for pair in result["pairs"]]
    return assign([skein["id"] for skein in result["skeins"]], pairs, wanted, result["tolerance"], result["sets"])
