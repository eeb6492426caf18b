"""What every jar of a swatch evening gets, and the stocks that its doses are drawn from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dyewright.core import bath, evening
from dyewright.core.model import (
    AssistantDose,
    Base,
    Card,
    Drain,
    Dye,
    DyeClass,
    DyeDose,
    Evening,
    Jar,
    Settings,
    When,
    Yarn,
)
from dyewright.data.practice import load_fibre_waters
from dyewright.errors import InputError
from dyewright.services.card_defaults import complete
from dyewright.services.water import bath_ph
from dyewright.units import show_volume

__all__ = [
    "JAR_L",
    "SOLUTION_G_L",
    "JarAmounts",
    "JarAssistant",
    "JarDose",
    "StockToMix",
    "drawn_recipe",
    "evening_card",
    "jar_amounts",
    "stocks_to_mix",
]

JAR_L = 0.5  # a preserving jar of half a litre
SOLUTION_G_L = 100.0  # a solid too fine to weigh for one jar is measured out as a 10 % solution: common practice
THINNED_TIMES = 10  # as weaker stocks are
FULL_FRAC = bath.FULL_FRAC


@dataclass(frozen=True)
class JarDose:
    """One dye of a jar: the stock it is drawn from, by the syringe's mark, and the depth which that gives."""

    name: str
    strength_g_l: float
    drawn_l: float
    depth_owf: float
    drawn_owf: float


@dataclass(frozen=True)
class JarAssistant:
    """One assistant of a jar; `drawn_l` is by syringe, of the bottle or of a 10 % solution where `is_solution`.

    A dose too small to draw comes from the bottle or the solution thinned so many `times`.
    """

    name: str
    when: When
    drawn_l: float | None
    mass_g: float
    is_solution: bool
    target_ph: float | None
    dose: AssistantDose
    times: int = 1


@dataclass(frozen=True)
class JarAmounts:
    """One jar measured out. `water_l` is from the tap; the wetted-out yarn brings `carried_l`."""

    jar: Jar
    doses: tuple[JarDose, ...]
    assistants: tuple[JarAssistant, ...]
    liquor_l: float
    carried_l: float
    water_l: float
    filled_l: float
    fill_frac: float
    ph: float


@dataclass(frozen=True)
class StockToMix:
    """One stock: how much to mix of what, how much of it the jars take, and what of it goes into a weaker one.

    `powder_g` is None where it is made from the stock of `from_g_l`, of which `from_l` is made up to `volume_l`.
    """

    name: str
    strength_g_l: float
    volume_l: float
    taken_l: float
    powder_g: float | None
    from_g_l: float | None = None
    from_l: float | None = None


def evening_card(
    planned: Evening,
    base: Base,
    dyes: Sequence[Dye],
    settings: Settings | None,
    *,
    jar: Jar | None = None,
    assistants: tuple[AssistantDose, ...] = (),
) -> tuple[Card, list[str]]:
    """Return the card of one jar, or of the whole evening, with its defaults, and the sentences that name them.

    The programme and the acid of the undyed skein, and of the water bath, are those of the dyes of the evening.
    """
    classes = {dye.name: dye.dye_class for dye in dyes}
    recipe: dict[str, float] = {}
    for one in [jar] if jar is not None and jar.recipe_owf else planned.jars:
        for name, depth in one.recipe_owf.items():
            recipe[name] = recipe.get(name, 0.0) + depth
    doses = [DyeDose(name, classes.get(name, DyeClass.ACID_UNKNOWN), depth) for name, depth in recipe.items()]
    mass_g = float(jar.mass_g) if jar is not None else sum(float(one.mass_g) for one in planned.jars)
    yarn = Yarn(base.fibre_frac, mass_g, is_superwash=base.is_superwash)
    card = Card(
        title=planned.name,
        yarn=yarn,
        dyes=tuple(doses or [DyeDose("no dye", DyeClass.ACID_UNKNOWN, 0.0)]),
        liquor_l_kg=planned.liquor_l_kg,
        assistants=assistants,
    )
    return complete(card, settings)


def jar_amounts(
    planned: Evening,
    jar: Jar,
    base: Base,
    dyes: Sequence[Dye],
    settings: Settings | None,
    *,
    jar_l: float = JAR_L,
    assistants: tuple[AssistantDose, ...] = (),
) -> JarAmounts:
    """Return what one jar gets.

    Raises:
        InputError: the jar overflows, or the doses leave no room for water.
    """
    card, _ = evening_card(planned, base, dyes, settings, jar=jar, assistants=assistants)
    mass_g, waters = float(jar.mass_g), load_fibre_waters()
    liquor_l = bath.liquor_volume_l(mass_g, planned.liquor_l_kg)
    carried_l = mass_g / 1000 * bath.retention_l_kg(card.yarn, Drain.SQUEEZED, waters)
    filled_l = liquor_l + bath.fibre_volume_l(card.yarn, waters)
    doses = _doses(planned, jar)
    acidity = bath_ph(yarn=card.yarn, liquor_l=liquor_l, water=card.water, assistants=card.assistants)
    scale_g = card.scale_resolution_g or 0.1
    helpers = tuple(
        _assistant(amount.label, amount.volume_l, amount.mass_g, dose, scale_g)
        for amount, dose in zip(acidity.doses, card.assistants, strict=True)
        if amount.mass_g > 0
    )
    drawn_l = sum(dose.drawn_l for dose in doses) + sum(helper.drawn_l or 0.0 for helper in helpers)
    _check_fit(jar, filled_l, drawn_l, liquor_l - carried_l, jar_l)
    return JarAmounts(
        jar=jar,
        doses=doses,
        assistants=helpers,
        liquor_l=liquor_l,
        carried_l=carried_l,
        water_l=liquor_l - carried_l - drawn_l,
        filled_l=filled_l,
        fill_frac=filled_l / jar_l,
        ph=acidity.ph_closed,
    )


