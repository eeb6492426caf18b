"""The forecast as pages show it: the answer first, then the chart, then what it rests on; and the forecast of a run."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import (
    Basis,
    ClarityReading,
    DyeForecast,
    Forecast,
    Lab,
    Observed,
    ReadClarity,
    RunState,
    Sheet,
)
from dyewright.core.progress import progress
from dyewright.core.uptake import CONTINUED_TO_MIN
from dyewright.records import runs
from dyewright.records import swatches as swatches_of
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.forecasting.inputs import hold_end_min
from dyewright.services.forecasting.words import clear_words
from dyewright.services.shown import shown_hex, swatch_lab
from dyewright.services.unplain import from_plain
from dyewright.sheets.charts import Theme, ink_of
from dyewright.sheets.exhaustion import ClearSpan, Now, UptakeCurve, exhaustion_chart
from dyewright.units import show_percent, show_temperature

__all__ = [
    "NARROW_PX",
    "WIDE_PX",
    "ForecastBlock",
    "PotForecast",
    "RunForecast",
    "forecast_block",
    "forecast_svg",
    "plan_forecast",
    "pot_forecast",
    "run_forecast",
]

WIDE_PX, NARROW_PX = 720, 232  # of the plot: a desk's column, a phone
CHART_HEIGHT_PX = 240
POT_WIDTH_PX, POT_HEIGHT_PX = 262, 130
LINE_L = (50.0, 60.0)  # a line of this L* reaches 3:1 on the pot screen's dim and bright cards
BASIS_WORDS = {
    Basis.DEFAULT: "From class defaults",
    Basis.FITTED: "From class defaults and what was seen in this bath",
    Basis.MEASURED: "Measured",
}


@dataclass(frozen=True)
class DyeLine:
    """One dye of the block: its name and what is in at the end, in words."""

    name: str
    words: str


@dataclass(frozen=True)
class ForecastBlock:
    """What a page says of a forecast. `range` is the span beside the headline.

    `svg` is for a desk, `svg_narrow` for a phone; both are None where no dye has a model.
    """

    headline: str
    range: str
    pots: str
    before: str | None
    mostly: str | None
    dyes: tuple[DyeLine, ...]
    level: str | None
    breaking: str | None
    basis: str
    notes: tuple[str, ...]
    svg: str | None
    svg_narrow: str | None


@dataclass(frozen=True)
class PotForecast:
    """What the pot screen says of a forecast; `svg` is None where no dye has a model."""

    headline: str
    range: str
    svg: str | None


@dataclass(frozen=True)
class RunForecast:
    """A run's forecast with what it needs to be drawn: the colours of its dyes and the minutes since heat on.

    `lines` are the same hues at a lightness that stands out from a dim and a bright ground alike.
    """

    told: Forecast
    colours: Mapping[str, str]
    lines: Mapping[str, str]
    now_min: float | None


def run_forecast(session: Session, run_id: UUID, *, now: datetime) -> RunForecast:
    """Return the forecast of a run, updated by every standing look at its bath.

    Raises:
        NotFoundError: the run is not in the studio.
    """
    run = runs.run(session, run_id)
    seen = progress(run.sheet, run.events, now=now)
    sheet = from_plain(Sheet, run.sheet)
    told = forecast_from(sheet, Observed(clarities=_readings(seen.clarities, sheet)))
    labs = _dye_labs(session, [dye.name for dye in told.dyes])
    lines = {name: shown_hex((min(max(lab[0], LINE_L[0]), LINE_L[1]), lab[1], lab[2])) for name, lab in labs.items()}
    return RunForecast(
        told, _shown(labs), lines, None if seen.state in {RunState.DYED, RunState.KEPT} else seen.minutes
    )


def plan_forecast(session: Session, sheet: Sheet) -> ForecastBlock:
    """Return the forecast of a sheet that is not kept yet, in the colours of the shelf's swatches."""
    told = forecast_from(sheet)
    return forecast_block(told, colours=_shown(_dye_labs(session, [dye.name for dye in told.dyes])))


def pot_forecast(session: Session, run_id: UUID, *, now: datetime) -> PotForecast:
    """Return the forecast as the pot screen shows it: the answer and once heat is on a low chart with now in it."""
    of_run = run_forecast(session, run_id, now=now)
    words = clear_words(of_run.told)
    svg = None if of_run.now_min is None else _in_page(_pot_svg(of_run))
    return PotForecast(words.headline, words.span or words.pots, svg)


def forecast_block(
    told: Forecast,
    *,
    colours: Mapping[str, str] | None = None,
    now_min: float | None = None,
) -> ForecastBlock:
    """Return a forecast in words, with its charts in the greys of the page that they stand on."""
    clear = clear_words(told)
    charts = [
        _in_page(forecast_svg(told, colours=colours, now_min=now_min, width_px=width)) for width in (WIDE_PX, NARROW_PX)
    ]
    mostly = told.mostly_clear_at_min.mid
    return ForecastBlock(
        headline=clear.headline,
        range=clear.span,
        pots=clear.pots,
        before=_before_words(told),
        mostly=None if mostly is None else f"mostly clear at {mostly:.0f} min",
        dyes=tuple(DyeLine(dye.name, _dye_words(dye)) for dye in told.dyes),
        level=_level_words(told),
        breaking=_breaking_words(told),
        basis=BASIS_WORDS[told.basis],
        notes=told.notes,
        svg=charts[0],
        svg_narrow=charts[1],
    )


