"""How a run stands: the planned steps beside what happened, with times that stay right when a phone sleeps."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from dyewright.core.model.run import Event, EventKind, RunState

__all__ = [
    "Addition",
    "LogLine",
    "PotView",
    "Progress",
    "ReadClarity",
    "ReadPh",
    "ReadTemperature",
    "StepProgress",
    "StepState",
]


class StepState(StrEnum):
    """How far one step is. PASSED: a later step is done, and nobody recorded this one."""

    DONE = "done"
    PASSED = "passed"
    NOW = "now"
    AHEAD = "ahead"


@dataclass(frozen=True)
class StepProgress:
    """One step of the sheet and what became of it.

    `at_min` and `duration_min` are as planned; `planned_at` is the planned instant, known once heat is on. `began_at`
    and `done_at` are what happened; `ends_at` is when a step that is now, or ahead, ends as things stand. None is not
    known. `late_min` is how much later than planned it was done (below 0: earlier). `event_id` is the event to undo.
    """

    key: str
    kind: str
    title: str
    text: str
    caution: str | None
    state: StepState
    at_min: float | None
    duration_min: float | None
    at_c: float | None
    is_wait: bool
    planned_at: datetime | None = None
    began_at: datetime | None = None
    done_at: datetime | None = None
    ends_at: datetime | None = None
    late_min: float | None = None
    event_id: UUID | None = None


@dataclass(frozen=True)
class ReadTemperature:
    """A temperature of the bath that was read, beside the planned one at that minute (None outside the plan)."""

    event_id: UUID
    happened_at: datetime
    at_min: float | None
    bath_c: float
    planned_c: float | None


@dataclass(frozen=True)
class ReadClarity:
    """A spoonful of bath compared with the clarity ladder: the share of the dye that is in the fibre, 0 to 1.

    `sd_rungs` is its doubt in halvings of the bath where it was read from a photo.
    """

    event_id: UUID
    happened_at: datetime
    at_min: float | None
    exhaustion: float
    sd_rungs: float | None = None


@dataclass(frozen=True)
class ReadPh:
    """A pH that was read."""

    event_id: UUID
    happened_at: datetime
    at_min: float | None
    ph: float


@dataclass(frozen=True)
class Addition:
    """Something that was put into the bath, as the dyer said it."""

    event_id: UUID
    happened_at: datetime
    at_min: float | None
    what: str
    amount: str | None


@dataclass(frozen=True)
class Progress:
    """Planned against happened, as seen at `now`.

    `heat_on_at` is t = 0 of the sheet, None before; `minutes` is how long ago that was. `current` is the step to do
    now, None when all are done; `ends_at` when it ends, for a timer. `standing` are the events that are not undone,
    corrections left out; readings come from these. `rinses` is the
    number of waters until the first clear one, as last recorded.
    """

    now: datetime
    state: RunState
    heat_on_at: datetime | None
    minutes: float | None
    current: StepProgress | None
    ends_at: datetime | None
    steps: tuple[StepProgress, ...]
    temperatures: tuple[ReadTemperature, ...]
    clarities: tuple[ReadClarity, ...]
    phs: tuple[ReadPh, ...]
    additions: tuple[Addition, ...]
    rinses: int | None
    standing: tuple[Event, ...]

    @property
    def ahead(self) -> tuple[StepProgress, ...]:
        """The steps after the one that is now."""
        return tuple(step for step in self.steps if step.state is StepState.AHEAD)


@dataclass(frozen=True)
class LogLine:
    """One event as a line to read: `words` say what happened; an undone line stays, marked."""

    id: UUID
    kind: EventKind
    happened_at: datetime
    recorded_at: datetime
    words: str
    is_undone: bool
    can_undo: bool


@dataclass(frozen=True)
class PotView:
    """What the pot screen shows. `index` is the place of the current step, `done` the keys of the steps done.

    `ends_at` is the instant that a timer counts to. `last_temperature_c` and `last_clarity` are the newest readings.
    """

    run_id: UUID
    number: int
    title: str
    state: RunState
    heat_on_at: datetime | None
    minutes: float | None
    current: StepProgress | None
    index: int
    ends_at: datetime | None
    ahead: tuple[StepProgress, ...]
    steps: tuple[StepProgress, ...]
    done: tuple[str, ...]
    last_temperature_c: float | None
    last_clarity: float | None
    log: tuple[LogLine, ...]
