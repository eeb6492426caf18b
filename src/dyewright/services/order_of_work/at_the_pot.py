"""From minute 0 to the end of the programme: entering, heating, holding, adding, cooling, and whether it is done."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from dyewright.core.model import Enter, SheetStep, StageHeat, StageKind, StepKind
from dyewright.services.order_of_work.bench import Bench
from dyewright.services.order_of_work.moments import Addition, addition_steps, additions
from dyewright.units import show_duration, show_temperature

__all__ = ["at_the_pot"]


@dataclass(frozen=True)
class _Segment:
    """A piece of a stage between two additions."""

    stage: StageHeat
    start_min: float
    end_min: float
    start_c: float
    end_c: float


def at_the_pot(bench: Bench) -> Iterator[SheetStep]:
    """Yield the steps from entering the yarn to the look whether it is done, each addition at its moment."""
    enter = bench.card.stages[0]
    yield SheetStep(
        key="enter",
        kind=StepKind.ENTER,
        title="Enter the yarn, heat on",
        text="Lower the wet yarn in on a rod, all at once, and turn it slowly over for the first minutes. Heat on, "
        f"{'lid on' if all(pot.has_lid for pot in bench.card.pots) else 'no draught'}: this is minute 0, write the "
        "time down.",
        caution=bench.caution("steam") if isinstance(enter, Enter) and enter.at_c > 40 else None,
        at_min=0.0,
        duration_min=0.0,
        at_c=enter.at_c if isinstance(enter, Enter) else None,
    )
    coming = additions(bench)
    cuts = [addition.at_min for addition in coming]
    numbers = {StageKind.TO: 0, StageKind.HOLD: 0, StageKind.COOL: 0}
    done = 0
    is_checked = False
    for segment in _segments(bench, cuts):
        while done < len(coming) and coming[done].at_min <= segment.start_min + 1e-6:
            done += 1
            yield from _added(bench, coming[done - 1], done)
        if segment.stage.kind is StageKind.COOL and not is_checked:
            is_checked = True
            yield _check(bench, segment.start_min, segment.start_c)
        numbers[segment.stage.kind] += 1
        yield _stage_step(bench, segment, numbers[segment.stage.kind])
    for number, addition in enumerate(coming[done:], start=done + 1):
        yield from _added(bench, addition, number)
    if not is_checked:
        yield _check(bench, bench.curve.t_min[-1], bench.curve.bath_c[-1])


def _added(bench: Bench, addition: Addition, number: int) -> Iterator[SheetStep]:
    return addition_steps(bench, addition, number, _at(bench, addition.at_min))


def _curve(bench: Bench) -> Iterator[tuple[float, float]]:
    return zip(bench.curve.t_min, bench.curve.bath_c, strict=True)


def _segments(bench: Bench, cuts: Sequence[float]) -> Iterator[_Segment]:
    for stage in bench.curve.stages:
        if stage.end_min - stage.start_min < 0.05:
            continue
        edges = [stage.start_min, *(t for t in cuts if stage.start_min < t < stage.end_min), stage.end_min]
        for start, end in pairwise(edges):
            yield _Segment(stage, start, end, _at(bench, start), _at(bench, end))


def _at(bench: Bench, minute: float) -> float:
    """Return the expected temperature at a minute, from the point of the curve next to it."""
    return min(_curve(bench), key=lambda point: abs(point[0] - minute))[1]


def _stage_step(bench: Bench, segment: _Segment, number: int) -> SheetStep:
    stage, minutes = segment.stage, segment.end_min - segment.start_min
    kind, key, title, text = _stage_words(bench, segment, minutes)
    return SheetStep(
        key="cool" if stage.kind is StageKind.COOL and number == 1 else f"{key}-{number}",
        kind=kind,
        title=title,
        text=text,
        caution=_stage_caution(bench, segment),
        at_min=segment.start_min,
        duration_min=minutes,
        until_min=segment.end_min,
        at_c=segment.start_c,
        is_wait=True,
    )


def _stage_caution(bench: Bench, segment: _Segment) -> str | None:
    if segment.stage.kind is StageKind.COOL:
        return bench.caution("cool")
    return bench.caution("steam") if segment.end_c > 45 else None


def _stage_words(bench: Bench, segment: _Segment, minutes: float) -> tuple[StepKind, str, str, str]:
    stage, to = segment.stage, show_temperature(segment.end_c)
    turning = _turning_words(bench)
    if stage.kind is StageKind.COOL:
        lid = "under the lid" if all(pot.has_lid for pot in bench.card.pots) else "by itself"
        text = f"Heat off. Let it cool {lid} to {to}: about {show_duration(minutes)}, or overnight."
        return StepKind.COOL, "cool", f"Cool {lid} to {to}", text
    if stage.kind is StageKind.HOLD:
        keep = show_temperature(segment.start_c)
        boil = " Do not let it boil." if segment.start_c >= 80 else ""
        text = f"Keep it at {keep} for {show_duration(minutes)}.{boil} {turning}"
        return StepKind.HOLD, "hold", f"Hold at {keep}", text
    given = (segment.end_c - segment.start_c) / minutes
    if stage.asked_c_per_min is None:
        how = f"Heat fully on: this pot gives about {given:.1f} °C a minute"
    elif stage.is_short:
        how = f"Heat fully on: this pot gives {given:.1f} °C a minute, not the {stage.asked_c_per_min:g} asked for"
    else:
        how = f"Raise it by {stage.asked_c_per_min:g} °C a minute"
    text = f"{how}; {to} after {show_duration(minutes)}. {turning}"
    return StepKind.HEAT, "ramp", f"Raise to {to}", text


def _turning_words(bench: Bench) -> str:
    turns = min(pot.turns_per_min or 0 for pot in bench.card.pots)
    if turns <= 0:
        return "Leave the yarn still."
    if turns >= 1:
        return "Keep the yarn turning gently."
    return f"Lift and turn the yarn gently every {show_duration(1 / turns)}."


def _check(bench: Bench, at_min: float, at_c: float) -> SheetStep:
    if bench.is_cellulose and bench.is_reactive:
        text = (
            "Done means time, temperature and pH here, not a clear bath: part of the dye stays in it. Snip a thread, "
            "rinse and dry it, and compare it with the target."
        )
    else:
        text = (
            "Hold a spoonful of bath against white: is it clear? Snip a thread, dry it and compare it with the target "
            "before you give more dye or more time."
        )
    return SheetStep(
        key="check",
        kind=StepKind.HOLD,
        title="Is it done?",
        text=text,
        caution=bench.caution("steam") if at_c > 45 else None,
        at_min=at_min,
        duration_min=0.0,
        at_c=at_c,
    )
