"""What a measured heat-up says of a pot: the heat that enters it, and how much more or less it loses than computed.

Sources: [1] core.heat, the same energy balance. [2] least squares with a prior on what the readings cannot tell: any
text on inverse problems. The reading error and the doubt of the losses are estimates; the latter is the one that
docs/science/heat.md states (a third to a half).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dyewright.core.heat import (
    BOIL_C,
    LONGEST_MIN,
    MOST_W,
    full_power_c,
    heat_capacity_kj_k,
    heat_loss_w,
    stagnation_c,
    thermal_pot,
)
from dyewright.core.model import HeatSource, LearntHeat, MeasuredHeatUp, Pot, ThermalPot
from dyewright.errors import InputError

__all__ = ["checked_heat_up", "heat_up_curve_c", "learn_heat"]

Floats = NDArray[np.float64]

READING_SD_C = 1.0  # estimate: a kitchen thermometer, read in a stirred pot
LN_LOSS_SD = 0.4  # estimate: losses are uncertain by a third, evaporation by a half
TOLD_FRAC = 0.7  # readings that narrow the losses' doubt to less than this share of it have told something
LEAST_RISE_C = 3.0  # estimate: three times the reading error
MOST_FALL_C = 2.0  # estimate: two readings may disagree by this much on a level stretch
LEAST_READINGS, FOR_LOSSES = 2, 3
LOWEST_C = 0.0
ROOMS_C = (-10.0, 45.0)  # estimate: a shed in winter, a kitchen in a heat wave


@dataclass(frozen=True)
class _Fit:
    """The numbers that fit some heat-ups: ln of each useful power, each starting temperature, ln of the loss factor."""

    ln_w: Floats
    start_c: Floats
    ln_loss: float

    def as_vector(self, *, has_losses: bool) -> Floats:
        """Return what is searched."""
        return np.concatenate([self.ln_w, self.start_c, [self.ln_loss] if has_losses else []])


def checked_heat_up(heat_up: MeasuredHeatUp) -> None:
    """Refuse readings that no heated pot gives.

    Raises:
        InputError: fewer than two readings, times that do not rise, temperatures outside 0 to 100 °C, that fall, or
            that hardly rise; no water.
    """
    if not (math.isfinite(heat_up.water_l) and heat_up.water_l > 0):
        raise InputError(
            f"{heat_up.water_l:g} L of water cannot be heated; say how much was in the pot",
            field="water",
            value=heat_up.water_l,
            limit=0,
        )
    if len(heat_up.readings) < LEAST_READINGS:
        raise InputError(
            f"a heat-up needs {LEAST_READINGS} readings at least, got {len(heat_up.readings)}: one soon after heat on, "
            "one when it is hot",
            field="reading.1",
            value=len(heat_up.readings),
            limit=LEAST_READINGS,
        )
    if not ROOMS_C[0] <= heat_up.room_c <= ROOMS_C[1]:
        raise InputError(
            f"a room of {heat_up.room_c:g} °C is none to dye in: {ROOMS_C[0]:g} to {ROOMS_C[1]:g} °C, or leave it out",
            field="room",
            value=heat_up.room_c,
            limit=ROOMS_C,
        )
    _check_readings(heat_up.readings)
    _check_order(heat_up.readings)


def _check_readings(readings: Sequence[tuple[float, float]]) -> None:
    """Refuse minutes outside a day and temperatures that water in a pot never has."""
    for place, (at_min, bath_c) in enumerate(readings, start=1):
        if not 0 <= at_min <= LONGEST_MIN:
            raise InputError(
                f"a reading at {at_min:g} min: a heat-up is watched for a day at most, from heat on",
                field=f"reading.{place}",
                value=at_min,
                limit=LONGEST_MIN,
            )
        if not LOWEST_C <= bath_c <= BOIL_C:
            raise InputError(
                f"{bath_c:g} °C at {at_min:g} min: water in a pot stays between {LOWEST_C:g} and {BOIL_C:g} °C; read "
                "the thermometer again",
                field=f"reading.{place}",
                value=bath_c,
                limit=BOIL_C,
            )


def _check_order(readings: Sequence[tuple[float, float]]) -> None:
    """Refuse times that do not rise, and temperatures that fall or hardly move."""
    for place, (before, after) in enumerate(pairwise(readings), start=2):
        if not after[0] > before[0]:
            raise InputError(
                f"the reading at {after[0]:g} min stands after the one at {before[0]:g} min; minutes count on from "
                "heat on",
                field=f"reading.{place}",
                value=after[0],
                limit=before[0],
            )
        if after[1] < before[1] - MOST_FALL_C:
            raise InputError(
                f"from {before[1]:g} °C at {before[0]:g} min it falls to {after[1]:g} °C at {after[0]:g} min: leave "
                "the knob and the lid as they are while you measure, or enter the part before",
                field=f"reading.{place}",
                value=after[1],
                limit=before[1],
            )
    rise_c = max(c for _, c in readings) - readings[0][1]
    if rise_c < LEAST_RISE_C:
        raise InputError(
            f"the water rose by {rise_c:g} °C in all, too little to tell the heat from the thermometer's own error; "
            f"heat it by {LEAST_RISE_C:g} °C or more, better by 40",
            field=f"reading.{len(readings)}",
            value=rise_c,
            limit=LEAST_RISE_C,
        )


def learn_heat(heat_ups: Sequence[MeasuredHeatUp], pot: Pot, source: HeatSource) -> tuple[LearntHeat, ...]:
    """Return what the heat-ups of one vessel say, in their order: a power for each, one loss factor for all.

    Least squares of the readings over powers, starting temperatures and the loss factor, whose doubt from [1] stands
    as a prior. Two readings of one heat-up give its power only. The loss factor is 1 where the readings narrow its
    doubt by less than a third.

    Args:
        heat_ups: at least one, each with its own knob setting, water and lid.
        pot: the vessel.
        source: the row of what heats it.

    Raises:
        InputError: readings that no heated pot gives, or a heat that no pot takes.
    """
    for heat_up in heat_ups:
        checked_heat_up(heat_up)
    pots = [_loaded(heat_up, pot, source) for heat_up in heat_ups]
    fit = _fitted(heat_ups, pots)
    for heat_up, useful_w in zip(heat_ups, np.exp(fit.ln_w), strict=True):
        if useful_w > MOST_W:
            raise InputError(
                f"{heat_up.water_l:g} L heated like this take {useful_w / 1000:.0f} kW, and no pot takes more than "
                f"{MOST_W / 1000:.0f}: look at the minutes and the litres again",
                field="reading.2",
                value=float(useful_w),
                limit=MOST_W,
            )
    places = range(len(heat_ups))
    return tuple(_learnt(*each, fit) for each in zip(places, heat_ups, pots, strict=True))


def heat_up_curve_c(
    heat_up: MeasuredHeatUp, learnt: LearntHeat, pot: Pot, source: HeatSource, *, t_min: Sequence[float]
) -> list[float]:
    """Return the temperatures, °C, that a fitted heat-up gives at some minutes from its first reading on."""
    thermal = replace(_loaded(heat_up, pot, source), useful_w=learnt.useful_w, loss_factor=learnt.loss_factor)
    return full_power_c(thermal, heat_up.readings[0][1], t_min, heat_up.room_c)


def _loaded(heat_up: MeasuredHeatUp, pot: Pot, source: HeatSource) -> ThermalPot:
    """Return the pot with the heat-up's water and lid, nothing learnt yet."""
    bare = replace(pot, has_lid=heat_up.has_lid, useful_w=None, loss_factor=1.0)
    return thermal_pot(bare, source, water_l=heat_up.water_l, fibre_g=0.0)


