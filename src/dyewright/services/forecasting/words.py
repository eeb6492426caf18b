"""When the bath is expected clear, in a dyer's words."""

from dataclasses import dataclass

from dyewright.core.model import ClearTime, DyeClass, Forecast, Sheet
from dyewright.core.uptake import CLEAR_READING

__all__ = ["ClearWords", "basis_words", "clear_words", "narrowing_words", "was_words"]


@dataclass(frozen=True)
class ClearWords:
    """The answer in a dyer's words: "Expect clear at 38 min", its span "(33–47)", how sure: "in 19 of 20 pots"."""

    headline: str
    span: str
    pots: str


def clear_words(told: Forecast) -> ClearWords:
    """Return when the bath is expected clear, in words; span and pots are empty where no model answers."""
    clear, cooled_frac = told.clear_at_min, told.cooled_clear_frac
    if clear.never_frac is None or cooled_frac is None:
        if told.dyes and all(dye.exhaustion is not None for dye in told.dyes):  # foretold, yet not by how clear it is
            return ClearWords("Go by time, heat and pH: this bath need not clear", "", "")
        return ClearWords("When this bath clears is not known", "", "")
    asked = {doubt.reading for doubt in told.doubts}
    seen = [reading.at_min for reading in told.observed.clarities if reading.exhaustion >= CLEAR_READING]
    seen = [at_min for at_min in seen if f"clarity at {at_min:.0f} min" not in asked]
    if seen:
        return ClearWords(f"Seen clear at {min(seen):.0f} min", "", "")
    hot, cooled = round(20 * (1 - clear.never_frac)), round(20 * cooled_frac)
    if clear.mid is not None:
        return ClearWords(f"Expect clear at {clear.mid:.0f} min", _span(clear), f"in {hot} of 20 pots")
    pots = f"of 20 such pots {hot or 'none'} clear hot, {cooled or 'none'} once cooled"
    if cooled_frac >= 0.5:
        return ClearWords("Expect it clear once cooled", "", pots)
    return ClearWords("Expect a tint to stay in the bath", "", pots)


def was_words(told: Forecast) -> str:
    """Return what was expected before, short, to stand beside what is expected now: "was 25–55"; empty if the same."""
    if told.before is None:
        return ""
    now, before = clear_words(told), clear_words(told.before)
    if before.span:
        return "" if before.span == now.span else f"was {before.span.strip('()')}"
    return "" if before.headline == now.headline else f"was: {before.headline[0].lower()}{before.headline[1:]}"


def _span(clear: ClearTime) -> str:
    low = "" if clear.low is None else f"{clear.low:.0f}"
    return f"({low} or later)" if clear.high is None else f"({low}–{clear.high:.0f})"


def narrowing_words(sheet: Sheet) -> str | None:
    """Return what the dyer could say to narrow a wide band: the kind of a dye, the water; None where both are said."""
    asked = []
    unknown = [dye.name for dye in sheet.card.dyes if dye.dye_class is DyeClass.ACID_UNKNOWN]
    if unknown:
        asked.append(f"the kind of {' and '.join(unknown)} (levelling, milling or metal complex: the maker knows)")
    if sheet.card.water.alkalinity_mg_l is None:
        asked.append("your water's alkalinity")
    return f"What would narrow this: {' and '.join(asked)}." if asked else None


def basis_words(told: Forecast) -> str:
    """Return what a forecast comes from, in a few words: class defaults, the studio's pots, this very bath."""
    sources = ["class defaults"]
    if any(part.pots for part in told.rests_on):
        sources.append("pots of this studio")
    if not told.observed.is_empty:
        sources.append("what was seen in this bath")
    return f"From {', '.join(sources[:-1])} and {sources[-1]}" if len(sources) > 1 else f"From {sources[0]}"
