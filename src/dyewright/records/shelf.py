"""The studio's settings and its shelf: dyes, bases and vessels."""

from collections.abc import Iterable
from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Base, Dye, Fibre, Settings, Vessel, Water
from dyewright.errors import InputError
from dyewright.records._rows import found, lab_columns, lab_of, refuse_taken_name
from dyewright.records.tables import (
    BaseRow,
    ColourwayDyeRow,
    ColourwayRow,
    DyeRow,
    EveningRow,
    ExperimentRow,
    JarDyeRow,
    RunRow,
    StudioRow,
    SwatchDyeRow,
    SwatchRow,
    VesselRow,
)

__all__ = [
    "base",
    "base_named",
    "bases",
    "dye",
    "dyes",
    "ensure_dyes",
    "is_begun",
    "remove_base",
    "remove_dye",
    "remove_vessel",
    "save_base",
    "save_dye",
    "save_settings",
    "save_vessel",
    "studio_settings",
    "vessel",
    "vessels",
]


def studio_settings(session: Session) -> Settings | None:
    """Return what the studio has said about itself; None where it has not begun."""
    row = session.get(StudioRow, 1)
    if row is None:
        return None
    return Settings(
        name=row.name,
        is_demo=row.is_demo,
        spoons=row.spoons,
        water=Water(row.water_alkalinity_mg_l, row.water_ph, row.water_temperature_c),
        scale_resolution_g=row.scale_resolution_g,
        tolerance_de00=row.tolerance_de00,
        is_tonal_wanted=row.is_tonal_wanted,
    )


def is_begun(session: Session) -> bool:
    """Return whether the studio has begun; this reads nothing that an older version did not have."""
    return session.scalar(select(StudioRow.id)) is not None


def save_settings(session: Session, settings: Settings) -> Settings:
    """Keep the settings; the first time, this begins the studio."""
    if settings.scale_resolution_g <= 0:
        raise InputError(
            f"the scale's resolution must be above 0 g, got {settings.scale_resolution_g} g",
            field="scale_resolution",
            value=settings.scale_resolution_g,
            limit=0,
        )
    row = session.get(StudioRow, 1)
    if row is None:
        row = StudioRow(id=1, last_run_number=0)
        session.add(row)
    row.name, row.is_demo, row.spoons = settings.name, settings.is_demo, settings.spoons
    row.water_alkalinity_mg_l = settings.water.alkalinity_mg_l
    row.water_ph, row.water_temperature_c = settings.water.ph, settings.water.temperature_c
    row.scale_resolution_g, row.tolerance_de00 = settings.scale_resolution_g, settings.tolerance_de00
    row.is_tonal_wanted = settings.is_tonal_wanted
    session.flush()
    return settings


def dyes(session: Session) -> list[Dye]:
    """Return every dye of the shelf by name."""
    return [_dye(row) for row in session.scalars(select(DyeRow).order_by(DyeRow.name))]


def dye(session: Session, dye_id: int) -> Dye:
    """Return one dye."""
    return _dye(found(session, DyeRow, dye_id))


def save_dye(session: Session, dye: Dye) -> Dye:
    """Put a dye on the shelf, or change the one with its id."""
    refuse_taken_name(session, DyeRow.name, DyeRow.id, dye.name, own=dye.id)
    for field, amount in (("price_per_g", dye.price_per_g), ("on_shelf_g", dye.on_shelf_g)):
        if amount is not None and not amount >= 0:
            raise InputError(
                f"{dye.name}: {field} must not be below 0, got {amount}", field=field, value=amount, limit=0
            )
    row = DyeRow() if dye.id is None else found(session, DyeRow, dye.id)
    row.name, row.dye_class, row.note = dye.name, dye.dye_class, dye.note
    row.is_blend, row.is_fluorescent = dye.is_blend, dye.is_fluorescent
    row.price_per_g, row.on_shelf_g, row.dye_lot = dye.price_per_g, dye.on_shelf_g, dye.dye_lot
    session.add(row)
    session.flush()
    return replace(dye, id=row.id)


def remove_dye(session: Session, dye_id: int) -> None:
    """Take a dye off the shelf.

    Raises:
        InputError: a swatch, colourway or jar is made of it.
    """
    row = found(session, DyeRow, dye_id)
    users = ((SwatchDyeRow, "swatch"), (ColourwayDyeRow, "colourway"), (JarDyeRow, "swatch evening"))
    for kind, thing in users:
        if session.scalar(select(kind).where(kind.dye_name == row.name).limit(1)):
            raise InputError(f"{row.name} is part of a {thing}; remove that first, or keep the dye", value=row.name)
    session.delete(row)
    session.flush()


def ensure_dyes(session: Session, names: Iterable[str]) -> None:
    """Put each dye that is not on the shelf there, with its class unknown."""
    there = set(session.scalars(select(DyeRow.name)))
    for name in sorted(set(names) - there):
        save_dye(session, Dye(name))


