"""What an experiment can vary: how a value is read and written, how its steps are spaced, and what a card becomes."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from dyewright import units
from dyewright.core.experiment import spaced
from dyewright.core.model import AssistantDose, Card, Factor, To
from dyewright.errors import InputError
from dyewright.units import show_percent

__all__ = ["FACTORS", "FactorFacts", "along", "blank_card", "steps_of", "usual_span", "varied_card"]

USUAL_DEPTH_OWF = 0.01  # a middling shade: common practice, no source


@dataclass(frozen=True)
class FactorFacts:
    """One factor: its words, its bounds, how finely a step is set, and how it is read and written.

    `low` and `high` bound what a small bath can be given (estimate); `telling` is a span that shows a factor at work
    (common practice, no source).
    """

    factor: Factor
    words: str
    about: str
    low: float
    high: float
    telling: tuple[float, float]
    is_geometric: bool
    read: Callable[[str, str], float]
    show: Callable[[float], str]
    decimals: int

    @property
    def spacing(self) -> str:
        """How the steps are spaced, in words."""
        return "by ratio, as the eye sees depth" if self.is_geometric else "evenly"


def _read_depth(text: str, field: str) -> float:
    return units.frac(text, field=field, thing="depth", bare_percent=True)


def _read_ph(text: str, field: str) -> float:
    return units.ph(text, field=field)


def _read_ramp(text: str, field: str) -> float:
    return units.ramp_c_per_min(text, field=field, default_unit="C/min")


def _read_liquor(text: str, field: str) -> float:
    return units.liquor_l_kg(text, field=field, default_unit="L/kg")


FACTORS = {
    Factor.DEPTH: FactorFacts(
        factor=Factor.DEPTH,
        words="Depth of shade",
        about="how the colour grows with the dye",
        low=0.0002,
        high=0.08,
        telling=(0.001, 0.04),
        is_geometric=True,
        read=_read_depth,
        show=show_percent,
        decimals=6,
    ),
    Factor.PH: FactorFacts(
        factor=Factor.PH,
        words="pH",
        about="how much acid it takes",
        low=2.5,
        high=8.0,
        telling=(3.0, 7.0),
        is_geometric=False,
        read=_read_ph,
        show=lambda value: f"pH {value:g}",
        decimals=1,
    ),
    Factor.RAMP: FactorFacts(
        factor=Factor.RAMP,
        words="Heating rate",
        about="how fast it may be heated",
        low=0.1,
        high=5.0,
        telling=(0.3, 3.0),
        is_geometric=False,
        read=_read_ramp,
        show=lambda value: f"{value:g}\u202f°C/min",
        decimals=2,
    ),
    Factor.LIQUOR: FactorFacts(
        factor=Factor.LIQUOR,
        words="Liquor ratio",
        about="how much water it swims in",
        low=10.0,
        high=200.0,
        telling=(15.0, 80.0),
        is_geometric=False,
        read=_read_liquor,
        show=lambda value: f"{value:g}:1",
        decimals=0,
    ),
}


def steps_of(facts: FactorFacts, first: float, last: float, steps: int) -> tuple[float, ...]:
    """Return the values of a series, set as finely as the factor can be.

    Raises:
        InputError: two steps come out alike.
    """
    exact = spaced(first, last, steps, is_geometric=facts.is_geometric)
    inner = [_rounded(facts, value) for value in exact[1:-1]]
    values = (first, *inner, last)
    if len(set(values)) < len(values):
        raise InputError(
            f"{steps} steps from {facts.show(first)} to {facts.show(last)} are too fine to set apart: take fewer "
            "steps, or a wider span",
            field="steps",
            value=steps,
        )
    return values


def _rounded(facts: FactorFacts, value: float) -> float:
    """Return a step as it is set: depth to two digits, the others to what can be read."""
    return float(f"{value:.2g}") if facts.is_geometric else round(value, facts.decimals)


def usual_span(facts: FactorFacts, depth_owf: float) -> tuple[float, float, int]:
    """Return the first value, the last and the number of steps that are offered for dyes of a depth together."""
    if facts.factor is Factor.DEPTH:
        total = depth_owf or USUAL_DEPTH_OWF
        return max(facts.low, _rounded(facts, total / 4)), min(facts.high, _rounded(facts, total * 4)), 5
    return {
        Factor.PH: (4.0, 7.0, 4),
        Factor.RAMP: (0.5, 2.0, 3),
        Factor.LIQUOR: (20.0, 60.0, 3),
    }[facts.factor]


def varied_card(card: Card, factor: Factor, value: float) -> Card:
    """Return the card of one sample: the shared one but for the factor.

    Raises:
        InputError: the card has nothing to vary: no dye, no acid, no heating.
    """
    match factor:
        case Factor.DEPTH:
            total = sum(dye.depth_owf for dye in card.dyes)
            if not total > 0:
                raise InputError("a card without dye has no depth to vary; give its dyes a depth", field="dye.1.depth")
            dyes = tuple(replace(dye, depth_owf=dye.depth_owf / total * value) for dye in card.dyes)
            return replace(card, dyes=dyes)
        case Factor.PH:
            return replace(card, assistants=_to_ph(card.assistants, value))
        case Factor.RAMP:
            if not any(isinstance(stage, To) for stage in card.stages):
                raise InputError("this programme is not heated, so there is no rate to vary", field="factor")
            rising = (replace(one, rate_c_per_min=value) if isinstance(one, To) else one for one in card.stages)
            return replace(card, stages=tuple(rising))
        case Factor.LIQUOR:
            return replace(card, liquor_l_kg=value, water_l=None)


def _to_ph(assistants: tuple[AssistantDose, ...], target_ph: float) -> tuple[AssistantDose, ...]:
    """Return the assistants with the first acid brought to a pH, and no second one beside it."""
    acids = [dose for dose in assistants if dose.substance.is_acid]
    if not acids:
        raise InputError(
            "no acid is named, so the pH cannot be varied: name one, for example white vinegar 5 %", field="acid"
        )
    main = AssistantDose(acids[0].label, acids[0].substance, acids[0].strength, target_ph=target_ph, when=acids[0].when)
    return (main, *(dose for dose in assistants if not dose.substance.is_acid))


def blank_card(card: Card) -> Card:
    """Return the card of the blank: the same bath and work without dye."""
    return replace(card, dyes=tuple(replace(dye, depth_owf=0.0) for dye in card.dyes))


def along(factor: Factor, card: Card) -> tuple[str, ...]:
    """Return what else changes with the factor, or stays the same, and what that means."""
    match factor:
        case Factor.DEPTH:
            several = len(card.dyes) > 1
            return (
                "The dyes keep their proportions; only the sum of their depths changes." if several else "",
                "Acid, water and heat are the same in every jar.",
            )[0 if several else 1 :]
        case Factor.PH:
            return (
                "Each jar gets its own acid, computed from your water, the yarn and its pH; all else is the same.",
                "All jars stand in one water bath and rise together.",
            )
        case Factor.RAMP:
            return (
                "Each sample is heated on its own, one after another, every rise of the programme at its rate.",
                "A slower sample is also longer in the bath: that is part of what a slow rise does.",
            )
        case Factor.LIQUOR:
            return (
                "The dye stays the same on weight of yarn, so more water makes a weaker bath.",
                "More water also needs more acid for the same pH: each jar's acid is computed for its own water.",
            )
