"""What acids and alkalis do in the dyer's water."""

import math
from collections.abc import Sequence
from dataclasses import replace

from dyewright import units
from dyewright.core.acidity import (
    AIR_CO2_ATM,
    DAVIES_LIMIT_MOL_L,
    REFERENCE_C,
    FibreLoad,
    Solved,
    carbonate_total_mol_l,
    solve_bath,
)
from dyewright.core.model import AssistantDose, Basis, Strength, Substance, Water, WhenKind, Yarn
from dyewright.core.model.acidity import BathPh, DoseAmount, Needed, VinegarRule, WaterAnswer
from dyewright.data.acidity import load_acidity_tables
from dyewright.errors import InputError
from dyewright.services.assistants import parse_addition, parse_substance
from dyewright.services.fibres import fibres_from_text
from dyewright.services.water_doses import Bath, ResolvedDose, Totals, added, check_target, resolved

__all__ = [
    "bath_acidity",
    "bath_ph",
    "parse_yarn",
    "vinegar_rule",
]

CACO3_MG_PER_MEQ = 50.04  # mg of CaCO3 an milliequivalent: 100.09 g/mol, two equivalents
UNKNOWN_ALKALINITIES_MG_L = (0.0, 100.0, 300.0)  # soft, middling and hard tap water (estimate)
UNKNOWN_MIDDLE = 1
USUAL_TAP_PH = 7.8  # where a tap's pH is not said (estimate); it only matters while alkalinity is left
BACKGROUND_SALT_MOL_L = 0.001  # neutral salt of tap water (estimate, the project's reference notes)
PURE_WATER_MG_L = 5.0  # below this alkalinity a water's pH says nothing of what it holds
HIGHEST_ALKALINITY_MG_L = 5000.0
BOILING_C = 100.0
SPARKLING_CO2_MOL_L = 0.034  # carbon dioxide in water under 1 atm of it at 25 °C: 10^-1.468, phreeqc.dat
AIR_UPTAKE_MOL_L = 1e-4  # the most carbon dioxide a stirred pot takes from the air in twenty minutes (estimate)
DRIFT_PH = 0.3
SPOON_OF_SOLID = "A spoon of {label} is sure to 40 % only, as powders pack: weigh it if you can."


def bath_ph(*, yarn: Yarn | None, liquor_l: float, water: Water, assistants: Sequence[AssistantDose]) -> BathPh:
    """Return the pH of a bath, with every amount resolved and the amounts for target pHs solved.

    Amounts on weight of fibre and per litre are of the product as bought, and are resolved with `yarn.dry_g` and
    `liquor_l`. Additions for the soak are listed but do not count in the bath. A target counts every addition up to
    its own moment. Water of unknown alkalinity gives a range, and targets are solved for its middle.

    Args:
        yarn: the yarn in the bath, whose fibre binds acid; None is a bath without yarn.
        liquor_l: the bath's total volume, L, above 0, additions and wetted-out yarn included.

    Raises:
        InputError: an amount, the water or the yarn cannot be; OutOfRangeError where a target pH is out of reach.
    """
    doses, baths = _made_up(yarn, liquor_l, water, assistants)
    tables, middle = load_acidity_tables(), _middle(baths)
    before = solve_bath(tables, _tap_totals(_readings(water)[middle]))
    closed = [solve_bath(tables, bath.totals_mol_l, fibres=bath.fibres) for bath in baths]
    stripped = [_stripped_ph(bath, solved) for bath, solved in zip(baths, closed, strict=True)]
    return BathPh(
        ph_closed=closed[middle].ph,
        ph_stripped=stripped[middle],
        ph_before=before.ph,
        ph_closed_low=min(solved.ph for solved in closed),
        ph_closed_high=max(solved.ph for solved in closed),
        ph_stripped_low=min(stripped),
        ph_stripped_high=max(stripped),
        acid_bound_mol_kg=closed[middle].acid_bound_mol_kg,
        doses=tuple(dose.amount for dose in doses),
        notes=(*_water_notes(water), *_dose_notes(assistants, doses), *_bath_notes(closed[middle], stripped[middle])),
        basis=Basis.DEFAULT if water.alkalinity_mg_l is None or water.ph is None else Basis.MEASURED,
    )


