import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from synthetic_shelf import TABLES, invented_curves, known_shelf, random_mixes

from dyewright.core.colour import delta_e00, reflectance_from_lab
from dyewright.core.matching import Limits, Target, search
from dyewright.core.matching.gamut import (
    chroma_range,
    gamut_of,
    hue_lines,
    is_inside,
    most_vivid,
    outlines_at,
    outside_de00,
)
from dyewright.core.mixing import lab_of_mix, over_yarn
from dyewright.errors import InputError


def shelf_of(n_dyes, seed):
    return known_shelf(invented_curves(np.random.default_rng(seed), n_dyes))


def any_mixes(rng, count, n_dyes):
    """Return depths (count, n) of mixes of one to three dyes from 0.004 to 4 % each."""
    depths = np.zeros((count, n_dyes))
    for row in depths:
        chosen = rng.choice(n_dyes, rng.integers(1, min(3, n_dyes) + 1), replace=False)
        row[chosen] = 0.04 * 10 ** rng.uniform(-3, 0, len(chosen))
    return depths


@settings(max_examples=25)
@example(n_dyes=7, seed=1398)  # a horn of blues, seen from the middle between two directions 3° apart
@example(n_dyes=4, seed=5064)  # a dye too pale by itself leaves a gap, which is not straight
@given(n_dyes=st.integers(1, 12), seed=st.integers(0, 10_000))
def test_every_mix_lies_within_what_the_shelf_reaches(n_dyes, seed):
    shelf = shelf_of(n_dyes, seed)
    found = gamut_of(shelf, TABLES)
    off = outside_de00(found, lab_of_mix(shelf, any_mixes(np.random.default_rng(seed), 200, n_dyes), TABLES))

    # The mixes are the truth, by the model itself. Outlines every 1.5° at 40 lightnesses cut the sharp corners that a
    # dye alone makes, a third of these mixes: over 400 other shelves at most 1.0 and 2.8.
    assert np.percentile(off, 95) < 1.5
    assert off.max() < 4


@pytest.mark.parametrize("seed", [1, 6])
def test_two_dyes_give_lines_of_a_hue_through_the_mixes_that_have_it(seed):
    shelf, rng = shelf_of(2, seed), np.random.default_rng(seed)
    found, counted = gamut_of(shelf, TABLES), 0
    mixes = lab_of_mix(shelf, 0.04 * 10 ** rng.uniform(-3, 0, (20_000, 2)), TABLES)
    chroma, angle = np.hypot(mixes[:, 1], mixes[:, 2]), np.degrees(np.arctan2(mixes[:, 2], mixes[:, 1])) % 360
    for hue in range(0, 360, 15):
        pieces = hue_lines(found, np.radians(hue))
        of_hue = (np.abs((angle - hue + 180) % 360 - 180) < 0.1) & (chroma > 3)
        if not of_hue.any():
            continue
        counted += 1
        points = np.stack([chroma[of_hue], mixes[of_hue, 0]], axis=1)
        along = np.concatenate([pieces[:, 0] * (1 - part) + pieces[:, 1] * part for part in np.linspace(0, 1, 9)])
        off = np.linalg.norm(points[:, None] - along, axis=2)
        # The mixes are the truth, by the model itself; a tenth of a degree moves them by 0.1 in chroma at 60.
        assert off.min(axis=1).max() < 0.3
        # And nothing else is on the lines; straight between colours, the palest corner of a sheet is cut by 1.6.
        assert outside_de00(found, _lab_of_hue(along, hue)).max() < 2
    assert counted > 3


def _lab_of_hue(plane, hue):
    turn = np.radians(hue)
    return np.stack([plane[:, 1], plane[:, 0] * np.cos(turn), plane[:, 0] * np.sin(turn)], axis=1)


def test_a_solid_has_no_lines_of_a_hue():
    assert len(hue_lines(gamut_of(shelf_of(3, 1), TABLES), 0.5)) == 0


