"""How a shelf changes with one more sample: what is then known of its dyes, and how sure.

Source: the update of a Kalman filter (R. E. Kalman, J. Basic Eng. 82 (1960) 35-45), with the slopes taken anew after
each step (the iterated extended filter): each number moves in proportion to how unsure it was and how much it counts.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import ciede2000_metric
from dyewright.core.mixing.kubelka import reflectance_from_k_over_s, reflectance_slope
from dyewright.core.mixing.samples import CURVE_NOISE, CURVE_NOISE_SHARE
from dyewright.core.mixing.shelf import (
    BEND,
    KNOWN,
    MIX_SHARE,
    MODEL_DE00,
    POWER,
    STRENGTH,
    ShelfModel,
    build_up,
    colour_slopes,
    known_slopes,
    lab_of_mix,
    predict,
    scatter_covariance,
    theory_variance,
)
from dyewright.core.model import ObserverTables

__all__ = ["after_swatch", "learnt"]

Array = NDArray[np.float64]

READING_DE00 = 0.3  # of a swatch to come, a component: a handheld colorimeter (estimate)
STEPS = 4  # the slopes hardly move after the third


def learnt(
    shelf: ShelfModel,
    depths_owf: ArrayLike,
    measured: ArrayLike,
    tables: ObserverTables,
    *,
    noise_de00: float = READING_DE00,
) -> ShelfModel:
    """Return the shelf as it is known after one dyed sample, dried and read: its mix is then foretold nearer to it.

    How near depends on how unsure the dyes were against the reading, the pot's depths and the theory.

    Args:
        shelf: the dyes as known before.
        depths_owf: the sample's recipe, shape (n,), fractions.
        measured: its Lab (D65, 10°), shape (3,), or its reflectance, shape (31,).
        tables: lights and observers.
        noise_de00: standard deviation of the Lab, in ΔE00 a component; not used for a curve.
    """
    depths, read = np.asarray(depths_owf, float), np.asarray(measured, float)
    before = _numbers(shelf)
    covariance = shelf.log_covariance.reshape(before.size, before.size)
    now = shelf
    for _ in range(STEPS):
        off, slopes, noise = _seen(now, depths, read, tables, noise_de00)
        flat = np.swapaxes(slopes, 0, 1).reshape(len(off), -1)
        gain = np.linalg.solve(flat @ covariance @ flat.T + noise, flat @ covariance).T
        expected = off + flat @ (_numbers(now) - before).ravel()
        now = _with_numbers(shelf, before + (gain @ expected).reshape(before.shape))
    after = covariance - gain @ (flat @ covariance)
    return replace(now, log_covariance=after.reshape(shelf.log_covariance.shape))


def after_swatch(shelf: ShelfModel, dye: int, depth_owf: float, tables: ObserverTables) -> ShelfModel:
    """Return the shelf as sure as it would be with one more swatch of a dye, read as Lab (D65, 10°)."""
    depths = depth_owf * np.eye(len(shelf.dyes))[dye]
    return learnt(shelf, depths, lab_of_mix(shelf, depths, tables), tables)


def _numbers(shelf: ShelfModel) -> Array:
    """Return what is known of each dye (n, 34)."""
    numbers = np.empty((len(shelf.dyes), KNOWN))
    numbers[:, :BEND] = np.log(shelf.curves)
    numbers[:, BEND] = np.log(np.minimum(shelf.half_depth_owf, ENDLESS_OWF))
    numbers[:, POWER] = shelf.power
    numbers[:, STRENGTH] = np.log(shelf.strength)
    return numbers


ENDLESS_OWF = 1e6  # in place of a half depth without end, so that it has a logarithm


def _with_numbers(shelf: ShelfModel, numbers: Array) -> ShelfModel:
    half = np.exp(numbers[:, BEND])
    return replace(
        shelf,
        curves=np.exp(numbers[:, :BEND]),
        half_depth_owf=tuple(np.where(half < ENDLESS_OWF, half, np.inf).tolist()),
        power=tuple(numbers[:, POWER].tolist()),
        strength=tuple(np.exp(numbers[:, STRENGTH]).tolist()),
    )


def _seen(
    shelf: ShelfModel, depths_owf: Array, measured: Array, tables: ObserverTables, noise_de00: float
) -> tuple[Array, Array, Array]:
    """Return how far a sample lies from its prediction (m,), the slopes of that (n, m, 34) and its noise (m, m)."""
    if len(measured) == 3:
        lab = lab_of_mix(shelf, depths_owf, tables)
        slopes = colour_slopes(shelf, depths_owf, tables)
        noise = np.eye(3) * (noise_de00**2 + theory_variance(shelf, depths_owf))
        return ciede2000_metric(lab) @ (measured - lab), slopes, noise + scatter_covariance(shelf, slopes)
    ratio = shelf.base_k_over_s + build_up(shelf, depths_owf) @ shelf.curves
    body = reflectance_from_k_over_s(ratio)
    slopes = known_slopes(shelf, depths_owf, np.diag((1 - shelf.surface_frac) * reflectance_slope(ratio, body)))
    off_share = MIX_SHARE**2 * theory_variance(shelf, depths_owf) / MODEL_DE00**2
    variance = CURVE_NOISE**2 + (CURVE_NOISE_SHARE**2 + off_share) * measured**2
    return measured - predict(shelf, depths_owf), slopes, np.diag(variance) + scatter_covariance(shelf, slopes)
