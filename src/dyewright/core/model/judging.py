"""What a photo says of skeins: the results of judging, field for field as `judge --json` prints them."""

from dataclasses import dataclass, field

from dyewright.core.model.basis import Basis
from dyewright.core.model.colour import Lab

__all__ = ["Box", "ChartReading", "Evenness", "JudgeResult", "PairDifference", "SkeinColour", "ToTarget"]

Point = tuple[float, float]


@dataclass(frozen=True)
class Box:
    """A rectangle round one skein, in pixels of the upright original photo; `photo` counts the photos from 1."""

    x_px: float
    y_px: float
    width_px: float
    height_px: float
    photo: int = 1

    @property
    def outline(self) -> tuple[Point, ...]:
        """The four corners, clockwise from the top left."""
        right, bottom = self.x_px + self.width_px, self.y_px + self.height_px
        return ((self.x_px, self.y_px), (right, self.y_px), (right, bottom), (self.x_px, bottom))


@dataclass(frozen=True)
class ChartReading:
    """Whether and where the chart was found, and how well colours are read through it.

    `left_out_*` are ΔE00 of each patch predicted from the others: what a colour not on the chart has to expect, where
    yarn does about twice as badly. None where there is no chart.
    """

    found: bool
    corners: tuple[Point, ...] | None = None
    fit_de00_median: float | None = None
    left_out_de00_median: float | None = None
    left_out_de00_p95: float | None = None
    warnings: tuple[str, ...] = ()
    photo: int = 1


@dataclass(frozen=True)
class Evenness:
    """How even one skein is: ΔE00 that 95 % of its parts stay below against the whole; `rating` in words."""

    de00_p95: float
    rating: str


@dataclass(frozen=True)
class ToTarget:
    """How far a skein is from the target, which is the standard of the CMC formula and of the words."""

    de00: float
    low: float
    high: float
    decmc21: float
    words: str


@dataclass(frozen=True)
class SkeinColour:
    """One skein as photographed.

    `lab` (D65, 10°) is the colour of its lit strands; `lab_low` and `lab_high` hold the true one in 95 of 100 photos
    and are None without a chart. `left_out_frac` is the share of pixels not read for shadow or glare.
    """

    id: int
    outline: tuple[Point, ...]
    lab: Lab
    lab_low: Lab | None
    lab_high: Lab | None
    evenness: Evenness
    to_target: ToTarget | None = None
    hex: str = ""
    colour_words: str = ""
    left_out_frac: float = 0.0
    photo: int = 1


@dataclass(frozen=True)
class PairDifference:
    """How skein `b` differs from skein `a`, the standard; `low` to `high` hold the true ΔE00 in 95 of 100 photos."""

    a: int
    b: int
    de00: float
    low: float
    high: float
    decmc21: float
    words: str


@dataclass(frozen=True)
class JudgeResult:
    """The verdict on the skeins of one or more photos.

    `chart` is the first photo's, `charts` are all. `sets` hold the ids of skeins that agree with one another within
    `tolerance` (ΔE00). `verdict` is the answer in one sentence, `advice` what to do now.
    """

    chart: ChartReading
    skeins: tuple[SkeinColour, ...]
    pairs: tuple[PairDifference, ...]
    sets: tuple[tuple[int, ...], ...]
    verdict: str
    advice: tuple[str, ...]
    basis: Basis
    tolerance: float
    charts: tuple[ChartReading, ...] = ()
    light_uneven_frac: float | None = None
    notes: tuple[str, ...] = field(default=())
