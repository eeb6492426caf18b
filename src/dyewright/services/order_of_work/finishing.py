"""After the programme: lifting out, rinsing, the spent bath, drying, re-winding."""

from collections.abc import Iterator

from dyewright.core.model import Drain, DyeClass, SheetStep, StepKind
from dyewright.services.order_of_work.bench import Bench
from dyewright.units import show_volume

__all__ = ["finishing"]

RINSE_MIN = 5.0  # estimate
DRAIN_WORDS = {
    Drain.DRIPPING: "let it drip",
    Drain.SQUEEZED: "squeeze it gently",
    Drain.SPUN: "spin it",
}


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
