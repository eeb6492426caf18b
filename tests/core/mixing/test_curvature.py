"""Two ways to the same step and the same inverse: Woodbury's identity, and numpy on the whole matrix."""

import numpy as np
import pytest

from dyewright.core.mixing import curvature
from dyewright.core.mixing.curvature import MixRows, System

COUNT, SIZE, ROWS = 4, 6, 3


def system():
    rng = np.random.default_rng(1)
    root = rng.normal(size=(COUNT, SIZE, SIZE))
    sample, dye = np.array([0, 0, 1, 1, 1]), np.array([0, 2, 1, 2, 3])
    links = np.zeros((COUNT, SIZE, 1))
    links[:, 4, 0] = 1
    return System(
        gradient=rng.normal(size=(COUNT, SIZE)),
        blocks=root @ np.swapaxes(root, 1, 2) + 5 * np.eye(SIZE),
        links=links,
        weights=np.array([-0.5]),
        mixes=[MixRows(sample, dye, rng.normal(size=(5, ROWS, SIZE)))],
    )


def by_hand(given):
    """Return the whole curvature, put together sample by sample."""
    whole = np.zeros((COUNT * SIZE, COUNT * SIZE))
    for dye in range(COUNT):
        own = slice(dye * SIZE, (dye + 1) * SIZE)
        whole[own, own] = given.blocks[dye]
    (mix,) = given.mixes
    for sample in (0, 1):
        rows = np.zeros((ROWS, COUNT * SIZE))
        for entry in np.flatnonzero(mix.sample == sample):
            rows[:, mix.dye[entry] * SIZE : (mix.dye[entry] + 1) * SIZE] = mix.rows[entry]
        whole += rows.T @ rows
    link = given.links.reshape(-1)
    return whole - 0.5 * np.outer(link, link)


@pytest.mark.parametrize("many", [0.0, 10.0])
def test_step_and_inverse_are_those_of_the_whole_matrix(many, monkeypatch):
    monkeypatch.setattr(curvature, "MANY", many)
    given = system()
    assert given.is_dense is (many == 0.0)
    whole = by_hand(given)
    assert given.step(0.0).ravel() == pytest.approx(-np.linalg.solve(whole, given.gradient.ravel()))
    assert given.inverse().reshape(COUNT * SIZE, -1) == pytest.approx(np.linalg.inv(whole))
