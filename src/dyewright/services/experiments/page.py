"""The pages of experiments: the list, one with its plan, its readings and what it taught, the cards to keep."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy.orm import Session

from dyewright.core.model import Base, Experiment, Factor, Lab
from dyewright.errors import InputError
from dyewright.records import experiments as records_of
from dyewright.records import shelf
from dyewright.services.experiments.doing import COLUMNS, RUNGS, typed_of
from dyewright.services.experiments.factors import FACTORS, along
from dyewright.services.experiments.outlook import Expected, outlook
from dyewright.services.experiments.results import SampleResult, learned, results
from dyewright.services.experiments.samples import Bench, sample_words
from dyewright.services.experiments.sheet import kept_bench, paper_experiment
from dyewright.services.shown import shown_hex, shown_words
from dyewright.sheets.evening import SwatchCard, cards_pdf
from dyewright.sheets.experiment import FactorPoint, SampleCurve, factor_chart, overlay_chart
from dyewright.units import show_mass

__all__ = ["experiment_page", "experiments_page", "print_cards"]

WIDE_PX, NARROW_PX = 1080, 236  # of the plot: a desk's column, a phone
AFTER_HOLD_MIN = 10.0  # how much after the hold the overlay shows
USUAL_AGO = timedelta(hours=3)  # before the readings are entered, heat went on


@dataclass(frozen=True)
class ExperimentLine:
    """An experiment as the list shows it; `hexes` are the colours that came out, in the order of the factor."""

    id: int | None
    name: str
    created_on: date
    factor: str
    span: str
    samples: int
    read: int
    hexes: tuple[str, ...]


@dataclass(frozen=True)
class Panel:
    """One small chart: what it shows, and the drawing."""

    title: str
    svg: str


def experiments_page(session: Session) -> dict[str, object]:
    """Return every experiment, the latest first."""
    return {"experiments": [_line(one) for one in records_of.experiments(session)]}


def _line(one: Experiment) -> ExperimentLine:
    facts = FACTORS[one.factor]
    values = [sample.value for sample in one.samples if sample.value is not None]
    ordered = sorted(one.samples, key=lambda sample: (sample.value is None, sample.value or 0.0))
    hexes = tuple(shown_hex(sample.lab) for sample in ordered if sample.lab is not None)
    return ExperimentLine(
        id=one.id,
        name=one.name,
        created_on=one.created_on,
        factor=facts.words,
        span=f"{facts.show(min(values))} to {facts.show(max(values))}",
        samples=len(one.samples),
        read=len(hexes),
        hexes=hexes,
    )


def experiment_page(
    session: Session, experiment_id: int, typed: Mapping[str, str] | None = None, *, now: datetime
) -> dict[str, object]:
    """Return one experiment: what it taught, what was foretold, its sheet, and the grid of readings.

    An error that keeps it from being worked out stands in `error`.
    """
    experiment = records_of.experiment(session, experiment_id)
    base = None if experiment.base_id is None else shelf.base(session, experiment.base_id)
    view: dict[str, object] = {
        "experiment": experiment,
        "facts": FACTORS[experiment.factor],
        "base_yarn": base,
        "sample_mass": show_mass(experiment.sample_g),
        "rungs": [("", "not looked"), *RUNGS],
        "samples": (),
        "results": (),
        "learned": None,
        "outlook": None,
        "sheet": None,
        "panels": (),
        "overlay": None,
        "overlay_narrow": None,
        "typed": typed or {},
        "error": None,
    }
    try:
        bench = kept_bench(session, experiment)
        view |= _worked_out(session, bench, base, typed, now)
    except InputError as error:
        view["error"] = error
    return view


def _worked_out(
    session: Session, bench: Bench, base: Base | None, typed: Mapping[str, str] | None, now: datetime
) -> dict[str, object]:
    experiment = bench.experiment
    foretold = outlook(session, bench, base)
    came_out = results(session, experiment, foretold.expected)
    return {
        "results": came_out,
        "learned": learned(experiment, came_out, base),
        "outlook": foretold,
        "along": along(experiment.factor, bench.card),
        "sheet": {"page": paper_experiment(bench)},
        "panels": _panels(experiment, came_out),
        "overlay": _overlay(came_out, WIDE_PX),
        "overlay_narrow": _overlay(came_out, NARROW_PX),
        "typed": _typed(came_out, now) if typed is None else typed,
        "columns": COLUMNS,
        "is_read": any(one.sample.lab is not None for one in came_out),
        "has_runs": any(one.sample.run_id is not None for one in came_out),
        "is_any_run_open": any(one.sample.run_id is None for one in came_out if one.sample.value is not None),
    }


def _typed(came_out: Sequence[SampleResult], now: datetime) -> dict[str, str]:
    fields = {"heat_on": f"{(now - USUAL_AGO).astimezone():%Y-%m-%dT%H:%M}"}
    for one in came_out:
        fields |= typed_of(one.sample, one.seen)
    return fields


def _overlay(came_out: Sequence[SampleResult], width_px: int) -> str | None:
    """Return the chart of all baths; None where no dye of them has a model."""
    steps: dict[float, list[SampleResult]] = {}
    for one in came_out:
        if one.sample.value is not None:
            steps.setdefault(one.sample.value, []).append(one)
    curves = [curve for alike in steps.values() if (curve := _curve(alike)) is not None]
    if not curves:
        return None
    ends = [one.expected.told.hold_end_min for one in came_out if one.expected.told is not None]
    return overlay_chart(curves, until_min=max(ends) + AFTER_HOLD_MIN, width_px=width_px)


def _curve(alike: Sequence[SampleResult]) -> SampleCurve | None:
    """Return one step of the factor: its curve in the colour of its first sample, and what was seen of all of them."""
    first = alike[0]
    told = first.expected.told
    if told is None or told.bath.exhaustion is None or told.bath.low is None or told.bath.high is None:
        return None
    return SampleCurve(
        label=", ".join(str(one.sample.number) for one in alike),
        t_min=told.t_min,
        mid=told.bath.exhaustion,
        low=told.bath.low,
        high=told.bath.high,
        colour=first.hex or first.expected.hex,
        looks=[(at_min, uptake, str(one.sample.number)) for one in alike for at_min, uptake in one.seen.looks],
    )


def _panels(experiment: Experiment, came_out: Sequence[SampleResult]) -> tuple[Panel, ...]:
    """Return the small charts: lightness, chroma and the time to clear over the steps; those that have anything."""
    steps = [one for one in came_out if one.sample.value is not None]
    drawn = []
    for title, points in (
        ("Lightness L*", [_lab_point(one, _lightness) for one in steps]),
        ("Chroma C*", [_lab_point(one, _chroma) for one in steps]),
        ("Clear at, min", [_clear_point(one) for one in steps]),
    ):
        known = [point for point in points if point.mid is not None or point.seen is not None]
        if len({point.value for point in known}) > 1:
            is_by_ratio = experiment.factor is Factor.DEPTH
            drawn.append(Panel(title, factor_chart(known, title=title, is_by_ratio=is_by_ratio)))
    return tuple(drawn)


def _lightness(lab: Lab) -> float:
    return lab[0]


def _chroma(lab: Lab) -> float:
    return float((lab[1] ** 2 + lab[2] ** 2) ** 0.5)


def _label(expected: Expected) -> str:
    return expected.words.removeprefix("pH ").removesuffix("\u202f°C/min")


def _lab_point(one: SampleResult, part: Callable[[Lab], float]) -> FactorPoint:
    """Return a step's foretold and read value; the band of a colour is taken as the band of its parts (estimate)."""
    mid = None if one.expected.lab is None else part(one.expected.lab)
    band = one.expected.band_de00 or 0.0
    return FactorPoint(
        value=one.sample.value or 0.0,
        label=_label(one.expected),
        low=None if mid is None else mid - band,
        mid=mid,
        high=None if mid is None else mid + band,
        seen=None if one.sample.lab is None else part(one.sample.lab),
    )


