"""Pots for uptake tests: a ramp with a hold, and the shipped rows of the dyes in it."""

import numpy as np

from dyewright.core.model import PER_SUBJECT, DyeClass, Fibre
from dyewright.core.uptake import DyeBath, at_shifts
from dyewright.data.uptake import load_uptake


def ramp(
    dyes=1,
    *,
    from_c=40.0,
    to_c=95.0,
    c_per_min=1.0,
    ph=5.0,
    liquor_l_kg=30.0,
    depth_owf=0.01,
    fibre_frac=(1.0,),
    until_min=120.0,
    step_min=1.0,
):
    t_min = np.arange(0.0, until_min + step_min / 2, step_min)
    acidity = np.full_like(t_min, ph)
    return DyeBath(
        t_min=t_min,
        bath_c=np.minimum(from_c + c_per_min * t_min, to_c),
        ph_low=acidity,
        ph_high=acidity,
        liquor_l_kg=liquor_l_kg,
        fibre_frac=np.array(fibre_frac),
        depth_owf=np.broadcast_to(np.asarray(depth_owf, float), (dyes,)).copy(),
    )


def kinds(*classes, fibres=(Fibre.WOOL,)):
    rows = load_uptake().rows
    return [[tuple(rows[fibre, DyeClass(name)] for fibre in fibres)] for name in classes]


def capacity(*fibres):
    return [load_uptake().saturation_owf[fibre] for fibre in fibres or (Fibre.WOOL,)]


def defaults(*classes, fibres=(Fibre.WOOL,), is_superwash=False):
    unshifted = np.zeros((1, PER_SUBJECT * len(classes) + 1))
    return at_shifts(kinds(*classes, fibres=fibres), capacity(*fibres), unshifted, is_superwash=is_superwash)
