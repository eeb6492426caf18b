"""Tables of photos, the verdicts on them, and those that wait for one."""

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ForeignKey, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from dyewright.core.model import WorkState
from dyewright.records.columns import Choice, TableBase

__all__ = [
    "JudgementRow",
    "PhotoContentRow",
    "PhotoRow",
    "PhotoWorkRow",
]


class PhotoContentRow(TableBase):
    """The bytes of a photo, kept once however often it is sent."""

    __tablename__ = "photo_content"

    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class PhotoRow(TableBase):
    """A photo as it came."""

    __tablename__ = "photo"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    run_id: Mapped[UUID | None] = mapped_column(ForeignKey("run.id"), index=True)
    media_type: Mapped[str] = mapped_column(String(100))
    sha256: Mapped[str] = mapped_column(ForeignKey("photo_content.sha256"))
    width_px: Mapped[int]
    height_px: Mapped[int]
    taken_at: Mapped[datetime]


class JudgementRow(TableBase):
    """A verdict on one photo, as computed."""

    __tablename__ = "judgement"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    run_id: Mapped[UUID | None] = mapped_column(ForeignKey("run.id"), index=True)
    photo_id: Mapped[UUID] = mapped_column(ForeignKey("photo.id"), index=True)
    judged_at: Mapped[datetime]
    result: Mapped[dict[str, Any]]
    package_version: Mapped[str] = mapped_column(String(40))
    marks: Mapped[dict[str, Any] | None]
    more_photo_ids: Mapped[list[str] | None]


class PhotoWorkRow(TableBase):
    """Photos of one lot that wait to be judged, are being judged, or were."""

    __tablename__ = "photo_work"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    run_id: Mapped[UUID | None] = mapped_column(ForeignKey("run.id"))
    photo_ids: Mapped[list[str]]
    marks: Mapped[dict[str, Any]]
    state: Mapped[WorkState] = mapped_column(Choice(WorkState), index=True)
    asked_at: Mapped[datetime]
    done_at: Mapped[datetime | None]
    judgement_id: Mapped[UUID | None] = mapped_column(ForeignKey("judgement.id"))
    sentence: Mapped[str] = mapped_column(Text)
