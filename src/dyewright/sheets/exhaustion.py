"""The forecast as a chart: how much of each dye is in the yarn over time, as bands, beside the bath's temperature."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.sheets.charts import Ink, Theme, chart_svg, ink_of, inline_data, styled

__all__ = ["BandOverTime", "ClearSpan", "Now", "UptakeCurve", "exhaustion_chart"]

Floats = NDArray[np.float64]
BandOverTime = tuple[ArrayLike, ArrayLike, ArrayLike]  # its times, low and high

DASHES = ([1, 0], [7, 3], [2, 3], [7, 3, 2, 3])  # a second sign beside the colour: curves differ without it too
BAND_OPACITY = {Theme.LIGHT: 0.26, Theme.DIM: 0.4, Theme.PRINT: 0.26}
PERCENT = 100.0
CURVE_STROKE_PX, BATH_STROKE_PX, FIXED_STROKE_PX, BEFORE_STROKE_PX = 2.5, 1.0, 1.8, 1.0
FIXED_DASH = (1.5, 3)  # finer than any dye's own dashes
BEFORE_OPACITY = 0.55
DARK, PALE = 0.35, 0.65  # lines outside these may be lost on a dim or a bright ground
FULL = 104.0  # a little air above 100 %
KEY_ROW_PX, KEY_LINE_PX = 21, 22


@dataclass(frozen=True)
class UptakeCurve:
    """One dye over the chart's times, fractions 0 to 1. `colour` is its own as "#rrggbb"; a grey where None.

    `line` is the line's colour where it must stand out from a dim and a bright ground alike; the dye's own where None.
    `fixed` is what has bonded by each time. `before` is a band to draw as an outline beside the curve's own.
    """

    name: str
    mid: ArrayLike
    low: ArrayLike
    high: ArrayLike
    colour: str | None = None
    line: str | None = None
    fixed: ArrayLike | None = None
    before: BandOverTime | None = None


@dataclass(frozen=True)
class ClearSpan:
    """When the bath is expected clear, minutes; None where it may never be."""

    low: float | None
    mid: float | None
    high: float | None


@dataclass(frozen=True)
class Now:
    """Where the dyeing stands: minutes after heat on, and the uptake last seen, if any."""

    at_min: float
    label: str = "now"


@dataclass(frozen=True)
class _Stroke:
    """One row of the key: a name and how its line looks."""

    name: str
    colour: str
    width_px: float = CURVE_STROKE_PX
    dash: Sequence[float] = (1, 0)
    is_outlined: bool = False


@dataclass(frozen=True)
class _Frame:
    """The axes that all layers share: time up to `end_min`, and per cent; bare ones name units at their figures."""

    end_min: float
    is_bare: bool = False
    has_bath: bool = True

    def x(self) -> Any:  # noqa: ANN401 - Altair's channel types are built at run time
        import altair as alt

        step = next((s for s in (5, 10, 15, 30, 60) if self.end_min / s <= 8), 120)
        axis = alt.Axis(values=list(range(0, int(self.end_min) + 1, step)), grid=False, ticks=False)
        if self.is_bare:
            axis.labelExpr = "datum.value ? datum.label + ' min' : ''"
        title = None if self.is_bare else "minutes from heat on"
        return alt.X("t:Q", title=title, scale=alt.Scale(domain=[0, self.end_min], nice=False), axis=axis)

    def y(self, field: str = "e:Q") -> Any:  # noqa: ANN401 - as in x
        import altair as alt

        axis = alt.Axis(values=[0, 25, 50, 75, 100], ticks=False, domain=False)
        if self.is_bare:
            axis = alt.Axis(values=[0, 50, 100], ticks=False, domain=False, labelExpr="datum.label + ' %'")
        title = None if self.is_bare else "% of the dye in · °C" if self.has_bath else "% of the dye in"
        return alt.Y(field, title=title, scale=alt.Scale(domain=[0, FULL], nice=False), axis=axis)


def exhaustion_chart(
    t_min: ArrayLike,
    curves: Sequence[UptakeCurve],
    *,
    bath_c: ArrayLike | None = None,
    before: BandOverTime | None = None,
    clear_exhaustion: float | None = None,
    clear: ClearSpan | None = None,
    readings: Sequence[tuple[float, float]] = (),
    doubted: Sequence[tuple[float, float]] = (),
    now: Now | None = None,
    theme: Theme = Theme.LIGHT,
    width_px: int = 560,
    height_px: int = 240,
    until_min: float | None = None,
    is_bare: bool = False,
) -> str:
    """Return the uptake of dyes over time as SVG: bands, curves, the level that looks clear, readings, now.

    Percent and °C share one axis from 0 to 100.

    Args:
        t_min: minutes after heat on, rising, shape (times,).
        curves: dyes with a forecast, each of shape (times,).
        bath_c: temperature of the bath, shape (times,), drawn as a light line.
        before: the whole bath's band as it was foretold before anything was seen, drawn as an outline.
        clear_exhaustion: uptake at which the bath looks clear, 0 to 1.
        clear: when that is expected, marked on the level.
        readings: what was seen: (minute, uptake), drawn as full marks.
        doubted: what was seen and is in doubt, drawn hollow.
        now: a line for the present.
        theme: greys for a light screen, a dim one, or paper.
        width_px: width of the plot without its axes.
        height_px: height of the plot without its axes.
        until_min: where the time axis ends; the last time where None.
        is_bare: at the pot: units at the axes' figures instead of titles, no key where there is one dye.
    """
    import altair as alt

    times = np.asarray(t_min, float)
    end_min = float(times[-1] if until_min is None else min(until_min, times[-1]))
    frame = _Frame(end_min, is_bare=is_bare, has_bath=bath_c is not None)
    ink = ink_of(theme)
    layers: list[Any] = []
    if bath_c is not None:
        layers += _bath_layers(times, np.asarray(bath_c, float), frame, ink)
    for outline in (before, *(curve.before for curve in curves)):
        layers += [] if outline is None else _outline_layers(outline, frame, ink)
    for place, curve in enumerate(curves):
        layers += _curve_layers(times, curve, place, frame, ink, BAND_OPACITY[theme])
    strokes = [stroke for place, curve in enumerate(curves) for stroke in _strokes(curve, place, ink)]
    strokes += [] if bath_c is None else [_Stroke("bath, °C", ink.soft, BATH_STROKE_PX)]
    strokes += (
        [] if before is None or is_bare else [_Stroke("all dyes, as foretold before", ink.soft, BEFORE_STROKE_PX)]
    )
    key = [] if is_bare and len(strokes) == 1 else strokes
    row = KEY_ROW_PX / height_px * FULL
    layers += _key_layers(key, frame, ink, width_px, row)
    if clear_exhaustion is not None:
        layers += _clear_layers(clear_exhaustion, clear, frame, ink)
    layers += [
        _reading_layer(seen, ink, fill) for seen, fill in ((readings, ink.strong), (doubted, ink.ground)) if seen
    ]
    if now is not None and now.at_min <= frame.end_min:
        layers += _now_layers(now, frame, ink, row * (len(key) + 0.5))
    chart = styled(alt.layer(*layers), theme, width_px=width_px, height_px=height_px)
    chart.config.aria = False  # a reader hears the answer in words beside the chart, not each point of a path
    return chart_svg(chart)


def _cut(times: Floats, values: Floats, end_min: float) -> tuple[list[float], list[float]]:
    """Return a curve up to the axis end, with a last point on it."""
    inside = times < end_min
    kept = np.append(times[inside], end_min)
    return kept.tolist(), np.interp(kept, times, values).tolist()


def _bath_layers(times: Floats, bath_c: Floats, frame: _Frame, ink: Ink) -> list[Any]:
    t, c = _cut(times, bath_c, frame.end_min)
    return _drawn(_Stroke("bath", ink.soft, BATH_STROKE_PX), t, c, frame, ink)


def _curve_layers(times: Floats, curve: UptakeCurve, place: int, frame: _Frame, ink: Ink, opacity: float) -> list[Any]:
    import altair as alt

    t, mid = _cut(times, np.asarray(curve.mid, float) * PERCENT, frame.end_min)
    _, low = _cut(times, np.asarray(curve.low, float) * PERCENT, frame.end_min)
    _, high = _cut(times, np.asarray(curve.high, float) * PERCENT, frame.end_min)
    data = inline_data(t=t, e=mid, low=low, high=high)
    colour = curve.colour or ink.strong
    band = (
        alt.Chart(data)
        .mark_area(color=colour, opacity=opacity if curve.colour else 0.6 * opacity)
        .encode(x=frame.x(), y=frame.y("low:Q"), y2="high:Q")
    )
    layers = [band, *_drawn(_stroke(curve, place, ink), t, mid, frame, ink)]
    if curve.fixed is not None:
        _, fixed = _cut(times, np.asarray(curve.fixed, float) * PERCENT, frame.end_min)
        layers += _drawn(_strokes(curve, place, ink)[-1], t, fixed, frame, ink)
    return layers


def _outline_layers(band: BandOverTime, frame: _Frame, ink: Ink) -> list[Any]:
    """Return the outline of a band: its lower and its upper bound."""
    import altair as alt

    times, *bounds = (np.asarray(values, float) for values in band)
    layers = []
    for bound in bounds:
        t, e = _cut(times, bound * PERCENT, frame.end_min)
        line = alt.Chart(inline_data(t=t, e=e)).mark_line(
            color=ink.soft, strokeWidth=BEFORE_STROKE_PX, opacity=BEFORE_OPACITY
        )
        layers.append(line.encode(x=frame.x(), y=frame.y()))
    return layers


def _drawn(stroke: _Stroke, t: Sequence[float], e: Sequence[float], frame: _Frame, ink: Ink) -> list[Any]:
    """Return a line as its stroke says, outlined where its colour is near black or white and may be the ground's."""
    import altair as alt

    base = alt.Chart(inline_data(t=t, e=e)).encode(x=frame.x(), y=frame.y())
    line = base.mark_line(color=stroke.colour, strokeWidth=stroke.width_px, strokeDash=list(stroke.dash))
    if not stroke.is_outlined:
        return [line]
    outline = base.mark_line(color=ink.strong, strokeWidth=stroke.width_px + 1.5, strokeDash=list(stroke.dash))
    return [outline, line]


