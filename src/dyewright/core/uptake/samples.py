"""Parameter samples: what is known of a class of dye, drawn many times, so that answers are bands.

The doubts are estimates (one standard deviation each): T50 5 °C, activation energy 12 %, final uptake 0.5 in its logit.
The shift between untreated and superwash wool is published as 25 to 40 °C (see kinetics).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from dyewright.core.model import PER_SUBJECT, Fibre, Learnt, UptakeRow
from dyewright.core.uptake.kinetics import (
    REFERENCE_L_KG,
    SUPERWASH_EA_RATIO,
    SUPERWASH_SHIFT_C,
    k95_of_t50,
    k95_superwash,
    ln_k_per_c_of_t50,
)

__all__ = [
    "SHIFT_SD_C",
    "Ensemble",
    "at_shifts",
    "class_prior_sd",
    "draw",
    "joined_ensemble",
    "picked_ensemble",
]

Floats = NDArray[np.float64]
Kinds = Sequence[Sequence[UptakeRow]]
"""What one dye may be: for each kind (one, unless the class is unknown) a row for each fibre."""

T50_SD_C = 5.0  # estimate
EA_SD_FRAC = 0.12  # estimate
LOGIT_SD = 0.5  # of the final uptake; estimate
LN_LOAD_SD = 0.5  # of what there is to wash out: a factor 1.6 either way holds two thirds of pots; estimate
SHIFT_SD_C = 5.0  # 25 to 40 °C is published; read as two thirds of cases
LN_CLEAR_SD = float(np.log(2.0) / ndtri(0.95))  # the eye's limit: a factor 2 either way holds nine of ten; estimate


@dataclass(frozen=True)
class Ensemble:
    """Parameters of every sample. Arrays have shape (samples, dyes, fibres) unless said otherwise.

    `k95_per_min` is at the class's own pH and 30 L/kg. `saturation_owf` has shape (fibres,). `ph_position` (samples,)
    places each sample's pH between the bath's bounds, 0 to 1; `clear_factor` (samples,) multiplies the clear limit,
    `load_factor` (samples, dyes) what there is to wash out. `shifts` (samples, 3 dyes + 1) are the draws of what can be
    learnt, as shifts from the class defaults (the vector of model/learning.py).
    """

    k95_per_min: Floats
    ea_kj_mol: Floats
    k0_l_kg: Floats
    z: Floats
    theta0: Floats
    ph_ref: Floats
    saturation_owf: Floats
    ph_position: Floats
    clear_factor: Floats
    load_factor: Floats
    shifts: Floats


@dataclass(frozen=True)
class _Draws:
    """Draws, shape (samples, dyes) or (samples,).

    `t50_c`, `logit`, `ln_load` and `ln_clear` are shifts from the class defaults; `ea` and `shift` are standard normal,
    `kind` and `ph` uniform on 0 to 1. The superwash shift is one of the yarn, so that all dyes of a sample share it,
    but for those whose own pots on this yarn have told.
    """

    t50_c: Floats
    logit: Floats
    ln_load: Floats
    ln_clear: Floats
    ea: Floats
    kind: Floats
    shift: Floats
    ph: Floats


def draw(
    dyes: Sequence[Kinds],
    saturation_owf: Sequence[float],
    *,
    is_superwash: bool,
    samples: int,
    rng: np.random.Generator,
    learnt: Learnt | None = None,
) -> Ensemble:
    """Return parameter samples (a Latin hypercube: every tenth of each range is used).

    Args:
        dyes: for each dye what it may be; each sample picks one kind of it, all kinds alike.
        saturation_owf: of each fibre.
        is_superwash: whether the wool among the fibres is.
        samples: how many, 1 to about 10000.
        rng: seeded by the caller: the same generator state gives the same samples.
        learnt: what the studio's pots taught of these dyes, in this order; the class priors where None. Of a dye that
            had pots of its own on this yarn, the shifts hold what its kind and the superwash shift leave open.
    """
    count = len(dyes)
    is_taught = np.zeros(count, bool) if learnt is None else np.array(learnt.pots) > 0
    dyes = [(_middle(kinds),) if taught else kinds for kinds, taught in zip(dyes, is_taught, strict=True)]
    known = PER_SUBJECT * count + 1
    uniform = _latin_hypercube(rng, samples, known + 2 * count + 2)
    shifts = _shifts(ndtri(uniform[:, :known]), learnt)
    of_dye = shifts[:, :-1].reshape(samples, count, PER_SUBJECT)
    free, spare = uniform[:, known : known + 2 * count].reshape(samples, count, 2), uniform[:, -2:]
    draws = _Draws(
        t50_c=of_dye[..., 0],
        logit=of_dye[..., 1],
        ln_load=of_dye[..., 2],
        ln_clear=shifts[:, -1],
        ea=ndtri(free[..., 0]),
        kind=free[..., 1],
        shift=np.where(is_taught, 0.0, ndtri(spare[:, :1])),
        ph=spare[:, 1],
    )
    return _ensemble(dyes, saturation_owf, draws, is_superwash=is_superwash)


def joined_ensemble(parts: Sequence[Ensemble]) -> Ensemble:
    """Return the samples of several ensembles of the same dyes and fibres as one."""
    names = [name for name in vars(parts[0]) if name != "saturation_owf"]
    return replace(parts[0], **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def picked_ensemble(ensemble: Ensemble, places: NDArray[np.intp]) -> Ensemble:
    """Return some of the samples of an ensemble."""
    names = [name for name in vars(ensemble) if name != "saturation_owf"]
    return replace(ensemble, **{name: getattr(ensemble, name)[places] for name in names})


def class_prior_sd(count: int) -> Floats:
    """Return the standard deviation of every number that is learnt, nothing being learnt yet, shape (3 count + 1,)."""
    of_dye = np.tile([T50_SD_C, LOGIT_SD, LN_LOAD_SD], count)
    return np.append(of_dye, LN_CLEAR_SD)


def _shifts(normal: Floats, learnt: Learnt | None) -> Floats:
    """Return shifts from the class defaults out of standard normal draws, shape (samples, 3 dyes + 1)."""
    if learnt is None:
        return normal * class_prior_sd((normal.shape[1] - 1) // PER_SUBJECT)
    factor = np.linalg.cholesky(np.array(learnt.covariance))
    drawn: Floats = np.array(learnt.mean) + normal @ factor.T
    return drawn


def at_shifts(
    dyes: Sequence[Kinds], saturation_owf: Sequence[float], shifts: Floats, *, is_superwash: bool
) -> Ensemble:
    """Return a sample for each row of shifts, everything else in its middle; an unknown kind lies between the kinds.

    Args:
        dyes: for each dye what it may be.
        saturation_owf: of each fibre.
        shifts: vectors over the dyes as `Learnt` has them, shape (samples, 3 dyes + 1).
        is_superwash: whether the wool among the fibres is.
    """
    of_dye = shifts[:, :-1].reshape(len(shifts), len(dyes), PER_SUBJECT)
    zero = np.zeros(of_dye.shape[:2])
    draws = _Draws(
        t50_c=of_dye[..., 0],
        logit=of_dye[..., 1],
        ln_load=of_dye[..., 2],
        ln_clear=shifts[:, -1],
        ea=zero,
        kind=zero,
        shift=zero,
        ph=np.full(len(shifts), 0.5),
    )
    return _ensemble([(_middle(kinds),) for kinds in dyes], saturation_owf, draws, is_superwash=is_superwash)


def _middle(kinds: Kinds) -> tuple[UptakeRow, ...]:
    """Return rows between those of a dye's kinds: the mean of their numbers, for K0 of its logarithm."""
    if len(kinds) == 1:
        return tuple(kinds[0])
    means = ("t50_c", "ea_kj_mol", "rate_factor", "ph_ref", "z", "theta0")
    return tuple(
        replace(
            rows[0],
            k0_l_kg=float(np.exp(np.mean([np.log(_k0_l_kg(row)) for row in rows]))),
            **{name: float(np.mean([getattr(row, name) for row in rows])) for name in means},
        )
        for rows in zip(*kinds, strict=True)
    )


