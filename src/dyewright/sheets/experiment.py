"""An experiment as charts: the uptake of all samples in one frame, and what the factor does to one thing at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from dyewright.sheets.charts import Ink, Theme, chart_svg, ink_of, inline_data, styled

__all__ = ["FactorPoint", "SampleCurve", "factor_chart", "overlay_chart"]

PERCENT, FULL = 100.0, 106.0
BAND_OPACITY, GREY_OPACITY = 0.14, 0.08
LINE_PX, OUTLINE_PX = 2.5, 4.0
LABEL_GAP = 6.0  # per cent between two labels at the end of their curves
AIR_FRAC = 0.12  # free space above and below the points of a factor's chart


@dataclass(frozen=True)
class SampleCurve:
    """One step over the chart's times, fractions 0 to 1, with what was seen of its samples.

    `looks` are minute, uptake and the number of the sample.
    """

    label: str
    t_min: ArrayLike
    mid: ArrayLike
    low: ArrayLike
    high: ArrayLike
    colour: str | None = None
    looks: Sequence[tuple[float, float, str]] = ()


@dataclass(frozen=True)
class FactorPoint:
    """One step of a factor: the range foretold, None where it is not, and what was seen."""

    value: float
    label: str
    low: float | None = None
    mid: float | None = None
    high: float | None = None
    seen: float | None = None


def overlay_chart(
    curves: Sequence[SampleCurve],
    *,
    until_min: float,
    theme: Theme = Theme.LIGHT,
    width_px: int = 560,
    height_px: int = 260,
) -> str:
    """Return the bands of all samples pale, their middles in their own colours, and what was seen as their numbers."""
    import altair as alt

    ink = ink_of(theme)
    step = next((s for s in (5, 10, 15, 30, 60) if until_min / s <= 8), 120)
    x = alt.X(
        "t:Q",
        title="minutes from heat on",
        scale=alt.Scale(domain=[0, until_min * 1.06], nice=False),
        axis=alt.Axis(values=list(range(0, int(until_min) + 1, step)), grid=False, ticks=False),
    )
    scale = alt.Scale(domain=[0, FULL], nice=False)
    axis = alt.Axis(values=[0, 25, 50, 75, 100], ticks=False, domain=False)

    def y(field: str) -> Any:  # noqa: ANN401 - Altair's channel types are built at run time
        return alt.Y(field, title="% of the dye in", scale=scale, axis=axis)

    layers: list[Any] = []
    cut = [_cut(curve, until_min) for curve in curves]
    for curve, (t, mid, low, high) in zip(curves, cut, strict=True):
        data = inline_data(t=t, e=mid, low=low, high=high)
        base = alt.Chart(data)
        opacity = BAND_OPACITY if curve.colour else GREY_OPACITY
        layers.append(
            base.mark_area(color=curve.colour or ink.strong, opacity=opacity).encode(x=x, y=y("low:Q"), y2="high:Q")
        )
    for curve, (t, mid, _, _) in zip(curves, cut, strict=True):
        line = alt.Chart(inline_data(t=t, e=mid)).encode(x=x, y=y("e:Q"))
        if curve.colour:  # a dye as pale or dark as its ground keeps an edge
            layers.append(line.mark_line(color=ink.soft, strokeWidth=OUTLINE_PX))
        layers.append(line.mark_line(color=curve.colour or ink.strong, strokeWidth=LINE_PX))
    layers += _end_labels([curve.label for curve in curves], [mid[-1] for _, mid, _, _ in cut], until_min, ink)
    layers += [_look(look, ink) for curve in curves for look in curve.looks if look[0] <= until_min]
    chart = styled(alt.layer(*layers), theme, width_px=width_px, height_px=height_px)
    chart.config.aria = False  # a reader hears the figures in the table beside, not each point of a path
    return chart_svg(chart, "Uptake of each sample over time, foretold bands and looks; the figures stand in the table")


def _cut(curve: SampleCurve, until_min: float) -> tuple[list[float], list[float], list[float], list[float]]:
    """Return a curve up to the axis end, in per cent, with a last point on it."""
    times = np.asarray(curve.t_min, float)
    kept = np.append(times[times < until_min], min(until_min, times[-1]))
    mid, low, high = (
        (PERCENT * np.interp(kept, times, np.asarray(part, float))).tolist()
        for part in (curve.mid, curve.low, curve.high)
    )
    return kept.tolist(), mid, low, high


def _end_labels(labels: Sequence[str], ends: Sequence[float], until_min: float, ink: Ink) -> list[Any]:
    """Return each sample's number at the end of its curve, pushed apart where curves end together."""
    import altair as alt

    order = sorted(range(len(ends)), key=lambda place: -ends[place])
    heights, above = {}, FULL + LABEL_GAP
    for place in order:
        above = min(ends[place], above - LABEL_GAP)
        heights[place] = above
    data = inline_data(
        t=[until_min * 1.012 for _ in labels], e=[heights[i] for i in range(len(labels))], words=list(labels)
    )
    text = alt.Chart(data).mark_text(align="left", baseline="middle", color=ink.strong, fontWeight=600)
    return [text.encode(x="t:Q", y="e:Q", text="words:N")]


