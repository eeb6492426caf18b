"""What to change where the dyes of one pot strike apart, or should: each way is computed, none guessed."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from dyewright.core.level import GAP_SEEN, breaking
from dyewright.core.model import Breaking, DyeClass, DyeDose, When, WhenKind
from dyewright.services.forecasting.otherwise import (
    acid_later,
    acid_to,
    dye_moved,
    heated,
    is_acid_early,
    mean_rate_c_per_min,
)
from dyewright.services.forecasting.trial import Trial, Way
from dyewright.services.forecasting.ways import LATER, SLOW_C_PER_MIN, all_at_start, comes, moment_words
from dyewright.units import show_percent, show_temperature

__all__ = ["ways_apart", "ways_together"]

MOST_WAYS = 3
WORTH_FRAC = 0.1  # of the gap: a way that changes less is not worth a sentence
AROUND_C = 10  # degrees below and above the widest gap: estimate
# What counts as enough acid: levelling dyes pH 3.5, the others 5.5; common practice, no source.
ENOUGH_ACID_PH, OTHER_ENOUGH_PH, SAME_PH = {DyeClass.ACID_LEVELLING: 3.5}, 5.5, 0.3
WAITS_MIN = (10.0, 20.0)  # common practice, no source: the other dye follows so much later


@dataclass(frozen=True)
class _Result:
    way: Way
    gap: Breaking


def ways_together(trial: Trial, apart: Breaking) -> tuple[str, ...]:
    """Return what brings the dyes closer together on the way, the most useful first."""
    if apart.max_gap < GAP_SEEN:
        return ()
    closer = [one for one in _tried(trial, apart, _closer(trial, apart)) if one.gap.max_gap < _worth(apart, -1)]
    closer.sort(key=lambda one: one.gap.max_gap)
    sentences = [
        f"{one.way.words}: {_cost(one.way)}{_percent(one.gap.max_gap)} apart at most, not {_percent(apart.max_gap)}."
        for one in closer[:MOST_WAYS]
    ]
    return (*sentences, *_class_words(trial, apart))


def ways_apart(trial: Trial, apart: Breaking) -> tuple[str, ...]:
    """Return what takes the dyes further apart, for skeins that are to break, the strongest first."""
    further = [one for one in _tried(trial, apart, _further(trial, apart)) if one.gap.max_gap > _worth(apart, 1)]
    further.sort(key=lambda one: -one.gap.max_gap)
    return tuple(
        f"{one.way.words}: {_percent(one.gap.max_gap)} apart at {show_temperature(one.gap.at_c)}, not "
        f"{_percent(apart.max_gap)}."
        for one in further[:MOST_WAYS]
    )


def _worth(apart: Breaking, sign: int) -> float:
    return (1 + sign * WORTH_FRAC) * apart.max_gap


def _percent(frac: float) -> str:
    return show_percent(round(frac, 2))


def _cost(way: Way) -> str:
    return f"{way.longer_min:.0f} min longer, " if way.longer_min >= 1 else ""


def _tried(trial: Trial, apart: Breaking, ways: Iterator[Way]) -> list[_Result]:
    """Return the gap that each way leaves: the forecast's own and what the way changes in it.

    A ratio would not do: a gap that comes of another entry has little to do with one of a few percent before.
    """
    off = apart.max_gap - _gap(trial, Way("", trial.sheet)).max_gap
    gaps = ((way, _gap(trial, way)) for way in ways)
    return [_Result(way, replace(gap, max_gap=min(1.0, max(0.0, gap.max_gap + off)))) for way, gap in gaps]


def _gap(trial: Trial, way: Way) -> Breaking:
    bath_c, middle = trial.middle(way)
    found = breaking(bath_c, middle, [dye.name for dye in _dyes(trial)])
    if found is None:
        raise ValueError("a gap needs two dyes")
    return found


def _dyes(trial: Trial) -> list[DyeDose]:
    return [trial.sheet.card.dyes[place] for place in trial.modelled.places]


def _closer(trial: Trial, apart: Breaking) -> Iterator[Way]:
    sheet = trial.sheet
    for wait_min in WAITS_MIN:
        yield from _waiting(trial, apart.last, apart.first, wait_min)
    if any(dye.parts != (When(),) for dye in _dyes(trial)):
        yield all_at_start(sheet)
    yield from _more_acid(trial, apart)
    if is_acid_early(sheet):
        for when in LATER:
            if comes(sheet, when):
                yield Way(f"Keep half of the acid for {moment_words(when)}", acid_later(sheet, when))
    low, high = round(apart.at_c) - AROUND_C, round(apart.at_c) + AROUND_C
    if mean_rate_c_per_min(sheet, low, high) > (1 + WORTH_FRAC) * SLOW_C_PER_MIN:
        slowed = heated(sheet, low, high, SLOW_C_PER_MIN)
        words = f"Heat at {SLOW_C_PER_MIN:g} °C a minute between {low} and {show_temperature(high)}"
        yield Way(words, slowed, longer_min=slowed.t_min[-1] - sheet.t_min[-1])


def _more_acid(trial: Trial, apart: Breaking) -> Iterator[Way]:
    """Yield as much acid as the dye that trails needs: a levelling dye in a weak bath never comes in like another."""
    last = next(dye for dye in _dyes(trial) if dye.name == apart.last)
    ph = ENOUGH_ACID_PH.get(last.dye_class, OTHER_ENOUGH_PH)
    if trial.sheet.ph_closed is not None and trial.sheet.ph_closed > ph + SAME_PH:
        yield Way(f"Give acid to pH {ph:g}", acid_to(trial.sheet, ph))


def _further(trial: Trial, apart: Breaking) -> Iterator[Way]:
    for wait_min in WAITS_MIN:
        yield from _waiting(trial, apart.first, apart.last, wait_min)


def _waiting(trial: Trial, leader: str, follower: str, wait_min: float) -> Iterator[Way]:
    """Yield the way in which one dye goes in first and the other follows; nothing where the programme ends before."""
    when = When(WhenKind.MINUTE, wait_min)
    if comes(trial.sheet, when):
        words = f"Begin with {leader} alone and give {follower} after {moment_words(when)}"
        yield Way(words, dye_moved(trial.sheet, [follower], (when,)))


def _class_words(trial: Trial, apart: Breaking) -> Iterator[str]:
    """Yield what it brings to take both dyes from one class, where they are of two."""
    dyes = _dyes(trial)
    first, last = ([dye.name for dye in dyes].index(name) for name in (apart.first, apart.last))
    if dyes[first].dye_class is dyes[last].dye_class:
        return
    kinds = list(trial.modelled.kinds)
    kinds[first] = kinds[last]
    alike = _gap(trial.with_kinds(tuple(kinds)), Way("", trial.sheet))
    if alike.max_gap < _worth(apart, -1):
        yield (
            f"Take a dye like {apart.first} from the {dyes[last].dye_class.value} dyes too: {_percent(alike.max_gap)} "
            f"apart at most by the class defaults, not {_percent(apart.max_gap)}."
        )
