"""The colour of a skein: that of its lit strands, how sure it is, and the grid of parts that its evenness is told from.

Yarn is rough. Between the strands lies shadow, on them here and there a glint; the colour that an eye takes for the
skein's is that of the lit strands. They are picked by rank of luminance within each part of the skein. A pixel's rank
comes from its neighbours without itself, so that the noise of the pixel does not choose it: plain areas stay unbiased.

A hank is round and folded, and parts of it turn away from the light: the skein's colour is that of the parts that face
it, again by rank; the evenness is told from all parts inside the rim.

Sources: [1] the ranks are our own choice (estimate). On a cylinder lit from the front, the parts ranked 0.70 to 0.97
get 0.954 to 0.9996 of the full light by the cosine law, 0.986 on average: 0.3 of L* too dark at L* 50.
[2] H. R. Künsch, Ann. Stat. 17 (1989) 1217-1241: neighbouring parts are alike, so that the error of their mean is told
from stretches of the skein, not from parts. [3] J. Bigun, G. H. Granlund, Optimal orientation detection of linear
symmetry, Proc. 1st Int. Conf. Computer Vision (1987) 433-438: the structure tensor, which tells how strands run.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour.difference import delta_e00
from dyewright.core.colour.lab import lab_from_xyz
from dyewright.core.model import Evenness, LeftOut
from dyewright.core.skeins.evenness import evenness
from dyewright.core.skeins.inside import depth_inside
from dyewright.core.skeins.light import log_light_slopes
from dyewright.core.skeins.parts import PartGrid
from dyewright.errors import InputError

__all__ = ["SkeinPixels", "SkeinReading", "read_skein"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Scalar = TypeVar("Scalar", bound=np.generic)

LIT_RANKS = (0.70, 0.97)  # [1]
RIM_DEPTH_FRAC = 0.2  # of the depth inside an outline: not read, it may hold ground, ties and the shaded flank; ours
FACING_RANKS = (0.5, 0.9)  # of the parts by lightness: a hank is round and folded, these face the light; ours
LONGEST_PARTS = 32  # parts along the longer side: a tie mark is a thirtieth of a hank; ours
LEAST_PART_PX = 6
LEAST_SIDE_PARTS = 3
LEAST_USABLE_FRAC = 0.3
LEAST_PART_FRAC = 0.35  # of a part inside the rim and readable, for the part to count; ours
STRETCHES = 8  # along the skein: the error of its colour is how these differ [2]
FOREIGN_TIMES = 5.0  # the median deviation: a tie, a label; ours
MOST_FOREIGN_FRAC = 0.25  # of a skein, that labels and ties cover; ours
MOST_COVERED_FRAC = 0.03  # of a part, for it to tell of evenness: next to a tie lie its blur and its shade; ours
LEAST_FOREIGN, LEAST_FOREIGN_DE00 = 0.02, 4.0  # of chromaticity and of a part's colour: less is never foreign; ours
TEXTURE_FRAC = 0.008  # of light by which the lit strands of equal skeins differ through folds and twist (estimate)
SOME_PIXELS = 20_000  # are enough for a median; ours
NOISE_PIXELS = 4  # (estimate)
STRANDS_SHOWN = 0.15  # coherence of the structure tensor [3] above which a direction of strands is told; ours


@dataclass(frozen=True)
class SkeinPixels:
    """What a skein is read from: an upright cut of the photo.

    Attributes:
        xyz: light and tone curve taken out, Y = 100 for white, shape (rows, columns, 3).
        is_inside: inside the outline, shape (rows, columns).
        is_unclipped: False where a channel was at its end, shape (rows, columns).
        x_px: where the columns lie in the photo, shape (columns,).
        y_px: where the rows lie in it, shape (rows,).
    """

    xyz: NDArray[np.floating]
    is_inside: Bools
    is_unclipped: Bools
    x_px: Floats
    y_px: Floats


@dataclass(frozen=True)
class SkeinReading:
    """A skein's colour from the middle of it; `sd_lab` is its standard error from how stretches of the skein differ.

    `is_lit` are the pixels read, of the cut that was given.
    """

    lab: Floats
    sd_lab: Floats
    grid: PartGrid
    evenness: Evenness
    left_out: LeftOut
    is_lit: Bools
    warnings: tuple[str, ...] = ()

    @property
    def left_out_frac(self) -> float:
        """The share of pixels inside the rim that were not read."""
        return self.left_out.shadow_frac + self.left_out.glint_frac + self.left_out.clipped_frac


@dataclass(frozen=True)
class _Blocks:
    """Pixels cut into parts, shape (rows, columns, pixels of a part, …); `is_open` are those that can be read."""

    xyz: NDArray[np.floating]
    rank: NDArray[np.floating]
    is_open: Bools


def read_skein(pixels: SkeinPixels, white: ArrayLike, *, title: str = "the skein") -> SkeinReading:
    """Return the colour of the lit strands inside an outline.

    Args:
        pixels: the cut of the photo round it.
        white: the white point of its XYZ.
        title: what to call the skein in a message.

    Raises:
        InputError: the outline is too small, or too much of what lies in it is clipped.
    """
    inner = depth_inside(pixels.is_inside) > RIM_DEPTH_FRAC
    side = _part_side(inner, title)
    _check_clipped(inner, pixels.is_unclipped, title)
    is_open = _own_colour(pixels.xyz, inner & pixels.is_unclipped)
    blocks = _Blocks(_cut(pixels.xyz, side), _cut(_neighbours_y(pixels.xyz[..., 1]), side), _cut(is_open, side))
    is_read = blocks.is_open.mean(axis=-1) >= LEAST_PART_FRAC
    lit = _lit(blocks) & is_read[..., None]
    count = np.maximum(lit.sum(axis=-1), 1)
    means = np.einsum("rcp,rcpk->rck", lit, blocks.xyz) / count[..., None]
    lab = np.where(is_read[..., None], lab_from_xyz(np.maximum(means, 0), np.asarray(white, float)), np.nan)
    grid = PartGrid(
        lab=lab,
        sd_lab=_noise_sd_lab(blocks, lit, means, lab, is_read),
        x_px=_middles(pixels.x_px[None, :], blocks.is_open, side, pixels.xyz.shape[:2]),
        y_px=_middles(pixels.y_px[:, None], blocks.is_open, side, pixels.xyz.shape[:2]),
        is_read=is_read,
        strands_deg=_strands_deg(pixels.xyz[..., 1], inner),
        is_covered=_cut(inner & pixels.is_unclipped & ~is_open, side).mean(axis=-1) > MOST_COVERED_FRAC,
    )
    colour, sd = _colour(grid)
    is_lit = _joined(lit, pixels.is_inside.shape, side)
    return SkeinReading(colour, sd, grid, evenness(grid), _left_out(is_lit, pixels, inner), is_lit)


def _part_side(inner: Bools, title: str) -> int:
    """Return how many pixels a part is wide and high."""
    rows, columns = (np.flatnonzero(inner.any(axis=axis)) for axis in (1, 0))
    sides = [int(np.ptp(found)) + 1 if len(found) else 0 for found in (rows, columns)]
    if min(sides) < 2 * LEAST_PART_PX:
        raise InputError(
            f"the outline of {title} covers {inner.shape[1]} × {inner.shape[0]} pixels of the working picture, "
            f"{sides[1]} × {sides[0]} of them inside its rim; at least {2 * LEAST_PART_PX} a side are needed: draw it "
            "larger, or photograph the skein nearer",
            field="box",
            value=min(sides),
            limit=2 * LEAST_PART_PX,
        )
    finest = min(sides) // LEAST_SIDE_PARTS
    return int(np.clip(max(sides) // LONGEST_PARTS, min(LEAST_PART_PX, finest), finest))


def _check_clipped(inner: Bools, is_unclipped: Bools, title: str) -> None:
    usable = float(is_unclipped[inner].mean())
    if usable < LEAST_USABLE_FRAC:
        raise InputError(
            f"{title} is overexposed: {100 * (1 - usable):.0f} % of its pixels are clipped, the limit is "
            f"{100 * (1 - LEAST_USABLE_FRAC):.0f} %: photograph it again with less exposure",
            field="box",
            value=1 - usable,
            limit=1 - LEAST_USABLE_FRAC,
        )


def _cut(values: NDArray[Scalar], side: int) -> NDArray[Scalar]:
    """Return pixels by parts, shape (rows, columns, side², …); what is over at the edges is left away evenly."""
    rows, columns = values.shape[0] // side, values.shape[1] // side
    top, left = (values.shape[0] - rows * side) // 2, (values.shape[1] - columns * side) // 2
    cut = values[top : top + rows * side, left : left + columns * side]
    parts = cut.reshape(rows, side, columns, side, *values.shape[2:]).swapaxes(1, 2)
    return parts.reshape(rows, columns, side * side, *values.shape[2:])


def _joined(parts: Bools, shape: tuple[int, ...], side: int) -> Bools:
    """Return a mask by parts as a picture again, False where no part reaches."""
    rows, columns = parts.shape[0] * side, parts.shape[1] * side
    top, left = (shape[0] - rows) // 2, (shape[1] - columns) // 2
    whole = np.zeros(shape, bool)
    cut = parts.reshape(*parts.shape[:2], side, side).swapaxes(1, 2).reshape(rows, columns)
    whole[top : top + rows, left : left + columns] = cut
    return whole


def _lit(blocks: _Blocks) -> Bools:
    """Return the pixels of lit strands: by rank in their part, without glints and specks, which lie far off."""
    low, high = (_ranked(blocks.rank, blocks.is_open, share) for share in LIT_RANKS)
    lit = blocks.is_open & (blocks.rank >= low) & (blocks.rank <= high)
    luminance = blocks.xyz[..., 1]
    middle = _ranked(luminance, lit, 0.5)
    off = np.abs(luminance - middle)
    return np.asarray(lit & (off <= np.maximum(3 * 1.4826 * _ranked(off, lit, 0.5), 1e-3 * middle)))


def _ranked(values: NDArray[np.floating], chosen: Bools, share: float) -> NDArray[np.floating]:
    """Return the value that this share of the chosen pixels of each part lie below, last axis of 1."""
    ordered = np.sort(np.where(chosen, values, np.inf), axis=-1)
    place = np.floor(share * np.maximum(chosen.sum(axis=-1, keepdims=True) - 1, 0)).astype(int)
    return np.where(chosen.any(axis=-1, keepdims=True), np.take_along_axis(ordered, place, axis=-1), 0)


def _noise_sd_lab(blocks: _Blocks, lit: Bools, means: Floats, lab: Floats, is_read: Bools) -> Floats:
    """Return the standard error of a part's colour through the scatter of its lit pixels, the median over the parts.

    Neighbouring pixels share their noise (a colour filter's pattern, a lossy file): NOISE_PIXELS count as one.
    """
    if not is_read.any():
        return np.zeros(3)
    some, count = lit[is_read], lit[is_read].sum(axis=-1)
    away = (blocks.xyz[is_read] / np.maximum(means[is_read][:, None], 1e-9) - 1) * some[..., None]
    shared = np.einsum("npj,npk->njk", away, away) / np.maximum(count, 1)[:, None, None]
    to_lab = log_light_slopes(lab[is_read])
    variance = np.einsum("nij,njk,nik->ni", to_lab, shared, to_lab) / np.maximum(count / NOISE_PIXELS, 1)[:, None]
    return np.asarray(np.sqrt(np.median(variance, axis=0)), float)


def _middles(places: Floats, is_open: Bools, side: int, shape: tuple[int, ...]) -> Floats:
    """Return where the middle of what is open of each part lies; that of the part where nothing is."""
    parts = _cut(np.broadcast_to(places, shape), side)
    return np.asarray(np.average(parts, axis=-1, weights=is_open + 1e-6), float)


def _strands_deg(luminance: NDArray[np.floating], inner: Bools) -> float | None:
    """Return the direction along which light changes least [3]; None where it changes alike in all."""
    down, right = np.gradient(luminance)
    down, right = down[inner], right[inner]
    xx, yy, xy = float(np.mean(right**2)), float(np.mean(down**2)), float(np.mean(right * down))
    strength = np.hypot(xx - yy, 2 * xy)
    if strength <= STRANDS_SHOWN * (xx + yy):
        return None
    across = 0.5 * np.degrees(np.arctan2(2 * xy, xx - yy))
    return float((across + 90) % 180)


def _colour(grid: PartGrid) -> tuple[Floats, Floats]:
    """Return the mean of the parts that face the light, and its standard error from stretches of the skein [2]."""
    labs, rank, x, y = (values[grid.is_read] for values in (grid.lab, _lightness_round(grid), grid.x_px, grid.y_px))
    usual = np.flatnonzero(_usual(labs))
    along = x[usual] if np.ptp(x[usual]) > np.ptp(y[usual]) else y[usual]
    stretches = np.array_split(usual[np.argsort(along, kind="stable")], min(STRETCHES, len(usual)))
    colour = _facing(labs[usual], rank[usual])
    texture = TEXTURE_FRAC * np.abs(log_light_slopes(colour).sum(axis=-1))
    facing = np.array([_facing(labs[stretch], rank[stretch]) for stretch in stretches])
    spread = np.std(facing, axis=0, ddof=1) if len(facing) > 1 else np.zeros(3)
    return colour, np.hypot(spread / np.sqrt(len(stretches)), texture)


def _usual(labs: Floats) -> Bools:
    """Return which parts belong to the bulk of the skein: a label over it lies far off, unless all parts do."""
    away = delta_e00(labs, np.median(labs, axis=0))
    return np.asarray(away <= max(FOREIGN_TIMES * float(np.median(away)), LEAST_FOREIGN_DE00))


def _facing(labs: Floats, rank: Floats) -> Floats:
    """Return the mean colour of the parts that rank within FACING_RANKS."""
    ordered = labs[np.argsort(rank, kind="stable")]
    low, high = (int(share * len(labs)) for share in FACING_RANKS)
    return np.asarray(ordered[low : max(high, low + 1)].mean(axis=0), float)


def _lightness_round(grid: PartGrid) -> Floats:
    """Return the mean lightness of each part and the eight round it, so that its own noise hardly chooses it."""
    lightness = np.pad(np.where(grid.is_read, grid.lab[..., 0], 0.0), 1)
    read = np.pad(grid.is_read.astype(float), 1)
    total, count = (_round(values) + values[1:-1, 1:-1] for values in (lightness, read))
    return np.asarray(total / np.maximum(count, 1), float)


def _round(padded: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return the sum of the eight neighbours of each place, from an array with one more place at each edge."""
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    return np.asarray(rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:] - padded[1:-1, 1:-1])


