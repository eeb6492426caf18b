"""The curvature of the fit's cost: a block for each dye, and the few things that link dyes.

Samples of one dye touch that dye alone; mixes touch several, and what all dyes have in common on a base touches all.
Where the links are few they are added by Woodbury's identity (M. A. Woodbury, Princeton Stat. Res. Group Memo. Rep. 42
(1950)), else the whole matrix is factored.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag, cho_factor, cho_solve, lapack

__all__ = ["MixRows", "System"]

Array = NDArray[np.float64]
Places = NDArray[np.intp]

MANY = 0.4  # columns against numbers, beyond which factoring the whole is quicker (measured)


@dataclass(frozen=True)
class MixRows:
    """The rows (e, m, p), with deviation 1, of samples that join dyes: one entry for each dye of each sample."""

    sample: Places
    dye: Places
    rows: Array


@dataclass(frozen=True)
class System:
    """Half the cost's slopes (n, p) and its curvature.

    The curvature is `blocks` (n, p, p), `links`, columns (n, p, b) with weights (b,), and the rows of mixes.
    """

    gradient: Array
    blocks: Array
    links: Array
    weights: Array
    mixes: Sequence[MixRows]

    @property
    def is_dense(self) -> bool:
        """Whether so much links the dyes that the whole curvature is factored."""
        columns = len(self.weights) + sum(len(np.unique(mix.sample)) * mix.rows.shape[1] for mix in self.mixes)
        return bool(columns > MANY * self.gradient.size)

    def step(self, damping: float) -> Array:
        """Return the step (n, p) that lowers the cost most, shortened by damping the blocks' diagonals."""
        blocks = self.blocks.copy()
        diagonal = range(blocks.shape[1])
        blocks[:, diagonal, diagonal] *= 1 + damping
        if self.is_dense:
            step = cho_solve(cho_factor(replace(self, blocks=blocks).whole(), overwrite_a=True), self.gradient.ravel())
            return np.asarray(-step, float).reshape(self.gradient.shape)
        columns, weights = self._columns()
        solved = np.linalg.solve(blocks, np.concatenate([self.gradient[..., None], columns], axis=2))
        alone, linked = solved[..., 0], solved[..., 1:]
        along = np.linalg.solve(_middle(columns, linked, weights), np.tensordot(columns, alone, ([0, 1], [0, 1])))
        return np.asarray(linked @ along - alone, float)

    def inverse(self) -> Array:
        """Return the inverse curvature (n, p, n, p)."""
        count, size = self.gradient.shape
        if self.is_dense:
            factor, _ = cho_factor(self.whole(), overwrite_a=True, lower=True)
            lower, _ = lapack.dpotri(factor, lower=True, overwrite_c=True)
            lower = np.tril(lower)
            return np.asarray(lower + np.tril(lower, -1).T, float).reshape(count, size, count, size)
        own = np.linalg.inv(self.blocks)
        columns, weights = self._columns()
        flat = (own @ columns).reshape(count * size, -1)
        middle = _middle(columns, own @ columns, weights)
        inverse = -(flat @ np.linalg.solve(middle, flat.T)).reshape(count, size, count, size)
        inverse[range(count), :, range(count), :] += own
        return inverse

    def whole(self) -> Array:
        """Return the whole curvature (np, np)."""
        count, size = self.gradient.shape
        links = self.links.reshape(count * size, -1)
        whole = (block_diag(*self.blocks) + (links * self.weights) @ links.T).reshape(count, size, count, size)
        for mix in self.mixes:
            for sample in np.unique(mix.sample):
                own = np.flatnonzero(mix.sample == sample)
                for one in own:
                    for other in own:
                        whole[mix.dye[one], :, mix.dye[other]] += mix.rows[one].T @ mix.rows[other]
        return np.asarray(whole, float).reshape(count * size, -1)

    def _columns(self) -> tuple[Array, Array]:
        """Return all links as columns (n, p, d) with their weights (d,)."""
        count, size = self.gradient.shape
        columns = [self.links]
        for mix in self.mixes:
            which, own = np.unique(mix.sample, return_inverse=True)
            part = np.zeros((count, len(which), mix.rows.shape[1], size))
            part[mix.dye, own] = mix.rows  # a dye stands once in a sample
            columns.append(np.moveaxis(part.reshape(count, -1, size), 1, 2))
        joined = np.concatenate(columns, axis=2)
        return joined, np.concatenate([self.weights, np.ones(joined.shape[2] - len(self.weights))])


def _middle(columns: Array, linked: Array, weights: Array) -> Array:
    return np.asarray(np.diag(1 / weights) + np.tensordot(columns, linked, ([0, 1], [0, 1])), float)
