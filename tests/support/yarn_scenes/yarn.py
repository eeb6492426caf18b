"""What makes yarn rough: strands with plies, gaps in shadow, scatter from strand to strand, and a halo of fibre."""

from dataclasses import dataclass

import numpy as np

from yarn_scenes.forms import Form, noise, step


@dataclass(frozen=True)
class Yarn:
    """A yarn as it lies. Figures are estimates from looking at yarn.

    `crest_frac` is how bright its lit part is against a flat thing of the same reflectance.
    """

    strand_cm: float = 0.2
    wave_cm: float = 0.05
    scatter_frac: float = 0.03
    gap_frac: float = 0.35
    ply_frac: float = 0.12
    halo_cm: float = 0.15
    sheen_frac: float = 0.006
    crest_frac: float = 1.0
    is_flat: bool = False


def shade(form, place, yarn, random):
    """Return how lit each pixel is by its place on the strand (1 on a crest) and its share of sheen."""
    if yarn.is_flat:
        return np.ones_like(place.inside_cm), np.zeros_like(place.inside_cm)
    if form == Form.LOOSE:
        return _fibre(place, random)
    along, across = place.along_cm, place.across_cm
    waved = across if form == Form.SWATCH else _laid(along, across, yarn, random)
    strand = waved * np.float32(1 / yarn.strand_cm)
    number = np.floor(strand)
    side = 2 * (strand - number) - 1
    lit = _round(side, yarn.gap_frac)
    lit *= _plies(along, side, number, yarn, random)
    lit *= 1 + 1.4 * yarn.scatter_frac * noise(random, along, number, 1.5, 0.4)  # 1.4: noise deviates by 0.7
    deeper = np.maximum(noise(random, along, waved, 1.5, 1.5 * yarn.strand_cm), 0)
    lit *= 1 - (0.05 if form == Form.SWATCH else 0.2) * deeper
    sheen = yarn.sheen_frac * np.maximum(1 - 3 * side**2, 0) * step(0.85, 1.0, lit)
    return lit, sheen


def _laid(along, across, yarn, random):
    """Return where strands lie across: they wander, and some layers cross the first at a slant."""
    wander = noise(random, along, across, 3.0, 0.6) + 3 * noise(random, along, across, 9.0, 2.5)
    waved = across + yarn.wave_cm * wander
    for slant in random.uniform(-0.2, 0.2, 3).tolist():
        over = noise(random, along, waved - slant * along, 4.0, 0.5) > 0.8
        waved = np.where(over, waved + slant * along + 3, waved)
    return waved


def _round(side, gap_frac):
    """A round strand under a wide light: its flanks darker, the gap beside it in its neighbour's shadow."""
    facing = np.sqrt(1 - 0.8 * side**2)
    return (0.55 + 0.45 * facing) * (gap_frac + (1 - gap_frac) * step(1.0, 0.72, np.abs(side)))


def _plies(along_cm, side, number, yarn, random):
    phase = random.random(1024, np.float32)[number.astype(np.int32) % 1024]
    turn = np.cos(np.float32(2 * np.pi) * (along_cm / (2.2 * yarn.strand_cm) + 0.4 * side + phase))
    return 1 - yarn.ply_frac * (0.5 - 0.5 * turn)


def _fibre(place, random):
    fine = noise(random, place.along_cm, place.across_cm, 1.8, 0.09)
    finer = noise(random, place.along_cm, place.across_cm, 0.7, 0.05)
    return np.clip(0.9 + 0.11 * fine + 0.05 * finer, 0.4, 1.06), 0.004 * step(0.3, 1.2, fine)


def cover(place, yarn, random):
    """Return how much of each pixel the yarn hides, with its halo of fibre."""
    edge = place.inside_cm
    if yarn.is_flat:
        return step(-0.02, 0.02, edge)
    body = step(-0.06, 0.06, edge + 0.06 * noise(random, place.along_cm, place.across_cm, 0.8))
    hairs = np.clip(0.5 + 0.5 * noise(random, place.along_cm, place.across_cm, 0.15, 0.06), 0, 1)
    return np.maximum(body, 0.5 * hairs * np.exp(np.minimum(edge, 0) / yarn.halo_cm))
