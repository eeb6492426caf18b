"""What follows the bath, joined to a forecast: what has bonded, what washes out, and the felting."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Forecast, RestsOn, Sheet
from dyewright.core.uptake import Ensemble, Outlook
from dyewright.data.after_dyeing import load_reactive
from dyewright.services.forecasting.felting import felting_told
from dyewright.services.forecasting.fixing import dyed_on_protein, with_fixation
from dyewright.services.forecasting.inputs import ModelledDyes
from dyewright.services.forecasting.rinsing import Washed, wash_off, washed
from dyewright.services.order_of_work import usual_rinses
from dyewright.services.rinse_waters import bonds_on_cellulose

__all__ = ["after_bath", "with_after_bath", "with_felting"]

RANKING = "a ranking of ways to work, estimates throughout; that acid and alkali felt more than water is published"


def after_bath(sheet: Sheet, modelled: ModelledDyes, outlook: Outlook, ensemble: Ensemble, seed: int) -> Washed:
    """Return the samples of what has bonded and what is to be washed out.

    Args:
        sheet: the plan.
        modelled: its dyes with a model.
        outlook: their uptake.
        ensemble: the samples.
        seed: of what the ensemble does not hold.
    """
    rng = np.random.default_rng([seed, 1])  # a stream of its own: more draws here do not move the curves
    return washed(sheet, dyed_on_protein(sheet, modelled, outlook, ensemble, rng), rng)


def with_after_bath(told: Forecast, wash: Washed, weights: NDArray[np.float64]) -> Forecast:
    """Return the forecast with fixation, waters and felting; without waters where a dye of the card has no model."""
    fixed = replace(told, dyes=with_fixation(told.dyes, wash.dyed, weights))
    if len(wash.dyed.places) < len(wash.sheet.card.dyes):
        return with_felting(fixed, wash.sheet)
    off = wash_off(wash, weights)
    felting = felting_told(wash.sheet, int(off.rinses.mid or 1))
    return replace(
        fixed, wash_off=off, felting=felting, rests_on=(*told.rests_on, *_rests_on(wash), RestsOn("Felting", RANKING))
    )


def with_felting(told: Forecast, sheet: Sheet) -> Forecast:
    """Return the forecast with the felting that the usual number of waters gives."""
    felting = felting_told(sheet, usual_rinses(sheet.card))
    return replace(told, felting=felting, rests_on=(*told.rests_on, RestsOn("Felting", RANKING)))


def _rests_on(wash: Washed) -> Iterator[RestsOn]:
    """Yield what the bonding of each reactive dye and the count of waters rest on."""
    for n in np.flatnonzero(wash.dyed.is_bonding):
        dose = wash.sheet.card.dyes[wash.dyed.places[n]]
        trust = load_reactive()[dose.dye_class].trust
        words = (
            f"hydrolysis: {trust['hydrolysis']}; bonding against it: {trust['bonding']}"
            if bonds_on_cellulose(wash.sheet.card)
            else f"usual fixation of the class: {trust['protein']}; its pace: estimate"
        )
        yield RestsOn(f"Bonding of {dose.name}", words)
    kept = "what the yarn keeps: estimate"
    if wash.sheet.card.rinse.kept_l_kg is not None:
        kept = "what the yarn keeps: measured on a wet skein"
    yield RestsOn("Waters", f"dilution, water by water; {kept}; what counts as clear: estimate")
