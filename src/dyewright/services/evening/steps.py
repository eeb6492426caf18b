"""The order of work of a swatch evening, from wetting out to the dry skeins, each caution at its step.

Times for the hands (mixing, filling, dosing) are estimates; soaking, rinsing and drying are common practice, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dyewright.core.evening import trailing_min
from dyewright.core.model import Card, Caution, DyeClass, FibreGroup, HeatCurve, StageHeat, StageKind, WhenKind
from dyewright.services.assistants import caution_key
from dyewright.services.card_defaults import fibre_group
from dyewright.services.evening.amounts import JarAmounts, JarAssistant, StockToMix
from dyewright.services.order_of_work import usual_rinses
from dyewright.services.paper import clock
from dyewright.sheets.pdf import PaperStep
from dyewright.units import show_duration, show_mass, show_temperature, show_volume

__all__ = ["EveningWork", "additions", "entering", "evening_steps", "finishing", "heating", "preparing"]

SOAK_MIN = 30.0
WEIGH_MIN, THIN_MIN, FILL_MIN, DRAW_MIN, SETTLE_MIN, RINSE_MIN = 5.0, 2.0, 1.0, 0.5, 5.0, 2.0  # estimates
HOT_C = 45.0  # from here steam and glass are hot enough to say so
STIR_MIN = 10.0  # common practice, no source


@dataclass(frozen=True)
class EveningWork:
    """All that the order of work is written from; `lag_min` is by how much a jar trails the water bath.

    `seats` says where each jar stands, where that matters; `not_clear` what a jar that is not clear means, and
    `photo_goes` where the photo of the dry skeins is given.
    """

    card: Card
    jars: Sequence[JarAmounts]
    stocks: Sequence[StockToMix]
    curve: HeatCurve
    lag_min: float
    pot_name: str
    cautions: Mapping[str, Caution]
    seats: str = ""
    not_clear: str = (
        "keeps dye in the bath, and its swatch is paler than its recipe: note its number, and give all jars 15 min more"
    )
    photo_goes: str = "to this evening's page: it fills the swatches"

    def caution(self, *keys: str) -> str:
        """Return the sentences of some cautions, in order."""
        return " ".join(self.cautions[key].sentence for key in dict.fromkeys(keys))

    @property
    def helpers(self) -> list[JarAssistant]:
        """The assistants of all jars, each kind once, as the thinned one where any jar takes it so."""
        every = sorted((helper for jar in self.jars for helper in jar.assistants), key=lambda helper: helper.times)
        return list({helper.name: helper for helper in every}.values())

    @property
    def is_reactive(self) -> bool:
        """Whether a reactive dye is in any jar."""
        return any(dose.dye_class.is_reactive for dose in self.card.dyes)

    @property
    def enter_c(self) -> float:
        """How warm water and jars are when the yarn goes in."""
        return self.curve.bath_c[0]


def evening_steps(work: EveningWork) -> list[PaperStep]:
    """Return every step with its clock from wetting out."""
    before, heat_on = preparing(work)
    timed = sorted([*heating(work, heat_on), *additions(work, heat_on)], key=lambda step: step[0])
    cool_end = heat_on + work.curve.t_min[-1]
    return [*before, *entering(work, heat_on), *(step for _, step in timed), *finishing(work, cool_end)]


def _step(at_min: float | None, lasts_min: float, title: str, text: str, caution: str | None = None) -> PaperStep:
    lasts = show_duration(lasts_min) if lasts_min >= 1 else None
    return PaperStep("before" if at_min is None else clock(at_min), lasts, title, text, caution)


def preparing(work: EveningWork) -> tuple[list[PaperStep], float]:
    """Return the steps until the jars are filled and dosed, and the minute at which heat can go on."""
    count, masses = len(work.jars), {jar.jar.mass_g for jar in work.jars}
    each = f"{show_mass(float(min(masses)))} each" if len(masses) == 1 else "as heavy as the sheet says"
    mix_min = sum(THIN_MIN if stock.powder_g is None else WEIGH_MIN for stock in work.stocks)
    fill_min = FILL_MIN * count
    draw_min = max(DRAW_MIN * sum(len(jar.doses) for jar in work.jars), 1.0)
    heat_on = max(SOAK_MIN, mix_min + fill_min + draw_min + SETTLE_MIN)
    fill_at = mix_min
    draw_at = fill_at + fill_min
    steps = [
        _step(
            None,
            3 * count,
            "Wind, weigh, tie and tag",
            f"Wind {count} mini-skeins, {each}, dry. Tie each loosely in two places and fix a waterproof tag with its "
            "jar's number; write the same number on the jar.",
        ),
        _step(0.0, heat_on, "Wet out", "Lay all skeins in lukewarm water until they are wet through, then squeeze."),
        *_mixing(work, mix_min),
        *_filling(work, fill_at, fill_min),
        _step(
            draw_at,
            draw_min,
            "Draw the dye into the jars",
            "Dye by dye, palest jar first, one syringe for each dye, rinsed before the next. Shake the stock first. "
            "Tick each dose on this sheet, then stir the jar.",
            work.caution("solution"),
        ),
    ]
    return steps, heat_on


def entering(work: EveningWork, heat_on: float) -> list[PaperStep]:
    """Return the steps that set the jars into the bath and the yarn into the jars."""
    return [
        _step(
            heat_on - SETTLE_MIN,
            SETTLE_MIN,
            "Set the jars into the water bath",
            f"Stand them on a trivet in {work.pot_name}, and pour water of {show_temperature(work.enter_c)} round them "
            f"as high as the liquor stands inside, no higher: half-filled jars float.{work.seats}",
            work.caution("glass"),
        ),
        _step(
            heat_on,
            0.0,
            "Yarn in, heat on",
            "Lower each wet skein into the jar of its number and press it under with that jar's own stick. Heat on, "
            "lid on the pot; hang the thermometer in a jar, not in the pot.",
            work.caution("steam") if work.enter_c > HOT_C else None,
        ),
    ]


def _mixing(work: EveningWork, mix_min: float) -> Iterator[PaperStep]:
    if not work.stocks:
        return
    yield _step(
        0.0,
        mix_min,
        "Mix the stocks",
        "As listed under Stocks: powder to a paste with a little warm water, dissolved in hot water, cooled, made up "
        "to the mark and strained. A thinned stock is drawn from the strong one and made up. Label each jar."
        if not work.is_reactive
        else "As listed under Stocks, reactive dyes in cold water and on the day itself: paste, dissolve, make up to "
        "the mark. A thinned stock is drawn from the strong one and made up. Label each jar.",
        work.caution("reactive-powder" if work.is_reactive else "powder"),
    )


def _filling(work: EveningWork, at_min: float, lasts_min: float) -> Iterator[PaperStep]:
    first = [one for one in work.helpers if one.when.kind in {WhenKind.START, WhenKind.SOAK}]
    words = f" Then stir in the {_listed(first)}, as much as the sheet says." if first else ""
    keys = [key for one in first if (key := caution_key(one.dose))]
    yield _step(
        at_min,
        lasts_min,
        "Fill the jars",
        f"Water of about {show_temperature(work.enter_c)} first, measured jar by jar.{words}",
        work.caution(*keys) if keys else None,
    )


def _listed(helpers: Sequence[JarAssistant]) -> str:
    names = [
        f"{one.name} (as a solution)"
        if one.is_solution
        else f"{one.name} (thinned where the sheet says so)"
        if one.times > 1
        else one.name
        for one in helpers
    ]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def heating(work: EveningWork, heat_on: float) -> Iterator[tuple[float, PaperStep]]:
    """Yield each stage of the programme, and the look at the jars before they cool, with its minute."""
    rise, is_looked_at = 0.0, False
    for stage in work.curve.stages:
        if stage.end_min - stage.start_min < 0.05:
            continue
        at_min, lasts = heat_on + stage.start_min, stage.end_min - stage.start_min
        if stage.kind is StageKind.COOL and not is_looked_at:
            is_looked_at = True
            yield at_min, _look(work, at_min, stage.start_c)
        yield at_min, _stage(work, stage, at_min, lasts, rise)
        rise = (stage.end_c - stage.start_c) / lasts
    if not is_looked_at:
        end = heat_on + work.curve.t_min[-1]
        yield end, _look(work, end, work.curve.bath_c[-1])


def _stage(work: EveningWork, stage: StageHeat, at_min: float, lasts: float, rise: float) -> PaperStep:
    top = show_temperature(stage.end_c)
    steam = work.caution("steam") if stage.end_c > HOT_C else None
    if stage.kind is StageKind.COOL:
        text = (
            f"Heat off. Leave the jars in the bath under the lid until it is at {top}, about {show_duration(lasts)}, "
            "or overnight."
        )
        return _step(at_min, lasts, f"Cool in the bath to {top}", text, work.caution("glass-hot", "cool"))
    if stage.kind is StageKind.HOLD:
        late = trailing_min(work.lag_min, rise)
        after = (
            f" Count it from when the thermometer in the jar is there, about {show_duration(late)} after the bath."
            if late >= 1
            else ""
        )
        boil = " Do not let it boil: jars knock and spill." if stage.start_c >= 80 else ""
        text = f"Keep it at {top} for {show_duration(lasts)}.{after}{boil} Stir every jar with its own stick at times."
        return _step(at_min, lasts, f"Hold at {top}", text, steam)
    given = (stage.end_c - stage.start_c) / lasts
    how = f"by {given:.1f} °C a minute" if stage.asked_c_per_min and not stage.is_short else "with the heat fully on"
    text = (
        f"Raise the bath {how}; {top} after {show_duration(lasts)}. All jars rise together. Every "
        f"{show_duration(STIR_MIN)} press each skein under and stir, each jar with its own stick."
    )
    return _step(at_min, lasts, f"Raise to {top}", text, steam)


def _look(work: EveningWork, at_min: float, at_c: float) -> PaperStep:
    text = (
        "Done means time and temperature, not a clear bath. Note what you see, jar by jar."
        if work.is_reactive
        else f"Look through each jar against white. A jar that is not clear {work.not_clear}."
    )
    return _step(at_min, 0.0, "Are the jars clear?", text, work.caution("steam") if at_c > HOT_C else None)


def additions(work: EveningWork, heat_on: float) -> Iterator[tuple[float, PaperStep]]:
    """Yield what goes into the jars with the yarn in them, such as soda ash."""
    for one in work.helpers:
        if one.when.kind is WhenKind.MINUTE:
            at_min = heat_on + (one.when.value or 0.0)
            key = caution_key(one.dose)
            yield (
                at_min,
                _step(
                    at_min,
                    FILL_MIN * len(work.jars),
                    f"Add the {one.name}",
                    "Jar by jar: lift the skein with its stick, stir in what the sheet says, lower the skein again.",
                    work.caution(*([key] if key else ["lift"])),
                ),
            )


def finishing(work: EveningWork, at_min: float) -> Iterator[PaperStep]:
    """Yield what is done once the jars have cooled."""
    rinses, count = usual_rinses(work.card), len(work.jars)
    is_washed_hot = work.is_reactive and fibre_group(work.card.yarn) is FibreGroup.CELLULOSE
    is_salted = work.is_reactive or any(dye.dye_class is DyeClass.METAL_COMPLEX for dye in work.card.dyes)
    lasts = RINSE_MIN * rinses * count
    yield _step(
        at_min,
        0.0,
        "Lift the jars out",
        "One by one, onto a dry cloth, in the order of their numbers. Each skein stays with its tag.",
        work.caution("glass-hot"),
    )
    yield _step(
        at_min + SETTLE_MIN,
        lasts,
        f"Rinse each {'twice' if rinses == 2 else f'{rinses} times'}",
        "Each skein in water of its own, palest first, about as warm as the skein, until the water stays clear in a "
        "white bowl. Two skeins in one bowl stain each other."
        if not is_washed_hot
        else "Each skein in water of its own, palest first: cold once, then as hot as the tap gives with a little "
        "neutral soap, until the water stays clear in a white bowl.",
        work.caution("hot-water") if is_washed_hot else None,
    )
    yield _step(
        at_min + SETTLE_MIN + lasts,
        SETTLE_MIN,
        "Deal with the spent baths",
        f"Pour them together when cool ({show_volume(sum(jar.liquor_l for jar in work.jars))}), bring them to pH 6 to "
        "9 (baking soda for acid baths, vinegar for alkaline ones) and pour away as local rules allow.",
        work.caution("dispose-septic" if is_salted else "dispose"),
    )
    yield PaperStep(
        "after",
        None,
        "Press out and dry in the shade",
        "Press in a towel, shake out, hang in moving air out of the sun until dry through. Damp yarn is darker: judge "
        "nothing before it is dry.",
        None,
    )
    yield PaperStep(
        "after",
        None,
        "One photo of all, with the chart",
        "Lay the dry skeins on plain paper, grey rather than white (undyed yarn is not found on white), in the order "
        "of their tags, row by row from the top left, the colour chart among them, in shaded daylight. Give the photo "
        f"{work.photo_goes}.",
        None,
    )