def _own_colour(xyz: NDArray[np.floating], chosen: Bools) -> Bools:
    """Return which of the chosen pixels belong to the yarn: a tie, a label, ground in a gap have another chromaticity.

    Where the yarn has many colours itself, its chromaticity scatters, or more of it is off than any label covers:
    nothing is left out.
    """
    pixels = xyz[chosen]
    chromaticity = pixels / np.maximum(pixels.sum(axis=1, keepdims=True), 1e-6)
    some = slice(None, None, max(1, len(pixels) // SOME_PIXELS))
    off = np.abs(chromaticity - np.median(chromaticity[some], axis=0)).max(axis=1)
    is_own = off < max(FOREIGN_TIMES * float(np.median(off[some])), LEAST_FOREIGN)
    own = chosen.copy()
    own[chosen] = is_own | (is_own.mean() < 1 - MOST_FOREIGN_FRAC)
    return own


def _left_out(is_lit: Bools, pixels: SkeinPixels, inner: Bools) -> LeftOut:
    """Return the shares of the pixels inside the rim that were not read, by the reason."""
    count = inner.sum()
    clipped = inner & ~pixels.is_unclipped
    rest = inner & pixels.is_unclipped & ~is_lit
    bright = rest & (pixels.xyz[..., 1] > np.median(pixels.xyz[is_lit, 1]))
    return LeftOut(
        shadow_frac=float((rest & ~bright).sum() / count),
        glint_frac=float(bright.sum() / count),
        clipped_frac=float(clipped.sum() / count),
    )


def _neighbours_y(luminance: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return the mean luminance of the eight neighbours of each pixel."""
    return np.asarray(_round(np.pad(luminance, 1, mode="reflect")) / 8)
