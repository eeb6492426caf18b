"""From a camera's linear light to CIELAB (D65, 10°), through the 24 patches of a chart in the same photo.

The grey row first straightens the camera's tone curve, channel by channel; a fit then takes light to XYZ: a 3×3, or a
root-polynomial of degree 2 (the channels and the roots of their products) where it predicts left-out patches better.
Both scale with exposure exactly [1]; a plain polynomial does not, and degree 3 would follow the chart and lose yarn.
The fit is to CIEDE2000 at the reference colours in one linear solve: rows are weighted with the metric frozen there.

Sources: [1] G. D. Finlayson, M. Mackiewicz, A. Hurlbert, Color correction using root-polynomial regression, IEEE Trans.
Image Process. 24 (2015) 1460-1470. [2] CIE 015:2018, 8.2.1 (CIELAB). [3] M. Stone, Cross-validatory choice and
assessment of statistical predictions, J. R. Stat. Soc. B 36 (1974) 111-147: leaving one out.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import ciede2000_metric, delta_e00
from dyewright.core.colour.lab import bradford_matrix, lab_from_xyz, srgb_white, srgb_xyz_matrix
from dyewright.core.skeins.tone import LEAST_GREYS, Tone, straightened, tone_of_greys
from dyewright.errors import InputError

__all__ = [
    "FIT_LIMIT_DE00",
    "LEAST_PATCHES",
    "Calibration",
    "ChartProblem",
    "ColourDoubt",
    "Fit",
    "calibrate",
    "chart_problem",
    "relative_calibration",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FIT_LIMIT_DE00 = (
    8.0  # true finds fitted at 1.1 to 2.4, false ones at 24 (measured); phone pictures at 3 to 5 (estimate)
)
GREY_ROW = np.arange(18, 24)  # white to black, the last row of the chart
LEAST_PATCHES = 14  # two and a half times the unknowns of a 3×3 that each channel has; ours
LEAST_PATCHES_ROOT = 18  # three times the unknowns of a root-polynomial; ours
ROOT_GAIN = 0.95  # a root-polynomial has to predict left-out patches better by this, or the simpler fit stays; ours

# By how much more than the left-out patches dyed yarn is misread, at grey and for each unit of chroma, in L*, a*, b*:
# set so that the interval holds 94 of 100 invented dyeings of vivid, narrow bands and 99 of usual ones on ten simulated
# cameras under nine lamps (measured, docs/science/judging.md).
YARN_AT_GREY = np.array([1.5, 1.9, 1.4]) / 1.96
YARN_PER_CHROMA = np.array([0.020, 0.040, 0.040]) / 1.96


class Fit(StrEnum):
    """How light becomes XYZ."""

    LINEAR = "3×3"
    ROOT = "root-polynomial of degree 2"


@dataclass(frozen=True)
class ColourDoubt:
    """The standard deviation of a yarn's L*, a*, b* as read: at grey, and what comes on top for each unit of chroma."""

    at_grey: Floats
    per_chroma: Floats

    def sd_lab(self, lab: ArrayLike) -> Floats:
        """Return the standard deviation at colours, last axis of 3."""
        a, b = np.moveaxis(np.asarray(lab, float), -1, 0)[1:]
        sd: Floats = self.at_grey + np.hypot(a, b)[..., None] * self.per_chroma
        return sd


