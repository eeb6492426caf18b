"""What came of an experiment: the colours in order, how far apart they are, and what was learnt, in plain sentences."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.experiment import ALIKE_DE00, alike_within_de00, flat_stretch, series_within_de00, step_differences
from dyewright.core.model import Base, Experiment, Factor, Lab, Sample
from dyewright.records import runs
from dyewright.services.experiments.doing import Seen, seen_of
from dyewright.services.experiments.factors import FACTORS
from dyewright.services.experiments.outlook import SEEN_MIN, Expected
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["Learned", "SampleResult", "learned", "results"]

STAYS = ((0.94, ""), (0.9, "a sixteenth"), (0.8, "an eighth"), (0.6, "a quarter"), (0.4, "half"), (0.0, "most"))
"""What stays in the bath from this uptake down, in words; nothing worth saying from the first on."""


@dataclass(frozen=True, eq=False)
class SampleResult:
    """One sample with what came out; differences are ΔE00, None where a colour is not known.

    `to_next` is to the next step of the factor, `to_middle` to its middle one, `to_foretold` to what was foretold.
    """

    sample: Sample
    words: str
    expected: Expected
    hex: str | None
    colour: str
    to_next: float | None
    to_middle: float | None
    to_foretold: float | None
    seen: Seen
    run_number: int | None


@dataclass(frozen=True)
class Learned:
    """What an experiment taught: the answer, then what else was seen; `alike` is the scatter it is held against."""

    answer: str
    more: tuple[str, ...]
    alike: float
    is_own_scatter: bool


def results(session: Session, experiment: Experiment, expected: Sequence[Expected]) -> tuple[SampleResult, ...]:
    """Return every sample in the order of the factor: the steps, the twin, the blank."""
    by_number = {one.sample.number: one for one in expected}
    steps = _steps(experiment)
    middle = steps[len(steps) // 2].lab
    made = []
    for sample in experiment.samples:
        after = steps[steps.index(sample) + 1].lab if sample in steps[:-1] else None
        run = None if sample.run_id is None else runs.run(session, sample.run_id)
        one = by_number[sample.number]
        made.append(
            SampleResult(
                sample=sample,
                words=one.words,
                expected=one,
                hex=None if sample.lab is None else shown_hex(sample.lab),
                colour="" if sample.lab is None else shown_words(sample.lab),
                to_next=_apart(sample.lab, after),
                to_middle=_apart(sample.lab, middle),
                to_foretold=_apart(sample.lab, one.lab),
                seen=Seen() if run is None else seen_of(run),
                run_number=None if run is None else run.number,
            )
        )
    return tuple(made)


def _steps(experiment: Experiment) -> list[Sample]:
    """Return the samples of the series itself, without twin and blank."""
    steps: dict[float, Sample] = {}
    for sample in experiment.samples:
        if sample.value is not None:
            steps.setdefault(sample.value, sample)
    return [steps[value] for value in sorted(steps)]


def _apart(one: Lab | None, other: Lab | None) -> float | None:
    return None if one is None or other is None else float(delta_e00(one, other))


def learned(experiment: Experiment, came_out: Sequence[SampleResult], base: Base | None) -> Learned | None:
    """Return what was learnt, in plain sentences; None where nothing was read or seen yet."""
    twins = _twin_differences(experiment)
    alike = alike_within_de00(twins)
    by_number = {one.sample.number: one for one in came_out}
    steps = [by_number[sample.number] for sample in _steps(experiment)]
    coloured = [one for one in steps if one.sample.lab is not None]
    told = [_of_colours(experiment, coloured, alike), *_of_baths(steps)]
    said = [sentence for sentence in told if sentence]
    if not said:
        return None
    more = [*said[1:], *_of_twins(twins, alike), *_of_blank(experiment, base, alike), *_of_forecast(steps)]
    return Learned(said[0], tuple(more), alike, bool(twins))


def _twin_differences(experiment: Experiment) -> list[float]:
    """Return ΔE00 between each twin and the step that it repeats."""
    found = []
    for step in _steps(experiment):
        for other in experiment.samples:
            if other.value == step.value and other.number != step.number:
                apart = _apart(step.lab, other.lab)
                found += [] if apart is None else [apart]
    return found


def _of_colours(experiment: Experiment, steps: Sequence[SampleResult], alike: float) -> str:
    """Return what the colours tell: where it makes no odds, and what it does elsewhere."""
    if len(steps) < 2:
        return ""
    labs = [one.sample.lab for one in steps if one.sample.lab is not None]
    first, last = steps[0], steps[-1]
    apart = step_differences(labs)
    facts = FACTORS[experiment.factor]
    within = series_within_de00(alike, len(steps))
    if apart.max() <= within:
        return (
            f"From {first.words} to {last.words} no difference can be told: {apart.max():.1f} ΔE00 at most, and "
            f"{len(steps)} samples dyed alike lie up to {within:.1f} apart."
        )
    flat = flat_stretch(labs, within)
    whole = _of_ends((first.words, last.words), (labs[0], labs[-1]), within)
    if flat is None:
        return f"Every step shows. {whole}"
    low, high = flat
    odds = f"From {steps[low].words} to {steps[high].words} it makes no odds"
    if high == len(steps) - 1:
        below = f"{odds}; below, {facts.words.lower() if facts.factor is not Factor.PH else 'the pH'} tells. "
        return f"{below}{whole}"
    return f"{odds}. {whole}"


def _of_ends(words: tuple[str, str], labs: tuple[Lab, Lab], within: float) -> str:
    """Return how the last step differs from the first."""
    apart = float(delta_e00(*labs))
    if apart <= within:
        return f"Between {words[0]} and {words[1]} no difference can be told: {apart:.1f} ΔE00."
    return f"At {words[1]} the yarn is {difference_words(*labs)} than at {words[0]}, by {apart:.1f} ΔE00."


def _of_baths(steps: Sequence[SampleResult]) -> list[str]:
    """Return what the baths told: what stayed in, when they cleared, how many rinses."""
    said = []
    stays = [(one.words, words) for one in steps if one.seen.end is not None and (words := _stays(one.seen.end))]
    if stays:
        listed = ", ".join(f"at {words} {share}" for words, share in stays)
        rest = " of the dye stayed in the bath" + (
            "; the others came clear." if len(stays) < sum(one.seen.end is not None for one in steps) else "."
        )
        said.append(f"{listed[0].upper()}{listed[1:]}{rest}")
    elif sum(one.seen.end is not None for one in steps) > 1:
        said.append("Every bath came clear in the end.")
    timed = [(one.words, one.seen.clear_min) for one in steps if one.seen.clear_min is not None]
    if len(timed) > 1:
        (early, soon), (late, long) = (pick(timed, key=lambda one: one[1]) for pick in (min, max))
        said.append(
            f"The bath cleared at {soon:.0f} min at {early}, at {long:.0f} at {late}."
            if long - soon >= SEEN_MIN
            else f"They cleared within {long - soon:.0f} min of each other, too near to tell apart by looks."
        )
    rinsed = [(one.words, one.seen.rinses) for one in steps if one.seen.rinses is not None]
    if len(rinsed) > 1:
        (fewest, few), (most, many) = (pick(rinsed, key=lambda one: one[1] or 0) for pick in (min, max))
        said.append(
            f"Rinses until clear: {few} at {fewest}, {many} at {most}."
            if few != many
            else f"Each took {few} rinse{'' if few == 1 else 's'}."
        )
    return said


def _stays(end: float) -> str:
    return next(words for bound, words in STAYS if end >= bound)


def _of_twins(twins: Sequence[float], alike: float) -> list[str]:
    if not twins:
        return [f"No twin was read: samples dyed alike are taken to differ by up to {ALIKE_DE00:g} ΔE00 (estimate)."]
    words = (
        f"The twins came out {max(twins):.1f} ΔE00 apart; with the usual estimate of {ALIKE_DE00:g}, differences up to "
        f"{alike:.1f} tell nothing."
    )
    return [words]


def _of_blank(experiment: Experiment, base: Base | None, alike: float) -> list[str]:
    """Return what heat and acid did to the yarn without dye."""
    blank = next((one for one in experiment.samples if one.value is None), None)
    if blank is None or blank.lab is None or base is None or base.undyed_lab is None:
        return []
    apart = float(delta_e00(base.undyed_lab, blank.lab))
    if apart <= alike:
        return ["The blank looks as the undyed yarn did: heat and acid alone change nothing that can be told."]
    words = difference_words(base.undyed_lab, blank.lab)
    said = (
        f"Heat and acid alone made the yarn {words}, by {apart:.1f} ΔE00: compare with the blank, not with the undyed "
        "yarn on record."
    )
    return [said]


def _of_forecast(steps: Sequence[SampleResult]) -> list[str]:
    """Return how the forecast held, where baths were timed."""
    timed = [one for one in steps if one.seen.clear_min is not None and one.expected.told is not None]
    if not timed:
        return []
    within = sum(_is_within(one) for one in timed)
    return [f"{within} of {len(timed)} baths cleared within the foretold range."]


def _is_within(one: SampleResult) -> bool:
    clear = one.expected.told.clear_at_min if one.expected.told else None
    if clear is None or one.seen.clear_min is None or clear.low is None:
        return False
    return clear.low <= one.seen.clear_min <= (float("inf") if clear.high is None else clear.high)
