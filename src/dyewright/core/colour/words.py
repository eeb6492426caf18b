"""Colours and differences in a dyer's words.

The words are the project's own; the bounds between them are chosen by eye on the screen (estimate).
"""

import numpy as np
from numpy.typing import ArrayLike

from dyewright.core.colour.difference import ciede2000_metric, delta_parts
from dyewright.core.colour.lab import lch_from_lab

__all__ = ["colour_words", "difference_words", "visibility_words"]

GREY_CHROMA = 5.0  # below it a colour is named as a grey
WHITE_LIGHTNESS, BLACK_LIGHTNESS = 93.0, 16.0

# Upper hue angle of each name in CIELAB (D65, 10°), degrees; the circle closes at 360 with rose.
HUES = (
    (14.0, "rose"),
    (38.0, "red"),
    (60.0, "orange"),
    (78.0, "amber"),
    (100.0, "yellow"),
    (122.0, "lime"),
    (158.0, "green"),
    (183.0, "sea green"),
    (228.0, "teal"),
    (268.0, "blue"),
    (294.0, "ultramarine"),
    (318.0, "violet"),
    (342.0, "purple"),
    (360.0, "rose"),
)
# Warm hues that are dark or greyish go by other names: (from hue, to hue, lightness below, name).
EARTHS = (
    (38.0, 60.0, 50.0, "brown"),
    (60.0, 78.0, 58.0, "ochre brown"),
    (78.0, 100.0, 62.0, "olive"),
    (100.0, 122.0, 50.0, "olive green"),
)
PINKS = (0.0, 38.0, 62.0, "pink")  # reds lighter than this
CREAM = (60.0, 112.0, 78.0, 22.0)  # hues from and to, lightness above, chroma below: undyed wool as a rule

# A component of a difference, in CIEDE2000's own units, below the bound goes by the size; beyond them all, "clearly".
SIZES = ((0.7, "a hair "), (1.5, "a touch "), (4.0, ""))
NOTHING_TO_SEE = 0.25


def colour_words(lab: ArrayLike) -> str:
    """Return a colour in words such as "deep greyish teal", from its Lab (D65, 10°)."""
    lightness, chroma, hue = lch_from_lab(lab).tolist()
    if chroma < GREY_CHROMA:
        return _grey_words(lightness)
    low, high, least, most = CREAM
    if low <= hue < high and lightness >= least and chroma < most:
        return "pale cream" if lightness >= WHITE_LIGHTNESS - 5 else "cream"
    return " ".join(
        word for word in (_lightness_word(lightness), _chroma_word(chroma), _hue_word(lightness, hue)) if word
    )


def _grey_words(lightness: float) -> str:
    if lightness >= WHITE_LIGHTNESS:
        return "white"
    if lightness <= BLACK_LIGHTNESS:
        return "black"
    return f"{_lightness_word(lightness)} grey".strip()


def _lightness_word(lightness: float) -> str:
    bounds = ((20, "very dark"), (32, "dark"), (48, "deep"), (66, ""), (80, "light"), (101, "pale"))
    return next((word for bound, word in bounds if lightness < bound), "pale")


def _chroma_word(chroma: float) -> str:
    bounds = ((12, "greyed"), (24, "greyish"), (40, "soft"), (60, ""))
    return next((word for bound, word in bounds if chroma < bound), "vivid")


def _hue_word(lightness: float, hue: float) -> str:
    low, high, least, name = PINKS
    if (low <= hue < high or hue >= 342) and lightness >= least:
        return name
    for start, stop, below, earth in EARTHS:
        if start <= hue < stop and lightness < below:
            return earth
    return next((name for bound, name in HUES if hue < bound), "rose")


def difference_words(standard: ArrayLike, sample: ArrayLike) -> str:
    """Return how a sample differs from its standard, the larger parts first: "a hair lighter, duller, redder"."""
    one, two = np.asarray(standard, float), np.asarray(sample, float)
    metric = ciede2000_metric((one + two) / 2)
    lightness, chroma, hue = (float(part) for part in delta_parts(one, two))
    mean_chroma = float(lch_from_lab((one + two) / 2)[1])
    parts = [(abs(lightness) * metric[0, 0], "lighter" if lightness > 0 else "darker")]
    if mean_chroma < GREY_CHROMA:
        a, b = (two - one)[1:].tolist()
        parts += [(abs(a) * _length(metric, 1), "redder" if a > 0 else "greener")]
        parts += [(abs(b) * _length(metric, 2), "yellower" if b > 0 else "bluer")]
    else:
        along, across = _chroma_and_hue_scale(mean_chroma)
        parts += [(abs(chroma) * along, "brighter" if chroma > 0 else "duller")]
        parts += [(abs(hue) * across, _hue_shift_word(one, turns_up=hue > 0))]
    said = [_sized(size, word) for size, word in sorted(parts, reverse=True) if size >= NOTHING_TO_SEE]
    return ", ".join(said) or "no difference to see"


def _length(metric: np.ndarray, axis: int) -> float:
    return float(np.linalg.norm(metric[:, axis]))


def _chroma_and_hue_scale(chroma: float) -> tuple[float, float]:
    """Return what a unit of chroma and of hue difference weighs: CIEDE2000's S_C and S_H with T = 1."""
    return 1 / (1 + 0.045 * chroma), 1 / (1 + 0.015 * chroma)


def _hue_shift_word(standard: np.ndarray, *, turns_up: bool) -> str:
    """Return the elementary colour towards which the hue moves: red 0°, yellow 90°, green 180°, blue 270°."""
    quarter = int(lch_from_lab(standard)[2] // 90) % 4
    ahead, behind = ("yellower", "greener", "bluer", "redder"), ("redder", "yellower", "greener", "bluer")
    return (ahead if turns_up else behind)[quarter]


def _sized(size: float, word: str) -> str:
    return next((name for bound, name in SIZES if size < bound), "clearly ") + word


def visibility_words(difference_cmc21: float) -> str:
    """Return what a CMC(2:1) difference means for skeins (common practice, no source)."""
    bounds = (
        (0.5, "not visible"),
        (1.0, "one lot: seen side by side, not alone"),
        (2.0, "alternate the skeins every two rows"),
    )
    return next((words for bound, words in bounds if difference_cmc21 < bound), "another lot: keep apart")
