"""Two dyes of the shelf worth setting beside each other: an acid one and a reactive one of about the same colour."""

from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e76
from dyewright.core.model import Base, DyeClass, Fibre, Lab
from dyewright.records import shelf
from dyewright.services.forecast_pages.view import dye_labs

__all__ = ["ReadyPair", "ready_pair"]


@dataclass(frozen=True)
class ReadyPair:
    """An acid milling dye and a reactive one, and a base of plain wool to compare them on."""

    acid: str
    reactive: str
    base: str


def ready_pair(session: Session) -> ReadyPair | None:
    """Return the pair, the acid dye being the one nearest in colour where both have a swatch; None without one."""
    dyes = shelf.dyes(session)
    reactive = next((dye for dye in dyes if dye.dye_class.is_reactive), None)
    milling = [dye for dye in dyes if dye.dye_class is DyeClass.ACID_MILLING and not dye.is_blend]
    base = next((one for one in shelf.bases(session) if _is_plain_wool(one)), None)
    if reactive is None or base is None or not milling:
        return None
    labs = dye_labs(session, [dye.name for dye in dyes])
    nearest = min(milling, key=lambda dye: _apart(labs.get(dye.name), labs.get(reactive.name)))
    return ReadyPair(nearest.name, reactive.name, base.name)


def _is_plain_wool(base: Base) -> bool:
    return not base.is_superwash and base.fibre_frac.get(Fibre.WOOL, 0.0) == 1.0


def _apart(lab: Lab | None, other: Lab | None) -> float:
    return float("inf") if lab is None or other is None else float(delta_e76(lab, other))
