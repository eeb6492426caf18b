"""Cloth and hanks drawn from their colours: stitches with the light on their strands, as PNG in sRGB.

All light is linear until the last step, so that a drawing seen from afar keeps the hue of its yarn. The full light of
a strand is the yarn's own colour, which is that of lit strands; between strands it falls off.

The shapes are ours: a stitch is a pair of slanting legs, each a rounded strand with its twist showing.
"""

from collections.abc import Sequence
from functools import cache
from io import BytesIO

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import srgb_from_linear

__all__ = ["cloth_png", "hank_png", "parts_png"]

Floats = NDArray[np.float64]

FINE = 4  # each pixel is drawn from this many times this many points
LEG_TILT = 1.05  # rows that a leg rises over half a stitch
LEG_WIDTH_FRAC = 0.62  # of a row that a leg is thick from its middle
SHADOW_FRAC = 0.2  # of full light that reaches the gaps between strands
TWIST_FRAC = 0.13  # by which light falls between the plies of a strand
PLIES_A_LEG = 3.0
HAIR_FRAC = 0.035  # by which strands differ in light from stitch to stitch, as real yarn does
STRAND_PX = 7
SWAY_PX = 320  # strands lie in waves this long


def cloth_png(linear: ArrayLike, *, stitch_px: int = 12, row_frac: float = 0.76) -> bytes:
    """Return a PNG of knitting, its ground transparent.

    Args:
        linear: linear sRGB of every stitch, first row (the lowest) first, shape (rows, stitches, 3).
        stitch_px: width of a stitch.
        row_frac: height of a row over the width of a stitch.
    """
    colours = np.maximum(np.asarray(linear, float)[::-1], 0)
    row_px = max(round(stitch_px * row_frac), 3)
    shades = _stitch_shades(stitch_px, row_px)
    rows, stitches = colours.shape[:2]
    colours = colours * _hair((rows, stitches))[..., None]
    light, cover = np.zeros((rows * row_px, stitches * stitch_px, 3)), np.zeros((rows * row_px, stitches * stitch_px))
    for offset, (shade, share) in shades.items():
        source, is_there = _shifted(colours, offset)
        light += _spread(source, row_px, stitch_px) * np.tile(shade, (rows, stitches))[..., None]
        cover += _spread(is_there[..., None], row_px, stitch_px)[..., 0] * np.tile(share, (rows, stitches))
    return _png(light, cover)


def _hair(shape: tuple[int, int]) -> Floats:
    """Return the light of each strand about 1; the same for the same cloth."""
    return 1 + HAIR_FRAC * np.random.default_rng(7).standard_normal(shape).clip(-2, 2)


def _shifted(colours: Floats, offset: int) -> tuple[Floats, Floats]:
    """Return the colours of the stitches `offset` rows below each, and 1 where there is one."""
    rows = np.arange(len(colours)) + offset
    is_there = (rows >= 0) & (rows < len(colours))
    source = colours[np.clip(rows, 0, len(colours) - 1)] * is_there[:, None, None]
    return source, np.broadcast_to(is_there[:, None], colours.shape[:2]).astype(float)


def _spread(values: Floats, row_px: int, stitch_px: int) -> Floats:
    return np.repeat(np.repeat(values, row_px, axis=0), stitch_px, axis=1)


@cache
def _stitch_shades(stitch_px: int, row_px: int) -> dict[int, tuple[Floats, Floats]]:
    """Return light and cover of one stitch's cell by the stitch rows they come from, counted downwards from its own."""
    y = (np.arange(row_px * FINE) + 0.5)[:, None] / (row_px * FINE)
    x = (np.arange(stitch_px * FINE) + 0.5)[None, :] / (stitch_px * FINE)
    side = np.abs(x - 0.5) * 2  # 0 in the middle of the stitch, 1 between two stitches
    best = np.zeros(np.broadcast(x, y).shape)
    whose = np.zeros(best.shape, int)
    for offset in (-1, 0, 1):
        light = _leg(y, side, offset)
        whose, best = np.where(light > best, offset, whose), np.maximum(light, best)
    blocks = (row_px, FINE, stitch_px, FINE)
    return {
        offset: (
            np.where(whose == offset, best, 0).reshape(blocks).mean(axis=(1, 3)),
            ((whose == offset) & (best > 0)).reshape(blocks).mean(axis=(1, 3)),
        )
        for offset in (-1, 0, 1)
    }


