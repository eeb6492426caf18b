"""What yarn looks like knitted up: the colours of each stitch from the colours round a skein, and how they lie.

Yarn runs round the skein turn after turn, and each turn passes the colours in the same order. Knitted, the order meets
the width of the row: colours stack up (pool), lie in stripes or scatter. All averages are of linear light, which is how
the eye mixes what it does not see apart.

Sources: [1] D. L. Munden, The geometry and dimensional properties of plain-knit fabrics, J. Text. Inst. 50 (1959)
T448-T471: stitches across and rows up times the length of yarn in a stitch are constants of a relaxed plain fabric;
4.2 and 5.5 from memory, and so set in an examination for textile engineers (GATE 2015, textile engineering and fibre
science, question 54). [2] R. A. Fisher, Statistical Methods for Research Workers, Oliver and Boyd, Edinburgh (1925),
chapter 7: the intraclass correlation, the share of a variance that lies between classes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import ciede2000_metric, delta_e00, lab_from_xyz
from dyewright.errors import InputError

__all__ = [
    "ROW_TO_STITCH",
    "Feeding",
    "Knitting",
    "Pattern",
    "Yarn",
    "block_steps",
    "even_yarn",
    "knitted",
    "pattern",
    "quietest_width",
    "rewound",
    "seen_spread",
    "stitch_yarn_m",
    "turn_fit",
    "yarn_of_parts",
]

Floats = NDArray[np.float64]

WALE_CONSTANT, COURSE_CONSTANT = 4.2, 5.5  # [1], fully relaxed: stitches and rows a length, times yarn in a stitch
ROW_TO_STITCH = WALE_CONSTANT / COURSE_CONSTANT  # height of a row over the width of a stitch
MOST_CELLS = 64
TURNS_ACROSS = 40  # turns that lie side by side on a skein before the next layer goes back (estimate)
SAMPLES_A_STITCH = 3  # colours along the yarn of one stitch that are averaged
ALTERNATE_ROWS = 2  # two rows of each skein, so that the yarn is carried up one side (common practice, no source)
WINDOW_ROWS = 8  # a pool is seen over a few rows; colours drift over many (estimate)
SECOND_END_TURN = 0.25  # where the other end of a skein begins is chance: shown this far on round the skein (estimate)
REWOUND_RATIO = 0.831  # a skein wound anew on another reel; any ratio that is no simple fraction mixes alike (estimate)
BLENDED_TURNS = 5  # strands that lie side by side and that the eye takes together at arm's length (estimate)


@dataclass(frozen=True)
class Yarn:
    """One skein: XYZ by place along its visible half (first axis) and across it (second), Y = 100 for white.

    A turn runs along the visible half and comes back along the other, which is taken as its mirror image.
    """

    front_xyz: Floats
    turn_m: float


class Feeding(StrEnum):
    """In which order skeins are knitted up."""

    ONE_AFTER_OTHER = "one after the other"
    ALTERNATE = "alternate"


@dataclass(frozen=True)
class Knitting:
    """A piece of plain knitting; `gauge` counts stitches to ten centimetres. In the round all rows run one way."""

    stitches: int
    rows: int
    gauge: float
    is_round: bool = False
    feeding: Feeding = Feeding.ONE_AFTER_OTHER


@dataclass(frozen=True)
class Pattern:
    """How the colours of a cloth lie.

    `spread_de00` is how far a stitch lies from the whole's colour (root mean square); `pooled_frac` and `striped_frac`
    the shares of that which are the same up a column of a few rows, and along a row.
    """

    spread_de00: float
    pooled_frac: float
    striped_frac: float


def stitch_yarn_m(gauge: float) -> float:
    """Return the metres of yarn in one stitch of plain knitting [1]."""
    return WALE_CONSTANT / (10 * gauge)


def even_yarn(xyz: ArrayLike, turn_m: float) -> Yarn:
    """Return a yarn of one colour."""
    return Yarn(np.asarray(xyz, float).reshape(1, 1, 3), turn_m)


def yarn_of_parts(x_px: ArrayLike, y_px: ArrayLike, xyz: ArrayLike, turn_m: float) -> Yarn:
    """Return the yarn of a skein from its parts: the longer way of the skein is the way of the strands.

    Args:
        x_px: middles of the parts in the photo, shape (n,).
        y_px: middles of the parts in the photo, shape (n,).
        xyz: their colours, shape (n, 3).
        turn_m: length of one turn of the skein.
    """
    places = np.stack([np.asarray(x_px, float), np.asarray(y_px, float)], axis=-1)
    middle = places.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((places - middle).T))
    turned = (places - middle) @ axes[:, ::-1]  # the axis along which the parts lie farthest apart comes first
    turned = turned * np.where(axes[:, ::-1].sum(axis=0) < 0, -1, 1)  # from the top or the left, whatever eigh returns
    low, size = turned.min(axis=0), np.maximum(np.ptp(turned, axis=0), 1e-9)
    pitch = np.sqrt(size.prod() / len(turned))
    along, across = (int(np.clip(round(side / pitch) + 1, 1, MOST_CELLS)) for side in size)
    cells = np.stack(np.meshgrid(np.linspace(0, 1, along), np.linspace(0, 1, across), indexing="ij"), axis=-1)
    away = np.linalg.norm((cells[:, :, None] * size + low) - turned, axis=-1)
    return Yarn(np.asarray(xyz, float)[away.argmin(axis=-1)], turn_m)


def knitted(yarns: Sequence[Yarn], knitting: Knitting) -> Floats:
    """Return XYZ of every stitch as the right side shows it, first row first, shape (rows, stitches, 3).

    Flat, rows run to and fro, beginning at the right; in the round all begin at the right. Alternated, the skeins take
    turns every two rows; one skein alone is knitted from its two ends.

    Raises:
        InputError: no yarn, or no stitch or row.
    """
    _check(yarns, knitting)
    step_m = stitch_yarn_m(knitting.gauge)
    feeds = _feeds(yarns, knitting)
    answer = np.empty((knitting.rows, knitting.stitches, 3))
    places = np.arange(knitting.stitches)
    used = dict.fromkeys(range(len(feeds)), 0)
    for row in range(knitting.rows):
        number = _feed_of(row, len(feeds), knitting)
        yarn, start_m = feeds[number]
        colours = _stitches(yarn, np.asarray(start_m + (used[number] + places) * step_m, float), step_m)
        used[number] += knitting.stitches
        is_leftward = knitting.is_round or row % 2 == 0
        answer[row] = colours[::-1] if is_leftward else colours
    return answer


def _check(yarns: Sequence[Yarn], knitting: Knitting) -> None:
    if not yarns:
        raise InputError("no skein is chosen for the cloth: choose at least one", field="skeins", value=0, limit=1)
    for field, value in (("stitches", knitting.stitches), ("rows", knitting.rows), ("gauge", knitting.gauge)):
        if not value > 0:
            raise InputError(f"the cloth has {value:g} {field}: it must be above 0", field=field, value=value, limit=0)


def _feeds(yarns: Sequence[Yarn], knitting: Knitting) -> list[tuple[Yarn, float]]:
    feeds = [(yarn, 0.0) for yarn in yarns]
    if knitting.feeding is Feeding.ALTERNATE and len(yarns) == 1:
        feeds.append((yarns[0], SECOND_END_TURN * yarns[0].turn_m))
    return feeds


def _feed_of(row: int, feeds: int, knitting: Knitting) -> int:
    if knitting.feeding is Feeding.ALTERNATE:
        return row // ALTERNATE_ROWS % feeds
    return row * feeds // knitting.rows


def _stitches(yarn: Yarn, from_m: Floats, step_m: float) -> Floats:
    """Return the mean light of the yarn from each place on, over the length of one stitch."""
    within = (np.arange(SAMPLES_A_STITCH) + 0.5) / SAMPLES_A_STITCH * step_m
    return np.asarray(_along(yarn, from_m[:, None] + within).mean(axis=1))


def _along(yarn: Yarn, at_m: Floats) -> Floats:
    """Return XYZ at lengths along the yarn: along the visible half and back, a strand on each turn."""
    turns = at_m / yarn.turn_m
    phase = turns % 1
    return _between(yarn.front_xyz, 1 - np.abs(2 * phase - 1), _there_and_back(turns / TURNS_ACROSS))


def _there_and_back(turns: Floats) -> Floats:
    """Return a place from 0 to 1 that goes there over one unit and comes back over the next."""
    return np.asarray(1 - np.abs(turns % 2 - 1))


def _between(front: Floats, along_frac: Floats, across_frac: Floats) -> Floats:
    """Return the grid's colours at places from 0 to 1, the nearest four of its cells averaged by nearness."""
    (low_u, high_u, u), (low_v, high_v, v) = _cells(along_frac, front.shape[0]), _cells(across_frac, front.shape[1])
    near = front[low_u, low_v] * (1 - v) + front[low_u, high_v] * v
    far = front[high_u, low_v] * (1 - v) + front[high_u, high_v] * v
    return np.asarray(near * (1 - u) + far * u)


