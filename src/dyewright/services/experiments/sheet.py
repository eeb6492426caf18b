"""The sheet of an experiment: every sample measured out, the order of work, and labels to tie on."""

from collections.abc import Iterator
from dataclasses import replace

from sqlalchemy.orm import Session

import dyewright
from dyewright.core.model import Experiment, Sample
from dyewright.data.practice import load_cautions
from dyewright.records import experiments as records_of
from dyewright.records import shelf
from dyewright.services.evening.amounts import stocks_to_mix
from dyewright.services.evening.sheet import paper_jar, paper_stocks
from dyewright.services.evening.steps import (
    EveningWork,
    additions,
    entering,
    evening_steps,
    finishing,
    heating,
    preparing,
)
from dyewright.services.experiments.factors import FACTORS, along
from dyewright.services.experiments.samples import Bench, bench_of, sample_words, stock_g_l
from dyewright.services.planning import read_card
from dyewright.sheets.evening import PaperEvening, PaperJar, evening_pdf
from dyewright.sheets.labels import TieOn, labels_pdf
from dyewright.sheets.pdf import Figure, PaperStep, qr_svg
from dyewright.units import show_mass, show_percent, show_temperature, show_volume

__all__ = ["kept_bench", "paper_experiment", "print_labels", "print_sheet"]

SWAP_MIN = 10.0  # one jar out, the bath's water changed, the next jar in (estimate)
NOT_CLEAR = "is part of the answer: note its glass of the clarity ladder, and give no jar more time than the others"
PHOTO_GOES = "to this experiment's page: it lays the colours out"


def kept_bench(session: Session, experiment: Experiment) -> Bench:
    """Return a kept experiment worked out.

    Raises:
        InputError: its card no longer gives a bath, as when the pots on it are too weak.
    """
    settings = shelf.studio_settings(session)
    base = None if experiment.base_id is None else shelf.base(session, experiment.base_id)
    return bench_of(experiment, read_card(experiment.card_toml, settings), base, settings)


def print_sheet(session: Session, experiment_id: int) -> bytes:
    """Return the sheet of an experiment as PDF."""
    return evening_pdf(paper_experiment(kept_bench(session, records_of.experiment(session, experiment_id))))


def paper_experiment(bench: Bench) -> PaperEvening:
    """Return an experiment as text ready for a page or for paper."""
    work = _work(bench)
    experiment = bench.experiment
    return PaperEvening(
        title=experiment.name,
        subtitle=_subtitle(experiment),
        figures=_figures(bench, work),
        jars=[_paper_sample(bench, place) for place in _by_turn(experiment)],
        stocks=paper_stocks(work.stocks, bench.jars, bench.card.scale_resolution_g),
        steps=evening_steps(work) if bench.is_one_bath else _one_after_another(bench, work),
        cautions=[load_cautions()[key].sentence for key in ("vessels", "defer")],
        notes=[*along(experiment.factor, bench.card), *_order_notes(bench), *bench.water_bath.room_notes()],
        footer=f"Dyewright {dyewright.__version__}, an experiment of {len(experiment.samples)} samples.",
    )


def _by_turn(experiment: Experiment) -> list[int]:
    """Return the places of the samples in their order of work."""
    return sorted(range(len(experiment.samples)), key=lambda place: experiment.samples[place].place)


def _work(bench: Bench) -> EveningWork:
    stocks = stocks_to_mix(bench.jars, stock_g_l(bench.card), bench.card.scale_resolution_g or 0.1)
    return EveningWork(
        card=bench.card,
        jars=bench.jars,
        stocks=stocks,
        curve=bench.curve(0),
        lag_min=bench.water_bath.lag_min,
        pot_name=bench.water_bath.pot_name,
        cautions=load_cautions(),
        seats=_seats(bench.experiment) if bench.is_one_bath else "",
        not_clear=NOT_CLEAR,
        photo_goes=PHOTO_GOES,
    )


def _seats(experiment: Experiment) -> str:
    order = ", ".join(str(experiment.samples[place].number) for place in _by_turn(experiment))
    return f" Seats go round the pot in the order that chance gave: {order}, the first by the handle."


