"""What the thermometer read, beside what the sheet had planned."""

from collections.abc import Sequence
from typing import Any

from dyewright.sheets.charts import FONT_PX, Theme, chart_svg, ink_of, inline_data, styled

__all__ = ["happened_chart"]

AIR_C = 8.0  # free space above and below the curves


def happened_chart(
    t_min: Sequence[float],
    bath_c: Sequence[float],
    read: Sequence[tuple[float, float]],
    *,
    curve_words: str = "planned",
    theme: Theme = Theme.LIGHT,
    width_px: int = 560,
    height_px: int = 200,
    until_min: float | None = None,
) -> str:
    """Return a computed temperature as a thin dashed line and the read ones as joined dots, as SVG.

    Args:
        t_min: minutes from heat on, rising, of the computed curve.
        bath_c: computed temperature, °C, one for each time.
        read: (minute, °C) of each reading, in order.
        curve_words: what the computed curve is called on the chart.
        theme: greys for a light screen, a dim one, or paper.
        width_px: width of the plot without its axes.
        height_px: height of the plot without its axes.
        until_min: where the time axis ends; the last time of the plan where None.
    """
    import altair as alt

    ink = ink_of(theme)
    end = max(t_min[-1] if until_min is None else min(until_min, t_min[-1]), 1.0)
    planned = [(t, c) for t, c in zip(t_min, bath_c, strict=True) if t <= end]
    seen = [(t, c) for t, c in read if 0.0 <= t <= end]
    heights = [c for _, c in (*planned, *seen)]
    x = alt.X(
        "t:Q", title="minutes from heat on", scale=alt.Scale(domain=[0, end], nice=False), axis=alt.Axis(grid=False)
    )
    y = alt.Y(
        "c:Q",
        title="bath, °C",
        scale=alt.Scale(domain=[min(heights) - AIR_C, max(heights) + AIR_C], nice=False, zero=False),
        axis=alt.Axis(tickCount=5, ticks=False, domain=False),
    )
    line = alt.Chart(inline_data(t=[t for t, _ in planned], c=[c for _, c in planned])).encode(x=x, y=y)
    layers = [line.mark_line(strokeWidth=1.5, strokeDash=[5, 4], color=ink.soft, clip=True)]
    layers.append(_label(planned[-1], curve_words, ink.soft, above=False))
    if seen:
        dots = alt.Chart(inline_data(t=[t for t, _ in seen], c=[c for _, c in seen])).encode(x=x, y=y)
        layers += [
            dots.mark_line(strokeWidth=2.5, color=ink.strong),
            dots.mark_circle(size=70, color=ink.strong, opacity=1),
            _label(seen[-1], "read", ink.strong, above=True),
        ]
    return chart_svg(styled(alt.layer(*layers), theme, width_px=width_px, height_px=height_px))


def _label(point: tuple[float, float], words: str, colour: str, *, above: bool) -> Any:  # noqa: ANN401 - an Altair layer
    import altair as alt

    data = inline_data(t=[point[0]], c=[point[1]], label=[words])
    mark = alt.Chart(data).mark_text(align="right", dy=-14 if above else 14, color=colour, fontSize=FONT_PX)
    return mark.encode(x="t:Q", y="c:Q", text="label:N")
