"""What all pots of a studio say of the next: partial pooling over its classes of dye, dyes and yarns.

A subject's shift from the class default is the sum of four independent parts: what the class does in this studio, the
dye, the dye on this kind of yarn, and the pot. Their variances add up to the doubt of the class. So a dye that is new
on a yarn borrows from its pots on another and, less, from its class [1, ch. 5]. Everything is Gaussian and linear: the
posterior is exact, and the order of the lessons is of no account.

Sources: [1] A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), ch. 5 (partial pooling) and 14 to 15 (linear
hierarchies), from memory; the split of the variances is an estimate of ours.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.level import learn_movement
from dyewright.core.model import PER_SUBJECT, DyeClass, FibreGroup, Learnt, Lesson, Subject
from dyewright.core.uptake import SHIFT_SD_C, class_prior_sd

__all__ = ["learnt", "prior_variance"]

Floats = NDArray[np.float64]

# How the variance of the class splits: over the class in this studio, the dye, the dye on this yarn, and the pot; a row
# each for T50, final uptake and rinse load. All estimates. T50: 2.5, 3, 2 and 2.4 °C: dyes of a class differ more than
# studios do (water, thermometer), and a pot's own heat and acid are read to about 2 °C. The final uptake alike. What
# there is to wash out hangs more on the squeezing hand, which changes from pot to pot, than on the dye.
CLASS, DYE, YARN, POT = range(4)
SPLIT = np.array([(0.25, 0.36, 0.16, 0.23), (0.25, 0.36, 0.16, 0.23), (0.30, 0.20, 0.10, 0.40)])
EYE_POT_FRAC = 0.3  # of what a studio calls clear: the light and the glass of the day; the rest is its eye; estimate

# Of the final uptake this share of what was not known stays open, however many pots. "Looks clear" bounds it from below
# only, and added up, such looks seem to say more: without it the bands of a dye of unknown kind held 0.71 to 0.82 of
# simulated pots after five, with it nine of ten. Estimate.
OPEN_UPTAKE_FRAC = 0.2
FINAL_UPTAKE = 1  # its place among a subject's numbers

# A dye of unknown kind is levelling, 1:2 or milling: 72, 76 and 80 °C on wool, and at pH 4.5 to 5 final uptakes whose
# logits are 1.2 apart in the same sense (computed from the shipped table).
KINDS_SD = (3.3, 1.2)


@dataclass(frozen=True)
class _Said:
    """What all lessons together say of the subjects' shifts without their pots' own part: precision and pull."""

    precision: Floats
    pull: Floats


def prior_variance(subject: Subject) -> Floats:
    """Return the variance of a subject's three shifts before any pot, shape (3,).

    It holds what an unknown kind and, on superwash wool, the published 25 to 40 °C leave open; forecasts of a dye
    without pots draw those apart.
    """
    return class_prior_sd(1)[:PER_SUBJECT] ** 2 + _left_open(subject)


def learnt(subjects: Sequence[Subject], lessons: Sequence[Lesson]) -> Learnt:
    """Return what is known of some dyes before their next pot; without lessons, the class defaults and their doubt.

    Args:
        subjects: the dyes of the pot on its yarn, in its order.
        lessons: of the studio's pots, in any order.
    """
    telling = [one for one in lessons if one.subjects]
    taught = {subject for one in telling for subject in one.subjects}
    order = sorted(taught, key=lambda subject: (subject.dye, subject.dye_class, subject.yarn))
    said = _said(telling, order)
    among, to_next = _kinship(order, order, taught), _kinship(subjects, order, taught)
    own = _kinship(subjects, subjects, taught) + np.diag(_pot_variance(len(subjects)))
    gain = np.linalg.solve((np.eye(len(among)) + said.precision @ among).T, to_next.T).T
    told = gain @ said.precision @ to_next.T
    uptakes = np.arange(FINAL_UPTAKE, len(own) - 1, PER_SUBJECT)
    covariance = own - told
    covariance[uptakes, uptakes] += OPEN_UPTAKE_FRAC * told[uptakes, uptakes]
    ln_movement, level_pots = learn_movement([one.level for one in lessons if one.level is not None])
    return Learnt(
        subjects=tuple(subjects),
        mean=tuple((gain @ said.pull).tolist()),
        covariance=tuple(map(tuple, (0.5 * (covariance + covariance.T)).tolist())),
        pots=tuple(sum(subject in one.subjects for one in telling) for subject in subjects),
        studio_pots=len(telling),
        ln_movement=ln_movement,
        level_pots=level_pots,
    )


def _said(lessons: Sequence[Lesson], order: Sequence[Subject]) -> _Said:
    """Return the lessons added up, each without its pot's own part: Λ becomes (I + ΛS)⁻¹Λ, the pull (I + ΛS)⁻¹h."""
    size = PER_SUBJECT * len(order) + 1
    place = {subject: n for n, subject in enumerate(order)}
    precision, pull = np.zeros((size, size)), np.zeros(size)
    for count in {len(one.subjects) for one in lessons}:  # those of equal size at once
        alike = [one for one in lessons if len(one.subjects) == count]
        told = np.array([one.precision for one in alike])
        of_pot = np.eye(told.shape[-1]) + told * _pot_variance(count)
        pulls = np.array([one.pull for one in alike])[..., None]
        freed = np.linalg.solve(of_pot, np.concatenate([told, pulls], axis=-1))
        at = _places(np.array([[place[subject] for subject in one.subjects] for one in alike]), size - 1)
        np.add.at(precision, (at[:, :, None], at[:, None, :]), freed[..., :-1])
        np.add.at(pull, at, freed[..., -1])
    return _Said(precision, pull)


