"""The bath's temperature as the pot gave it: the planned curve, corrected by what the thermometer read.

Through the readings the plan's shape is kept and its distance from them runs evenly from one to the next. From the last
reading on the programme goes on from where the pot is: a pot that lags reaches its hold later, one that is ahead
earlier, and the hold keeps its length. The limits of what a pot can do are estimates.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import TemperatureReading
from dyewright.errors import InputError

__all__ = ["FAR_C", "Course", "expected_c", "reads_as_fahrenheit", "retimed", "wild_readings"]

Floats = NDArray[np.float64]

FREEZING_C, HOTTEST_C = 0.0, 105.0  # water, with what a kitchen thermometer may read too much; estimate
FASTEST_RISE_C_PER_MIN = 8.0  # 1.8 kW under 3 L; estimate of the most a pot on a hob can do
FASTEST_FALL_C_PER_MIN = 5.0  # an open small pot with cold water poured in; estimate
THERMOMETER_C = (
    3.0  # readings that are this close agree; in a hold a pot this far below is taken to hold there; estimate
)
FAR_C = 15.0  # from what was expected: a pot can do it, but it is asked about; estimate
FAHRENHEIT_FITS_C = 8.0  # read in °F it is this close to what was expected; estimate
SETTLED_FRAC = 0.25  # of its minutes in a hold would have taken a pot to it, had it still been rising; estimate
STEADY_C_PER_MIN = 0.05  # a plan that moves less holds
STEP_BACK_MIN = 1e-3  # just before a stretch begins
FALLS_BACK_MIN = 10.0  # in which an overshoot is gone; estimate


@dataclass(frozen=True)
class Course:
    """A bath's temperature over time, and when its last hold ends."""

    t_min: Floats
    bath_c: Floats
    hold_end_min: float


@dataclass(frozen=True)
class _Onward:
    """The programme from a moment on: that of the plan at `plan_min`, `above_c` warmer at first.

    Before `ramp_min` of the plan the temperature runs back along a line of `slope_c_per_min`. The distance is kept
    until `kept_until_min` of the plan and then fades.
    """

    plan_min: float
    above_c: float = 0.0
    ramp_min: float = -np.inf
    slope_c_per_min: float = 0.0
    kept_until_min: float = -np.inf


def retimed(planned: Course, readings: Sequence[TemperatureReading]) -> Course:
    """Return the course that goes through the readings and then on with the programme.

    Args:
        planned: of any spacing; after its end it is taken to stay as it is.
        readings: in any order; those of one time count once, by their mean.

    Raises:
        InputError: a reading before heat on.
    """
    if not readings:
        return planned
    planned = _reaching(planned, max(reading.at_min for reading in readings))
    at_min, read_c = _by_time(planned, readings)
    last_min = float(at_min[-1])
    on = _onward(planned, at_min, read_c)
    later = last_min - on.plan_min
    nodes_min, gaps_c = _gaps(planned, at_min, read_c)
    passed = np.union1d(planned.t_min, nodes_min)
    passed = passed[passed < last_min]
    passed_c = np.interp(passed, planned.t_min, planned.bath_c) + np.interp(passed, nodes_min, gaps_c)
    coming = np.union1d(planned.t_min[planned.t_min > on.plan_min], _kinks(on, planned))
    coming = coming[np.diff(coming + later, prepend=last_min) > 0]  # a plan's times may be too close to be moved apart
    return Course(
        t_min=np.concatenate([passed, [last_min], coming + later]),
        bath_c=np.concatenate([passed_c, [read_c[-1]], _along(planned, on, coming)]),
        hold_end_min=_hold_end_min(planned, on.plan_min, last_min),
    )


def _reaching(planned: Course, until_min: float) -> Course:
    """Return the plan, staying as it ends up to a time."""
    if until_min < planned.t_min[-1]:
        return planned
    beyond_min = until_min + 1.0
    return replace(
        planned,
        t_min=np.append(planned.t_min, beyond_min),
        bath_c=np.append(planned.bath_c, planned.bath_c[-1]),
    )


def _hold_end_min(planned: Course, plan_min: float, last_min: float) -> float:
    """Return when the last hold ends, the pot being at `plan_min` of the plan at its last reading."""
    to_come = planned.hold_end_min - plan_min
    return last_min + to_come if to_come > 0 else min(planned.hold_end_min, last_min)


def expected_c(planned: Course, readings: Sequence[TemperatureReading], at_min: float) -> float:
    """Return the temperature that the plan and other readings let expect at a time, °C.

    Args:
        planned: the plan's course.
        readings: the others.
        at_min: minutes after heat on.
    """
    course = retimed(planned, readings)
    return float(np.interp(at_min, course.t_min, course.bath_c))


