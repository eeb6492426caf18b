"""After the programme: lifting out, after-treating, rinsing, the spent bath, drying, re-winding.

Source: [1] A. D. Broadbent, Basic Principles of Textile Coloration, SDC 2001, p. 356: deep reactive shades on wool are
after-treated at 80 °C for about 15 minutes with ammonia at pH 8.0 to 8.5, then rinsed with acid.
"""

from collections.abc import Iterator

from dyewright.core.model import Drain, DyeClass, Handling, SheetStep, StepKind
from dyewright.services.order_of_work.bench import Bench
from dyewright.services.rinse_waters import bonds_on_cellulose, is_after_treated, rinse_kind
from dyewright.units import show_temperature, show_volume

__all__ = ["finishing"]

RINSE_MIN = 5.0  # estimate
DRAIN_WORDS = {
    Drain.DRIPPING: "let it drip",
    Drain.SQUEEZED: "squeeze it gently",
    Drain.SPUN: "spin it",
}
HANDLING_WORDS = {
    Handling.STILL: "Let it lie still for five minutes",
    Handling.LIFTED: "Lower and lift, do not swish",
    Handling.SWISHED: "Swish it slowly",
    Handling.UNDER_THE_TAP: "Let the tap run through it, without a hard jet",
}
COUNT_THE_WATERS = (
    " Is it clear in a white bowl? The first clear water ends the rinsing; if it still shows colour, take another. "
    "Count the rinses and note it at the pot."
)
HOT_C = 45.0  # from here on water scalds in time
AFTER_TREAT_C, AFTER_TREAT_MIN, HEAT_AGAIN_MIN, COOL_AGAIN_MIN = 80.0, 15.0, 30.0, 40.0  # [1]; the last two estimates


def finishing(bench: Bench) -> Iterator[SheetStep]:
    """Yield the steps from lifting the yarn out to the re-wound skein."""
    clock = bench.curve.t_min[-1]
    drain = DRAIN_WORDS[bench.card.rinse.drain]
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
    if is_after_treated(bench.card):
        yield from _after_treatment(bench, clock)
        clock += HEAT_AGAIN_MIN + AFTER_TREAT_MIN + COOL_AGAIN_MIN
    for number in range(1, bench.rinses + 1):
        yield _rinse(bench, number, drain, clock)
        clock += RINSE_MIN
    salted = bench.is_reactive or any(dye.dye_class is DyeClass.METAL_COMPLEX for dye in bench.card.dyes)
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


def _after_treatment(bench: Bench, clock: float) -> Iterator[SheetStep]:
    """Yield the after-treatment of a deep reactive shade on wool [1]."""
    yield SheetStep(
        key="after-bath",
        kind=StepKind.FINISH,
        title="Fresh bath with ammonia",
        text=f"In a second pot, or in this one once the dye bath has been ladled out: {show_volume(bench.liquor_l)} of "
        "fresh water at about 40 °C. Stir in household ammonia, a little at a "
        "time, until a strip shows pH 8 to 8.5, no higher. Then lower the yarn in and raise it to "
        f"{show_temperature(AFTER_TREAT_C)}.",
        caution=bench.caution("ammonia"),
        at_min=clock,
        duration_min=HEAT_AGAIN_MIN,
    )
    yield SheetStep(
        key="after-treat",
        kind=StepKind.FINISH,  # not a hold of the programme: what is read from holds speaks of the dye bath
        title=f"Hold at {show_temperature(AFTER_TREAT_C)}, then cool",
        text=f"Keep it there for {AFTER_TREAT_MIN:g} min, turning the yarn gently once or twice; this brings loose dye "
        "out. Heat off, cool under the lid until the yarn can be lifted.",
        caution=bench.caution("ammonia", "steam", "cool"),
        at_min=clock + HEAT_AGAIN_MIN,
        duration_min=AFTER_TREAT_MIN + COOL_AGAIN_MIN,
        at_c=AFTER_TREAT_C,
        is_wait=True,
    )


def _rinse(bench: Bench, number: int, drain: str, clock: float) -> SheetStep:
    card = bench.card
    kind = rinse_kind(card, number, bench.curve.bath_c[-1])
    is_sour = number == 1 and is_after_treated(card)
    sour = " Add vinegar until a strip shows pH 5 to 6: it neutralises what is left of the ammonia." if is_sour else ""
    last = COUNT_THE_WATERS if number == bench.rinses else ""
    cautions = [*(["acid"] if is_sour else []), *(["hot-water"] if kind.at_c > HOT_C else [])]
    return SheetStep(
        key=f"rinse-{number}",
        kind=StepKind.RINSE,
        title=f"Rinse {number} of {bench.rinses}",
        text=f"{show_volume(card.rinse.water_l or bench.liquor_l)} of water, {_warmth_words(bench, number)}.{sour} "
        f"{HANDLING_WORDS[card.rinse.handling]}; {drain}.{last}",
        caution=bench.caution(*cautions) if cautions else None,
        at_min=clock,
        duration_min=RINSE_MIN,
    )


def _warmth_words(bench: Bench, number: int) -> str:
    """Return how warm a water is and what is in it."""
    kind = rinse_kind(bench.card, number, bench.curve.bath_c[-1])
    soap = ", with a little neutral soap" if kind.has_soap else ""
    if bench.card.rinse.at_c is not None:
        return f"at {show_temperature(kind.at_c)}{soap}"
    if not bonds_on_cellulose(bench.card):
        return f"about as warm as the yarn{soap}"
    return "cold, to drop the salt" if number == 1 else f"as hot as the tap gives{soap}"


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
