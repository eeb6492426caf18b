"""Two ways in one chart: how much of the dye is in the yarn over time, the first solid, the second dashed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.sheets.charts import Theme
from dyewright.sheets.exhaustion import UptakeCurve, exhaustion_chart

__all__ = ["WayCurve", "beside_chart"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class WayCurve:
    """The whole bath of one way over its own minutes, fractions 0 to 1. `colour` is its dye's; a grey where None."""

    name: str
    t_min: ArrayLike
    mid: ArrayLike
    low: ArrayLike
    high: ArrayLike
    colour: str | None = None


def beside_chart(
    ways: Sequence[WayCurve],
    *,
    theme: Theme = Theme.LIGHT,
    width_px: int = 560,
    height_px: int = 240,
    until_min: float | None = None,
) -> str:
    """Return the uptake of two ways as SVG, their bands overlaid.

    They are told apart without colour: the first line is solid, the second dashed, and the second band is outlined.

    Args:
        ways: one or two.
        theme: greys for a light screen, a dim one, or paper.
        width_px: width of the plot without its axes.
        height_px: height of the plot without its axes.
        until_min: where the time axis ends; the end of the longer way where None.
    """
    ends = [float(np.asarray(way.t_min, float)[-1]) for way in ways]
    times = np.unique(np.concatenate([np.asarray(way.t_min, float) for way in ways]))
    curves = [_on(times, way, is_outlined=place > 0) for place, way in enumerate(ways)]
    return exhaustion_chart(
        times, curves, theme=theme, width_px=width_px, height_px=height_px, until_min=until_min or max(ends)
    )


def _on(times: Floats, way: WayCurve, *, is_outlined: bool) -> UptakeCurve:
    """Return a way at the chart's times; after its own end it stays as it is."""
    own = np.asarray(way.t_min, float)
    mid, low, high = (np.interp(times, own, np.asarray(values, float)) for values in (way.mid, way.low, way.high))
    outline = (times, low, high) if is_outlined else None
    return UptakeCurve(way.name, mid, low, high, way.colour, before=outline)