@dataclass(frozen=True)
class Calibration:
    """How linear light (n, 3) becomes XYZ, and how far that is to be trusted.

    `matrix` takes the terms of `fit` to XYZ. `left_out_de00` is NaN for a patch that was not used; `fitted_lab` (24, 3)
    is what the fit makes of the patches. `doubt` is that of yarn. All three are None where there is no chart, `doubt`
    stays for a grey card.
    """

    tone: Tone | None
    matrix: Floats
    white: Floats
    fit: Fit = Fit.LINEAR
    fit_de00: Floats | None = None
    left_out_de00: Floats | None = None
    fitted_lab: Floats | None = None
    doubt: ColourDoubt | None = None

    def xyz(self, rgb: ArrayLike) -> Floats:
        """Return XYZ (Y = 100 for white) of linear light, last axis of 3."""
        return self.xyz_of_light(straightened(self.tone, np.asarray(rgb, float)))

    def xyz_of_light(self, light: ArrayLike) -> Floats:
        """Return XYZ of light with the tone curve already taken out, last axis of 3."""
        return _terms(np.asarray(light, float), self.fit) @ self.matrix.T

    def lab(self, rgb: ArrayLike) -> Floats:
        """Return CIELAB of linear light, last axis of 3; light below black counts as black."""
        return lab_from_xyz(np.maximum(self.xyz(rgb), 0), self.white)

    def colour_sd_lab(self, lab: ArrayLike) -> Floats | None:
        """Return the standard deviation of a yarn's L*, a*, b* read near `lab`, last axis of 3; None if unknown."""
        return None if self.doubt is None else self.doubt.sd_lab(lab)


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
    fit: Fit | None = None,
) -> Calibration:
    """Return the calibration that a photographed chart gives.

    Args:
        patch_rgb: linear light of the 24 patches in reading order from dark skin, shape (24, 3).
        reference_xyz: what they are, Y = 100 for white, shape (24, 3).
        white: the white point of the reference, Y = 100.
        is_linear: the camera's tone curve is known to be straight (raw, linear file).
        is_usable: False for a patch that is clipped or shaded, shape (24,).
        patch_light: how much light falls on each patch against the chart's middle, shape (24,).
        fit: how light becomes XYZ; None takes the one that predicts left-out patches better, in doubt the 3×3.

    Raises:
        InputError: too few usable patches, or a grey row that does not fall from white to black.
    """
    used = np.ones(24, bool) if is_usable is None else np.array(is_usable, bool)
    if used.sum() < LEAST_PATCHES:
        raise InputError(
            f"only {used.sum()} of the chart's 24 patches can be read, {LEAST_PATCHES} are needed (the others are "
            "clipped, covered or in glare, or the corners lie beside them): photograph it again with less exposure, "
            "mark the corners clockwise from the dark-skin patch (the brown one), or judge with --chart none",
            field="chart",
            value=int(used.sum()),
            limit=LEAST_PATCHES,
        )
    problem = chart_problem(patch_rgb, reference_xyz, white, patch_light=patch_light, is_linear=is_linear)
    if fit is not None:
        return problem.calibration(used, fit)
    linear = problem.calibration(used, Fit.LINEAR)
    if used.sum() < LEAST_PATCHES_ROOT:
        return linear
    root = problem.calibration(used, Fit.ROOT)
    return root if _left_out(root) < ROOT_GAIN * _left_out(linear) else linear


def _left_out(calibration: Calibration) -> float:
    """Return the root mean square of the left-out errors, ΔE00."""
    return float(np.sqrt(np.nanmean(np.square(np.asarray(calibration.left_out_de00, float)))))


def chart_problem(
    patch_rgb: ArrayLike,
    reference_xyz: ArrayLike,
    white: ArrayLike,
    *,
    patch_light: ArrayLike | None = None,
    is_linear: bool = False,
) -> "ChartProblem":
    """Return the chart as a least-squares problem; arguments as for `calibrate`."""
    rgb, xyz, white = np.asarray(patch_rgb, float), np.asarray(reference_xyz, float), np.asarray(white, float)
    light = np.ones(24) if patch_light is None else np.asarray(patch_light, float)
    weights = ciede2000_metric(lab_from_xyz(xyz, white)) @ _lab_slopes(xyz, white)
    return ChartProblem(rgb, xyz, light, weights, white, is_linear)


