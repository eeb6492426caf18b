"""The sheet of a swatch evening: what is measured, mixed and done, as a page or a printed sheet shows it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

import dyewright
from dyewright.core import evening as measures
from dyewright.core.model import AssistantDose, Base, Card, Dye, Evening, Pot, Settings, Vessel
from dyewright.data.practice import load_cautions
from dyewright.errors import InputError
from dyewright.records import evenings as records_of
from dyewright.records import shelf
from dyewright.services.assistants import parse_substance, with_amount
from dyewright.services.evening.amounts import (
    JAR_L,
    SOLUTION_G_L,
    JarAmounts,
    JarAssistant,
    JarDose,
    StockToMix,
    evening_card,
    jar_amounts,
    stocks_to_mix,
)
from dyewright.services.evening.steps import EveningWork, evening_steps
from dyewright.services.evening.water_bath import BATH_POT, WaterBath
from dyewright.services.recipes import recipe_text
from dyewright.services.repeating import pot_of
from dyewright.sheets.evening import PaperDose, PaperEvening, PaperJar, PaperStock, evening_pdf
from dyewright.sheets.pdf import Figure
from dyewright.units import Dimension, Quantity, ph, show_mass, show_percent, show_temperature, show_volume, volume_l

__all__ = ["EveningSheet", "keep_set_up", "paper_evening", "paper_jar", "paper_stocks", "print_evening", "sheet_of"]

SET_UP = ("pot", "jar", "acid", "ph")  # what may be said of how the jars stand
OFF_FRAC = 0.02  # a drawn dose farther from the recipe than this is said (estimate)
_OF_ONE_POT = (
    "Pot not said",
    "Liquor not said",
    "How often",
    "The pot: power",
    "Assistants not said",
    "Dyes of several",
)
"""How sentences begin that are right for a pot, but not for jars in one."""


@dataclass(frozen=True)
class Setup:
    """What an evening is worked out with beyond what is kept of it."""

    pot: Pot
    jar_l: float
    assistants: tuple[AssistantDose, ...]
    is_pot_said: bool


@dataclass(frozen=True)
class EveningSheet:
    """An evening worked out, ready for a page or for paper."""

    evening: Evening
    base: Base
    jars: tuple[JarAmounts, ...]
    page: PaperEvening


def keep_set_up(session: Session, evening_id: int, typed: Mapping[str, str]) -> Evening:
    """Keep the pot, jars and acid of an evening as typed.

    Raises:
        InputError: a field cannot be read, or a jar overflows; nothing is kept then.
    """
    said = {key: typed[key].strip() for key in SET_UP if typed.get(key, "").strip()}
    kept = records_of.save_evening(session, replace(records_of.evening(session, evening_id), set_up=said))
    sheet_of(session, evening_id)
    return kept


def sheet_of(session: Session, evening_id: int) -> EveningSheet:
    """Return an evening's sheet for the pot, jars and acid that were said of it, usual ones where none were.

    Raises:
        InputError: a field cannot be read, or a jar overflows; `field` names which.
    """
    planned = records_of.evening(session, evening_id)
    settings = shelf.studio_settings(session)
    setup = _setup(planned.set_up, shelf.vessels(session))
    base = shelf.base(session, planned.base_id)
    return paper_evening(planned, base, shelf.dyes(session), settings, setup)


def _setup(typed: Mapping[str, str], vessels: Sequence[Vessel]) -> Setup:
    chosen = typed.get("pot", "")
    known = {str(vessel.id): vessel for vessel in vessels}
    if chosen and chosen not in known:
        raise InputError("that pot is not on the shelf; choose one of the list", field="pot", value=chosen)
    largest = max(vessels, key=lambda vessel: vessel.volume_l, default=None)
    vessel = known.get(chosen, largest)
    jar = typed.get("jar", "").strip()
    jar_l = volume_l(jar, field="jar", thing="volume of a jar", default_unit="mL") if jar else JAR_L
    measures.jar_diameter_m(jar_l)  # refuses a jar without volume
    return Setup(BATH_POT if vessel is None else pot_of(vessel), jar_l, _acid(typed), vessel is not None)


def _acid(typed: Mapping[str, str]) -> tuple[AssistantDose, ...]:
    """Return the acid or alkali that was typed, to its pH where one was; none where the usual one is wanted."""
    name, target = typed.get("acid", "").strip(), typed.get("ph", "").strip()
    if not name:
        if target:
            raise InputError("which acid is to reach this pH? Name it, for example white vinegar 5 %", field="acid")
        return ()
    dose = parse_substance(name, field="acid")
    return (with_amount(dose, Quantity(Dimension.PH, ph(target, field="ph"))) if target else dose,)


def paper_evening(
    planned: Evening, base: Base, dyes: Sequence[Dye], settings: Settings | None, setup: Setup
) -> EveningSheet:
    """Return an evening worked out with its pot, jars and acid."""
    card, defaults = evening_card(planned, base, dyes, settings, assistants=setup.assistants)
    jars = tuple(
        jar_amounts(planned, jar, base, dyes, settings, jar_l=setup.jar_l, assistants=setup.assistants)
        for jar in planned.jars
    )
    stocks = stocks_to_mix(jars, planned.stock_g_l, card.scale_resolution_g or 0.1)
    work = _work(card, jars, stocks, setup)
    page = PaperEvening(
        title=planned.name,
        subtitle=_subtitle(planned, base),
        figures=_figures(planned, work, setup),
        jars=[paper_jar(jar) for jar in jars],
        stocks=paper_stocks(stocks, jars, card.scale_resolution_g),
        steps=evening_steps(work),
        cautions=[load_cautions()[key].sentence for key in ("vessels", "defer")],
        notes=_notes(work, setup, dyes, defaults),
        footer=f"Dyewright {dyewright.__version__}, planned from the class defaults named in the notes.",
    )
    return EveningSheet(planned, base, jars, page)


def _work(card: Card, jars: tuple[JarAmounts, ...], stocks: tuple[StockToMix, ...], setup: Setup) -> EveningWork:
    """Return what the order of work is written from."""
    waterbath = WaterBath(setup.pot, setup.jar_l, jars)
    return EveningWork(
        card=card,
        jars=jars,
        stocks=stocks,
        curve=waterbath.heated(card.stages),
        lag_min=waterbath.lag_min,
        pot_name=waterbath.pot_name,
        cautions=load_cautions(),
    )


def _subtitle(planned: Evening, base: Base) -> str:
    count = len(planned.jars)
    grams = show_mass(sum(float(jar.mass_g) for jar in planned.jars))
    day = f"{planned.held_on.day} {planned.held_on:%B %Y}"
    return f"{count} jar{'' if count == 1 else 's'} of {base.name}, {grams} of yarn in all, {day}"


def _figures(planned: Evening, work: EveningWork, setup: Setup) -> list[Figure]:
    liquor = work.jars[0].liquor_l
    top, fullest = max(work.curve.bath_c), max(jar.fill_frac for jar in work.jars)
    phs = sorted(jar.ph for jar in work.jars)
    acid = " and ".join(helper.name for helper in work.helpers) or "nothing added"
    span = f"{phs[0]:.1f}" if phs[-1] - phs[0] < 0.05 else f"{phs[0]:.1f}–{phs[-1]:.1f}"
    return [
        Figure("Liquor in a jar", show_volume(liquor), f"{planned.liquor_l_kg:g}:1, with the wet yarn's water"),
        Figure("pH in the jars", span, f"with {acid}"),
        Figure("Heat to", show_temperature(top), f"in {work.pot_name}"),
        Figure("A jar stands full to", show_percent(round(fullest, 2)), f"of {show_volume(setup.jar_l)}"),
    ]


def paper_jar(jar: JarAmounts) -> PaperJar:
    """Return one jar's row, in words."""
    return PaperJar(
        number=jar.jar.number,
        recipe=recipe_text(jar.jar.recipe_owf),
        mass=show_mass(float(jar.jar.mass_g)),
        seat=jar.jar.seat,
        water=_to_the_ml(jar.water_l),
        doses=[PaperDose(_stock_name(dose.name, dose.strength_g_l), _drawn(dose.drawn_l)) for dose in jar.doses],
        assistants=[_paper_assistant(helper) for helper in jar.assistants],
        note=" ".join(_off_words(dose) for dose in jar.doses if _is_off(dose)),
    )


