"""A photo with the skeins outlined and numbered, in neutral black and white, as PNG."""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np

from dyewright.core.colour import srgb_from_linear
from dyewright.photo.load import LoadedPhoto

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

__all__ = ["Outline", "drawn", "without_outlines"]

Outline = tuple[tuple[float, float], ...]

_SIDE = 1600  # pixels of the longer side: enough for a page and a print
_BLACK, _WHITE = (20, 20, 20), (255, 255, 255)


def drawn(photo: LoadedPhoto, outlines: Sequence[tuple[str, Outline]], others: Sequence[Outline] = ()) -> bytes:
    """Return a PNG of a photo with labelled outlines (skeins) and plain ones (the chart), given in original pixels."""
    from PIL import ImageDraw

    image, scale = _picture(photo)
    pen = ImageDraw.Draw(image)
    width = max(2, round(max(image.size) / 400))
    for outline in others:
        _frame(pen, _scaled(outline, scale), width)
    for label, outline in outlines:
        points = _scaled(outline, scale)
        _frame(pen, points, width)
        _tag(pen, label, points, image.size)
    answer = BytesIO()
    image.save(answer, format="PNG")
    return answer.getvalue()


def without_outlines(photo: LoadedPhoto) -> bytes:
    """Return a JPEG of a photo as a page shows it: upright, in sRGB, at most 1600 pixels a side."""
    image, _ = _picture(photo)
    answer = BytesIO()
    image.save(answer, format="JPEG", quality=88)
    return answer.getvalue()


def _picture(photo: LoadedPhoto) -> tuple["Image", float]:
    from PIL import Image as Images

    step = max(1, int(np.ceil(max(photo.linear.shape[:2]) / _SIDE)))
    rows, columns = (size // step * step for size in photo.linear.shape[:2])
    blocks = photo.linear[:rows, :columns].reshape(rows // step, step, columns // step, step, 3).mean(axis=(1, 3))
    bright = 1.0 if not photo.is_linear_file else max(float(np.percentile(blocks, 99.5)), 1e-6)
    codes = 255 * srgb_from_linear(np.clip(blocks / bright, 0, 1)) + 0.5
    return Images.fromarray(codes.astype(np.uint8)), 1 / (step * photo.reduction)


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
    x = sum(px for px, _ in points) / len(points)
    y = max(min(py for _, py in points) - font_px * 0.75, font_px * 0.75)
    half_wide, half_high = max(font_px * 0.75, pen.textlength(label, font=font) / 2 + 6), font_px * 0.75
    pen.rounded_rectangle((x - half_wide, y - half_high, x + half_wide, y + half_high), font_px * 0.25, fill=_BLACK)
    pen.text((x, y), label, fill=_WHITE, font=font, anchor="mm")
