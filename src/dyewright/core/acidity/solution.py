"""The pH of a bath: charge balance over acids, alkalis, salts, carbon dioxide and fibre.

What is in the bath is known as totals; the pH is where all charges, those fixed in the fibre included, add up to zero.
Activities follow Davies, sodium pairs with carbonate, hydrogen carbonate and sulphate, and the ions that the fibre
takes in are missing from the bath.

Sources: [1] W. Stumm, J. J. Morgan, Aquatic Chemistry, 3rd ed., Wiley (1996), ch. 3 and 4: charge balance, closed and
open carbonate systems. From memory.
The constants and their sources are in the tables that the caller hands in.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scipy.optimize import brentq

from dyewright.core.acidity.equilibria import (
    DAVIES_LIMIT_MOL_L,
    REFERENCE_C,
    activity_coefficient,
    davies_slope,
    pk_at,
)
from dyewright.core.acidity.fibre import donnan_log_ratio, fixed_charge
from dyewright.core.model.acidity import AcidFamily, AcidityTables, FibreSites
from dyewright.errors import InputError, OutOfRangeError

__all__ = ["AIR_CO2_ATM", "FibreLoad", "Solved", "carbonate_total_mol_l", "solve_bath"]

SODIUM, CHLORIDE, CARBONATE = "sodium", "chloride", "carbonate"
AIR_CO2_ATM = 4.2e-4  # 420 ppm of the air, as in the project's reference notes
LN10 = math.log(10)
PH_LOWEST, PH_HIGHEST = -1.0, 15.0
PH_TOLERANCE = 1e-7
ROUNDS = 80
AITKEN_ROUNDS = 3
STEADY_FACTOR_MAX = 0.999
LONGEST_LEAP = 1.0  # in ln of a Donnan ratio
CHARGES = (-3, -2, -1, 0, 1)


@dataclass(frozen=True)
class FibreLoad:
    """One fibre in the bath: its sites, and kilograms of it a litre of bath."""

    sites: FibreSites
    fibre_kg_l: float


@dataclass(frozen=True)
class Solved:
    """A bath in equilibrium.

    `acid_bound_mol_kg` is what all the fibre binds, for each kilogram of fibre that binds at all; 0 without fibre.
    """

    ph: float
    ionic_strength_mol_l: float
    hydroxide_mol_l: float
    acid_bound_mol_kg: float
    carbonate_mol_l: float

    @property
    def is_clamped(self) -> bool:
        """Whether the activities were needed beyond the limit of their equation."""
        return self.ionic_strength_mol_l > DAVIES_LIMIT_MOL_L


@dataclass(frozen=True)
class _Form:
    """One form of a family: its charge, its amount against the top form at pH 0, and its sodium pairs a mole of it."""

    charge: int
    relative: float
    paired: float


@dataclass(frozen=True)
class _Round:
    """What is held fixed while the pH is sought: activities, free sodium and where the ions are.

    `spread` is the amount of an ion in bath and fibre together, a litre of liquor, for each mol/L of it in the bath.
    """

    totals_mol_l: Mapping[str, float]
    co2_mol_l: float | None
    fibres: Sequence[FibreLoad]
    forms: Mapping[str, tuple[_Form, ...]]
    gamma: Mapping[int, float]
    water_pk: float
    sodium_mol_l: float
    spread: Mapping[int, float]
    log_ratios: Sequence[float]


@dataclass(frozen=True)
class _State:
    """A bath at one pH: its net charge, its ions by charge, its pairs and what its fibres do."""

    net_charge_mol_l: float
    ions_mol_l: Mapping[int, float]
    paired_mol_l: float
    log_ratios: tuple[float, ...]
    bound_mol_l: float
    carbonate_mol_l: float


def solve_bath(
    tables: AcidityTables,
    totals_mol_l: Mapping[str, float],
    *,
    fibres: Sequence[FibreLoad] = (),
    temperature_c: float = REFERENCE_C,
    co2_atm: float | None = None,
) -> Solved:
    """Return the equilibrium of a bath.

    Davies' activities hold to an ionic strength of 0.5 mol/L; beyond that they stay as they are there, and
    `is_clamped` says so. The groups of the fibre are taken as the same at every temperature.

    Args:
        totals_mol_l: total of each family of the tables, and of "sodium" and "chloride" (any strong anion of charge
            -1), mol/L of liquor, 0 or more; what is not named is 0. Hydrogen follows from the balance.
        temperature_c: of the bath, 0 to 100 °C.
        co2_atm: pressure of carbon dioxide over an open bath, atm; None is a closed bath, whose carbonate is in the
            totals.

    Raises:
        OutOfRangeError: less liquor than the water inside the fibre, no round that settles, or a pH outside -1 to 15.
    """
    _check(tables, totals_mol_l, fibres)
    slope = float(davies_slope(temperature_c))
    water_pk = pk_at(tables.water, temperature_c)
    co2_mol_l = None if co2_atm is None else co2_atm * 10 ** -pk_at(tables.carbon_dioxide_gas, temperature_c)
    strength = paired_share = 0.0
    log_ratios: Sequence[float] = (0.0,) * len(fibres)
    trail: list[tuple[float, ...]] = []
    ph, moved = math.nan, math.inf
    for _ in range(ROUNDS):
        gamma = {z: activity_coefficient(z, strength, slope) for z in CHARGES}
        spread = _spread(fibres, log_ratios)
        sodium = totals_mol_l.get(SODIUM, 0.0) / (spread[1] + paired_share)
        forms = {f.name: _forms(f, tables, temperature_c, gamma, sodium) for f in tables.families}
        fixed = _Round(totals_mol_l, co2_mol_l, fibres, forms, gamma, water_pk, sodium, spread, log_ratios)
        before, ph = ph, _neutral_ph(fixed, ph, moved)
        state = _state(ph, fixed)
        strength = sum(z * z * amount for z, amount in state.ions_mol_l.items()) / 2
        paired_share = state.paired_mol_l / sodium if sodium else 0.0
        moved = math.inf if math.isnan(before) else abs(ph - before)
        if moved < PH_TOLERANCE:
            break
        trail.append(state.log_ratios)
        log_ratios = _ahead(trail)
    else:
        raise OutOfRangeError(
            "this bath is beyond what the acidity model can settle; use more water or less acid, alkali or salt",
            field="liquor_l",
            value=fibres,
        )
    kg_l = sum(load.fibre_kg_l for load in fibres)
    return Solved(
        ph=ph,
        ionic_strength_mol_l=strength,
        hydroxide_mol_l=10 ** (ph - water_pk) / gamma[1],
        acid_bound_mol_kg=state.bound_mol_l / kg_l if kg_l else 0.0,
        carbonate_mol_l=state.carbonate_mol_l,
    )


def carbonate_total_mol_l(
    tables: AcidityTables, alkalinity_meq_l: float, ph: float, *, temperature_c: float = REFERENCE_C
) -> float:
    """Return the total carbonate of a closed water from its alkalinity and pH, mol/L, [1].

    Alkalinity = hydrogen carbonate + 2 carbonate + hydroxide - hydrogen ion; ionic strength is taken as alkalinity.

    Args:
        alkalinity_meq_l: 0 or more, meq/L.
        ph: as measured at `temperature_c`, 0 to 14.

    Raises:
        OutOfRangeError: the pH is too high for so little alkalinity.
    """
    slope = float(davies_slope(temperature_c))
    alkalinity = alkalinity_meq_l / 1000  # mol of charge a litre
    gamma = {z: activity_coefficient(z, alkalinity, slope) for z in CHARGES}
    family = next(f for f in tables.families if f.name == CARBONATE)
    forms = _forms(family, tables, temperature_c, gamma, 0.0)
    relative = [form.relative * 10 ** (lost * ph) for lost, form in enumerate(forms)]
    equivalents = sum(-form.charge * amount for form, amount in zip(forms, relative, strict=True)) / sum(relative)
    hydroxide = 10 ** (ph - pk_at(tables.water, temperature_c)) / gamma[1]
    hydrogen = 10**-ph / gamma[1]
    total = (alkalinity - hydroxide + hydrogen) / equivalents
    if total < 0:
        raise OutOfRangeError(
            f"water of pH {ph:g} has more alkalinity than {alkalinity_meq_l:.3g} meq/L; measure again",
            field="ph",
            value=ph,
        )
    return total


def _check(tables: AcidityTables, totals_mol_l: Mapping[str, float], fibres: Sequence[FibreLoad]) -> None:
    known = {f.name for f in tables.families} | {SODIUM, CHLORIDE}
    for name, total in totals_mol_l.items():
        if name not in known:
            raise InputError(f"'{name}' is in no table; known are {', '.join(sorted(known))}", field=name)
        if not (math.isfinite(total) and total >= 0):
            raise InputError(f"{name} must be 0 mol/L or more, got {total}", field=name, value=total, limit=0)
    inner_l = sum(load.fibre_kg_l * load.sites.inner_water_l_kg for load in fibres)
    if inner_l >= 1:
        raise OutOfRangeError(
            "the yarn alone holds all of this liquor; add water until the yarn moves freely",
            field="liquor_l",
            value=inner_l,
            limit=1,
        )


def _forms(
    family: AcidFamily, tables: AcidityTables, temperature_c: float, gamma: Mapping[int, float], sodium_mol_l: float
) -> tuple[_Form, ...]:
    """Return the forms of a family from the one that holds every proton down."""
    pk_sum, found = 0.0, []
    for lost in range(len(family.steps) + 1):
        pk_sum += pk_at(family.steps[lost - 1], temperature_c) if lost else 0.0
        charge = family.top_charge - lost
        paired = sum(
            10 ** pk_at(pair.dissociation, temperature_c) * gamma[charge] * gamma[1] / gamma[charge + 1]
            for pair in tables.pairs
            if pair.family == family.name and pair.lost == lost
        )
        found.append(_Form(charge, 10**-pk_sum / gamma[charge], paired * sodium_mol_l))
    return tuple(found)


def _spread(fibres: Sequence[FibreLoad], log_ratios: Sequence[float]) -> dict[int, float]:
    """Return the amount of an ion, a litre of liquor, for each mol/L of it in the bath, by charge."""
    inner = [(load.fibre_kg_l * load.sites.inner_water_l_kg, u) for load, u in zip(fibres, log_ratios, strict=True)]
    outer_l = 1 - sum(litres for litres, _ in inner)
    return {z: outer_l + sum(litres * math.exp(-z * u) for litres, u in inner) for z in CHARGES}


def _ahead(trail: list[tuple[float, ...]]) -> tuple[float, ...]:
    """Return where the Donnan ratios are heading, by Aitken's extrapolation over each three rounds, and forget those.

    The rounds close in by a steady factor: the share of the anions that sits in the fibre.
    """
    if len(trail) < AITKEN_ROUNDS:
        return trail[-1]
    found = []
    for first, second, third in zip(*trail, strict=True):
        before, now = second - first, third - second
        factor = now / before if before else 0.0
        leap = now * factor / (1 - factor) if 0 < factor < STEADY_FACTOR_MAX else 0.0
        found.append(third + min(max(leap, -LONGEST_LEAP), LONGEST_LEAP))
    trail.clear()
    return tuple(found)


def _neutral_ph(fixed: _Round, guess: float, moved: float) -> float:
    """Return the pH at which all charges add up to zero; the net charge falls steadily with the pH."""

    def net(ph: float) -> float:
        return _state(ph, fixed).net_charge_mol_l

    low, high = PH_LOWEST, PH_HIGHEST
    if math.isfinite(moved):
        near_low, near_high = guess - 2 * moved, guess + 2 * moved
        low, high = (near_low, near_high) if net(near_low) > 0 > net(near_high) else (low, high)
    if not net(low) >= 0 >= net(high):
        raise OutOfRangeError(
            f"the pH of this bath lies outside {PH_LOWEST:g} to {PH_HIGHEST:g}; check the amounts",
            field="amount",
            limit=(PH_LOWEST, PH_HIGHEST),
        )
    return float(brentq(net, low, high, xtol=PH_TOLERANCE / 10))


def _state(ph: float, fixed: _Round) -> _State:
    """Return the bath's charges and ions at a pH, with what the round holds fixed."""
    hydrogen = 10**-ph / fixed.gamma[1]
    hydroxide = 10 ** (ph - fixed.water_pk) / fixed.gamma[1]
    sodium, chloride = fixed.totals_mol_l.get(SODIUM, 0.0), fixed.totals_mol_l.get(CHLORIDE, 0.0)
    ions = dict.fromkeys(CHARGES, 0.0)
    ions[1] = hydrogen + fixed.sodium_mol_l
    ions[-1] = hydroxide + chloride / fixed.spread[-1]
    net = hydrogen * fixed.spread[1] - hydroxide * fixed.spread[-1] + sodium - chloride
    paired_all = carbonate = 0.0
    for name, forms in fixed.forms.items():
        total = fixed.totals_mol_l.get(name, 0.0)
        is_open = name == CARBONATE and fixed.co2_mol_l is not None
        if total == 0 and not is_open:
            continue
        relative = [form.relative * 10 ** (lost * ph) for lost, form in enumerate(forms)]
        weights = [
            amount * (fixed.spread[form.charge] + (fixed.spread[form.charge + 1] * form.paired if form.paired else 0.0))
            for form, amount in zip(forms, relative, strict=True)
        ]
        top = fixed.co2_mol_l if is_open and fixed.co2_mol_l is not None else total / sum(weights)
        for form, amount, weight in zip(forms, relative, weights, strict=True):
            ions[form.charge] += top * amount
            net += form.charge * top * weight
            if form.paired:
                # A pair carries its sodium's charge too, but that is counted in the total of sodium.
                ions[form.charge + 1] += top * amount * form.paired
                paired_all += top * amount * form.paired * fixed.spread[form.charge + 1]
        carbonate = top * sum(weights) if name == CARBONATE else carbonate
    log_ratios, bound = _fibre_charges(ph, fixed, ions)
    return _State(net + bound, ions, paired_all, log_ratios, bound, carbonate)


def _fibre_charges(ph: float, fixed: _Round, ions_mol_l: Mapping[int, float]) -> tuple[tuple[float, ...], float]:
    """Return ln of each fibre's Donnan ratio, and the charge fixed in all of them, mol a litre of liquor."""
    ratios, bound = [], 0.0
    for load, guess in zip(fixed.fibres, fixed.log_ratios, strict=True):
        u = donnan_log_ratio(load.sites, ph, ions_mol_l, first_guess=guess)
        ratios.append(u)
        bound += load.fibre_kg_l * fixed_charge(load.sites, ph + u / LN10)
    return tuple(ratios), bound
