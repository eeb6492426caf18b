"""A picture of yarn as its colours were measured: cut out, brought to size in linear light, in sRGB with its profile.

Sources: [1] IEC 61966-2-1 (sRGB). [2] ICC.1:2022: an embedded profile says what the numbers mean.
The file holds the picture and its profile only: no camera, no day, no place.
"""

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import Fitted, fitted_to_screen, srgb_from_linear
from dyewright.photo.load import LoadedPhoto

__all__ = ["Crop", "Cut", "cut_out", "jpeg_of", "round_crop", "shown"]

Floats = NDArray[np.float64]
Light = Callable[[Floats, Floats, Floats], Floats]
"""From linear light as stored, shape (rows, columns, 3), and the places x and y of its pixels, to linear sRGB."""

JPEG_QUALITY = 92  # steps stay below what is seen; ours
STRIP_ROWS = 128  # of the picture at a time, so that what is between stays small
MARGIN_FRAC = 0.06  # of ground round what is cut out; ours


@dataclass(frozen=True)
class Crop:
    """A rectangle of the upright original photo, in its pixels."""

    left_px: float
    top_px: float
    right_px: float
    bottom_px: float


@dataclass(frozen=True)
class Cut:
    """A part of a photo at the size wanted: linear light as stored, and where its pixels lie on the original."""

    rgb: Floats
    x_px: Floats
    y_px: Floats


def round_crop(photo: LoadedPhoto, sides: list[tuple[float, float, float, float]], *, is_square: bool = False) -> Crop:
    """Return what is cut out round shapes given by their left, top, right and bottom; the whole photo without any.

    A square one grows about its middle as far as the photo goes.
    """
    width, height = photo.width_px, photo.height_px
    if sides:
        left, top = (min(side[i] for side in sides) for i in (0, 1))
        right, bottom = (max(side[i] for side in sides) for i in (2, 3))
        margin = MARGIN_FRAC * max(right - left, bottom - top)
        left, top, right, bottom = left - margin, top - margin, right + margin, bottom + margin
    else:
        left, top, right, bottom = 0.0, 0.0, float(width), float(height)
    if is_square:
        side = min(max(right - left, bottom - top), width, height) if sides else min(width, height)
        x, y = (left + right) / 2, (top + bottom) / 2
        x, y = min(max(x, side / 2), width - side / 2), min(max(y, side / 2), height - side / 2)
        left, top, right, bottom = x - side / 2, y - side / 2, x + side / 2, y + side / 2
    return Crop(max(left, 0.0), max(top, 0.0), min(right, width), min(bottom, height))


def cut_out(photo: LoadedPhoto, crop: Crop, longest_px: int) -> Cut:
    """Return a part of a photo, no side longer than `longest_px`, averaged in linear light; never enlarged."""
    from PIL import Image

    n = photo.reduction
    top, left = int(crop.top_px / n), int(crop.left_px / n)
    bottom, right = max(int(np.ceil(crop.bottom_px / n)), top + 1), max(int(np.ceil(crop.right_px / n)), left + 1)
    part = photo.linear[top:bottom, left:right]
    shrink = min(1.0, longest_px / max(part.shape[:2]))
    rows, columns = (max(1, round(size * shrink)) for size in part.shape[:2])
    channels = [Image.fromarray(np.ascontiguousarray(part[..., i], np.float32)) for i in range(3)]
    small = [np.asarray(one.resize((columns, rows), Image.Resampling.BOX), float) for one in channels]
    x = (left + (np.arange(columns) + 0.5) * part.shape[1] / columns) * n
    y = (top + (np.arange(rows) + 0.5) * part.shape[0] / rows) * n
    return Cut(np.stack(small, axis=-1), x, y)


def shown(cut: Cut, light: Light) -> Fitted:
    """Return what a screen shows of a part of a photo, as `light` turns it into linear sRGB, strip by strip."""
    strips = [slice(top, top + STRIP_ROWS) for top in range(0, len(cut.y_px), STRIP_ROWS)]
    fitted = [fitted_to_screen(light(cut.rgb[rows], cut.x_px[None, :], cut.y_px[rows, None])) for rows in strips]
    return Fitted(
        np.concatenate([one.linear for one in fitted]),
        np.concatenate([one.is_outside for one in fitted]),
        np.concatenate([one.is_too_bright for one in fitted]),
    )


def jpeg_of(linear: Floats) -> bytes:
    """Return a JPEG of linear sRGB light with the profile of sRGB, full colour resolution, and nothing else in it."""
    from PIL import Image, ImageCms

    codes = (255 * srgb_from_linear(linear) + 0.5).astype(np.uint8)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    answer = BytesIO()
    Image.fromarray(codes).save(answer, format="JPEG", quality=JPEG_QUALITY, subsampling=0, icc_profile=profile)
    return answer.getvalue()
