"""Tables of the work: runs with their events, lots, lessons, experiments."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, event
from sqlalchemy.engine import Connection
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from dyewright.core.model import EventKind, Factor
from dyewright.errors import StudioError
from dyewright.records.columns import Choice, Exact, TableBase
from dyewright.records.tables.colours import ColourwayRow
from dyewright.records.tables.shelf import BaseRow

__all__ = [
    "EventRow",
    "ExperimentRow",
    "LessonRow",
    "LotRow",
    "RunDyeRow",
    "RunRow",
    "SampleRow",
    "SkeinRow",
]

BY_END_OF_TRANSACTION: dict[str, Any] = {"deferrable": True, "initially": "DEFERRED"}  # rows may refer to later rows


class RunRow(TableBase):
    """One dyeing, with what it was planned from. Written once."""

    __tablename__ = "run"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(unique=True)
    title: Mapped[str] = mapped_column(Text)
    card_toml: Mapped[str] = mapped_column(Text)
    sheet: Mapped[dict[str, Any]] = mapped_column(deferred=True)
    package_version: Mapped[str] = mapped_column(String(40))
    data_version: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[datetime]
    colourway_id: Mapped[int | None] = mapped_column(ForeignKey("colourway.id"))
    base_id: Mapped[int | None] = mapped_column(ForeignKey("base.id"))
    repeats_run_id: Mapped[UUID | None] = mapped_column(ForeignKey("run.id", **BY_END_OF_TRANSACTION))
    dyes: Mapped[list["RunDyeRow"]] = relationship(
        order_by="RunDyeRow.position", lazy="selectin", passive_deletes="all"
    )
    events: Mapped[list["EventRow"]] = relationship(
        order_by="EventRow.happened_at, EventRow.recorded_at, EventRow.id", lazy="selectin", viewonly=True
    )
    base: Mapped[BaseRow | None] = relationship(lazy="joined")
    colourway: Mapped[ColourwayRow | None] = relationship(lazy="joined")
    lots: Mapped[list["LotRow"]] = relationship(order_by="LotRow.name", viewonly=True, lazy="selectin")


class RunDyeRow(TableBase):
    """One dye of a run as its sheet named it that day, so that runs can be found by dye."""

    __tablename__ = "run_dye"

    run_id: Mapped[UUID] = mapped_column(ForeignKey("run.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), index=True)
    depth_owf: Mapped[float]


class EventRow(TableBase):
    """One thing that happened in a run. Written once; what was wrong is undone by another event."""

    __tablename__ = "event"
    __table_args__ = (
        Index(None, "run_id", "happened_at"),
        CheckConstraint("(kind = 'correction') = (corrects IS NOT NULL)", name="a_correction_corrects"),
    )

    id: Mapped[UUID] = mapped_column(primary_key=True)
    run_id: Mapped[UUID] = mapped_column(ForeignKey("run.id"))
    kind: Mapped[EventKind] = mapped_column(Choice(EventKind))
    happened_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
    detail: Mapped[dict[str, Any]]
    corrects: Mapped[UUID | None] = mapped_column(ForeignKey("event.id", **BY_END_OF_TRANSACTION), unique=True)


class LotRow(TableBase):
    """The skeins that came out of a run. `search_text` is what the lot book looks through, in folded letters."""

    __tablename__ = "lot"

    id: Mapped[UUID] = mapped_column(primary_key=True)
    run_id: Mapped[UUID] = mapped_column(ForeignKey("run.id"), index=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    kept_on: Mapped[date] = mapped_column(index=True)
    note: Mapped[str] = mapped_column(Text)
    search_text: Mapped[str] = mapped_column(Text)
    judgement_id: Mapped[UUID | None]  # SQLite names no foreign key of a column that comes later: add_lot looks instead
    skeins: Mapped[list["SkeinRow"]] = relationship(
        order_by="SkeinRow.number", cascade="all, delete-orphan", lazy="selectin"
    )
    run: Mapped[RunRow] = relationship(viewonly=True)


class SkeinRow(TableBase):
    """A skein of a lot, with the colour it was judged to have."""

    __tablename__ = "skein"
    __table_args__ = (
        CheckConstraint("number > 0", name="number_above_zero"),
        CheckConstraint("mass_g > 0", name="mass_above_zero"),
    )

    lot_id: Mapped[UUID] = mapped_column(ForeignKey("lot.id", ondelete="CASCADE"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    mass_g: Mapped[Decimal | None] = mapped_column(Exact(3))
    lab_l: Mapped[float | None]
    lab_a: Mapped[float | None]
    lab_b: Mapped[float | None]
    matching_set: Mapped[str | None] = mapped_column(String(40))
    note: Mapped[str] = mapped_column(Text)
    proposed_set: Mapped[str | None] = mapped_column(String(40))
    caution: Mapped[str] = mapped_column(Text, server_default="")


class LessonRow(TableBase):
    """What one run taught, as computed: it can be computed anew from the run, and is where `made_with` is another."""

    __tablename__ = "lesson"

    run_id: Mapped[UUID] = mapped_column(ForeignKey("run.id", ondelete="CASCADE"), primary_key=True)
    made_with: Mapped[str] = mapped_column(String(80))
    content: Mapped[dict[str, Any]]


class ExperimentRow(TableBase):
    """One factor varied in steps over a few sample skeins."""

    __tablename__ = "experiment"
    __table_args__ = (CheckConstraint("sample_g > 0", name="sample_above_zero"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    factor: Mapped[Factor] = mapped_column(Choice(Factor))
    card_toml: Mapped[str] = mapped_column(Text)
    base_id: Mapped[int | None] = mapped_column(ForeignKey("base.id"))
    sample_g: Mapped[float]
    created_on: Mapped[date]
    judgement_id: Mapped[UUID | None] = mapped_column(ForeignKey("judgement.id"))
    note: Mapped[str] = mapped_column(Text)
    samples: Mapped[list["SampleRow"]] = relationship(
        order_by="SampleRow.number", cascade="all, delete-orphan", lazy="selectin"
    )


class SampleRow(TableBase):
    """One sample skein of an experiment; the blank has no value."""

    __tablename__ = "sample"
    __table_args__ = (CheckConstraint("number > 0", name="number_above_zero"),)

    experiment_id: Mapped[int] = mapped_column(ForeignKey("experiment.id", ondelete="CASCADE"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    value: Mapped[float | None]
    place: Mapped[int]
    run_id: Mapped[UUID | None] = mapped_column(ForeignKey("run.id"), unique=True)
    lab_l: Mapped[float | None]
    lab_a: Mapped[float | None]
    lab_b: Mapped[float | None]
    note: Mapped[str] = mapped_column(Text)


@event.listens_for(RunRow, "before_update")
@event.listens_for(RunRow, "before_delete")
@event.listens_for(EventRow, "before_update")
@event.listens_for(EventRow, "before_delete")
def _refuse(_mapper: Mapper[Any], _connection: Connection, row: RunRow | EventRow) -> None:
    raise StudioError(f"{row.__tablename__} {row.id} stands as it was recorded; put it right with a correcting event")
