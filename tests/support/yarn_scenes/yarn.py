"""What makes yarn rough: strands with plies, gaps in shadow, scatter from strand to strand, and a halo of fibre."""

from dataclasses import dataclass

import numpy as np

from yarn_scenes.forms import Form, noise, step


@dataclass(frozen=True)
class Yarn:
    """A yarn as it lies. Figures are estimates from looking at yarn."""

    strand_cm: float = 0.25
    wave_cm: float = 0.05
    scatter_frac: float = 0.04
    gap_frac: float = 0.35
    ply_frac: float = 0.12
    halo_cm: float = 0.15
    sheen_frac: float = 0.006
    is_flat: bool = False


def shade(form, place, yarn, random):
    """Return how lit each pixel is by its place on the strand (1 on a crest) and its share of sheen."""
    if yarn.is_flat:
        return np.ones_like(place.inside_cm), np.zeros_like(place.inside_cm)
    if form == Form.LOOSE:
        return _fibre(place, random)
    waved = place.across_cm + yarn.wave_cm * noise(random, place.along_cm, place.across_cm, 3.0, 0.6)
    under = noise(random, place.along_cm, place.across_cm, 5.0, 1.3) > 0.75
    waved = np.where(under, waved + 0.15 * place.along_cm, waved)  # a second layer crosses the first at a slant
    number = np.floor(waved / yarn.strand_cm).astype(int) % 1024
    side = 2 * np.mod(waved / yarn.strand_cm, 1) - 1
    lit = _round(side, yarn.gap_frac)
    lit *= _plies(place.along_cm, side, number, yarn, random)
    lit *= 1 + yarn.scatter_frac * np.clip(random.standard_normal(1024), -2.5, 2.5)[number]
    lit *= 1 - 0.16 * np.maximum(noise(random, place.along_cm, place.across_cm, 2.5, yarn.strand_cm), 0)
    sheen = yarn.sheen_frac * np.maximum(1 - 3 * side**2, 0) * step(0.85, 1.0, lit)
    return lit, sheen


def _round(side, gap_frac):
    """A round strand under a wide light: its flanks darker, the gap beside it in its neighbour's shadow."""
    facing = np.sqrt(1 - 0.8 * side**2)
    return (0.55 + 0.45 * facing) * (gap_frac + (1 - gap_frac) * step(1.0, 0.72, np.abs(side)))


def _plies(along_cm, side, number, yarn, random):
    phase = random.uniform(0, 1, 1024)[number]
    turn = np.cos(2 * np.pi * (along_cm / (2.2 * yarn.strand_cm) + 0.4 * side + phase))
    return 1 - yarn.ply_frac * (0.5 - 0.5 * turn)


def _fibre(place, random):
    fine = noise(random, place.along_cm, place.across_cm, 1.8, 0.09)
    finer = noise(random, place.along_cm, place.across_cm, 0.7, 0.05)
    return np.clip(0.9 + 0.11 * fine + 0.05 * finer, 0.4, 1.06), 0.004 * step(0.3, 1.2, fine)


def cover(place, yarn, random):
    """Return how much of each pixel the yarn hides, with its halo of fibre."""
    fuzz = noise(random, place.along_cm, place.across_cm, 0.12) if yarn.halo_cm else 0
    return step(-yarn.halo_cm - 0.02, 0.5 * yarn.halo_cm + 0.02, place.inside_cm + 0.6 * yarn.halo_cm * fuzz)
