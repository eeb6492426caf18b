"""Heat-ups of the studio's vessels, as they were measured."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import MeasuredHeatUp
from dyewright.records._rows import found
from dyewright.records.tables import HeatUpRow, VesselRow

__all__ = ["add_heat_up", "heat_ups", "remove_heat_up"]


def heat_ups(session: Session, vessel_id: int | None = None) -> list[MeasuredHeatUp]:
    """Return the heat-ups of one vessel, or of all, in the order in which they were entered."""
    query = select(HeatUpRow).order_by(HeatUpRow.id)
    if vessel_id is not None:
        query = query.where(HeatUpRow.vessel_id == vessel_id)
    return [_heat_up(row) for row in session.scalars(query)]


def add_heat_up(session: Session, heat_up: MeasuredHeatUp) -> MeasuredHeatUp:
    """Keep a heat-up.

    Raises:
        NotFoundError: the vessel is not in the studio.
    """
    found(session, VesselRow, heat_up.vessel_id)
    row = HeatUpRow(
        vessel_id=heat_up.vessel_id,
        knob=heat_up.knob,
        water_l=heat_up.water_l,
        has_lid=heat_up.has_lid,
        readings=[list(reading) for reading in heat_up.readings],
        room_c=heat_up.room_c,
        measured_on=heat_up.measured_on,
        note=heat_up.note,
    )
    session.add(row)
    session.flush()
    return replace(heat_up, id=row.id)


def remove_heat_up(session: Session, heat_up_id: int) -> None:
    """Remove a heat-up that was measured or entered wrongly."""
    session.delete(found(session, HeatUpRow, heat_up_id))
    session.flush()


def _heat_up(row: HeatUpRow) -> MeasuredHeatUp:
    return MeasuredHeatUp(
        vessel_id=row.vessel_id,
        knob=row.knob,
        water_l=row.water_l,
        has_lid=row.has_lid,
        readings=tuple((at_min, bath_c) for at_min, bath_c in row.readings),
        room_c=row.room_c,
        measured_on=row.measured_on,
        note=row.note,
        id=row.id,
    )
