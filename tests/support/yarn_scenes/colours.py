"""How colour lies on a skein: even but for the dye's own unrest, or uneven in one of the known ways."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from yarn_scenes import spectra
from yarn_scenes.forms import Form, noise, step


class Uneven(StrEnum):
    """How a skein is uneven."""

    GRADIENT = "gradient"
    TIDE_LINE = "tide line"
    BLOTCHES = "blotches"
    TIE_MARKS = "tie marks"
    VARIEGATED = "variegated"


@dataclass(frozen=True)
class Dyed:
    """The curves of one skein, drawn as a sum: weights (rows, columns, curves) times `curves` (curves, wavelength)."""

    curves: np.ndarray
    weights: np.ndarray


def painted(form, dyeing, kind, x, y, length, width, random, *, noise_de=0.3, size_de=4.0):
    """Return how the colour lies: `noise_de` of unrest everywhere, `size_de` of the unevenness asked for."""
    main = dyeing.reflectance()
    curves, weights = [main], [np.ones_like(x)]
    for _ in range(2):
        off = spectra.apart(dyeing, 1.0, random).reflectance() - main
        unrest = noise(random, x, y, random.uniform(1.0, 3.0))
        curves.append(off)
        weights.append(noise_de / 0.7 / np.sqrt(2) * (unrest - unrest.mean()))
    for curve, weight in _parts(form, dyeing, kind, x, y, length, width, random, size_de):
        curves.append(curve - main)
        weights.append(weight)
    return Dyed(np.array(curves), np.stack(weights, axis=-1).astype(np.float32))


def _parts(form, dyeing, kind, x, y, length, width, random, size_de):
    if kind is None:
        return []
    if kind == Uneven.VARIEGATED:
        return _variegated(form, dyeing, x, y, length, width, random)
    towards = _paler(dyeing, size_de) if kind == Uneven.TIE_MARKS else _deeper(dyeing, size_de)
    run = x / length + 0.5
    edge = 0.015 * noise(random, x, y, 0.8)
    if kind == Uneven.GRADIENT:
        weight = np.clip(run, 0, 1)
    elif kind == Uneven.TIDE_LINE:
        front = run - random.uniform(0.35, 0.65) + edge
        weight = 0.45 * step(-0.004, 0.004, front) + 0.55 * np.exp(-((np.maximum(front, 0) / 0.04) ** 2)) * (front > 0)
    elif kind == Uneven.BLOTCHES:
        weight = step(0.25, 0.6, noise(random, x, y, length / 9))
    else:
        weight = _bands(run + 0.4 * edge, random)
    return [(towards, weight)]


def _bands(run, random):
    """Return bands across the skein where ties kept the dye out."""
    number = int(random.integers(2, 5))
    places = (np.arange(number) + 0.5 + random.uniform(-0.12, 0.12, number)) / number
    return np.max([np.exp(-(((run - middle) / 0.022) ** 4)) for middle in places], axis=0)


def _deeper(dyeing, size_de):
    return _scaled(dyeing, size_de, 1).reflectance()


def _paler(dyeing, size_de):
    return _scaled(dyeing, size_de, -1).reflectance()


def _scaled(dyeing, size_de, sign):
    """Return the same recipe in more (or less) of all dyes, near `size_de` away."""
    start = spectra.lab(dyeing.reflectance())
    steps = np.exp(sign * np.linspace(0.02, 3, 150))
    tried = [_times(dyeing, factor) for factor in steps]
    away = np.array([float(spectra.de00(start, spectra.lab(one.reflectance()))) for one in tried])
    return tried[int(np.argmin(np.abs(away - size_de)))]


def _times(dyeing, factor):
    return spectra.Dyeing(
        dyeing.middles_nm, dyeing.widths_nm, tuple(factor * depth for depth in dyeing.depths), dyeing.cream
    )


def _variegated(form, dyeing, x, y, length, width, random):
    """Return two or three more colours that lie in stretches along the skein (in a cake: in rings)."""
    run = np.hypot(x, y) / (width / 2) if form == Form.CAKE else x / length + 0.5
    run = run + 0.02 * noise(random, x, y, 1.5)
    number = int(random.integers(3, 5))
    colours = [dyeing, *(spectra.random_dyeing(random) for _ in range(number - 1))]
    ends = np.sort(random.uniform(0.12, 0.9, number - 1)) if number > 1 else []
    masks = [step(end - 0.03, end + 0.03, run) for end in ends] + [np.zeros_like(run)]
    return [(colours[i + 1].reflectance(), masks[i] - masks[i + 1]) for i in range(number - 1)]