def _to_the_ml(value_l: float) -> str:
    return show_volume(round(value_l, 3))


def _drawn(value_l: float) -> str:
    return f"{1000 * value_l:.1f}\u202fmL"


def _stock_name(name: str, strength_g_l: float) -> str:
    return f"{name}, {show_percent(strength_g_l / 1000)}"


def _paper_assistant(helper: JarAssistant) -> PaperDose:
    name = _helper_name(helper)
    return PaperDose(name, show_mass(helper.mass_g) if helper.drawn_l is None else _drawn(helper.drawn_l))


def _helper_name(helper: JarAssistant) -> str:
    """Return what an assistant is drawn from: its bottle, its 10 % solution, or the bottle thinned."""
    if helper.is_solution:
        return f"{helper.name}, as {show_percent(SOLUTION_G_L / helper.times / 1000)} solution"
    return helper.name if helper.times == 1 else f"{helper.name}, thinned {helper.times} times"


def _is_off(dose: JarDose) -> bool:
    return abs(dose.drawn_owf / dose.depth_owf - 1) > OFF_FRAC


def _off_words(dose: JarDose) -> str:
    return f"The syringe's mark makes it {dose.name} {show_percent(dose.drawn_owf)}: the swatch is kept with that."


def paper_stocks(stocks: Sequence[StockToMix], jars: Sequence[JarAmounts], scale_g: float | None) -> list[PaperStock]:
    """Return the stocks to mix for some jars, and the solutions of what is too fine to weigh, in words."""
    return [*(_paper_stock(stock, jars, scale_g) for stock in stocks), *_solutions(jars)]


