"""What lamp a photo was taken by, as far as the chart in it can tell.

A 3×3 cannot make daylight of every lamp: what it leaves of the chart's patches has a pattern of its own under a warm
lamp and under a three-band one. The patterns are computed for a camera with the eye's own sensitivities; the misses of
the real camera are split into them by least squares. Simulated cameras (docs/science/judging.md) say from where on a
share means the lamp, and that a white LED cannot be told from daylight this way. A photo whose white balance was not
taken out shows a warm light in its greys besides.

Sources: [1] CIE 015:2018, illuminants A, FL11 and LED-B3. [2] IEC 61966-2-1: greys under D50 come out 1.6 times as red
as blue where they are shown without balance (XYZ 96.4 100 82.5 through the inverse matrix: 1.18 and 0.72).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import ciede2000_vector
from dyewright.core.colour.lab import lab_from_xyz
from dyewright.core.skeins.calibrate import GREY_ROW, ChartProblem, Fit, chart_problem

__all__ = ["LAMPS", "LampEvidence", "lamp_evidence", "lamp_patterns", "light_warnings", "light_words"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LAMPS = ("A", "FL11", "LED-B3")  # warm, three-band, white LED [1]
# How the shares of the three patterns add up to a sign of warm light and of three bands: the line that best parts 13
# simulated mosaic sensors under such lamps from the same under daylight and white LEDs (linear discriminant, measured).
WARM_SIGN, THREE_BAND_SIGN = np.array([1.0, 0.38, 0.36]), np.array([0.30, 1.0, 0.23])
WARM_LEAST = 1.4  # of other sensors 0.8 of bulbs and warm LEDs lie above, 0.00 of D65, 0.04 of D50 (measured)
THREE_BAND_LEAST = 0.85  # of other sensors 0.85 of three-band lamps lie above, 0.01 of other lights (measured)
WARM_RED_TO_BLUE = 1.6  # [2]: yellower than D50 in a picture that is balanced for D65
LEAST_PATCHES = 18  # fewer leave too little of a pattern; ours
# Of a channel against the others across the ground: 4 ΔE00 on a grey. On drawn photos one lamp with coloured yarn on
# white paper reaches 0.05, two lamps of different colour 0.03 to 0.06 and more (measured): below, nothing can be said.
MIXED_FRAC = 0.05


@dataclass(frozen=True)
class LampEvidence:
    """What a chart tells of the lamp: signs of warm light and of three bands, None where it cannot tell.

    `red_to_blue` is that of the middle greys as stored in the file, None where they are covered or clipped.
    """

    warm: float | None = None
    three_band: float | None = None
    red_to_blue: float | None = None

    @property
    def is_warm(self) -> bool:
        """Whether the light is warmer than daylight ever is at noon."""
        by_pattern = self.warm is not None and self.warm >= WARM_LEAST
        return by_pattern or (self.red_to_blue is not None and self.red_to_blue >= WARM_RED_TO_BLUE)

    @property
    def is_three_band(self) -> bool:
        """Whether the lamp has three narrow bands."""
        return self.three_band is not None and self.three_band >= THREE_BAND_LEAST


def lamp_patterns(curves: ArrayLike, lamps: Mapping[str, Floats], daylight: Floats) -> Floats:
    """Return what a 3×3 to daylight leaves of the chart under each of LAMPS, in CIEDE2000's three parts, (3, 24, 3).

    Args:
        curves: reflectances of the 24 patches, shape (24, 31).
        lamps: tristimulus weights of each lamp, (31, 3).
        daylight: those of D65.
    """
    reflectance = np.asarray(curves, float)
    xyz, white, used = reflectance @ daylight, daylight.sum(axis=0), np.ones(24, bool)
    seen = [reflectance @ lamps[lamp] / 100 for lamp in LAMPS]
    return np.array([_misses(chart_problem(rgb, xyz, white, is_linear=True), used) for rgb in seen])


def lamp_evidence(problem: ChartProblem, used: Bools, patterns: Floats | None) -> LampEvidence:
    """Return what a photographed chart tells of the lamp; `patterns` is None for a chart of unknown curves."""
    greys = GREY_ROW[1:5][used[GREY_ROW[1:5]]]
    red, _, blue = np.median(problem.rgb[greys], axis=0) if len(greys) else (np.nan, np.nan, np.nan)
    balance = float(red / blue) if blue > 0 else None
    if patterns is None or used.sum() < LEAST_PATCHES:
        return LampEvidence(red_to_blue=balance)
    misses = _misses(problem, used)[used].ravel()
    shares = np.linalg.lstsq(patterns[:, used].reshape(len(LAMPS), -1).T, misses)[0]
    return LampEvidence(warm=float(WARM_SIGN @ shares), three_band=float(THREE_BAND_SIGN @ shares), red_to_blue=balance)


def light_warnings(evidence: LampEvidence, mixed_frac: float = 0.0) -> tuple[str, ...]:
    """Return what is wrong with the light, for the dyer; empty where nothing is known to be.

    Args:
        evidence: what the chart tells.
        mixed_frac: how much a channel changes against the others across the ground, a fraction.
    """
    said = []
    if evidence.is_three_band:
        said.append(
            "Probably a three-band lamp (an energy-saving lamp or a shop's tube): some dyes are read quite wrongly by "
            "it, which no chart can put right. Photograph by a window."
        )
    elif evidence.is_warm:
        said.append(
            "Warm light (a bulb or a warm LED), or a camera set so: colours are read about twice as poorly as by "
            "daylight. Photograph by a window."
        )
    if mixed_frac >= MIXED_FRAC:
        said.append(
            f"Across the ground the light changes its colour by {mixed_frac:.0%}: two kinds of light, or colour thrown "
            "back by yarn or a wall. Put out the lamp or draw the curtain, and lay the skeins further apart."
        )
    return tuple(said)


def light_words(evidence: LampEvidence, mixed_frac: float = 0.0) -> str:
    """Return what is known of the light in a sentence or two, arguments as for `light_warnings`."""
    unknown = "What lamp it was cannot be told from this photo"
    if evidence.warm is not None:
        unknown += ": daylight and a white LED leave the same marks on the chart"
    return " ".join(light_warnings(evidence, mixed_frac)) or f"{unknown}."


def _misses(problem: ChartProblem, used: Bools) -> Floats:
    """Return by what a 3×3 misses each patch, in CIEDE2000's lightness, chroma and hue, (24, 3)."""
    fitted = problem.lab(*problem.solved(used, Fit.LINEAR), Fit.LINEAR)
    return ciede2000_vector(lab_from_xyz(problem.xyz, problem.white), fitted)