def _cells(place_frac: Floats, cells: int) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    middle = np.clip(place_frac * cells - 0.5, 0, cells - 1)
    low = np.floor(middle).astype(np.intp)
    return low, np.minimum(low + 1, cells - 1), np.asarray(middle - low)[..., None]


def rewound(yarn: Yarn) -> Yarn:
    """Return the skein wound anew on another reel: each strand beside strands from elsewhere round the skein.

    The order of colours along the yarn stays as it is. What lies side by side is mixed; nothing between skeins changes.
    """
    along = yarn.front_xyz.shape[0]
    turns = np.arange(TURNS_ACROSS)[None, :] + (np.arange(along)[:, None] + 0.5) / (2 * along)
    turn_m = REWOUND_RATIO * yarn.turn_m
    return Yarn(_along(yarn, np.asarray(turns * turn_m)), turn_m)


def seen_spread(yarn: Yarn, white: ArrayLike) -> float:
    """Return how far places on a skein lie from the whole (root mean square ΔE00), as an eye at arm's length sees it.

    Strands that it does not see apart are averaged in linear light.

    Args:
        yarn: the skein.
        white: the white point its colours refer to.
    """
    front = yarn.front_xyz
    if front.shape[1] >= TURNS_ACROSS:
        front = front.reshape(front.shape[0], -1, BLENDED_TURNS, 3).mean(axis=2)
    return float(np.sqrt((_off(front, white) ** 2).sum(axis=-1).mean()))


