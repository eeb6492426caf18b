"""The colour of yarn plied, carded or spun from fibre that was dyed before: parts of different colour, side by side.

Dyes in one fibre add up (see `kubelka`); coloured fibres beside each other do not: their light mixes partly as dyes do,
partly as spots of colour do. Both rules here add a function of reflectance up by shares of mass, and go back by its
inverse, with one constant that belongs to the fibre and to how finely it is mixed.

Sources: [1] E. I. Stearns, F. Noechel, Am. Dyest. Rep. 33 (1944) 177-180; the constant for wool from memory.
[2] L. F. C. Friele, J. Text. Inst. 43 (1952) P604-P611; the constant from memory.
"""

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.mixing.kubelka import DARKEST, k_over_s, reflectance_from_k_over_s
from dyewright.errors import InputError

__all__ = ["BlendRule", "blended_reflectance", "fit_blend_constant"]

Array = NDArray[np.float64]


class BlendRule(StrEnum):
    """How coloured fibres mix."""

    STEARNS_NOECHEL = "Stearns-Noechel"
    FRIELE = "Friele"


USUAL_CONSTANT = {BlendRule.STEARNS_NOECHEL: 0.15, BlendRule.FRIELE: 0.27}  # [1] M, wool; [2] σ: both from memory
BOUNDS = {BlendRule.STEARNS_NOECHEL: (0.01, 1.0), BlendRule.FRIELE: (0.01, 3.0)}
BLACK = 0.01  # [1], the reflectance that the rule counts from


def blended_reflectance(
    reflectances: ArrayLike,
    shares: ArrayLike,
    *,
    rule: BlendRule = BlendRule.STEARNS_NOECHEL,
    constant: float | None = None,
) -> Array:
    """Return the reflectance (31,) of a blend of fibres.

    Holds for fibres mixed so finely that no single colour is seen; a marled yarn of two plies is finer from afar.

    Args:
        reflectances: of each part alone, shape (m, 31), above 0 and at most 1.
        shares: mass of each part, shape (m,), adding up to 1.
        rule: see `BlendRule`.
        constant: M of Stearns and Noechel, 0.01 to 1, or σ of Friele, 0.01 to 3; the rule's usual one where None.

    Raises:
        InputError: shares that are negative or do not add up to 1, or another number of them than of parts.
    """
    parts, weights = np.asarray(reflectances, float), np.asarray(shares, float)
    if parts.ndim != 2 or weights.shape != parts.shape[:1]:
        raise InputError(f"{weights.size} shares for {len(parts)} parts of a blend: give one a part", field="shares")
    if not (np.all(weights >= 0) and abs(weights.sum() - 1) < 1e-6):
        raise InputError(
            f"the shares of a blend add up to {100 * weights.sum():g} %; they must be 0 % or more and make 100 %",
            field="shares",
            value=float(weights.sum()),
            limit=1,
        )
    chosen = USUAL_CONSTANT[rule] if constant is None else constant
    return _reflectance(weights @ _additive(parts, rule, chosen), rule, chosen)


def _additive(reflectance: Array, rule: BlendRule, constant: float) -> Array:
    """Return what adds up: [1] (1 - R) / (M (R - 0.01) + 0.01), or [2] exp(-σ K/S)."""
    if rule is BlendRule.STEARNS_NOECHEL:
        r = np.maximum(reflectance, DARKEST)
        return np.asarray((1 - r) / (constant * (r - BLACK) + BLACK), float)
    return np.asarray(np.exp(-constant * k_over_s(reflectance)), float)


def _reflectance(additive: Array, rule: BlendRule, constant: float) -> Array:
    if rule is BlendRule.STEARNS_NOECHEL:
        return np.asarray((1 - BLACK * (1 - constant) * additive) / (1 + constant * additive), float)
    return reflectance_from_k_over_s(-np.log(np.maximum(additive, np.finfo(float).tiny)) / constant)


def fit_blend_constant(
    blends: Sequence[tuple[ArrayLike, ArrayLike, ArrayLike]], *, rule: BlendRule = BlendRule.STEARNS_NOECHEL
) -> float:
    """Return the constant that brings a rule nearest to measured blends, in squared reflectance.

    Args:
        blends: of each the reflectances of its parts (m, 31), their shares (m,), and the measured reflectance (31,).
        rule: see `BlendRule`.
    """
    from scipy.optimize import minimize_scalar

    def missed(constant: float) -> float:
        return sum(
            float(np.sum((blended_reflectance(parts, shares, rule=rule, constant=constant) - np.asarray(seen)) ** 2))
            for parts, shares, seen in blends
        )

    return float(minimize_scalar(missed, bounds=BOUNDS[rule], method="bounded", options={"xatol": 1e-5}).x)
