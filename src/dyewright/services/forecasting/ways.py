"""What to change so that the skeins come out level, or tonal where that is wanted: each way is computed, none guessed.

A few samples of the model run through every way; the forecast's own numbers are scaled by what changes in them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.level import LEVEL_INDEX, UNEVEN_INDEX, evens_out_min, levelness
from dyewright.core.model import DyeClass, Levelness, Sheet, Substance, When, WhenKind
from dyewright.services.forecasting.evenness import NEAR_BOIL_C, least_turns_per_min
from dyewright.services.forecasting.inputs import hold_end_min
from dyewright.services.forecasting.otherwise import (
    acid_later,
    dye_moved,
    entered,
    heated,
    is_acid_early,
    mean_rate_c_per_min,
)
from dyewright.services.forecasting.trial import AGENT_RANGE, AGENT_SLOWING, Trial, Way
from dyewright.units import show_duration, show_temperature

__all__ = [
    "LATER",
    "SLOW_C_PER_MIN",
    "all_at_start",
    "comes",
    "moment_words",
    "ways_to_level",
    "ways_to_tonal",
]

Floats = NDArray[np.float64]

MOST_WAYS = 4
WORTH_FRAC = 0.1  # a way that changes less is not worth a sentence
SLOW_C_PER_MIN = 0.5  # common practice, no source: through the strike zone
COOLER_C, USUAL_ENTRY_C, COOLEST_C = 15.0, 40.0, 20.0  # estimates: cooler by so much, as usual, no cooler than the room
HOTTER_C, HOTTEST_C = 20.0, 60.0  # estimate: an entry that strikes, and that hands in gloves still bear
MORE_TURNS_PER_MIN = (0.5, 1.0)
LATER = (When(WhenKind.MINUTE, 20.0), When(WhenKind.TEMPERATURE, 70.0))  # common practice, no source
PARTS = (  # common practice, no source
    (When(), When(WhenKind.MINUTE, 20.0)),
    (When(), When(WhenKind.MINUTE, 15.0), When(WhenKind.MINUTE, 30.0)),
)
SALT_PH = 4.5  # below it Glauber's salt slows a levelling dye, above it it does harm (published)
SALTS = {Substance.GLAUBERS_SALT, Substance.GLAUBERS_SALT_DECAHYDRATE, Substance.COMMON_SALT}
SALT_WORDS = (
    "Glauber's salt, 5 to 10 % of the yarn's weight, slows a levelling dye below pH 4.5 (published); by how much is "
    "not computed"
)
LONGEST_BOIL_MIN = 60.0
NARROW_C = 3.0  # a zone so narrow is no time to turn in: the yarn went into a hot bath
FEW_FRAC = 0.12  # pots that come out uneven at an index of 1: as good as level


@dataclass(frozen=True)
class _Result:
    way: Way
    peak_pct: float
    limit_pct: float

    @property
    def index(self) -> float:
        return self.peak_pct / self.limit_pct


def ways_to_level(trial: Trial, level: Levelness) -> tuple[str, ...]:
    """Return what makes the skeins more level, the most useful first: enough and soonest done, else the calmest."""
    if level.zone_c is None or _index(level) < LEVEL_INDEX:
        return ()
    found = _tried(trial, level, _calmer(trial, level, level.zone_c))
    worth = [result for result in found if result.index < (1 - WORTH_FRAC) * _index(level)]
    worth.sort(key=lambda r: (0, r.way.longer_min, r.index) if r.index < LEVEL_INDEX else (1, r.index, 0.0))
    sentences = [_sentence(result, level, "falls") for result in worth[:MOST_WAYS]]
    return (*sentences, *_together_words(worth), *_boil_words(trial, level), *_salt_words(trial.sheet))


def ways_to_tonal(trial: Trial, level: Levelness) -> tuple[str, ...]:
    """Return what makes the skeins more tonal, the strongest first."""
    if level.zone_c is None or _index(level) > UNEVEN_INDEX:
        return ()
    found = _tried(trial, level, _livelier(trial, level.zone_c))
    worth = [result for result in found if result.index > (1 + WORTH_FRAC) * _index(level)]
    worth.sort(key=lambda result: -result.index)
    return tuple(_sentence(result, level, "rises") for result in worth[:MOST_WAYS])


def _index(level: Levelness) -> float:
    return level.peak_pct_per_min / level.limit_pct_per_min


def _tried(trial: Trial, level: Levelness, ways: Iterator[Way]) -> list[_Result]:
    """Return what each way makes of the forecast's strike and of what the movement evens out."""
    before = trial.strike(Way("", trial.sheet))
    found = []
    for way in ways:
        if way.turns_per_min is None:
            found.append(_Result(way, level.peak_pct_per_min * trial.strike(way) / before, level.limit_pct_per_min))
        else:
            found.append(_Result(way, level.peak_pct_per_min, _limit(trial.sheet, level, way.turns_per_min)))
    return found