@dataclass(frozen=True)
class ChartProblem:
    """The chart as a least-squares problem; `weights` (24, 3, 3) take an error in XYZ to one in ΔE00."""

    rgb: Floats
    xyz: Floats
    light: Floats
    weights: Floats
    white: Floats
    is_linear: bool

    def calibration(self, used: Bools, fit: Fit) -> Calibration:
        """Return the fit through the patches in use, with what it misses each by when fitted and when left out."""
        tone, matrix = self.solved(used, fit)
        reference, fitted = lab_from_xyz(self.xyz, self.white), self.lab(tone, matrix, fit)
        left_out = np.full((24, 3), np.nan)
        for patch in np.flatnonzero(used):
            others = used & (np.arange(24) != patch)
            bent = self.tone(others) if patch in GREY_ROW else tone
            left_out[patch] = self.lab(bent, self.matrix(others, bent, fit), fit)[patch]
        rms = np.sqrt(np.mean((left_out - reference)[used] ** 2, axis=0))
        rms[1:] = np.sqrt(np.mean(rms[1:] ** 2))  # a* and b* err alike on the chart
        return Calibration(
            tone=tone,
            matrix=matrix,
            white=self.white,
            fit=fit,
            fit_de00=delta_e00(reference, fitted),
            left_out_de00=np.where(used, delta_e00(reference, np.where(used[:, None], left_out, reference)), np.nan),
            fitted_lab=fitted,
            doubt=ColourDoubt(rms * YARN_AT_GREY, rms * YARN_PER_CHROMA),
        )

    def solved(self, used: Bools, fit: Fit = Fit.LINEAR) -> tuple[Tone | None, Floats]:
        """Return the tone curve and the matrix from the patches in use."""
        tone = self.tone(used)
        return tone, self.matrix(used, tone, fit)

    def tone(self, used: Bools) -> Tone | None:
        """Return the tone curve from the greys in use; None where it is straight or too few are left to tell."""
        greys = GREY_ROW[used[GREY_ROW]]
        if self.is_linear or len(greys) < LEAST_GREYS:
            return None
        to_channels = np.linalg.inv(relative_calibration(self.white).matrix)  # as sRGB's primaries see them
        return tone_of_greys(self.rgb[greys], self.xyz[greys] @ to_channels.T * self.light[greys, None])

    def matrix(self, used: Bools, tone: Tone | None, fit: Fit = Fit.LINEAR) -> Floats:
        """Return the matrix from the patches in use, their light straightened."""
        rows, wanted = self.equations(used, tone, fit)
        return np.asarray(np.linalg.lstsq(rows, wanted)[0].reshape(3, -1), float)

    def equations(self, used: Bools, tone: Tone | None, fit: Fit = Fit.LINEAR) -> tuple[Floats, Floats]:
        """Return the rows (three a patch in use) and the right side whose least squares are the matrix."""
        seen = _terms(straightened(tone, self.rgb) / self.light[:, None], fit)
        rows = np.einsum("nij,nk->nijk", self.weights[used], seen[used]).reshape(3 * int(used.sum()), -1)
        return rows, np.einsum("nij,nj->ni", self.weights[used], self.xyz[used]).ravel()

    def errors(self, used: Bools, fit: Fit = Fit.LINEAR) -> Floats:
        """Return the ΔE00 of every patch from the fit through those in use."""
        fitted = self.lab(*self.solved(used, fit), fit)
        return delta_e00(lab_from_xyz(self.xyz, self.white), fitted)

    def lab(self, tone: Tone | None, matrix: Floats, fit: Fit) -> Floats:
        """Return the Lab of every patch through a tone curve and a matrix."""
        seen = _terms(straightened(tone, self.rgb) / self.light[:, None], fit)
        return lab_from_xyz(np.maximum(seen @ matrix.T, 0), self.white)


def _terms(rgb: Floats, fit: Fit) -> Floats:
    """Return what the matrix is applied to: the channels, and with them the roots of their products [1] eq. 5.

    A channel below 0 (a colour outside sRGB) has no root: its products count as 0.
    """
    if fit is Fit.LINEAR:
        return rgb
    red, green, blue = np.moveaxis(np.sqrt(np.maximum(rgb, 0)), -1, 0)
    return np.concatenate([rgb, np.stack([red * green, green * blue, red * blue], axis=-1)], axis=-1)


def _lab_slopes(xyz: Floats, white: Floats) -> Floats:
    """Return dLab/dXYZ, shape (n, 3, 3), from [2]: f' is t^(-2/3)/3 above (6/29)^3 and (29/6)^2/3 below."""
    ratio = xyz / white
    slope = np.where(ratio > (6 / 29) ** 3, np.maximum(ratio, 1e-9) ** (-2 / 3) / 3, (29 / 6) ** 2 / 3) / white
    mixing = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    return mixing * slope[:, None, :]
