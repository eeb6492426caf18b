"""Planning an experiment: from a card or a few fields to samples in steps, seen before they are dyed."""

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.experiment import order_by_chance
from dyewright.core.model import (
    AssistantDose,
    Base,
    Card,
    DyeClass,
    DyeDose,
    Experiment,
    Factor,
    Fibre,
    Pot,
    Sample,
    Settings,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.files.cards import write_card
from dyewright.records import experiments as records_of
from dyewright.records import runs, shelf
from dyewright.services.assistants import parse_substance, with_amount
from dyewright.services.card_defaults import complete
from dyewright.services.evening.water_bath import BATH_POT
from dyewright.services.experiments.factors import FACTORS, FactorFacts, along, steps_of, usual_span
from dyewright.services.experiments.outlook import Outlook, outlook
from dyewright.services.experiments.samples import bench_of
from dyewright.services.heat_ups import pot_as_learnt
from dyewright.services.planning import read_card
from dyewright.services.recipes import recipe_text
from dyewright.services.repeating import repeated_card
from dyewright.units import show_mass

__all__ = ["keep_plan", "planning_page"]

FEWEST_STEPS, MOST_STEPS = 3, 7
LEAST_SKEIN_G, MOST_SKEIN_G = 1.0, 50.0  # below, a tag weighs as much; above, it is a pot (estimate)
USUAL_SKEIN, USUAL_LIQUOR = "5 g", "40:1"  # common practice, no source
DYE_ROWS = 3
LONGEST_NAME = 200
IN_STEPS = " in steps"  # how a name goes on that was given here

Form = Mapping[str, str]


@dataclass(frozen=True)
class _Asked:
    """What a form asks for: the shared card with its yarn, and the experiment of it."""

    card: Card
    base: Base | None
    experiment: Experiment


def planning_page(session: Session, typed: Form, *, today: date) -> dict[str, object]:
    """Return the form as typed, and what its experiment is foretold to show where it can be worked out.

    An error stands in `error`, at its field.
    """
    filled = _filled(session, typed, today)
    facts = _facts(filled)
    view: dict[str, object] = {
        "typed": filled,
        "factors": list(FACTORS.values()),
        "facts": facts,
        "bases": [(str(base.id), base.name) for base in shelf.bases(session)],
        "pots": [(str(pot.id), pot.name) for pot in shelf.vessels(session)],
        "dyes": [dye.name for dye in shelf.dyes(session)],
        "dye_rows": list(range(1, DYE_ROWS + 1)),
        "shared": (),
        "along": (),
        "outlook": None,
        "span": usual_span(facts, 0.0),
        "error": None,
    }
    try:
        view |= _worked_out(session, filled, today)
    except InputError as error:
        view["error"] = error if _is_asked(typed) else None
    return view


def _is_asked(typed: Form) -> bool:
    """Whether enough was said for an error to be news."""
    return any(typed.get(key, "").strip() for key in ("card", "run", "dye.1.name", "from", "to", "values"))


def _filled(session: Session, typed: Form, today: date) -> dict[str, str]:
    """Return the form's fields with those of a run that is to be varied, and the usual ones, where none is typed."""
    filled = {key: text for key, text in typed.items() if key != "switch"}
    if "switch" in typed:
        filled |= {"factor": typed["switch"], "from": "", "to": "", "steps": "", "values": ""}
        filled["name"] = "" if IN_STEPS in filled.get("name", "") else filled.get("name", "")
    if typed.get("run") and not typed.get("card"):
        filled |= _fields_of_run(session, typed["run"])
    usual = {
        "factor": Factor.DEPTH.value,
        "sample": USUAL_SKEIN,
        "liquor": USUAL_LIQUOR,
        "name": "",
        "blank": "1",
        "twin": "1",
    }
    if _is_sent(typed):  # an unticked box is a choice, once the form was seen
        usual["blank"] = usual["twin"] = ""
    filled = {**usual, **filled}
    if not filled["name"].strip():
        filled["name"] = _free_name(session, _facts(filled), today)
    return filled


def _is_sent(typed: Form) -> bool:
    return "sample" in typed


def _fields_of_run(session: Session, run_text: str) -> dict[str, str]:
    try:
        run = runs.run(session, UUID(run_text))
    except ValueError:
        raise InputError("which run is to be varied? Its address is damaged", field="run", value=run_text) from None
    return {"card": run.card_toml, "base": "" if run.base_id is None else str(run.base_id), "of": run.title}


def _free_name(session: Session, facts: FactorFacts, today: date) -> str:
    name = f"{facts.words}{IN_STEPS}, {today.day} {today:%B %Y}"
    taken = {one.name for one in records_of.experiments(session)}
    return (
        next((tried for n in range(2, 100) if (tried := f"{name}, {n}") not in taken), name) if name in taken else name
    )


def _facts(typed: Form) -> FactorFacts:
    try:
        return FACTORS[Factor(typed.get("factor", ""))]
    except ValueError:
        known = ", ".join(FACTORS)
        raise InputError(
            f"{typed.get('factor', '')!r} is nothing to vary; it can be {known}", field="factor", value=known
        ) from None


def _worked_out(session: Session, typed: Form, today: date) -> dict[str, object]:
    """Return what the page shows of an experiment that can be worked out."""
    asked = _asked(session, typed, today)
    settings = shelf.studio_settings(session)
    bench = bench_of(asked.experiment, asked.card, asked.base, settings)
    foretold: Outlook = outlook(session, bench, asked.base)
    factor = asked.experiment.factor
    return {
        "outlook": foretold,
        "shared": _shared_words(asked.card, factor),
        "along": along(factor, asked.card),
        "span": usual_span(FACTORS[factor], _depth_owf(asked.card)),
    }


def keep_plan(session: Session, typed: Form, *, today: date) -> Experiment:
    """Keep an experiment as typed.

    Raises:
        InputError: a field cannot be worked with; it is named, and nothing is kept.
    """
    asked = _asked(session, _filled(session, typed, today), today)
    bench_of(asked.experiment, asked.card, asked.base, shelf.studio_settings(session))
    return records_of.save_experiment(session, asked.experiment)


def _asked(session: Session, typed: Form, today: date) -> _Asked:
    settings, base = shelf.studio_settings(session), _base(session, typed)
    sample_g, facts = _sample_g(typed), _facts(typed)
    card = _shared_card(session, typed, base, settings, sample_g)
    values = _values(typed, facts, card)
    experiment = Experiment(
        name=_name(typed),
        factor=facts.factor,
        card_toml=write_card(card),
        base_id=None if base is None else base.id,
        sample_g=sample_g,
        samples=_samples(typed, values),
        created_on=today,
    )
    return _Asked(card, base, experiment)


def _base(session: Session, typed: Form) -> Base | None:
    text = typed.get("base", "")
    chosen = next((base for base in shelf.bases(session) if str(base.id) == text), None)
    if text and chosen is None:
        raise InputError("that yarn is not on the shelf; choose one of the list", field="base", value=text)
    return chosen


def _sample_g(typed: Form) -> float:
    mass_g = units.mass_g(
        typed.get("sample", "") or USUAL_SKEIN, field="sample", thing="a sample skein", default_unit="g"
    )
    if not LEAST_SKEIN_G <= mass_g <= MOST_SKEIN_G:
        raise InputError(
            f"a sample skein weighs {LEAST_SKEIN_G:g} to {MOST_SKEIN_G:g} g, got {show_mass(mass_g)}; 5 to 10 g "
            "is usual",
            field="sample",
            value=mass_g,
            limit=(LEAST_SKEIN_G, MOST_SKEIN_G),
        )
    return round(mass_g, 3)


def _name(typed: Form) -> str:
    text = typed["name"].strip()
    if len(text) > LONGEST_NAME:
        raise InputError(
            f"a name of {len(text)} letters is too long; {LONGEST_NAME} are the most",
            field="name",
            value=len(text),
            limit=LONGEST_NAME,
        )
    return text


def _shared_card(session: Session, typed: Form, base: Base | None, settings: Settings | None, sample_g: float) -> Card:
    """Return the card that all samples share, nothing left unsaid, on the weight of a sample."""
    if typed.get("card", "").strip():
        whole, _ = complete(read_card(typed["card"], settings), settings)
        card = repeated_card(whole, dry_g=sample_g).card
    else:
        card = _card_of_fields(session, typed, base, sample_g)
    card = replace(card, pots=(_pot(session, typed, card),), yarn=replace(card.yarn, skeins=1))
    if card.water_l is not None:
        card = replace(card, liquor_l_kg=card.water_l / card.yarn.dry_g * 1000, water_l=None)
    try:
        return complete(card, settings)[0]
    except InputError as error:
        is_acid = (error.field or "").startswith("assistant")
        raise InputError(
            error.message, field="acid" if is_acid else error.field, value=error.value, limit=error.limit
        ) from error


def _pot(session: Session, typed: Form, card: Card) -> Pot:
    """Return the pot of the water bath: the chosen one, the card's own, or the largest of the shelf."""
    vessels, chosen = shelf.vessels(session), typed.get("pot", "")
    known = {str(vessel.id): vessel for vessel in vessels}
    if chosen and chosen not in known:
        raise InputError("that pot is not on the shelf; choose one of the list", field="pot", value=chosen)
    if chosen:
        return pot_as_learnt(session, known[chosen])
    if card.pots:
        return card.pots[0]
    largest = max(vessels, key=lambda vessel: vessel.volume_l, default=None)
    return BATH_POT if largest is None else pot_as_learnt(session, largest)


def _card_of_fields(session: Session, typed: Form, base: Base | None, sample_g: float) -> Card:
    yarn = Yarn({Fibre.WOOL: 1.0} if base is None else base.fibre_frac, sample_g)
    return Card(
        title="",
        yarn=replace(yarn, is_superwash=base is not None and base.is_superwash),
        dyes=_dyes(session, typed),
        liquor_l_kg=units.liquor_l_kg(typed.get("liquor", "") or USUAL_LIQUOR, field="liquor", default_unit="L/kg"),
        assistants=_acid(typed),
    )


def _dyes(session: Session, typed: Form) -> tuple[DyeDose, ...]:
    known = {dye.name.casefold(): dye for dye in shelf.dyes(session)}
    doses = []
    for row in range(1, DYE_ROWS + 1):
        name, depth = (" ".join(typed.get(f"dye.{row}.{part}", "").split()) for part in ("name", "depth"))
        if not name and not depth:
            continue
        if not name:
            raise InputError("which dye has this depth?", field=f"dye.{row}.name")
        tub = known.get(name.casefold())
        owf = units.frac(depth or "1 %", field=f"dye.{row}.depth", thing=f"depth of {name}", bare_percent=True)
        doses.append(
            DyeDose(name, DyeClass.ACID_UNKNOWN, owf) if tub is None else DyeDose(tub.name, tub.dye_class, owf)
        )
    if not doses:
        raise InputError("which dye? Name one, with its usual depth", field="dye.1.name")
    return tuple(doses)


def _acid(typed: Form) -> tuple[AssistantDose, ...]:
    name, target = typed.get("acid", "").strip(), typed.get("ph", "").strip()
    if not name and target:
        raise InputError("which acid is to reach this pH? Name it, for example white vinegar 5 %", field="acid")
    if not name:
        return ()
    dose = parse_substance(name, field="acid")
    quantity = units.Quantity(units.Dimension.PH, units.ph(target, field="ph")) if target else None
    return (dose if quantity is None else with_amount(dose, quantity),)


def _values(typed: Form, facts: FactorFacts, card: Card) -> tuple[float, ...]:
    """Return the steps: one's own, or spaced between two ends, the usual ones where none is typed."""
    own = [part.strip() for part in typed.get("values", "").replace(";", ",").split(",") if part.strip()]
    if own:
        values = tuple(_value(facts, text, "values") for text in own)
        if not FEWEST_STEPS <= len(set(values)) == len(values) <= MOST_STEPS:
            raise InputError(
                f"{FEWEST_STEPS} to {MOST_STEPS} different steps make a series, {len(values)} were given"
                f"{'' if len(set(values)) == len(values) else ', two of them alike'}",
                field="values",
                value=len(values),
                limit=(FEWEST_STEPS, MOST_STEPS),
            )
        return tuple(sorted(values))
    low, high, steps = usual_span(facts, _depth_owf(card))
    first = _value(facts, typed["from"], "from") if typed.get("from", "").strip() else low
    last = _value(facts, typed["to"], "to") if typed.get("to", "").strip() else high
    if first == last:
        raise InputError(
            f"from and to are both {facts.show(first)}: a factor is varied between two values", field="to", value=last
        )
    return tuple(sorted(steps_of(facts, first, last, _steps(typed, steps))))


def _depth_owf(card: Card) -> float:
    return sum(dye.depth_owf for dye in card.dyes)


def _value(facts: FactorFacts, text: str, field: str) -> float:
    value = facts.read(text, field)
    if not facts.low <= value <= facts.high:
        raise InputError(
            f"{facts.show(value)} is outside what a sample can be given, {facts.show(facts.low)} to "
            f"{facts.show(facts.high)}",
            field=field,
            value=value,
            limit=(facts.low, facts.high),
        )
    return value


def _steps(typed: Form, usual: int) -> int:
    text = typed.get("steps", "").strip() or str(usual)
    if not (text.isascii() and text.isdigit() and FEWEST_STEPS <= int(text) <= MOST_STEPS):
        raise InputError(
            f"a series has {FEWEST_STEPS} to {MOST_STEPS} steps; {text!r} is none of these",
            field="steps",
            value=text,
            limit=(FEWEST_STEPS, MOST_STEPS),
        )
    return int(text)


def _samples(typed: Form, values: Sequence[float]) -> tuple[Sample, ...]:
    """Return the samples in the order of the factor, then the twin of the middle one, then the blank."""
    every: list[float | None] = [*values]
    if typed.get("twin"):
        every.append(values[len(values) // 2])
    if typed.get("blank"):
        every.append(None)
    rng = np.random.default_rng(zlib.crc32(typed["name"].encode()))  # the same name gives the same order
    places = order_by_chance(len(every), rng)
    return tuple(
        Sample(number, value, place) for number, (value, place) in enumerate(zip(every, places, strict=True), start=1)
    )


def _shared_words(card: Card, factor: Factor) -> tuple[str, ...]:
    """Return what all samples have in common, one thing a line, without what is varied."""
    recipe = recipe_text({dye.name: dye.depth_owf for dye in card.dyes})
    fibres = ", ".join(f"{fibre.value} {100 * share:.0f} %" for fibre, share in card.yarn.fibre_frac.items())
    acids = [
        dose.label if dose.target_ph is None else f"{dose.label} to pH {dose.target_ph:g}" for dose in card.assistants
    ]
    lines = [
        f"Dye: {' and '.join(dye.name for dye in card.dyes) if factor is Factor.DEPTH else recipe}",
        f"Yarn: {'superwash ' if card.yarn.is_superwash else ''}{fibres}",
    ]
    if factor is not Factor.LIQUOR:
        lines.append(f"Liquor {card.liquor_l_kg:.3g}:1")
    if factor is not Factor.PH and acids:
        lines.append(f"With {', '.join(acids)}")
    return (*lines, f"Water bath: {card.pots[0].name or 'the pot'}")
