"""The tables of a studio. Rows never leave this package: its functions take and return dataclasses of core.model."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, Index, LargeBinary, String, Text, event
from sqlalchemy.engine import Connection
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from dyewright.core.model import DyeClass, EventKind, Factor, Heating, Spoons, TargetKind
from dyewright.errors import StudioError
from dyewright.records.columns import Choice, Exact, TableBase

__all__ = [
    "BaseRow",
    "ColourwayDyeRow",
    "ColourwayRow",
    "DyeRow",
    "EveningRow",
    "EventRow",
    "ExperimentRow",
    "HeatUpRow",
    "JarDyeRow",
    "JarRow",
    "JudgementRow",
    "LessonRow",
    "LotRow",
    "PaletteColourRow",
    "PaletteRow",
    "PhotoContentRow",
    "PhotoRow",
    "RunDyeRow",
    "RunRow",
    "SampleRow",
    "SkeinRow",
    "StudioRow",
    "SwatchDyeRow",
    "SwatchRow",
    "VesselRow",
    "metadata",
]

metadata = TableBase.metadata
ON_RENAME = "CASCADE"  # swatches and colourways follow a dye or base that gets another name
BY_END_OF_TRANSACTION: dict[str, Any] = {"deferrable": True, "initially": "DEFERRED"}  # rows may refer to later rows


class StudioRow(TableBase):
    """The studio itself: one row, number 1."""

    __tablename__ = "studio"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("scale_resolution_g > 0", name="scale_above_zero"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str] = mapped_column(String(200))
    is_demo: Mapped[bool]
    spoons: Mapped[Spoons] = mapped_column(Choice(Spoons))
    water_alkalinity_mg_l: Mapped[float | None]
    water_ph: Mapped[float | None]
    water_temperature_c: Mapped[float | None]
    scale_resolution_g: Mapped[float]
    tolerance_de00: Mapped[float]
    is_tonal_wanted: Mapped[bool]
    last_run_number: Mapped[int] = mapped_column(default=0)


class DyeRow(TableBase):
    """A tub on the shelf."""

    __tablename__ = "dye"
    __table_args__ = (
        CheckConstraint("price_per_g >= 0", name="price_not_negative"),
        CheckConstraint("on_shelf_g >= 0", name="stock_not_negative"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    dye_class: Mapped[DyeClass] = mapped_column(Choice(DyeClass))
    is_blend: Mapped[bool]
    is_fluorescent: Mapped[bool]
    price_per_g: Mapped[Decimal | None] = mapped_column(Exact(6))
    on_shelf_g: Mapped[Decimal | None] = mapped_column(Exact(3))
    note: Mapped[str] = mapped_column(Text)
    dye_lot: Mapped[str] = mapped_column(String(200), server_default="")


class BaseRow(TableBase):
    """A yarn base."""

    __tablename__ = "base"
    __table_args__ = (CheckConstraint("kept_l_kg > 0", name="kept_above_zero"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    fibre_frac: Mapped[dict[str, Any]]
    is_superwash: Mapped[bool]
    undyed_l: Mapped[float | None]
    undyed_a: Mapped[float | None]
    undyed_b: Mapped[float | None]
    skein_g: Mapped[float | None]
    note: Mapped[str] = mapped_column(Text)
    kept_l_kg: Mapped[float | None]


class VesselRow(TableBase):
    """A pot of the studio."""

    __tablename__ = "vessel"
    __table_args__ = (CheckConstraint("volume_l > 0", name="volume_above_zero"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    volume_l: Mapped[float]
    heating: Mapped[Heating] = mapped_column(Choice(Heating))
    diameter_m: Mapped[float | None]
    has_lid: Mapped[bool]
    power_w: Mapped[float | None]
    turns_per_min: Mapped[float | None]


class SwatchRow(TableBase):
    """A dyed sample; without dyes it is the undyed base."""

    __tablename__ = "swatch"
    __table_args__ = (
        CheckConstraint("noise_de00 > 0", name="noise_above_zero"),
        CheckConstraint("reads > 0", name="reads_above_zero"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    base_name: Mapped[str] = mapped_column(ForeignKey("base.name", onupdate=ON_RENAME))
    reflectance: Mapped[list[float] | None]
    lab_l: Mapped[float | None]
    lab_a: Mapped[float | None]
    lab_b: Mapped[float | None]
    illuminant: Mapped[str] = mapped_column(String(20))
    observer: Mapped[int]
    source: Mapped[str] = mapped_column(String(40))
    dyed_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(Text)
    origin: Mapped[dict[str, Any]]
    noise_de00: Mapped[float | None]
    reads: Mapped[int] = mapped_column(server_default="1")
    dyes: Mapped[list["SwatchDyeRow"]] = relationship(
        order_by="SwatchDyeRow.position", cascade="all, delete-orphan", lazy="selectin"
    )


class SwatchDyeRow(TableBase):
    """One dye of a swatch, its depth on weight of fibre, and the lot of its tub where that was noted."""

    __tablename__ = "swatch_dye"
    __table_args__ = (CheckConstraint("depth_owf >= 0", name="depth_not_negative"),)

    swatch_id: Mapped[int] = mapped_column(ForeignKey("swatch.id", ondelete="CASCADE"), primary_key=True)
    dye_name: Mapped[str] = mapped_column(ForeignKey("dye.name", onupdate=ON_RENAME), primary_key=True)
    position: Mapped[int]
    depth_owf: Mapped[float]
    dye_lot: Mapped[str] = mapped_column(String(200), server_default="")


class PaletteRow(TableBase):
    """Colours taken together from one picture."""

    __tablename__ = "palette"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    photo_id: Mapped[UUID | None] = mapped_column(ForeignKey("photo.id"), index=True)
    created_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(Text)


class ColourwayRow(TableBase):
    """A target and its chosen recipe, by name."""

    __tablename__ = "colourway"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    target_l: Mapped[float | None]
    target_a: Mapped[float | None]
    target_b: Mapped[float | None]
    target_from: Mapped[str] = mapped_column(Text)
    predicted_l: Mapped[float | None]
    predicted_a: Mapped[float | None]
    predicted_b: Mapped[float | None]
    base_id: Mapped[int | None] = mapped_column(ForeignKey("base.id"))
    created_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(Text)
    target_kind: Mapped[TargetKind] = mapped_column(Choice(TargetKind), server_default=TargetKind.TYPED.value)
    target_reflectance: Mapped[list[float] | None]
    palette: Mapped["PaletteColourRow | None"] = relationship(cascade="all, delete-orphan", lazy="joined")
    dyes: Mapped[list["ColourwayDyeRow"]] = relationship(
        order_by="ColourwayDyeRow.position", cascade="all, delete-orphan", lazy="selectin"
    )


class PaletteColourRow(TableBase):
    """A colourway's place in a palette: its share of the palette's yarn."""

    __tablename__ = "palette_colour"
    __table_args__ = (CheckConstraint("share_frac >= 0 AND share_frac <= 1", name="share_a_fraction"),)

    colourway_id: Mapped[int] = mapped_column(
        ForeignKey("colourway.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    palette_id: Mapped[int] = mapped_column(ForeignKey("palette.id", ondelete="CASCADE"), index=True)
    share_frac: Mapped[float | None]


class ColourwayDyeRow(TableBase):
    """One dye of a colourway's recipe and its depth on weight of fibre."""

    __tablename__ = "colourway_dye"
    __table_args__ = (CheckConstraint("depth_owf >= 0", name="depth_not_negative"),)

    colourway_id: Mapped[int] = mapped_column(ForeignKey("colourway.id", ondelete="CASCADE"), primary_key=True)
    dye_name: Mapped[str] = mapped_column(ForeignKey("dye.name", onupdate=ON_RENAME), primary_key=True)
    position: Mapped[int]
    depth_owf: Mapped[float]


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