def _fitted(heat_ups: Sequence[MeasuredHeatUp], pots: Sequence[ThermalPot]) -> _Fit:
    """Return the least squares fit; the loss factor stays 1 where the readings do not tell it."""
    first = _first_guess(heat_ups, pots)
    if all(len(heat_up.readings) < FOR_LOSSES for heat_up in heat_ups):
        return _searched(first, heat_ups, pots, has_losses=False)[0]
    fit, loss_sd = _searched(first, heat_ups, pots, has_losses=True)
    if loss_sd <= TOLD_FRAC * LN_LOSS_SD:
        return fit
    return _searched(first, heat_ups, pots, has_losses=False)[0]


def _first_guess(heat_ups: Sequence[MeasuredHeatUp], pots: Sequence[ThermalPot]) -> _Fit:
    """Return the power that the steepest stretch of each heat-up needs."""
    ln_w = []
    for heat_up, pot in zip(heat_ups, pots, strict=True):
        c_per_min = max((after[1] - one[1]) / (after[0] - one[0]) for one, after in pairwise(heat_up.readings))
        loss_w = heat_loss_w(pot, (heat_up.readings[0][1] + heat_up.readings[-1][1]) / 2, heat_up.room_c)
        ln_w.append(math.log(max(1.0, heat_capacity_kj_k(pot) * 1000 * c_per_min / 60 + max(0.0, loss_w))))
    return _Fit(np.array(ln_w), np.array([heat_up.readings[0][1] for heat_up in heat_ups]), 0.0)