def _latin_hypercube(rng: np.random.Generator, samples: int, dimensions: int) -> Floats:
    strata = np.argsort(rng.random((samples, dimensions)), axis=0)
    points: Floats = (strata + rng.random((samples, dimensions))) / samples
    return np.clip(points, 1e-9, 1 - 1e-9)  # ndtri is infinite at 0 and 1


def _ensemble(dyes: Sequence[Kinds], saturation_owf: Sequence[float], draws: _Draws, *, is_superwash: bool) -> Ensemble:
    """Return the parameters that the draws stand for."""
    rows = [_picked(kinds, draws.kind[:, dye]) for dye, kinds in enumerate(dyes)]
    table = {name: np.stack([r[name] for r in rows], axis=1) for name in rows[0]}  # (samples, dyes, fibres)
    ea = table["ea"] * (1.0 + EA_SD_FRAC * draws.ea[..., None])
    doubt = draws.t50_c[..., None] * ln_k_per_c_of_t50(table["t50"], ea)
    k95 = k95_of_t50(table["t50"], ea) * np.exp(-doubt)
    if is_superwash:
        wool = np.array([row.fibre is Fibre.WOOL for row in dyes[0][0]])
        shift = SUPERWASH_SHIFT_C + SHIFT_SD_C * draws.shift[..., None]
        k95 = np.where(wool, k95_superwash(k95, ea, shift), k95)
        ea = np.where(wool, ea / SUPERWASH_EA_RATIO, ea)
    return Ensemble(
        k95_per_min=k95 * table["rate_factor"],
        ea_kj_mol=ea,
        k0_l_kg=table["k0"] * np.exp(draws.logit[..., None]),  # logit E∞ = ln(K/L)
        z=table["z"],
        theta0=table["theta0"],
        ph_ref=table["ph_ref"],
        saturation_owf=np.asarray(saturation_owf, float),
        ph_position=draws.ph,
        clear_factor=np.exp(draws.ln_clear),
        load_factor=np.exp(draws.ln_load),
        shifts=_vector(draws),
    )


