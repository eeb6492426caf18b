"""Questions about one value that can hardly be: what it may have been meant as, each answer one tap away.

The pot screen's script asks the same out of reach of the studio (static/js/questions.js); a test holds the two to each
other. The limits are common practice, no source, but for the boiling point.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from dyewright.errors import InputError
from dyewright.units import show_temperature

__all__ = ["Question", "SureLimits", "Way", "ask", "ask_or_refuse", "sure_limits"]

BOILING_C, THERMOMETER_C = 100.0, 5.0  # water at sea level; what a kitchen thermometer may read too much
COLDEST_C = 0.0
PRESSURE_C = 140.0  # a pressure vessel's limit: up to here it may be right after all
ACID_BATH_PH, OTHER_BATH_PH = (2.0, 9.0), (4.0, 13.0)
NEUTRAL_PH, HIGHEST_PH = 7.0, 14.0
MOST_WATERS, MOST_WATERS_SURE = 15, 40
FAHRENHEIT_ZERO_F, FAHRENHEIT_PER_C = 32.0, 1.8
ROOM_C = 10.0  # a slipped decimal point is offered only where the bath could then be no colder than this


@dataclass(frozen=True)
class SureLimits:
    """Between which values nobody needs to be asked."""

    temperature_c: tuple[float, float]
    ph: tuple[float, float]
    rinses: tuple[int, int] = (1, MOST_WATERS)


@dataclass(frozen=True)
class Way:
    """One answer: what its button says, and what it records. `is_sure` where the value is to be kept as it is."""

    words: str
    kind: str
    value: str
    is_sure: bool = False


@dataclass(frozen=True)
class Question:
    """A question about a value that was typed; `kind` and `value` are as the form sent them."""

    kind: str
    value: str
    text: str
    ways: tuple[Way, ...]

    @property
    def sentence(self) -> str:
        """The question with its answers as one sentence, where there are no buttons."""
        meant = " or ".join(way.words for way in self.ways if way.kind != "note" and not way.is_sure)
        return f"{self.text} Did you mean {meant}?" if meant else self.text


def sure_limits(planned_ph: float | None) -> SureLimits:
    """Return between which values a reading of a bath planned at this pH needs no question; None is taken for acid."""
    is_acid = planned_ph is None or planned_ph < NEUTRAL_PH
    return SureLimits((COLDEST_C, BOILING_C + THERMOMETER_C), ACID_BATH_PH if is_acid else OTHER_BATH_PH)


def ask(kind: str, number: float, limits: SureLimits) -> Question | None:
    """Return the question that a value calls for; None where it needs none."""
    match kind:
        case "temperature":
            return _about_temperature(number, limits.temperature_c)
        case "ph":
            return _about_ph(number, limits.ph)
        case "rinsed":
            return _about_rinses(number, limits.rinses)
    return None


def ask_or_refuse(kind: str, number: float, limits: SureLimits, *, field: str) -> None:
    """Refuse a value that calls for a question, with the question as the sentence.

    Raises:
        InputError: the value can hardly be.
    """
    if question := ask(kind, number, limits):
        raise InputError(question.sentence, field=field, value=number)


def _about_temperature(bath_c: float, sure: tuple[float, float]) -> Question | None:
    low, high = sure
    if low <= bath_c <= high:
        return None
    shown = show_temperature(bath_c)
    as_f = (bath_c - FAHRENHEIT_ZERO_F) / FAHRENHEIT_PER_C
    if bath_c < low:
        text, meant = f"{shown} is ice, and a dye bath is not.", [-bath_c] if -bath_c <= high else []
    else:
        text = f"{shown} is beyond a pot: water boils at {show_temperature(BOILING_C)}."
        meant = [bath_c / 10] if ROOM_C <= bath_c / 10 <= high else []
    ways = [Way(show_temperature(round(at_c, 1)), "temperature", f"{round(at_c, 1):g}") for at_c in meant]
    if bath_c > high and ROOM_C <= as_f <= high:
        ways.insert(0, Way(f"{bath_c:g} °F, {show_temperature(as_f)}", "temperature", f"{bath_c:g} F"))
    elif bath_c > high:
        text += f" {bath_c:g} °F would be {show_temperature(as_f)}."
    return _question("temperature", bath_c, text, ways, can_be=high < bath_c <= PRESSURE_C, noted=shown)


def _about_ph(ph: float, sure: tuple[float, float]) -> Question | None:
    low, high = sure
    if low <= ph <= high:
        return None
    if not 0 <= ph <= HIGHEST_PH:
        text = f"pH {ph:g} is off the scale: it goes from 0 to 14."
    elif ph < low:
        text = f"pH {ph:g} is as sour as strong mineral acid."
    elif high == ACID_BATH_PH[1]:
        text = f"pH {ph:g} in an acid bath: no dye would stay on the yarn there."
    else:
        text = f"pH {ph:g} is as caustic as lye."
    ways = [Way(f"pH {ph / 10:g}", "ph", f"{ph / 10:g}")] if ph > HIGHEST_PH and low <= ph / 10 <= high else []
    return _question("ph", ph, text, ways, can_be=0 <= ph <= HIGHEST_PH, noted=f"pH {ph:g}")


def _about_rinses(waters: float, sure: tuple[int, int]) -> Question | None:
    low, high = sure
    is_whole = waters == int(waters)
    if is_whole and low <= waters <= high:
        return None
    if not is_whole or waters < low:
        text = f"{waters:g} rinses cannot be counted: the first clear one counts too, so it is 1 or more."
        return _question("rinsed", waters, text, [], can_be=False, noted=f"{waters:g} rinses")
    digits = dict.fromkeys(int(digit) for digit in f"{waters:.0f}" if digit != "0")
    ways = [Way(_waters(digit), "rinsed", str(digit)) for digit in digits]
    text = f"{waters:.0f} rinses are more than a yarn is given."
    return _question("rinsed", waters, text, ways, can_be=waters <= MOST_WATERS_SURE, noted=_waters(int(waters)))


def _waters(count: int) -> str:
    return f"{count} rinse" if count == 1 else f"{count} rinses"


def _question(kind: str, number: float, text: str, ways: Iterable[Way], *, can_be: bool, noted: str) -> Question:
    """Return a question whose last answers keep what was typed: as it is where it can be, else as a note."""
    value = f"{number:g}"
    kept = Way(f"{noted} is right", kind, value, is_sure=True) if can_be else Way("Keep it as a note", "note", noted)
    return Question(kind, value, text, (*ways, kept))
