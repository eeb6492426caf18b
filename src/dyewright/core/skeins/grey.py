"""Colours through a grey card or white paper: exposure and white are set by it, the rest is the camera's own.

The card says nothing of the camera's tone curve or of how it tells colours apart. The file is taken as sRGB says, and
the doubt is that of simulated phones and raw files under seven lamps (measured, docs/science/judging.md).

Sources: [1] the photographer's grey card of 18 % (common practice, no source). [2] office paper, a typical sheet
(estimate): with optical brightener it is bluer than this by a window, without it yellower.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.lab import bradford_matrix, srgb_white, srgb_xyz_matrix, xyz_from_lab
from dyewright.core.model import Lab
from dyewright.core.skeins.calibrate import Calibration, ColourDoubt

__all__ = ["GREY_CARD", "WHITE_PAPER", "PlainSurface", "grey_calibration"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PlainSurface:
    """A plain surface of roughly known colour: its Lab (D65, 10°), and the doubt of that and of what is read by it."""

    lab: Lab
    sd_lab: Lab
    rendered: ColourDoubt
    linear: ColourDoubt


# Half of what holds 95 of 100 colours of four sets of reflectances, at grey and for each unit of chroma (measured). A
# picture bent by an unknown tone curve is surer near the surface's own lightness: the card's lies in the middle.
_LINEAR = ColourDoubt(np.array([1.5, 5.5, 4.5]) / 1.96, np.array([0.12, 0.27, 0.33]) / 1.96)
GREY_CARD = PlainSurface(
    lab=(49.5, 0.0, 0.0),  # [1] Y = 18
    sd_lab=(1.5, 0.7, 0.7),  # estimate: cards of 16 to 20 %
    rendered=ColourDoubt(np.array([5.5, 5.5, 4.5]) / 1.96, np.array([0.05, 0.32, 0.37]) / 1.96),
    linear=_LINEAR,
)
WHITE_PAPER = PlainSurface(
    lab=(94.0, 0.5, -1.0),  # [2]
    sd_lab=(1.5, 0.8, 2.5),  # estimate
    rendered=ColourDoubt(np.array([8.7, 5.5, 4.5]) / 1.96, np.array([0.03, 0.32, 0.42]) / 1.96),
    linear=_LINEAR,
)


def grey_calibration(rgb: ArrayLike, surface: PlainSurface, white: ArrayLike, *, is_linear: bool) -> Calibration:
    """Return the calibration that makes a surface in the photo come out as what it is.

    Args:
        rgb: its linear light in the file, shape (3,), above 0.
        surface: what it is.
        white: the white point of the colours wanted, Y = 100.
        is_linear: the camera's tone curve is known to be straight (raw, linear file).
    """
    white = np.asarray(white, float)
    to_white = bradford_matrix(srgb_white(), white) @ srgb_xyz_matrix()
    wanted = np.linalg.solve(to_white, xyz_from_lab(surface.lab, white))
    doubt = surface.linear if is_linear else surface.rendered
    at_grey = np.hypot(doubt.at_grey, surface.sd_lab)
    return Calibration(
        tone=None,
        matrix=to_white * (wanted / np.asarray(rgb, float)),
        white=white,
        doubt=ColourDoubt(at_grey, doubt.per_chroma),
    )
