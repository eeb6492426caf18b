"""The page of one run, and the list of all: planned against happened, what came out, what can be done next."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.model import Colourway, EventKind, Lab, Lot, Run, RunState, StepProgress
from dyewright.core.progress import standing_events
from dyewright.photo.draw import without_outlines
from dyewright.photo.load import quick_photo
from dyewright.records import colourways, photos, runs, shelf
from dyewright.services import running
from dyewright.services._events import is_remark
from dyewright.services.keep_form import keep_form
from dyewright.services.learning.page import run_taught
from dyewright.services.running import RunView
from dyewright.sheets.charts import Theme
from dyewright.sheets.happened import happened_chart

__all__ = ["SHOWN_RUNS", "lot_against_target", "photo_as_shown", "run_page", "runs_page"]

SHOWN_RUNS = 40
CHART_AFTER_MIN = 15.0  # how much of the cooling the chart shows
WIDE_PX, NARROW_PX = 560, 250
LATE_KINDS = (  # what can be entered from the paper sheet, and what the value is
    (EventKind.TEMPERATURE, "Bath temperature, such as 88 C, 190 F or 88 C, knob 5 of 9"),
    (EventKind.CLARITY, "Share of dye taken up, such as 87 %, 7/8 or 1/2 at 68 C"),
    (EventKind.PH, "pH"),
    (EventKind.RINSED, "Rinses: which water was the first clear one"),
    (EventKind.ADDITION, "Addition: what and how much"),
    (EventKind.NOTE, "Note"),
    (EventKind.STARTED, "Heat on"),
    (EventKind.FINISHED, "Finished"),
)


@dataclass(frozen=True)
class StepLine:
    """A step as its row shows it; each text may be empty."""

    title: str
    planned: str
    done_at: datetime | None
    lateness: str
    is_passed: bool
    is_now: bool
    event_id: UUID | None


@dataclass(frozen=True)
class AgainstTarget:
    """A lot beside the colour that was meant: the worst of its skeins, in CIEDE2000 and in words."""

    target: Lab
    middle: Lab
    de00: float
    words: str


def runs_page(session: Session, *, below_number: int | None = None) -> dict[str, object]:
    """Return a page of the list of runs, newest first, and where the next page begins."""
    shown = runs.list_runs(session, limit=SHOWN_RUNS + 1, below_number=below_number)
    is_more = len(shown) > SHOWN_RUNS
    return {"runs": shown[:SHOWN_RUNS], "older": shown[SHOWN_RUNS - 1].number if is_more else None}


def run_page(
    session: Session, run_id: UUID, *, now: datetime, typed: Mapping[str, str], label: str = ""
) -> dict[str, object]:
    """Return everything that a run's page shows.

    Args:
        session: of the studio.
        run_id: the run.
        now: the present instant.
        typed: the form that was refused; empty where none was.
        label: the way out of the verdict whose sentence for the buyer is ticked beforehand.
    """
    view = running.run_view(session, run_id, now=now)
    colourway = None if view.run.colourway_id is None else colourways.colourway(session, view.run.colourway_id)
    return {
        "view": view,
        "run": view.run,
        "standing": _standing_words(view),
        "colourway": colourway,
        "against": {lot.id: lot_against_target(lot, colourway) for lot in view.lots},
        "log": [line for line in view.log if line.kind is not EventKind.STEP_DONE],
        "steps": [_step_line(step) for step in view.progress.steps],
        "chart": _chart(view, WIDE_PX),
        "chart_narrow": _chart(view, NARROW_PX),
        "last_time": _notes_of(view.repeats),
        "taught": run_taught(session, view.run, view.progress),
        "to_keep": keep_form(view, typed, label=label),
        "kept_numbers": {skein.number for lot in view.lots for skein in lot.skeins},
        "late_kinds": LATE_KINDS,
        "bases": shelf.bases(session),
        "vessels": shelf.vessels(session),
        "now": now,
        "is_for_later": view.run.state in {RunState.PLANNED, RunState.AT_THE_POT},
    }


def lot_against_target(lot: Lot, colourway: Colourway | None) -> AgainstTarget | None:
    """Return how a lot's mean colour stands to its colourway's target; None where either is not known."""
    labs = [skein.lab for skein in lot.skeins if skein.lab is not None]
    if colourway is None or colourway.target_lab is None or not labs:
        return None
    lightness, red_green, yellow_blue = (sum(axis) / len(labs) for axis in zip(*labs, strict=True))
    middle = (lightness, red_green, yellow_blue)
    target = colourway.target_lab
    return AgainstTarget(target, middle, float(delta_e00(target, middle)), difference_words(target, middle))


def photo_as_shown(session: Session, photo_id: UUID) -> bytes:
    """Return a photo as a JPEG that every browser shows, at most 1600 pixels a side."""
    return without_outlines(quick_photo(photos.photo_content(session, photo_id), name=f"photo {photo_id}"))


def _notes_of(repeated: Run | None) -> list[str]:
    """What was noted in the run that this one repeats, in its order."""
    if repeated is None:
        return []
    notes = (event for event in standing_events(repeated.events) if event.kind is EventKind.NOTE and is_remark(event))
    return [str(event.detail["text"]) for event in notes]


def _standing_words(view: RunView) -> str:
    """The page's one sentence: where the run stands."""
    match view.run.state:
        case RunState.PLANNED:
            return "Planned, not yet begun."
        case RunState.AT_THE_POT:
            step = view.progress.current
            return "Every step is done." if step is None else f"At the pot: {step.title[0].lower()}{step.title[1:]}."
        case RunState.DYED:
            return "Dyed. Judge the skeins when they are dry, then keep them."
        case RunState.KEPT:
            names = " and ".join(lot.name for lot in view.lots)
            return f"Kept as lot {names}."


def _step_line(step: StepProgress) -> StepLine:
    return StepLine(
        title=step.title,
        planned="" if step.at_min is None else _hours(step.at_min + (step.duration_min or 0.0)),
        done_at=step.done_at,
        lateness=_lateness(step.late_min),
        is_passed=step.state == "passed",
        is_now=step.state == "now",
        event_id=step.event_id,
    )


def _hours(minutes: float) -> str:
    """Minutes from heat on as hours and minutes: "0:45", "−0:21"."""
    whole = round(abs(minutes))
    return f"{'−' if minutes < 0 and whole else ''}{whole // 60}:{whole % 60:02}"


def _lateness(late_min: float | None) -> str:
    if late_min is None:
        return ""
    if abs(late_min) < 1:
        return "on time"
    return f"{units.show_duration(abs(round(late_min)))} {'late' if late_min > 0 else 'early'}"


def _chart(view: RunView, width_px: int) -> str | None:
    """The planned and the read temperatures; None for a run without a planned curve."""
    sheet: Mapping[str, Any] = view.run.sheet
    if not sheet.get("t_min"):
        return None
    cool_at = next((step["at_min"] for step in sheet["steps"] if step["kind"] == "cool"), None)
    read = [(reading.at_min, reading.bath_c) for reading in view.progress.temperatures if reading.at_min is not None]
    until = None if cool_at is None else cool_at + CHART_AFTER_MIN
    return happened_chart(sheet["t_min"], sheet["bath_c"], read, theme=Theme.LIGHT, width_px=width_px, until_min=until)
