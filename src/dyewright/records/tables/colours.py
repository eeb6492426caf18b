"""Tables of colours: swatches, palettes, colourways, swatch evenings."""

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from dyewright.core.model import TargetKind
from dyewright.records.columns import Choice, Exact, TableBase

__all__ = [
    "ColourwayDyeRow",
    "ColourwayRow",
    "EveningRow",
    "JarDyeRow",
    "JarRow",
    "PaletteColourRow",
    "PaletteRow",
    "SwatchDyeRow",
    "SwatchRow",
]

ON_RENAME = "CASCADE"  # swatches and colourways follow a dye or base that gets another name


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