def _paper_stock(stock: StockToMix, jars: Sequence[JarAmounts], scale_g: float | None) -> PaperStock:
    doses = [
        (jar.jar.number, dose)
        for jar in jars
        for dose in jar.doses
        if dose.name == stock.name and dose.strength_g_l == stock.strength_g_l
    ]
    if stock.powder_g is not None:
        how = f"{show_mass(stock.powder_g, scale_g)} of powder, made up to {show_volume(stock.volume_l)}"
    else:
        strong = show_percent((stock.from_g_l or 0.0) / 1000)
        how = f"{show_volume(stock.from_l or 0.0)} of the {strong} stock, made up to {show_volume(stock.volume_l)}"
    taken = _drawn(stock.taken_l) if doses else "only to be thinned"
    each = ", ".join(f"jar {number} {_drawn(dose.drawn_l)}" for number, dose in sorted(doses, key=lambda one: one[0]))
    return PaperStock(_stock_name(stock.name, stock.strength_g_l), how, taken, each)


def _solutions(jars: Sequence[JarAmounts]) -> list[PaperStock]:
    """Return what is made of assistants too fine to weigh or to draw jar by jar: 10 % solutions, thinned bottles."""
    drawn: dict[str, list[tuple[int, JarAssistant]]] = {}
    for jar in jars:
        for helper in jar.assistants:
            if helper.is_solution or helper.times > 1:
                drawn.setdefault(_helper_name(helper), []).append((jar.jar.number, helper))
    return [_solution(name, doses) for name, doses in drawn.items()]


def _solution(name: str, doses: Sequence[tuple[int, JarAssistant]]) -> PaperStock:
    taken_l = sum(helper.drawn_l or 0.0 for _, helper in doses)
    helper = doses[0][1]
    strength_g_l = SOLUTION_G_L / helper.times
    hint = measures.stock_to_mix(taken_l, strength_g_l, 0.0)
    if helper.is_solution:
        name, what = _stock_name(helper.name, strength_g_l), show_mass(hint.powder_g)
    else:
        what = f"{show_volume(hint.volume_l / helper.times)} of the bottle"
    each = ", ".join(f"jar {number} {_drawn(one.drawn_l or 0.0)}" for number, one in doses)
    return PaperStock(name, f"{what} made up to {show_volume(hint.volume_l)}", _drawn(taken_l), each)


def _notes(work: EveningWork, setup: Setup, dyes: Sequence[Dye], defaults: Sequence[str]) -> list[str]:
    notes = [*WaterBath(setup.pot, setup.jar_l, work.jars).room_notes(), *_dye_notes(work, dyes)]
    if not setup.is_pot_said:
        notes.append(f"No pot is on the shelf: taken as {BATH_POT.name}.")
    notes += [note for note in defaults if not note.startswith(_OF_ONE_POT)]
    notes += _acid_notes(work, setup)
    if any(note.startswith("Dyes of several") for note in defaults):
        notes.append("Dyes of several classes share the heat of one water bath: it follows the class of most dye.")
    notes.append(
        f"Jars trail the bath by about {work.lag_min:.0f} min (estimate from their glass), so the thermometer belongs "
        "in a jar."
    )
    return list(dict.fromkeys(notes))


def _acid_notes(work: EveningWork, setup: Setup) -> list[str]:
    """Return where the acid of the jars comes from."""
    if setup.assistants or not work.helpers:
        return []
    kinds = {f"{one.name} to pH {one.target_ph:g}" for one in work.helpers if one.target_ph is not None}
    if not kinds:
        return ["What is added to each jar is what is usual for the class of its dyes."]
    words = ", ".join(sorted(kinds))
    return [f"Acid not said: each jar gets what is usual for the class of its dyes ({words}), the undyed skein too."]


def _dye_notes(work: EveningWork, dyes: Sequence[Dye]) -> list[str]:
    used = {name for jar in work.jars for name in jar.jar.recipe_owf}
    glowing = sorted(dye.name for dye in dyes if dye.is_fluorescent and dye.name in used)
    blends = sorted(dye.name for dye in dyes if dye.is_blend and dye.name in used)
    notes = []
    if glowing:
        notes.append(f"{', '.join(glowing)}: fluorescent. The swatch is kept, but never used for matching.")
    if blends:
        notes.append(f"{', '.join(blends)}: a blend. Its parts may strike apart: heat as slowly as in the pot.")
    return notes


def print_evening(session: Session, evening_id: int) -> bytes:
    """Return the sheet of an evening as PDF."""
    return evening_pdf(sheet_of(session, evening_id).page)