def bath_acidity(
    *,
    volume_l: float,
    water: Water,
    additions: Sequence[str] = (),
    yarn: Yarn | None = None,
    target_ph: float | None = None,
    target_with: str | None = None,
    spoons: str = "metric",
) -> WaterAnswer:
    """Return what additions do in this water, and how much of one more reaches a target pH.

    Args:
        volume_l: of the bath, additions included, L, above 0.
        additions: "white vinegar 5 %=25 mL" and the like.
        target_with: the assistant that is to reach `target_ph`; both or neither are given.
    """
    doses = [parse_addition(text, spoons, field="add") for text in additions]
    typed = [*(text.rpartition("=")[0] for text in additions), *([target_with] if target_with else [])]
    if (target_ph is None) != (target_with is None):
        raise InputError(
            "a target pH goes with the acid or alkali that is to reach it; give both, for example pH 4.5 with"
            " 'white vinegar 5 %'",
            field="target_ph" if target_ph is None else "with",
        )
    if target_ph is not None and target_with is not None:
        check_target(target_ph)
        doses.append(replace(parse_substance(target_with, field="with"), target_ph=target_ph))
    answer = bath_ph(yarn=yarn, liquor_l=volume_l, water=water, assistants=doses)
    solved = next((dose for dose in answer.doses if dose.is_solved), None)
    return WaterAnswer(
        ph_closed=answer.ph_closed,
        ph_stripped=answer.ph_stripped,
        ph_before=answer.ph_before,
        ph_closed_low=answer.ph_closed_low,
        ph_closed_high=answer.ph_closed_high,
        ph_stripped_low=answer.ph_stripped_low,
        ph_stripped_high=answer.ph_stripped_high,
        alkalinity_meq_l=None if water.alkalinity_mg_l is None else water.alkalinity_mg_l / CACO3_MG_PER_MEQ,
        acid_bound_mol_kg=answer.acid_bound_mol_kg,
        additions=answer.doses,
        needed=None if solved is None else _needed(solved, spoons),
        basis=answer.basis,
        notes=(*_assumed_strengths(typed), *answer.notes),
    )


def parse_yarn(fibre: str | None, dry_g: float | None) -> Yarn | None:
    """Return the yarn of a bath from "wool" or "wool=80,nylon=20" and its dry weight; None where neither is given."""
    if not fibre and dry_g is None:
        return None
    if not fibre or dry_g is None:
        raise InputError(
            "the yarn's fibre and its dry weight go together; give both, for example wool and 100 g",
            field="fibre" if not fibre else "dry_g",
        )
    return Yarn(fibres_from_text(fibre.replace("=", " "), field="fibre"), dry_g)


def vinegar_rule(*, yarn: Yarn | None, liquor_l: float, water: Water, spoons: str = "metric") -> VinegarRule:
    """Return what the trade's usual dose does in this bath: 2 tbsp of 5 % vinegar in 8 cups of water.

    Common practice, no source. The spoons and cups are the studio's own; their ratio hardly differs.
    """
    rule = units.quantity("2 tbsp per 8 cups", spoons)
    dose = AssistantDose("white vinegar 5 %", Substance.ACETIC_ACID, Strength(w_v_g_l=50.0), bath_l_l=rule.value)
    answer = bath_ph(yarn=yarn, liquor_l=liquor_l, water=water, assistants=[dose])
    volume_l = rule.value * liquor_l
    return VinegarRule(
        volume_l=volume_l,
        kitchen=units.kitchen(volume_l, spoons),
        volume_per_100_g_l=None if yarn is None else volume_l / yarn.dry_g * 100,
        ph_closed=answer.ph_closed,
        ph_stripped=answer.ph_stripped,
        ph_closed_low=answer.ph_closed_low,
        ph_closed_high=answer.ph_closed_high,
    )