@pytest.mark.parametrize("n_dyes", [1, 2, 3, 8])
def test_the_most_vivid_colour_and_the_range_of_lightness_hold_every_mix(n_dyes):
    shelf = shelf_of(n_dyes, 6)
    found = gamut_of(shelf, TABLES)
    mixes = lab_of_mix(shelf, any_mixes(np.random.default_rng(6), 400, n_dyes), TABLES)
    vivid, (least, most) = most_vivid(found), found.lightness_range

    # The mixes are the truth, by the model itself; outlines every 3° cut a sharp corner by up to a few in chroma.
    chroma = np.hypot(mixes[:, 1], mixes[:, 2])
    assert np.hypot(*vivid[1:]) > chroma.max() - 4
    assert outside_de00(found, vivid) < 1
    assert least - 1 < mixes[:, 0].min()
    assert most == pytest.approx(found.base_lab[0])  # no dye makes the yarn lighter
    assert outlines_at(found, most - 0.01)
    assert outlines_at(found, least + 0.01)
    assert not outlines_at(found, least - 0.01)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_shelf_of_many_dyes_loses_little_by_the_rough_look(seed):
    shelf = shelf_of(40, seed)
    mixes = lab_of_mix(shelf, any_mixes(np.random.default_rng(seed), 1000, 40), TABLES)
    off = outside_de00(gamut_of(shelf, TABLES), mixes)
    assert np.mean(off == 0) > 0.85
    assert np.percentile(off, 99) < 1.5


@pytest.mark.parametrize("seed", [4, 5])
def test_what_lies_inside_can_be_matched_and_what_lies_outside_is_as_far_off_as_the_search_says(seed):
    rng = np.random.default_rng(seed)
    shelf = shelf_of(8, seed)
    found = gamut_of(shelf, TABLES)
    targets = np.stack([rng.uniform(30, 80, 40), rng.uniform(-70, 70, 40), rng.uniform(-70, 70, 40)], axis=1)
    far = outside_de00(found, targets)
    limits = Limits(max_dyes=3, total_owf=None)
    nearest = np.array([search(shelf, Target(tuple(lab)), TABLES, limits).de00[0] for lab in targets.tolist()])

    # The search is exact for three dyes; what is inside may take a fourth, and the surface is drawn to about 1. Far
    # off, ΔE00 has hollows of its own, and the place that is found need not be the nearest.
    assert (far == 0).sum() >= 5
    assert (far > 5).sum() >= 5
    near = nearest < 8
    assert np.all(np.abs(far - nearest)[near] < 1.0)
    assert np.all(np.abs(far - nearest) < 1.0 + 0.5 * nearest)


def test_the_outline_of_three_dyes_passes_through_each_dye_alone():
    shelf = shelf_of(3, 1)
    found = gamut_of(shelf, TABLES)
    for dye in range(3):
        alone = lab_of_mix(shelf, np.eye(3)[dye] * 0.004, TABLES)
        (outline,) = outlines_at(found, float(alone[0]))
        # Straight from level to level, 2 to 3 apart in L*.
        assert np.min(np.linalg.norm(outline - alone[1:], axis=1)) < 0.7


def test_two_dyes_too_pale_leave_a_crescent_and_its_hollow_is_outside():
    # Dyes 0 and 1 of this shelf stay lighter than 59 by themselves: at 50 every mix needs dye 2, and the colours lie
    # in a crescent from the blue of dye 2 to the orange of the two. Worked from the rows of mixes themselves.
    found = gamut_of(shelf_of(6, 3), TABLES, dyes=["dye 0", "dye 1", "dye 2"])
    assert is_inside(found, np.array([50.0, -14.0, 8.0]))
    assert not is_inside(found, np.array([50.0, 5.0, 5.0]))
    assert is_inside(found, np.array([50.0, 12.0, 60.0]))


