"""The table of two ways: each figure of both, and which is the better one, in words and with how sure that is."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from dyewright.core.beside import less_frac_of_bands
from dyewright.core.model import Band, ClearTime
from dyewright.services.comparing.measures import Measures, Way
from dyewright.services.comparing.samples import left_is_less_frac
from dyewright.units import show_duration, show_volume

__all__ = ["Better", "ComparedRow", "Figure", "compared_rows"]

SURE_FRAC, LIKELY_FRAC = 0.95, 0.75  # 19 and 15 of 20 pots
NOT_KNOWN = "not foretold"
CERTAIN = 1.0


class Better(StrEnum):
    """Which of two ways is the better one by one figure."""

    LEFT = "left"
    RIGHT = "right"
    SAME = "about the same"
    CANNOT_TELL = "cannot tell"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class Figure:
    """One figure of one way with its band, in the unit of its row's key; `words` as a page says it."""

    value: float | None
    low: float | None
    high: float | None
    words: str


@dataclass(frozen=True)
class ComparedRow:
    """One figure of both ways; its `key` ends in the unit. `chance` is the share of pots in which the better one is.

    `words` say which is better and how sure that is.
    """

    key: str
    label: str
    left: Figure
    right: Figure
    better: Better
    chance: float | None
    words: str
    hint: str = ""


@dataclass(frozen=True)
class _Line:
    """How one figure is read and judged: `step` is the least difference worth saying, `share` the same as a share.

    `sample` names the samples that it is compared by; `judged_by` is another figure that says which is better.
    """

    key: str
    label: str
    figure: Callable[[Measures], Figure]
    step: float
    share: float = 0.0
    is_more_better: bool = False
    sample: str = ""
    judged_by: Callable[[Measures], Figure] | None = None
    hint: str = ""


def compared_rows(left: Way, right: Way, names: tuple[str, str]) -> tuple[ComparedRow, ...]:
    """Return every figure of both ways that at least one of them knows."""
    rows = (_row(line, left, right, names) for line in LINES)
    return tuple(row for row in rows if row.left.words != NOT_KNOWN or row.right.words != NOT_KNOWN)


def _row(line: _Line, left: Way, right: Way, names: tuple[str, str]) -> ComparedRow:
    a, b = line.figure(left.measures), line.figure(right.measures)
    said_by = line.judged_by or line.figure
    judged = said_by(left.measures), said_by(right.measures)
    better, chance = _judged(line, judged, _left_less_frac(line, left, right, judged))
    return ComparedRow(line.key, line.label, a, b, better, chance, _words(better, chance, names), line.hint)


def _left_less_frac(line: _Line, left: Way, right: Way, figures: tuple[Figure, Figure]) -> float | None:
    """Return how often the left figure is the smaller: from samples, else from bands, else from the figures."""
    if line.sample:
        paired = left_is_less_frac(left.samples, right.samples, line.sample)
        if paired is not None:
            return paired
    a, b = (Band(figure.value, figure.low, figure.high) for figure in figures)
    return less_frac_of_bands(a, b)


def _judged(line: _Line, figures: tuple[Figure, Figure], left_less: float | None) -> tuple[Better, float | None]:
    a, b = figures[0].value, figures[1].value
    if left_less is None and (a is None or b is None):
        return Better.UNKNOWN, None
    if _is_same(line, a, b):
        return Better.SAME, None
    if left_less is None:
        return Better.CANNOT_TELL, None
    if a is None and b is None and _is_same_low(line, *figures):
        return Better.SAME, None  # in most pots of either it never is: the quickest tell
    left_better = 1.0 - left_less if line.is_more_better else left_less
    chance = max(left_better, 1.0 - left_better)
    if chance < LIKELY_FRAC:
        return Better.CANNOT_TELL, chance
    return (Better.LEFT if left_better > 0.5 else Better.RIGHT), chance


def _is_same(line: _Line, a: float | None, b: float | None) -> bool:
    """Whether two numbers that are known differ by less than is worth saying."""
    return a is not None and b is not None and abs(a - b) <= max(line.step, line.share * max(abs(a), abs(b)))


def _is_same_low(line: _Line, left: Figure, right: Figure) -> bool:
    return (left.low is None and right.low is None) or _is_same(line, left.low, right.low)


def _words(better: Better, chance: float | None, names: tuple[str, str]) -> str:
    if better is Better.CANNOT_TELL:
        return "cannot tell: the bands overlap"
    if better not in {Better.LEFT, Better.RIGHT} or chance is None:
        return better.value
    name = names[0] if better is Better.LEFT else names[1]
    if chance >= CERTAIN:
        return name
    if chance >= SURE_FRAC:
        return f"{name}, in 19 of 20 pots"
    return f"probably {name}, in {min(18, round(20 * chance))} of 20 pots"


def _plainly(value: float | None, words: Callable[[float], str]) -> Figure:
    """Return a figure without a band: what is computed from the plan alone."""
    return Figure(value, value, value, NOT_KNOWN if value is None else words(value))


