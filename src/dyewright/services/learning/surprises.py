"""In what a pot went otherwise than foretold, and why that may be: from what was recorded, likeliest first."""

from collections.abc import Iterator

import numpy as np

from dyewright.core.model import DyeClass, Observed, Progress, Run, Sheet
from dyewright.core.uptake import CLEAR_READING
from dyewright.data.practice import load_stock_lives
from dyewright.services.learning.foretold import BEFORE, Foretold, foretold_in
from dyewright.units import show_percent, show_temperature

__all__ = ["otherwise", "reasons", "surprises"]

OFF_C = 3.0  # a thermometer moved about in a pot reads within 2 °C; estimate
OFF_PH = 0.5  # a strip is read to half a unit; common practice, no source
READ_WITHIN = 2.0**0.5  # a look is read to a quarter of a rung either way, and the curve is no closer; estimates
CLEAR_OFF_MIN = 5.0  # looks are minutes apart: clear was reached somewhere between two


def surprises(run: Run, sheet: Sheet, seen: Progress, observed: Observed) -> tuple[str, ...]:
    """Return sentences on what went otherwise than the forecast before, then why that may be; none where it held."""
    found = otherwise(run, observed)
    return (*found, *reasons(sheet, seen, observed)) if found else ()


def otherwise(run: Run, observed: Observed) -> tuple[str, ...]:
    """Return what was seen outside the band that was foretold before, the reading's own doubt allowed for."""
    before = foretold_in(run).get(BEFORE)
    return () if before is None else (*_bath_otherwise(before, observed), *_rinses_otherwise(before, observed))


def _bath_otherwise(before: Foretold, observed: Observed) -> Iterator[str]:
    clears = [look.at_min for look in observed.clarities if look.exhaustion >= CLEAR_READING]
    looks = [look for look in observed.clarities if look.exhaustion < CLEAR_READING]
    band = before.clear_at_min
    if clears and band.low is not None and min(clears) < band.low - CLEAR_OFF_MIN:
        yield f"The bath was clear at {min(clears):.0f} min, sooner than foretold ({band.low:.0f} at the earliest)."
    elif (
        clears
        and band.high is not None
        and min(clears) > band.high + CLEAR_OFF_MIN
        and any(look.at_min >= band.high for look in looks)
    ):
        yield f"The bath was clear at {min(clears):.0f} min, later than foretold ({band.high:.0f} at the latest)."
    else:
        yield from _looks_outside(before, [(look.at_min, look.exhaustion) for look in looks])


def _rinses_otherwise(before: Foretold, observed: Observed) -> Iterator[str]:
    rinses = before.rinses
    if observed.rinses is not None and rinses.low is not None and observed.rinses < rinses.low:
        yield f"Clear in rinse {observed.rinses}, {rinses.low:.0f} at least were foretold."
    if observed.rinses is not None and rinses.high is not None and observed.rinses > rinses.high:
        yield f"Clear only in rinse {observed.rinses}, {rinses.high:.0f} at most were foretold."


def _looks_outside(before: Foretold, looks: list[tuple[float, float]]) -> Iterator[str]:
    """Yield the look that lies furthest outside the band, if any does."""
    if not before.t_min or not looks:
        return
    worst: tuple[float, str] = (0.0, "")
    for at_min, exhaustion in looks:
        low, high = (float(np.interp(at_min, before.t_min, curve)) for curve in (before.low, before.high))
        darkest, palest = (1 - exhaustion) * READ_WITHIN, (1 - exhaustion) / READ_WITHIN
        short, past = palest - (1 - low), (1 - high) - darkest
        if max(short, past) > worst[0]:
            which = "less" if short > past else "more"
            said = (
                f"At {at_min:.0f} min {show_percent(round(exhaustion, 2))} of the dye was in, {which} than foretold "
                f"({100 * low:.0f}–{100 * high:.0f})."
            )
            worst = (max(short, past), said)
    if worst[1]:
        yield worst[1]


def reasons(sheet: Sheet, seen: Progress, observed: Observed) -> tuple[str, ...]:
    """Return what was recorded that may have made a pot go otherwise than planned."""
    return (*_heat(seen), *_acid(sheet, observed), *_additions(seen), *_dyes(sheet), *_water(sheet))


def _heat(seen: Progress) -> Iterator[str]:
    off = [
        (read.bath_c - read.planned_c, read)
        for read in seen.temperatures
        if read.planned_c is not None and read.at_min is not None and read.at_min > 0
    ]
    if not off:
        return
    by_c, read = max(off, key=lambda each: abs(each[0]))
    if abs(by_c) >= OFF_C:
        yield (
            f"The bath was {abs(by_c):.0f} °C {'hotter' if by_c > 0 else 'cooler'} than planned at "
            f"{read.at_min:.0f} min ({show_temperature(read.bath_c)})."
        )


def _acid(sheet: Sheet, observed: Observed) -> Iterator[str]:
    planned = [ph for ph in (sheet.ph_closed_low, sheet.ph_stripped_high, sheet.ph_closed) if ph is not None]
    for read in observed.phs:
        if planned and not min(planned) - OFF_PH <= read.ph <= max(planned) + OFF_PH:
            yield f"The bath was read at pH {read.ph:.1f}, planned was {min(planned):.1f} to {max(planned):.1f}."
            return


def _additions(seen: Progress) -> Iterator[str]:
    for added in seen.additions:
        amount = f", {added.amount}," if added.amount else ""
        when = "" if added.at_min is None else f" at {added.at_min:.0f} min"
        yield f"{added.what}{amount} was added{when}, which the sheet did not have."


def _dyes(sheet: Sheet) -> Iterator[str]:
    lives = load_stock_lives()
    for dye in sheet.card.dyes:
        life = lives.get(dye.dye_class)
        if life is not None and dye.mixed_days_ago > life.days:
            yield f"The stock of {dye.name} was {dye.mixed_days_ago:.0f} days old; {life.days:.0f} are usual."
        if dye.dye_class is DyeClass.ACID_UNKNOWN:
            yield f"What kind of acid dye {dye.name} is, is not known."


def _water(sheet: Sheet) -> Iterator[str]:
    if sheet.card.water.alkalinity_mg_l is None:
        yield "The water's alkalinity is not known: harder water uses up acid."