def wild_readings(planned: Course, readings: Sequence[TemperatureReading]) -> tuple[TemperatureReading, ...]:
    """Return the readings that no pot can have had beside the others, or that fit only in °F."""
    kept = sorted(readings, key=lambda reading: reading.at_min)
    wild = [one for one in kept if not FREEZING_C <= one.bath_c <= HOTTEST_C]
    kept = [one for one in kept if one not in wild]
    start = TemperatureReading(float(planned.t_min[0]), float(planned.bath_c[0]))
    while suspects := {one for pair in pairwise([start, *kept]) if _is_leap(*pair) for one in pair} - {start}:
        worst = max(suspects, key=lambda one: _oddness_c(planned, kept, one))
        wild.append(worst)
        kept.remove(worst)
    return (*wild, *(one for one in kept if _was_fahrenheit(planned, kept, one)))


def reads_as_fahrenheit(read_c: float, expected_c: float) -> bool:
    """Return whether a temperature is far from what was expected as it is, and near it if it was in °F.

    Args:
        read_c: as noted, in °C.
        expected_c: by the plan and other readings.
    """
    return abs(read_c - expected_c) > FAR_C and abs((read_c - 32.0) / 1.8 - expected_c) <= FAHRENHEIT_FITS_C


def _was_fahrenheit(planned: Course, kept: Sequence[TemperatureReading], one: TemperatureReading) -> bool:
    others = [other for other in kept if other is not one]
    return reads_as_fahrenheit(one.bath_c, expected_c(planned, others, one.at_min))


def _oddness_c(planned: Course, kept: Sequence[TemperatureReading], one: TemperatureReading) -> float:
    others = [other for other in kept if other is not one]
    return abs(one.bath_c - expected_c(planned, others, one.at_min))


def _is_leap(before: TemperatureReading, after: TemperatureReading) -> bool:
    """Whether a pot cannot get from one reading to the next in their time."""
    minutes = after.at_min - before.at_min
    change_c = after.bath_c - before.bath_c
    return (
        not -THERMOMETER_C - FASTEST_FALL_C_PER_MIN * minutes
        <= change_c
        <= THERMOMETER_C + FASTEST_RISE_C_PER_MIN * minutes
    )


def _gaps(planned: Course, at_min: Floats, read_c: Floats) -> tuple[Floats, Floats]:
    """Return times, and how far the bath is above its plan at each: on the way from nothing at heat on.

    A bath that cools faster or slower than planned does so from the beginning of the cooling, not before.
    """
    times, gaps = [float(planned.t_min[0])], [0.0]
    for minute, bath_c in zip(at_min.tolist(), read_c.tolist(), strict=True):
        cooling_from = _cooling_from(planned, minute)
        if cooling_from > times[-1]:
            times.append(cooling_from)
            gaps.append(gaps[-1])
        times.append(minute)
        gaps.append(bath_c - float(np.interp(minute, planned.t_min, planned.bath_c)))
    is_at_start = len(times) > 1 and times[1] <= times[0]
    return np.array(times[is_at_start:]), np.array(gaps[is_at_start:])


def _cooling_from(planned: Course, at_min: float) -> float:
    """Return when the cooling began that a time lies in or just after; -inf for any other time."""
    begin, _, slope = _stretch(planned, at_min)
    if abs(slope) < STEADY_C_PER_MIN and begin > planned.t_min[0]:
        begin, _, slope = _stretch(planned, begin - STEP_BACK_MIN)
    return begin if slope <= -STEADY_C_PER_MIN else -np.inf


def _by_time(planned: Course, readings: Sequence[TemperatureReading]) -> tuple[Floats, Floats]:
    """Return the readings' times, rising, and their temperatures."""
    for reading in readings:
        if reading.at_min < planned.t_min[0]:
            raise InputError(
                f"the temperature at {reading.at_min:g} min was read before heat on, which is where the clock begins",
                field="observe",
                value=reading.at_min,
                limit=float(planned.t_min[0]),
            )
    times, place = np.unique([reading.at_min for reading in readings], return_inverse=True)
    total = np.bincount(place, weights=[reading.bath_c for reading in readings])
    return times, total / np.bincount(place)


