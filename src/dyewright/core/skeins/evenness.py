"""How even a skein is, at the scale of strands and of the whole hank, and how it is uneven.

All is told from hue and chroma, with what the same change of dye does to lightness added: lightness alone may be shade.
A skein's parts are laid out along it; a gradient, an edge, narrow bands and patches are fitted to them, and what
shows more than the photo itself scatters is named.

Sources: [1] P. A. P. Moran, Notes on continuous stochastic phenomena, Biometrika 37 (1950) 17-23: whether neighbours
are alike, by which patches are told from scatter. [2] D. M. Hawkins, Testing a sequence of observations for a shift in
location, J. Am. Stat. Assoc. 72 (1977) 180-186: the largest of all splits, for an edge. The limits are our own, set on
drawn skeins so that fewer than 5 of 100 even ones are called uneven (estimate; see docs/science/judging.md). What each
kind may come from is common practice, no source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from dyewright.core.colour.difference import delta_e00
from dyewright.core.model import Evenness, EvenPart, UnevenKind
from dyewright.core.skeins.parts import PartGrid
from dyewright.core.skeins.shading import DyeMap, dye_map, local_median

__all__ = ["evenness"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# ΔE00 below which 95 % of the parts stay: from the practical ladder of visibility (common practice, no source).
RATINGS = ((1.0, "even"), (2.0, "slightly uneven"), (5.0, "uneven"))
MOST_UNEVEN = "very uneven, or many-coloured by intent"
MOST_PARTS = 500
LEAST_PARTS = 12  # fewer show no pattern
LONG_ASPECT = 1.6  # a skein this much longer than wide has its strands along it (estimate)
TURNS_DEG = (0.0, 30.0, 60.0, 90.0, 120.0, 150.0)  # ways tried across a round skein
LEAST_ACROSS = 2  # parts that a place along the skein needs
EDGE_PARTS = 3  # parts on either side of an edge that are compared
BAND_WINDOW = 9  # parts: a band is narrower than half of it
# What must show in hue and chroma for each kind, ΔE00, and in multiples of the scatter from part to part (estimate).
LIMITS = {
    UnevenKind.GRADIENT: (0.95, 1.9),
    UnevenKind.TIDE_LINE: (0.95, 2.4),
    UnevenKind.TIE_MARKS: (0.85, 2.5),
    UnevenKind.BLOTCHES: (0.75, 2.0),
}
WEAK_FACTOR = 1.5  # on colours whose dye hardly shows in hue and chroma (estimate)
ROUND_FACTOR = 0.75  # of patches on a skein as wide as long, where nothing goes along it (estimate)
PATCH_MORAN = 0.2  # [1]: 0 where neighbours are no more alike than any two, 1 where they are the same
SHARED_FRAC = 0.6  # of an edge or a band that both sides of a skein must show
BAND_FRAC = 0.7
LINE_FACTOR = 2.2
MOST_LIGHT = 4.0  # of lightness that goes with hue and chroma: more is not told from them (estimate)
P95_OF_NOISE = (
    1.73  # what 95 of 100 lengths of two errors stay below, over their standard deviation: sqrt(5.991 / 2), χ²
)
SMOOTHED = 3.0  # the noise of nine parts' mean is a third of one's
COLOURS_DE00 = 4.5  # parts this far in hue and chroma from the middle are another colour, not more of the same
COLOURED_CHROMA, COLOURED_FRAC = 10.0, 0.08  # in at least this share of the parts; paler ones may be ties and labels
ANY_COLOUR_FRAC = 0.33  # in so many even where they are pale


EVEN_WORDS = "Even: nothing shows that is more than shade and the scatter of the photo."
UNTOLD_WORDS = (
    "Even as far as can be told: on this colour dye moves little but lightness, as shade does, and faint unevenness "
    "does not show."
)
COVERED_WORDS = "Something paler or of another colour lies across it: taken for ties or a label, and left out."
LEAST_COVERED_FRAC = 0.03
ENDS_DE00 = 3.0  # of lightness from end to end: more is said, though shade may do it (estimate)
ENDS_WORDS = (
    "Its lightness differs by {size:.1f} ΔE00 from end to end, by shade or by dye: turn it end for end and photograph "
    "it again to tell."
)
WORDS = {
    UnevenKind.GRADIENT: "It grows deeper from one end to the other, by about {size:.1f} ΔE00. Often one end hung "
    "lower, nearer the heat, or went in first.",
    UnevenKind.TIDE_LINE: "A line runs across it, with a step of about {size:.1f} ΔE00. Often a part stood out of the "
    "bath, or the dye struck as it went in.",
    UnevenKind.TIE_MARKS: "It has narrow paler bands across, {number} in all, by about {size:.1f} ΔE00. If ties were "
    "there, they held the dye out: tie looser.",
    UnevenKind.BLOTCHES: "It has patches several strands wide, about {size:.1f} ΔE00 off. Often the dye struck before "
    "it was spread: entered hot, acid too early, too little room or turning.",
}


@dataclass(frozen=True)
class _Profile:
    """How the dye goes along one way of a skein: what is deeper and what is other at each place, shape (places, 2).

    `halves` are the same of the two sides of it, shape (2, places, 2); `bins` is each part's place along it.
    """

    dye: Floats
    halves: Floats
    bins: NDArray[np.intp]


@dataclass(frozen=True)
class _Found:
    """One kind of unevenness: how far it shows over what it must, and how large it is in hue and chroma, ΔE00."""

    kind: UnevenKind
    score: float
    size_de00: float
    detail: float = 0.0


def evenness(grid: PartGrid) -> Evenness:
    """Return how even a skein is, from its parts."""
    if grid.is_read.sum() < LEAST_PARTS:
        return Evenness(0.0, RATINGS[0][1], words="Too small in the photo to tell how even it is.")
    if is_many_coloured(grid):
        return _many_coloured(grid)
    dye = dye_map(grid)
    if dye.is_kept.sum() < LEAST_PARTS:
        return Evenness(0.0, RATINGS[0][1], words="Too much of it is covered to tell how even it is.")
    profiles = _profiles(grid, dye)
    found = [_patches(grid, dye, profiles), *(one for profile in profiles for one in _kinds(profile, dye))]
    return _told(grid, dye, found)


def is_many_coloured(grid: PartGrid) -> bool:
    """Return whether parts differ in hue and chroma by more than the unevenness of one colour."""
    smooth = local_median(grid.lab, 3)[grid.is_read]
    plane = smooth[:, 1:] / (smooth[:, :1] + 16)  # shading moves L* + 16, a* and b* alike
    middle = np.median(smooth, axis=0)
    weight = (middle[0] + 16) / (1 + 0.045 * float(np.hypot(*middle[1:])))  # CIE94's S_C
    is_off = weight * np.linalg.norm(plane - np.median(plane, axis=0), axis=1) > COLOURS_DE00
    is_coloured = np.hypot(smooth[:, 1], smooth[:, 2]) > COLOURED_CHROMA
    return bool((is_off & is_coloured).mean() > COLOURED_FRAC or is_off.mean() > ANY_COLOUR_FRAC)


def _many_coloured(grid: PartGrid) -> Evenness:
    lab = grid.lab[grid.is_read]
    away = delta_e00(np.median(lab, axis=0), lab)
    size = float(np.percentile(away, 95))
    return Evenness(
        de00_p95=size,
        rating=MOST_UNEVEN,
        whole_de00=size,
        kind=UnevenKind.VARIEGATED,
        words=f"Many-coloured: parts lie {size:.0f} ΔE00 from its middle. If that is wanted, nothing is to be done.",
        parts=_parts(grid, grid.is_read, grid.lab),
    )


def _profiles(grid: PartGrid, dye: DyeMap) -> list[_Profile]:
    """Return the profile along the skein; where it is about as wide as long, along several ways."""
    spread, ways = np.linalg.eigh(np.cov(np.stack([grid.x_px[grid.is_read], grid.y_px[grid.is_read]])))
    if np.sqrt(spread[1] / max(float(spread[0]), 1e-9)) >= LONG_ASPECT:
        return [_profile(grid, dye, ways[:, 1])]
    return [_profile(grid, dye, np.array([np.cos(turn), np.sin(turn)])) for turn in np.radians(TURNS_DEG)]


def _profile(grid: PartGrid, dye: DyeMap, way: Floats) -> _Profile:
    along = grid.x_px * way[0] + grid.y_px * way[1]
    across = grid.y_px * way[0] - grid.x_px * way[1]
    low, high = float(along[grid.is_read].min()), float(along[grid.is_read].max())
    count = max(round((high - low) / _pitch(grid)) + 1, 2)
    places = np.clip(((along - low) / max(high - low, 1e-9) * count).astype(np.intp), 0, count - 1)
    values = np.stack([dye.deeper, dye.other], axis=-1)[dye.is_kept]
    rows = _by_place(values, places[dye.is_kept], across[dye.is_kept], count)
    filled = np.flatnonzero((~np.isnan(rows[..., 0])).sum(axis=1) >= LEAST_ACROSS)
    rows = rows[filled]
    parts = (~np.isnan(rows[..., 0])).sum(axis=1)
    order = np.arange(rows.shape[1])[None, :]
    sides = (order < (parts + 1)[:, None] // 2, (order >= parts[:, None] // 2) & (order < parts[:, None]))
    halves = [np.where(side[..., None], rows, 0).sum(axis=1) / side.sum(axis=1)[:, None] for side in sides]
    bins = np.abs(places[..., None] - (filled if len(filled) else np.zeros(1))).argmin(axis=-1)
    return _Profile(np.asarray(np.nanmedian(rows, axis=1)), np.array(halves), bins)


def _by_place(values: Floats, places: NDArray[np.intp], across: Floats, count: int) -> Floats:
    """Return values by their place, from side to side of the skein, shape (count, most parts, 2), NaN beyond."""
    order = np.lexsort((across, places))
    sizes = np.bincount(places, minlength=count)
    begins = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    answer = np.full((count, int(sizes.max()), 2), np.nan)
    answer[places[order], np.arange(len(order)) - begins[places[order]]] = values[order]
    return answer


def _pitch(grid: PartGrid) -> float:
    """Return how far apart parts lie in the photo, pixels."""
    steps = np.concatenate([np.diff(grid.x_px, axis=1).ravel(), np.diff(grid.y_px, axis=0).ravel()])
    return max(float(np.median(np.abs(steps))), 1e-6)


def _kinds(profile: _Profile, dye: DyeMap) -> list[_Found]:
    if len(profile.dye) <= 2 * EDGE_PARTS:
        return []
    return [_gradient(profile, dye), _edge(profile, dye), _bands(profile, dye)]


def _found(kind: UnevenKind, size_de00: float, dye: DyeMap, factor: float = 1.0, detail: float = 0.0) -> _Found:
    least, sds = LIMITS[kind]
    limit = max(least, sds * dye.noise_de00) * (1.0 if dye.is_told else WEAK_FACTOR)
    return _Found(kind, factor * size_de00 / limit, size_de00, detail)


def _gradient(profile: _Profile, dye: DyeMap) -> _Found:
    """Return what grows evenly from end to end; `detail` is the share of the profile's variance that it explains."""
    place = np.linspace(-0.5, 0.5, len(profile.dye))
    slope, level = np.polyfit(place, profile.dye, 1)
    rest = float(((profile.dye - np.outer(place, slope) - level) ** 2).sum())
    return _found(UnevenKind.GRADIENT, float(np.linalg.norm(slope)), dye, detail=1 - rest / _variance(profile))


