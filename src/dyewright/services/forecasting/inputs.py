"""From a sheet to what the uptake model takes: the pot over time, and what each dye may be on each fibre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import (
    AssistantDose,
    DyeClass,
    DyeDose,
    Fibre,
    Learnt,
    PhReading,
    Sheet,
    StepKind,
    Substance,
    UptakeRow,
    UptakeTables,
    When,
    WhenKind,
)
from dyewright.core.uptake import Course, DyeBath, Ensemble, draw
from dyewright.services.water import bath_ph

__all__ = [
    "SALT_CHARGES_PER_G",
    "SAMPLES",
    "ModelledDyes",
    "draw_dyes",
    "dye_bath",
    "hold_end_min",
    "late_moments",
    "modelled_dyes",
    "ph_as_read",
    "ph_span",
    "planned_course",
]

Floats = NDArray[np.float64]

ACID_KINDS = (DyeClass.ACID_LEVELLING, DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX)
UNDYED_BY_ACID = {Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE}  # no basic groups; textbook chemistry, from memory
ACID_LIKE = {*ACID_KINDS, DyeClass.ACID_UNKNOWN, DyeClass.FOOD}
# Charges a gram: sodium sulphate 142.04, decahydrate 322.20, sodium chloride 58.44 g/mol (IUPAC atomic weights).
SALT_CHARGES_PER_G = {
    Substance.GLAUBERS_SALT: 2 / 142.04,
    Substance.GLAUBERS_SALT_DECAHYDRATE: 2 / 322.20,
    Substance.COMMON_SALT: 1 / 58.44,
}
SAMPLES = 600
EARLY = {WhenKind.SOAK, WhenKind.START}
SAME_TEMPERATURE_C = 0.05
STRIP_SD = 0.3  # pH; of a strip, and of a meter that is seldom calibrated; estimate
STRIP_HALF_WIDTH = 0.5  # an even spread of this half-width has that deviation: 0.3 times the root of 3


@dataclass(frozen=True)
class ModelledDyes:
    """The dyes that the model can foretell: their places in the card, what each may be, and the fibres that take them.

    `left_out` gives a sentence for each dye or fibre that it cannot.
    """

    places: tuple[int, ...]
    kinds: tuple[tuple[tuple[UptakeRow, ...], ...], ...]
    fibres: tuple[Fibre, ...]
    left_out: tuple[str, ...]

    @property
    def has_direct(self) -> bool:
        """Whether a direct dye is among them; on cellulose alone, where acid dyes do not go."""
        return any(row.dye_class is DyeClass.DIRECT for dye in self.kinds for kind in dye for row in kind)


def modelled_dyes(sheet: Sheet, tables: UptakeTables) -> ModelledDyes:
    """Return the dyes with a model on this yarn; a dye that one of its fibres has no row for is left out."""
    yarn = [fibre for fibre, share in sheet.card.yarn.fibre_frac.items() if share > 0]
    basic = tuple(fibre for fibre in yarn if fibre not in UNDYED_BY_ACID)
    takers = basic or tuple(yarn)  # yarn of cellulose alone takes direct dyes
    places, kinds, left_out = [], [], []
    for place, dye in enumerate(sheet.card.dyes):
        if dye.depth_owf <= 0:
            left_out.append(f"{dye.name}: at 0 % there is nothing to forecast.")
            continue
        found = _kinds(dye, yarn, takers, tables)
        if found is None:
            left_out.append(_no_model(dye, yarn))
        else:
            places.append(place)
            kinds.append(found)
    undyed = [fibre.value for fibre in yarn if fibre in UNDYED_BY_ACID]
    if places and basic and undyed:
        left_out.append(f"Acid dyes leave {' and '.join(undyed)} undyed: the whole dose is forecast on the rest.")
    return ModelledDyes(tuple(places), tuple(kinds), takers, tuple(left_out))


def _kinds(
    dye: DyeDose, yarn: Sequence[Fibre], takers: Sequence[Fibre], tables: UptakeTables
) -> tuple[tuple[UptakeRow, ...], ...] | None:
    """Return the rows of each kind that a dye may be; None where the table has no answer."""
    if not takers or (dye.dye_class not in ACID_LIKE and len(takers) < len(yarn)):
        return None
    classes = ACID_KINDS if dye.dye_class is DyeClass.ACID_UNKNOWN else (dye.dye_class,)
    wanted = [[(fibre, dye_class) for fibre in takers] for dye_class in classes]
    if any(key not in tables.rows for keys in wanted for key in keys):
        return None
    return tuple(tuple(tables.rows[key] for key in keys) for keys in wanted)


def draw_dyes(
    sheet: Sheet,
    modelled: ModelledDyes,
    tables: UptakeTables,
    *,
    learnt: Learnt | None,
    seed: int,
    samples: int = SAMPLES,
) -> Ensemble:
    """Return samples of what a sheet's dyes may be.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        tables: the fibres' capacity is in them.
        learnt: what is known of the dyes before the pot.
        seed: the same seed gives the same samples.
        samples: how many.
    """
    return draw(
        modelled.kinds,
        [tables.saturation_owf[fibre] for fibre in modelled.fibres],
        is_superwash=sheet.card.yarn.is_superwash,
        samples=samples,
        rng=np.random.default_rng(seed),
        learnt=learnt,
    )


def _no_model(dye: DyeDose, yarn: Sequence[Fibre]) -> str:
    fibres = " and ".join(fibre.value for fibre in yarn)
    reason = (
        "there done means time, temperature and pH, never a clear bath"
        if dye.dye_class.is_reactive
        else "it stays without a curve"
    )
    return f"{dye.name}: no uptake model for {dye.dye_class.value} on {fibres}; {reason}."


def hold_end_min(sheet: Sheet) -> float:
    """Return when the last hold ends, minutes after heat on; without a hold, when cooling begins or the plan ends."""
    holds = [step for step in sheet.steps if step.kind is StepKind.HOLD and step.at_min is not None]
    if holds:
        last = holds[-1]
        return (last.at_min or 0.0) + (last.duration_min or 0.0)
    heats = [step.at_min or 0.0 for step in sheet.steps if step.kind is StepKind.HEAT]
    cools = [step.at_min for step in sheet.steps if step.kind is StepKind.COOL and step.at_min is not None]
    after = [at_min for at_min in cools if not heats or at_min >= heats[-1]]
    return min(after, default=float(sheet.t_min[-1]))


def planned_course(sheet: Sheet) -> Course:
    """Return the bath's temperature as planned."""
    return Course(np.asarray(sheet.t_min, float), np.asarray(sheet.bath_c, float), hold_end_min(sheet))