def _limit(sheet: Sheet, level: Levelness, turns_per_min: float) -> float:
    """Return what another movement evens out, with what the studio's own handling adds."""
    usual = levelness(0.0, least_turns_per_min(sheet) or 0.0).limit_pct_per_min
    return level.limit_pct_per_min * levelness(0.0, turns_per_min).limit_pct_per_min / usual


def _calmer(trial: Trial, level: Levelness, zone_c: tuple[float, float]) -> Iterator[Way]:
    sheet = trial.sheet
    yield from _slower(sheet, zone_c)
    yield from _cooler(sheet)
    if is_acid_early(sheet):
        for when in LATER:
            if comes(sheet, when):
                yield Way(f"Keep half of the acid for {moment_words(when)}", acid_later(sheet, when))
    yield from _in_parts(trial)
    yield from _more_turns(sheet, level, zone_c)
    if not any(dose.substance is Substance.LEVELLING_AGENT for dose in sheet.card.assistants):
        words = f"A levelling agent at the start (estimate: it leaves {AGENT_RANGE} of the rate)"
        yield Way(words, sheet, slowing=AGENT_SLOWING)


def _slower(sheet: Sheet, zone_c: tuple[float, float]) -> Iterator[Way]:
    low, high = round(zone_c[0]), round(zone_c[1])
    if mean_rate_c_per_min(sheet, low, high) > (1 + WORTH_FRAC) * SLOW_C_PER_MIN:
        slowed = heated(sheet, low, high, SLOW_C_PER_MIN)
        words = f"Heat at {SLOW_C_PER_MIN:g} °C a minute between {low} and {show_temperature(high)}"
        yield Way(words, slowed, longer_min=slowed.t_min[-1] - sheet.t_min[-1])


def _cooler(sheet: Sheet) -> Iterator[Way]:
    at_c = max(COOLEST_C, round(min(sheet.bath_c[0] - COOLER_C, USUAL_ENTRY_C)))
    if sheet.bath_c[0] - at_c >= COOLER_C / 2:
        cooler = entered(sheet, at_c)
        yield Way(f"Enter at {show_temperature(at_c)}", cooler, longer_min=cooler.t_min[-1] - sheet.t_min[-1])


def _in_parts(trial: Trial) -> Iterator[Way]:
    sheet = trial.sheet
    names = [sheet.card.dyes[place].name for place in trial.modelled.places]
    if any(sheet.card.dyes[place].parts != (When(),) for place in trial.modelled.places):
        yield all_at_start(sheet)
        return
    for parts in PARTS:
        if all(comes(sheet, when) for when in parts):
            later = " and ".join(f"after {moment_words(when)}" for when in parts[1:])
            yield Way(f"Give the dye in {len(parts)} parts, at the start, {later}", dye_moved(sheet, names, parts))


def all_at_start(sheet: Sheet) -> Way:
    """Return the way in which every dye goes in whole before the yarn."""
    names = [dye.name for dye in sheet.card.dyes]
    return Way("Give all of the dye at the start", dye_moved(sheet, names, (When(),)))


def _more_turns(sheet: Sheet, level: Levelness, zone_c: tuple[float, float]) -> Iterator[Way]:
    """Yield the least movement that makes it level, else the most that hands give."""
    more = [turns for turns in MORE_TURNS_PER_MIN if turns > (least_turns_per_min(sheet) or 0.0)]
    enough = [turns for turns in more if level.peak_pct_per_min < _limit(sheet, level, turns)]
    if more:
        turns = enough[0] if enough else more[-1]
        every = "minute" if turns == 1 else show_duration(1 / turns)
        is_wide = zone_c[1] - zone_c[0] >= NARROW_C
        until = f"between {zone_c[0]:.0f} and {show_temperature(zone_c[1])}" if is_wide else "until the colour is in"
        words = f"Turn the yarn every {every} {until}"
        yield Way(words, sheet, turns_per_min=turns)