def _variance(profile: _Profile) -> float:
    return max(float(((profile.dye - profile.dye.mean(axis=0)) ** 2).sum()), 1e-9)


def _edge(profile: _Profile, dye: DyeMap) -> _Found:
    """Return the largest step between the means of the parts on either side of a place [2].

    `detail` is the share of the profile's variance that two levels with that step between them explain.
    """
    steps = _steps(profile.dye)
    at = int(np.linalg.norm(steps, axis=1).argmax())
    size = float(np.linalg.norm(steps[at]))
    near = slice(max(at - 1, 0), at + 2)  # an edge may run a little aslant
    sides = [_steps(half)[near] @ steps[at] / max(size, 1e-9) for half in profile.halves]
    shared = _agreement(sides, size)
    one, two = profile.dye[: at + EDGE_PARTS], profile.dye[at + EDGE_PARTS :]
    rest = float(((one - one.mean(axis=0)) ** 2).sum() + ((two - two.mean(axis=0)) ** 2).sum())
    return _found(UnevenKind.TIDE_LINE, size, dye, shared, 1 - rest / _variance(profile))


def _steps(values: Floats) -> Floats:
    means = np.nanmean(sliding_window_view(values, EDGE_PARTS, axis=0), axis=-1)
    return np.asarray(means[EDGE_PARTS:] - means[:-EDGE_PARTS])


