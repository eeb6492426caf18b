"""How much goes into a bath: amounts as stated, and those that reach a pH, resolved one moment after another."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from dyewright import units
from dyewright.core.acidity import FibreLoad, Product, dose_for_ph, product_of, solve_bath
from dyewright.core.model import AssistantDose, Substance, WhenKind, Yarn
from dyewright.core.model.acidity import DoseAmount
from dyewright.data.acidity import load_acidity_tables, load_substances
from dyewright.errors import InputError, OutOfRangeError

__all__ = ["SALTS", "Bath", "ResolvedDose", "Totals", "added", "check_target", "resolved"]

MOST_SOLID_G_L = 100.0  # no dye bath holds more of a solid acid or alkali
DENSEST_G_L = 1000.0  # of solids that a litre of bath could hold: estimate, far beyond any recipe
ROUNDING_FRAC = 1e-9
SALTS = frozenset({Substance.GLAUBERS_SALT, Substance.GLAUBERS_SALT_DECAHYDRATE, Substance.COMMON_SALT})

Totals = dict[str, float]


@dataclass(frozen=True)
class Bath:
    """One reading of the water with what lies in it: totals in mol/L and the fibres that bind acid."""

    totals_mol_l: Totals
    fibres: tuple[FibreLoad, ...]

    def with_doses(self, doses: Sequence["ResolvedDose"], liquor_l: float) -> "Bath":
        """Return the bath with these doses in it."""
        totals = self.totals_mol_l
        for dose in doses:
            mass_g_l = dose.amount.mass_g / liquor_l
            totals = added(totals, {name: mol_g * mass_g_l for name, mol_g in dose.product.gives_mol_g.items()})
        return replace(self, totals_mol_l=totals)


@dataclass(frozen=True)
class ResolvedDose:
    """A dose with its amount found, and what a gram of it holds."""

    amount: DoseAmount
    product: Product


def added(totals_mol_l: Mapping[str, float], more_mol_l: Mapping[str, float]) -> Totals:
    """Return the sum of two sets of totals, mol/L."""
    return {name: totals_mol_l.get(name, 0.0) + more_mol_l.get(name, 0.0) for name in {*totals_mol_l, *more_mol_l}}


def resolved(assistants: Sequence[AssistantDose], bath: Bath, yarn: Yarn | None, liquor_l: float) -> list[ResolvedDose]:
    """Return every dose with its amount: those that are stated, then those that reach a pH, moment by moment.

    Raises:
        InputError: an amount cannot be, or the additions are more than the bath holds.
        OutOfRangeError: a target pH is out of reach.
    """
    found: dict[int, ResolvedDose] = {}
    for index, dose in enumerate(assistants):
        if dose.target_ph is None:
            product = _product(dose)
            found[index] = _dose_amount(dose, product, _stated_mass_g(dose, product, yarn, liquor_l))
    _check_room(found.values(), liquor_l)
    targets = [index for index, dose in enumerate(assistants) if dose.target_ph is not None]
    for index in sorted(targets, key=lambda i: _moment(assistants[i])):
        dose = assistants[index]
        so_far = [r for i, r in found.items() if 0 <= _moment(assistants[i]) <= _moment(dose)]
        product = _product(dose)
        mass_g = _mass_for_ph_g(dose, product, bath.with_doses(so_far, liquor_l)) * liquor_l
        found[index] = _dose_amount(dose, product, mass_g)
    _check_room(found.values(), liquor_l)
    return [found[index] for index in range(len(assistants))]


def _check_room(doses: Iterable[ResolvedDose], liquor_l: float) -> None:
    """Refuse additions to the bath that are more than the bath, or more than water dissolves."""
    in_bath = [dose.amount for dose in doses if dose.amount.when.kind is not WhenKind.SOAK]
    litres = sum(amount.volume_l or 0.0 for amount in in_bath)
    if litres > liquor_l * (1 + ROUNDING_FRAC):
        raise InputError(
            f"the additions alone are {litres:.3g} L, but the bath is {liquor_l:.3g} L in all; check the amounts",
            field="assistants",
            value=litres,
            limit=liquor_l,
        )
    solid_g_l = sum(amount.mass_g for amount in in_bath if amount.volume_l is None) / liquor_l
    if solid_g_l > DENSEST_G_L:
        raise InputError(
            f"the solids that go in are {solid_g_l:.4g} g in each litre of bath, and water holds no more than"
            f" {DENSEST_G_L:g} g; check the amounts",
            field="assistants",
            value=solid_g_l,
            limit=DENSEST_G_L,
        )


def _moment(dose: AssistantDose) -> int:
    """Return the order of an addition: -1 for the soak, 0 at the start, 1 later on."""
    return {WhenKind.SOAK: -1, WhenKind.START: 0}.get(dose.when.kind, 1)


def _dose_amount(dose: AssistantDose, product: Product, mass_g: float) -> ResolvedDose:
    is_liquid = product.is_liquid or (not product.gives_mol_g and dose.volume_l is not None)
    stated_l = product.volume_l(mass_g) if dose.volume_l is None else dose.volume_l
    volume_l = stated_l if is_liquid else None
    amount = DoseAmount(dose.label, dose.substance, mass_g, volume_l, dose.when, is_solved=dose.target_ph is not None)
    return ResolvedDose(amount, product)


def _product(dose: AssistantDose) -> Product:
    return product_of(dose, load_substances()[dose.substance])


def _stated_mass_g(dose: AssistantDose, product: Product, yarn: Yarn | None, liquor_l: float) -> float:
    """Return the grams of a product that a stated amount means."""
    stated = [
        value for value in (dose.mass_g, dose.volume_l, dose.owf, dose.bath_g_l, dose.bath_l_l) if value is not None
    ]
    if len(stated) != 1:
        raise InputError(f"{dose.label}: say one amount, for example '25 mL' or 'pH 4.5'", field="amount", limit=1)
    if not (math.isfinite(stated[0]) and stated[0] >= 0):
        raise InputError(f"{dose.label}: the amount must be 0 or more, got {stated[0]:g}", field="amount", limit=0)
    if dose.mass_g is not None:
        return dose.mass_g
    if dose.volume_l is not None:
        return product.mass_g(dose.volume_l)
    if dose.bath_g_l is not None:
        return dose.bath_g_l * liquor_l
    if dose.bath_l_l is not None:
        return product.mass_g(dose.bath_l_l * liquor_l)
    if yarn is None or dose.owf is None:
        raise InputError(
            f"{dose.label}: an amount on weight of fibre needs the yarn; say its dry weight, or give g or mL",
            field="dry_g",
        )
    return dose.owf * yarn.dry_g


def _mass_for_ph_g(dose: AssistantDose, product: Product, bath: Bath) -> float:
    """Return the grams of a product a litre of bath that reach the dose's target pH."""
    target_ph = dose.target_ph
    if target_ph is None or dose.when.kind is WhenKind.SOAK or not product.gives_mol_g or dose.substance in SALTS:
        raise InputError(
            f"{dose.label} cannot be measured out by pH: only an acid or alkali that goes into the bath can",
            field="target_ph",
            value=target_ph,
        )
    check_target(target_ph)
    most_g_l = product.density_kg_l * 1000 if product.is_liquid else MOST_SOLID_G_L
    tables = load_acidity_tables()
    try:
        return dose_for_ph(
            tables, bath.totals_mol_l, product.gives_mol_g, target_ph, most_g_l=most_g_l, fibres=bath.fibres
        )
    except OutOfRangeError as error:
        now = solve_bath(tables, bath.totals_mol_l, fibres=bath.fibres).ph
        raise OutOfRangeError(
            f"pH {target_ph:g} is out of reach: this bath stands at pH {now:.2f}, and {dose.label} takes it no nearer"
            f" than pH {error.limit:.2f}; choose another pH, or another acid or alkali",
            field="target_ph",
            value=target_ph,
            limit=error.limit,
        ) from error


def check_target(target_ph: float) -> None:
    """Refuse a target that is no pH."""
    if not 0 <= target_ph <= units.PH_MAX:
        raise InputError(
            f"a target of pH {target_ph:g} cannot be; a pH lies from 0 to {units.PH_MAX:g}, and acid dyes want 3 to 7",
            field="target_ph",
            value=target_ph,
            limit=units.PH_MAX,
        )
