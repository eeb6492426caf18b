"""A run: one dyeing that happened, as an append-only list of events; and the lot that came out of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from uuid import UUID

__all__ = [
    "Event",
    "EventKind",
    "Judgement",
    "Lot",
    "LotSummary",
    "Outcome",
    "Photo",
    "Receipt",
    "Run",
    "RunState",
    "RunSummary",
    "Skein",
]


class EventKind(StrEnum):
    """What can happen in a run.

    STARTED is the moment that the sheet counts from: yarn and dye are in and heat goes on (t = 0).
    """

    PLANNED = "planned"
    STARTED = "started"
    STEP_DONE = "step done"
    TEMPERATURE = "temperature"
    ADDITION = "addition"
    CLARITY = "clarity"
    PH = "ph"
    RINSED = "rinsed"
    NOTE = "note"
    PHOTO = "photo"
    FINISHED = "finished"
    JUDGED = "judged"
    KEPT = "kept"
    FORETOLD = "foretold"
    CORRECTION = "correction"


class RunState(StrEnum):
    """How far a run has come, read from its events."""

    PLANNED = "planned"
    AT_THE_POT = "at the pot"
    DYED = "dyed"
    KEPT = "kept"


@dataclass(frozen=True)
class Event:
    """One thing that happened. The client makes `id`, so that sending it twice records it once.

    `happened_at` is when it happened at the pot (a late entry has its own time); `recorded_at` is when the studio got
    it; both are UTC. `detail` holds plain values, keyed with their units:

    - STEP_DONE: `step`, the key of a step of the sheet.
    - TEMPERATURE: `bath_c`, and `knob` where the setting was said.  CLARITY: `exhaustion`, 0 to 1, `sd_rungs`
      where a photo says its doubt, and `bath_c` where only the bath's temperature was noted, not the minute.  PH: `ph`.
      A CLARITY or a NOTE from a photo of the starting bath: its absorbance `start_red`, `start_green`, `start_blue`.
    - RINSED: `rinses`, the waters up to and including the first clear one.
    - FORETOLD: `moment` ("before" or "after") and the forecast then in short; the studio records it, so that a run
      keeps what was expected of it.
    - ADDITION: `what`, and `amount` as text where it was said.  NOTE: `text`, and `water` where it says which
      water still coloured.  PHOTO: `photo_id`.
    - JUDGED: `judgement_id`.  KEPT: `lot_id`.  Any kind may carry a `text` beside, a NOTE
      or an ADDITION also `about`, the event that it answers a question for, and a number `is_sure`.

    A CORRECTION undoes the event `corrects`; a corrected event stays in the record.
    """

    id: UUID
    run_id: UUID
    kind: EventKind
    happened_at: datetime
    recorded_at: datetime
    detail: Mapping[str, object] = field(default_factory=dict)
    corrects: UUID | None = None


@dataclass(frozen=True)
class Run:
    """One dyeing with the inputs it was planned from, so that it can be recomputed and explained later.

    `card_toml` is the card's text as planned; `package_version` and `data_version` say what computed the sheet;
    `sheet` is the planned sheet as plain values, as it was shown that day.
    """

    id: UUID
    number: int
    title: str
    card_toml: str
    sheet: Mapping[str, object]
    package_version: str
    data_version: str
    created_at: datetime
    state: RunState = RunState.PLANNED
    colourway_id: int | None = None
    base_id: int | None = None
    repeats_run_id: UUID | None = None
    events: tuple[Event, ...] = ()


@dataclass(frozen=True)
class RunSummary:
    """One line of the list of runs.

    `lab` is the mean colour of its judged skeins, `target_lab` that of its colourway, both for D65 and 10°; None where
    it is not known.
    """

    id: UUID
    number: int
    title: str
    created_at: datetime
    state: RunState
    base: str | None
    dyes: tuple[str, ...]
    lots: tuple[str, ...] = ()
    lab: tuple[float, float, float] | None = None
    target_lab: tuple[float, float, float] | None = None


class Outcome(StrEnum):
    """What became of an event that a client sent."""

    RECORDED = "recorded"
    ALREADY_HAD = "already had"
    REFUSED = "refused"


@dataclass(frozen=True)
class Receipt:
    """The answer to one event of a batch: `id` as the client sent it, and why where it was refused."""

    id: str
    outcome: Outcome
    sentence: str = ""


@dataclass(frozen=True)
class Photo:
    """A photo as it came: `sha256` of the bytes, media type, size in pixels; the bytes are fetched apart."""

    id: UUID
    run_id: UUID | None
    media_type: str
    sha256: str
    width_px: int
    height_px: int
    taken_at: datetime


@dataclass(frozen=True)
class Judgement:
    """A verdict on one photo, kept as computed (plain values with the keys of `judge --json`).

    `run_id` is None where a photo was judged that belongs to no run. `marks` are the form as it was filled in, so that
    the verdict can be traced and the photo marked again; `more_photo_ids` are further photos of the same lot.
    """

    id: UUID
    run_id: UUID | None
    photo_id: UUID
    judged_at: datetime
    result: Mapping[str, object]
    package_version: str
    marks: Mapping[str, str] = field(default_factory=dict)
    more_photo_ids: tuple[UUID, ...] = ()


@dataclass(frozen=True)
class Skein:
    """A skein of a lot, with the colour it was judged to have (D65, 10°) where it was judged.

    `matching_set` is the one that the dyer sells it with, `proposed_set` the one that its verdict proposed: where they
    differ, the dyer's own eye has spoken. `caution` is the sentence for the buyer on its label.
    """

    number: int
    mass_g: Decimal | None = None
    lab: tuple[float, float, float] | None = None
    matching_set: str | None = None
    note: str = ""
    proposed_set: str | None = None
    caution: str = ""


@dataclass(frozen=True)
class Lot:
    """The skeins that came out of one run; `judgement_id` is the verdict that their colours are from."""

    id: UUID
    run_id: UUID
    name: str
    kept_on: date
    note: str = ""
    skeins: tuple[Skein, ...] = ()
    judgement_id: UUID | None = None


@dataclass(frozen=True)
class LotSummary:
    """One line of the lot book: the lot with what its run says of it.

    `de76` is the CIE76 distance of the nearest skein to the colour that was searched for, None where none was.
    """

    lot: Lot
    run_number: int
    run_title: str
    base: str | None
    dyes: tuple[str, ...]
    de76: float | None = None
