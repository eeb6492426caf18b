"""From a camera's linear light to CIELAB (D65, 10°), through the 24 patches of a chart in the same photo.

The grey row first straightens the camera's tone curve, channel by channel; a 3×3 then takes light to XYZ. The 3×3 is
fitted to CIEDE2000 at the reference colours in one linear solve: rows are weighted with the metric frozen there.

Sources: [1] G. D. Finlayson, M. Mackiewicz, A. Hurlbert, Color correction using root-polynomial regression, IEEE Trans.
Image Process. 24 (2015) 1460-1470: the linear fit does not depend on exposure, a polynomial one does. [2] CIE 015:2018,
8.2.1 (CIELAB). [3] M. Stone, Cross-validatory choice and assessment of statistical predictions, J. R. Stat. Soc. B 36
(1974) 111-147: leaving one out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import ciede2000_metric, ciede2000_vector, delta_e00
from dyewright.core.colour.lab import bradford_matrix, lab_from_xyz, srgb_white, srgb_xyz_matrix
from dyewright.errors import InputError

__all__ = ["FIT_LIMIT_DE00", "Calibration", "Tone", "calibrate", "misfits", "relative_calibration", "straightened"]

Floats = NDArray[np.float64]

FIT_LIMIT_DE00 = (
    8.0  # true finds fitted at 1.1 to 2.4, false ones at 24 (measured); phone pictures at 3 to 5 (estimate)
)
GREY_ROW = np.arange(18, 24)  # white to black, the last row of the chart
LEAST_GREYS = 3
LEAST_PATCHES = 14  # two and a half times the unknowns of a 3×3 that each channel has; ours
_STEEPNESS = (0.3, 3.5)  # slopes of a camera's tone curve in logarithms, beyond which the row is no grey row; ours
_DARKEST = 1e-5
MISFIT_DE00, MOST_MISFITS = 10.0, 4  # ours: four times what patches of a sound chart miss by when left out


@dataclass(frozen=True)
class Tone:
    """A camera's tone curve, a channel each: log(true) as a polynomial of log(seen), straight on beyond its ends.

    `coefficients` has shape (3, degree + 1), highest power first; `low` and `high` are log(seen) of the end patches.
    """

    coefficients: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Calibration:
    """How linear light (n, 3) becomes XYZ, and how far that is to be trusted.

    `left_out_de00` is NaN for a patch that was not used; `left_out_sd_de00` (3,) the root mean square of the left-out
    errors as CIEDE2000 weighs lightness, chroma and hue. All are None where there is no chart.
    """

    tone: Tone | None
    matrix: Floats
    white: Floats
    fit_de00: Floats | None = None
    left_out_de00: Floats | None = None
    left_out_sd_de00: Floats | None = None

    def xyz(self, rgb: ArrayLike) -> Floats:
        """Return XYZ (Y = 100 for white) of linear light, last axis of 3."""
        return straightened(self.tone, np.asarray(rgb, float)) @ self.matrix.T

    def lab(self, rgb: ArrayLike) -> Floats:
        """Return CIELAB of linear light, last axis of 3; light below black counts as black."""
        return lab_from_xyz(np.maximum(self.xyz(rgb), 0), self.white)

    def left_out_sd_lab(self, lab: ArrayLike) -> Floats | None:
        """Return the root mean square of the left-out errors in L*, a*, b* for colours near `lab`, last axis of 3.

        An error of so many a* is small on a vivid patch and large on a grey one; in CIEDE2000's own weights the patches
        are alike, so their errors are averaged there and brought back at the colour asked for.
        """
        if self.left_out_sd_de00 is None:
            return None
        back = np.linalg.inv(ciede2000_metric(lab))
        sd: Floats = np.sqrt(np.sum((back * self.left_out_sd_de00) ** 2, axis=-1))
        return sd


def relative_calibration(white: ArrayLike) -> Calibration:
    """Return the calibration without a chart: the file's own white is white, its values are sRGB's.

    The colours are relative to that; differences keep most of their meaning.
    """
    to_white = bradford_matrix(srgb_white(), white) @ srgb_xyz_matrix()
    return Calibration(tone=None, matrix=to_white, white=np.asarray(white, float))


def calibrate(
    patch_rgb: ArrayLike,
    reference_xyz: ArrayLike,
    white: ArrayLike,
    *,
    is_linear: bool = False,
    is_usable: ArrayLike | None = None,
    patch_light: ArrayLike | None = None,
) -> Calibration:
    """Return the calibration that a photographed chart gives.

    Args:
        patch_rgb: linear light of the 24 patches in reading order from dark skin, shape (24, 3).
        reference_xyz: what they are, Y = 100 for white, shape (24, 3).
        white: the white point of the reference, Y = 100.
        is_linear: the camera's tone curve is known to be straight (raw, linear file).
        is_usable: False for a patch that is clipped or shaded, shape (24,).
        patch_light: how much light falls on each patch against the chart's middle, shape (24,).

    Raises:
        InputError: too few usable patches, or a grey row that does not fall from white to black.
    """
    rgb, xyz, white = np.asarray(patch_rgb, float), np.asarray(reference_xyz, float), np.asarray(white, float)
    light = np.ones(24) if patch_light is None else np.asarray(patch_light, float)
    used = np.ones(24, bool) if is_usable is None else np.array(is_usable, bool)
    if used.sum() < LEAST_PATCHES:
        raise InputError(
            f"only {used.sum()} of the chart's 24 patches can be read, {LEAST_PATCHES} are needed (the others are "
            "clipped, covered or in glare): photograph it again with less exposure, or judge with --chart none",
            field="chart",
            value=int(used.sum()),
            limit=LEAST_PATCHES,
        )
    problem = _problem(rgb, xyz, light, white)
    tone, matrix = problem.solved(used, is_linear=is_linear)
    reference = lab_from_xyz(xyz, white)
    fitted = problem.lab(tone, matrix)
    left_out = np.full((24, 3), np.nan)
    for patch in np.flatnonzero(used):
        others = used.copy()
        others[patch] = False
        left_out[patch] = problem.lab(*problem.solved(others, is_linear=is_linear))[patch]
    errors = ciede2000_vector(reference[used], left_out[used])
    return Calibration(
        tone=tone,
        matrix=matrix,
        white=white,
        fit_de00=delta_e00(reference, fitted),
        left_out_de00=np.where(used, delta_e00(reference, np.where(used[:, None], left_out, reference)), np.nan),
        left_out_sd_de00=np.sqrt(np.mean(errors**2, axis=0)),
    )


def misfits(
    patch_rgb: ArrayLike,
    reference_xyz: ArrayLike,
    white: ArrayLike,
    *,
    is_linear: bool = False,
    is_usable: ArrayLike | None = None,
) -> NDArray[np.bool_]:
    """Return which patches do not belong to the rest (covered, stained, in glare), four at most: arguments as above.

    Such a patch drags a plain fit along and hides. So the patch without which the others fit best is taken out, one
    after the other, for as long as the others fit better by a third; in the end they must fit twice as well.
    """
    rgb, xyz, white = np.asarray(patch_rgb, float), np.asarray(reference_xyz, float), np.asarray(white, float)
    used = np.ones(24, bool) if is_usable is None else np.array(is_usable, bool)
    problem, left = _problem(rgb, xyz, np.ones(24), white), used.copy()
    found, before = np.zeros(24, bool), float(problem.errors(used, is_linear=is_linear)[used].mean())
    reached = before
    for _ in range(MOST_MISFITS):
        trials = [(problem.errors(left & (np.arange(24) != i), is_linear=is_linear), i) for i in np.flatnonzero(left)]
        errors, worst = min(trials, key=lambda trial: float(trial[0][left & (np.arange(24) != trial[1])].mean()))
        left[worst] = False
        mean, out = float(errors[left].mean()), used & ~left
        if mean < before / 2 and mean < reached / 1.5 and np.all(errors[out] > MISFIT_DE00):
            found, reached = out, mean
    return found


def _problem(rgb: Floats, xyz: Floats, light: Floats, white: Floats) -> "_Problem":
    weights = ciede2000_metric(lab_from_xyz(xyz, white)) @ _lab_slopes(xyz, white)
    return _Problem(rgb, xyz, light, weights, white)


@dataclass(frozen=True)
class _Problem:
    """The chart as a least-squares problem; `weights` (24, 3, 3) take an error in XYZ to one in ΔE00."""

    rgb: Floats
    xyz: Floats
    light: Floats
    weights: Floats
    white: Floats

    def solved(self, used: NDArray[np.bool_], *, is_linear: bool) -> tuple[Tone | None, Floats]:
        """Return the tone curve and the 3×3 from the patches in use."""
        greys = GREY_ROW[used[GREY_ROW]]
        straight = is_linear or len(greys) < LEAST_GREYS
        tone = None if straight else _tone(self.rgb[greys], self.xyz[greys, 1] * self.light[greys])
        seen = straightened(tone, self.rgb) / self.light[:, None]
        rows = np.einsum("nij,nk->nijk", self.weights[used], seen[used]).reshape(-1, 9)
        wanted = np.einsum("nij,nj->ni", self.weights[used], self.xyz[used]).ravel()
        matrix: Floats = np.linalg.lstsq(rows, wanted)[0].reshape(3, 3)
        return tone, matrix

    def errors(self, used: NDArray[np.bool_], *, is_linear: bool) -> Floats:
        """Return the ΔE00 of every patch from the fit through those in use."""
        fitted = self.lab(*self.solved(used, is_linear=is_linear))
        return delta_e00(lab_from_xyz(self.xyz, self.white), fitted)

    def lab(self, tone: Tone | None, matrix: Floats) -> Floats:
        """Return the Lab of every patch through a tone curve and a 3×3."""
        seen = straightened(tone, self.rgb) / self.light[:, None]
        return lab_from_xyz(np.maximum(seen @ matrix.T, 0), self.white)


def _tone(greys_rgb: Floats, greys_y: Floats) -> Tone:
    """Return the tone curve through the grey row: a parabola in logarithms, or a line where a parabola turns back."""
    seen, true = np.log(np.maximum(greys_rgb, _DARKEST)), np.log(greys_y / 100.0)
    low, high = seen.min(axis=0), seen.max(axis=0)
    is_flat = np.any(high - low < np.ptp(true) / _STEEPNESS[1])  # covered: no line through it means anything
    lines = np.zeros((3, 2)) if is_flat else np.array([np.polyfit(channel, true, 1) for channel in seen.T])
    if not np.all((lines[:, 0] > _STEEPNESS[0]) & (lines[:, 0] < _STEEPNESS[1])):
        raise InputError(
            "the chart's last row does not run from white to black (part of it may be covered, the photo mirrored): "
            "mark its corners clockwise from the dark-skin patch (the brown one), or judge with --chart none",
            field="chart",
        )
    degree = min(2, len(greys_y) - 2)
    curves = np.array([np.polyfit(channel, true, degree) for channel in seen.T])
    tone = Tone(curves, low, high)
    ends = np.stack([_slope(tone, low), _slope(tone, high)])
    return tone if np.all((ends > _STEEPNESS[0]) & (ends < _STEEPNESS[1])) else Tone(lines, low, high)


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


def _lab_slopes(xyz: Floats, white: Floats) -> Floats:
    """Return dLab/dXYZ, shape (n, 3, 3), from [2]: f' is t^(-2/3)/3 above (6/29)^3 and (29/6)^2/3 below."""
    ratio = xyz / white
    slope = np.where(ratio > (6 / 29) ** 3, np.maximum(ratio, 1e-9) ** (-2 / 3) / 3, (29 / 6) ** 2 / 3) / white
    mixing = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    return mixing * slope[:, None, :]