def drawn_recipe(planned: Evening, jar: Jar) -> dict[str, float]:
    """Return a jar's recipe as the syringe gives it, which is what its swatch is kept with."""
    return {dose.name: dose.drawn_owf for dose in _doses(planned, jar)}


def _doses(planned: Evening, jar: Jar) -> tuple[JarDose, ...]:
    mass_g = float(jar.mass_g)
    return tuple(_dose(name, depth, mass_g, planned.stock_g_l) for name, depth in jar.recipe_owf.items())


def _dose(name: str, depth_owf: float, mass_g: float, stock_g_l: float) -> JarDose:
    dye_g = bath.dye_mass_g(mass_g, depth_owf)
    strength = evening.dose_strength_g_l(dye_g, stock_g_l)
    drawn_l = evening.drawn_l(bath.stock_volume_l(dye_g, strength))
    return JarDose(name, strength, drawn_l, depth_owf, drawn_l * strength / mass_g)


def _assistant(label: str, volume_l: float | None, mass_g: float, dose: AssistantDose, scale_g: float) -> JarAssistant:
    if volume_l is None and bath.weighing_error_frac(mass_g, scale_g) > bath.WEIGHING_LIMIT_FRAC:
        times = _times_thinned(mass_g / SOLUTION_G_L)
        drawn_l = evening.drawn_l(times * mass_g / SOLUTION_G_L)
        return JarAssistant(label, dose.when, drawn_l, mass_g, True, dose.target_ph, dose, times)
    times = 1 if volume_l is None else _times_thinned(volume_l)
    drawn = None if volume_l is None else evening.drawn_l(times * volume_l)
    return JarAssistant(label, dose.when, drawn, mass_g, False, dose.target_ph, dose, times)


def _times_thinned(volume_l: float) -> int:
    return THINNED_TIMES if 0 < volume_l < evening.LEAST_DRAWN_L else 1


def _check_fit(jar: Jar, filled_l: float, drawn_l: float, room_l: float, jar_l: float) -> None:
    """Refuse a jar that would overflow, or whose doses are more than its liquor."""
    if filled_l > FULL_FRAC * jar_l:
        raise InputError(
            f"jar {jar.number}: liquor and yarn are {show_volume(filled_l)}, and a jar of {show_volume(jar_l)} is full "
            f"enough at {show_volume(FULL_FRAC * jar_l)}: lower the liquor ratio, dye a smaller skein, or take larger "
            "jars",
            field=f"jar.{jar.number}.mass",
            value=filled_l,
            limit=FULL_FRAC * jar_l,
        )
    if drawn_l > room_l:
        raise InputError(
            f"jar {jar.number}: its doses are {show_volume(drawn_l)}, more than the {show_volume(max(room_l, 0.0))} "
            "that its liquor leaves beside the wet yarn: mix a stronger stock, or take more liquor",
            field=f"jar.{jar.number}.recipe",
            value=drawn_l,
            limit=room_l,
        )


def stocks_to_mix(jars: Sequence[JarAmounts], stock_g_l: float, scale_resolution_g: float) -> tuple[StockToMix, ...]:
    """Return the stocks of an evening: each dye is weighed once, for the evening's stock; weaker ones are thinned."""
    taken: dict[str, dict[float, float]] = {}
    for jar in jars:
        for dose in jar.doses:
            of_dye = taken.setdefault(dose.name, {stock_g_l: 0.0})
            of_dye[dose.strength_g_l] = of_dye.get(dose.strength_g_l, 0.0) + dose.drawn_l
    return tuple(stock for name, of_dye in taken.items() for stock in _stocks_of(name, of_dye, scale_resolution_g))


def _stocks_of(name: str, taken_l: dict[float, float], scale_resolution_g: float) -> list[StockToMix]:
    """Return one dye's stocks, strongest first; what a weaker one needs is counted in the next stronger one."""
    made: list[StockToMix] = []
    thinned_l, strengths = 0.0, sorted(taken_l)
    for place, strength in enumerate(strengths):
        is_weighed = place == len(strengths) - 1
        hint = evening.stock_to_mix(taken_l[strength] + thinned_l, strength, scale_resolution_g if is_weighed else 0.0)
        stock = StockToMix(name, strength, hint.volume_l, taken_l[strength], hint.powder_g)
        if not is_weighed:
            thinned_l = hint.powder_g / strengths[place + 1]
            stock = replace(stock, powder_g=None, from_g_l=strengths[place + 1], from_l=thinned_l)
        made.append(stock)
    return made[::-1]