def forecast_svg(
    told: Forecast,
    *,
    colours: Mapping[str, str] | None = None,
    now_min: float | None = None,
    theme: Theme = Theme.LIGHT,
    width_px: int = WIDE_PX,
) -> str | None:
    """Return the chart of a forecast; None where no dye has a model."""
    curves = _curves(told, colours or {})
    if not curves:
        return None
    clear = told.clear_at_min
    return exhaustion_chart(
        told.t_min,
        curves,
        bath_c=told.bath_c,
        clear_exhaustion=told.clear_exhaustion,
        clear=ClearSpan(clear.low, clear.mid, clear.high),
        readings=[(reading.at_min, reading.exhaustion) for reading in told.observed.clarities],
        now=_now_line(now_min),
        theme=theme,
        width_px=width_px,
        height_px=CHART_HEIGHT_PX,
        until_min=told.hold_end_min,
    )


def _pot_svg(of_run: RunForecast) -> str | None:
    """Return the chart of the pot screen: low and without the bath's temperature, so that the buttons come soon."""
    curves = _curves(of_run.told, of_run.colours, of_run.lines)
    if not curves:
        return None
    told, clear = of_run.told, of_run.told.clear_at_min
    return exhaustion_chart(
        told.t_min,
        curves,
        clear_exhaustion=told.clear_exhaustion,
        clear=ClearSpan(clear.low, clear.mid, clear.high),
        readings=[(reading.at_min, reading.exhaustion) for reading in told.observed.clarities],
        now=_now_line(of_run.now_min),
        width_px=POT_WIDTH_PX,
        height_px=POT_HEIGHT_PX,
        until_min=told.hold_end_min,
        is_bare=True,
    )


def _curves(told: Forecast, colours: Mapping[str, str], lines: Mapping[str, str] | None = None) -> list[UptakeCurve]:
    return [
        UptakeCurve(dye.name, dye.exhaustion, dye.low, dye.high, colours.get(dye.name), (lines or {}).get(dye.name))
        for dye in told.dyes
        if dye.exhaustion is not None and dye.low is not None and dye.high is not None
    ]


def _now_line(now_min: float | None) -> Now | None:
    return None if now_min is None or now_min < 0 else Now(now_min, f"now, {now_min:.0f} min")


def _in_page(svg: str | None) -> str | None:
    """Return a chart whose greys are the page's own variables, so that it follows a dim or a bright page."""
    if svg is None:
        return None
    ink = ink_of(Theme.LIGHT)
    for grey, variable in ((ink.strong, "ink"), (ink.soft, "quiet"), (ink.line, "hairline"), (ink.ground, "card")):
        svg = svg.replace(f'"{grey}"', f'"var(--{variable})"')
    return svg


def _readings(clarities: Sequence[ReadClarity], sheet: Sheet) -> tuple[ClarityReading, ...]:
    """Return the looks at the bath that the forecast covers: from heat on to the end of the continued hold."""
    last_min = max(CONTINUED_TO_MIN, hold_end_min(sheet))
    return tuple(
        ClarityReading(round(seen.at_min, 2), seen.exhaustion)
        for seen in clarities
        if seen.at_min is not None and 0 <= seen.at_min <= last_min
    )


def _dye_labs(session: Session, names: Sequence[str]) -> dict[str, Lab]:
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


def _dye_words(dye: DyeForecast) -> str:
    if dye.exhaustion is None or dye.low is None or dye.high is None:
        return "not foretold"
    mid, low, high = dye.exhaustion[-1], dye.low[-1], dye.high[-1]
    return f"{show_percent(round(mid, 2))} in at the end ({100 * low:.0f}–{100 * high:.0f})"


def _before_words(told: Forecast) -> str | None:
    """Return what was expected before the bath was looked at; None where nothing was seen."""
    if told.before is None:
        return None
    words = clear_words(told.before)
    seen = told.observed.clarities[-1]
    return (
        f"{show_percent(seen.exhaustion)} in at {seen.at_min:.0f} min. Before any look at the bath: "
        f"{words.headline[0].lower()}{words.headline[1:]} {words.span}".rstrip()
        + "."
    )


def _level_words(told: Forecast) -> str | None:
    if told.level is None:
        return None
    level = told.level
    return (
        f"{level.rating[0].upper()}{level.rating[1:]}: the fastest dye goes in at {level.peak_pct_per_min:.1f} % a "
        f"minute, this much movement evens out {level.limit_pct_per_min:.1f}."
    )


def _breaking_words(told: Forecast) -> str | None:
    if told.breaking is None:
        return None
    broken = told.breaking
    return (
        f"The dyes {broken.rating}: {show_percent(round(broken.max_gap, 2))} apart at most, at "
        f"{show_temperature(broken.at_c)}."
    )