def _lightness(colour: str) -> float:
    """Return how light a display code is, 0 to 1: the mean of its channels, enough to tell a line from its ground."""
    return sum(int(colour[i : i + 2], 16) for i in (1, 3, 5)) / (3 * 255)


def _stroke(curve: UptakeCurve, place: int, ink: Ink) -> _Stroke:
    dash = DASHES[place % len(DASHES)]
    if curve.line or not curve.colour:
        return _Stroke(curve.name, curve.line or ink.strong, dash=dash)
    return _Stroke(curve.name, curve.colour, dash=dash, is_outlined=not DARK <= _lightness(curve.colour) <= PALE)


def _strokes(curve: UptakeCurve, place: int, ink: Ink) -> list[_Stroke]:
    """Return the rows of the key for one dye: its uptake, and what has bonded where it bonds."""
    stroke = _stroke(curve, place, ink)
    if curve.fixed is None:
        return [stroke]
    bonded = replace(stroke, name=f"{curve.name}, bonded", width_px=FIXED_STROKE_PX, dash=FIXED_DASH)
    return [stroke, bonded]


def _key_layers(strokes: Sequence[_Stroke], frame: _Frame, ink: Ink, width_px: int, row: float) -> list[Any]:
    """Return the names with their strokes at the bottom right, where no rising curve comes."""
    import altair as alt

    layers: list[Any] = []
    right = frame.end_min * 0.99
    left = right - frame.end_min * KEY_LINE_PX / width_px
    for place, stroke in enumerate(strokes):
        height = row * (len(strokes) - place) - row / 3
        line = _drawn(stroke, [left, right], [height, height], frame, ink)
        name = (
            alt.Chart(inline_data(t=[left], e=[height], words=[stroke.name]))
            .mark_text(align="right", dx=-6, baseline="middle", color=ink.strong)
            .encode(x="t:Q", y="e:Q", text="words:N")
        )
        layers += [*line, name]
    return layers


