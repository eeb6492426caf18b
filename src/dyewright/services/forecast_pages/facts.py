"""The parts of a forecast in a dyer's words: level, the dyes together, what washes out, felting; each with its more."""

from collections.abc import Iterator
from dataclasses import dataclass

from dyewright.core.model import Band, Breaking, DyeForecast, Felting, Forecast, Levelness, Observed, WashOff, WashWay
from dyewright.services.forecasting.expected import count_words
from dyewright.services.forecasting.words import clear_words
from dyewright.units import show_percent, show_temperature, show_volume

__all__ = ["DyeLine", "Fact", "before_words", "dye_lines", "facts", "seen_words"]

POTS = 20  # shares are told as pots out of this many
SEEN_SHOWN = 3  # how many of the latest readings a sentence names
G_A_KG, MG_A_G, LEAST_G = 1000.0, 1000.0, 0.1
HARDLY_APART = 0.01  # a gap that needs no figure


@dataclass(frozen=True)
class DyeLine:
    """One dye of the block: its name and what is in at the end, in words."""

    name: str
    words: str


@dataclass(frozen=True)
class Fact:
    """One part of a forecast: `answer` in two or three words, `line` why, and `more` folded under `more_title`."""

    label: str
    answer: str
    line: str
    more_title: str = ""
    more: tuple[str, ...] = ()


def facts(told: Forecast) -> tuple[Fact, ...]:
    """Return what a forecast says beside the time to clear, only the parts that are known."""
    found = (
        None if told.level is None else _level(told.level),
        None if told.breaking is None else _breaking(told.breaking),
        None if told.wash_off is None else _wash_off(told.wash_off),
        None if told.felting is None else _felting(told.felting),
    )
    return tuple(fact for fact in found if fact is not None)


def dye_lines(told: Forecast) -> tuple[DyeLine, ...]:
    """Return what is in of each dye at the end, and what of it has bonded."""
    return tuple(DyeLine(dye.name, _dye_words(dye)) for dye in told.dyes)


def _dye_words(dye: DyeForecast) -> str:
    if dye.exhaustion is None or dye.low is None or dye.high is None:
        return "not foretold"
    mid, low, high = dye.exhaustion[-1], dye.low[-1], dye.high[-1]
    words = f"{show_percent(round(mid, 2))} in at the end ({100 * low:.0f}–{100 * high:.0f})"
    if dye.fixed_frac is None:
        return words
    bonded = show_percent(round(dye.fixed_frac, 2)) + _percent_span(dye.fixed_at_end)
    spent = "" if not dye.hydrolysed_frac else f", {show_percent(round(dye.hydrolysed_frac, 2))} spent on water"
    return f"{words}, {bonded} bonded{spent}"


def _percent_span(band: Band | None) -> str:
    if band is None or band.low is None or band.high is None:
        return ""
    return f" ({100 * band.low:.0f}–{100 * band.high:.0f})"


def _level(level: Levelness) -> Fact:
    rate = (
        f"Dye goes in at up to {level.peak_pct_per_min:.1f} % a minute; turned this often, the yarn evens out "
        f"about {level.limit_pct_per_min:.1f}."
    )
    zone = ""
    if level.zone_c is not None:
        low, high = level.zone_c
        zone = f" Most of it goes in between {low:.0f} and {show_temperature(high)}."
    uneven = "" if level.uneven_frac is None else f"Uneven in {_pots(level.uneven_frac)}. "
    return Fact("Level", _capital(level.rating), f"{uneven}{rate}{zone}", "What would change it", level.advice)


def _pots(share: float) -> str:
    count = round(POTS * share)
    return f"{count or 'none'} of {POTS} such pots"


def _breaking(broken: Breaking) -> Fact:
    apart = f"{show_percent(round(broken.max_gap, 2))} apart at most, at {show_temperature(broken.at_c)}"
    if broken.max_gap < HARDLY_APART:
        return Fact("The dyes together", f"They {broken.rating}", "Less than 1 % apart all the way.")
    who = f"{broken.first} leads {broken.last}, {apart}." if broken.first and broken.last else f"{_capital(apart)}."
    return Fact("The dyes together", f"They {broken.rating}", who, "What would change it", broken.advice)


