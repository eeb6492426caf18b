"""Experiments: one factor varied in steps over a few sample skeins."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from dyewright.core.model import Experiment, Sample
from dyewright.records._rows import found, lab_columns, lab_of, refuse_taken_name
from dyewright.records.tables import ExperimentRow, SampleRow

__all__ = ["experiment", "experiments", "remove_experiment", "save_experiment"]


def experiments(session: Session) -> list[Experiment]:
    """Return every experiment, the latest first."""
    query = select(ExperimentRow).order_by(ExperimentRow.created_on.desc(), ExperimentRow.id.desc())
    return [_experiment(row) for row in session.scalars(query)]


def experiment(session: Session, experiment_id: int) -> Experiment:
    """Return one experiment."""
    return _experiment(found(session, ExperimentRow, experiment_id))


def save_experiment(session: Session, experiment: Experiment) -> Experiment:
    """Keep an experiment, or change the one with its id."""
    refuse_taken_name(session, ExperimentRow.name, ExperimentRow.id, experiment.name, own=experiment.id)
    row = ExperimentRow() if experiment.id is None else found(session, ExperimentRow, experiment.id)
    row.name, row.factor, row.card_toml = experiment.name, experiment.factor, experiment.card_toml
    row.base_id, row.sample_g, row.created_on = experiment.base_id, experiment.sample_g, experiment.created_on
    row.judgement_id, row.note = experiment.judgement_id, experiment.note
    row.samples.clear()
    session.add(row)
    session.flush()  # the old samples go before the new ones come
    row.samples.extend(_sample_row(sample) for sample in experiment.samples)
    session.flush()
    return replace(experiment, id=row.id)


def remove_experiment(session: Session, experiment_id: int) -> None:
    """Remove an experiment; the runs of its samples stay."""
    session.delete(found(session, ExperimentRow, experiment_id))
    session.flush()


def _sample_row(sample: Sample) -> SampleRow:
    return SampleRow(
        number=sample.number,
        value=sample.value,
        place=sample.place,
        run_id=sample.run_id,
        note=sample.note,
        **lab_columns("lab", sample.lab),
    )


def _experiment(row: ExperimentRow) -> Experiment:
    return Experiment(
        name=row.name,
        factor=row.factor,
        card_toml=row.card_toml,
        base_id=row.base_id,
        sample_g=row.sample_g,
        samples=tuple(
            Sample(one.number, one.value, one.place, one.run_id, lab_of(one, "lab"), one.note) for one in row.samples
        ),
        created_on=row.created_on,
        judgement_id=row.judgement_id,
        note=row.note,
        id=row.id,
    )
