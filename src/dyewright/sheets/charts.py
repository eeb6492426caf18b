"""Charts as SVG: neutral greys, the shipped sans, no script; one definition serves screen and print.

The only colour on a chart is the colour of dye, and the caller brings that.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from hashlib import sha256
from html import escape
from importlib.resources import as_file, files
from typing import Any

__all__ = ["CHART_FONT", "Ink", "Theme", "chart_svg", "ink_of", "inline_data", "styled", "temperature_chart"]

CHART_FONT = "Source Sans 3"
FONT_PX = 12
DIM_GREYS = ("#f0f0f0", "#a8a8a8", "#4a4a4a", "#262626", "#1c1c1c")
LIGHT_GREYS = ("#161616", "#5c5c5c", "#cfcfcf", "#f3f3f3", "#ffffff")


class Theme(StrEnum):
    """Where a chart is looked at."""

    LIGHT = "light"
    DIM = "dim"
    PRINT = "print"


@dataclass(frozen=True)
class Ink:
    """The greys of a theme: text and curves, labels, hairlines, bands, ground; all neutral (R = G = B)."""

    strong: str
    soft: str
    line: str
    band: str
    ground: str


def ink_of(theme: Theme) -> Ink:
    """Return the greys of a theme."""
    return Ink(*(DIM_GREYS if theme is Theme.DIM else LIGHT_GREYS))


@cache
def _register_fonts() -> None:
    import vl_convert

    with as_file(files("dyewright.sheets").joinpath("fonts")) as folder:
        vl_convert.register_font_directory(str(folder))


def chart_svg(
    chart: Any,  # noqa: ANN401 - an Altair chart of any kind; Altair ships no common base type
    words: str = "Chart; its figures stand beside it",
) -> str:
    """Return an Altair chart as SVG text: text stays text, nothing is fetched, no script inside.

    `words` say to a screen reader what the drawing shows.
    """
    import vl_convert

    _register_fonts()
    spec = chart.to_json(sort_keys=True, validate=False)  # the schema check takes as long as the drawing
    svg = _with_own_ids(_without_roles(vl_convert.vegalite_to_svg(spec)), sha256(spec.encode()).hexdigest()[:8])
    return svg.replace("<svg ", f'<svg role="img" aria-label="{escape(words)}" ', 1)


def _without_roles(svg: str) -> str:
    """Return an SVG without the roles and labels of its single marks: the whole drawing has one label instead."""
    return re.sub(r' (?:role|aria-[a-z]+)="[^"]*"', "", svg)


def _with_own_ids(svg: str, digest: str) -> str:
    """Return an SVG whose clip paths are named after the chart: the same every time, and apart from other charts."""
    names = {old: f"clip-{digest}-{i}" for i, old in enumerate(dict.fromkeys(re.findall(r'id="(clip\d+)"', svg)))}
    return re.sub(r"\bclip\d+\b", lambda match: names.get(match[0], match[0]), svg)


def styled(chart: Any, theme: Theme, *, width_px: int, height_px: int) -> Any:  # noqa: ANN401 - as in chart_svg
    """Return a chart with the project's size, greys and type; all at once, since each step copies the whole chart."""
    import altair as alt

    ink = ink_of(theme)
    axis = alt.AxisConfig(
        domainColor=ink.line,
        tickColor=ink.line,
        gridColor=ink.line,
        gridOpacity=0.5,
        labelColor=ink.soft,
        titleColor=ink.soft,
        labelFontSize=FONT_PX,
        titleFontSize=FONT_PX,
        titleFontWeight="normal",
        titlePadding=8,
    )
    text = alt.MarkConfig(font=CHART_FONT, fontSize=FONT_PX, color=ink.soft)
    config = alt.Config(font=CHART_FONT, view=alt.ViewConfig(stroke=None), axis=axis, text=text)
    return chart.properties(width=width_px, height=height_px, background="transparent", padding=4, config=config)