def _check_positive(field: str, thing: str, value: float, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"{thing} must be above 0 {unit}, got {value:g} {unit}", field=field, value=value, limit=0)


def _readings(water: Water) -> list[Water]:
    """Return the water as known, or soft, middling and hard where its alkalinity is not."""
    if water.temperature_c is not None and not 0 <= water.temperature_c <= BOILING_C:
        raise InputError(
            f"water of {water.temperature_c:g} °C is no tap water; it lies from 0 to {BOILING_C:g} °C",
            field="temperature_c",
            value=water.temperature_c,
            limit=BOILING_C,
        )
    if water.alkalinity_mg_l is None:
        return [replace(water, alkalinity_mg_l=alkalinity) for alkalinity in UNKNOWN_ALKALINITIES_MG_L]
    if not 0 <= water.alkalinity_mg_l <= HIGHEST_ALKALINITY_MG_L:
        raise InputError(
            f"an alkalinity of {water.alkalinity_mg_l:g} mg/L is no tap water; it lies from 0 (pure) to"
            f" {HIGHEST_ALKALINITY_MG_L:g} mg/L as CaCO3; leave it unknown if you cannot say",
            field="alkalinity_mg_l",
            value=water.alkalinity_mg_l,
            limit=HIGHEST_ALKALINITY_MG_L,
        )
    return [water]


def _tap_totals(water: Water) -> Totals:
    """Return what a litre of the water holds, mol: sodium for its alkalinity, carbonate, a little neutral salt."""
    alkalinity_meq_l = (water.alkalinity_mg_l or 0.0) / CACO3_MG_PER_MEQ
    charge_mol_l = alkalinity_meq_l / 1000
    if (water.alkalinity_mg_l or 0.0) < PURE_WATER_MG_L:
        return {"sodium": charge_mol_l, "carbonate": charge_mol_l}
    carbonate = carbonate_total_mol_l(
        load_acidity_tables(),
        alkalinity_meq_l,
        USUAL_TAP_PH if water.ph is None else water.ph,
        temperature_c=REFERENCE_C if water.temperature_c is None else water.temperature_c,
    )
    if carbonate > charge_mol_l + SPARKLING_CO2_MOL_L:
        raise InputError(
            f"water of pH {water.ph:g} and an alkalinity of {water.alkalinity_mg_l:g} mg/L fizzes; measure again",
            field="ph",
            value=water.ph,
        )
    return {
        "sodium": charge_mol_l + BACKGROUND_SALT_MOL_L,
        "carbonate": carbonate,
        "chloride": BACKGROUND_SALT_MOL_L,
    }


def _bath(water: Water, yarn: Yarn | None, liquor_l: float) -> Bath:
    """Return the water with the yarn in it, before anything is added."""
    totals = _tap_totals(water)
    if yarn is None:
        return Bath(totals, ())
    yarn_kg_l = yarn.dry_g / 1000 / liquor_l
    residue_mol_l = yarn.residue_meq_kg / 1000 * yarn_kg_l
    totals = added(totals, {"chloride": max(residue_mol_l, 0.0), "sodium": max(-residue_mol_l, 0.0)})
    sites = load_acidity_tables().fibres
    fibres = tuple(
        FibreLoad(sites[fibre], share * yarn_kg_l)
        for fibre, share in yarn.fibre_frac.items()
        if fibre in sites and share
    )
    return Bath(totals, fibres)


def _stripped_ph(bath: Bath, closed: Solved) -> float:
    """Return the pH once the bath is level with the air's carbon dioxide.

    A bath that would have to take up much of it stays as it is: a pot gives gas off in minutes but drinks it for days.
    """
    without = {name: total for name, total in bath.totals_mol_l.items() if name != "carbonate"}
    opened = solve_bath(load_acidity_tables(), without, fibres=bath.fibres, co2_atm=AIR_CO2_ATM)
    return closed.ph if opened.carbonate_mol_l - closed.carbonate_mol_l > AIR_UPTAKE_MOL_L else opened.ph


