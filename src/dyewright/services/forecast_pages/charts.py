"""The forecast as charts: for a page, for the pot screen, and as a drawing of its own."""

import re
from collections.abc import Mapping

from numpy.typing import ArrayLike

from dyewright.core.model import ClarityReading, Forecast
from dyewright.sheets.charts import Theme, ink_of
from dyewright.sheets.exhaustion import BandOverTime, ClearSpan, Now, UptakeCurve, exhaustion_chart

__all__ = ["NARROW_PX", "WIDE_PX", "forecast_svg", "in_page", "pot_svg"]

WIDE_PX, NARROW_PX = 720, 232  # of the plot: a desk's column, a phone
CHART_HEIGHT_PX = 240
POT_WIDTH_PX, POT_HEIGHT_PX = 262, 130
FIRST_NOW_MIN = 1.0  # at the very start the line would lie on the axis
SAME_MINUTE_MIN = 0.6  # a doubt names its reading's minute as a whole number


def forecast_svg(
    told: Forecast,
    *,
    colours: Mapping[str, str] | None = None,
    now_min: float | None = None,
    theme: Theme = Theme.LIGHT,
    width_px: int = WIDE_PX,
) -> str | None:
    """Return the chart of a forecast; None where no dye has a model."""
    return _svg(
        told,
        _curves(told, colours or {}),
        now_min,
        bath_c=told.bath_c,
        theme=theme,
        width_px=width_px,
        height_px=CHART_HEIGHT_PX,
    )


def pot_svg(
    told: Forecast, *, colours: Mapping[str, str], lines: Mapping[str, str], now_min: float | None
) -> str | None:
    """Return the chart of the pot screen: low and without the bath's temperature, so that the buttons come soon."""
    curves = _curves(told, colours, lines)
    return _svg(told, curves, now_min, width_px=POT_WIDTH_PX, height_px=POT_HEIGHT_PX, is_bare=True)


def _svg(
    told: Forecast,
    curves: list[UptakeCurve],
    now_min: float | None,
    *,
    width_px: int,
    height_px: int,
    bath_c: ArrayLike | None = None,
    theme: Theme = Theme.LIGHT,
    is_bare: bool = False,
) -> str | None:
    """Return the chart of some curves with all that was expected and seen; None without a curve."""
    if not curves:
        return None
    clear = told.clear_at_min
    return exhaustion_chart(
        told.t_min,
        curves,
        bath_c=bath_c,
        before=_before(told),
        clear_exhaustion=told.clear_exhaustion,
        clear=ClearSpan(clear.low, clear.mid, clear.high),
        readings=_readings(told, is_doubted=False),
        doubted=_readings(told, is_doubted=True),
        now=_now_line(now_min),
        theme=theme,
        width_px=width_px,
        height_px=height_px,
        until_min=told.hold_end_min,
        is_bare=is_bare,
    )


def in_page(svg: str | None) -> str | None:
    """Return a chart whose greys are the page's own variables, so that it follows a dim or a bright page."""
    if svg is None:
        return None
    ink = ink_of(Theme.LIGHT)
    for grey, variable in ((ink.strong, "ink"), (ink.soft, "quiet"), (ink.line, "hairline"), (ink.ground, "card")):
        svg = svg.replace(f'"{grey}"', f'"var(--{variable})"')
    return svg


def _curves(told: Forecast, colours: Mapping[str, str], lines: Mapping[str, str] | None = None) -> list[UptakeCurve]:
    return [
        UptakeCurve(
            dye.name,
            dye.exhaustion,
            dye.low,
            dye.high,
            colours.get(dye.name),
            (lines or {}).get(dye.name),
            fixed=dye.fixed,
        )
        for dye in told.dyes
        if dye.exhaustion is not None and dye.low is not None and dye.high is not None
    ]


def _before(told: Forecast) -> BandOverTime | None:
    """Return the band of the whole bath before anything was seen; None where nothing was, or no band is known."""
    before = told.before
    if before is None or before.bath.low is None or before.bath.high is None:
        return None
    return before.t_min, before.bath.low, before.bath.high


def _readings(told: Forecast, *, is_doubted: bool) -> list[tuple[float, float]]:
    """Return the looks at the bath, those that are in doubt or the others."""
    doubted = [float(found[1]) for doubt in told.doubts if (found := re.match(r"clarity at ([\d.]+)", doubt.reading))]

    def is_in_doubt(reading: ClarityReading) -> bool:
        return any(abs(reading.at_min - at_min) < SAME_MINUTE_MIN for at_min in doubted)

    return [
        (reading.at_min, reading.exhaustion)
        for reading in told.observed.clarities
        if is_in_doubt(reading) is is_doubted
    ]


def _now_line(now_min: float | None) -> Now | None:
    return None if now_min is None or now_min < FIRST_NOW_MIN else Now(now_min, f"now, {now_min:.0f} min")