def inline_data(**columns: Sequence[object]) -> Any:  # noqa: ANN401 - as in chart_svg
    """Return columns of equal length as the data that a chart takes.

    They travel as one JSON text, which Altair passes on: rows it would copy one by one, and again for each layer.
    """
    import altair as alt

    rows = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return alt.Data(values=json.dumps(rows), format={"type": "json"})  # type: ignore[no-untyped-call]  # Altair types its charts, not its data holders


def temperature_chart(
    t_min: Sequence[float],
    bath_c: Sequence[float],
    events: Sequence[tuple[float, str]] = (),
    *,
    theme: Theme = Theme.LIGHT,
    width_px: int = 560,
    height_px: int = 180,
    until_min: float | None = None,
) -> str:
    """Return the expected temperature of the bath over time as SVG.

    Args:
        t_min: minutes from heat on, rising.
        bath_c: temperature, °C, one for each time.
        events: (minute, short label) marked on the curve.
        theme: greys for a light screen, a dim one, or paper.
        width_px: width of the plot without its axes.
        height_px: height of the plot without its axes.
        until_min: where the time axis ends; the last time where None. A longer curve is cut there.
    """
    import altair as alt

    ink = ink_of(theme)
    end = t_min[-1] if until_min is None else min(until_min, t_min[-1])
    kept = [(t, c) for t, c in zip(t_min, bath_c, strict=True) if t <= end]
    data = inline_data(t=[t for t, _ in kept], c=[c for _, c in kept])
    x = alt.X(
        "t:Q", title="minutes from heat on", scale=alt.Scale(domain=[0, max(end, 1)], nice=False), axis=_time_axis(end)
    )
    low, high = min(bath_c), max(bath_c)
    domain = [max(0, 10 * (low // 10) - 10), min(110, 10 * (high // 10) + 20)]
    y = alt.Y(
        "c:Q",
        title="bath, °C",
        scale=alt.Scale(domain=domain, nice=False, zero=False),
        axis=alt.Axis(tickCount=5, ticks=False, domain=False, offset=6),
    )
    curve = alt.Chart(data).mark_line(strokeWidth=2.5, color=ink.strong, clip=True).encode(x=x, y=y)
    chart = alt.layer(curve, *_event_layers(events, kept, ink))
    words = f"Bath temperature: {bath_c[0]:.0f} °C at heat on, {high:.0f} °C at its hottest, over {end:.0f} min shown"
    return chart_svg(styled(chart, theme, width_px=width_px, height_px=height_px), words)


def _time_axis(end_min: float) -> Any:  # noqa: ANN401 - Altair's axis type is built at run time
    """Return a time axis with steps that a clock has."""
    import altair as alt

    step = next((s for s in (5, 10, 15, 30, 60, 120) if end_min / s <= 9), 240)
    return alt.Axis(values=list(range(0, int(end_min) + 1, step)), grid=False)


def _event_layers(events: Sequence[tuple[float, str]], curve: Sequence[tuple[float, float]], ink: Ink) -> list[Any]:
    """Return a dot and a label for each event that lies on the kept part of the curve."""
    layers = []
    for at_min, label in events:
        if not curve[0][0] <= at_min <= curve[-1][0]:
            continue
        i = min(range(len(curve)), key=lambda n: abs(curve[n][0] - at_min))
        after = curve[min(i + 1, len(curve) - 1)]
        is_late = curve[i][0] > 0.8 * curve[-1][0]
        is_rising = after[1] >= curve[i][1]
        layers += _event(curve[i], label, ink, is_late=is_late, is_rising=is_rising)
    return layers


def _event(point: tuple[float, float], label: str, ink: Ink, *, is_late: bool, is_rising: bool) -> list[Any]:
    """Return the dot and its label, on the side that the curve leaves free: below a rise, above a fall."""
    import altair as alt

    base = alt.Chart(inline_data(t=[point[0]], c=[point[1]], label=[label])).encode(x="t:Q", y="c:Q")
    words = base.mark_text(
        align="right" if is_late else "left",
        dx=-8 if is_late else 8,
        dy=12 if is_rising != is_late else -12,
        baseline="middle",
        color=ink.soft,
        fontSize=FONT_PX,
    )
    return [base.mark_circle(size=60, color=ink.strong, opacity=1), words.encode(text="label:N")]
