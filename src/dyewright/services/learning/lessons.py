"""The lessons of a studio's runs: computed from what was recorded, kept beside them, read before the next pot."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.learning import WatchedPot, learnt, lesson
from dyewright.core.model import (
    EventKind,
    Learnt,
    Lesson,
    LevelLesson,
    Observed,
    Progress,
    Run,
    RunState,
    Sheet,
)
from dyewright.core.progress import progress
from dyewright.core.uptake import Ensemble, Outlook, retimed, wild_readings
from dyewright.data.uptake import load_uptake
from dyewright.data.version import shipped_data_version
from dyewright.errors import StudioError
from dyewright.records import lessons as records_of
from dyewright.records import photos, runs
from dyewright.services.forecasting.fixing import dyed_on_protein
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.forecasting.grounds import half_uptake, half_words, subjects_of, thing_of
from dyewright.services.forecasting.inputs import dye_bath, modelled_dyes, planned_course
from dyewright.services.forecasting.rinsing import washed, waters_of
from dyewright.services.forecasting.seen import observed_in
from dyewright.services.learning.surprises import surprises
from dyewright.services.unplain import from_plain

__all__ = ["learn_from", "learnt_for", "relearn", "taught_words"]

LESSON_VERSION = 3  # raised when a lesson is computed in another way, so that those on record are computed anew
DYED = {RunState.DYED, RunState.KEPT}
LEVEL_RATINGS = {"even", "slightly uneven"}  # of the verdict; a pot is level where every skein is one of them


def learn_from(session: Session, run_id: UUID) -> None:
    """Keep what a run taught, computed from what stands in its record now; forget it where nothing is left.

    A run teaches once it is dyed.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    run = runs.run(session, run_id)
    taught = _lesson_of(session, run)
    if taught is None:
        records_of.remove_lesson(session, run_id)
    else:
        records_of.save_lesson(session, run_id, taught, made_with=_made_with())


def relearn(session: Session) -> int:
    """Compute the lessons that are missing or were computed in an earlier way, and return how many runs were read.

    A run whose record this version cannot compute from teaches nothing; it does not keep the studio shut.
    """
    waiting = records_of.runs_without_lesson(session, _made_with())
    for run_id in waiting:
        try:
            learn_from(session, run_id)
        except StudioError:
            records_of.remove_lesson(session, run_id)
    return len(waiting)


def learnt_for(session: Session, sheet: Sheet, *, before_number: int | None = None) -> Learnt | None:
    """Return what the studio's pots taught of the dyes of a sheet; None before the first lesson.

    Args:
        session: of the studio.
        sheet: the pot that is ahead, or was.
        before_number: only runs numbered below it count: a run's own lesson never counts in its own forecast.
    """
    told = records_of.lessons(session, before_number=before_number)
    if not told:
        return None
    return learnt(subjects_of(sheet, modelled_dyes(sheet, load_uptake())), list(told.values()))


def taught_words(sheet: Sheet, observed: Observed) -> tuple[str, ...]:
    """Return what one pot alone teaches of its dyes, in words: "Rowan on wool: half uptake at 76 °C ± 4, …"."""
    told = _bath_lesson(sheet, observed)
    if told is None:
        return ()
    said = learnt(told.subjects, [told])
    halves = [half_uptake(said, place) for place in range(len(said.subjects))]
    known = [(thing_of(subject), half) for subject, half in zip(said.subjects, halves, strict=True) if half is not None]
    return tuple(f"{thing}: {half_words(half)}" for thing, half in known)


def _made_with() -> str:
    return f"lesson {LESSON_VERSION}, tables {shipped_data_version()}"


def _lesson_of(session: Session, run: Run) -> Lesson | None:
    seen = progress(run.sheet, run.events, now=run.created_at)  # what has happened does not hang on the present
    if seen.state not in DYED:
        return None
    sheet = from_plain(Sheet, run.sheet)
    observed = observed_in(seen, sheet)
    told = _bath_lesson(sheet, observed)
    level = _level_lesson(session, seen, sheet, observed)
    if told is None and level is None:
        return None
    told = told or Lesson(subjects=(), precision=(), pull=(), readings=0)
    return replace(told, level=level, surprises=surprises(run, sheet, seen, observed))


def _bath_lesson(sheet: Sheet, observed: Observed) -> Lesson | None:
    """Return what the bath told of its dyes; None where one of them has no model: the bath is all of them."""
    tables = load_uptake()
    modelled = modelled_dyes(sheet, tables)
    if len(modelled.places) < len(sheet.card.dyes):
        return None
    planned = planned_course(sheet)
    wild = wild_readings(planned, observed.temperatures)
    course = retimed(planned, [one for one in observed.temperatures if one not in wild])

    def waters(outlook: Outlook, ensemble: Ensemble) -> NDArray[np.float64]:
        return waters_of(washed(sheet, dyed_on_protein(sheet, modelled, outlook, ensemble)))

    pot = WatchedPot(
        bath=dye_bath(sheet, modelled, course, observed.phs),
        dyes=modelled.kinds,
        saturation_owf=[tables.saturation_owf[fibre] for fibre in modelled.fibres],
        is_superwash=sheet.card.yarn.is_superwash,
        hold_end_min=course.hold_end_min,
        waters=waters,
    )
    return lesson(subjects_of(sheet, modelled), pot, observed)


def _level_lesson(session: Session, seen: Progress, sheet: Sheet, observed: Observed) -> LevelLesson | None:
    """Return how even the last standing verdict found the skeins, beside the index before anything was learnt."""
    verdicts = [event for event in seen.standing if event.kind is EventKind.JUDGED]
    foretold = forecast_from(sheet, observed, is_advised=False).level if verdicts else None
    if foretold is None:
        return None
    judged: Mapping[str, Any] = photos.judgement(session, UUID(str(verdicts[-1].detail["judgement_id"]))).result
    evenness: Sequence[Mapping[str, Any]] = [skein["evenness"] for skein in judged["skeins"]]
    if not evenness:
        return None
    return LevelLesson(
        index=foretold.peak_pct_per_min / foretold.limit_pct_per_min,
        is_level=all(one["rating"] in LEVEL_RATINGS for one in evenness),
        evenness_de00=max(float(one["de00_p95"]) for one in evenness),
    )
