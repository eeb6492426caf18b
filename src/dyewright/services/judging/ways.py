"""The ways out of a verdict, with what the studio knows: dyes and their classes, swatches, cautions, labels."""

from dataclasses import replace

from dyewright.core.model import DyeClass, JudgeResult, Way, WayKind
from dyewright.core.skeins.lacking import Dyeing
from dyewright.core.skeins.verdict import advice
from dyewright.core.skeins.ways import reheat_words, ways
from dyewright.data.practice import load_cautions
from dyewright.services.judging.topping_up import ToppingUp, topped_up, topped_up_by_eye

__all__ = ["with_ways"]

DEFER = "The maker's safety sheets decide."


def with_ways(
    result: JudgeResult, dyeing: Dyeing | None = None, bench: ToppingUp | None = None, *, why_no_recipe: str = ""
) -> JudgeResult:
    """Return a verdict with what can be done now, and the advice that follows from it.

    Args:
        result: the verdict.
        dyeing: how the skeins were dyed, where it is known.
        bench: what a top-up is computed from, where there are swatches.
        why_no_recipe: why there is none of that, where it was looked for.
    """
    dyeing = dyeing or Dyeing()
    found = [_with_recipe(way, result, bench, why_no_recipe) for way in _found(result, dyeing, bench)]
    told = tuple(_with_caution(way, dyeing) for way in found)
    said = advice(result.skeins, result.pairs, result.sets, result.tolerance, told)
    return replace(result, ways=told, advice=(*said, *_no_help_from_heat(told, dyeing)))


def _found(result: JudgeResult, dyeing: Dyeing, bench: ToppingUp | None) -> list[Way]:
    """Return the ways; where swatches can tell, also toppings-up that the eye would not think of, if they help."""

    def ways_of(known: Dyeing) -> tuple[Way, ...]:
        return ways(result.skeins, result.pairs, result.sets, known, result.target)

    by_eye = ways_of(dyeing)
    if bench is None:
        return list(by_eye)
    seen = {way.skeins for way in by_eye if way.kind is WayKind.TOP_UP}
    more = ways_of(replace(dyeing, has_swatches=True))
    return [
        way
        for way in more
        if way.kind is not WayKind.TOP_UP or way.skeins in seen or topped_up(way, result, bench).top_up is not None
    ]


def _with_recipe(way: Way, result: JudgeResult, bench: ToppingUp | None, why_no_recipe: str) -> Way:
    if way.kind is not WayKind.TOP_UP:
        return way
    if bench is not None:
        return topped_up(way, result, bench)
    return topped_up_by_eye(way, why_no_recipe) if why_no_recipe else way


def _with_caution(way: Way, dyeing: Dyeing) -> Way:
    match way.kind:
        case WayKind.TOP_UP:
            powder = "reactive-powder" if any(one.is_reactive for one in dyeing.classes.values()) else "powder"
            return replace(way, caution=_cautions(powder, "lift-acid"))
        case WayKind.REHEAT:
            return replace(way, caution=_cautions("lift-acid", "cool"))
        case _:
            return way


def _cautions(*keys: str) -> str:
    return " ".join([*(load_cautions()[key].sentence for key in keys), DEFER])


def _no_help_from_heat(told: tuple[Way, ...], dyeing: Dyeing) -> list[str]:
    """Return why heating again is no way, where something is off and all dyes are known to stay where they are."""
    kinds = {way.kind for way in told}
    is_trouble = bool(kinds & {WayKind.RESKEIN, WayKind.TOP_UP, WayKind.SELL_APART})
    is_known = bool(dyeing.classes) and DyeClass.ACID_UNKNOWN not in dyeing.classes.values()
    if not is_trouble or not is_known or WayKind.REHEAT in kinds:
        return []
    return [f"Heating again does not help: {reheat_words(dyeing)}."]