def _places(subjects: NDArray[np.int_], studio: int) -> NDArray[np.int_]:
    """Return where the numbers of each lesson's subjects, and the studio's own, stand in the vector of all."""
    of_dyes = (PER_SUBJECT * subjects[:, :, None] + np.arange(PER_SUBJECT)).reshape(len(subjects), -1)
    return np.column_stack([of_dyes, np.full(len(subjects), studio)])


def _kinship(left: Sequence[Subject], right: Sequence[Subject], taught: set[Subject]) -> Floats:
    """Return the covariance, before any pot, of the shifts of some subjects with those of others, pots left out.

    A subject that no pot taught goes without what its kind or the superwash shift leave open: that is its own, and
    drawn apart.
    """
    whole = class_prior_sd(1) ** 2
    part = SPLIT * whole[:PER_SUBJECT, None]
    left_open = np.array([_left_open(one) * (one in taught) for one in left]).reshape(-1, 1, PER_SUBJECT)
    class_alike = _alike([one.dye_class for one in left], [one.dye_class for one in right])
    dye_alike = class_alike * _alike([one.dye for one in left], [one.dye for one in right])
    all_alike = dye_alike * _alike([one.yarn for one in left], [one.yarn for one in right])
    shared = class_alike * part[:, CLASS] + dye_alike * part[:, DYE] + all_alike * (part[:, YARN] + left_open)
    return _spread_out(shared, (1.0 - EYE_POT_FRAC) * float(whole[-1]))


def _alike(left: Sequence[str], right: Sequence[str]) -> Floats:
    """Return 1 where two words are the same, shape (left, right, 1)."""
    same: Floats = (np.array(left, str)[:, None] == np.array(right, str)[None, :]).astype(float)
    return same[..., None]


def _spread_out(shared: Floats, eye: float) -> Floats:
    """Return covariances of subjects, shape (left, right, 3), as a matrix over both vectors, the studio's one last."""
    rows, columns = PER_SUBJECT * shared.shape[0], PER_SUBJECT * shared.shape[1]
    matrix = np.zeros((rows + 1, columns + 1))
    for number in range(PER_SUBJECT):
        matrix[number:rows:PER_SUBJECT, number:columns:PER_SUBJECT] = shared[..., number]
    matrix[-1, -1] = eye
    return matrix


def _pot_variance(subjects: int) -> Floats:
    """Return the variances from pot to pot, over the vector of some subjects."""
    share = np.append(np.tile(SPLIT[:, POT], subjects), EYE_POT_FRAC)
    variance: Floats = class_prior_sd(subjects) ** 2 * share
    return variance


def _left_open(subject: Subject) -> Floats:
    """Return the variances that an unknown kind and the superwash shift add, shape (3,)."""
    open_variance = np.zeros(PER_SUBJECT)
    if subject.dye_class is DyeClass.ACID_UNKNOWN:
        open_variance[: len(KINDS_SD)] += np.square(KINDS_SD)
    if subject.yarn is FibreGroup.SUPERWASH:
        open_variance[0] += SHIFT_SD_C**2  # a degree of the shift moves the rate about as one of T50
    return open_variance
