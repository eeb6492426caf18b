"""How the light falls across a photo, read from the plain ground round the skeins, so that it can be taken out.

One colour of ground is assumed (a board, a sheet of paper, a table top). Its light is averaged over cells of the photo.
A polynomial in the logarithm of light, a channel each, is fitted to the cells; shadows only ever darken, so that cells
are trimmed harder below than above. How far the surface may be off at a place comes from the ground itself: each patch
of ground is left out in turn, and the surface moves. Where no such ground is found the answer is None.

Sources: [1] P. J. Huber, Robust Statistics, Wiley (1981), chapter 7: trimming by the median absolute deviation.
[2] W. K. Newey, J. L. Powell, Asymmetric least squares estimation and testing, Econometrica 55 (1987) 819-847: the
upper edge of a cloud of points. [3] B. Efron, C. Stein, The jackknife estimate of variance, Ann. Stat. 9 (1981)
586-596; leaving out whole blocks because neighbours are alike: H. R. Künsch, The jackknife and the bootstrap for
general stationary observations, Ann. Stat. 17 (1989) 1217-1241. [4] M. Stone, J. R. Stat. Soc. B 36 (1974) 111-147:
choosing by leaving out.
"""

from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["LightField", "light_field", "log_light_slopes"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_POINTS = 300
CELLS_A_SIDE = 40  # along the longer side of the ground: a cell is then narrower than a skein; ours
BLOCKS_A_SIDE = 6  # left out one by one: about as wide as a skein, so that what a skein hides is tried; ours
LEAST_CELLS = 24
LEAST_BLOCKS = 4
LIGHTEST_RANK = 0.85  # of ground between skeins that lie close: the rest is in their shade; ours
LEAST_CELL_POINTS = 4
LEVEL_DEGREES = (1, 2, 3, 4)  # vignetting follows the fourth power of a cosine; more bends with every shadow
COLOUR_DEGREES = (0, 1, 2)
SIMPLER_BY = 0.97  # a higher degree must predict left-out ground this much better; ours
RIVAL_BY = 1.15  # a degree that foretells no worse than this is as likely; ours
OWN_SHADOW_FRAC = 0.16  # skeins' own shadows take less from half of the ground round them (drawn skeins: to 0.12)
_PLAIN_LOG = 0.7  # ground stays within a factor 2 of its median light; ours
_PLAIN_CHROMATICITY = 0.08  # and within this of its median chromaticity; ours
_LEAST_SHARE = 0.5  # of the surroundings must be ground
_LARGEST_SCATTER = 0.25  # of light about the surface, a cell: wood's grain reaches 0.15; more is a pattern; ours
_BELOW, _ABOVE = 2.0, 4.0  # standard deviations at which cells are trimmed: shadows of skeins lie below
_FAR_BELOW = 20.0  # the same away from skeins, where only things on the table are out of place; ours
_UPPER_WEIGHT = 4.0  # of a cell above the surface against one below, while the upper edge is sought [2]
_RIDGE = 1e-3  # of a cell: keeps terms at 0 which no ground speaks of
_LEAST_TRIM = 0.004  # of light: what bends no surface is kept though it lies three standard deviations off; ours
_ROUNDS = 6
MIXED_FRAC = 0.01  # of a channel against the others across the ground: less may be the rounding of a file; ours


@dataclass(frozen=True)
class LightField:
    """Light across the photo relative to the middle of the ground: exp of a polynomial in x and y, a channel each.

    Attributes:
        coefficients: of the polynomial's terms, the constant left out, shape (terms, 3).
        shifts: how these move as blocks of ground are left out, scaled so that the sum of their squares is the
            variance [3], shape (blocks, terms, 3).
        middle_px: the middle of the ground.
        size_px: half of the ground's longer side.
        scatter_frac: how far cells of the ground lie about the surface.
        local_frac: how far whole blocks of it do: light (or ground) that the surface does not follow.
        mixed_frac: how much a channel changes against the others across the ground; 0 where that may be chance.
        cells: x and y in pixels of every cell of ground, those in shadow too, by how much the logarithm of its light
            lies above the surface, and 1 where a skein's own shadow may fall, shape (cells, 4).
    """

    coefficients: Floats
    shifts: Floats
    middle_px: Floats
    size_px: float
    scatter_frac: float
    local_frac: float
    mixed_frac: float
    cells: Floats

    def at(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the light at places of the photo, all channels as one; 1 in the middle."""
        return self._light(x_px, y_px, self.coefficients.mean(axis=1, keepdims=True))[..., 0]

    def channels_at(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the light of each channel at places of the photo, last axis of 3; 1 in the middle."""
        return self._light(x_px, y_px, self.coefficients)

    def shifts_at(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the errors of log light at places, shape (blocks, places, 3): squares add up to the variance."""
        return np.asarray(np.einsum("nt,btc->bnc", self._terms(x_px, y_px), self.shifts), float)

    def off_frac(self, sides_px: tuple[float, float, float, float], reach_px: float) -> float:
        """Return by what share the ground round a place is lighter than the surface, the median; below 0 darker.

        Where skeins' own shadows may fall, ground is looked at only if half of it is so dark that they do not explain
        it, or if there is hardly any other.

        Args:
            sides_px: left, top, right and bottom of the place.
            reach_px: how far round it ground is looked at.
        """
        x, y, off, beside = self.cells.T
        left, top, right, bottom = sides_px
        away = np.hypot(np.maximum(np.maximum(left - x, x - right), 0), np.maximum(np.maximum(top - y, y - bottom), 0))
        near, open_ground = off[away < reach_px], off[(away < reach_px) & (beside == 0)]
        if len(near) < LEAST_CELL_POINTS:
            return 0.0
        is_dark = float(np.median(near)) < np.log(1 - OWN_SHADOW_FRAC)
        if not is_dark and len(open_ground) < LEAST_CELL_POINTS:
            return float(np.exp(np.quantile(near, LIGHTEST_RANK)) - 1)
        return float(np.exp(np.median(near if is_dark else open_ground)) - 1)

    def _light(self, x_px: ArrayLike, y_px: ArrayLike, coefficients: Floats) -> Floats:
        """Return exp of the surface; where x is a row and y a column, powers are taken of those alone."""
        across, down = (_powers(value)[..., None] for value in self._units(x_px, y_px))
        surface = np.zeros(1)
        for k in range(LEVEL_DEGREES[-1] + 1):
            own = [(i, (i + k) * (i + k + 1) // 2 + k - 1) for i in range(LEVEL_DEGREES[-1] + 1 - k)]
            along = sum((across[i] * coefficients[at] for i, at in own if at >= 0), np.zeros(1))
            surface = surface + along * down[k]
        return np.exp(surface)

    def _terms(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        return _terms(*self._units(x_px, y_px))[..., 1:]

    def _units(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Floats, Floats]:
        x, y = np.asarray(x_px, float), np.asarray(y_px, float)
        return (x - self.middle_px[0]) / self.size_px, (y - self.middle_px[1]) / self.size_px


@dataclass(frozen=True)
class _Cells:
    """Ground averaged over cells: the terms of the surface at their middles, log light and the block of each."""

    terms: Floats
    log_light: Floats
    block: NDArray[np.intp]
    is_beside: Bools


def light_field(
    x_px: ArrayLike, y_px: ArrayLike, rgb: ArrayLike, is_beside: ArrayLike | None = None
) -> LightField | None:
    """Return the light across a photo from places round the skeins; None where they show no plain ground.

    Args:
        x_px: places, shape (n,).
        y_px: places, shape (n,).
        rgb: light there with the tone curve taken out, shape (n, 3).
        is_beside: where a skein's own shadow may fall, shape (n,); anywhere where absent. What is darker elsewhere is
            less light on the skeins too.
    """
    beside = np.ones(len(np.asarray(x_px)), bool) if is_beside is None else np.asarray(is_beside, bool)
    x, y, light = np.asarray(x_px, float), np.asarray(y_px, float), np.maximum(np.asarray(rgb, float), 1e-6)
    if len(x) < LEAST_POINTS:
        return None
    plain = _plain(light)
    if plain.mean() < _LEAST_SHARE:
        return None
    middle = np.array([(x.min() + x.max()) / 2, (y.min() + y.max()) / 2])
    size = float(max(np.ptp(x), np.ptp(y), 1.0)) / 2
    cells = _cells(x[plain], y[plain], np.log(light[plain]), beside[plain], middle, size)
    kept = _unshaded(cells)
    if kept.sum() < max(LEAST_CELLS, _LEAST_SHARE * len(kept)) or len(np.unique(cells.block[kept])) < LEAST_BLOCKS:
        return None
    return _fitted(cells, kept, middle, size)


def log_light_slopes(lab: ArrayLike) -> Floats:
    """Return dLab / d(log light of the channels) at colours, shape (..., 3, 3); the sum over the last axis for all.

    CIELAB follows a cube root: df = f/3 · dX/X. Red, green and blue stand for X, Y and Z.
    """
    lightness, a, b = np.moveaxis(np.asarray(lab, float), -1, 0)
    f_y = (lightness + 16) / 116
    f = np.stack([f_y + a / 500, f_y, f_y - b / 200], axis=-1)
    mixing = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    return np.asarray(mixing * f[..., None, :] / 3, float)


def _plain(light: Floats) -> Bools:
    level = np.log(light.sum(axis=1))
    chromaticity = light / light.sum(axis=1, keepdims=True)
    off_hue = np.abs(chromaticity - np.median(chromaticity, axis=0)).max(axis=1)
    return np.asarray((np.abs(level - np.median(level)) < _PLAIN_LOG) & (off_hue < _PLAIN_CHROMATICITY))


def _of(cells: _Cells, kept: Bools) -> _Cells:
    return _Cells(cells.terms[kept], cells.log_light[kept], cells.block[kept], cells.is_beside[kept])


def _cells(x: Floats, y: Floats, log_light: Floats, beside: Bools, middle: Floats, size: float) -> _Cells:
    """Return the means of cells in which enough places lie."""
    u, v = (x - middle[0]) / size, (y - middle[1]) / size
    number = _index(v, CELLS_A_SIDE) * CELLS_A_SIDE + _index(u, CELLS_A_SIDE)
    filled = np.bincount(number, minlength=CELLS_A_SIDE**2)
    enough = filled >= LEAST_CELL_POINTS
    sums = [np.bincount(number, column, CELLS_A_SIDE**2)[enough] for column in (u, v, beside, *log_light.T)]
    at_u, at_v, near, *light = np.array(sums) / filled[enough]
    block = _index(at_v, BLOCKS_A_SIDE) * BLOCKS_A_SIDE + _index(at_u, BLOCKS_A_SIDE)
    return _Cells(_terms(at_u, at_v), np.array(light).T, block, np.asarray(near > 0))


def _index(place: Floats, count: int) -> NDArray[np.intp]:
    return np.clip(((place + 1) / 2 * count).astype(np.intp), 0, count - 1)


def _unshaded(cells: _Cells) -> Bools:
    """Return which cells lie in no skein's shadow: the upper edge of the cloud first [2], then trimmed about it [1]."""
    terms, level = cells.terms[:, : _count(2)], cells.log_light.mean(axis=1)
    weights, kept = np.ones(len(level)), np.ones(len(level), bool)
    for _ in range(_ROUNDS):
        off = level - terms @ _solved(terms, level, weights)
        weights = np.where(off < 0, np.where(cells.is_beside, 1.0, _UPPER_WEIGHT), _UPPER_WEIGHT)
    for _ in range(_ROUNDS):
        scatter = max(_median(off[off > 0]), _median(np.abs(off[~cells.is_beside])), _LEAST_TRIM / 1.4826) * 1.4826
        below = np.where(cells.is_beside, _BELOW, _FAR_BELOW)
        kept = (off > -below * scatter) & (off < _ABOVE * scatter)
        off = level - terms @ _solved(terms, level, kept.astype(float))
    return kept


def _median(values: Floats) -> float:
    return float(np.median(values)) if len(values) else 0.0


def _fitted(cells: _Cells, kept: Bools, middle: Floats, size: float) -> LightField | None:
    ground = _of(cells, kept)
    level = ground.log_light.mean(axis=1, keepdims=True)
    bend, bends, off = _best(ground, level, LEVEL_DEGREES)
    tint, tints, _ = _best(ground, ground.log_light - level, COLOUR_DEGREES)
    scatter = 1.4826 * float(np.median(np.abs(off)))  # [1]: the median deviation of a normal spread
    if scatter > _LARGEST_SCATTER:
        return None
    mixed = _mixed(ground.terms[:, 1:], tint[1:], tints[:, 1:])
    if not mixed:
        tint, tints = np.zeros_like(tint), np.zeros_like(tints)
    every_off = cells.log_light.mean(axis=1, keepdims=True) - cells.terms @ bend
    blocks = [off[ground.block == block].mean() for block in np.unique(ground.block)]
    return LightField(
        coefficients=(bend + tint)[1:],
        shifts=np.concatenate([bends * np.ones(3), tints])[:, 1:],
        middle_px=middle,
        size_px=size,
        scatter_frac=scatter,
        local_frac=float(np.sqrt(np.mean(np.square(blocks)))),
        mixed_frac=mixed,
        cells=np.column_stack([cells.terms[:, 1:3] * size + middle, every_off, cells.is_beside]),
    )


def _best(ground: _Cells, values: Floats, degrees: tuple[int, ...]) -> tuple[Floats, Floats, Floats]:
    """Return coefficients, their shifts and what is left over, for the degree that foretells left-out ground best [4].

    A higher degree has to be better by a little: it also strays further where no ground is. The choice itself is
    unsure: how far the surfaces of other degrees lie that foretell nearly as well counts as one more shift each.
    """
    trials = [_left_out(ground, values, _count(degree)) for degree in degrees if _count(degree) < len(values) / 2]
    chosen = trials[0]
    for trial in trials[1:]:
        if trial[2] < SIMPLER_BY * chosen[2]:
            chosen = trial
    coefficients, shifts, error = chosen
    rivals = [trial[0] - coefficients for trial in trials if trial is not chosen and trial[2] < RIVAL_BY * error]
    shifts = np.concatenate([shifts, np.array(rivals).reshape(-1, *coefficients.shape)])
    return coefficients, shifts, values - ground.terms @ coefficients


def _left_out(ground: _Cells, values: Floats, count: int) -> tuple[Floats, Floats, float]:
    """Return the coefficients of the first terms (the others 0), their shifts as blocks go, and the error foretold."""
    terms, names = ground.terms[:, :count], np.unique(ground.block)
    coefficients = np.zeros((ground.terms.shape[1], values.shape[1]))
    coefficients[:count] = _solved(terms, values, np.ones(len(values)))
    shifts, errors = np.zeros((len(names), *coefficients.shape)), []
    for number, name in enumerate(names):
        inside = ground.block == name
        without = _solved(terms, values, (~inside).astype(float))
        shifts[number, :count] = without - coefficients[:count]
        errors.append(np.mean((values[inside] - terms[inside] @ without).mean(axis=0) ** 2))
    return coefficients, shifts * np.sqrt((len(names) - 1) / len(names)), float(np.sqrt(np.mean(errors)))


def _solved(terms: Floats, values: Floats, weights: Floats) -> Floats:
    """Return weighted least squares; the constant is free, the other terms are held to 0 by next to nothing."""
    weighted = terms * weights[:, None]
    ridge = np.diag(np.r_[0.0, np.full(terms.shape[1] - 1, _RIDGE)])
    return np.asarray(np.linalg.solve(weighted.T @ terms + ridge, weighted.T @ values), float)


def _mixed(terms: Floats, tint: Floats, tints: Floats) -> float:
    """Return how much one channel changes against the others across the ground; 0 where its error explains it."""
    changes = terms @ tint
    spread = float(np.max(np.percentile(changes, 95, axis=0) - np.percentile(changes, 5, axis=0)))
    errors = np.sqrt(np.mean(np.sum((terms @ tints) ** 2, axis=0)))
    return spread if spread > max(MIXED_FRAC, 4 * float(errors)) else 0.0


def _count(degree: int) -> int:
    return (degree + 1) * (degree + 2) // 2


def _terms(u: Floats, v: Floats) -> Floats:
    """Return 1, u, v, u², uv, v², u³ … up to the fourth degree, last axis of 15; a row of u and a column of v meet."""
    across, down = _powers(u), _powers(v)
    terms = [across[d - k] * down[k] for d in range(LEVEL_DEGREES[-1] + 1) for k in range(d + 1)]
    return np.stack(np.broadcast_arrays(*terms), axis=-1)


def _powers(values: Floats) -> Floats:
    """Return 1, x, x² … up to the fourth, first axis of 5."""
    return np.stack([np.ones_like(values), *accumulate([values] * LEVEL_DEGREES[-1], np.multiply)])
