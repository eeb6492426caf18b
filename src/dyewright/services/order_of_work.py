"""The order of work of one dyeing, from the dry skein to the dry skein, with each caution at its step."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from dyewright.core.model import (
    AssistantAmount,
    AssistantDose,
    Card,
    Caution,
    ClassGroup,
    DyeAmount,
    Enter,
    FibreGroup,
    HeatCurve,
    PotShare,
    SheetStep,
    StageHeat,
    StageKind,
    StepKind,
    StockHint,
    WhenKind,
)
from dyewright.errors import InputError
from dyewright.services.assistants import caution_key
from dyewright.services.card_defaults import class_group, fibre_group
from dyewright.units import show_duration, show_mass, show_temperature, show_volume

__all__ = ["Bench", "usual_rinses", "work_steps"]

MIXING_MIN, STIRRING_MIN, RINSE_MIN = 10.0, 5.0, 5.0  # estimates


@dataclass(frozen=True)
class Bench:
    """All that the order of work is written from."""

    card: Card
    dyes: Sequence[DyeAmount]
    assistants: Sequence[AssistantAmount]
    pots: Sequence[PotShare]
    curve: HeatCurve
    preheat_min: float
    tap_water_l: float
    liquor_l: float
    rinses: int
    cautions: dict[str, Caution]

    def caution(self, *keys: str) -> str:
        """Return the sentences of some cautions, in order."""
        return " ".join(self.cautions[key].sentence for key in keys)

    @property
    def is_cellulose(self) -> bool:
        """Whether the yarn is mostly cotton, linen or viscose."""
        return fibre_group(self.card.yarn) is FibreGroup.CELLULOSE

    @property
    def is_reactive(self) -> bool:
        """Whether a reactive dye is in the bath."""
        return any(dye.dye_class.is_reactive for dye in self.card.dyes)


def usual_rinses(card: Card) -> int:
    """Return how many rinses are usual before the forecast says better: acid dyes 2, reactive 5, direct 3.

    Common practice, no source.
    """
    if any(dye.dye_class.is_reactive for dye in card.dyes):
        return 5
    return 3 if any(class_group(dye.dye_class) is ClassGroup.DIRECT for dye in card.dyes) else 2


def work_steps(bench: Bench) -> tuple[SheetStep, ...]:
    """Return every step in its order.

    Raises:
        InputError: an addition is set for a temperature or a minute that the programme never comes to.
    """
    return (*_preparation(bench), *_bath_making(bench), *_at_the_pot(bench), *_finishing(bench))


def _preparation(bench: Bench) -> Iterator[SheetStep]:
    yarn = bench.card.yarn
    count = "each skein" if yarn.skeins is None else f"{yarn.skeins} skeins" if yarn.skeins > 1 else "the skein"
    yield SheetStep(
        key="weigh-and-tie",
        kind=StepKind.PREPARE,
        title="Weigh, tie and tag",
        text=f"Weigh the dry yarn: {show_mass(yarn.dry_g)} in all. Tie {count} loosely in 3 or 4 places with "
        "figure-of-eight ties, and fix a waterproof tag with its number.",
        duration_min=5,
    )
    if not yarn.is_scoured:
        yield SheetStep(
            key="scour",
            kind=StepKind.PREPARE,
            title="Scour",
            text="Lay the yarn in water of 40 to 50 °C with a few drops of neutral soap for 20 min, still; rinse in "
            "water as warm. Leave this out for yarn sold ready to dye.",
            caution=bench.caution("hot-water"),
            duration_min=20,
            is_wait=True,
        )
    yield SheetStep(
        key="soak",
        kind=StepKind.PREPARE,
        title="Soak until wet through",
        text=f"Soak in lukewarm water for 30 min{_soak_words(bench)}; press under so that no air is left. "
        "Then squeeze it out gently.",
        caution=_caution_for(bench, [d for d in bench.card.assistants if d.when.kind is WhenKind.SOAK]),
        duration_min=30,
        is_wait=True,
    )
    yield _dissolving(bench)


def _soak_words(bench: Bench) -> str:
    doses = _assistants_at(bench, lambda dose: dose.when.kind is WhenKind.SOAK)
    return f" with {_listed([_dose_words(bench, i) for i in doses])}" if doses else ""


def _dissolving(bench: Bench) -> SheetStep:
    is_powder = any(dye.stock_g_l is None or dye.make_stock is not None for dye in bench.dyes)
    key = "reactive-powder" if bench.is_reactive else "powder"
    return SheetStep(
        key="dissolve-dye",
        kind=StepKind.PREPARE,
        title="Dissolve and strain the dye" if is_powder else "Measure the dye",
        text=" ".join(_dye_words(bench, i) for i in range(len(bench.dyes))),
        caution=bench.caution(key) if is_powder else bench.caution("solution"),
        duration_min=MIXING_MIN,
    )


def _dye_words(bench: Bench, i: int) -> str:
    dye, resolution = bench.dyes[i], bench.card.scale_resolution_g
    if dye.stock_g_l is None:
        grams = _each_pot(bench, [pot.dye_g[i] for pot in bench.pots], lambda g: show_mass(g, resolution))
        water = "cold" if bench.card.dyes[i].dye_class.is_reactive else "warm"
        finish = "lukewarm" if water == "cold" else "hot"
        return (
            f"{dye.name}: weigh {show_mass(dye.dye_g, resolution)}, stir to a paste with a little {water} water, "
            f"dissolve in a cup of {finish} water, strain through a fine cloth.{grams}"
        )
    words = [] if dye.make_stock is None else [_stock_words(bench, dye, dye.make_stock)]
    shares = _each_pot(bench, [pot.stock_ml[i] or 0.0 for pot in bench.pots], lambda ml: show_volume(ml / 1000))
    measure = f"{show_volume((dye.stock_ml or 0) / 1000)} (or {show_mass(dye.stock_g or 0)})"
    shake = "Shake it" if words else f"{dye.name}: shake the {_percent(dye.stock_g_l)} stock"
    words.append(f"{shake}, measure {measure}.{shares}")
    return " ".join(words)


def _stock_words(bench: Bench, dye: DyeAmount, hint: StockHint) -> str:
    made = f"{show_mass(hint.powder_g, bench.card.scale_resolution_g)} in {show_volume(hint.volume_l)}, strained"
    if hint.powder_g == dye.dye_g:
        return f"{dye.name}: one stock for all pots, {_percent(hint.stock_g_l)}: {made}."
    return f"{dye.name}: too little to weigh as powder on this scale. Make a {_percent(hint.stock_g_l)} stock: {made}."


def _percent(stock_g_l: float) -> str:
    return f"{stock_g_l / 10:g} %"


def _each_pot(bench: Bench, values: Sequence[float], show: Callable[[float], str]) -> str:
    """Return the share of each pot as a sentence; nothing for a single pot."""
    if len(bench.pots) == 1:
        return ""
    return f" {', '.join(f'{pot.name} {show(v)}' for pot, v in zip(bench.pots, values, strict=True))}."


def _bath_making(bench: Bench) -> Iterator[SheetStep]:
    enter = bench.card.stages[0]
    enter_c = enter.at_c if isinstance(enter, Enter) else None
    before_dye = STIRRING_MIN * 2
    share = bench.tap_water_l / bench.liquor_l
    pots = _each_pot(bench, [pot.liquor_l * share for pot in bench.pots], show_volume)
    yield SheetStep(
        key="make-bath",
        kind=StepKind.PREPARE,
        title="Run the water",
        text=f"Put {show_volume(bench.tap_water_l)} of tap water into the pot; with dye, assistants and the wet "
        f"yarn's own water it makes {show_volume(bench.liquor_l)}.{pots}",
        at_min=-(before_dye + bench.preheat_min + MIXING_MIN),
        duration_min=MIXING_MIN,
    )
    if bench.preheat_min > 0 and enter_c is not None:
        yield SheetStep(
            key="warm-bath",
            kind=StepKind.PREPARE,
            title=f"Warm the bath to {show_temperature(enter_c)}",
            text=f"Heat to {show_temperature(enter_c)}, about {show_duration(bench.preheat_min)} at full heat; then "
            "turn the heat off.",
            at_min=-(before_dye + bench.preheat_min),
            duration_min=bench.preheat_min,
            is_wait=True,
        )
    yield SheetStep(
        key="add-dye",
        kind=StepKind.ADD,
        title="Stir in the dye",
        text="Stir the dye in before any yarn is in the pot. Keep a small glass of this bath: it is the first step of "
        "the clarity ladder.",
        caution=bench.caution("solution"),
        at_min=-before_dye,
        duration_min=STIRRING_MIN,
        at_c=enter_c,
    )
    yield from _start_additions(bench, enter_c)


def _start_additions(bench: Bench, enter_c: float | None) -> Iterator[SheetStep]:
    doses = _assistants_at(bench, lambda dose: dose.when.kind is WhenKind.START)
    if not doses:
        return
    yield SheetStep(
        key="add-start",
        kind=StepKind.ADD,
        title=f"Stir in the {_listed([bench.assistants[i].name for i in doses])}",
        text=f"Stir in {_listed([_dose_words(bench, i) for i in doses])}.",
        caution=_caution_for(bench, [bench.card.assistants[i] for i in doses]),
        at_min=-STIRRING_MIN,
        duration_min=STIRRING_MIN,
        at_c=enter_c,
    )


def _assistants_at(bench: Bench, is_then: Callable[[AssistantDose], bool]) -> list[int]:
    return [i for i, dose in enumerate(bench.card.assistants) if is_then(dose) and bench.assistants[i].amount > 0]


def _dose_words(bench: Bench, i: int) -> str:
    amount = bench.assistants[i]

    def show(value: float) -> str:
        return show_volume(value / 1000) if amount.unit == "mL" else show_mass(value)

    kitchen = f" ({amount.kitchen})" if amount.kitchen else ""
    pots = _each_pot(bench, [pot.assistants[i] for pot in bench.pots], show)
    return f"{show(amount.amount)}{kitchen} of {amount.name}" + (f" ({pots.strip().rstrip('.')})" if pots else "")


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _caution_for(bench: Bench, doses: Sequence[AssistantDose], *, is_yarn_in: bool = False) -> str | None:
    """Return the cautions of some additions, with the yarn lifted out where it is in the bath."""
    keys = list(dict.fromkeys(key for dose in doses if (key := caution_key(dose))))
    if is_yarn_in:
        joined = {"acid": "lift-acid", "alkali": "lift-alkali"}
        keys = [joined[keys[0]]] if len(keys) == 1 and keys[0] in joined else ["lift", *keys]
    return bench.caution(*keys) if keys else None


@dataclass(frozen=True)
class _Segment:
    """A piece of a stage between two additions."""

    stage: StageHeat
    start_min: float
    end_min: float
    start_c: float
    end_c: float


def _at_the_pot(bench: Bench) -> Iterator[SheetStep]:
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
    additions = _timed_additions(bench)
    numbers = {StageKind.TO: 0, StageKind.HOLD: 0, StageKind.COOL: 0}
    waiting = sorted(additions)
    is_checked = False
    for segment in _segments(bench, waiting):
        for at_min in [t for t in waiting if t <= segment.start_min + 1e-6]:
            waiting.remove(at_min)
            yield _addition(bench, at_min, additions[at_min], len(additions) - len(waiting))
        if segment.stage.kind is StageKind.COOL and not is_checked:
            is_checked = True
            yield _check(bench, segment.start_min, segment.start_c)
        numbers[segment.stage.kind] += 1
        yield _stage_step(bench, segment, numbers[segment.stage.kind])
    for at_min in waiting:
        yield _addition(bench, at_min, additions[at_min], len(additions))
    if not is_checked:
        yield _check(bench, bench.curve.t_min[-1], bench.curve.bath_c[-1])


def _timed_additions(bench: Bench) -> dict[float, list[int]]:
    """Return the assistants that go in with the yarn in the bath, by minute."""
    times: dict[float, list[int]] = {}
    for i, dose in enumerate(bench.card.assistants):
        if bench.assistants[i].amount <= 0 or dose.when.kind in {WhenKind.SOAK, WhenKind.START}:
            continue
        value = dose.when.value or 0.0
        if dose.when.kind is WhenKind.MINUTE:
            at_min = value
            found = value <= bench.curve.t_min[-1]
        else:
            at_min = next((t for t, c in _curve(bench) if c >= value - 0.05), -1.0)
            found = at_min >= 0
        if not found:
            asked = f"{value:g} min" if dose.when.kind is WhenKind.MINUTE else show_temperature(value)
            raise InputError(
                f"{dose.label} is to go in at {asked}, but the programme never comes there (it reaches "
                f"{show_temperature(max(bench.curve.bath_c))} and lasts {show_duration(bench.curve.t_min[-1])})",
                field=f"assistant.{i + 1}.when",
                value=value,
            )
        times.setdefault(at_min, []).append(i)
    return times


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


def _addition(bench: Bench, at_min: float, doses: Sequence[int], number: int) -> SheetStep:
    return SheetStep(
        key=f"add-{number}",
        kind=StepKind.ADD,
        title=f"Add the {_listed([bench.assistants[i].name for i in doses])}",
        text=f"Lift the yarn out on a rod and let it drip over the pot. Stir "
        f"{_listed([_dose_words(bench, i) for i in doses])} into about ten times as much water, pour that in slowly "
        "while stirring, then lower the yarn again.",
        caution=_caution_for(bench, [bench.card.assistants[i] for i in doses], is_yarn_in=True),
        at_min=at_min,
        duration_min=0.0,
        at_c=_at(bench, at_min),
    )


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


def _finishing(bench: Bench) -> Iterator[SheetStep]:
    clock = bench.curve.t_min[-1]
    drain = {"dripping": "let it drip", "squeezed": "squeeze it gently", "spun": "spin it"}[
        bench.card.rinse.drain.value
    ]
    yield SheetStep(
        key="lift-out",
        kind=StepKind.FINISH,
        title="Lift out and drain",
        text=f"Lift the yarn out on a rod and {drain}. Keep the bath until the skeins have been looked at.",
        caution=bench.caution("lift") if bench.curve.bath_c[-1] > 45 else None,
        at_min=clock,
        duration_min=RINSE_MIN,
    )
    clock += RINSE_MIN
    for number in range(1, bench.rinses + 1):
        yield _rinse(bench, number, drain, clock)
        clock += RINSE_MIN
    salted = bench.is_reactive or any(dye.dye_class.value.startswith("metal") for dye in bench.card.dyes)
    yield SheetStep(
        key="spent-bath",
        kind=StepKind.FINISH,
        title="Deal with the spent bath",
        text="Bring the bath to pH 6 to 9 (baking soda for an acid bath, vinegar for an alkaline one) and pour it away "
        "as local rules allow, or keep it for the next lot.",
        caution=bench.caution("dispose-septic" if salted else "dispose"),
        at_min=clock,
        duration_min=RINSE_MIN,
    )
    yield from _drying(bench, clock + RINSE_MIN)


def _rinse(bench: Bench, number: int, drain: str, clock: float) -> SheetStep:
    litres = show_volume(bench.card.rinse.water_l or bench.liquor_l)
    warmth, caution = "about as warm as the yarn", None
    if bench.is_cellulose and bench.is_reactive:
        warmth = "cold, to drop the salt" if number == 1 else "as hot as the tap gives, with a little neutral soap"
        caution = bench.caution("hot-water") if number > 1 else None
    last = " Rinse on if this water still shows colour in a white bowl." if number == bench.rinses else ""
    return SheetStep(
        key=f"rinse-{number}",
        kind=StepKind.RINSE,
        title=f"Rinse {number} of {bench.rinses}",
        text=f"{litres} of water, {warmth}. Lower and lift, do not swish; {drain}.{last}",
        caution=caution,
        at_min=clock,
        duration_min=RINSE_MIN,
    )


def _drying(bench: Bench, clock: float) -> Iterator[SheetStep]:
    yield SheetStep(
        key="spin",
        kind=StepKind.FINISH,
        title="Spin",
        text="Spin or press the water out in a towel.",
        caution=bench.caution("spin"),
        at_min=clock,
        duration_min=RINSE_MIN,
    )
    yield SheetStep(
        key="dry",
        kind=StepKind.FINISH,
        title="Dry in the shade",
        text="Shake the skeins out and hang them in moving air, out of the sun, until dry through. Judge the colour "
        "dry.",
        at_min=clock + RINSE_MIN,
        is_wait=True,
    )
    yield SheetStep(
        key="rewind",
        kind=StepKind.FINISH,
        title="Re-wind and keep the record",
        text="Take the ties off, re-wind the skeins and twist them up; keep the tags and a dried snip with this sheet.",
    )
