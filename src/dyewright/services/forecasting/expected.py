"""What to expect of a dyeing in a handful of lines: for the printed sheet, and wherever there is no room for more."""

from collections.abc import Iterator

from dyewright.core.model import Band, Felting, Forecast, WashOff
from dyewright.services.forecasting.words import clear_words
from dyewright.sheets.pdf import Figure
from dyewright.units import show_percent, show_volume

__all__ = ["count_words", "expected_lines"]


def expected_lines(told: Forecast) -> list[Figure]:
    """Return what a forecast expects, each with how sure it is; what is not foretold is left out."""
    return list(_lines(told))


def _lines(told: Forecast) -> Iterator[Figure]:
    clear = clear_words(told)
    yield Figure("The bath", f"{clear.headline} {clear.span}".rstrip(), clear.pots)
    final = told.final_exhaustion
    if final.mid is not None:
        yield Figure("In at the end", show_percent(round(final.mid, 2)), _percent_span(final))
    bonded = [dye for dye in told.dyes if dye.fixed_frac is not None and dye.fixed_at_end is not None]
    for dye in bonded:
        assert dye.fixed_at_end is not None  # noqa: S101 - as selected
        yield Figure(
            f"{dye.name}, bonded", show_percent(round(dye.fixed_frac or 0.0, 2)), _percent_span(dye.fixed_at_end)
        )
    if told.level is not None:
        yield Figure("Evenness", told.level.rating, "")
    if told.wash_off is not None:
        yield _rinses(told.wash_off)
    if told.felting is not None:
        yield _felting(told.felting)


def _rinses(wash: WashOff) -> Figure:
    litres = "" if wash.rinse_litres is None else f"{show_volume(wash.rinse_litres)} of water"
    return Figure("Rinses until clear", count_words(wash.rinses), litres)


def _felting(felting: Felting) -> Figure:
    return Figure("Felting", felting.rating, "a ranking, no promise")


def count_words(band: Band) -> str:
    """Return a count with its span: "2 (1–3)"; "not known" where there is none."""
    if band.mid is None:
        return "not known"
    low = "" if band.low is None else f"{band.low:.0f}"
    high = "more" if band.high is None else f"{band.high:.0f}"
    return f"{band.mid:.0f}" if low == high else f"{band.mid:.0f} ({low}–{high})"


def _percent_span(band: Band) -> str:
    if band.low is None or band.high is None:
        return ""
    return f"{100 * band.low:.0f}–{100 * band.high:.0f} % in nine of ten pots"
