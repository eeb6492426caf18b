"""What a run keeps of its forecasts and its lesson as it goes: called where events are recorded."""

from datetime import datetime
from uuid import UUID

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from dyewright.core.model import Event, RunState, Sheet
from dyewright.core.progress import progress
from dyewright.errors import StudioError
from dyewright.records import lessons, runs
from dyewright.services.forecasting.foretell import clear_foretold, forecast_from
from dyewright.services.forecasting.seen import observed_in
from dyewright.services.learning.foretold import AFTER, BEFORE, foretold_event, foretold_id, in_short
from dyewright.services.learning.lessons import learn_from, learnt_for
from dyewright.services.unplain import from_plain

__all__ = ["foretold_before", "keep_what_it_taught"]


def foretold_before(session: Session, run_id: UUID, sheet: Sheet, *, at: datetime) -> Event:
    """Return the event that keeps what is expected of a run that is being planned, all pots so far counted."""
    said = learnt_for(session, sheet)
    untaught = None if said is None else clear_foretold(sheet)
    told = in_short(forecast_from(sheet, learnt=said, is_advised=False), BEFORE, untaught=untaught)
    return foretold_event(run_id, told, at=at)


def keep_what_it_taught(session: Session, run_id: UUID, *, now: datetime) -> None:
    """Learn from a run that is dyed, and keep with it what its forecast says at the end; to be called after its events.

    It is kept beside what was foretold before; a run from before that was kept goes without. What was read until now
    counts; an undone event does not. While the pot is still on, nothing is kept. What was recorded stays so, whether or
    not this version can compute from it.
    """
    try:
        with session.begin_nested():
            _keep_what_it_taught(session, run_id, now=now)
    except (IntegrityError, StudioError):  # another connection kept the same just now; or there is no computing from it
        return


def _keep_what_it_taught(session: Session, run_id: UUID, *, now: datetime) -> None:
    run = runs.run(session, run_id)
    if run.state not in {RunState.DYED, RunState.KEPT}:
        lessons.remove_lesson(session, run_id)
        return
    learn_from(session, run_id)
    kept = {event.id for event in run.events}
    if foretold_id(run_id, BEFORE) not in kept or foretold_id(run_id, AFTER) in kept:
        return
    sheet = from_plain(Sheet, run.sheet)
    observed = observed_in(progress(run.sheet, run.events, now=now), sheet)
    said = learnt_for(session, sheet, before_number=run.number)
    told = in_short(forecast_from(sheet, observed, learnt=said), AFTER)
    runs.append_event(session, foretold_event(run_id, told, at=now))
