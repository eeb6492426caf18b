"""A pot run another way on a few samples of the model, for ratios: what one change does to the strike."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.level import peak_uptake_frac_per_min
from dyewright.core.model import Learnt, Sheet, UptakeRow
from dyewright.core.uptake import Ensemble, Outlook, look_ahead
from dyewright.data.uptake import load_uptake
from dyewright.services.forecasting.inputs import ModelledDyes, draw_dyes, dye_bath, hold_end_min

__all__ = ["AGENT_RANGE", "AGENT_SLOWING", "Trial", "Way"]

Floats = NDArray[np.float64]

SAMPLES = 48  # enough for a ratio of medians; the answer itself rests on all samples
SEED = 20261126  # any number does
AGENT_SLOWING, AGENT_RANGE = 0.5, "0.3 to 0.7"  # of the rate, left by a levelling agent; estimate


@dataclass(frozen=True, eq=False)
class Trial:
    """What it takes to run a pot another way, on a few samples of the forecast's own model.

    `runs` keeps what was run already, by the words of its way.
    """

    sheet: Sheet
    modelled: ModelledDyes
    ensemble: Ensemble
    runs: dict[str, Outlook] = field(default_factory=dict)

    @staticmethod
    def of(sheet: Sheet, modelled: ModelledDyes, learnt: Learnt | None) -> "Trial":
        """Return the trial of a planned pot."""
        ensemble = draw_dyes(sheet, modelled, load_uptake(), learnt=learnt, seed=SEED, samples=SAMPLES)
        return Trial(sheet, modelled, ensemble)

    def with_kinds(self, kinds: tuple[tuple[tuple[UptakeRow, ...], ...], ...]) -> "Trial":
        """Return the trial with dyes of other classes, as the class defaults have them."""
        return Trial.of(self.sheet, replace(self.modelled, kinds=kinds), None)

    def outlook(self, way: "Way") -> Outlook:
        """Return what the samples do when the pot is run this way."""
        if way.words not in self.runs:
            ensemble = replace(self.ensemble, k95_per_min=way.slowing * self.ensemble.k95_per_min)
            end_min = min(hold_end_min(self.sheet) + way.longer_min, way.sheet.t_min[-1])
            self.runs[way.words] = look_ahead(dye_bath(way.sheet, self.modelled), ensemble, end_min)
        return self.runs[way.words]

    def middle(self, way: "Way") -> tuple[Floats, Floats]:
        """Return temperatures and the middle uptake of each dye, shape (dyes, times), of a way."""
        outlook = self.outlook(way)
        return outlook.bath_c, np.median(outlook.exhaustion, axis=0)

    def strike(self, way: "Way") -> float:
        """Return the peak uptake of the fastest dye, 1/min: the middle of the samples' own, as in the forecast."""
        outlook = self.outlook(way)
        return float(np.median(peak_uptake_frac_per_min(outlook.t_min, outlook.exhaustion).max(axis=1)))


@dataclass(frozen=True)
class Way:
    """One thing done otherwise: in words, the sheet so changed, what it costs and what it does beyond the sheet."""

    words: str
    sheet: Sheet
    longer_min: float = 0.0
    turns_per_min: float | None = None
    slowing: float = 1.0
