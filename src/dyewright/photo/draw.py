"""A photo with skeins outlined and numbered and with what was not read hatched, in neutral black, white and grey."""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import srgb_from_linear
from dyewright.photo.chart import find_charts
from dyewright.photo.load import LoadedPhoto, quick_photo
from dyewright.photo.outlines import find_shapes

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

__all__ = ["Outline", "drawn", "first_overlay", "without_outlines"]

Outline = tuple[tuple[float, float], ...]

_SIDE = 1600  # pixels of the longer side: enough for a page and a print
_BLACK, _WHITE = (20, 20, 20), (255, 255, 255)
_CODES = np.round(255 * srgb_from_linear(np.linspace(0, 1, 65536))).astype(np.uint8)
_VEIL, _VEIL_FRAC = 128, 0.45  # a grey over what was not read: its colour still shows
_HATCH_PX = 9  # from line to line


def drawn(
    photo: LoadedPhoto,
    outlines: Sequence[tuple[str, Outline]],
    others: Sequence[Outline] = (),
    left_out: NDArray[np.bool_] | None = None,
) -> bytes:
    """Return a PNG of a photo with labelled outlines (skeins), plain ones (the chart), and what was not read.

    Args:
        photo: the picture.
        outlines: labels with outlines, in original pixels.
        others: outlines without a label, in original pixels.
        left_out: pixels that were not read (clipped, shadow, glint), of the whole picture at any size.
    """
    image, scale = _picture(photo, left_out)
    _draw(image, scale, outlines, others)
    answer = BytesIO()
    image.save(answer, format="PNG", compress_level=1)
    return answer.getvalue()


def first_overlay(source: bytes) -> bytes:
    """Return a JPEG of a photo with what looks like skeins and a chart outlined, sooner than any colour is read.

    Raises:
        InputError: as `load_photo`.
    """
    photo = quick_photo(source)
    corners = next(iter(find_charts(photo)), None)
    image, scale = _picture(photo)
    shapes = [(str(number), shape.outline) for number, shape in enumerate(find_shapes(photo, corners), start=1)]
    _draw(image, scale, shapes, [] if corners is None else [tuple((float(x), float(y)) for x, y in corners)])
    return _jpeg(image)


def without_outlines(photo: LoadedPhoto) -> bytes:
    """Return a JPEG of a photo as a page shows it: upright, in sRGB, at most 1600 pixels a side."""
    image, _ = _picture(photo)
    return _jpeg(image)


def _jpeg(image: "Image") -> bytes:
    answer = BytesIO()
    image.save(answer, format="JPEG", quality=88)
    return answer.getvalue()


def _picture(photo: LoadedPhoto, left_out: NDArray[np.bool_] | None = None) -> tuple["Image", float]:
    """Return a photo in sRGB, veiled and hatched where it was not read, and its pixels to one of the original."""
    import cv2
    from PIL import Image as Images

    rows, columns = photo.linear.shape[:2]
    scale = min(1.0, _SIDE / max(rows, columns))
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    light = cv2.resize(photo.linear, size, interpolation=cv2.INTER_AREA)
    bright = 1.0 if not photo.is_linear_file else max(float(np.percentile(light, 99.5)), 1e-6)
    codes = _CODES[(np.clip(light / bright, 0, 1) * 65535 + 0.5).astype(np.uint16)]
    if left_out is not None:
        share = cv2.resize(left_out.astype(np.uint8) * 255, size, interpolation=cv2.INTER_AREA)
        codes = _hatched(codes, share > 127)
    return Images.fromarray(codes), size[0] / (columns * photo.reduction)


def _hatched(codes: NDArray[np.uint8], is_left_out: NDArray[Any]) -> NDArray[np.uint8]:
    """Return a picture with a grey veil and slanting lines, black beside white, where pixels were left out."""
    veiled = codes.copy()
    veiled[is_left_out] = (_VEIL_FRAC * _VEIL + (1 - _VEIL_FRAC) * codes[is_left_out]).astype(np.uint8)
    down, across = np.indices(is_left_out.shape)
    line = (down + across) % _HATCH_PX
    veiled[is_left_out & (line == 0)] = _WHITE
    veiled[is_left_out & (line == 1)] = _BLACK
    return veiled


def _draw(image: "Image", scale: float, outlines: Sequence[tuple[str, Outline]], others: Sequence[Outline]) -> None:
    from PIL import ImageDraw

    pen = ImageDraw.Draw(image)
    width = max(2, round(max(image.size) / 400))
    for outline in others:
        _frame(pen, _scaled(outline, scale), width)
    for label, outline in outlines:
        points = _scaled(outline, scale)
        _frame(pen, points, width)
        _tag(pen, label, points, image.size)


def _scaled(outline: Outline, scale: float) -> list[tuple[float, float]]:
    return [(x * scale, y * scale) for x, y in outline]


def _frame(pen: "ImageDraw", points: list[tuple[float, float]], width: int) -> None:
    closed = [*points, points[0]]
    pen.line(closed, fill=_BLACK, width=3 * width, joint="curve")
    pen.line(closed, fill=_WHITE, width=width, joint="curve")


def _tag(pen: "ImageDraw", label: str, points: list[tuple[float, float]], size: tuple[int, int]) -> None:
    """Write a label in white on black at the top of an outline."""
    from PIL import ImageFont

    font_px = max(18, round(max(size) / 32))
    font = ImageFont.load_default(font_px)
    x = (min(px for px, _ in points) + max(px for px, _ in points)) / 2
    y = max(min(py for _, py in points) - font_px * 0.75, font_px * 0.75)
    half_wide, half_high = max(font_px * 0.75, pen.textlength(label, font=font) / 2 + 6), font_px * 0.75
    pen.rounded_rectangle((x - half_wide, y - half_high, x + half_wide, y + half_high), font_px * 0.25, fill=_BLACK)
    pen.text((x, y), label, fill=_WHITE, font=font, anchor="mm")
