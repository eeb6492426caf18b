"""The tolerance that a photo is judged with: the studio's wish, moved by how the dyer sells."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00
from dyewright.core.model import Lot, Settings
from dyewright.core.skeins.tolerance import SortedLot, learnt_tolerance, sorted_lot
from dyewright.records import lots, shelf

__all__ = ["UsualTolerance", "usual_tolerance"]

TONAL_DE00 = 2.0  # where tonal lots are wanted and nothing else is said (estimate)
READ_SD_DE00 = 0.3  # of a difference inside one photo (estimate, from the intervals of rendered photos)
LATEST_LOTS = 40  # taste moves on; ours


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
    told = [_told(together) for together in _by_verdict(session)]
    learnt = learnt_tolerance([one for one in told if one is not None][-LATEST_LOTS:], wish)
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


def _told(together: Sequence[Lot]) -> SortedLot | None:
    """Return what the lots of one verdict tell; None where it proposed no sets, or saw a skein alone."""
    skeins = [
        (skein.lab, f"{lot.id} {skein.matching_set}", skein.proposed_set)
        for lot in together
        for skein in lot.skeins
        if skein.lab and skein.matching_set and skein.proposed_set
    ]
    if len(skeins) < 2:
        return None
    labs, sold, proposed = zip(*skeins, strict=True)
    lab = np.array(labs)
    de00 = np.asarray(delta_e00(lab[:, None], lab[None]), float)
    return sorted_lot(de00, sold, proposed, np.full(de00.shape, READ_SD_DE00))
