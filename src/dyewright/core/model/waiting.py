"""Photos that wait to be judged, so that ten of them hold nobody up."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from uuid import UUID

__all__ = ["PhotoWork", "WorkState"]


class WorkState(StrEnum):
    """How far the judging of a photo has come."""

    WAITING = "waiting"
    WORKING = "working"
    DONE = "done"
    REFUSED = "refused"


@dataclass(frozen=True)
class PhotoWork:
    """One verdict that was asked for: on the photos of one lot, with the marks as typed in the form.

    `judgement_id` is the verdict once DONE, `sentence` why it could not be given once REFUSED.
    """

    id: UUID
    photo_ids: tuple[UUID, ...]
    asked_at: datetime
    run_id: UUID | None = None
    marks: Mapping[str, str] = field(default_factory=dict)
    state: WorkState = WorkState.WAITING
    done_at: datetime | None = None
    judgement_id: UUID | None = None
    sentence: str = ""