def _onward(planned: Course, at_min: Floats, read_c: Floats) -> _Onward:
    """Return where in the programme the pot is at its last reading."""
    now_min, now_c = float(at_min[-1]), float(read_c[-1])
    above_c = now_c - float(np.interp(now_min, planned.t_min, planned.bath_c))
    begin, end, slope = _stretch(planned, now_min)
    if abs(slope) >= STEADY_C_PER_MIN:
        return _on_slope(planned, now_c, begin, end)
    if above_c >= -THERMOMETER_C or _is_holding(at_min, read_c, begin) or begin <= planned.t_min[0]:
        is_near = abs(above_c) <= THERMOMETER_C or above_c < 0
        return _Onward(now_min, above_c, kept_until_min=end if is_near else -np.inf)
    rise_begin, rise_end, rise = _stretch(planned, begin - STEP_BACK_MIN)
    if rise <= 0:
        return _Onward(now_min, above_c)
    if -above_c < SETTLED_FRAC * rise * (now_min - begin):  # late in the hold and nearly there: it holds lower
        return _Onward(now_min, above_c, kept_until_min=end)
    return _on_slope(planned, now_c, rise_begin, rise_end)


def _is_holding(at_min: Floats, read_c: Floats, begin_min: float) -> bool:
    """Whether the last two readings of a hold say that it stays where it is, if not where it was meant to."""
    within = at_min >= begin_min
    if within.sum() < 2:
        return False
    rise = (read_c[-1] - read_c[-2]) / (at_min[-1] - at_min[-2])
    return bool(abs(rise) < 4 * STEADY_C_PER_MIN)


def _on_slope(planned: Course, now_c: float, begin: float, end: float) -> _Onward:
    """Return where on a rise or a fall from `begin` to `end` a bath of this temperature is."""
    within = (planned.t_min >= begin) & (planned.t_min <= end)
    times, temperatures = planned.t_min[within], planned.bath_c[within]
    first_c, last_c = float(temperatures[0]), float(temperatures[-1])
    is_rising = last_c > first_c
    order = 1 if is_rising else -1
    if (now_c - last_c) * order > 0:  # beyond its end: the next stage begins
        return _Onward(end, now_c - last_c)
    if (now_c - first_c) * order < 0:  # not yet at its beginning: as far again, at the slope it begins with
        slope = (float(temperatures[1]) - first_c) / float(times[1] - times[0])
        slope = order * max(abs(slope), STEADY_C_PER_MIN)
        return _Onward(begin + (now_c - first_c) / slope, ramp_min=begin, slope_c_per_min=slope)
    return _Onward(float(np.interp(now_c * order, np.maximum.accumulate(temperatures * order), times)))


def _stretch(planned: Course, at_min: float) -> tuple[float, float, float]:
    """Return the beginning, the end and the slope of the rise, hold or fall of the plan around a time."""
    slopes = np.diff(planned.bath_c) / np.diff(planned.t_min)
    kinds = np.where(np.abs(slopes) < STEADY_C_PER_MIN, 0.0, np.sign(slopes))
    here = int(np.clip(np.searchsorted(planned.t_min, at_min, side="right") - 1, 0, kinds.size - 1))
    changes = np.flatnonzero(np.diff(kinds) != 0) + 1  # steps that begin another stretch
    place = int(np.searchsorted(changes, here, side="right"))
    begin = int(changes[place - 1]) if place > 0 else 0
    end = int(changes[place]) if place < changes.size else kinds.size
    return float(planned.t_min[begin]), float(planned.t_min[end]), float(slopes[here])


def _kinks(on: _Onward, planned: Course) -> Floats:
    """Return times of the plan at which the onward course bends of its own."""
    bends = np.array([on.ramp_min, on.kept_until_min, _fading_from(on), _fading_from(on) + FALLS_BACK_MIN])
    coming: Floats = bends[(bends > on.plan_min) & (bends < planned.t_min[-1])]
    return coming


def _fading_from(on: _Onward) -> float:
    return max(on.kept_until_min, on.plan_min)


def _along(planned: Course, on: _Onward, plan_min: Floats) -> Floats:
    """Return the temperature at times of the plan, as the pot goes on from where it is."""
    along = np.interp(plan_min, planned.t_min, planned.bath_c)
    if on.slope_c_per_min:
        early = plan_min < on.ramp_min
        along[early] += on.slope_c_per_min * (plan_min[early] - on.ramp_min)
    left = np.clip(1.0 - (plan_min - _fading_from(on)) / FALLS_BACK_MIN, 0.0, 1.0)
    onward: Floats = along + on.above_c * left
    if on.above_c < 0 and on.kept_until_min > on.plan_min:  # it cools from where it was held
        held_c = float(np.interp(on.kept_until_min, planned.t_min, planned.bath_c)) + on.above_c
        is_cooling = (plan_min > on.kept_until_min) & (along < held_c - on.above_c)
        onward = np.where(is_cooling, np.minimum(along, held_c), onward)
    return onward
