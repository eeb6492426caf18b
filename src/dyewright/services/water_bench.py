"""The page on water: what was typed, read into a question for the acidity model, and its answer with the usual dose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dyewright import units
from dyewright.core.model import AssistantDose, Settings, Substance, Water, Yarn
from dyewright.core.model.acidity import BathPh, VinegarRule
from dyewright.data.acidity import load_assistant_names
from dyewright.data.practice import load_cautions
from dyewright.services.assistants import caution_key, parse_substance, with_amount
from dyewright.services.fibres import fibres_from_text
from dyewright.services.water import bath_ph, vinegar_rule
from dyewright.services.water_doses import SALTS

__all__ = ["ADDITION_ROWS", "PhMark", "WaterBench", "assistant_names", "blank_form", "ph_words", "water_bench"]

ADDITION_ROWS = 3
SCALE_PH = (2.0, 12.0)  # what the drawn scale covers: from neat vinegar to a strong soda-ash bath
AUXILIARIES = frozenset({Substance.LEVELLING_AGENT, Substance.WETTING_AGENT})

Form = Mapping[str, str]

# What a pH means at the pot: up to this pH, these words. Milling dyes are dyed at pH 5 to 7 and wool is harmed least at
# 4.5 to 5 (A. D. Broadbent, Basic Principles of Textile Coloration, SDC 2001, p. 246 and 268); levelling dyes at 3 to 4
# (from memory); acid enough is 3.5 for levelling and 5.5 for milling dyes (the project's decision); the rest is common
# practice, no source.
_WORDS = (
    (3.0, "Very sour: sourer than any acid dye needs, and hard on silk and nylon."),
    (4.0, "Sour: right for levelling dyes; milling dyes will strike fast and may go on unevenly."),
    (5.0, "Acid, near where wool is harmed least: most acid dyes go on well here."),
    (5.5, "Mildly acid: right for milling and metal complex dyes; levelling dyes stay half in the bath."),
    (6.5, "Barely acid: a slow, gentle start for milling dyes; most baths will not clear here."),
    (8.5, "Neither acid nor alkaline, like tap water: acid dyes stay in the bath."),
    (10.0, "Alkaline: wool and silk suffer when this is hot."),
    (14.0, "Strongly alkaline: for reactive dyes on cotton; keep wool and silk out."),
)


@dataclass(frozen=True)
class PhMark:
    """One pH on the drawn scale: what it is of, its value and range, and where they lie along the scale in percent."""

    words: str
    ph: float
    low: float
    high: float
    at_percent: float
    low_percent: float
    high_percent: float


@dataclass(frozen=True)
class WaterBench:
    """The answer to what was typed: the bath, what it means, the usual dose beside it, and the cautions."""

    bath: BathPh
    words: str
    marks: tuple[PhMark, ...]
    kitchen: tuple[str | None, ...]
    rule: VinegarRule
    cautions: tuple[str, ...]
    liquor_l: float
    yarn_g: float | None


def blank_form(settings: Settings | None) -> dict[str, str]:
    """Return the form as it first stands: this studio's water, and the acid most use."""
    water = settings.water if settings else Water()
    known = water.alkalinity_mg_l
    return {
        "liquor_l": "",
        "alkalinity_mg_l": "unknown" if known is None else f"{known:g} mg/L",
        "ph": "" if water.ph is None else f"{water.ph:g}",
        "temperature_c": "" if water.temperature_c is None else f"{water.temperature_c:g} °C",
        "what_1": "white vinegar 5 %",
    }


def ph_words(ph: float) -> str:
    """Return what a pH means at the pot, in a sentence."""
    return next(words for limit, words in _WORDS if ph <= limit or limit == units.PH_MAX)


def water_bench(form: Form, settings: Settings | None) -> WaterBench:
    """Return what the typed additions do in the typed water.

    Raises:
        InputError: a field cannot be read, or the bath cannot be; `field` names the input.
    """
    spoons = str(settings.spoons) if settings else "metric"
    liquor_l = units.volume_l(_text(form, "liquor_l"), spoons, field="liquor_l", thing="the bath", default_unit="L")
    water, yarn = _water(form), _yarn(form)
    doses = _doses(form, spoons)
    bath = bath_ph(yarn=yarn, liquor_l=liquor_l, water=water, assistants=doses)
    return WaterBench(
        bath=bath,
        words=ph_words(bath.ph_closed),
        marks=_marks(bath),
        kitchen=tuple(None if d.volume_l is None else units.kitchen(d.volume_l, spoons) for d in bath.doses),
        rule=vinegar_rule(yarn=yarn, liquor_l=liquor_l, water=water, spoons=spoons),
        cautions=_cautions(doses),
        liquor_l=liquor_l,
        yarn_g=yarn.dry_g if yarn else None,
    )


def _text(form: Form, name: str) -> str:
    return form.get(name, "").strip()


def _water(form: Form) -> Water:
    alkalinity, ph, temperature = (_text(form, name) for name in ("alkalinity_mg_l", "ph", "temperature_c"))
    return Water(
        units.alkalinity_mg_l(alkalinity or "unknown", field="alkalinity_mg_l", default_unit="mg/L"),
        units.ph(ph, field="ph", thing="pH of the tap water") if ph else None,
        units.temperature_c(temperature, field="temperature_c", default_unit="C") if temperature else None,
    )


def _yarn(form: Form) -> Yarn | None:
    """Return the yarn, None where no weight is typed; wool where the fibre is not said."""
    weight = _text(form, "dry_g")
    if not weight:
        return None
    fibres = fibres_from_text(_text(form, "fibre") or "wool", field="fibre")
    return Yarn(fibres, units.mass_g(weight, field="dry_g", thing="dry yarn", default_unit="g"))


def _doses(form: Form, spoons: str) -> list[AssistantDose]:
    """Return the additions of the rows that have both a name and an amount."""
    doses = []
    for row in range(1, ADDITION_ROWS + 1):
        what, amount = _text(form, f"what_{row}"), _text(form, f"amount_{row}")
        if amount:
            dose = parse_substance(what, field=f"what_{row}")
            doses.append(with_amount(dose, units.quantity(amount, spoons, field=f"amount_{row}", thing=dose.label)))
    return doses


def _marks(bath: BathPh) -> tuple[PhMark, ...]:
    return (
        _mark("water alone", bath.ph_before, bath.ph_before, bath.ph_before),
        _mark("just mixed", bath.ph_closed, bath.ph_closed_low, bath.ph_closed_high),
        _mark("20 min hot and stirred", bath.ph_stripped, bath.ph_stripped_low, bath.ph_stripped_high),
    )


def _mark(words: str, ph: float, low: float, high: float) -> PhMark:
    start, end = SCALE_PH
    mid_at, low_at, high_at = (min(max((p - start) / (end - start), 0.0), 1.0) * 100 for p in (ph, low, high))
    return PhMark(words, ph, low, high, mid_at, low_at, high_at)


def _cautions(doses: Sequence[AssistantDose]) -> tuple[str, ...]:
    """Return the cautions for what goes in, each once."""
    keys = dict.fromkeys(key for dose in doses if (key := caution_key(dose)))
    return tuple(load_cautions()[key].sentence for key in keys)


def assistant_names() -> tuple[str, ...]:
    """Return the names to offer while typing: acids and alkalis, vinegar with its usual strength."""
    return tuple(
        f"{name.name} 5 %" if name.usual and name.usual.w_v_g_l else name.name
        for name in load_assistant_names().values()
        if name.substance not in SALTS | AUXILIARIES
    )
