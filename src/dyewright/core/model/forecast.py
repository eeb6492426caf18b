"""A forecast: what the bath is expected to do, as bands. Field names are the keys of `forecast --json`.

None means not known: a class without a model gets no curve.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model.basis import Band, Basis
from dyewright.core.model.observed import Doubt, Observed
from dyewright.core.model.rinsing import Felting, WashOff

__all__ = ["Breaking", "ClearTime", "DyeForecast", "Forecast", "Levelness", "RestsOn"]

Curve = NDArray[np.float64]


@dataclass(frozen=True)
class ClearTime:
    """When a bath clears, minutes after heat on, with the last hold continued; a quantile that never clears is None.

    `never_frac` is the share of cases that do not clear within the continued hold; None where no model answers.
    """

    mid: float | None
    low: float | None
    high: float | None
    never_frac: float | None


@dataclass(frozen=True, eq=False)
class DyeForecast:
    """One dye over the forecast's `t_min`: the middle of its band and the bounds that hold nine of ten cases.

    `fixed_frac` and `hydrolysed_frac` are of the dye supplied at the plan's end; None where nothing bonds. `fixed` is
    the middle of what has bonded over time, `fixed_at_end` its band.
    """

    name: str
    exhaustion: Curve | None
    low: Curve | None
    high: Curve | None
    fixed_frac: float | None = None
    hydrolysed_frac: float | None = None
    fixed: Curve | None = None
    fixed_at_end: Band | None = None


@dataclass(frozen=True)
class Levelness:
    """Fastest uptake, percent of a dye a minute, against what the movement in the pot can even out.

    `zone_c` are the bath temperatures between which the fastest dye goes in (25 to 75 % of its uptake); `uneven_frac`
    the share of cases that would come out uneven; `advice` what to change, the most useful first.
    """

    peak_pct_per_min: float
    limit_pct_per_min: float
    rating: str
    zone_c: tuple[float, float] | None = None
    uneven_frac: float | None = None
    advice: tuple[str, ...] = ()


@dataclass(frozen=True)
class Breaking:
    """Widest gap between the uptake of two dyes of the pot, a fraction, and the bath's temperature then.

    `first` and `last` are the dyes that lead and trail there.
    """

    max_gap: float
    at_c: float
    rating: str
    first: str = ""
    last: str = ""
    advice: tuple[str, ...] = ()


@dataclass(frozen=True)
class RestsOn:
    """What one part of a forecast rests on: its `thing` ("Lagoon on wool"), in words, and the pots that taught it."""

    thing: str
    words: str
    pots: int = 0


@dataclass(frozen=True, eq=False)
class Forecast:
    """What one dyeing is expected to do.

    `bath` is the whole bath, its dyes weighed together; `clear_exhaustion` the uptake at which a glass of it looks
    clear; `hold_end_min` the end of the planned last hold; `cooled_clear_frac` the share of cases that are clear at the
    plan's end. `before` is the forecast without what was `observed`; `doubts` are questions about that. `rests_on` says
    where each part comes from.
    """

    title: str
    t_min: Curve
    bath_c: Curve
    dyes: tuple[DyeForecast, ...]
    bath: DyeForecast
    clear_exhaustion: float | None
    hold_end_min: float
    clear_at_min: ClearTime
    cooled_clear_frac: float | None
    mostly_clear_at_min: ClearTime
    final_exhaustion: Band
    level: Levelness | None
    breaking: Breaking | None
    basis: Basis
    notes: tuple[str, ...]
    observed: Observed = field(default_factory=Observed)
    before: Forecast | None = None
    wash_off: WashOff | None = None
    felting: Felting | None = None
    doubts: tuple[Doubt, ...] = ()
    rests_on: tuple[RestsOn, ...] = ()
