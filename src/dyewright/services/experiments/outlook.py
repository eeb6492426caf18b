"""What an experiment is expected to show before it is dyed, and whether it can show a difference at all."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.experiment import ALIKE_DE00, step_differences
from dyewright.core.mixing import ShelfModel, band_95, depth_vector, lab_of_mix
from dyewright.core.model import Base, Card, Experiment, Factor, Forecast, Lab, Learnt, Sample, Sheet
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import runs, shelf
from dyewright.services.experiments.factors import FACTORS
from dyewright.services.experiments.samples import Bench, bench_of, sample_words
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.planning import plan
from dyewright.services.shelf_model import fitted, usable_swatches
from dyewright.services.shown import shown_hex, shown_words
from dyewright.units import show_percent

__all__ = ["SEEN_MIN", "Expected", "Outlook", "foretold_colours", "outlook"]

Tell = Callable[[Sheet], Forecast]

SEEN_IN_BATH_FRAC = 0.06  # two baths that end this far apart differ by a rung of the ladder near its clear end
DRIFT_PH = 0.3  # a drift that a strip can tell (estimate)
SEEN_MIN = 8.0  # minutes between two clear baths that looks every few minutes can tell (estimate)
OFF_FRAC = 0.05  # a drawn dose farther from its step than this is said (estimate)
SAME_FRAC = 0.03  # steps drawn nearer than this are hardly two (estimate)
SURE_TIMES = 2.0  # a difference twice the scatter is told for sure


@dataclass(frozen=True, eq=False)
class Expected:
    """What is foretold of one sample. `lab` is its colour where swatches tell it, `band_de00` how sure that is."""

    sample: Sample
    words: str
    told: Forecast | None
    sheet: Sheet | None
    lab: Lab | None
    band_de00: float | None
    hex: str | None
    colour: str
    clear: str
    in_at_end: str
    rinses: str


@dataclass(frozen=True)
class Outlook:
    """All samples as foretold; `verdict` whether a difference can be seen, `advice` what would make it plainer."""

    expected: tuple[Expected, ...]
    verdict: str
    advice: str
    is_telling: bool
    notes: tuple[str, ...]


def outlook(session: Session, bench: Bench, base: Base | None) -> Outlook:
    """Return what is foretold of each sample of a bench."""
    model = _model(session, base, bench.card)
    tell = _teller(session, bench.experiment)
    expected = _all_expected(bench, base, model, tell)
    verdict, is_telling = _verdict(bench.experiment, expected)
    return Outlook(
        expected=expected,
        verdict=verdict,
        advice="" if is_telling else _advice(bench, base, model, tell),
        is_telling=is_telling,
        notes=_notes(bench, model, expected),
    )


def foretold_colours(session: Session, bench: Bench) -> dict[int, Lab | None]:
    """Return the colour that each sample should have, by its number; None where the shelf cannot say."""
    base_id = bench.experiment.base_id
    base = None if base_id is None else shelf.base(session, base_id)
    expected = _all_expected(bench, base, _model(session, base, bench.card), _teller(session, bench.experiment))
    return {one.sample.number: one.lab for one in expected}


def _all_expected(bench: Bench, base: Base | None, model: ShelfModel | None, tell: Tell) -> tuple[Expected, ...]:
    sheets = [
        None if sample.value is None else plan(bench.pot_card(place), bench.settings)
        for place, sample in enumerate(bench.experiment.samples)
    ]
    told = [None if sheet is None else tell(sheet) for sheet in sheets]
    usual = _final(_usual(bench, told, tell))
    return tuple(
        _expected(bench.experiment, sample, forecast, sheet, _colour(model, base, card, forecast, usual))
        for sample, forecast, sheet, card in zip(bench.experiment.samples, told, sheets, bench.cards, strict=True)
    )


def _teller(session: Session, experiment: Experiment) -> Tell:
    """Return what foretells a sample's sheet: what pots taught before this experiment counts, its own baths do not."""
    numbers = [runs.run(session, one.run_id).number for one in experiment.samples if one.run_id is not None]
    before = min(numbers, default=None)

    def tell(sheet: Sheet) -> Forecast:
        said = learnt_for(session, sheet, before_number=before)
        return _told_of(_Asked(repr((replace(sheet, title=""), said)), sheet, said))

    return tell


@dataclass(frozen=True)
class _Asked:
    """A sheet to foretell with what is learnt of its dyes; two of the same key are one."""

    key: str
    sheet: Sheet = field(compare=False)
    learnt: Learnt | None = field(compare=False)


@lru_cache(maxsize=48)
def _told_of(asked: _Asked) -> Forecast:
    """Return the forecast of a sample; the last ones are kept, since a page asks again for the same."""
    return forecast_from(asked.sheet, learnt=asked.learnt, is_advised=False)


