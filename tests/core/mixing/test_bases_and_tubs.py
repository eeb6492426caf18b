"""Strengths on another base and from another tub, found again from swatches that were made with known ones."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import LADDER, TABLES, World, invented_curves

from dyewright.core.colour import delta_e00
from dyewright.core.mixing import band_95, build_up, fit_shelf, lab_of_mix
from dyewright.core.mixing.fit import problem_of
from dyewright.core.mixing.joint import FIRST_FACTOR
from dyewright.core.mixing.setting import setting_of
from dyewright.core.model import Swatch

DYES = 6


def shelf_with(seed):
    rng = np.random.default_rng(seed)
    world = World(invented_curves(rng, DYES))
    return rng, world, world.shelf(rng, 0.3)


def single(dye, depth):
    return depth * np.eye(DYES)[dye]


def noted_at(swatch, depths):
    return replace(swatch, depths_owf=depths)


def on_silk(world, rng, swatches, takes, dyes):
    """Return the undyed silk, as white as the ecru here, and swatches at 1 % that took `takes` times as deep."""
    dyed = [
        noted_at(world.swatch(single(dye, 0.01 * takes), rng, 0.3, name="silk"), {f"dye {dye}": 0.01}) for dye in dyes
    ]
    return [replace(swatches[0], base="silk"), *dyed]


def test_one_swatch_on_another_base_moves_every_dye_there():
    rng, world, swatches = shelf_with(1)
    shelf = fit_shelf([*swatches, *on_silk(world, rng, swatches, 1.4, [0])], TABLES, base="silk")

    # Made with 1.4; the belief of 1 ± 27 % holds a single swatch, itself known to some 6 %, back by a twentieth or so.
    assert shelf.strength[0] == pytest.approx(1.4, rel=0.1)
    # The others: what is common of it, which one dye tells by 0.25² / (0.25² + 0.1²) = 0.86 of ln 1.4 at most.
    assert min(shelf.strength[1:]) > 1.15
    assert max(shelf.strength[1:]) < 1.4
    assert f"on silk: takes {shelf.strength[0]:.2g} times as deep as on ecru, from 1 swatch" in shelf.notes
    assert any("not yet dyed on silk: dye 1" in note and "other dyes do there" in note for note in shelf.notes)


def test_swatches_of_several_dyes_make_the_rest_surer_on_that_base():
    bands = []
    for dyes in ([], [0], [0, 1, 2]):
        rng, world, swatches = shelf_with(2)
        shelf = fit_shelf([*swatches, *on_silk(world, rng, swatches, 1.3, dyes)], TABLES, base="silk")
        bands.append(band_95(shelf, single(5, 0.01), TABLES))
    assert bands[0] > 1.5 * bands[1]
    assert bands[1] > bands[2]


def test_the_base_that_most_swatches_are_on_is_not_moved_by_another():
    rng, world, swatches = shelf_with(3)
    plain = fit_shelf(swatches, TABLES)
    both = fit_shelf([*swatches, *on_silk(world, rng, swatches, 1.4, [0, 1])], TABLES, base="ecru")
    assert both.strength == (1.0,) * DYES
    assert delta_e00(lab_of_mix(plain, single(4, 0.01), TABLES), lab_of_mix(both, single(4, 0.01), TABLES)) < 0.05


def from_tub(swatches, tub):
    return [replace(swatch, dye_lots=dict.fromkeys(swatch.depths_owf, tub)) for swatch in swatches]


def test_one_bridging_swatch_gives_the_strength_of_a_new_tub():
    rng, world, swatches = shelf_with(4)
    bridge = noted_at(world.swatch(single(2, 0.012), rng, 0.3, tubs={"dye 2": "B"}), {"dye 2": 0.01})
    known = from_tub(swatches, "A")
    old = fit_shelf([*known, bridge], TABLES, lots={"dye 2": "A"})
    new = fit_shelf([*known, bridge], TABLES, lots={"dye 2": "B"})

    # Made with 1.2; the belief of ± 10 % a tub against a swatch known to 5 or 6 % leaves about three quarters of it.
    assert 1.08 < new.strength[2] / old.strength[2] < 1.22
    foretold = lab_of_mix(new, single(2, 0.01), TABLES)
    assert delta_e00(world.lab(single(2, 0.012)), foretold) < delta_e00(world.lab(single(2, 0.01)), foretold)
    assert any("dye 2: tub B is 1." in note for note in new.notes)
    assert not any("tub" in note for note in old.notes)


def test_a_tub_without_a_swatch_widens_the_band_and_says_so():
    _, _, swatches = shelf_with(4)
    known = from_tub(swatches, "A")
    old, new = (fit_shelf(known, TABLES, lots={"dye 2": tub}) for tub in ("A", "C"))
    # At least the depth's own scatter of 10 % from tub to tub, over that of 5 % from pot to pot.
    assert band_95(new, single(2, 0.01), TABLES) > 1.3 * band_95(old, single(2, 0.01), TABLES)
    assert "dye 2: no swatch yet from tub C; one bridging swatch gives its strength" in new.notes
    assert band_95(new, single(1, 0.01), TABLES) == pytest.approx(band_95(old, single(1, 0.01), TABLES), rel=0.02)


def test_swatches_without_a_note_of_their_tub_count_as_from_the_one_in_use():
    _, _, swatches = shelf_with(4)
    shelf = fit_shelf(swatches, TABLES, lots={"dye 2": "C"})
    assert shelf.strength == (1.0,) * DYES
    assert not any("tub" in note for note in shelf.notes)


def test_a_blended_jar_widens_the_band_and_is_named():
    _, _, swatches = shelf_with(5)
    plain, blend = fit_shelf(swatches, TABLES), fit_shelf(swatches, TABLES, blends={"dye 1"})
    assert band_95(blend, single(1, 0.01), TABLES) > 1.5 * band_95(plain, single(1, 0.01), TABLES)
    assert band_95(blend, single(0, 0.01), TABLES) == pytest.approx(band_95(plain, single(0, 0.01), TABLES), rel=0.1)
    assert any(note.startswith("blended in the jar: dye 1;") for note in blend.notes)


def test_a_ladder_tells_how_a_dye_builds_up_and_one_swatch_does_not():
    rng = np.random.default_rng(6)
    world = World(invented_curves(rng, 3), law="langmuir")
    ladder = fit_shelf(world.shelf(rng, 0.3), TABLES)
    one = fit_shelf(world.shelf(rng, 0.3, depths=(0.003,)), TABLES)
    assert ladder.is_bend_fitted == (True,) * 3
    assert one.is_bend_fitted == (False,) * 3
    # Langmuir with half depth 6 %: from 0.1 to 4 % the build-up grows 40 · (1 + 1/60) / (1 + 4/6) = 24.4 times.
    for dye in range(3):
        grown = ladder_growth(ladder, dye)
        assert grown == pytest.approx(24.4, rel=0.12)
    deep, pale = (band_95(one, depth * np.eye(3)[0], TABLES) for depth in (0.04, 0.003))
    assert deep > 1.3 * pale


def ladder_growth(shelf, dye):
    depths = np.array([[LADDER[0]], [LADDER[-1]]]) * np.eye(len(shelf.dyes))[dye]
    shallow, deep = build_up(shelf, depths)[:, dye]
    return deep / shallow


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"noise_de00": 0.2}, {"noise_de00": 1.0}),
        ({"noise_de00": 0.3}, {"source": "photo"}),
        ({"reads": 9}, {"reads": 1}),
    ],
)
def test_a_swatch_that_says_how_surely_it_was_read_is_believed(better, worse):
    rng = np.random.default_rng(7)
    world = World(invented_curves(rng, 2))
    swatches = world.shelf(rng, 0.3, depths=(0.01,))
    sure, unsure = (
        fit_shelf([swatches[0], *(replace(one, **how) for one in swatches[1:])], TABLES) for how in (better, worse)
    )
    assert band_95(sure, np.array([0.004, 0.004]), TABLES) < band_95(unsure, np.array([0.004, 0.004]), TABLES)


def test_more_reads_of_a_curve_make_it_surer():
    curve = tuple(np.linspace(0.2, 0.6, 31))
    base = Swatch({}, "ecru", reflectance=(0.8,) * 31, source="spectrophotometer")
    dyed = Swatch({"Blue": 0.01}, "ecru", reflectance=curve, source="spectrophotometer")
    once, often = (fit_shelf([base, replace(dyed, reads=reads)], TABLES) for reads in (1, 9))
    spread_once, spread_often = (np.trace(one.log_covariance[0, :31, 0, :31]) for one in (once, often))
    assert spread_often < spread_once


def test_what_is_believed_of_strengths_hangs_together_on_each_base_and_not_between_bases():
    # By the hierarchy as it is written down: on one base 0.25² in common, and 0.1² more of each dye itself.
    swatches = [
        Swatch(depths, base, lab=lab)
        for base in ("ecru", "silk", "grey")
        for depths, lab in (
            ({}, (85.0, 0.0, 10.0)),
            ({"dye 0": 0.01}, (60.0, 20.0, 10.0)),
            ({"dye 1": 0.01}, (60, 0, 5)),
        )
    ]
    problem = problem_of(setting_of(swatches, TABLES), TABLES, 0.0)
    columns, weights = problem.links
    flat = columns.reshape(-1, columns.shape[-1])
    believed = np.linalg.inv(np.kron(np.eye(2), problem.precision) + (flat * weights) @ flat.T)
    size = problem.centre.shape[1]
    places = [dye * size + FIRST_FACTOR + base for base in (0, 1) for dye in (0, 1)]
    one_base = 0.25**2 + 0.1**2 * np.eye(2)
    assert believed[np.ix_(places, places)] == pytest.approx(np.kron(np.eye(2), one_base), abs=1e-9)


def test_the_base_is_named_where_there_are_two_and_none_was_asked_for():
    rng, world, swatches = shelf_with(1)
    two = [*swatches, *on_silk(world, rng, swatches, 1.0, [0])]
    says = "on ecru, the base with most swatches; name another to dye on that"
    assert says in fit_shelf(two, TABLES).notes
    assert says not in fit_shelf(two, TABLES, base="ecru").notes
    assert says not in fit_shelf(swatches, TABLES).notes
