"""Skeins drawn part by part, from dye on wool to XYZ, with shade laid over them: what is called uneven, and what not.

The dye is a curve of its own (Kubelka-Munk over 31 wavelengths), the colour computed by colour-science 0.4.7: nothing
is shared with what is tested. Expected kinds are those drawn.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from cameras import colour_science

from dyewright.core.model import UnevenKind
from dyewright.core.skeins.evenness import evenness
from dyewright.core.skeins.parts import PartGrid
from dyewright.core.skeins.shading import dye_map

colour = colour_science()
NM = np.arange(400.0, 710, 10)
OBSERVER = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"].copy().align(colour.SpectralShape(400, 700, 10))
LIGHT = colour.SDS_ILLUMINANTS["D65"].copy().align(colour.SpectralShape(400, 700, 10)).values
WEIGHTS = OBSERVER.values * LIGHT[:, None] / (OBSERVER.values[:, 1] @ LIGHT)
WHITE_XY = colour.XYZ_to_xy(WEIGHTS.sum(axis=0))
ROWS, COLUMNS = 32, 8
U, V = (np.linspace(-1, 1, size) for size in (ROWS, COLUMNS))
U, V = U[:, None] + 0 * V[None, :], V[None, :] + 0 * U[:, None]


def xyz_of_dye(depth, middle_nm=600.0):
    """XYZ (white 1) of wool with so much dye, shape of `depth` and 3."""
    wool = 0.75 - 0.25 * np.exp(-((NM - 400) / 80))
    absorbing = (1 - wool) ** 2 / (2 * wool) + np.asarray(depth)[..., None] * np.exp(-(((NM - middle_nm) / 60) ** 2))
    return (1 + absorbing - np.sqrt(absorbing**2 + 2 * absorbing)) @ WEIGHTS


def drawn(depth, random, *, shade=True, other=None, size=(ROWS, COLUMNS)):
    """A grid of parts with this much dye in each: a round hank in slanting light, with folds, and noise."""
    xyz = (
        xyz_of_dye(depth)
        if other is None
        else np.where((other > 0)[..., None], xyz_of_dye(depth, 480.0), xyz_of_dye(depth))
    )
    if shade:
        round_it = 1 - 0.25 * V**2 + random.uniform(-0.06, 0.06) * V + random.uniform(-0.03, 0.03) * U
        xyz = xyz * (round_it * (1 + random.normal(0, 0.03, size)))[..., None]
    lab = colour.XYZ_to_Lab(xyz * (1 + random.normal(0, 0.003, (*size, 3))), WHITE_XY)
    x, y = np.meshgrid(20.0 * np.arange(size[1]) + 10, 20.0 * np.arange(size[0]) + 10)
    return PartGrid(lab, np.array([0.3, 0.2, 0.2]), x, y, np.ones(size, bool))


def depth_for(de00, depth=2.0):
    """The depth that lies so far from another, by colour-science's CIEDE2000."""
    tried = depth * np.linspace(1, 3, 400)
    labs = colour.XYZ_to_Lab(xyz_of_dye(np.concatenate([[depth], tried])), WHITE_XY)
    return float(tried[np.argmin(np.abs(colour.delta_E(labs[:1], labs[1:], method="CIE 2000") - de00))])


def patchy(random):
    """Patches three parts wide: noise averaged over its neighbours, cut at a height."""
    rough = np.pad(random.normal(size=(ROWS, COLUMNS)), 2, mode="wrap")
    smooth = sum(rough[i : i + ROWS, j : j + COLUMNS] for i in range(5) for j in range(5))
    return (smooth > np.quantile(smooth, 0.7)).astype(float)


PATTERNS = {
    UnevenKind.GRADIENT: lambda _: (U + 1) / 2,
    UnevenKind.TIDE_LINE: lambda random: np.greater(U, random.uniform(-0.4, 0.4)).astype(float),
    UnevenKind.BLOTCHES: patchy,
    UnevenKind.TIE_MARKS: lambda _: 1.0 - np.isin(np.arange(ROWS), (6, 15, 16, 26))[:, None] * np.ones(COLUMNS),
}


@pytest.mark.parametrize("kind", list(PATTERNS))
def test_each_kind_is_told_by_its_pattern(kind):
    named, sizes = [], []
    for seed in range(20):
        random = np.random.default_rng(seed)
        found = evenness(drawn(2.0 + (depth_for(5.0) - 2.0) * PATTERNS[kind](random), random))
        named.append(found.kind)
        sizes.append(found.de00_p95)

    assert named.count(kind) >= 18, named
    # 5 ΔE00 from the lightest to the deepest: 95 % of the parts lie within 5 of the middle, and some farther than 1.
    assert 1 < np.median(sizes) < 6


