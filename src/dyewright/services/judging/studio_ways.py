"""What a studio knows of the skeins that are judged: their dyes and its own swatches."""

from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import DyeClass, JudgeResult, Run, Settings, WayKind
from dyewright.core.skeins.lacking import UNDYED_LAB, Dyeing
from dyewright.errors import InputError
from dyewright.records import photos, runs, shelf
from dyewright.services.company import kept_apart
from dyewright.services.judging.labels import way_of
from dyewright.services.judging.topping_up import ToppingUp
from dyewright.services.judging.ways import with_ways
from dyewright.services.mix_doses import plan_query
from dyewright.services.running import planned_skeins
from dyewright.services.shelf_model import studio_shelf

__all__ = ["top_up_query", "topping_up_of", "with_studio_ways"]

USUAL_SKEIN_G = 100.0


def with_studio_ways(session: Session, run_id: UUID | None, result: JudgeResult) -> JudgeResult:
    """Return a verdict whose ways out know the dyes of the run and the studio's swatches."""
    run = None if run_id is None else runs.run(session, run_id)
    dyeing = _dyeing(session, run)
    if not any(way.kind is WayKind.TOP_UP for way in result.ways):
        return with_ways(result, dyeing)
    try:
        return with_ways(result, dyeing, topping_up_of(session, run))
    except InputError as error:  # no swatch that can be used
        return with_ways(result, dyeing, why_no_recipe=error.message)


def _dyeing(session: Session, run: Run | None) -> Dyeing:
    if run is None:
        return Dyeing()
    dyes: Any = run.sheet.get("dyes", ())
    base = None if run.base_id is None else shelf.base(session, run.base_id)
    undyed = UNDYED_LAB if base is None or base.undyed_lab is None else base.undyed_lab
    return Dyeing({dye["name"]: DyeClass(dye["dye_class"]) for dye in dyes}, undyed)


def topping_up_of(session: Session, run: Run | None) -> ToppingUp:
    """Return what a top-up is computed from.

    Raises:
        InputError: no swatch that can be used.
    """
    base = None if run is None or run.base_id is None else shelf.base(session, run.base_id)
    fitted = studio_shelf(session, None if base is None else base.name)
    settings = shelf.studio_settings(session) or Settings(name="")
    tubs = [tub for tub in shelf.dyes(session) if tub.name in fitted.model.dyes]
    dyes: Any = () if run is None else run.sheet.get("dyes", ())
    return ToppingUp(
        fitted.model,
        _skein_g(run, None if base is None else base.skein_g),
        settings.scale_resolution_g,
        own_dyes=tuple(dye["name"] for dye in dyes),
        apart=frozenset(kept_apart(tubs)),
    )


def _skein_g(run: Run | None, usual_g: float | None) -> float:
    planned = None if run is None else planned_skeins(run)[0].mass_g
    return float(planned) if planned else usual_g or USUAL_SKEIN_G


def top_up_query(session: Session, judgement_id: UUID, way_number: int) -> str | None:
    """Return the planning page's address part for a way's top-up; None where it has no recipe."""
    judgement = photos.judgement(session, judgement_id)
    top_up = way_of(judgement, way_number).get("top_up")
    if not top_up:
        return None
    run = None if judgement.run_id is None else runs.run(session, judgement.run_id)
    mix = {dye["name"]: dye["depth_percent"] / 100 for dye in top_up["dyes"]}
    return plan_query(mix, top_up["dry_g"], None if run is None else run.base_id)