def _searched(
    first: _Fit, heat_ups: Sequence[MeasuredHeatUp], pots: Sequence[ThermalPot], *, has_losses: bool
) -> tuple[_Fit, float]:
    """Return the best fit and what doubt of ln(loss factor) it leaves."""
    from scipy.optimize import least_squares

    count = len(heat_ups)

    def unpacked(numbers: Floats) -> _Fit:
        return _Fit(numbers[:count], numbers[count : 2 * count], float(numbers[-1]) if has_losses else 0.0)

    known: dict[tuple[float, ...], Floats] = {}  # a step of the search moves one pot's numbers and leaves the others'

    def off(place: int, fit: _Fit) -> Floats:
        numbers = (place, float(fit.ln_w[place]), float(fit.start_c[place]), fit.ln_loss)
        if numbers not in known:
            reached = _reached_c(heat_ups[place], pots[place], fit, place)
            known[numbers] = (np.array(reached) - [c for _, c in heat_ups[place].readings]) / READING_SD_C
        return known[numbers]

    def misses(numbers: Floats) -> Floats:
        fit = unpacked(numbers)
        return np.concatenate([*(off(place, fit) for place in range(count)), [fit.ln_loss / LN_LOSS_SD]])

    found = least_squares(misses, first.as_vector(has_losses=has_losses), x_scale="jac", diff_step=1e-4)
    if not has_losses:
        return unpacked(found.x), math.inf
    covariance = np.linalg.pinv(found.jac.T @ found.jac)
    return unpacked(found.x), float(math.sqrt(covariance[-1, -1]))


def _reached_c(heat_up: MeasuredHeatUp, pot: ThermalPot, fit: _Fit, place: int) -> list[float]:
    """Return the temperatures that a fit gives at the heat-up's own minutes."""
    useful_w = math.exp(min(float(fit.ln_w[place]), math.log(10 * MOST_W)))
    heated = replace(pot, useful_w=useful_w, loss_factor=math.exp(fit.ln_loss))
    times = [at_min for at_min, _ in heat_up.readings]
    return full_power_c(heated, float(fit.start_c[place]), times, heat_up.room_c)


def _learnt(place: int, heat_up: MeasuredHeatUp, pot: ThermalPot, fit: _Fit) -> LearntHeat:
    reached = np.array(_reached_c(heat_up, pot, fit, place))
    missed = reached - [c for _, c in heat_up.readings]
    useful_w, loss_factor = float(np.exp(fit.ln_w[place])), float(np.exp(fit.ln_loss))
    lidded = replace(pot, has_lid=True, useful_w=useful_w, loss_factor=loss_factor)
    return LearntHeat(
        knob=heat_up.knob,
        useful_w=useful_w,
        loss_factor=loss_factor,
        rms_c=float(np.sqrt(np.mean(missed**2))),
        holds_c=stagnation_c(lidded, heat_up.room_c),
        readings=len(heat_up.readings),
    )
