"""What one tap of the pot screen records, as a plain form sends it: readings, answers to questions, waters."""

import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import PotView, StepKind
from dyewright.errors import InputError
from dyewright.records import runs
from dyewright.services import running
from dyewright.services._events import ABOUT, WATER
from dyewright.services.questions import Question, ask, sure_limits

__all__ = ["observe", "place_to_go_on"]

NUMBER_KEYS = {"temperature": "bath_c", "clarity": "exhaustion", "ph": "ph", "rinsed": "rinses"}
TEXT_KEYS = {"addition": "what", "note": "text"}
IS_SURE = "is_sure"
PLACES = {"pot": "/pot", "forecast": "/forecast", "run": ""}

Form = Mapping[str, str]
Sent = dict[str, object]


def observe(session: Session, run_id: UUID, typed: Form, *, now: datetime) -> Question | None:
    """Record what one plain form of the pot screen says; return a question where its value can hardly be.

    A form with `sure` records the value as it is.

    Raises:
        InputError: a kind that the screen does not offer, or a value beyond its limits.
    """
    kind, value = typed.get("kind", ""), typed.get("value", "").strip()
    sent: Sent = {"id": typed.get("id", ""), "kind": kind, "happened_at": now.isoformat()}
    if kind in NUMBER_KEYS:
        number = _read(kind, value)
        sheet: Mapping[str, Any] = runs.run(session, run_id).sheet
        question = None if "sure" in typed else ask(kind, number, sure_limits(sheet.get("ph_closed")))
        if question is not None:
            return question
        sent["detail"] = {NUMBER_KEYS[kind]: number} | ({IS_SURE: True} if "sure" in typed else {})
    elif kind in TEXT_KEYS:
        sent["detail"] = {TEXT_KEYS[kind]: value}
    elif kind in {"next", "clear", "colours"}:
        _step_or_water(session, run_id, sent, value, now)
        return None
    elif kind == "reread":
        _reread(session, run_id, sent, value, typed.get(ABOUT, ""), now)
        return None
    else:
        sent |= _answer(kind, value, typed)
    running.record_event(session, run_id, sent, now=now)
    return None


def place_to_go_on(typed: Form) -> str:
    """Return which page of the run a form goes on to, as the end of its address."""
    return PLACES.get(typed.get("back", ""), PLACES["pot"])


def _answer(kind: str, value: str, typed: Form) -> Sent:
    """Return what an answer to a question records, so that the question does not come back."""
    about = typed.get(ABOUT, "")
    match kind:
        case "undo":
            return {"kind": "correction", "corrects": typed.get("corrects") or about}
        case "answer":
            return {"kind": "note", "detail": {"text": value, ABOUT: about}}
        case "dye":
            return {"kind": "addition", "detail": {"what": "dye", "text": value, ABOUT: about}}
    return {}


def _reread(session: Session, run_id: UUID, sent: Sent, value: str, about: str, now: datetime) -> None:
    """Take a temperature back and record it anew, at its own time, as it was meant."""
    meant = [event for event in runs.run(session, run_id).events if str(event.id) == about]
    if not meant:
        raise InputError(
            "the reading that this answers is not in this run; load the page again", field=ABOUT, value=about
        )
    detail = {"bath_c": _read("temperature", value)}
    again = {"kind": "temperature", "detail": detail, "happened_at": meant[0].happened_at.isoformat()}
    running.record_event(session, run_id, sent | again, now=now)
    taken_back = {"id": str(uuid5(UUID(str(sent["id"])), "back")), "kind": "correction", "corrects": about}
    running.record_event(session, run_id, sent | taken_back, now=now)


def _step_or_water(session: Session, run_id: UUID, sent: Sent, value: str, now: datetime) -> None:
    """Record the next step, or a water that is clear or still colours together with the rinsing step that it ends."""
    pot = running.pot_view(session, run_id, now=now)
    kind = sent["kind"]
    if kind == "next":
        if pot.current is None:
            raise InputError("every step of this sheet is done already")
        done: str | None = pot.current.key
    else:
        water = int(_read("rinsed", value))
        detail = {"rinses": water} if kind == "clear" else {"text": f"water {water} still colours", WATER: water}
        event = {"kind": "rinsed" if kind == "clear" else "note", "detail": detail}
        running.record_event(session, run_id, sent | event, now=now)
        done = _rinse_done(pot, is_clear=kind == "clear")
        sent["id"] = str(uuid5(UUID(str(sent["id"])), "step"))
    if done is not None:
        running.record_event(session, run_id, sent | {"kind": "step done", "detail": {"step": done}}, now=now)


def _rinse_done(pot: PotView, *, is_clear: bool) -> str | None:
    """Return the step that a water ends: the last rinsing step once clear, else the one that is now if more follow."""
    if pot.current is None or pot.current.kind != StepKind.RINSE:
        return None
    ahead = [step.key for step in pot.ahead if step.kind == StepKind.RINSE]
    if is_clear:
        return ahead[-1] if ahead else pot.current.key
    return pot.current.key if ahead else None


def _read(kind: str, text: str) -> float:
    if kind == "temperature":
        return units.temperature_c(text, field=kind, thing="bath temperature", default_unit="C")
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(f"{kind} '{text}' is not a number; write for example 4.5", field=kind, value=text)
    return number
