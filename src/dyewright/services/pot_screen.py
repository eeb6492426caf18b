"""The pot screen: how the run stands now, the bath's own clarity ladder, and one-tap observations."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import PotView, Run
from dyewright.errors import InputError
from dyewright.records import runs
from dyewright.services import running
from dyewright.services.bath_colours import Glass, clarity_ladder
from dyewright.services.forecasting import view as forecast_view
from dyewright.services.plain import plain

__all__ = ["observe", "pot_screen"]

NUMBER_KEYS = {"clarity": "exhaustion", "ph": "ph"}
TEXT_KEYS = {"addition": "what", "note": "text"}


def pot_screen(session: Session, run_id: UUID, *, now: datetime) -> dict[str, object]:
    """Return what the pot screen shows, and the state from which the page keeps itself right between visits."""
    run = runs.run(session, run_id)
    pot = running.pot_view(session, run_id, now=now)
    ladder: tuple[Glass, ...] = clarity_ladder(session, run.sheet)
    return {
        "pot": pot,
        "ladder": ladder,
        "forecast": forecast_view.pot_forecast(session, run_id, now=now),
        "addition": _addition(run.sheet, pot),
        "state": _state(run, pot, now),
    }


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
        "steps": steps,
        "events": events,
        "t_min": run.sheet.get("t_min") or [],
        "bath_c": run.sheet.get("bath_c") or [],
    }
    answer = plain(state)
    assert isinstance(answer, dict)  # noqa: S101 - a mapping stays one
    return answer


def observe(session: Session, run_id: UUID, typed: Mapping[str, str], *, now: datetime) -> None:
    """Record what one plain form of the pot screen says.

    Raises:
        InputError: a kind that the screen does not offer, or a value beyond its limits.
    """
    kind, value = typed.get("kind", ""), typed.get("value", "").strip()
    sent: dict[str, object] = {"id": typed.get("id", ""), "kind": kind, "happened_at": now.isoformat()}
    if kind == "temperature":
        bath_c = units.temperature_c(value, field="temperature", thing="bath temperature", default_unit="C")
        sent["detail"] = {"bath_c": bath_c}
    elif kind in NUMBER_KEYS:
        sent["detail"] = {NUMBER_KEYS[kind]: _number(value, kind)}
    elif kind in TEXT_KEYS:
        sent["detail"] = {TEXT_KEYS[kind]: value}
    elif kind == "undo":
        sent |= {"kind": "correction", "corrects": typed.get("corrects", "")}
    elif kind == "next":
        pot = running.pot_view(session, run_id, now=now)
        if pot.current is None:
            raise InputError("every step of this sheet is done already")
        sent |= {"kind": "step done", "detail": {"step": pot.current.key}}
    running.record_event(session, run_id, sent, now=now)


def _number(text: str, kind: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"{kind} '{text}' is not a number; write for example 88", field=kind, value=text) from None
