"""The demo's finished experiment: planned here as any, its colours invented."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from importlib.resources import files
from typing import Any

from sqlalchemy.orm import Session

from dyewright.core.model import Experiment
from dyewright.records import experiments, shelf
from dyewright.services.experiments.plan import keep_plan

__all__ = ["add_experiment"]


def add_experiment(session: Session) -> Experiment:
    """Keep the demo's experiment, read and finished, in a studio whose shelf is filled."""
    spec: Mapping[str, Any] = tomllib.loads(
        files("dyewright.services").joinpath("demo_data", "experiment.toml").read_text(encoding="utf-8")
    )
    base = shelf.base_named(session, spec["base"])
    pots = {vessel.name: vessel.id for vessel in shelf.vessels(session)}
    typed = {
        "name": spec["name"],
        "factor": spec["factor"],
        "values": spec["values"],
        "base": "" if base is None else str(base.id),
        "dye.1.name": spec["dye"],
        "dye.1.depth": spec["depth"],
        "pot": str(pots[spec["pot"]]),
        "sample": "5 g",
        "twin": "1",
        "blank": "1",
    }
    planned = keep_plan(session, typed, today=spec["held_on"])
    samples = tuple(replace(one, lab=tuple(lab)) for one, lab in zip(planned.samples, spec["labs"], strict=True))
    return experiments.save_experiment(session, replace(planned, samples=samples, note=spec["note"]))