def _livelier(trial: Trial, zone_c: tuple[float, float]) -> Iterator[Way]:
    sheet = trial.sheet
    low, high = round(zone_c[0]), round(zone_c[1])
    fullest = sheet.heat.full_power_c_per_min
    if fullest is not None and fullest > (1 + WORTH_FRAC) * mean_rate_c_per_min(sheet, low, high):
        faster = heated(sheet, low, high, fullest)
        words = f"Heat fully on, {fullest:.1f} °C a minute, between {low} and {show_temperature(high)}"
        yield Way(words, faster, longer_min=faster.t_min[-1] - sheet.t_min[-1])
    at_c = min(HOTTEST_C, round(sheet.bath_c[0] + HOTTER_C))
    if at_c - sheet.bath_c[0] >= HOTTER_C / 2 and at_c < max(sheet.bath_c):
        hotter = entered(sheet, at_c)
        yield Way(f"Enter at {show_temperature(at_c)}", hotter, longer_min=hotter.t_min[-1] - sheet.t_min[-1])
    if (least_turns_per_min(sheet) or 0.0) > 0:
        yield Way("Leave the yarn still until the colour is in", sheet, turns_per_min=0.0)


def comes(sheet: Sheet, when: When) -> bool:
    """Tell whether the programme comes to a moment after the start while it is still being heated or held."""
    value = when.value or 0.0
    return value < hold_end_min(sheet) if when.kind is WhenKind.MINUTE else sheet.bath_c[0] < value < max(sheet.bath_c)


def moment_words(when: When) -> str:
    """Return a moment after the start as a sentence names it: "20 min", "70 °C"."""
    value = when.value or 0.0
    return show_temperature(value) if when.kind is WhenKind.TEMPERATURE else show_duration(value)


def _sentence(result: _Result, level: Levelness, moves: str) -> str:
    """Return a way with its cost and what it does: "…: 22 min longer, the strike falls from 3.1 to 1.7 % a minute"."""
    way, minutes = result.way, round(result.way.longer_min)
    cost = "" if minutes == 0 else f"{show_duration(abs(minutes))} {'longer' if minutes > 0 else 'sooner'}, "
    if way.turns_per_min is None:
        does = f"the strike {moves} from {level.peak_pct_per_min:.1f} to {result.peak_pct:.1f} % a minute"
    else:
        does = f"that evens out {result.limit_pct:.1f} % a minute instead of {level.limit_pct_per_min:.1f}"
    verdict = ""
    if result.index < LEVEL_INDEX and moves == "falls":
        verdict = ", which is level"
    if result.index > UNEVEN_INDEX and moves == "rises":
        verdict = ", which is clearly tonal"
    return f"{way.words}: {cost}{does}{verdict}."


def _together_words(results: Sequence[_Result]) -> Iterator[str]:
    """Yield that the best strike and the best movement together make it level, where neither does alone."""
    if not results or any(result.index < LEVEL_INDEX for result in results):
        return
    calmest, most = min(results, key=lambda r: r.peak_pct), max(results, key=lambda r: r.limit_pct)
    if calmest.peak_pct < most.limit_pct:
        first, second = calmest.way.words, most.way.words
        place = second.rfind(" between ")
        where = second[place:] if place >= 0 else ""
        if where and not first.endswith(where):  # another way moves the zone
            second = f"{second[:place]} until the colour is in"
        both = f"{first.removesuffix(where)} and {second[0].lower()}{second[1:]}"
        yield (
            f"{both}, both together: the strike is {calmest.peak_pct:.1f} % a minute where {most.limit_pct:.1f} are "
            "evened out, which is level."
        )


def _boil_words(trial: Trial, level: Levelness) -> Iterator[str]:
    """Yield how much longer at the boil evens out a dye that migrates; nothing where the programme stays below."""
    if max(trial.sheet.bath_c) < NEAR_BOIL_C:
        return
    classes = {trial.sheet.card.dyes[place].dye_class for place in trial.modelled.places}
    slowest = max(evens_out_min(dye_class) for dye_class in classes)
    if level.uneven_frac is None or level.uneven_frac <= FEW_FRAC or slowest > LONGEST_BOIL_MIN:
        return
    more_min = slowest * float(np.log(level.uneven_frac / FEW_FRAC))
    if 1 <= more_min <= LONGEST_BOIL_MIN:
        now, then = round(20 * level.uneven_frac), round(20 * FEW_FRAC)
        yield (
            f"Hold it {show_duration(more_min)} longer near the boil: these dyes even out there (estimate), and {then} "
            f"of 20 pots stay uneven instead of {now}."
        )


def _salt_words(sheet: Sheet) -> Iterator[str]:
    """Yield that salt slows levelling dyes in an acid bath; never for any other class, which it makes worse."""
    is_levelling = all(dye.dye_class is DyeClass.ACID_LEVELLING for dye in sheet.card.dyes)
    is_salted = any(dose.substance in SALTS for dose in sheet.card.assistants)
    if is_levelling and not is_salted and sheet.ph_closed is not None and sheet.ph_closed < SALT_PH:
        yield f"{SALT_WORDS}."