def _look(look: tuple[float, float, str], ink: Ink) -> Any:  # noqa: ANN401 - an Altair layer
    """Return one look at a bath: the sample's number in a ring."""
    import altair as alt

    data = inline_data(t=[look[0]], e=[PERCENT * look[1]], words=[look[2]])
    ring = (
        alt.Chart(data)
        .mark_point(shape="circle", size=190, color=ink.strong, fill=ink.ground, strokeWidth=1.2, opacity=1)
        .encode(x="t:Q", y="e:Q")
    )
    text = (
        alt.Chart(data)
        .mark_text(fontSize=11, baseline="middle", color=ink.strong)
        .encode(x="t:Q", y="e:Q", text="words:N")
    )
    return alt.layer(ring, text)


def factor_chart(
    points: Sequence[FactorPoint],
    *,
    title: str,
    is_by_ratio: bool = False,
    theme: Theme = Theme.LIGHT,
    width_px: int = 260,
    height_px: int = 150,
) -> str:
    """Return one quantity over the steps of the factor: the band foretold pale, what was seen as dots."""
    import altair as alt

    ink = ink_of(theme)
    values = [point.value for point in points]
    labels = " : ".join(f"datum.value == {point.value!r} ? '{point.label}'" for point in points) + " : ''"
    x = alt.X(
        "x:Q",
        title=None,
        scale=alt.Scale(
            type="log" if is_by_ratio else "linear", domain=[min(values), max(values)], nice=False, padding=14
        ),
        axis=alt.Axis(values=sorted(set(values)), labelExpr=labels, grid=False, ticks=False, labelOverlap=False),
    )
    heights = [h for one in points for h in (one.low, one.mid, one.high, one.seen) if h is not None]
    low, high = min(heights), max(heights)
    air = max(AIR_FRAC * (high - low), 1.0)
    y_scale = alt.Scale(domain=[low - air, high + air], nice=False, zero=False)
    y_axis = alt.Axis(tickCount=4, ticks=False, domain=False)

    def y(field: str) -> Any:  # noqa: ANN401 - as in overlay_chart
        return alt.Y(field, title=title, scale=y_scale, axis=y_axis)

    foretold = [one for one in points if None not in (one.low, one.mid, one.high)]
    layers: list[Any] = []
    if foretold:
        data = inline_data(
            x=[one.value for one in foretold],
            low=[one.low for one in foretold],
            mid=[one.mid for one in foretold],
            high=[one.high for one in foretold],
        )
        band = alt.Chart(data).mark_area(color=ink.strong, opacity=GREY_OPACITY)
        line = alt.Chart(data).mark_line(color=ink.soft, strokeWidth=1.2, strokeDash=[5, 4])
        layers += [band.encode(x=x, y=y("low:Q"), y2="high:Q"), line.encode(x=x, y=y("mid:Q"))]
    seen = [one for one in points if one.seen is not None]
    if seen:
        data = inline_data(x=[one.value for one in seen], s=[one.seen for one in seen])
        dots = alt.Chart(data).mark_circle(size=75, color=ink.strong, opacity=1)
        layers.append(dots.encode(x=x, y=y("s:Q")))
    chart = styled(alt.layer(*layers), theme, width_px=width_px, height_px=height_px)
    chart.config.aria = False
    return chart_svg(chart, f"{title} over the steps: pale what was foretold, dots what was seen")
