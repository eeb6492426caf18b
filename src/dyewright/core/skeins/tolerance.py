"""The dyer's own limit, learnt from which skeins are sold together.

A lot is sorted so that no two skeins of a set differ by more than the limit, and sets that could be one are made one.
So the widest pair inside a set says "still together", the widest pair over two sets says "already apart"; all other
pairs follow from these and say nothing more. The limit wavers from lot to lot, and a lot that is sold just as it was
proposed may not have been looked at: agreeing with a proposal is little evidence for it.

Sources: [1] F. A. Wichmann, N. J. Hill, Percept. Psychophys. 63 (2001) 1293-1313: a psychometric function with a lapse
rate, so that one slip does not carry the answer off. [2] A. Gelman et al., Bayesian Data Analysis, 3rd ed., CRC Press
(2013), chapter 3: the posterior on a grid of parameters.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError

__all__ = ["LearntTolerance", "SortedLot", "SortedPair", "learnt_tolerance", "sorted_lot"]

Floats = NDArray[np.float64]

LEAST_DE00, MOST_DE00 = 0.15, 12.0  # of limits that are thought of: below nothing is seen, beyond nothing is one lot
LIMITS = 241  # on the grid, evenly in the logarithm
EYE_FRACS = (0.1, 0.2, 0.35)  # how much the limit wavers from lot to lot, alike likely beforehand (estimate)
LAPSE_FRAC = 0.04  # of decisions that have nothing to do with the colour: a label, a slip (estimate; [1] up to 0.06)
PRIOR_SD = 0.8  # of the logarithm of the limit round the wish: half to double in six of ten studios (estimate)
LOOKED_FRACS = (0.1, 0.3, 0.6, 0.9)  # of lots, those that are looked at and not just left as proposed; alike likely
BAND = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class SortedPair:
    """Two skeins that tell of the limit: how far they differ, how sure that is, and whether they are sold together."""

    de00: float
    is_together: bool
    sd_de00: float = 0.3


@dataclass(frozen=True)
class SortedLot:
    """The pairs of one lot that tell of the limit; `is_as_proposed` where all its skeins are sold as was proposed."""

    pairs: tuple[SortedPair, ...]
    is_as_proposed: bool


@dataclass(frozen=True)
class LearntTolerance:
    """The dyer's own limit, ΔE00, as the middle and the ends of what holds it in 9 of 10 studios.

    So many pairs of so many lots were used; the dyer sorted `moved_lots` of them otherwise than proposed.
    """

    low: float
    mid: float
    high: float
    pairs: int
    lots: int
    moved_lots: int

    @property
    def words(self) -> str:
        """The limit with its band and what it is learnt from."""
        if not self.lots:
            return f"{self.mid:.1f}, the studio's wish: no lot has been sorted yet"
        band = f"{self.mid:.1f} ({self.low:.1f}–{self.high:.1f})"
        count = f"learnt from {_counted(self.pairs, 'pair')} of {_counted(self.lots, 'lot')}"
        if not self.moved_lots:
            return f"{count}, all sold as proposed, which says little: {band}"
        return f"{count}, {self.moved_lots} sorted by your own eye: {band}"


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'s' * (number != 1)}"


def sorted_lot(de00: Floats, sold_as: Sequence[str], proposed_as: Sequence[str], sd_de00: Floats) -> SortedLot:
    """Return what one lot tells of the limit: the widest pair inside each set, and over each two sets.

    Args:
        de00: differences of all skeins, shape (n, n).
        sold_as: the set that each skein is sold with.
        proposed_as: the set that the verdict proposed for it.
        sd_de00: standard errors of the differences, shape (n, n).
    """
    names = sorted(set(sold_as))
    members = {name: [place for place, own in enumerate(sold_as) if own == name] for name in names}
    inside = [list(combinations(members[name], 2)) for name in names]
    over = [[(i, j) for i in members[one] for j in members[two]] for one, two in combinations(names, 2)]
    told = []
    for choices in [pairs for pairs in (*inside, *over) if pairs]:
        i, j = max(choices, key=lambda pair: de00[pair])
        told.append(SortedPair(float(de00[i, j]), sold_as[i] == sold_as[j], float(sd_de00[i, j])))
    is_as_proposed = all(
        (sold_as[i] == sold_as[j]) == (proposed_as[i] == proposed_as[j])
        for i, j in combinations(range(len(sold_as)), 2)
    )
    return SortedLot(tuple(told), is_as_proposed)


def learnt_tolerance(lots: Sequence[SortedLot], wish_de00: float) -> LearntTolerance:
    """Return the dyer's own limit from what was sold together and apart; the wish alone where nothing was.

    With the limit t, two skeins that measure d apart are sold together with the probability of a normal deviate below
    (t - d) / s, where s is the error of the measurement, and a share of lapses [1].

    Args:
        lots: what each lot tells.
        wish_de00: the studio's wish, on which the answer is centred beforehand.

    Raises:
        InputError: a wish that is not above 0.
    """
    if not 0 < wish_de00 < np.inf:
        raise InputError(
            f"the tolerance is {wish_de00:g}; it must be above 0, 1 is usual",
            field="tolerance",
            value=wish_de00,
            limit=0,
        )
    told = [lot for lot in lots if lot.pairs]
    limits = np.geomspace(LEAST_DE00, MOST_DE00, LIMITS)
    log_prior = -0.5 * (np.log(limits / wish_de00) / PRIOR_SD) ** 2
    each = [_likelihood(lot.pairs, limits) for lot in told]
    log_chances = log_prior + np.concatenate([_wavering(told, each, eye) for eye in EYE_FRACS])
    chances = np.exp(log_chances - log_chances.max()).sum(axis=0)  # [2]; wavering and looking are summed out
    share = np.cumsum(chances) - 0.5 * chances
    low, mid, high = np.exp(np.interp(BAND, share / chances.sum(), np.log(limits))).tolist()
    moved = sum(not lot.is_as_proposed for lot in told)
    return LearntTolerance(low, mid, high, sum(len(lot.pairs) for lot in told), len(told), moved)


def _likelihood(pairs: Sequence[SortedPair], limits: Floats) -> Floats:
    """Return how likely the decisions of one lot are with each limit."""
    from scipy.special import ndtr

    de00, sd_de00 = np.array([[pair.de00, pair.sd_de00] for pair in pairs]).T[..., None]
    is_together = np.array([pair.is_together for pair in pairs])[:, None]
    chosen = ndtr(np.where(is_together, 1, -1) * (limits - de00) / sd_de00)
    likely: Floats = np.prod(LAPSE_FRAC / 2 + (1 - LAPSE_FRAC) * chosen, axis=0)
    return likely


def _wavering(lots: Sequence[SortedLot], each: Sequence[Floats], eye_frac: float) -> Floats:
    """Return the logarithm of how likely all lots are, shape (LOOKED_FRACS, limits); each lot's limit wavers."""
    from scipy.ndimage import gaussian_filter1d

    looked = np.array(LOOKED_FRACS)[:, None]
    steps = eye_frac * (LIMITS - 1) / np.log(MOST_DE00 / LEAST_DE00)
    total = np.zeros((len(LOOKED_FRACS), LIMITS))
    for lot, chance in zip(lots, each, strict=True):
        seen = looked * gaussian_filter1d(chance, steps, mode="nearest")
        total += np.log(1 - looked + seen if lot.is_as_proposed else seen)
    return total