def _model(session: Session, base: Base | None, card: Card) -> ShelfModel | None:
    """Return the fit over the base; None where its swatches do not tell all dyes of the card."""
    if base is None:
        return None
    usable = usable_swatches(session)
    try:
        model = fitted(usable.swatches, base.name, lots=usable.lots, blends=usable.blends)
    except InputError:  # no swatches, or none of the undyed yarn: the colours stay unsaid
        return None
    return model if {dye.name for dye in card.dyes} <= set(model.dyes) else None


def _usual(bench: Bench, told: Sequence[Forecast | None], tell: Tell) -> Forecast:
    """Return the forecast that the shelf's swatches are taken to have been dyed as: the card unvaried.

    Where the factor is depth every sample is dyed as usual, so the middle one stands for it.
    """
    known = [one for one in told if one is not None]
    if bench.experiment.factor is Factor.DEPTH:
        return known[len(known) // 2]
    full = replace(bench.card, pots=bench.pot_card(0).pots, title="")
    return tell(plan(full, bench.settings))


def _final(told: Forecast) -> dict[str, float]:
    return {dye.name: float(dye.exhaustion[-1]) for dye in told.dyes if dye.exhaustion is not None}


def _colour(
    model: ShelfModel | None, base: Base | None, card: Card, told: Forecast | None, usual: dict[str, float]
) -> tuple[Lab | None, float | None]:
    """Return the colour of a sample and its band: each dye counts by what goes in, against a usual dyeing."""
    if told is None:
        return (None if base is None else base.undyed_lab), None
    if model is None:
        return None, None
    final = _final(told)
    depths: dict[str, float] = {}
    for dye in card.dyes:
        share = final[dye.name] / usual[dye.name] if usual.get(dye.name) and dye.name in final else 1.0
        depths[dye.name] = depths.get(dye.name, 0.0) + dye.depth_owf * share
    tables, vector = load_observer_tables(), depth_vector(model, depths)
    lightness, a, b = (float(part) for part in lab_of_mix(model, vector, tables))
    return (lightness, a, b), band_95(model, vector, tables)


def _expected(
    experiment: Experiment,
    sample: Sample,
    told: Forecast | None,
    sheet: Sheet | None,
    colour: tuple[Lab | None, float | None],
) -> Expected:
    lab, band = colour
    return Expected(
        sample=sample,
        words=sample_words(experiment, sample),
        told=told,
        sheet=sheet,
        lab=lab,
        band_de00=band,
        hex=None if lab is None else shown_hex(lab),
        colour=shown_words(lab) if lab is not None else "",
        clear=_clear(told),
        in_at_end=_in_at_end(told),
        rinses=_rinses(told),
    )


def _clear(told: Forecast | None) -> str:
    if told is None or told.clear_at_min.never_frac is None:
        return "–"
    clear = told.clear_at_min
    if clear.mid is None:
        return f"{clear.low:.0f} min or never" if clear.low is not None else "never"
    high = "never" if clear.high is None else f"{clear.high:.0f}"
    return f"{clear.mid:.0f} min ({clear.low or 0:.0f}–{high})"


def _in_at_end(told: Forecast | None) -> str:
    if told is None or told.final_exhaustion.mid is None:
        return "–"
    band = told.final_exhaustion
    return f"{show_percent(round(band.mid or 0.0, 2))} ({100 * (band.low or 0):.0f}–{100 * (band.high or 0):.0f})"


def _rinses(told: Forecast | None) -> str:
    if told is None or told.wash_off is None or told.wash_off.rinses.mid is None:
        return "–"
    band = told.wash_off.rinses
    high = "more" if band.high is None else f"{band.high:.0f}"
    return f"{band.mid:.0f} ({band.low or 0:.0f}–{high})"


def _verdict(experiment: Experiment, expected: Sequence[Expected]) -> tuple[str, bool]:
    """Return whether the series is foretold to show a difference, in a sentence."""
    dyed = [one for one in expected if one.sample.value is not None]
    first, last = min(dyed, key=_value), max(dyed, key=_value)
    span = f"from {first.words} to {last.words}"
    parts, is_telling = [], False
    labs = [one.lab for one in dyed if one.lab is not None]
    if len(labs) == len(dyed):
        apart = float(step_differences(labs).max())
        is_telling = apart > SURE_TIMES * ALIKE_DE00
        how = "plain to see" if is_telling else "hardly visible" if apart > ALIKE_DE00 else "not visible"
        parts.append(f"{span[0].upper()}{span[1:]} the yarn is foretold to differ by {apart:.1f} ΔE00: {how}")
    bath, in_bath = _in_the_bath(first, last)
    if bath:
        parts.append(bath if parts else f"{span[0].upper()}{span[1:]} {bath}")
    if not parts:
        return ("No model foretells a difference here: the experiment is the first to tell.", True)
    if experiment.factor is Factor.DEPTH and len(labs) < len(dyed):
        is_telling = True  # depth always shows: only its colours are not known yet
    return "; ".join(parts) + ".", is_telling or in_bath


def _value(one: Expected) -> float:
    return one.sample.value or 0.0


def _in_the_bath(first: Expected, last: Expected) -> tuple[str, bool]:
    """Return what the glass of bath is foretold to show between the ends, and whether an eye would see it."""
    if first.told is None or last.told is None:
        return "", False
    ends = [one.told.final_exhaustion.mid for one in (first, last) if one.told]
    if any(end is None for end in ends):
        return "", False
    low, high = (end or 0.0 for end in ends)
    times = [one.told.clear_at_min.mid for one in (first, last) if one.told]
    if abs(low - high) >= SEEN_IN_BATH_FRAC:
        return (
            f"the bath keeps {show_percent(round(1 - low, 2))} of the dye at {first.words} and "
            f"{show_percent(round(1 - high, 2))} at {last.words}"
        ), True
    start, end = times
    if start is not None and end is not None and abs(start - end) >= SEEN_MIN:
        return f"the bath clears at {start:.0f} min at {first.words} and at {end:.0f} at {last.words}", True
    return "the bath looks much the same throughout", False


def _advice(bench: Bench, base: Base | None, model: ShelfModel | None, tell: Tell) -> str:
    """Return the wider span that would show more, or that none would."""
    facts = FACTORS[bench.experiment.factor]
    low, high = facts.telling
    values = [sample.value for sample in bench.experiment.samples if sample.value is not None]
    low, high = min(low, *values), max(high, *values)
    if (low, high) == (min(values), max(values)):
        return "It is as wide as it goes: this factor matters little here, and that is worth knowing too."
    ends = tuple(Sample(number, value, number) for number, value in enumerate((low, high), start=1))
    try:
        wider = bench_of(replace(bench.experiment, samples=ends), bench.card, base, bench.settings)
        expected = _all_expected(wider, base, model, tell)
    except InputError:  # the wider span cannot be dyed: nothing to advise
        return ""
    verdict, is_telling = _verdict(wider.experiment, expected)
    start = f"Take {facts.show(low)} to {facts.show(high)} instead"
    return (
        f"{start}: {verdict[0].lower()}{verdict[1:]}" if is_telling else f"Even so: {verdict[0].lower()}{verdict[1:]}"
    )


def _notes(bench: Bench, model: ShelfModel | None, expected: Sequence[Expected]) -> tuple[str, ...]:
    alike = (
        f"Two samples dyed and read alike differ by up to {ALIKE_DE00:g} ΔE00 (estimate); a twin of the middle step "
        "puts your own figure in its place."
    )
    notes = [alike]
    if model is None:
        notes.append("Colours are not foretold: that takes a swatch of each dye on this yarn, and of the undyed yarn.")
    elif bench.experiment.factor is not Factor.DEPTH:
        notes.append(
            "A colour is foretold from how much of each dye goes in, against a dyeing as usual, which the swatches "
            "are taken to have had (estimate)."
        )
    if bench.is_one_bath:
        notes.append(
            f"The jars trail the water bath by about {bench.water_bath.lag_min:.0f} min (estimate); the minutes count "
            "from when the jars themselves rise."
        )
    notes += _drift_notes(expected)
    notes += [note for one in expected[:1] if one.told is not None for note in one.told.notes if "no uptake" in note]
    return (*notes, *_dose_notes(bench))


def _drift_notes(expected: Sequence[Expected]) -> list[str]:
    """Return which baths do not keep the pH that they were mixed to."""
    drifts = {
        one.words: one.sheet.ph_stripped
        for one in expected
        if one.sheet is not None and (one.sheet.ph_stripped or 0.0) - (one.sheet.ph_closed or 0.0) > DRIFT_PH
    }
    if not drifts:
        return []
    listed = ", ".join(f"{words} towards {ph:.1f}" for words, ph in drifts.items())
    said = (
        f"Hot and stirred, the carbonate of your water leaves as gas and the pH drifts: {listed}. A strip at the end "
        "tells what it was."
    )
    return [said]


def _dose_notes(bench: Bench) -> list[str]:
    """Return doses that the syringe cannot give well, or that it cannot tell apart."""
    notes = [
        f"Sample {jar.jar.number}: {dose.name} {show_percent(dose.depth_owf)} is too little for the syringe's mark, "
        f"which makes it {show_percent(dose.drawn_owf)}: a larger skein is nearer."
        for jar in bench.jars
        for dose in jar.doses
        if abs(dose.drawn_owf / dose.depth_owf - 1) > OFF_FRAC
    ]
    if bench.experiment.factor is Factor.DEPTH:
        drawn = [sum(dose.drawn_owf for dose in jar.doses) for jar in bench.jars if jar.doses]
        pairs = pairwise(sorted(set(drawn)))
        if any(np.isclose(low, high, rtol=SAME_FRAC) for low, high in pairs):
            notes.append(
                f"Two steps come out within {show_percent(SAME_FRAC)} of each other by the syringe's mark: take fewer "
                "steps."
            )
    return notes