def _vector(draws: _Draws) -> Floats:
    """Return the learnable draws as one vector a sample, shape (samples, 3 dyes + 1)."""
    of_dye = np.stack([draws.t50_c, draws.logit, draws.ln_load], axis=-1)
    return np.column_stack([of_dye.reshape(of_dye.shape[0], -1), draws.ln_clear])


def _picked(kinds: Kinds, position: Floats) -> dict[str, Floats]:
    """Return the rows' numbers of one dye, each of shape (samples, fibres), with the kind that each sample picks."""
    choice = np.minimum((position * len(kinds)).astype(int), len(kinds) - 1)
    values = {
        "t50": [[row.t50_c for row in rows] for rows in kinds],
        "ea": [[row.ea_kj_mol for row in rows] for rows in kinds],
        "rate_factor": [[row.rate_factor for row in rows] for rows in kinds],
        "k0": [[_k0_l_kg(row) for row in rows] for rows in kinds],
        "z": [[row.z for row in rows] for rows in kinds],
        "theta0": [[row.theta0 for row in rows] for rows in kinds],
        "ph_ref": [[row.ph_ref for row in rows] for rows in kinds],
    }
    return {name: np.asarray(numbers, float)[choice] for name, numbers in values.items()}


def _k0_l_kg(row: UptakeRow) -> float:
    """Return K0, L/kg; for a class whose equilibrium does not follow pH, K = 30 E∞/(1 - E∞)."""
    if row.k0_l_kg is not None:
        return row.k0_l_kg
    return REFERENCE_L_KG * row.equilibrium_frac / (1.0 - row.equilibrium_frac)
