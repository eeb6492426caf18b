"""The forecast as pages show it: the answer first, then the chart, then what it rests on; and the forecast of a run."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Band, Forecast, Lab, RestsOn, RunState, Sheet
from dyewright.core.progress import progress
from dyewright.records import runs
from dyewright.records import swatches as swatches_of
from dyewright.services.forecast_pages.asking import AskedDoubt, open_doubts
from dyewright.services.forecast_pages.charts import NARROW_PX, WIDE_PX, forecast_svg, in_page, pot_svg
from dyewright.services.forecast_pages.facts import DyeLine, Fact, before_words, dye_lines, facts
from dyewright.services.forecast_pages.on_the_way import OnTheWay, on_the_way
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.forecasting.seen import observed_in
from dyewright.services.forecasting.words import basis_words, clear_words, narrowing_words, was_words
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.shown import shown_hex, swatch_lab
from dyewright.services.unplain import from_plain

__all__ = [
    "ForecastBlock",
    "PotForecast",
    "RunForecast",
    "dye_labs",
    "forecast_block",
    "plan_forecast",
    "pot_forecast",
    "run_block",
    "run_forecast",
]

LINE_L = (50.0, 60.0)  # a line of this L* reaches 3:1 on the pot screen's dim and bright cards


@dataclass(frozen=True)
class ForecastBlock:
    """What a page says of a forecast. `range` is the span beside the headline, `before` what it was before.

    `svg` is for a desk, `svg_narrow` for a phone; both are None where no dye has a model.
    """

    headline: str
    range: str
    pots: str
    before: str | None
    mostly: str | None
    doubts: tuple[AskedDoubt, ...]
    dyes: tuple[DyeLine, ...]
    facts: tuple[Fact, ...]
    basis: str
    rests_on: tuple[RestsOn, ...]
    notes: tuple[str, ...]
    svg: str | None
    svg_narrow: str | None
    on_the_way: OnTheWay | None
    narrowing: str | None = None


@dataclass(frozen=True)
class PotForecast:
    """What the pot screen says of a forecast: `was` is the span before anything was seen, empty where nothing was.

    `svg` is None where no dye has a model. `rinses` is how many waters are expected, None where that is not known.
    """

    headline: str
    range: str
    was: str
    svg: str | None
    doubts: tuple[AskedDoubt, ...]
    rinses: Band | None


@dataclass(frozen=True)
class RunForecast:
    """A run's forecast with what it needs to be drawn: the colours of its dyes and the minutes since heat on.

    `lines` are the same hues at a lightness that stands out from a dim and a bright ground alike.
    """

    sheet: Sheet
    told: Forecast
    colours: Mapping[str, str]
    lines: Mapping[str, str]
    now_min: float | None
    doubts: tuple[AskedDoubt, ...] = ()


def run_forecast(session: Session, run_id: UUID, *, now: datetime, is_advised: bool = False) -> RunForecast:
    """Return the forecast of a run, updated by everything seen at its pot that is not undone.

    What to change is computed only where it is asked for: it doubles the time.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    run = runs.run(session, run_id)
    seen = progress(run.sheet, run.events, now=now)
    sheet = from_plain(Sheet, run.sheet)
    learnt = learnt_for(session, sheet, before_number=run.number)
    told = forecast_from(sheet, observed_in(seen, sheet), learnt=learnt, is_advised=is_advised)
    labs = dye_labs(session, [dye.name for dye in told.dyes])
    lines = {name: shown_hex((min(max(lab[0], LINE_L[0]), LINE_L[1]), lab[1], lab[2])) for name, lab in labs.items()}
    now_min = None if seen.state in {RunState.DYED, RunState.KEPT} else seen.minutes
    return RunForecast(sheet, told, _shown(labs), lines, now_min, open_doubts(told.doubts, seen))


def plan_forecast(session: Session, sheet: Sheet) -> ForecastBlock:
    """Return the forecast of a sheet that is not kept yet, in the colours of the shelf's swatches."""
    told = forecast_from(sheet, learnt=learnt_for(session, sheet))
    colours = _shown(dye_labs(session, [dye.name for dye in told.dyes]))
    block = forecast_block(told, colours=colours, way=on_the_way(session, sheet, told))
    return replace(block, narrowing=narrowing_words(sheet))


def run_block(session: Session, run_id: UUID, *, now: datetime) -> tuple[str, ForecastBlock]:
    """Return the title of a run and its forecast as its page shows it.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    of_run = run_forecast(session, run_id, now=now, is_advised=True)
    way = on_the_way(session, of_run.sheet, of_run.told)
    block = forecast_block(of_run.told, colours=of_run.colours, now_min=of_run.now_min, doubts=of_run.doubts, way=way)
    return of_run.told.title, block


def pot_forecast(session: Session, run_id: UUID, *, now: datetime) -> PotForecast:
    """Return the forecast as the pot screen shows it: the answer and once heat is on a low chart with now in it."""
    of_run = run_forecast(session, run_id, now=now)
    told, svg = of_run.told, None
    words = clear_words(told)
    if of_run.now_min is not None:
        svg = pot_svg(told, colours=of_run.colours, lines=of_run.lines, now_min=of_run.now_min)
    return PotForecast(
        words.headline,
        words.span or words.pots,
        was_words(told),
        in_page(svg),
        of_run.doubts,
        None if told.wash_off is None else told.wash_off.rinses,
    )


def forecast_block(
    told: Forecast,
    *,
    colours: Mapping[str, str] | None = None,
    now_min: float | None = None,
    doubts: tuple[AskedDoubt, ...] = (),
    way: OnTheWay | None = None,
) -> ForecastBlock:
    """Return a forecast in words, with its charts in the greys of the page that they stand on."""
    clear = clear_words(told)
    charts = [
        in_page(forecast_svg(told, colours=colours, now_min=now_min, width_px=width)) for width in (WIDE_PX, NARROW_PX)
    ]
    mostly = told.mostly_clear_at_min.mid
    return ForecastBlock(
        headline=clear.headline,
        range=clear.span,
        pots=clear.pots,
        before=before_words(told),
        mostly=None if mostly is None else f"mostly clear at {mostly:.0f} min",
        doubts=doubts,
        dyes=dye_lines(told),
        facts=facts(told),
        basis=basis_words(told),
        rests_on=told.rests_on,
        notes=told.notes,
        svg=charts[0],
        svg_narrow=charts[1],
        on_the_way=way,
    )


def dye_labs(session: Session, names: Sequence[str]) -> dict[str, Lab]:
    """Return the colour of each dye's deepest swatch of its own; dyes without one are left out."""
    deepest: dict[str, tuple[float, Lab]] = {}
    for swatch in swatches_of.swatches(session):
        lab = swatch_lab(swatch)
        if len(swatch.depths_owf) != 1 or lab is None:
            continue
        name, depth = next(iter(swatch.depths_owf.items()))
        if name in names and depth > deepest.get(name, (0.0, ""))[0]:
            deepest[name] = (depth, lab)
    return {name: lab for name, (_, lab) in deepest.items()}


def _shown(labs: Mapping[str, Lab]) -> dict[str, str]:
    return {name: shown_hex(lab) for name, lab in labs.items()}
