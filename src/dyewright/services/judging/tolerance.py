"""The tolerance that a photo is judged with: the studio's wish, moved by how the dyer sells."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00
from dyewright.core.model import Lot, Settings, Skein
from dyewright.core.skeins.tolerance import SortedLot, learnt_tolerance, sorted_lot
from dyewright.errors import NotFoundError
from dyewright.records import lots, photos, shelf

__all__ = ["UsualTolerance", "usual_tolerance"]

TONAL_DE00 = 2.0  # where tonal lots are wanted and nothing else is said (estimate)
READ_SD_DE00 = 0.3  # of a difference inside one photo whose verdict is not on record (estimate)
HALF_TO_SD = 2.5  # half an interval that holds all pairs of a photo over a standard error: 2 for two skeins, 3 for six
LEAST_SD_DE00 = 0.1
LATEST_LOTS = 25  # taste moves on; ours


@dataclass(frozen=True)
class UsualTolerance:
    """The tolerance that a form begins with, ΔE00, and where it is from, in a sentence."""

    de00: float
    words: str


def usual_tolerance(session: Session) -> UsualTolerance:
    """Return the tolerance learnt from which skeins were sold together; the studio's wish until there are some.

    A lot that was sold just as a verdict proposed does not move it: the proposal came from the tolerance itself.
    """
    settings = shelf.studio_settings(session) or Settings(name="")
    wish = _wish_de00(settings)
    sorted_by = [together for together in _by_verdict(session) if len(_sorted_skeins(together)) > 1]
    learnt = learnt_tolerance([_told(session, together) for together in sorted_by[-LATEST_LOTS:]], wish)
    if not learnt.moved_lots:
        return UsualTolerance(wish, _wish_words(settings, wish))
    return UsualTolerance(round(learnt.mid, 1), f"{learnt.words[0].upper()}{learnt.words[1:]}.")


def _wish_de00(settings: Settings) -> float:
    return max(settings.tolerance_de00, TONAL_DE00) if settings.is_tonal_wanted else settings.tolerance_de00


def _wish_words(settings: Settings, wish_de00: float) -> str:
    if wish_de00 > settings.tolerance_de00:
        return f"{wish_de00:g}, for tonal lots are wanted (estimate). It learns from the sets you sell."
    return f"{wish_de00:g}, the studio’s wish; 1 is common practice. It learns from the sets you sell."


def _by_verdict(session: Session) -> list[list[Lot]]:
    """Return the lots, oldest first, those of one verdict together: what is kept as two lots is sold apart."""
    groups: dict[UUID, list[Lot]] = {}
    for lot, _ in lots.all_lots(session):
        groups.setdefault(lot.judgement_id or lot.id, []).append(lot)
    return list(groups.values())


def _sorted_skeins(together: Sequence[Lot]) -> list[tuple[Skein, str]]:
    """Return the skeins of one verdict that it proposed a set for, each with what it is sold as."""
    return [
        (skein, f"{lot.id} {skein.matching_set}")
        for lot in together
        for skein in lot.skeins
        if skein.lab and skein.matching_set and skein.proposed_set
    ]


def _told(session: Session, together: Sequence[Lot]) -> SortedLot:
    """Return what the lots of one verdict tell."""
    skeins = _sorted_skeins(together)
    labs = np.array([skein.lab for skein, _ in skeins])
    de00 = np.asarray(delta_e00(labs[:, None], labs[None]), float)
    proposed = [skein.proposed_set or "" for skein, _ in skeins]
    sd = _sd_de00(session, together[0].judgement_id, [skein.number for skein, _ in skeins])
    return sorted_lot(de00, [sold for _, sold in skeins], proposed, sd)


def _sd_de00(session: Session, judgement_id: UUID | None, numbers: Sequence[int]) -> NDArray[np.float64]:
    """Return how sure the verdict was of each difference, shape (n, n)."""
    sd = np.full((len(numbers), len(numbers)), READ_SD_DE00)
    try:
        result: Any = {} if judgement_id is None else photos.judgement(session, judgement_id).result
    except NotFoundError:  # the verdict was taken away since
        return sd
    places = {number: place for place, number in enumerate(numbers)}
    for pair in result.get("pairs", ()):
        if pair["a"] in places and pair["b"] in places:
            i, j = places[pair["a"]], places[pair["b"]]
            sd[i, j] = sd[j, i] = max((pair["high"] - pair["de00"]) / HALF_TO_SD, LEAST_SD_DE00)
    return sd