def _subtitle(experiment: Experiment) -> str:
    day = f"{experiment.created_on.day} {experiment.created_on:%B %Y}"
    facts = FACTORS[experiment.factor]
    values = [sample.value for sample in experiment.samples if sample.value is not None]
    return (
        f"{facts.words} from {facts.show(min(values))} to {facts.show(max(values))}, {len(experiment.samples)} samples "
        f"of {show_mass(experiment.sample_g)}, {day}"
    )


def _figures(bench: Bench, work: EveningWork) -> list[Figure]:
    liquors = sorted({round(jar.liquor_l, 4) for jar in bench.jars})
    phs = sorted(jar.ph for jar in bench.jars)
    top = max(max(bench.curve(place).bath_c) for place in range(len(bench.jars)))
    acid = " and ".join(helper.name for helper in work.helpers) or "nothing added"
    together = "all in one water bath" if bench.is_one_bath else "one after another in a water bath"
    return [
        Figure("Liquor in a jar", _span([show_volume(liquor) for liquor in liquors]), "with the wet yarn's water"),
        Figure("pH in the jars", _span(list(dict.fromkeys(f"{ph:.1f}" for ph in phs))), f"with {acid}"),
        Figure("Heat to", show_temperature(top), together),
        Figure(
            "A jar stands full to",
            show_percent(round(max(jar.fill_frac for jar in bench.jars), 2)),
            f"of {show_volume(bench.jar_l)}, the fullest",
        ),
    ]


def _span(texts: list[str]) -> str:
    return texts[0] if len(texts) == 1 else f"{texts[0]}–{texts[-1]}"


def _paper_sample(bench: Bench, place: int) -> PaperJar:
    """Return a sample's row: its value in place of a recipe, its turn beside its weight."""
    sample = bench.experiment.samples[place]
    turn = f"{'seat' if bench.is_one_bath else 'turn'} {sample.place}"
    return replace(paper_jar(bench.jars[place]), recipe=_value_words(bench.experiment, sample), seat=turn)


def _value_words(experiment: Experiment, sample: Sample) -> str:
    words = sample_words(experiment, sample)
    first = next(one.number for one in experiment.samples if one.value == sample.value)
    return words if sample.value is None or first == sample.number else f"{words}, twin of {first}"


def _order_notes(bench: Bench) -> list[str]:
    how = "Where each jar stands" if bench.is_one_bath else "Which sample is dyed when"
    why = "a hot side of the pot" if bench.is_one_bath else "a drift over the day"
    notes = [f"{how} was drawn by chance, so that {why} does not look like the factor."]
    if any(sample.value is None for sample in bench.experiment.samples):
        notes.append(
            "The blank goes through the same bath and rinses without dye: it shows what heat and acid do alone."
        )
    return notes


def _one_after_another(bench: Bench, work: EveningWork) -> list[PaperStep]:
    """Return the steps where every sample has the water bath for itself."""
    steps, at_min = preparing(work)
    for place in _by_turn(bench.experiment):
        of_one = replace(work, jars=[bench.jars[place]], curve=bench.curve(place))
        steps += [_named(bench, place, step) for step in _turn(of_one, at_min)]
        at_min += of_one.curve.t_min[-1] + SWAP_MIN
    return [*steps, *finishing(work, at_min - SWAP_MIN)]


def _turn(work: EveningWork, heat_on: float) -> Iterator[PaperStep]:
    """Yield the steps of one sample's own heating."""
    yield from entering(work, heat_on)
    yield from (
        step for _, step in sorted([*heating(work, heat_on), *additions(work, heat_on)], key=lambda one: one[0])
    )


def _named(bench: Bench, place: int, step: PaperStep) -> PaperStep:
    sample = bench.experiment.samples[place]
    return replace(step, title=f"{sample.number}, {sample_words(bench.experiment, sample)}: {_small(step.title)}")


def _small(title: str) -> str:
    return title[:1].lower() + title[1:]


def print_labels(session: Session, experiment_id: int, *, page_url: str) -> bytes:
    """Return tags to tie on as PDF: number, value, name, and the way back to the experiment's page."""
    experiment = records_of.experiment(session, experiment_id)
    day = f"{experiment.created_on.day} {experiment.created_on:%B %Y}"
    labels = [
        TieOn(str(sample.number), _value_words(experiment, sample), experiment.name, day)
        for sample in experiment.samples
    ]
    return labels_pdf(experiment.name, labels, qr_svg(page_url))
