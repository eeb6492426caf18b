"""Before minute 0: weighing, scouring, soaking, dissolving the dye, making the bath."""

from collections.abc import Iterator

from dyewright.core.model import DyeAmount, Enter, SheetStep, StepKind, StockHint, WhenKind
from dyewright.services.order_of_work.bench import Bench, assistants_at, caution_for, dose_words, each_pot, listed
from dyewright.services.order_of_work.moments import parts_at_start, parts_words
from dyewright.units import show_duration, show_mass, show_temperature, show_volume

__all__ = ["bath_making", "preparation"]

MIXING_MIN, STIRRING_MIN = 10.0, 5.0  # estimates


def preparation(bench: Bench) -> Iterator[SheetStep]:
    """Yield what is done before there is a bath: tying, scouring, soaking, dissolving the dye."""
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
        caution=caution_for(bench, [d for d in bench.card.assistants if d.when.kind is WhenKind.SOAK]),
        duration_min=30,
        is_wait=True,
    )
    yield _dissolving(bench)


def _soak_words(bench: Bench) -> str:
    doses = assistants_at(bench, lambda dose: dose.when.kind is WhenKind.SOAK)
    return f" with {listed([dose_words(bench, i) for i in doses])}" if doses else ""


def _dissolving(bench: Bench) -> SheetStep:
    is_powder = any(dye.stock_g_l is None or dye.make_stock is not None for dye in bench.dyes)
    key = "reactive-powder" if bench.is_reactive else "powder"
    return SheetStep(
        key="dissolve-dye",
        kind=StepKind.PREPARE,
        title="Dissolve and strain the dye" if is_powder else "Measure the dye",
        text=" ".join(f"{_dye_words(bench, i)}{_apart_words(bench, i)}" for i in range(len(bench.dyes))),
        caution=bench.caution(key) if is_powder else bench.caution("solution"),
        duration_min=MIXING_MIN,
    )


def _dye_words(bench: Bench, i: int) -> str:
    dye, resolution = bench.dyes[i], bench.card.scale_resolution_g
    if dye.stock_g_l is None:
        grams = each_pot(bench, [pot.dye_g[i] for pot in bench.pots], lambda g: show_mass(g, resolution))
        water = "cold" if bench.card.dyes[i].dye_class.is_reactive else "warm"
        finish = "lukewarm" if water == "cold" else "hot"
        return (
            f"{dye.name}: weigh {show_mass(dye.dye_g, resolution)}, stir to a paste with a little {water} water, "
            f"dissolve in a cup of {finish} water, strain through a fine cloth.{grams}"
        )
    words = [] if dye.make_stock is None else [_stock_words(bench, dye, dye.make_stock)]
    shares = each_pot(bench, [pot.stock_ml[i] or 0.0 for pot in bench.pots], lambda ml: show_volume(ml / 1000))
    measure = f"{show_volume((dye.stock_ml or 0) / 1000)} (or {show_mass(dye.stock_g or 0)})"
    shake = "Shake it" if words else f"{dye.name}: shake the {_percent(dye.stock_g_l)} stock"
    words.append(f"{shake}, measure {measure}.{shares}")
    return " ".join(words)


def _apart_words(bench: Bench, i: int) -> str:
    """Return that a dye is set apart in equal parts; nothing where it goes in at once."""
    count = len(bench.card.dyes[i].parts)
    return "" if count == 1 else f" Divide it into {count} equal parts, each in a jar with its number."


def _stock_words(bench: Bench, dye: DyeAmount, hint: StockHint) -> str:
    made = f"{show_mass(hint.powder_g, bench.card.scale_resolution_g)} in {show_volume(hint.volume_l)}, strained"
    if hint.powder_g == dye.dye_g:
        return f"{dye.name}: one stock for all pots, {_percent(hint.stock_g_l)}: {made}."
    return f"{dye.name}: too little to weigh as powder on this scale. Make a {_percent(hint.stock_g_l)} stock: {made}."


def _percent(stock_g_l: float) -> str:
    return f"{stock_g_l / 10:g} %"


def bath_making(bench: Bench) -> Iterator[SheetStep]:
    """Yield how the bath is run, warmed, and given its dye and what goes in at the start."""
    enter = bench.card.stages[0]
    enter_c = enter.at_c if isinstance(enter, Enter) else None
    before_dye = STIRRING_MIN * 2
    share = bench.tap_water_l / bench.liquor_l
    pots = each_pot(bench, [pot.liquor_l * share for pot in bench.pots], show_volume)
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
    yield from _dye_at_start(bench, enter_c, -before_dye)
    yield from _start_additions(bench, enter_c)


def _dye_at_start(bench: Bench, enter_c: float | None, at_min: float) -> Iterator[SheetStep]:
    parts = parts_at_start(bench)
    if not parts:
        return
    is_all = len(parts) == len(bench.dyes) and all(len(dye.parts) == 1 for dye in bench.card.dyes)
    yield SheetStep(
        key="add-dye",
        kind=StepKind.ADD,
        title="Stir in the dye" if is_all else "Stir in the first of the dye",
        text="Stir the dye in before any yarn is in the pot. Keep a small glass of this bath: it is the first step of "
        "the clarity ladder."
        if is_all
        else f"Stir in {listed([parts_words(bench, *part) for part in parts])} before any yarn is in the pot; the "
        "rest follows later. The clarity ladder counts all the dye: make its first glass from a spoonful of all of it "
        "in as much water as the bath gives it.",
        caution=bench.caution("solution"),
        at_min=at_min,
        duration_min=STIRRING_MIN,
        at_c=enter_c,
    )


def _start_additions(bench: Bench, enter_c: float | None) -> Iterator[SheetStep]:
    doses = assistants_at(bench, lambda dose: dose.when.kind is WhenKind.START)
    if not doses:
        return
    yield SheetStep(
        key="add-start",
        kind=StepKind.ADD,
        title=f"Stir in the {listed([bench.assistants[i].name for i in doses])}",
        text=f"Stir in {listed([dose_words(bench, i) for i in doses])}.",
        caution=caution_for(bench, [bench.card.assistants[i] for i in doses]),
        at_min=-STIRRING_MIN,
        duration_min=STIRRING_MIN,
        at_c=enter_c,
    )