def _agreement(sides: list[Floats], size_de00: float) -> float:
    """Return from 0 to 1 how far both sides of a skein show what the whole shows: a patch is on one of them."""
    least = min(float(side.max()) for side in sides)
    return float(np.clip(least / (SHARED_FRAC * max(size_de00, 1e-9)), 0, 1))


def _bands(profile: _Profile, dye: DyeMap) -> _Found:
    """Return narrow paler bands: parts against the median of those round them. `detail` counts them."""
    paler = _paler(profile.dye)
    at = int(paler.argmax())
    size = float(paler[at])
    near = slice(max(at - 1, 0), at + 2)
    shared = _agreement([_paler(half)[near] for half in profile.halves], size)
    return _found(UnevenKind.TIE_MARKS, size, dye, shared, float(_runs(paler > 0.5 * size)))


def _paler(values: Floats) -> Floats:
    padded = np.pad(np.nan_to_num(values[:, 0]), BAND_WINDOW // 2, mode="reflect")
    return np.asarray(np.median(sliding_window_view(padded, BAND_WINDOW), axis=-1) - values[:, 0])


def _runs(is_in: Bools) -> int:
    """Return how many stretches of True there are."""
    return int(is_in[0]) + int((is_in[1:] & ~is_in[:-1]).sum())


def _patches(grid: PartGrid, dye: DyeMap, profiles: list[_Profile]) -> _Found:
    """Return what is left in parts and those round them alike, when what goes along the skein is taken away."""
    values = np.stack([dye.deeper, dye.other], axis=-1)
    factor = 1.0
    if len(profiles) == 1:
        rest = values - profiles[0].dye[profiles[0].bins]
    else:  # as wide as long: what grows evenly
        places = np.stack([np.ones_like(grid.x_px), grid.x_px, grid.y_px], axis=-1)
        factor = ROUND_FACTOR
        rest = values - places @ np.linalg.lstsq(places[dye.is_kept], values[dye.is_kept])[0]
    rest = np.where(dye.is_kept[..., None], rest, np.nan)
    size = float(np.percentile(_smooth_sizes(rest), 95))
    return _found(UnevenKind.BLOTCHES, size, dye, factor if _moran(rest) >= PATCH_MORAN else 0.5 * factor)


def _smooth_sizes(values: Floats) -> Floats:
    """Return the lengths of means over each part and its neighbours, of parts that were read."""
    padded = np.pad(values, ((1, 1), (1, 1), (0, 0)), constant_values=np.nan)
    windows = sliding_window_view(padded, (3, 3), axis=(0, 1)).reshape(*values.shape, 9)
    count = (~np.isnan(windows)).sum(axis=-1)
    means = np.nansum(windows, axis=-1) / np.maximum(count, 1)
    sizes = np.linalg.norm(means, axis=-1)[~np.isnan(values[..., 0]) & (count[..., 0] >= 4)]
    return sizes if len(sizes) else np.zeros(1)


def _moran(values: Floats) -> float:
    """Return Moran's I [1] of parts with the four beside each."""
    off = values - np.nanmean(values, axis=(0, 1))
    products = np.concatenate(
        [(off[1:] * off[:-1]).sum(axis=-1).ravel(), (off[:, 1:] * off[:, :-1]).sum(axis=-1).ravel()]
    )
    variance = float(np.nanmean((off**2).sum(axis=-1)))
    return float(np.nanmean(products)) / variance if variance > 0 and not np.isnan(products).all() else 0.0


def _told(grid: PartGrid, dye: DyeMap, found: list[_Found]) -> Evenness:
    """Return the verdict on what was found; the strongest kind that shows gives its name."""
    best = _named(found)
    gradient = _strongest(found, UnevenKind.GRADIENT)
    whole = 1.0 if best is None else float(np.hypot(1, min(abs(dye.light_a_depth), MOST_LIGHT)))
    seen = float(np.percentile(_smooth_sizes(np.stack([dye.deeper, dye.other], axis=-1)), 95))
    size = whole * _without(seen, P95_OF_NOISE * dye.noise_de00 / SMOOTHED)
    return Evenness(
        de00_p95=size,
        rating=next((words for limit, words in RATINGS if size < limit), MOST_UNEVEN),
        strands_de00=float(np.sqrt(2)) * _without(dye.noise_de00, dye.photo_noise_de00),
        whole_de00=whole * gradient.size_de00,
        kind=UnevenKind.EVEN if best is None else best.kind,
        words=_words(best, dye, whole, _ends_lightness(grid, dye)),
        parts=_parts(grid, dye.is_kept, dye.hue_lab if best is None else dye.lab),
    )


def _without(seen: float, noise: float) -> float:
    """Return what is left of a spread when noise is taken out of it."""
    return float(np.sqrt(max(seen**2 - noise**2, 0.0)))


def _named(found: list[_Found]) -> _Found | None:
    """Return what a skein's unevenness is called; None where nothing shows more than it must."""
    gradient, edge, bands, patches = (_strongest(found, kind) for kind in LIMITS)
    if max(gradient.score, edge.score, bands.score, patches.score) < 1:
        return None
    if bands.score >= 1 and bands.size_de00 >= max(BAND_FRAC * edge.size_de00, patches.size_de00):
        return bands
    line = edge if edge.detail > gradient.detail or gradient.score < 1 else gradient
    if max(edge.score, gradient.score) >= 1 and line.size_de00 >= LINE_FACTOR * patches.size_de00:
        return line
    if patches.score >= 1:
        return patches
    return max((gradient, edge, bands), key=lambda one: one.score)


def _strongest(found: list[_Found], kind: UnevenKind) -> _Found:
    return max((one for one in found if one.kind is kind), key=lambda one: one.score, default=_Found(kind, 0.0, 0.0))


def _ends_lightness(grid: PartGrid, dye: DyeMap) -> float:
    """Return by how much a skein's lightness differs from end to end, ΔE00, shade or dye."""
    places = np.stack([np.ones_like(grid.x_px), grid.x_px, grid.y_px], axis=-1)[dye.is_kept]
    slope = np.linalg.lstsq(places, dye.light[dye.is_kept])[0][1:]
    return float(np.ptp(places[:, 1:] @ slope))


def _words(best: _Found | None, dye: DyeMap, whole: float, ends_de00: float) -> str:
    if best is not None:
        said = [WORDS[best.kind].format(size=whole * best.size_de00, number=int(best.detail))]
    else:
        said = [EVEN_WORDS if dye.is_told else UNTOLD_WORDS]
        said += [ENDS_WORDS.format(size=ends_de00)] if ends_de00 > ENDS_DE00 else []
    return " ".join([*said, *([COVERED_WORDS] if dye.covered_frac > LEAST_COVERED_FRAC else [])])


def _parts(grid: PartGrid, is_shown: Bools, lab: Floats) -> tuple[EvenPart, ...]:
    """Return the map: rounded, and every other part of a large one, since it is kept with the verdict."""
    step = 1 if is_shown.sum() <= MOST_PARTS else 2
    cut = (slice(None, None, step), slice(None, None, step))
    kept = is_shown[cut]
    x, y, labs = (np.round(values[cut][kept], 2).tolist() for values in (grid.x_px, grid.y_px, lab))
    away = np.round(delta_e00(np.median(lab[is_shown], axis=0), lab[cut][kept]), 2).tolist()
    return tuple(
        EvenPart(x_px, y_px, (colour[0], colour[1], colour[2]), de00)
        for x_px, y_px, colour, de00 in zip(x, y, labs, away, strict=True)
    )
