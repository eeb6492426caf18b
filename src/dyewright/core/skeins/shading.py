"""A skein's parts as the dye lies on them: shadow, shading, ties and labels taken out.

Shading scales a part's light and leaves its hue; a change of dye moves hue and chroma as well. The way in which colour
follows shading is read off each skein itself, from the small shadows between its strands: a camera's tone curve and
light that goes from strand to strand bend it. What is left across that way is the dye's.

Sources: [1] core.colour.difference: CIEDE2000's metric, in which all is measured. [2] P. Kubelka, F. Munk, Z. tech.
Physik 12 (1931) 593-601, for the way in which colour goes with more of the same dye; taken for three broad bands, which
stand for the curve (estimate: in drawn skeins the true way is met to a cosine of 0.9, median). [3] P. J. Huber, Robust
Statistics, Wiley (1981): medians and their absolute deviation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from dyewright.core.colour.difference import ciede2000_metric
from dyewright.core.skeins.parts import PartGrid

__all__ = ["DyeMap", "dye_map", "local_median"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NEAR_PARTS, WIDE_PARTS = 5, 11  # windows for what is local: strands, and things that lie on the skein; ours
FOREIGN_DE00 = 6.0  # a part this far from those round it is a tie, a label, a hole (estimate)
FOREIGN_LIGHT, FOREIGN_HUE = (
    2.0,
    5.0,
)  # and this much lighter, or this far in hue and chroma: shadow is neither (estimate)
PAPER_DE00, PAPER_CHROMA = 8.0, 8.0  # paper and cotton against the skein (estimate)
MOST_FOREIGN_FRAC = 0.45  # more of the skein than this is no tie: it is many-coloured (estimate)
CREASE_SDS, CREASE_DE00 = 3.0, 0.5  # darker than its neighbours by more: a fold's shadow; ours
LEAST_SHADE = 0.3  # ΔE00 of small shadows, below which they say little of where hue follows (estimate)
EXPECTED_SD_FRAC = 0.4  # of how lightness goes with depth, by the three bands (estimate)
PARTS_ALIKE = 9  # shade spans several parts: so many count as one; ours
LARGEST_LEAK = 1.2  # of shading that may show as hue (estimate)


@dataclass(frozen=True)
class DyeMap:
    """What the dye does over a skein, in ΔE00 units; every array by the grid's rows and columns.

    Attributes:
        deeper: along the way that more of the same dye goes, shading taken out.
        other: across it: another hue.
        light: how much lighter, shading included.
        is_kept: False where nothing was read, and on ties, labels and folds.
        noise_de00: what `deeper` and `other` scatter by from part to part, both together.
        light_a_depth: how much darker (below 0: lighter) a part grows for each unit of `deeper`.
        is_told: whether more dye shows in hue and chroma at all; not so on greys.
        photo_noise_de00: how much of `noise_de00` the photo itself makes.
        lab: the colour of each part without shade: that of the whole, moved as `deeper` and `other` say.
        hue_lab: the same with the whole's lightness: what was seen, without what goes with it.
        covered_frac: the share of the skein that is covered by ties, labels and the like, with what lies next to them.
    """

    deeper: Floats
    other: Floats
    light: Floats
    is_kept: Bools
    noise_de00: float
    light_a_depth: float
    is_told: bool
    photo_noise_de00: float
    lab: Floats
    hue_lab: Floats
    covered_frac: float


LEAST_TOLD = 0.12  # of a change of dye that must show beside its lightness, to be told from shade (estimate)


def dye_map(grid: PartGrid) -> DyeMap:
    """Return how the dye lies over the parts of a skein."""
    middle = np.median(grid.lab[grid.is_read], axis=0)
    to_de = ciede2000_metric(middle)
    axes = _axes(to_de @ np.array([middle[0] + 16, middle[1], middle[2]]))
    values = (grid.lab - middle) @ to_de.T @ axes.T
    rough = values - local_median(values, NEAR_PARTS)
    is_covered = _covered(grid, values)
    is_kept = grid.is_read & ~is_covered & ~_creased(rough[..., 0])
    leak = _leak(rough[is_kept])
    hue = values[..., 1:] - leak * values[..., :1]
    towards = axes @ to_de @ _more_dye(middle)
    towards = towards / np.linalg.norm(towards)
    told = towards[1:] - leak * towards[0]
    share = float(np.linalg.norm(told))
    along = told / share if share > 1e-6 else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    deeper, other = (_about_median(hue @ way, is_kept) for way in (along, across))
    light = _about_median(values[..., 0], is_kept)
    noise = float(np.hypot(_between_neighbours(deeper), _between_neighbours(other)))
    depth = _light_a_depth(light[is_kept], deeper[is_kept], noise, float(towards[0]) / max(share, LEAST_TOLD))
    moved = deeper[..., None] * along + other[..., None] * across
    to_lab = axes @ np.linalg.inv(to_de).T
    return DyeMap(
        deeper=deeper,
        other=other,
        light=light,
        is_kept=is_kept,
        noise_de00=noise,
        light_a_depth=depth,
        is_told=min(share, float(np.linalg.norm(towards[1:]))) > LEAST_TOLD,
        photo_noise_de00=float(np.linalg.norm((axes @ to_de * grid.sd_lab)[1:])),
        covered_frac=float((is_covered & grid.is_read).sum() / grid.is_read.sum()),
        lab=middle + moved @ to_lab[1:] + depth * deeper[..., None] * to_lab[0],
        hue_lab=middle + moved @ to_lab[1:],
    )


def _axes(shade: Floats) -> Floats:
    """Return three directions at right angles, the first that of shading."""
    whole, _ = np.linalg.qr(np.column_stack([shade, np.eye(3)]))
    return np.asarray(whole.T * np.sign(whole[:, 0] @ shade) if whole[:, 0] @ shade < 0 else whole.T)


def _more_dye(lab: Floats) -> Floats:
    """Return where a colour goes with more of its dye: K/S of three broad bands grown alike [2]."""
    f_y = (lab[0] + 16) / 116
    f = np.array([f_y + lab[1] / 500, f_y, f_y - lab[2] / 200])
    band = np.clip(f**3, 1e-3, 0.98)
    ratio = (1 - band) ** 2 / (2 * band)
    moved = -ratio * band / np.sqrt(ratio**2 + 2 * ratio) / (3 * f**2)
    return np.array([116 * moved[1], 500 * (moved[0] - moved[1]), 200 * (moved[1] - moved[2])])


def local_median(values: Floats, parts: int) -> Floats:
    """Return the median of the parts round each; NaN parts are passed over, and stay where all are."""
    half = parts // 2
    padded = np.pad(values, ((half, half), (half, half), (0, 0)), constant_values=np.nan)
    step = 2 if parts > NEAR_PARTS else 1  # of a wide window every other part is enough
    windows = sliding_window_view(padded, (parts, parts), axis=(0, 1))[..., ::step, ::step].reshape(*values.shape, -1)
    ordered = np.sort(windows, axis=-1)  # NaN comes last
    count = np.maximum((~np.isnan(windows)).sum(axis=-1), 1)
    low, high = (count - 1) // 2, count // 2
    picked = [np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0] for place in (low, high)]
    return np.asarray((picked[0] + picked[1]) / 2)


def _covered(grid: PartGrid, values: Floats) -> Bools:
    """Return which parts are covered by what is no dyed yarn: ties, labels, and the parts next to them."""
    found = _paper_white(values, np.hypot(grid.lab[..., 1], grid.lab[..., 2]))
    if grid.is_covered is not None:
        found = found | grid.is_covered
    for _ in range(2):  # again without what was found: several lie together
        seen = np.where(found[..., None], np.nan, values)
        away = np.nan_to_num(values - local_median(seen, WIDE_PARTS))
        is_light = (away[..., 0] > FOREIGN_LIGHT) | (np.linalg.norm(away[..., 1:], axis=-1) > FOREIGN_HUE)
        found = found | ((np.linalg.norm(away, axis=-1) > FOREIGN_DE00) & is_light)
    if (found & grid.is_read).sum() > MOST_FOREIGN_FRAC * grid.is_read.sum():
        return np.zeros_like(found)
    grown = np.pad(found, 1)
    return np.asarray(found | grown[:-2, 1:-1] | grown[2:, 1:-1] | grown[1:-1, :-2] | grown[1:-1, 2:])


def _paper_white(values: Floats, chroma: Floats) -> Bools:
    """Return which parts are far lighter than the skein and without colour: paper, undyed cotton."""
    away = np.nan_to_num(values)
    is_far = (np.linalg.norm(away, axis=-1) > PAPER_DE00) & (away[..., 0] > FOREIGN_LIGHT)
    return np.asarray(is_far & (np.nan_to_num(chroma, nan=np.inf) < PAPER_CHROMA))


def _creased(light: Floats) -> Bools:
    deepest = CREASE_SDS * _scatter(light[~np.isnan(light)]) + CREASE_DE00
    return np.asarray(np.nan_to_num(light) < -deepest)


def _light_a_depth(light: Floats, deeper: Floats, noise: float, expected: float) -> float:
    """Return how lightness goes with depth: as expected of dye [2], and as these parts show it, by how sure each is.

    Within a factor of two of what is expected; lightness that goes another way is shade.
    """
    signal = float(deeper @ deeper) - len(deeper) * noise**2 / 2
    if signal <= 0:
        return expected
    seen = float(light @ deeper) / signal
    sure = (len(light) / PARTS_ALIKE) * signal / len(light) / max(float(light @ light) / len(light), 1e-9)
    prior = 1 / (EXPECTED_SD_FRAC * expected) ** 2 if expected else np.inf
    both = (seen * sure + expected * prior) / (sure + prior)
    low, high = sorted((expected / 2, expected * 2))
    return float(np.clip(both, low, high))


def _leak(rough: Floats) -> Floats:
    """Return how far hue and chroma follow a unit of shading, from the small shadows of the skein."""
    near = np.abs(rough[:, 0]) < 5 * max(_scatter(rough[:, 0]), 1e-6)
    shade, hue = rough[near, 0], rough[near, 1:]
    leak = shade @ hue / max(float(shade @ shade) + len(shade) * LEAST_SHADE**2, 1e-9)
    return np.asarray(leak * min(1.0, LARGEST_LEAK / max(float(np.linalg.norm(leak)), 1e-9)))


def _scatter(values: Floats) -> float:
    """Return the standard deviation of a normal spread with this median absolute deviation [3]; 0 of nothing."""
    return 1.4826 * float(np.median(np.abs(values - np.median(values)))) if len(values) else 0.0


def _between_neighbours(values: Floats) -> float:
    """Return by how much one part scatters, from the differences between parts beside each other."""
    steps = np.concatenate([np.diff(values, axis=0).ravel(), np.diff(values, axis=1).ravel()])
    return _scatter(steps[~np.isnan(steps)]) / float(np.sqrt(2))


def _about_median(values: Floats, is_kept: Bools) -> Floats:
    return (
        np.where(is_kept, values - np.median(values[is_kept]), np.nan)
        if is_kept.any()
        else np.full_like(values, np.nan)
    )