def _clear_layers(level_frac: float, clear: ClearSpan | None, frame: _Frame, ink: Ink) -> list[Any]:
    """Return the level that looks clear, and on it the span in which that is expected."""
    import altair as alt

    level = level_frac * PERCENT
    rule = (
        alt.Chart(inline_data(t=[0.0, frame.end_min], e=[level, level]))
        .mark_line(color=ink.soft, strokeWidth=1, strokeDash=[3, 3])
        .encode(x=frame.x(), y=frame.y())
    )
    words = (
        alt.Chart(inline_data(t=[0.0], e=[level], words=["looks clear"]))
        .mark_text(align="left", dx=4, dy=10, color=ink.soft)
        .encode(x="t:Q", y="e:Q", text="words:N")
    )
    layers: list[Any] = [rule, words]
    if clear is not None and clear.low is not None and clear.low < frame.end_min:
        high = frame.end_min if clear.high is None else min(clear.high, frame.end_min)
        span = alt.Chart(inline_data(t=[clear.low, high], e=[level, level]))
        layers.append(span.mark_line(color=ink.strong, strokeWidth=5, opacity=0.55).encode(x="t:Q", y="e:Q"))
        if clear.mid is not None and clear.mid <= frame.end_min:
            mid = alt.Chart(inline_data(t=[clear.mid], e=[level]))
            layers.append(mid.mark_circle(color=ink.strong, size=80, opacity=1).encode(x="t:Q", y="e:Q"))
    return layers


def _reading_layer(readings: Sequence[tuple[float, float]], ink: Ink, fill: str) -> Any:  # noqa: ANN401 - as in _x
    import altair as alt

    data = inline_data(t=[at for at, _ in readings], e=[seen * PERCENT for _, seen in readings])
    return (
        alt.Chart(data)
        .mark_point(shape="diamond", color=ink.strong, fill=fill, size=70, strokeWidth=2, opacity=1)
        .encode(x="t:Q", y="e:Q")
    )


def _now_layers(now: Now, frame: _Frame, ink: Ink, words_at: float) -> list[Any]:
    import altair as alt

    rule = (
        alt.Chart(inline_data(t=[now.at_min, now.at_min], e=[0.0, FULL]))
        .mark_line(color=ink.strong, strokeWidth=1.5)
        .encode(x=frame.x(), y=frame.y())
    )
    is_late = now.at_min > 0.6 * frame.end_min
    words = (
        alt.Chart(inline_data(t=[now.at_min], e=[words_at], words=[now.label]))
        .mark_text(align="right" if is_late else "left", dx=-6 if is_late else 6, color=ink.strong, fontWeight=600)
        .encode(x="t:Q", y="e:Q", text="words:N")
    )
    return [rule, words]