def test_two_dyes_draw_a_line_and_one_dye_a_point():
    shelf = shelf_of(4, 2)
    pair = gamut_of(shelf, TABLES, dyes=["dye 0", "dye 1"])
    single = gamut_of(shelf, TABLES, dyes=["dye 2"])
    ends = [lab_of_mix(shelf, np.eye(4)[dye] * 0.002, TABLES) for dye in (0, 1)]

    assert not pair.is_solid
    for lab in ends:
        (line,) = outlines_at(pair, float(lab[0]))
        assert np.min(np.linalg.norm(line - lab[1:], axis=1)) < 0.5
    alone = lab_of_mix(shelf, np.array([0, 0, 0.005, 0]), TABLES)
    assert np.allclose(outlines_at(single, float(alone[0]))[0], alone[1:], atol=0.5)
    assert not is_inside(single, alone)
    assert outside_de00(single, alone) < 0.3


def test_more_dyes_never_reach_less():
    shelf = shelf_of(6, 3)
    few, many = gamut_of(shelf, TABLES, dyes=shelf.dyes[:4]), gamut_of(shelf, TABLES)
    inside = lab_of_mix(shelf, np.hstack([random_mixes(np.random.default_rng(3), 300, 4), np.zeros((300, 2))]), TABLES)
    assert np.all(outside_de00(many, inside)[is_inside(few, inside)] < 1.5)


def test_the_undyed_yarn_is_the_top_and_nothing_lighter_is_reached():
    shelf = shelf_of(5, 4)
    found = gamut_of(shelf, TABLES)
    bare = lab_of_mix(shelf, np.zeros(5), TABLES)
    assert outside_de00(found, bare) < 0.1
    lighter = bare + np.array([5.0, 0, 0])
    assert outside_de00(found, lighter) == pytest.approx(delta_e00(lighter, bare), abs=0.3)
    assert outlines_at(found, float(lighter[0])) == ()


def test_over_dyed_yarn_reaches_only_what_is_darker():
    shelf = shelf_of(5, 4)
    teal = over_yarn(shelf, reflectance_from_lab((50.0, -25.0, -10.0), TABLES), "a teal lot")
    found = gamut_of(teal, TABLES)
    assert found.base_lab == pytest.approx([50, -25, -10], abs=0.01)
    assert all(shell.lightness[0] <= 50.01 for shell in found.shells)


def test_the_chroma_of_a_hue_spans_what_lies_inside():
    shelf = shelf_of(6, 3)
    found = gamut_of(shelf, TABLES)
    spanned = 0
    for lightness in (35.0, 50.0, 65.0):
        for hue in np.radians(range(0, 360, 30)):
            span = chroma_range(found, lightness, float(hue))
            if span is None:
                continue
            least, most = span
            middle = (least + most) / 2
            spanned += 1
            assert is_inside(found, np.array([lightness, middle * np.cos(hue), middle * np.sin(hue)]))
            assert not is_inside(found, np.array([lightness, 1.02 * most * np.cos(hue), 1.02 * most * np.sin(hue)]))
    assert spanned > 12
    assert chroma_range(found, 99.0, 0.0) is None


def test_a_shallower_ceiling_reaches_less():
    shelf = replace(shelf_of(6, 3))
    shallow, deep = gamut_of(shelf, TABLES, deepest_owf=0.01), gamut_of(shelf, TABLES)
    assert shallow.shells[0].lightness[-1] > deep.shells[0].lightness[-1]


@pytest.mark.parametrize(("dyes", "says"), [([], "at least one dye"), (["Plum"], "'Plum' has no swatch")])
def test_dyes_that_are_not_there_are_refused(dyes, says):
    with pytest.raises(InputError, match=says):
        gamut_of(shelf_of(2, 1), TABLES, dyes=dyes)


@pytest.mark.parametrize(("n_dyes", "most_s"), [(4, 0.1), (5, 0.1), (12, 0.5)])
def test_a_gamut_is_there_while_a_slider_moves(n_dyes, most_s):
    shelf = shelf_of(n_dyes, 1)
    best = np.inf
    for _ in range(5):
        start = time.perf_counter()
        gamut_of(shelf, TABLES)
        best = min(best, time.perf_counter() - start)
    assert best < most_s  # 5, 12 and 70 ms on a quiet machine