def dye_bath(
    sheet: Sheet, modelled: ModelledDyes, course: Course | None = None, phs: Sequence[PhReading] = ()
) -> DyeBath:
    """Return the pot over time for the modelled dyes.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        course: the temperature that the pot really had; the plan's where None.
        phs: what strips read.
    """
    yarn, dyes = sheet.card.yarn, sheet.card.dyes
    course = course or planned_course(sheet)
    late = late_moments(sheet, course.t_min, course.bath_c)
    parts = [[_minute(when, course.t_min, course.bath_c) for when in dyes[place].parts] for place in modelled.places]
    t_min = np.union1d(course.t_min, [*late.values(), *(minute for dye in parts for minute in dye)])
    ph_low, ph_high = ph_as_read(t_min, *_ph_over_time(sheet, t_min, late), phs)
    return DyeBath(
        t_min=t_min,
        bath_c=np.interp(t_min, course.t_min, course.bath_c),
        ph_low=ph_low,
        ph_high=ph_high,
        liquor_l_kg=sheet.liquor_ratio,
        fibre_frac=np.array([yarn.fibre_frac[fibre] for fibre in modelled.fibres]),
        depth_owf=np.array([dyes[place].depth_owf for place in modelled.places]),
        added_anion_mol_l=_salt_mol_l(sheet),
        supply_frac=_supply(t_min, parts),
    )


def _supply(t_min: Floats, parts: Sequence[Sequence[float]]) -> Floats | None:
    """Return the share of each dye that is in the pot at every time; None where all goes in at the start."""
    if all(minute <= t_min[0] for dye in parts for minute in dye):
        return None
    return np.array([[np.mean([minute <= now for minute in dye]) for now in t_min] for dye in parts])


def _salt_mol_l(sheet: Sheet) -> float:
    """Return the charges that added salt brings, mol/L."""
    charges = (
        amount.amount * SALT_CHARGES_PER_G[amount.substance]
        for amount in sheet.assistants
        if amount.substance in SALT_CHARGES_PER_G and amount.unit == "g"
    )
    return float(sum(charges)) / sheet.liquor_l


