"""What a photo says of skeins: the results of judging, field for field as `judge --json` prints them."""

from dataclasses import dataclass, field
from enum import StrEnum

from dyewright.core.model.basis import Basis
from dyewright.core.model.colour import Lab

__all__ = [
    "Assignment",
    "ChartKind",
    "ChartReading",
    "EvenPart",
    "Evenness",
    "JudgeResult",
    "LeftOut",
    "PairDifference",
    "PatchReading",
    "Shape",
    "SkeinColour",
    "ToTarget",
    "TopUp",
    "TopUpDye",
    "UnevenKind",
    "Way",
    "WayKind",
]

Point = tuple[float, float]


@dataclass(frozen=True)
class Shape:
    """The outline of one skein, cake, swatch or handful of fibre: a polygon of three points or more.

    `outline` holds x and y in pixels of the upright original photo; `photo` counts the photos from 1.
    """

    outline: tuple[Point, ...]
    photo: int = 1

    @classmethod
    def box(cls, x_px: float, y_px: float, width_px: float, height_px: float, photo: int = 1) -> "Shape":
        """Return a rectangle, its corners clockwise from the top left."""
        right, bottom = x_px + width_px, y_px + height_px
        return cls(((x_px, y_px), (right, y_px), (right, bottom), (x_px, bottom)), photo)

    @property
    def sides(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of what encloses it, pixels."""
        x, y = zip(*self.outline, strict=True)
        return min(x), min(y), max(x), max(y)


class ChartKind(StrEnum):
    """What in the photo its colours are read from, from the best to the poorest."""

    PATCHES = "24-patch chart"
    GREY_CARD = "grey card"
    WHITE_PAPER = "white paper"
    NONE = "none"


@dataclass(frozen=True)
class PatchReading:
    """One patch of the chart: how far the fit misses it, ΔE00, and how far one made without it would.

    `left_out_de00` is None and `why_unused` says why where the patch was not used.
    """

    name: str
    fit_de00: float
    left_out_de00: float | None = None
    why_unused: str = ""


@dataclass(frozen=True)
class ChartReading:
    """Whether and where the chart was found, and how well colours are read through it.

    `left_out_*` are ΔE00 of each patch predicted from the others: what a colour not on the chart has to expect, where
    yarn does about twice as badly. None where there is no chart of patches. `corners` are those of the chart, the card
    or the piece of paper. `light` says in words what the chart and the ground tell of the light.
    """

    found: bool
    corners: tuple[Point, ...] | None = None
    fit_de00_median: float | None = None
    left_out_de00_median: float | None = None
    left_out_de00_p95: float | None = None
    warnings: tuple[str, ...] = ()
    photo: int = 1
    kind: ChartKind = ChartKind.NONE
    patches: tuple[PatchReading, ...] = ()
    light: str = ""


class UnevenKind(StrEnum):
    """How a skein is uneven, which tells what can be done about it."""

    EVEN = "even"
    GRADIENT = "gradient"
    TIDE_LINE = "tide line"
    BLOTCHES = "blotches"
    TIE_MARKS = "tie marks"
    VARIEGATED = "variegated"


@dataclass(frozen=True)
class EvenPart:
    """A part of a skein: its middle in pixels of the photo, its colour, and ΔE00 from the whole skein's."""

    x_px: float
    y_px: float
    lab: Lab
    de00: float


@dataclass(frozen=True)
class Evenness:
    """How even one skein is.

    `de00_p95` is the ΔE00 that 95 % of its parts stay below against the whole; `rating` says so in words.
    `strands_de00` is that of neighbouring parts against one another (the scale of strands), `whole_de00` the difference
    between the ends of what runs over the whole hank. `kind` is what the pattern looks like and `words` say it in a
    sentence; `parts` are the map it was told from.
    """

    de00_p95: float
    rating: str
    strands_de00: float = 0.0
    whole_de00: float = 0.0
    kind: UnevenKind = UnevenKind.EVEN
    words: str = ""
    parts: tuple[EvenPart, ...] = ()


@dataclass(frozen=True)
class ToTarget:
    """How far a skein is from the target, which is the standard of the CMC formula and of the words.

    `grey_scale` is the half-grade of ISO 105-A05. `is_within` says whether the difference lies within the tolerance;
    None where the interval covers the limit.
    """

    de00: float
    low: float
    high: float
    decmc21: float
    words: str
    grey_scale: str = ""
    is_within: bool | None = None


@dataclass(frozen=True)
class LeftOut:
    """The shares of a skein's pixels that were not read, by the reason."""

    shadow_frac: float = 0.0
    glint_frac: float = 0.0
    clipped_frac: float = 0.0


@dataclass(frozen=True)
class SkeinColour:
    """One skein as photographed.

    `lab` (D65, 10°) is the colour of its lit strands; `lab_low` and `lab_high` hold the true one in 95 of 100 photos
    and are None without a chart. `left_out_frac` is the share of pixels not read for shadow or glare, `left_out` why.
    `warnings` are about this skein alone: a colour outside the camera's space, a shadow across it.
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
    left_out: LeftOut = field(default_factory=LeftOut)
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class PairDifference:
    """How skein `b` differs from skein `a`, the standard; `low` to `high` hold the true ΔE00 in 95 of 100 photos.

    All pairs of a photo hold together in those 95. `grey_scale` is the half-grade of ISO 105-A05. `is_within` says
    whether the two match within the tolerance; None where this photo cannot tell.
    """

    a: int
    b: int
    de00: float
    low: float
    high: float
    decmc21: float
    words: str
    grey_scale: str = ""
    is_within: bool | None = None


class WayKind(StrEnum):
    """What can be done with skeins that came out as they did."""

    ACCEPT = "accept"
    ALTERNATE = "alternate"
    TOP_UP = "top up"
    RESKEIN = "re-skein"
    REHEAT = "re-heat"
    SELL_APART = "sell apart"


@dataclass(frozen=True)
class TopUpDye:
    """One dye that is added: depth in per cent of the dry weight, grams for this yarn, and how to measure it.

    `amount` says so in words: "0.4 g" of powder, "16 mL of 1 % stock".
    """

    name: str
    depth_percent: float
    dye_g: float
    amount: str


@dataclass(frozen=True)
class TopUp:
    """What to add to a skein that has too little dye.

    `beside_hex` and `foretold_hex` are the colour it is to come to and the one that is foretold, for a screen.
    """

    dyes: tuple[TopUpDye, ...]
    dry_g: float
    liquor_l: float
    foretold_lab: Lab
    foretold_hex: str
    beside_hex: str


@dataclass(frozen=True)
class Way:
    """One thing that can be done now: with which skeins, beside which others, and what it would give.

    `foretold_de00` is what would be left, as low, middle, high; None where that is not known. `for_buyer` is the
    sentence that belongs onto the label where this way is taken; empty where nothing has to be said. `caution` is what
    can hurt at this step. `top_up` is the recipe where one could be foretold from swatches.
    """

    kind: WayKind
    skeins: tuple[int, ...]
    beside: tuple[int, ...]
    title: str
    sentence: str
    foretold_de00: tuple[float, float, float] | None = None
    for_buyer: str = ""
    caution: str = ""
    top_up: TopUp | None = None


@dataclass(frozen=True)
class Assignment:
    """Skeins given to orders that each need some that match: `orders` holds the skeins of each, in the order asked.

    An order that cannot be filled is empty. `rest` are the skeins left over; `words` say how it went.
    """

    orders: tuple[tuple[int, ...], ...]
    rest: tuple[int, ...]
    words: str


@dataclass(frozen=True)
class JudgeResult:
    """The verdict on the skeins of one or more photos.

    `chart` is the first photo's, `charts` are all. `sets` hold the ids of skeins that agree with one another within
    `tolerance` (ΔE00). `verdict` is the answer in one sentence, `advice` what to do now, `ways` the same with numbers.
    `target` is the colour that was meant (D65, 10°), where one was said.
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
    ways: tuple[Way, ...] = ()
    assignment: Assignment | None = None
    target: Lab | None = None
