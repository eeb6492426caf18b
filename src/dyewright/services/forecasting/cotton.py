"""Reactive dye on cotton, linen and viscose: its course, where done means time, temperature and pH."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from dyewright.core.model import Basis, DyeDose, DyeForecast, Fibre, Forecast, Observed, PhReading, Sheet
from dyewright.core.reactive import (
    USUAL_SALT_MOL_L,
    CelluloseBath,
    CelluloseCourse,
    CelluloseDraws,
    on_cellulose,
    stock_active_frac,
)
from dyewright.core.uptake import (
    Course,
    DyeBath,
    bath_exhaustion,
    class_prior_sd,
    quantile_band,
    retimed,
    value_band,
    weighed,
    wild_readings,
)
from dyewright.data.after_dyeing import load_reactive
from dyewright.services.forecasting.after_bath import with_after_bath
from dyewright.services.forecasting.fixing import Dyed
from dyewright.services.forecasting.inputs import (
    SALT_CHARGES_PER_G,
    SAMPLES,
    ModelledDyes,
    dye_bath,
    late_moments,
    planned_course,
)
from dyewright.services.forecasting.readings import doubts_of_pot
from dyewright.services.forecasting.rinsing import Washed, rinse_look, washed
from dyewright.services.stock_age import stock_days
from dyewright.units import show_percent

__all__ = [
    "CottonPot",
    "bonds_all_on_cellulose",
    "cellulose_bath",
    "cotton_wash",
    "dyed_on_cellulose",
    "with_cotton",
]

Floats = NDArray[np.float64]

CELLULOSE = {Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE}
LEAST_ALKALI_PH, MOST_ALKALI_PH = 9.0, 12.0  # outside, hardly any bonding, or cellulose and dye suffer; estimate
ENOUGH_SALT = 0.3  # of the usual salt; below, a note says what is missing
LN_LOAD_SD = float(class_prior_sd(1)[2])  # the same doubt as of what washes out of wool
UNFINISHED_FRAC = 0.2
UNUSED_CLARITY = "How clear the bath looks is kept, but on cotton it does not tell how much has bonded."
CLASS_DEFAULT = (
    "How fast water uses this class of dye up, and how much better it bonds, are estimates of the class: nine of ten "
    "pots should lie within the bands."
)
DONE = "On cotton done means time, temperature and pH, never clarity: part of the dye stays in the bath."


def bonds_all_on_cellulose(sheet: Sheet) -> bool:
    """Return whether the whole card is reactive dye with figures for cellulose, on nothing but cellulose."""
    dyes = sheet.card.dyes
    is_cellulose = all(fibre in CELLULOSE for fibre, share in sheet.card.yarn.fibre_frac.items() if share > 0)
    made_for_it = {dye_class for dye_class, row in load_reactive().items() if row.cellulose is not None}
    return is_cellulose and all(dose.dye_class in made_for_it and dose.depth_owf > 0 for dose in dyes)


@dataclass(frozen=True)
class CottonPot:
    """The pot as it goes: its temperature, and what strips read of its pH."""

    course: Course
    phs: tuple[PhReading, ...] = ()


def dyed_on_cellulose(sheet: Sheet, pot: CottonPot, *, samples: int, rng: np.random.Generator) -> Dyed:
    """Return the course of every dye of a card that `bonds_all_on_cellulose`.

    Args:
        sheet: the plan.
        pot: how it goes.
        samples: how many.
        rng: of the draws.
    """
    doses = sheet.card.dyes
    bath = cellulose_bath(sheet, pot)
    loads = np.exp(np.clip(rng.normal(0.0, LN_LOAD_SD, (samples, len(doses))), -2.0, 2.0))
    courses = [_course(bath, dose, loads[:, n], rng) for n, dose in enumerate(doses)]
    return Dyed(
        places=tuple(range(len(doses))),
        depth_owf=np.array([dose.depth_owf for dose in doses]),
        t_min=bath.t_min,
        exhaustion=np.stack([course.exhaustion for course in courses], axis=1),
        fixed=np.stack([course.fixed for course in courses], axis=1),
        hydrolysed=np.stack([course.hydrolysed[:, -1] for course in courses], axis=1),
        is_bonding=np.ones(len(doses), bool),
        carried_factor=np.ones_like(loads),
    )


def _dye_bath(sheet: Sheet, pot: CottonPot) -> DyeBath:
    fibres = tuple(fibre for fibre, share in sheet.card.yarn.fibre_frac.items() if share > 0)
    every_dye = ModelledDyes(tuple(range(len(sheet.card.dyes))), (), fibres, ())
    return dye_bath(sheet, every_dye, pot.course, pot.phs)


def cellulose_bath(sheet: Sheet, pot: CottonPot) -> CelluloseBath:
    """Return the pot by the minute, with a point at every addition."""
    bath = _dye_bath(sheet, pot)
    moments = late_moments(sheet, bath.t_min, bath.bath_c)
    end = float(bath.t_min[-1])
    t_min = np.unique(np.concatenate([np.arange(0.0, end), [m for m in moments.values() if 0 <= m < end], [end]]))
    at = np.clip(np.searchsorted(bath.t_min, t_min + 1e-9, side="right") - 1, 0, None)
    return CelluloseBath(
        t_min=t_min,
        bath_c=np.interp(t_min, bath.t_min, bath.bath_c),
        ph_low=bath.ph_low[at],
        ph_high=bath.ph_high[at],
        salt_mol_l=_salt_mol_l(sheet, t_min, moments),
        liquor_l_kg=sheet.liquor_ratio,
    )


def _salt_mol_l(sheet: Sheet, t_min: Floats, moments: dict[int, float]) -> Floats:
    """Return the charges of salt in the bath over time, mol/L."""
    salt = np.zeros_like(t_min)
    for i, amount in enumerate(sheet.assistants):
        if amount.substance in SALT_CHARGES_PER_G and amount.unit == "g":
            charges = amount.amount * SALT_CHARGES_PER_G[amount.substance] / sheet.liquor_l
            salt += np.where(t_min >= moments.get(i, 0.0), charges, 0.0)
    return salt


def _course(bath: CelluloseBath, dose: DyeDose, load_factor: Floats, rng: np.random.Generator) -> CelluloseCourse:
    row = load_reactive()[dose.dye_class]
    normal = np.clip(rng.standard_normal((7, load_factor.size)), -3.0, 3.0)
    draws = CelluloseDraws(
        half_life=normal[0],
        ea=normal[1],
        ph_order=normal[2],
        adsorption=normal[3],
        ph_position=ndtr(normal[4]),
        load_factor=load_factor,
        active_frac=stock_active_frac(row, stock_days(dose), normal[5], normal[6]),
    )
    return on_cellulose(bath, row, draws)


def cotton_wash(sheet: Sheet, pot: CottonPot, *, seed: int) -> Washed:
    """Return the samples of what is to be washed out of a card that `bonds_all_on_cellulose`."""
    rng = np.random.default_rng(seed)
    return washed(sheet, dyed_on_cellulose(sheet, pot, samples=SAMPLES, rng=rng), rng)


def with_cotton(told: Forecast, sheet: Sheet, observed: Observed, *, seed: int) -> Forecast:
    """Return a forecast without curves with the courses of its reactive dyes on cellulose, and what washes out.

    Of what was seen, temperatures, pH and the count of waters tell; how clear the bath is does not.

    Args:
        told: of a sheet that `bonds_all_on_cellulose`.
        sheet: the plan.
        observed: what was seen at the pot.
        seed: of the draws.
    """
    planned = CottonPot(planned_course(sheet))
    before = _told(told, sheet, planned, cotton_wash(sheet, planned, seed=seed), None)
    if observed.is_empty:
        return before
    wild = wild_readings(planned.course, observed.temperatures)
    believed = [one for one in observed.temperatures if one not in wild]
    pot = CottonPot(retimed(planned.course, believed), observed.phs)
    after = _told(told, sheet, pot, cotton_wash(sheet, pot, seed=seed), observed.rinses)
    unused = [UNUSED_CLARITY] if observed.clarities or observed.clarities_at_heat else []
    return replace(
        after,
        basis=Basis.FITTED,
        notes=(*unused, *after.notes),
        observed=observed,
        before=before,
        doubts=doubts_of_pot(observed, wild, planned.course, _dye_bath(sheet, planned)),
    )


def _told(told: Forecast, sheet: Sheet, pot: CottonPot, wash: Washed, rinses: int | None) -> Forecast:
    """Return the forecast of a pot as it goes, its samples weighed by the count of waters where there is one."""
    dyed = wash.dyed
    looks = [] if rinses is None else [rinse_look(rinses, wash)]
    weights = weighed(looks, np.zeros(SAMPLES)).weights
    bath = bath_exhaustion(dyed.exhaustion, dyed.depth_owf)
    curves = quantile_band(dyed.exhaustion, weights)
    joined = replace(
        told,
        t_min=dyed.t_min,
        bath_c=np.interp(dyed.t_min, pot.course.t_min, pot.course.bath_c),
        dyes=tuple(_banded(dye.name, curves[:, n]) for n, dye in enumerate(sheet.card.dyes)),
        bath=_banded("bath", quantile_band(bath, weights)),
        final_exhaustion=value_band(bath[:, -1], weights),
        notes=(DONE, *(_alkali_notes(cellulose_bath(sheet, pot)) or _unfinished(dyed, weights)), CLASS_DEFAULT),
    )
    return with_after_bath(joined, wash, weights)


def _banded(name: str, curves: Floats) -> DyeForecast:
    low, mid, high = curves
    return DyeForecast(name=name, exhaustion=mid, low=low, high=high)


def _alkali_notes(bath: CelluloseBath) -> list[str]:
    """Return what is amiss with alkali and salt: without them the dye does not bond."""
    ph, salt = float(bath.ph_high.max()), float(bath.salt_mol_l.max()) / USUAL_SALT_MOL_L
    notes = []
    if ph < LEAST_ALKALI_PH:
        notes.append(
            f"At pH {ph:.1f} hardly any of the dye bonds: soda ash makes it fix on cotton (pH 10.5 to 11.5), acid does "
            "not."
        )
    elif ph > MOST_ALKALI_PH:
        notes.append(f"At pH {ph:.1f} water uses the dye up faster than these figures are made for: pH 10.5 to 11.5.")
    if salt < ENOUGH_SALT:
        notes.append("With little or no salt most of the dye stays in the water and is lost to it.")
    return notes


def _unfinished(dyed: Dyed, weights: Floats) -> list[str]:
    """Return that much of the dye has not reacted yet when the plan ends, where that is so."""
    left = 1.0 - dyed.fixed[..., -1] - dyed.hydrolysed
    share = value_band((left * dyed.depth_owf).sum(axis=1) / dyed.depth_owf.sum(), weights).mid or 0.0
    if share < UNFINISHED_FRAC:
        return []
    shown = show_percent(round(share, 2))
    return [f"About {shown} of the dye has not reacted when the plan ends: a longer hold, or a warmer one, fixes more."]
