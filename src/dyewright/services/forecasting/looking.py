"""What was seen at the pot, brought into its forecast: the course of the bath, and the samples that fit the looks."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from dyewright.core.model import ClarityReading, Learnt, Observed, Sheet, TemperatureReading
from dyewright.core.uptake import (
    Course,
    Drawn,
    Followed,
    Look,
    clarity_look,
    followed,
    lightened,
    look_ahead,
    prior_of,
    retimed,
    weighed,
    wild_readings,
)
from dyewright.data.uptake import load_uptake
from dyewright.services.forecasting.inputs import ModelledDyes, draw_dyes, dye_bath, hold_end_min, planned_course
from dyewright.services.forecasting.rinsing import Washed, rinse_look

__all__ = ["Watched", "drawn_for", "watched"]


NOTHING_SEEN = Observed()


@dataclass(frozen=True)
class Watched:
    """A pot that was looked at: its course, which temperatures were not believed, and the samples that fit.

    `at_heat` are the looks of which only the temperature was noted, with their minutes; None where the bath never gets
    there. `surprise_sd` is how far the looks that are believed lie from what was expected before any, the furthest.
    """

    course: Course
    wild: tuple[TemperatureReading, ...]
    at_heat: tuple[float | None, ...]
    followed: Followed
    surprise_sd: float


def drawn_for(
    sheet: Sheet,
    modelled: ModelledDyes,
    course: Course,
    observed: Observed = NOTHING_SEEN,
    *,
    learnt: Learnt | None,
    seed: int,
) -> Drawn:
    """Return samples of a sheet's dyes and what they do on a course.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        course: the bath's temperature.
        observed: of which strips count, and how late the bath was looked at.
        learnt: what is known of the dyes before the pot.
        seed: of the samples.
    """
    ensemble = draw_dyes(sheet, modelled, load_uptake(), learnt=learnt, seed=seed)
    bath = dye_bath(sheet, modelled, course, observed.phs)
    late_min = max((one.at_min for one in observed.clarities), default=0.0)
    until_min = min(late_min, hold_end_min(sheet))  # a pot that is ahead ends its hold earlier than was planned
    return Drawn(ensemble, look_ahead(bath, ensemble, course.hold_end_min, until_min=until_min))


def watched(
    sheet: Sheet,
    modelled: ModelledDyes,
    observed: Observed,
    wash: Callable[[Drawn], Washed],
    first: Drawn,
    *,
    learnt: Learnt | None,
    seed: int,
) -> Watched:
    """Return what the looks at a pot make of its samples.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        observed: everything that was seen.
        wash: what there is to wash out of each sample.
        first: the samples on the planned course.
        learnt: what is known of the dyes before the pot.
        seed: of the samples.

    Raises:
        InputError: a reading outside 0 to 1 or outside the forecast's time.
    """
    planned = planned_course(sheet)
    wild = wild_readings(planned, observed.temperatures)
    course = retimed(planned, [one for one in observed.temperatures if one not in wild])

    def drawn(known: Learnt | None, round_no: int) -> Drawn:
        return drawn_for(sheet, modelled, course, observed, learnt=known, seed=seed + round_no)

    def looks(at_hand: Drawn) -> Sequence[Look]:
        return _looks(sheet, modelled, observed, at_hand, wash)

    if course is not planned or observed.phs:
        first = drawn(learnt, 0)
    alone = [weighed([look], np.zeros(look.shown.size)).verdicts[0].apart_sd for look in looks(first)]
    found = followed(first, prior_of(learnt, len(modelled.places)), looks, drawn)
    believed = [sd for sd, verdict in zip(alone, found.verdicts, strict=True) if not verdict.is_odd]
    at_heat = tuple(_first_at_min(first, one.bath_c) for one in observed.clarities_at_heat)
    if observed.rinses is None:  # what washes out is drawn anew for other samples, so that its looks keep all of them
        found = lightened(found)
    return Watched(course, wild, at_heat, found, max(believed, default=0.0) if len(believed) > 1 else 0.0)


def _looks(
    sheet: Sheet,
    modelled: ModelledDyes,
    observed: Observed,
    at_hand: Drawn,
    wash: Callable[[Drawn], Washed],
) -> list[Look]:
    """Return everything that was seen; nothing where a dye of the card has no model, for the bath holds it too."""
    if len(modelled.places) < len(sheet.card.dyes):
        return []
    by_time = sorted(observed.clarities, key=lambda one: one.at_min)
    found = [clarity_look(f"clarity at {one.at_min:.0f} min", one, at_hand.outlook) for one in by_time]
    for seen in observed.clarities_at_heat:
        at_min = _first_at_min(at_hand, seen.bath_c)
        if at_min is not None:
            reading = ClarityReading(at_min, seen.exhaustion)
            found.append(clarity_look(f"clarity at {seen.bath_c:.0f} °C", reading, at_hand.outlook))
    if observed.rinses is not None:
        found.append(rinse_look(observed.rinses, wash(at_hand)))
    return found


def _first_at_min(at_hand: Drawn, bath_c: float) -> float | None:
    """Return when the bath first gets this hot on its way up; None where it never does or starts hotter."""
    held_c, held_min = at_hand.outlook.held_c, at_hand.outlook.held_min
    if not held_c[0] <= bath_c <= held_c.max():
        return None
    after = int(np.argmax(held_c >= bath_c))
    if after == 0:
        return float(held_min[0])
    part = (bath_c - held_c[after - 1]) / (held_c[after] - held_c[after - 1])
    return float(held_min[after - 1] + part * (held_min[after] - held_min[after - 1]))
