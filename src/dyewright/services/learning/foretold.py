"""What a run was expected to do, in short, as the run keeps it: before the dyeing, and with what was seen of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Band, ClearTime, Event, EventKind, Forecast, RestsOn, Run
from dyewright.core.progress import standing_events
from dyewright.services.plain import plain
from dyewright.services.unplain import from_plain

__all__ = ["AFTER", "BEFORE", "Foretold", "foretold_event", "foretold_id", "foretold_in", "in_short"]

BEFORE, AFTER = "before", "after"
CURVE_POINTS = 20  # enough to draw the band again
MINUTE_DIGITS, SHARE_DIGITS = 1, 3
NOT_FORETOLD = Band(mid=None, low=None, high=None)


@dataclass(frozen=True)
class Foretold:
    """A forecast in short. `moment` says when it was told; the curves are the whole bath's, at a few of its times.

    `untaught_clear_at_min` is what class estimates alone would have said, where pots of the studio count.
    """

    moment: str
    clear_at_min: ClearTime
    mostly_clear_at_min: ClearTime
    final_exhaustion: Band
    cooled_clear_frac: float | None
    rinses: Band
    felting_index: float | None
    felting: str
    level: str
    uneven_frac: float | None
    t_min: tuple[float, ...]
    exhaustion: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    rests_on: tuple[RestsOn, ...]
    untaught_clear_at_min: ClearTime | None = None


def foretold_event(run_id: UUID, told: Foretold, *, at: datetime) -> Event:
    """Return the event that keeps a forecast with its run."""
    values = plain(told)
    assert isinstance(values, dict)  # noqa: S101 - of a dataclass
    return Event(foretold_id(run_id, told.moment), run_id, EventKind.FORETOLD, at, at, values)


def foretold_id(run_id: UUID, moment: str) -> UUID:
    """Return the id of a run's forecast of a moment: the same each time, so that it is kept once."""
    return uuid5(run_id, f"foretold {moment}")


def foretold_in(run: Run) -> dict[str, Foretold]:
    """Return the forecasts that a run keeps, by their moment."""
    kept = [event for event in standing_events(run.events) if event.kind is EventKind.FORETOLD]
    return {told.moment: told for told in (from_plain(Foretold, event.detail) for event in kept)}


def in_short(told: Forecast, moment: str, *, untaught: ClearTime | None = None) -> Foretold:
    """Return a forecast in short.

    Args:
        told: as pages show it.
        moment: BEFORE or AFTER.
        untaught: when class estimates alone expect the bath clear, where pots of the studio count.
    """
    curve = told.bath
    places: list[int] = np.unique(np.linspace(0, len(told.t_min) - 1, CURVE_POINTS).astype(int)).tolist()
    wash, felting, level = told.wash_off, told.felting, told.level
    return Foretold(
        moment=moment,
        clear_at_min=_minutes(told.clear_at_min),
        mostly_clear_at_min=_minutes(told.mostly_clear_at_min),
        final_exhaustion=_shares(told.final_exhaustion),
        cooled_clear_frac=_rounded(told.cooled_clear_frac, SHARE_DIGITS),
        rinses=NOT_FORETOLD if wash is None else _shares(wash.rinses),
        felting_index=None if felting is None else _rounded(felting.index, SHARE_DIGITS),
        felting="" if felting is None else felting.rating,
        level="" if level is None else level.rating,
        uneven_frac=None if level is None else _rounded(level.uneven_frac, SHARE_DIGITS),
        t_min=() if curve.exhaustion is None else _picked(told.t_min, places),
        exhaustion=_picked(curve.exhaustion, places),
        low=_picked(curve.low, places),
        high=_picked(curve.high, places),
        rests_on=told.rests_on,
        untaught_clear_at_min=None if untaught is None else _minutes(untaught),
    )


def _picked(curve: NDArray[np.float64] | None, places: Sequence[int]) -> tuple[float, ...]:
    return () if curve is None else tuple(round(float(curve[place]), SHARE_DIGITS) for place in places)


def _minutes(when: ClearTime) -> ClearTime:
    return ClearTime(
        mid=_rounded(when.mid, MINUTE_DIGITS),
        low=_rounded(when.low, MINUTE_DIGITS),
        high=_rounded(when.high, MINUTE_DIGITS),
        never_frac=_rounded(when.never_frac, SHARE_DIGITS),
    )


def _shares(band: Band) -> Band:
    return Band(*(_rounded(value, SHARE_DIGITS) for value in (band.mid, band.low, band.high)))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(float(value), digits)