def _wash_off(wash: WashOff) -> Fact:
    answer = f"Clear in {_rinses(wash.rinses)}" if wash.rinses.mid is not None else "Rinses not known"
    parts = [] if wash.rinse_litres is None else [f"{show_volume(wash.rinse_litres)} in all"]
    if wash.unfixed_owf is not None:
        parts.append(f"{_small_mass(G_A_KG * wash.unfixed_owf)} of dye comes off a kilogram of yarn")
    line = f"{_capital(', '.join(parts))}." if parts else ""
    return Fact("Washes out", answer, line, "Rinse by rinse, and other ways", tuple(_wash_more(wash)))


def _small_mass(mass_g: float) -> str:
    """Return a mass to two digits, in mg below a tenth of a gram."""
    return f"{_two_digits(mass_g)} g" if mass_g >= LEAST_G else f"{_two_digits(MG_A_G * mass_g)} mg"


def _two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


def _rinses(band: Band) -> str:
    words = count_words(band)
    return f"{words} rinse" if words == "1" else f"{words} rinses"


def _wash_more(wash: WashOff) -> Iterator[str]:
    for number, water in enumerate(wash.planned.waters, start=1):
        soap = ", with soap" if water.has_soap else ""
        dye = "" if water.dye_mg_l.mid is None else f", about {_two_digits(water.dye_mg_l.mid)} mg/L of dye in it"
        amount = f"{show_volume(water.litres)} at {show_temperature(water.at_c)}"
        yield f"Rinse {number}: {amount}{soap}{dye}: {water.what_for}."
    for word, way in (("Less water", wash.cheaper), ("Gentler on the yarn", wash.gentler)):
        if way is not None:
            yield f"{word}: {_way(way)}."
    if wash.spotless.mid is not None:
        yield f"Without the faintest tint: {_rinses(wash.spotless)}."
    yield from wash.notes


def _way(way: WashWay) -> str:
    return f"{way.title[0].lower()}{way.title[1:]}, {_rinses(way.rinses)}, {show_volume(way.litres)}"


def _felting(felting: Felting) -> Fact:
    more = tuple(f"{_capital(name)}: {show_percent(round(share, 2))} of it." for name, share in felting.shares)
    line = felting.gentler or "A ranking of this work against usual work, never a promise."
    return Fact("Felting", _capital(felting.rating), line, "What of the work adds to it", more)


def before_words(told: Forecast) -> str | None:
    """Return what was seen and what was expected before it; None where nothing was seen."""
    if told.before is None:
        return None
    words = clear_words(told.before)
    answer = f"{words.headline[0].lower()}{words.headline[1:]} {words.span}".rstrip()
    return f"{seen_words(told.observed)}. Before anything was seen: {answer}."


def seen_words(observed: Observed) -> str:
    """Return the latest of what was seen, in words: "87 % in at 21 min, 82 °C at 25 min"."""
    timed = [
        *((look.at_min, f"{show_percent(look.exhaustion)} in at {look.at_min:.0f} min") for look in observed.clarities),
        *((read.at_min, f"{show_temperature(read.bath_c)} at {read.at_min:.0f} min") for read in observed.temperatures),
        *((read.at_min, f"pH {read.ph:.3g} at {read.at_min:.0f} min") for read in observed.phs),
    ]
    untimed = [
        f"{show_percent(look.exhaustion)} in at {show_temperature(look.bath_c)}" for look in observed.clarities_at_heat
    ]
    said = [*untimed, *(words for _, words in sorted(timed))]
    if observed.rinses is not None:
        said.append(f"clear in rinse {observed.rinses}")
    return _capital(", ".join(said[-SEEN_SHOWN:]))


def _capital(text: str) -> str:
    return text if text.startswith("pH") else text[:1].upper() + text[1:]