def _made_up(
    yarn: Yarn | None, liquor_l: float, water: Water, assistants: Sequence[AssistantDose]
) -> tuple[list[ResolvedDose], list[Bath]]:
    """Return the doses with their amounts, and the bath with them in it for each reading of the water."""
    _check_positive("liquor_l", "the bath", liquor_l, "L")
    if yarn is not None:
        _check_positive("dry_g", "the yarn", yarn.dry_g, "g")
    empty = [_bath(reading, yarn, liquor_l) for reading in _readings(water)]
    doses = resolved(assistants, empty[_middle(empty)], yarn, liquor_l)
    in_bath = [dose for dose in doses if dose.amount.when.kind is not WhenKind.SOAK]
    return doses, [bath.with_doses(in_bath, liquor_l) for bath in empty]


def _middle(readings: Sequence[object]) -> int:
    return UNKNOWN_MIDDLE if len(readings) > 1 else 0


def _needed(dose: DoseAmount, spoons: str) -> Needed:
    if dose.volume_l is None:
        return Needed(dose.mass_g, "g", None)
    return Needed(dose.volume_l * 1000, "mL", units.kitchen(dose.volume_l, spoons))


def _assumed_strengths(typed: Sequence[str]) -> list[str]:
    """Return a sentence for each name typed without its strength, where a usual one was taken."""
    doses = {text: parse_substance(text) for text in typed if "%" not in text}
    return [
        f"No strength was said for {text.strip()}: {dose.strength.w_v_g_l / 10:g} % was taken; see the label."
        for text, dose in doses.items()
        if dose.strength.w_v_g_l is not None
    ]


def _water_notes(water: Water) -> list[str]:
    if water.alkalinity_mg_l is None:
        low, middle, high = UNKNOWN_ALKALINITIES_MG_L
        sentence = (
            f"The water's alkalinity is not known: the range is for {low:g} to {high:g} mg/L as CaCO3, the figure for"
            f" {middle:g} mg/L. Your water supplier's report, or an aquarium KH test, tells it."
        )
        return [sentence]
    if water.alkalinity_mg_l < PURE_WATER_MG_L:
        return ["The pH of nearly pure water says nothing of what it holds, and was left out."] if water.ph else []
    if water.ph is None:
        return [f"The tap water's pH was not given: {USUAL_TAP_PH:g} was taken, which matters little in an acid bath."]
    return []


def _dose_notes(assistants: Sequence[AssistantDose], doses: Sequence[ResolvedDose]) -> list[str]:
    notes = []
    for stated, dose in zip(assistants, doses, strict=True):
        is_spooned = stated.volume_l is not None or stated.bath_l_l is not None
        if is_spooned and not dose.product.is_liquid and dose.product.gives_mol_g:
            notes.append(SPOON_OF_SOLID.format(label=stated.label))
        if stated.when.kind is WhenKind.SOAK and dose.product.gives_mol_g:
            notes.append(f"{stated.label} goes into the soak and does not count in the bath's pH.")
        if stated.substance is Substance.AMMONIUM_SULPHATE:
            notes.append(
                "Ammonium sulphate goes on working: as ammonia leaves an open, boiling bath the pH falls further."
            )
    return notes


def _bath_notes(closed: Solved, stripped_ph: float) -> list[str]:
    notes = []
    if stripped_ph - closed.ph > DRIFT_PH:
        notes.append(
            f"The acid does not use up the water's alkalinity: hot and stirred, the bath drifts from"
            f" pH {closed.ph:.1f} to {stripped_ph:.1f} as carbon dioxide leaves."
        )
    if closed.is_clamped:
        notes.append(
            f"So much salt (ionic strength {closed.ionic_strength_mol_l:.2g} mol/L) is beyond the activity model's"
            f" {DAVIES_LIMIT_MOL_L:g} mol/L: the pH is rough."
        )
    return notes