class EveningRow(TableBase):
    """A swatch evening: several mini-skeins dyed at once, in jars in one water bath."""

    __tablename__ = "evening"
    __table_args__ = (
        CheckConstraint("liquor_l_kg > 0", name="liquor_above_zero"),
        CheckConstraint("stock_g_l > 0", name="stock_above_zero"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    held_on: Mapped[date]
    base_id: Mapped[int] = mapped_column(ForeignKey("base.id"))
    liquor_l_kg: Mapped[float]
    stock_g_l: Mapped[float]
    judgement_id: Mapped[UUID | None] = mapped_column(ForeignKey("judgement.id"))
    set_up: Mapped[dict[str, Any]]
    note: Mapped[str] = mapped_column(Text)
    jars: Mapped[list["JarRow"]] = relationship(order_by="JarRow.number", cascade="all, delete-orphan", lazy="selectin")


class JarRow(TableBase):
    """One jar of a swatch evening; without dyes it holds the undyed skein."""

    __tablename__ = "jar"
    __table_args__ = (
        CheckConstraint("number > 0", name="number_above_zero"),
        CheckConstraint("mass_g > 0", name="mass_above_zero"),
    )

    evening_id: Mapped[int] = mapped_column(ForeignKey("evening.id", ondelete="CASCADE"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    mass_g: Mapped[Decimal] = mapped_column(Exact(3))
    seat: Mapped[str] = mapped_column(String(200))
    swatch_id: Mapped[int | None] = mapped_column(ForeignKey("swatch.id", ondelete="SET NULL"), unique=True)
    dyes: Mapped[list["JarDyeRow"]] = relationship(
        order_by="JarDyeRow.position", cascade="all, delete-orphan", lazy="selectin"
    )


class JarDyeRow(TableBase):
    """One dye of a jar and its depth on weight of fibre."""

    __tablename__ = "jar_dye"
    __table_args__ = (
        ForeignKeyConstraint(["evening_id", "number"], ["jar.evening_id", "jar.number"], ondelete="CASCADE"),
        CheckConstraint("depth_owf > 0", name="depth_above_zero"),
    )

    evening_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    dye_name: Mapped[str] = mapped_column(ForeignKey("dye.name", onupdate=ON_RENAME), primary_key=True)
    position: Mapped[int]
    depth_owf: Mapped[float]


class HeatUpRow(TableBase):
    """A vessel of water heated once and watched at one knob setting; `readings` are pairs of minutes and °C."""

    __tablename__ = "heat_up"
    __table_args__ = (CheckConstraint("water_l > 0", name="water_above_zero"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    vessel_id: Mapped[int] = mapped_column(ForeignKey("vessel.id", ondelete="CASCADE"), index=True)
    knob: Mapped[str] = mapped_column(String(40))
    water_l: Mapped[float]
    has_lid: Mapped[bool]
    readings: Mapped[list[list[float]]]
    room_c: Mapped[float]
    measured_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(Text)


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
