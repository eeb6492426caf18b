"""A forecast that follows its pot: samples weighed by what was seen, and drawn anew where they are needed.

Where the looks leave few of the samples standing, or disagree with the class, more samples are drawn around the dyes
that would have shown what was seen: the most likely shifts of a linear fit of the looks to the samples at hand, each
look's force falling with its distance (Huber's weights [1]). Old and new samples are then weighed together against the
mixture that they were drawn from (importance sampling with the balance heuristic [2]), so that the prior keeps its say.

Sources: [1] P. J. Huber, Robust Statistics (1981), ch. 7, from memory. [2] E. Veach, L. Guibas, Optimally combining
sampling techniques for Monte Carlo rendering, SIGGRAPH (1995), from memory.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyewright.core.model import Learnt
from dyewright.core.uptake.looks import Look, Verdict, Weighed, effective_samples, weighed
from dyewright.core.uptake.outlook import Outlook, joined_outlook, picked_outlook
from dyewright.core.uptake.samples import Ensemble, class_prior_sd, joined_ensemble, picked_ensemble

__all__ = ["Drawn", "Followed", "followed", "lightened", "prior_of"]

Floats = NDArray[np.float64]

ENOUGH_FRAC = 0.1  # of the first samples, in effect: below, samples are drawn anew; estimate
ROUNDS = 2
WIDER = 1.5  # the new samples' covariance over the fit's, so that its tails are covered; estimate
FULL_FORCE_SD = 2.5  # a look further than this from the fit loses force; estimate
REFITS = 8
LIGHT_FRAC = 0.001  # of the weight: far below the twentieth that lies outside a band on each side


@dataclass(frozen=True)
class Drawn:
    """Samples and the pots that they foretell."""

    ensemble: Ensemble
    outlook: Outlook


@dataclass(frozen=True)
class Followed:
    """Samples, their weights after everything that was seen, and a verdict on each look."""

    drawn: Drawn
    weights: Floats
    verdicts: tuple[Verdict, ...]


@dataclass(frozen=True)
class _Gaussian:
    mean: Floats
    covariance: Floats

    def log_density(self, points: Floats) -> Floats:
        """Return ln of the density at points, shape (points, numbers), up to a constant that all Gaussians share."""
        factor = np.linalg.cholesky(self.covariance)
        away = np.linalg.solve(factor, (points - self.mean).T)
        density: Floats = -0.5 * np.sum(away**2, axis=0) - np.sum(np.log(np.diag(factor)))
        return density


def prior_of(learnt: Learnt | None, dyes: int) -> Learnt:
    """Return what is known of the shifts before the pot, also where nothing has been learnt.

    Args:
        learnt: what the studio's pots taught of just these dyes.
        dyes: how many.
    """
    if learnt is not None:
        return learnt
    sd = class_prior_sd(dyes)
    return _with(
        Learnt(subjects=(), mean=(), covariance=(), pots=(0,) * dyes), _Gaussian(np.zeros_like(sd), np.diag(sd**2))
    )


def followed(
    first: Drawn,
    prior: Learnt,
    look: Callable[[Drawn], Sequence[Look]],
    redraw: Callable[[Learnt, int], Drawn],
) -> Followed:
    """Return the samples weighed by what was seen, with samples drawn anew where the first hardly reach it.

    Args:
        first: drawn from the prior.
        prior: of the shifts.
        look: what was seen, against what each sample would have shown.
        redraw: samples from other shifts; the number says the round, so that each has its own random numbers.
    """
    known = _Gaussian(np.array(prior.mean), np.array(prior.covariance))
    drawn, sources, counts = first, [known], [first.ensemble.shifts.shape[0]]
    looks = look(drawn)
    found = weighed(looks, _log_prior(drawn, known, sources, counts))
    for round_no in range(1, ROUNDS + 1):
        if not looks or _is_enough(found, counts[0]):
            break
        source = _around_the_looks(
            drawn.ensemble.shifts[-counts[-1] :], [_tail(one, counts[-1]) for one in looks], known
        )
        more = redraw(_with(prior, source), round_no)
        sources.append(source)
        counts.append(more.ensemble.shifts.shape[0])
        drawn = Drawn(joined_ensemble([drawn.ensemble, more.ensemble]), joined_outlook([drawn.outlook, more.outlook]))
        looks = look(drawn)
        found = weighed(looks, _log_prior(drawn, known, sources, counts))
    return Followed(drawn, found.weights, found.verdicts)


def lightened(found: Followed) -> Followed:
    """Return only the samples that carry weight, all but a thousandth of it: what follows takes time for each."""
    order = np.argsort(found.weights)[::-1]
    carried = np.cumsum(found.weights[order])
    places = np.sort(order[: int(np.searchsorted(carried, 1.0 - LIGHT_FRAC)) + 1])
    drawn = Drawn(picked_ensemble(found.drawn.ensemble, places), picked_outlook(found.drawn.outlook, places))
    return Followed(drawn, found.weights[places] / found.weights[places].sum(), found.verdicts)


def _is_enough(found: Weighed, samples: int) -> bool:
    """Whether the samples carry a band, and no look asks whether another pot would have shown it."""
    is_asked = len(found.verdicts) > 1 and any(verdict.is_odd for verdict in found.verdicts)
    return effective_samples(found.weights) >= ENOUGH_FRAC * samples and not is_asked


def _log_prior(drawn: Drawn, known: _Gaussian, sources: Sequence[_Gaussian], counts: Sequence[int]) -> Floats:
    """Return ln of the prior over the density that the samples were drawn from."""
    points = drawn.ensemble.shifts
    total = float(sum(counts))
    parts = [np.log(count / total) + one.log_density(points) for one, count in zip(sources, counts, strict=True)]
    ratio: Floats = known.log_density(points) - np.logaddexp.reduce(parts, axis=0)
    return ratio


def _tail(look: Look, samples: int) -> Look:
    return Look(look.name, look.shown[-samples:], look.seen, look.sd, look.range_wide, look.is_least)


def _around_the_looks(shifts: Floats, looks: Sequence[Look], known: _Gaussian) -> _Gaussian:
    """Return where the dyes lie that would have shown what was seen: prior and looks, linear about the samples."""
    shown = np.stack([np.minimum(one.shown, one.seen) if one.is_least else one.shown for one in looks], axis=1)
    design = np.column_stack([np.ones(shifts.shape[0]), shifts - known.mean])
    fit, *_ = np.linalg.lstsq(design, shown, rcond=None)
    at_prior, slope = fit[0], fit[1:].T
    scatter = np.var(shown - design @ fit, axis=0)  # what other draws (activation energy, pH) and the bend add
    variance = np.array([one.sd**2 for one in looks]) + scatter
    seen = np.array([one.seen for one in looks]) - at_prior
    held = np.linalg.inv(known.covariance)
    force = np.ones(len(looks))
    for _ in range(REFITS):
        pull = slope.T * (force / variance)
        covariance = np.linalg.inv(held + pull @ slope)
        away = covariance @ pull @ seen
        apart_sd = np.abs(seen - slope @ away) / np.sqrt(variance)
        force = 1.0 / np.maximum(1.0, apart_sd / FULL_FORCE_SD)
    wider = WIDER * covariance
    return _Gaussian(known.mean + away, 0.5 * (wider + wider.T))


def _with(known: Learnt, shifts: _Gaussian) -> Learnt:
    covariance = tuple(tuple(row) for row in shifts.covariance.tolist())
    return replace(known, mean=tuple(shifts.mean.tolist()), covariance=covariance)