def pattern(cloth_xyz: ArrayLike, white: ArrayLike) -> Pattern:
    """Return how far the stitches of a cloth differ and how the differences lie [2].

    Args:
        cloth_xyz: XYZ of every stitch, shape (rows, stitches, 3).
        white: the white point it refers to.
    """
    off = _off(np.asarray(cloth_xyz, float), white)
    windows = [off[top : top + WINDOW_ROWS] for top in range(0, max(len(off) - WINDOW_ROWS // 2, 1), WINDOW_ROWS)]
    pooled = _shared_frac(windows)
    striped = _shared_frac([off.transpose(1, 0, 2)])
    return Pattern(float(np.sqrt((off**2).sum(axis=-1).mean())), pooled, striped)


def _off(cloth: Floats, white: ArrayLike) -> Floats:
    """Return each stitch's difference from the mean light, in units of ΔE00 along three axes."""
    lab = lab_from_xyz(cloth, white)
    middle = lab_from_xyz(cloth.mean(axis=(0, 1)), white)
    return np.asarray((lab - middle) @ ciede2000_metric(middle).T)


def _shared_frac(blocks: Sequence[Floats]) -> float:
    """Return the intraclass correlation [2] over blocks whose classes lie along the second axis."""
    between = within = 0.0
    for block in blocks:
        members, classes = block.shape[:2]
        if members < 2 or classes < 2:
            continue
        inside = float(block.var(axis=0, ddof=1).sum(axis=-1).mean())
        means = float(block.mean(axis=0).var(axis=0, ddof=1).sum())
        between, within = between + max(means - inside / members, 0.0), within + inside
    return between / (between + within) if between + within > 0 else 0.0


def block_steps(cloth_xyz: ArrayLike, white: ArrayLike) -> float:
    """Return the largest ΔE00 between the means of blocks of eight rows: what shows from across a room."""
    cloth = np.asarray(cloth_xyz, float)
    blocks = [part.mean(axis=(0, 1)) for part in np.array_split(cloth, max(len(cloth) // WINDOW_ROWS, 1))]
    labs = lab_from_xyz(np.array(blocks), white)
    return float(delta_e00(labs[:, None], labs[None]).max())


def turn_fit(turn_m: float, knitting: Knitting) -> tuple[float, int, int, float]:
    """Return the stitches of one turn, the rows and turns (up to four each) that agree best, and by how much they miss.

    The miss is a share of a row: near 0, each such run of rows begins at the same colour as the last.
    """
    turn = turn_m / stitch_yarn_m(knitting.gauge)
    pairs = [(rows, turns) for rows in range(1, 5) for turns in range(1, 5)]
    missed = {(rows, turns): abs(turns * turn / knitting.stitches - rows) for rows, turns in pairs}
    rows, turns = min(pairs, key=lambda pair: (round(missed[pair], 2), sum(pair)))
    return turn, rows, turns, missed[rows, turns]


def quietest_width(yarns: Sequence[Yarn], knitting: Knitting, white: ArrayLike) -> tuple[int, Pattern]:
    """Return the number of stitches within a fifth of the chosen one whose colours pool and stripe least."""
    reach = max(knitting.stitches // 5, 1)
    short = replace(knitting, rows=min(knitting.rows, 4 * WINDOW_ROWS))
    tried = []
    for stitches in range(max(knitting.stitches - reach, 2), knitting.stitches + reach + 1):
        found = pattern(knitted(yarns, replace(short, stitches=stitches)), white)
        away = abs(stitches - knitting.stitches)
        tried.append((round(max(found.pooled_frac, found.striped_frac), 1), away, stitches, found))
    _, _, best, found = min(tried, key=lambda one: one[:3])
    return best, found
