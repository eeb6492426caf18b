"""A camera's tone curve, read from the grey row of a chart, and light with that curve taken out.

The curve is a cubic in logarithms for each channel: a gamma is a straight line there, and the lifted mid tones and
flattened ends of a phone's rendering bend it both ways. Light is read from white ground and taken out of darker yarn,
so that the slope near white has to be right: a parabola left 10 % of the fall of light in drawn skeins, a cubic 1 %.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError

__all__ = ["LEAST_GREYS", "Tone", "straightened", "tone_of_greys"]

Floats = NDArray[np.float64]

LEAST_GREYS = 3
_STEEPNESS = (0.3, 3.5)  # slopes of a camera's tone curve in logarithms, beyond which the row is no grey row; ours
_DARKEST = 1e-5


@dataclass(frozen=True)
class Tone:
    """A camera's tone curve, a channel each: log(true) as a polynomial of log(seen), straight on beyond its ends.

    `coefficients` has shape (3, degree + 1), highest power first; `low` and `high` are log(seen) of the end patches.
    """

    coefficients: Floats
    low: Floats
    high: Floats


def tone_of_greys(greys_rgb: Floats, greys_light: Floats) -> Tone:
    """Return the tone curve through a grey row: a cubic in logarithms, or a line where a cubic turns back.

    Args:
        greys_rgb: light of three to six greys as photographed, shape (n, 3).
        greys_light: what each channel should see of them, 1 for white, shape (n, 3). They are not quite neutral: taken
            for it, a white patch with 4 % less blue bent that channel's curve by 10 % near white.

    Raises:
        InputError: the row does not fall from white to black.
    """
    seen, true = np.log(np.maximum(greys_rgb, _DARKEST)), np.log(np.maximum(greys_light, _DARKEST))
    low, high = seen.min(axis=0), seen.max(axis=0)
    is_flat = np.any(high - low < np.ptp(true, axis=0) / _STEEPNESS[1])  # covered: no line through it means anything
    lines = np.zeros((3, 2)) if is_flat else _fits(seen, true, 1)
    if not np.all((lines[:, 0] > _STEEPNESS[0]) & (lines[:, 0] < _STEEPNESS[1])):
        raise InputError(
            "the chart's last row does not run from white to black (part of it may be covered, the photo mirrored): "
            "mark its corners clockwise from the dark-skin patch (the brown one), or judge with --chart none",
            field="chart",
        )
    places = min(len(np.unique(channel.round(9))) for channel in seen.T)  # where a channel ends, greys are one
    degree = min(3, len(greys_light) - 2, places - 1)
    curves = _fits(seen, true, degree)
    tone = Tone(curves, low, high)
    slopes = np.stack([_slope(tone, low + step * (high - low)) for step in np.linspace(0, 1, 9)])
    return tone if np.all((slopes > _STEEPNESS[0]) & (slopes < _STEEPNESS[1])) else Tone(lines, low, high)


def _fits(seen: Floats, true: Floats, degree: int) -> Floats:
    return np.array([np.polyfit(x, y, degree) for x, y in zip(seen.T, true.T, strict=True)])


def _slope(tone: Tone, at: Floats) -> Floats:
    """Return d log(true) / d log(seen) of each channel."""
    slopes = [np.polyval(np.polyder(curve), x) for curve, x in zip(tone.coefficients, at, strict=True)]
    return np.array(slopes, float)


def straightened(tone: Tone | None, rgb: Floats) -> Floats:
    """Return light with the tone curve taken out, last axis of 3.

    Brighter than the white patch, the curve goes on at its last slope; darker than a tenth of the black patch, in
    proportion, so that a value below 0 (a colour outside sRGB) stays below 0.
    """
    if tone is None:
        return rgb
    answer = np.empty_like(rgb)
    for channel in range(3):
        low, high = tone.low[channel] - np.log(10.0), tone.high[channel]
        seen = np.log(np.maximum(rgb[..., channel], np.exp(low)))
        curve = tone.coefficients[channel]
        inner = np.clip(seen, tone.low[channel], high)
        slope = np.polyval(np.polyder(curve), inner)
        light = np.exp(np.polyval(curve, inner) + slope * (seen - inner))
        answer[..., channel] = light * np.minimum(rgb[..., channel] / np.exp(low), 1.0)
    return answer
