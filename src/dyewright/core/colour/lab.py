"""CIELAB both ways, adaptation between whites, and colours for a screen.

Sources: [1] CIE 015:2018, section 8.2 (CIELAB with its straight part near black). [2] IEC 61966-2-1:1999 (sRGB:
primaries, white, transfer curve). [3] K. M. Lam, Metamerism and colour constancy, thesis, University of Bradford
(1985): the cone matrix, as in CIE 160:2004.
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.errors import InputError

__all__ = [
    "adapt_bradford",
    "bradford_matrix",
    "display_hex",
    "display_rgb",
    "lab_from_display_hex",
    "lab_from_lch",
    "lab_from_xyz",
    "lch_from_lab",
    "linear_from_srgb",
    "srgb_from_linear",
    "srgb_white",
    "srgb_xyz_matrix",
    "xyz_from_lab",
]

Array = NDArray[np.float64]

EPSILON = (6 / 29) ** 3  # [1]: below this share of the white the cube root gives way to a straight line
SLOPE = (29 / 6) ** 2 / 3  # [1]: of that line
OFFSET = 4 / 29  # [1]

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # [2], x and y of red, green and blue
SRGB_WHITE_XY = (0.3127, 0.3290)  # [2], D65 for the 2° observer

BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])  # [3]

GAMUT_STEPS = 20  # halvings of the chroma range: exact to a millionth of it


def lab_from_xyz(xyz: ArrayLike, white: ArrayLike) -> Array:
    """Return L*, a*, b* [1] of tristimulus values against a white point of the same scale, last axis of 3."""
    ratio = np.asarray(xyz, float) / np.asarray(white, float)
    f = np.where(ratio > EPSILON, np.cbrt(ratio), SLOPE * ratio + OFFSET)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def xyz_from_lab(lab: ArrayLike, white: ArrayLike) -> Array:
    """Return the tristimulus values of L*, a*, b* [1] in the scale of the white point, last axis of 3."""
    lab = np.asarray(lab, float)
    y = (lab[..., 0] + 16) / 116
    f = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f > 6 / 29, f**3, (f - OFFSET) / SLOPE)
    answer: Array = ratio * np.asarray(white, float)
    return answer


def lch_from_lab(lab: ArrayLike) -> Array:
    """Return L*, chroma C*ab and hue angle in degrees from 0 to 360, last axis of 3."""
    lab = np.asarray(lab, float)
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360
    return np.stack([lab[..., 0], np.hypot(lab[..., 1], lab[..., 2]), hue], axis=-1)


def lab_from_lch(lch: ArrayLike) -> Array:
    """Return L*, a*, b* of L*, chroma and hue angle in degrees, last axis of 3."""
    lch = np.asarray(lch, float)
    hue = np.radians(lch[..., 2])
    return np.stack([lch[..., 0], lch[..., 1] * np.cos(hue), lch[..., 1] * np.sin(hue)], axis=-1)


def bradford_matrix(white_from: ArrayLike, white_to: ArrayLike) -> Array:
    """Return the 3 by 3 matrix that takes XYZ under one white to XYZ that look alike under another [3]."""
    cones_from, cones_to = BRADFORD @ np.asarray(white_from, float), BRADFORD @ np.asarray(white_to, float)
    matrix: Array = np.linalg.inv(BRADFORD) @ np.diag(cones_to / cones_from) @ BRADFORD
    return matrix


def adapt_bradford(xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Array:
    """Return XYZ under `white_to` that look as `xyz` do under `white_from` [3]."""
    adapted: Array = np.asarray(xyz, float) @ bradford_matrix(white_from, white_to).T
    return adapted


@cache
def srgb_xyz_matrix() -> Array:
    """Return the matrix from linear sRGB (0 to 1) to XYZ (Y = 100 for white) for the 2° observer, from [2]."""
    primaries = np.array([[x, y, 1 - x - y] for x, y in SRGB_PRIMARIES]).T
    matrix = primaries * np.linalg.solve(primaries, srgb_white())
    matrix.flags.writeable = False
    return matrix


@cache
def srgb_white() -> Array:
    """Return the white point of sRGB [2], Y = 100."""
    x, y = SRGB_WHITE_XY
    white = 100 * np.array([x / y, 1, (1 - x - y) / y])
    white.flags.writeable = False
    return white


def srgb_from_linear(linear: ArrayLike) -> Array:
    """Return sRGB code values of linear light [2], both from 0 to 1."""
    linear = np.asarray(linear, float)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055)


def linear_from_srgb(code: ArrayLike) -> Array:
    """Return linear light of sRGB code values [2], both from 0 to 1."""
    code = np.asarray(code, float)
    return np.where(code <= 0.04045, code / 12.92, ((np.maximum(code, 0.04045) + 0.055) / 1.055) ** 2.4)


def display_rgb(lab: ArrayLike, white: ArrayLike) -> tuple[Array, NDArray[np.bool_]]:
    """Return sRGB code values (0 to 1) that show a Lab on a screen, and where the screen cannot show it.

    The Lab's own white (D65, 10°, as a rule) is adapted to the screen's white [3]; the numbers of the 10° observer then
    stand for the screen's 2° ones, which changes the look of a few colours by 1 to 2 ΔE00 (estimate). A colour outside
    the screen's range keeps lightness and hue and loses chroma.

    Args:
        lab: L*, a*, b*, last axis of 3.
        white: the white point that the Lab refers to, Y = 100.
    """
    lab = np.asarray(lab, float)
    linear = _linear_display(lab, white)
    is_outside = np.any((linear < -1e-6) | (linear > 1 + 1e-6), axis=-1)
    if np.any(is_outside):
        linear = np.where(is_outside[..., None], _linear_display(_less_chroma(lab, white), white), linear)
    return srgb_from_linear(np.clip(linear, 0, 1)), is_outside


def _linear_display(lab: Array, white: ArrayLike) -> Array:
    xyz = adapt_bradford(xyz_from_lab(lab, white), white, srgb_white())
    linear: Array = xyz @ np.linalg.inv(srgb_xyz_matrix()).T
    return linear


def _less_chroma(lab: Array, white: ArrayLike) -> Array:
    """Return Lab with the largest chroma that a screen shows at the same lightness and hue, by halving."""
    grey = lab * np.array([1.0, 0.0, 0.0])
    low, high = np.zeros(lab.shape[:-1]), np.ones(lab.shape[:-1])
    for _ in range(GAMUT_STEPS):
        middle = (low + high) / 2
        linear = _linear_display(grey + (lab - grey) * middle[..., None], white)
        fits = np.all((linear >= 0) & (linear <= 1), axis=-1)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    duller: Array = grey + (lab - grey) * low[..., None]
    return duller


def display_hex(lab: ArrayLike, white: ArrayLike) -> str:
    """Return a Lab as "#rrggbb" for a screen; see `display_rgb` for what it stands for."""
    rgb, _ = display_rgb(lab, white)
    return "#" + "".join(f"{round(255 * value):02x}" for value in rgb.tolist())


def lab_from_display_hex(text: str, white: ArrayLike) -> Array:
    """Return the Lab, against `white`, of a colour written "#rrggbb": the way back from `display_hex`.

    Raises:
        InputError: the text is not a number sign and six hexadecimal digits.
    """
    digits = text.strip().removeprefix("#")
    if len(digits) != 6 or any(digit not in "0123456789abcdefABCDEF" for digit in digits):
        raise InputError(
            f"the colour {text!r} is not of the form #rrggbb, six digits 0 to 9 and a to f", field="target", value=text
        )
    code = np.array([int(digits[place : place + 2], 16) for place in (0, 2, 4)]) / 255
    xyz = srgb_xyz_matrix() @ linear_from_srgb(code)
    return lab_from_xyz(adapt_bradford(xyz, srgb_white(), white), white)