def bases(session: Session) -> list[Base]:
    """Return every base by name."""
    return [_base(row) for row in session.scalars(select(BaseRow).order_by(BaseRow.name))]


def base(session: Session, base_id: int) -> Base:
    """Return one base."""
    return _base(found(session, BaseRow, base_id))


def base_named(session: Session, name: str) -> Base | None:
    """Return the base of this name; None where there is none."""
    row = session.scalar(select(BaseRow).where(BaseRow.name == name))
    return None if row is None else _base(row)


def save_base(session: Session, base: Base) -> Base:
    """Add a base, or change the one with its id."""
    refuse_taken_name(session, BaseRow.name, BaseRow.id, base.name, own=base.id)
    if base.kept_l_kg is not None and not base.kept_l_kg > 0:
        raise InputError(
            f"a wet skein of {base.name} keeps more than 0 L of water a kilogram, got {base.kept_l_kg:g} L: weigh it "
            "wet and dry again",
            field="kept",
            value=base.kept_l_kg,
            limit=0,
        )
    row = BaseRow() if base.id is None else found(session, BaseRow, base.id)
    row.name, row.note, row.is_superwash, row.skein_g = base.name, base.note, base.is_superwash, base.skein_g
    row.kept_l_kg = base.kept_l_kg
    row.fibre_frac = {Fibre(fibre).value: share for fibre, share in base.fibre_frac.items()}
    for column, value in lab_columns("undyed", base.undyed_lab).items():
        setattr(row, column, value)
    session.add(row)
    session.flush()
    return replace(base, id=row.id)


def remove_base(session: Session, base_id: int) -> None:
    """Remove a base.

    Raises:
        InputError: a swatch, colourway, run, swatch evening or experiment is on it.
    """
    row = found(session, BaseRow, base_id)
    users = (
        ("a swatch", select(SwatchRow.id).where(SwatchRow.base_name == row.name)),
        ("a colourway", select(ColourwayRow.id).where(ColourwayRow.base_id == base_id)),
        ("a run", select(RunRow.number).where(RunRow.base_id == base_id)),
        ("a swatch evening", select(EveningRow.id).where(EveningRow.base_id == base_id)),
        ("an experiment", select(ExperimentRow.id).where(ExperimentRow.base_id == base_id)),
    )
    for thing, query in users:
        if session.scalar(query.limit(1)) is not None:
            raise InputError(f"{row.name} is the base of {thing}; it stays on the shelf", value=row.name)
    session.delete(row)
    session.flush()


def vessels(session: Session) -> list[Vessel]:
    """Return every vessel by name."""
    return [_vessel(row) for row in session.scalars(select(VesselRow).order_by(VesselRow.name))]


def vessel(session: Session, vessel_id: int) -> Vessel:
    """Return one vessel."""
    return _vessel(found(session, VesselRow, vessel_id))


def save_vessel(session: Session, vessel: Vessel) -> Vessel:
    """Add a vessel, or change the one with its id."""
    refuse_taken_name(session, VesselRow.name, VesselRow.id, vessel.name, own=vessel.id)
    if not vessel.volume_l > 0:
        raise InputError(
            f"{vessel.name} must hold more than 0 L, got {vessel.volume_l} L",
            field="volume",
            value=vessel.volume_l,
            limit=0,
        )
    row = VesselRow() if vessel.id is None else found(session, VesselRow, vessel.id)
    row.name, row.volume_l, row.heating = vessel.name, vessel.volume_l, vessel.heating
    row.diameter_m, row.has_lid = vessel.diameter_m, vessel.has_lid
    row.power_w, row.turns_per_min = vessel.power_w, vessel.turns_per_min
    session.add(row)
    session.flush()
    return replace(vessel, id=row.id)


def remove_vessel(session: Session, vessel_id: int) -> None:
    """Remove a vessel with its heat-ups; runs keep what their cards say of it."""
    session.delete(found(session, VesselRow, vessel_id))
    session.flush()


def _dye(row: DyeRow) -> Dye:
    return Dye(
        name=row.name,
        dye_class=row.dye_class,
        is_blend=row.is_blend,
        is_fluorescent=row.is_fluorescent,
        price_per_g=row.price_per_g,
        on_shelf_g=row.on_shelf_g,
        note=row.note,
        id=row.id,
        dye_lot=row.dye_lot,
    )


def _base(row: BaseRow) -> Base:
    return Base(
        name=row.name,
        fibre_frac={Fibre(fibre): float(share) for fibre, share in row.fibre_frac.items()},
        is_superwash=row.is_superwash,
        undyed_lab=lab_of(row, "undyed"),
        skein_g=row.skein_g,
        kept_l_kg=row.kept_l_kg,
        note=row.note,
        id=row.id,
    )


def _vessel(row: VesselRow) -> Vessel:
    return Vessel(
        name=row.name,
        volume_l=row.volume_l,
        heating=row.heating,
        diameter_m=row.diameter_m,
        has_lid=row.has_lid,
        power_w=row.power_w,
        turns_per_min=row.turns_per_min,
        id=row.id,
    )
