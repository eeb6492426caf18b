"""Tables of the shelf: the studio itself, dyes, bases, vessels and what was learnt of them."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from dyewright.core.model import DyeClass, Heating, Spoons
from dyewright.records.columns import Choice, Exact, TableBase

__all__ = [
    "BaseRow",
    "DyeRow",
    "HeatUpRow",
    "StudioRow",
    "VesselRow",
    "WetPairRow",
]


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


class WetPairRow(TableBase):
    """One sample of a base judged wet and, once dry, again."""

    __tablename__ = "wet_pair"

    id: Mapped[int] = mapped_column(primary_key=True)
    base_id: Mapped[int] = mapped_column(ForeignKey("base.id", ondelete="CASCADE"), index=True)
    wet_l: Mapped[float]
    wet_a: Mapped[float]
    wet_b: Mapped[float]
    dry_l: Mapped[float]
    dry_a: Mapped[float]
    dry_b: Mapped[float]
    measured_on: Mapped[date]
    note: Mapped[str] = mapped_column(Text)
