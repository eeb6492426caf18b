"""What one way of dyeing asks and gives, figure by figure, so that it can stand beside another."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from dyewright.core import heat
from dyewright.core.costing import dye_cost, energy_cost
from dyewright.core.model import Band, ClearTime, Enter, Felting, Forecast, Learnt, Levelness, Sheet, StepKind
from dyewright.data.practice import load_heat_sources
from dyewright.services.comparing.samples import Samples, samples_of
from dyewright.services.forecasting.foretell import forecast_from

__all__ = ["LearntOf", "Measures", "Prices", "Way", "measured_way"]

LearntOf = Callable[[Sheet], Learnt | None]
"""What the studio's pots taught of a sheet's dyes."""

HOT = {StepKind.HEAT, StepKind.HOLD}


@dataclass(frozen=True)
class Prices:
    """What things cost: power a kilowatt hour, and each dye a gram, by name; None where it is not known."""

    per_kwh: Decimal
    dye_per_g: Mapping[str, Decimal | None]


@dataclass(frozen=True)
class Measures:
    """The figures of one way; None where the forecast or the shelf does not know.

    `clears_frac` is the share of pots that clear hot within the continued hold, `cooled_clear_frac` that of those that
    are clear when the plan ends. `pot_min` runs from running the water
    to the last rinse, waiting included; `hob_min` is the time with the heat on. `water_l` is the bath and all rinses.
    """

    mostly_clear_at: ClearTime
    clear_at: ClearTime
    clears_frac: float | None
    cooled_clear_frac: float | None
    final_exhaustion: Band
    unfixed_owf: Band | None
    rinses: Band | None
    rinse_l: float | None
    water_l: float | None
    felting: Felting | None
    level: Levelness | None
    pot_min: float
    hob_min: float
    energy_kwh: float
    energy_cost: Decimal
    dye_cost: Decimal | None


@dataclass(frozen=True, eq=False)
class Way:
    """One of the two: its sheet, its forecast, its figures, and the samples behind its bands."""

    sheet: Sheet
    told: Forecast
    measures: Measures
    samples: Samples | None


def measured_way(sheet: Sheet, prices: Prices, learnt_of: LearntOf) -> Way:
    """Return a planned sheet with all its figures."""
    learnt = learnt_of(sheet)
    told = forecast_from(sheet, learnt=learnt)
    return Way(sheet, told, _measures(sheet, told, prices), samples_of(sheet, learnt))


def _measures(sheet: Sheet, told: Forecast, prices: Prices) -> Measures:
    wash, never = told.wash_off, told.clear_at_min.never_frac
    rinse_l = None if wash is None else wash.rinse_litres
    energy_kwh = sheet.heat.energy_kwh + _warming_kwh(sheet)
    names = [dye.name for dye in sheet.dyes]
    return Measures(
        mostly_clear_at=told.mostly_clear_at_min,
        clear_at=told.clear_at_min,
        clears_frac=None if never is None else 1.0 - never,
        cooled_clear_frac=told.cooled_clear_frac,
        final_exhaustion=told.final_exhaustion,
        unfixed_owf=None if wash is None else wash.unfixed,
        rinses=None if wash is None else wash.rinses,
        rinse_l=rinse_l,
        water_l=None if rinse_l is None else sheet.liquor_l + rinse_l,
        felting=told.felting,
        level=told.level,
        pot_min=_pot_min(sheet, None if wash is None else wash.rinses.mid),
        hob_min=sum(step.duration_min or 0.0 for step in sheet.steps if step.kind in HOT or step.key == "warm-bath"),
        energy_kwh=energy_kwh,
        energy_cost=energy_cost(energy_kwh, prices.per_kwh),
        dye_cost=dye_cost([dye.dye_g for dye in sheet.dyes], [prices.dye_per_g.get(name) for name in names]),
    )


def _pot_min(sheet: Sheet, rinses: float | None) -> float:
    """Return the minutes from running the water to the end of the last rinse; the sheet's rinses where None."""
    timed = [step for step in sheet.steps if step.at_min is not None]
    waters = [step for step in timed if step.kind is StepKind.RINSE]
    begins = min(step.at_min or 0.0 for step in timed)
    if not waters:
        return (timed[-1].at_min or 0.0) - begins
    each_min = waters[0].duration_min or 0.0
    count = len(waters) if rinses is None else rinses
    return (waters[0].at_min or 0.0) + count * each_min - begins


def _warming_kwh(sheet: Sheet) -> float:
    """Return what warming the water to the entering temperature draws, kWh: before the clock of the forecast."""
    first = sheet.card.stages[0]
    enter_c = first.at_c if isinstance(first, Enter) else 0.0
    total = 0.0
    for pot, share in zip(sheet.card.pots, sheet.pots, strict=True):
        thermal = heat.thermal_pot(pot, load_heat_sources()[pot.heating], water_l=share.liquor_l, fibre_g=share.dry_g)
        minutes = heat.full_power_min(thermal, sheet.card.water.temperature_c or 0.0, enter_c)
        total += thermal.useful_w / thermal.efficiency_frac * (minutes or 0.0) / 60_000
    return total