def _clear_point(one: SampleResult) -> FactorPoint:
    clear = None if one.expected.told is None else one.expected.told.clear_at_min
    is_known = clear is not None and None not in (clear.low, clear.mid, clear.high)
    return FactorPoint(
        value=one.sample.value or 0.0,
        label=_label(one.expected),
        low=clear.low if clear and is_known else None,
        mid=clear.mid if clear and is_known else None,
        high=clear.high if clear and is_known else None,
        seen=one.seen.clear_min,
    )


def print_cards(session: Session, experiment_id: int) -> bytes:
    """Return the retained cards of an experiment as PDF: the samples whose colour is known.

    Raises:
        InputError: no sample has its colour yet.
    """
    experiment = records_of.experiment(session, experiment_id)
    base = "" if experiment.base_id is None else shelf.base(session, experiment.base_id).name
    day = f"{experiment.created_on.day} {experiment.created_on:%B %Y}"
    cards = []
    for sample in experiment.samples:
        if sample.lab is not None:
            lightness, a, b = sample.lab
            cards.append(
                SwatchCard(
                    number=sample.number,
                    recipe=sample_words(experiment, sample),
                    base=base,
                    dyed_on=day,
                    lots="",
                    measured=f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f} (D65, 10°)".replace("-", "\u2212"),
                    words=shown_words(sample.lab),
                    hex=shown_hex(sample.lab),
                    seat=experiment.name,
                )
            )
    if not cards:
        raise InputError(
            "no sample has its colour yet: read the dried skeins first, then print their cards", field="samples"
        )
    return cards_pdf(experiment.name, cards)
