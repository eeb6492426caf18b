"""The colour of a skein: that of its lit strands, how sure it is, and how even the skein is.

Yarn is rough. Between the strands lies shadow, on them here and there a glint; the colour that an eye takes for the
skein's is that of the lit strands. They are picked by rank of luminance within each part of the skein. A pixel's rank
comes from its neighbours without itself, so that the noise of the pixel does not choose it: plain areas stay unbiased.

Source: the ranks are our own choice (estimate). On a cylinder lit from the front, the parts ranked 0.70 to 0.97 get
0.954 to 0.9996 of the full light by the cosine law, 0.986 on average: 0.3 of L* too dark at L* 50.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour.difference import delta_e00
from dyewright.core.colour.lab import lab_from_xyz
from dyewright.core.model import Evenness
from dyewright.errors import InputError

__all__ = ["SkeinReading", "read_skein"]

Floats = NDArray[np.float64]

LIT_RANKS = (0.70, 0.97)
RIM_FRAC = 0.08  # of the box at each side is not read: it may hold ground, ties and the skein's shaded flank
PARTS_A_SIDE = 6
LEAST_PART_PX = 6
LEAST_USABLE_FRAC = 0.3
# ΔE00 below which 95 % of the parts stay: from the practical ladder of visibility (common practice, no source).
RATINGS = ((1.0, "even"), (2.0, "slightly uneven"), (5.0, "uneven"))
MOST_UNEVEN = "very uneven, or many-coloured by intent"


@dataclass(frozen=True)
class SkeinReading:
    """A skein's colour from its parts; `sd_lab` is the standard error of `lab` from how the parts scatter."""

    lab: Floats
    sd_lab: Floats
    parts_lab: Floats
    evenness: Evenness
    left_out_frac: float


def read_skein(xyz: Floats, is_usable: NDArray[np.bool_], white: Floats, *, title: str = "the skein") -> SkeinReading:
    """Return the colour of the lit strands inside a box.

    Args:
        xyz: the box's pixels with light and tone curve taken out, Y = 100 for white, shape (rows, columns, 3).
        is_usable: False where a pixel is clipped, shape (rows, columns).
        white: the white point of xyz.
        title: what to call the skein in a message.

    Raises:
        InputError: the box is too small, or too much of it is clipped.
    """
    inner = _inner(xyz.shape[:2], title)
    xyz, is_usable = xyz[inner], is_usable[inner]
    if is_usable.mean() < LEAST_USABLE_FRAC:
        raise InputError(
            f"{title} is overexposed: {100 * (1 - is_usable.mean()):.0f} % of its pixels are clipped, the limit is "
            f"{100 * (1 - LEAST_USABLE_FRAC):.0f} %: photograph it again with less exposure",
            field="box",
            value=float(1 - is_usable.mean()),
            limit=1 - LEAST_USABLE_FRAC,
        )
    parts, kept = _parts(xyz, is_usable)
    parts_lab = lab_from_xyz(np.maximum(parts, 0), white)
    lab = np.median(parts_lab, axis=0)
    scatter = 1.4826 * np.median(np.abs(parts_lab - lab), axis=0)  # as a standard deviation, outliers apart
    away = float(np.percentile(delta_e00(lab, parts_lab), 95))
    return SkeinReading(
        lab=lab,
        sd_lab=1.2533 * scatter / np.sqrt(len(parts_lab)),  # the median's standard error: sqrt(pi/2) times the mean's
        parts_lab=parts_lab,
        evenness=Evenness(away, next((words for limit, words in RATINGS if away < limit), MOST_UNEVEN)),
        left_out_frac=1 - kept / is_usable.size,
    )


def _inner(shape: tuple[int, ...], title: str) -> tuple[slice, slice]:
    rows, columns = shape
    top, left = round(RIM_FRAC * rows), round(RIM_FRAC * columns)
    if min(rows - 2 * top, columns - 2 * left) < 2 * LEAST_PART_PX:
        raise InputError(
            f"the box of {title} covers {columns} × {rows} pixels of the working picture, at least "
            f"{3 * LEAST_PART_PX} a side are needed: draw it larger, or photograph the skein nearer",
            field="box",
            value=min(rows, columns),
            limit=3 * LEAST_PART_PX,
        )
    return slice(top, rows - top), slice(left, columns - left)


def _parts(xyz: Floats, is_usable: NDArray[np.bool_]) -> tuple[Floats, int]:
    """Return XYZ of the lit strands of each part, and how many pixels were read in all."""
    ranked = _neighbours_y(xyz[..., 1])
    answers, kept = [], 0
    for rows in _cuts(xyz.shape[0]):
        for columns in _cuts(xyz.shape[1]):
            usable = is_usable[rows, columns].ravel()
            if usable.mean() < LEAST_USABLE_FRAC:
                continue
            pixels = xyz[rows, columns].reshape(-1, 3)[usable]
            rank = ranked[rows, columns].ravel()[usable]
            low, high = np.quantile(rank, LIT_RANKS)
            lit = pixels[(rank >= low) & (rank <= high)]
            plain = lit[_is_no_glint(lit[:, 1])]
            answers.append(plain.mean(axis=0))
            kept += len(plain)
    return np.array(answers), kept


def _is_no_glint(luminance: Floats) -> NDArray[np.bool_]:
    """Return which pixels lie within three standard deviations of the median: glints and specks lie far off."""
    off = np.abs(luminance - np.median(luminance))
    return np.asarray(off <= np.maximum(3 * 1.4826 * np.median(off), 1e-3 * np.median(luminance)))


def _cuts(pixels: int) -> list[slice]:
    count = int(np.clip(pixels // LEAST_PART_PX, 1, PARTS_A_SIDE))
    edges = np.linspace(0, pixels, count + 1).round().astype(int)
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]


def _neighbours_y(luminance: Floats) -> Floats:
    """Return the mean luminance of the eight neighbours of each pixel."""
    padded = np.pad(luminance, 1, mode="reflect")
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    total = rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:]
    return np.asarray((total - luminance) / 8, float)
