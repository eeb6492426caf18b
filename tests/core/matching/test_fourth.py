import numpy as np
import pytest
from synthetic_shelf import BASE, TABLES, invented_curves, lab_of

from dyewright.core.matching.descent import Task, descend, frozen_misfit, misfit_and_slopes
from dyewright.core.matching.fourth import with_another_dye

DYES = 9
CURVES = invented_curves(np.random.default_rng(41), DYES)
WHITE = TABLES.whites["D65", 10][:, None]
TASK = Task(
    curves=CURVES,
    base=BASE,
    weights=TABLES.weights["D65", 10].T,
    shine=np.zeros((3, 1)),
    whites=WHITE,
    least=np.full(DYES, 2e-5),
    most=np.full(DYES, 0.04),
    weighed=np.linspace(0, 1, 33) * np.full((DYES, 1), 0.04),
)
GOAL = np.array([[45.0, -12.0, -18.0]])
MISFIT = frozen_misfit(GOAL, np.ones(1))


def least(dyes, misfit):
    """Return the built-up depths (m, k) of least misfit of combinations (m, k)."""
    return descend(TASK, dyes, np.full(dyes.shape, 0.003), misfit, 60, 0.0)[0]


@pytest.mark.parametrize("further", range(2, DYES))
def test_the_dye_that_is_missing_is_foretold_to_close_the_gap(further):
    # Truth by construction: the target holds two dyes and a little of a further one.
    depths = np.zeros(DYES)
    depths[[0, 1, further]] = 0.004, 0.003, 0.0004
    misfit = frozen_misfit(lab_of(BASE + depths @ CURVES)[None], np.ones(1))
    pair = np.array([[0], [1]])
    at = least(pair, misfit)
    off, _ = misfit_and_slopes(TASK, pair, CURVES[pair[:, 0], :, None], at, misfit)
    foretold = with_another_dye(TASK, pair, at, misfit, np.arange(DYES))[:, 0]
    # To first order: what a step of 10 % of a mix bends by is left over, a fifth of the misfit at most.
    assert np.sqrt(foretold[further]) < 0.2 * np.linalg.norm(off)


def test_the_foretold_misfit_is_that_of_the_slopes():
    # By hand: the least of a parabola along the new slope, with what the own slopes could do taken out by numpy's QR.
    pairs = np.array([[2], [5]])
    depths = np.full((2, 1), 3e-4)
    every = np.arange(DYES)[:, None]
    whole = np.zeros((DYES, 1))
    whole[[2, 5]] = depths
    off, slopes = misfit_and_slopes(TASK, every, CURVES[:, :, None], whole, MISFIT)
    found = with_another_dye(TASK, pairs, depths, MISFIT, np.arange(DYES))[:, 0]
    for dye in np.flatnonzero(np.isfinite(found)).tolist():
        own = np.linalg.qr(slopes[:, [2, 5], 0])[0]
        new = slopes[:, dye, 0] - own @ (own.T @ slopes[:, dye, 0])
        left = off[:, 0] - own @ (own.T @ off[:, 0])
        step = min(-(left @ new) / (new @ new), 0.04)
        by_hand = np.sum((left + step * new) ** 2)
        assert found[dye] == pytest.approx(by_hand, rel=1e-9, abs=1e-9)


def test_dyes_that_may_not_or_are_in_already_are_no_further_dyes():
    pairs = np.array([[2, 0], [5, 1]])
    depths = least(pairs, MISFIT)
    found = with_another_dye(TASK, pairs, depths, MISFIT, np.array([0, 1, 2, 3, 5]))
    assert np.isinf(found[[2, 5], 0]).all()
    assert np.isinf(found[[0, 1], 1]).all()
    assert np.isinf(found[[4, 6, 7, 8]]).all()