def _ph_over_time(sheet: Sheet, t_min: Floats, late: Mapping[int, float]) -> tuple[Floats, Floats]:
    """Return the bounds of the pH from every time on: from just mixed to carbon dioxide gone, over the water's doubt.

    A late addition changes them from its moment on; an assistant without one is in from the start.
    """
    low, high = _bounds(sheet)
    lows, highs = np.full_like(t_min, low), np.full_like(t_min, high)
    for moment in sorted(set(late.values()), reverse=True):
        in_by_then = [i for i, _ in enumerate(sheet.card.assistants) if late.get(i, -1.0) < moment]
        early = bath_ph(
            yarn=sheet.card.yarn,
            liquor_l=sheet.liquor_l,
            water=sheet.card.water,
            assistants=[_measured(sheet, i) for i in in_by_then],
        )
        before = t_min < moment
        lows[before] = min(early.ph_closed_low, early.ph_stripped_low)
        highs[before] = max(early.ph_closed_high, early.ph_stripped_high)
    return lows, highs


def ph_as_read(t_min: Floats, lows: Floats, highs: Floats, readings: Sequence[PhReading]) -> tuple[Floats, Floats]:
    """Return the bounds of the pH as strips read it, until the next addition changes the bath.

    A reading within a strip's doubt of what was expected narrows that; another takes its place. The first reading after
    an addition counts from the addition on, for nothing has changed the bath since; a later one from its own minute.

    Args:
        t_min: shape (times,).
        lows: expected, shape (times,).
        highs: expected, shape (times,).
        readings: in any order.
    """
    read_lows, read_highs = lows.copy(), highs.copy()
    counted_from = -np.inf
    for reading in sorted(readings, key=lambda one: one.at_min):
        begin, end = _span(t_min, lows, highs, reading.at_min)
        low, high = ph_span(reading, float(lows[begin]), float(highs[begin]))
        is_first = counted_from < t_min[begin]
        here = (np.arange(t_min.size) >= begin) & (np.arange(t_min.size) < end)
        here &= is_first | (t_min >= reading.at_min)
        read_lows[here], read_highs[here] = low, high
        counted_from = reading.at_min
    return read_lows, read_highs


def ph_span(reading: PhReading, low: float, high: float) -> tuple[float, float]:
    """Return the bounds of the pH after a reading, from those expected.

    Args:
        reading: of a strip.
        low: expected at least.
        high: expected at most.
    """
    read_low, read_high = reading.ph - STRIP_HALF_WIDTH, reading.ph + STRIP_HALF_WIDTH
    if low - STRIP_SD <= reading.ph <= high + STRIP_SD:
        return max(low, read_low), min(high, read_high)
    return read_low, read_high


def _span(t_min: Floats, lows: Floats, highs: Floats, at_min: float) -> tuple[int, int]:
    """Return the first time and the end of the stretch without an addition around a minute, as places in `t_min`."""
    changes = np.flatnonzero((np.diff(lows) != 0) | (np.diff(highs) != 0)) + 1
    here = max(int(np.searchsorted(t_min, at_min, side="right")) - 1, 0)
    place = int(np.searchsorted(changes, here, side="right"))
    return (
        int(changes[place - 1]) if place > 0 else 0,
        int(changes[place]) if place < changes.size else t_min.size,
    )


def _bounds(sheet: Sheet) -> tuple[float, float]:
    lows = [ph for ph in (sheet.ph_closed_low, sheet.ph_stripped_low, sheet.ph_closed) if ph is not None]
    highs = [ph for ph in (sheet.ph_closed_high, sheet.ph_stripped_high, sheet.ph_closed) if ph is not None]
    return min(lows), max(highs)


def late_moments(sheet: Sheet, t_min: Floats, bath_c: Floats) -> dict[int, float]:
    """Return the minute of every assistant that goes in after heat on, by its place in the card.

    Args:
        sheet: the plan.
        t_min: shape (times,).
        bath_c: shape (times,).
    """
    return {
        i: _minute(dose.when, t_min, bath_c)
        for i, dose in enumerate(sheet.card.assistants)
        if dose.when.kind not in EARLY and dose.when.value is not None
    }


def _minute(when: When, t_min: Floats, bath_c: Floats) -> float:
    """Return the minute of an addition, a whole one; for a temperature that is never reached the programme's end."""
    if when.kind in EARLY or when.value is None:
        return float(t_min[0])
    if when.kind is WhenKind.MINUTE:
        return float(round(when.value))
    reached = bath_c >= when.value - SAME_TEMPERATURE_C
    return float(round(t_min[np.argmax(reached)] if reached.any() else t_min[-1]))


def _measured(sheet: Sheet, i: int) -> AssistantDose:
    """Return an assistant with the amount that the sheet gives it in place of a target or a share."""
    amount = sheet.assistants[i]
    is_liquid = amount.unit == "mL"
    return replace(
        sheet.card.assistants[i],
        mass_g=None if is_liquid else amount.amount,
        volume_l=amount.amount / 1000.0 if is_liquid else None,
        owf=None,
        bath_g_l=None,
        bath_l_l=None,
        target_ph=None,
    )