def _leg(y: Floats, side: Floats, offset: int) -> Floats:
    """Return the light on the legs of the stitch `offset` rows below, 0 where they are not.

    A leg rises from the foot in the middle of the stitch to its shoulder at the side; it is thickest half way.
    """
    middle = 0.5 + offset + LEG_TILT * (0.5 - _eased(side))
    bulge = np.sin(np.pi * np.clip(0.06 + 0.88 * side, 0, 1))
    half = LEG_WIDTH_FRAC * (0.62 + 0.38 * bulge)
    across = (y - middle) / half  # from -1, its upper edge, to 1, its lower
    height = np.sqrt(np.maximum(1 - across**2, 0)) * (0.2 + 0.8 * bulge**0.5)
    twist = 0.5 + 0.5 * np.cos(2 * np.pi * (PLIES_A_LEG * side + 0.5 * across))
    light = (SHADOW_FRAC + (1 - SHADOW_FRAC) * height) * (1 - TWIST_FRAC * twist) * (1 - 0.1 * across)
    return np.where(np.abs(across) < 1, np.clip(light, 0, 1), 0)


def _eased(side: Floats) -> Floats:
    """Return how far up a leg has come: steeper in the middle than at its ends."""
    return np.asarray(0.6 * side + 0.4 * (3 * side**2 - 2 * side**3))


def hank_png(linear: ArrayLike, *, width_px: int = 320, height_px: int = 480) -> bytes:
    """Return a PNG of a hank's visible half hanging down, strand beside strand.

    Args:
        linear: linear sRGB by place along the hank (from the top) and across it, shape (along, across, 3).
        width_px: width of the picture.
        height_px: its height.
    """
    colours = np.maximum(np.asarray(linear, float), 0)
    along, wide = colours.shape[:2]
    y, x = np.mgrid[0:height_px, 0:width_px]
    sway = 0.35 * STRAND_PX * np.sin(2 * np.pi * y / SWAY_PX + x / 60)
    strand = (x + sway) / STRAND_PX
    number = np.floor(strand).astype(int)
    across = 2 * (strand - number) - 1
    twist = 0.5 + 0.5 * np.cos(2 * np.pi * (y / (1.6 * STRAND_PX) + 0.5 * across + 0.37 * number))
    hair = 1 + HAIR_FRAC * np.random.default_rng(7).standard_normal(number.max() - number.min() + 1)
    light = SHADOW_FRAC + (1 - SHADOW_FRAC) * np.sqrt(1 - across**2)
    light = light * (1 - TWIST_FRAC * twist) * hair[number - number.min()]
    centre = np.clip((number + 0.5) * STRAND_PX / width_px, 0, 0.999)  # a strand keeps its colour across itself
    column = (centre * wide).astype(int)
    place = np.clip((y + 0.5) / height_px * along - 0.5, 0, along - 1)
    upper = np.floor(place).astype(int)
    lower, share = np.minimum(upper + 1, along - 1), (place - upper)[..., None]
    shown = colours[upper, column] * (1 - share) + colours[lower, column] * share
    return _png(shown * light[..., None], np.ones(light.shape))


def parts_png(
    x_px: ArrayLike, y_px: ArrayLike, linear: ArrayLike, outline: Sequence[tuple[float, float]], *, side_px: int = 480
) -> bytes:
    """Return a PNG of a skein's parts edge to edge inside its outline, each in its colour.

    Args:
        x_px: middles of the parts in the photo, shape (n,).
        y_px: middles of the parts in the photo, shape (n,).
        linear: linear sRGB of each part, shape (n, 3).
        outline: the skein's outline in the photo.
        side_px: the longer side of the picture.
    """
    from PIL import Image, ImageDraw
    from scipy.spatial import KDTree

    points = np.asarray(outline, float)
    corner, size = points.min(axis=0), np.ptp(points, axis=0)
    scale = side_px / max(float(size.max()), 1.0)
    width, height = (max(int(np.ceil(side * scale)), 1) for side in size)
    y, x = np.mgrid[0:height, 0:width]
    places = np.stack([x + 0.5, y + 0.5], axis=-1) / scale + corner
    _, nearest = KDTree(np.stack([np.asarray(x_px, float), np.asarray(y_px, float)], axis=-1)).query(places)
    mask = Image.new("L", (width, height))
    ImageDraw.Draw(mask).polygon([(float(px), float(py)) for px, py in (points - corner) * scale], fill=255)
    cover = np.asarray(mask, float) / 255
    return _png(np.asarray(linear, float)[nearest] * cover[..., None], cover)


def _png(light: Floats, cover: Floats) -> bytes:
    """Return linear light, weighed by how much of each pixel is covered, as a PNG with transparency."""
    from PIL import Image

    whole = light / np.maximum(cover, 1e-3)[..., None]
    codes = np.concatenate([srgb_from_linear(np.clip(whole, 0, 1)), np.clip(cover, 0, 1)[..., None]], axis=-1)
    answer = BytesIO()
    Image.fromarray((255 * codes + 0.5).astype(np.uint8)).save(answer, format="PNG", compress_level=3)
    return answer.getvalue()
