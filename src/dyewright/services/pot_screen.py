"""The pot screen: how the run stands now, the bath's own clarity ladder, the waters counted."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Band, EventKind, PotView, Run, StepKind
from dyewright.core.progress import progress
from dyewright.records import runs
from dyewright.services import running
from dyewright.services._events import WATER
from dyewright.services.bath_colours import Glass, clarity_ladder
from dyewright.services.forecast_pages import view as forecast_view
from dyewright.services.plain import plain
from dyewright.services.questions import sure_limits

__all__ = ["pot_screen"]


@dataclass(frozen=True)
class Waters:
    """The waters counted so far: the one that is next, in how many the yarn came clear, and how many are expected."""

    next_water: int
    clear_in: int | None
    is_time: bool
    expected: int | None

    @property
    def words(self) -> str:
        """The question about the next water, or that it is done."""
        if self.clear_in is not None:
            return f"Clear in rinse {self.clear_in}."
        of_about = "" if self.expected is None or self.next_water > self.expected else f" of about {self.expected}"
        return f"Rinse {self.next_water}{of_about}: is its water clear in a white bowl?"


def pot_screen(session: Session, run_id: UUID, *, now: datetime) -> dict[str, object]:
    """Return what the pot screen shows, and the state from which the page keeps itself right between visits."""
    run = runs.run(session, run_id)
    pot = running.pot_view(session, run_id, now=now)
    ladder: tuple[Glass, ...] = clarity_ladder(session, run.sheet)
    forecast = forecast_view.pot_forecast(session, run_id, now=now)
    return {
        "pot": pot,
        "ladder": ladder,
        "forecast": forecast,
        "waters": _waters(run, pot, now, forecast.rinses),
        "addition": _addition(run.sheet, pot),
        "state": _state(run, pot, now),
    }


def _waters(run: Run, pot: PotView, now: datetime, rinses: Band | None) -> Waters:
    """Return how the rinsing stands: its time has come once a rinsing step is now, or behind."""
    seen = progress(run.sheet, run.events, now=now)
    tried = [event.detail[WATER] for event in seen.standing if event.kind is EventKind.NOTE and WATER in event.detail]
    rinsing = [index for index, step in enumerate(pot.steps) if step.kind == StepKind.RINSE]
    return Waters(
        next_water=1 + max((int(str(water)) for water in tried), default=0),
        clear_in=seen.rinses,
        is_time=pot.heat_on_at is not None and bool(rinsing) and pot.index >= rinsing[0],
        expected=None if rinses is None or rinses.mid is None else round(rinses.mid),
    )


def _addition(sheet: Mapping[str, Any], pot: PotView) -> str:
    """Return what one tap on "Acid added" records: the assistant that is due with its amount, else only its name."""
    assistants: list[Mapping[str, Any]] = list(sheet.get("assistants", ()))
    due_late = [step for step in pot.steps if step.key.startswith("add-") and step.key not in {*pot.done, "add-start"}]
    is_start_due = "add-start" not in pot.done
    for assistant in assistants:
        if is_start_due if assistant["when"] == "start" else bool(due_late):
            amount = assistant["amount"]
            shown = units.show_volume(amount / 1000) if assistant["unit"] == "mL" else units.show_mass(amount)
            return f"{assistant['name']}, {shown}"
    return str(assistants[0]["name"]) if assistants else "acid"


def _state(run: Run, pot: PotView, now: datetime) -> dict[str, object]:
    sheet: Mapping[str, Any] = run.sheet
    steps = [
        {key: getattr(step, key) for key in ("key", "kind", "title", "text", "caution", "duration_min", "is_wait")}
        for step in pot.steps
    ]
    events = [
        {
            "id": event.id,
            "kind": event.kind,
            "happened_at": event.happened_at,
            "detail": event.detail,
            "corrects": event.corrects,
        }
        for event in run.events
    ]
    state = {
        "now": now,
        "sure": sure_limits(sheet.get("ph_closed")),
        "steps": steps,
        "events": events,
        "t_min": sheet.get("t_min") or [],
        "bath_c": sheet.get("bath_c") or [],
    }
    answer = plain(state)
    assert isinstance(answer, dict)  # noqa: S101 - a mapping stays one
    return answer