def _clear(time: ClearTime) -> Figure:
    if time.never_frac is None:
        return Figure(None, None, None, NOT_KNOWN)
    if time.mid is None:
        return Figure(None, time.low, None, "not while hot, in most pots")
    span = f"{_minutes(time.low)} or later" if time.high is None else f"{_minutes(time.low)}–{time.high:.0f}"
    return Figure(time.mid, time.low, time.high, f"{time.mid:.0f} min ({span})")


def _minutes(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}"


def _band(band: Band | None, words: Callable[[float], str], span: Callable[[float], str]) -> Figure:
    if band is None or band.mid is None:
        return Figure(None, None, None, NOT_KNOWN)
    if band.low is None:
        return Figure(band.mid, None, band.high, words(band.mid))
    high = "more" if band.high is None else span(band.high)
    ends = "" if span(band.low) == high else f" ({span(band.low)}–{high})"
    return Figure(band.mid, band.low, band.high, words(band.mid) + ends)


def _count(value: float) -> str:
    return f"{value:.0f}"


def _percent(value: float) -> str:
    return f"{100 * value:.0f}"


def _mg_per_100_g(share_owf: float) -> str:
    return f"{float(f'{share_owf * 100_000:.2g}'):g}"


def _of_pots(share: float) -> str:
    count = round(20 * share)
    return "none of 20 pots" if count == 0 else f"{count} of 20 pots"


def _felting(measures: Measures) -> Figure:
    felting = measures.felting
    if felting is None:
        return Figure(None, None, None, NOT_KNOWN)
    words = felting.rating if felting.index is None else f"{felting.rating} ({felting.index:.1f})"
    return Figure(felting.index, felting.index, felting.index, words)


def _uneven(measures: Measures) -> Figure:
    level = measures.level
    if level is None:
        return Figure(None, None, None, NOT_KNOWN)
    if level.uneven_frac is None:
        return Figure(None, None, None, level.rating)
    share = level.uneven_frac
    return Figure(share, share, share, f"{level.rating}, uneven in {_of_pots(share)}")


def _energy(measures: Measures) -> Figure:
    return _plainly(measures.energy_kwh, lambda v: f"{v:.1f} kWh")


def _lines() -> Iterator[_Line]:
    """Yield the lines of the table in its order: the bath, the rinses, the yarn, the time, the price."""
    yield _Line(
        "mostly_clear_at_min", "Bath mostly clear", lambda m: _clear(m.mostly_clear_at), 2.0, sample="mostly_clear_min"
    )
    yield _Line("clear_at_min", "Bath clear", lambda m: _clear(m.clear_at), 2.0, sample="clear_min")
    yield _Line(
        "clears_frac", "Pots that clear while hot", lambda m: _plainly(m.clears_frac, _of_pots), 0.1,
        is_more_better=True, hint="with the last hold made as long as two hours",
    )  # fmt: skip
    yield _Line(
        "cooled_clear_frac", "Pots that are clear once cooled", lambda m: _plainly(m.cooled_clear_frac, _of_pots), 0.1,
        is_more_better=True,
    )  # fmt: skip
    yield _Line(
        "final_exhaustion", "Dye that goes in, at the end",
        lambda m: _band(m.final_exhaustion, lambda v: f"{_percent(v)} %", _percent), 0.01,
        is_more_better=True, sample="final_exhaustion",
    )  # fmt: skip
    yield _Line(
        "unfixed_owf", "Left to wash out",
        lambda m: _band(m.unfixed_owf, lambda v: f"{_mg_per_100_g(v)} mg in 100 g of yarn", _mg_per_100_g), 0.0, 0.1,
    )  # fmt: skip
    yield _Line("rinses", "Rinses until clear", lambda m: _band(m.rinses, _count, _count), 0.5)
    yield _Line(
        "water_l", "Water, bath and rinses", lambda m: _plainly(m.water_l, show_volume), 0.0, 0.05,
        hint="with the rinses of the middle case",
    )  # fmt: skip
    yield _Line("felting_index", "Felting", _felting, 0.05, 0.2, hint="a ranking, no promise (estimate)")
    yield _Line("uneven_frac", "Evenness", _uneven, 0.05)
    yield _Line(
        "pot_min", "From water to last rinse", lambda m: _plainly(m.pot_min, show_duration), 10.0,
        hint="waiting and cooling included",
    )  # fmt: skip
    yield _Line("hob_min", "Heat on", lambda m: _plainly(m.hob_min, show_duration), 5.0)
    yield _Line(
        "energy_kwh", "Power drawn", _energy, 0.1, 0.03, hint="the pot alone; hot rinse water comes on top"
    )  # fmt: skip
    yield _Line(
        "energy_cost", "Power costs", lambda m: _plainly(float(m.energy_cost), lambda v: f"{v:.2f}"), 0.1, 0.03,
        judged_by=_energy,
    )  # fmt: skip
    yield _Line(
        "dye_cost", "Dye costs",
        lambda m: _plainly(None if m.dye_cost is None else float(m.dye_cost), lambda v: f"{v:.2f}"), 0.02, 0.03,
    )  # fmt: skip


LINES = tuple(_lines())
