"""From the dried samples to their colours: off one photo of all, or typed, and as swatches where depth was varied."""

from collections.abc import Mapping
from dataclasses import replace
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Basis, Experiment, Factor, Sample, Swatch
from dyewright.errors import InputError
from dyewright.records import experiments as records_of
from dyewright.records import photos, shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.experiments.outlook import foretold_colours
from dyewright.services.experiments.samples import Bench, sample_words
from dyewright.services.experiments.sheet import kept_bench
from dyewright.services.tagged import LATEST, READ_WITH, matched, read_colours, regions_of

__all__ = ["assign_page", "can_be_swatches", "keep_colours"]

Form = Mapping[str, str]


def assign_page(
    session: Session, experiment_id: int, judgement_id: UUID | None, typed: Form | None = None
) -> dict[str, object]:
    """Return what the page for telling the samples of a verdict apart shows: each region with what it seems to be."""
    experiment = records_of.experiment(session, experiment_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    regions = regions_of(judgement)
    found = matched(regions, foretold_colours(session, kept_bench(session, experiment)), "sample")
    usual = {f"region.{region.id}": "" if number is None else str(number) for region, number in found.numbers}
    samples = [(one.number, sample_words(experiment, one)) for one in experiment.samples]
    return {
        "name": experiment.name,
        "judgement": judgement,
        "photo": None if judgement is None else photos.photo(session, judgement.photo_id),
        "is_relative": judgement is not None and judgement.result["basis"] == Basis.RELATIVE,
        "regions": regions,
        "doubts": found.doubts,
        "numbered": samples,
        "options": [(str(number), f"sample {number}: {words}") for number, words in samples],
        "latest": photos.all_judgements(session)[-LATEST:][::-1],
        "read_with": READ_WITH,
        "offers_swatches": can_be_swatches(experiment),
        "typed": {**usual, "source": READ_WITH[0], "swatches": "1"} if typed is None else dict(typed),
    }


def can_be_swatches(experiment: Experiment) -> bool:
    """Whether the samples tell what depths of the dye do on a yarn of the shelf, all else as usual."""
    return experiment.factor is Factor.DEPTH and experiment.base_id is not None


def keep_colours(session: Session, experiment_id: int, judgement_id: UUID | None, form: Form) -> Experiment:
    """Keep the samples' colours, and make swatches of them where that is ticked and can be.

    Raises:
        InputError: no colour at all, two regions for one sample, or a colour that cannot be read; nothing is kept then.
    """
    experiment = records_of.experiment(session, experiment_id)
    judgement = None if judgement_id is None else photos.judgement(session, judgement_id)
    read = read_colours(judgement, [one.number for one in experiment.samples], form, "sample")
    samples = tuple(replace(one, lab=read[one.number].lab) if one.number in read else one for one in experiment.samples)
    told_by = experiment.judgement_id if judgement is None else judgement.id
    kept = records_of.save_experiment(session, replace(experiment, samples=samples, judgement_id=told_by))
    if form.get("swatches") and can_be_swatches(kept):
        _keep_swatches(session, kept, read)
    return kept


def _keep_swatches(session: Session, experiment: Experiment, read: Mapping[int, Swatch]) -> None:
    """Put each sample that was read on record as a swatch; one that is there already gets the new colour."""
    bench = kept_bench(session, experiment)
    if experiment.base_id is None:
        raise InputError("the yarn is not on the shelf, so its samples cannot be swatches", field="swatches")
    base = shelf.base(session, experiment.base_id)
    lots = {dye.name: dye.dye_lot for dye in shelf.dyes(session) if dye.dye_lot}
    for place, sample in enumerate(experiment.samples):
        if sample.number not in read:
            continue
        drawn = _drawn(bench, place)
        swatch = replace(
            read[sample.number],
            depths_owf=drawn,
            base=base.name,
            dyed_on=experiment.created_on,
            dye_lots={name: lots[name] for name in drawn if name in lots},
            origin={**_origin(experiment, sample), **read[sample.number].origin},
            note=f"Sample {sample.number} of {experiment.name}.",
        )
        there = _there(session, experiment, sample, drawn)
        if there is None:
            swatches_of.add_swatches(session, [swatch])
        else:
            swatches_of.change_swatch(session, replace(swatch, id=there.id))


def _drawn(bench: Bench, place: int) -> dict[str, float]:
    return {dose.name: dose.drawn_owf for dose in bench.jars[place].doses}


def _origin(experiment: Experiment, sample: Sample) -> dict[str, str]:
    return {"experiment": experiment.name, "sample": str(sample.number)}


def _there(session: Session, experiment: Experiment, sample: Sample, drawn: Mapping[str, float]) -> Swatch | None:
    """Return the swatch that a sample has been before."""
    wanted = _origin(experiment, sample).items()
    return next(
        (
            one
            for one in swatches_of.swatches(session)
            if wanted <= one.origin.items() and dict(one.depths_owf) == dict(drawn)
        ),
        None,
    )