def test_even_skeins_under_any_shade_read_even():
    found = [evenness(drawn(np.full((ROWS, COLUMNS), 2.0), np.random.default_rng(seed))) for seed in range(100)]

    assert sum(one.kind is not UnevenKind.EVEN for one in found) <= 5
    assert sum(one.rating != "even" for one in found) <= 5
    assert np.median([one.de00_p95 for one in found]) < 0.5  # noise of 0.3 to 0.4 is taken out


def test_ties_and_a_label_are_no_unevenness():
    random = np.random.default_rng(1)
    grid = drawn(np.full((ROWS, COLUMNS), 2.0), random)
    for rows, columns in ((4, slice(None)), (17, slice(None)), (slice(23, 27), slice(1, 7))):
        grid.lab[rows, columns] = (88, 0, 3)  # cotton and paper
    found = evenness(grid)

    assert (found.kind, found.rating) == (UnevenKind.EVEN, "even")
    assert not any(part.lab[0] > 80 for part in found.parts)


def test_what_lies_next_to_a_tie_is_left_out_and_said():
    depth = np.full((ROWS, COLUMNS), 2.0)
    depth[10:13] = 1.0  # the blur of a white tie, as pale as a tie mark
    tied = np.zeros((ROWS, COLUMNS), bool)
    tied[11] = True
    grid = drawn(depth, np.random.default_rng(6))

    assert evenness(grid).kind is UnevenKind.TIE_MARKS
    found = evenness(replace(grid, is_covered=tied))
    assert (found.kind, found.rating) == (UnevenKind.EVEN, "even")
    assert "taken for ties or a label, and left out" in found.words


def test_many_colours_are_asked_about_not_blamed():
    random = np.random.default_rng(2)
    found = evenness(drawn(np.full((ROWS, COLUMNS), 2.0), random, other=U))

    assert found.kind is UnevenKind.VARIEGATED
    assert "If that is wanted, nothing is to be done" in found.words
    assert len({part.lab[1] > 0 for part in found.parts}) == 2  # both colours are in the map


def test_on_grey_it_says_that_it_cannot_tell():
    random = np.random.default_rng(3)
    grey = np.full((ROWS, COLUMNS, 3), (45.0, 0.0, 0.0)) + random.normal(0, 0.2, (ROWS, COLUMNS, 3))
    grey[..., 0] += 2.5 * U  # 5 of L*, 4.7 ΔE00 by S_L = 1.056, to one end: dye or light
    grid = drawn(np.full((ROWS, COLUMNS), 2.0), random)
    grid.lab[...] = grey

    found = evenness(grid)

    assert found.kind is UnevenKind.EVEN
    assert "as far as can be told" in found.words
    assert float(re.search(r"Its lightness differs by ([\d.]+) ΔE00", found.words).group(1)) == pytest.approx(
        4.7, abs=0.2
    )
    assert "turn it end for end" in found.words
    assert max(part.de00 for part in found.parts) < 2  # the map does not draw noise as dye


def test_shade_is_taken_out_and_dye_is_left():
    random = np.random.default_rng(4)
    deeper = depth_for(4.0)
    depth = np.where(U > 0, deeper, 2.0)
    dye = dye_map(drawn(depth, random))
    step = np.nanmedian(dye.deeper[ROWS // 2 :]) - np.nanmedian(dye.deeper[: ROWS // 2])
    sides = np.nanmedian(dye.deeper[:, [0, -1]]) - np.nanmedian(dye.deeper[:, [3, 4]])

    # The flanks are 25 % darker: 8 of L*, and nothing of dye. The step in light is 4 ΔE00 with its lightness.
    assert abs(sides) < 0.15
    assert step * np.hypot(1, dye.light_a_depth) == pytest.approx(4.0, rel=0.35)  # three bands stand for the curve


def test_too_few_parts_are_told_so():
    grid = drawn(np.full((ROWS, COLUMNS), 2.0), np.random.default_rng(5))
    few = PartGrid(grid.lab[:2, :3], grid.sd_lab, grid.x_px[:2, :3], grid.y_px[:2, :3], grid.is_read[:2, :3])

    assert "Too small" in evenness(few).words
