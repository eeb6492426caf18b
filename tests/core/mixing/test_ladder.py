"""Which depths to dye next."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic_shelf import TABLES, base_swatch, invented_curves, ladder_swatches

from dyewright.core.mixing import bands_95, fit_shelf
from dyewright.core.mixing.ladder import LADDER_OWF, ladders, sharpening


def depths_of(known_owf, jars):
    """The depths that are proposed for one dye."""
    return tuple(depth for _, depth in ladders({"dye": known_owf}, jars))


@pytest.mark.parametrize(  # by hand, from ratios: ln 10 = 2.30 down to 0.1 %, ln 4 = 1.39 up to 4 %, ln 2.5 = 0.92
    ("known", "count", "depths"),
    [
        ([], 1, (0.01,)),
        ([], 2, (0.001, 0.01)),
        ([], 3, (0.001, 0.01, 0.04)),
        ([], 4, (0.001, 0.0025, 0.01, 0.04)),
        ([0.01], 1, (0.001,)),
        ([0.001, 0.03], 1, (0.005,)),  # 0.5 % is 5 and 6 times away from the two; 1 % only 3 times
        ([0.005], 0, ()),
        (
            [0.001, 0.003, 0.01, 0.03],
            6,
            (0.005, 0.02),
        ),  # 0.25 % is 1.2 times from 0.3 %, 2 and 4 % 1.5 and 1.33 from 3 %
    ],
)
def test_the_next_depth_lies_farthest_from_those_that_are_there(known, count, depths):
    assert depths_of(known, count) == pytest.approx(depths)


def test_a_ladder_ends_where_the_usual_depths_do():
    assert depths_of([], 20) == LADDER_OWF


def test_jars_go_first_to_the_dyes_that_are_known_least():
    planned = ladders({"Lagoon": [0.001, 0.01, 0.03], "Soot": [], "Moss": [0.01]}, 4)

    # by hand: they stand at 3, 0 and 1; Soot gets one, then as the first of two equals another, then Moss, then Soot
    assert planned == (("Soot", 0.001), ("Soot", 0.01), ("Soot", 0.04), ("Moss", 0.001))


def test_nobody_gets_more_than_a_whole_ladder():
    assert len(ladders({"Lagoon": []}, 10)) == len(LADDER_OWF)
    assert ladders({}, 8) == ()


def _shelf_of_six(rng):
    """Six dyes known from one pale swatch each, but the first from a whole ladder."""
    curves = invented_curves(rng, 6)
    known = [base_swatch(rng, 0.3), *ladder_swatches(rng, curves[:1], 0.3)]
    known += [one for one in ladder_swatches(rng, curves, 0.3, depths=(0.003,)) if "dye 0" not in one.depths_owf]
    return curves, known


def test_what_is_proposed_narrows_the_bands_when_it_is_dyed():
    rng = np.random.default_rng(3)
    curves, known = _shelf_of_six(rng)
    shelf = fit_shelf(known, TABLES)
    recipes = np.array([[0.005, 0.004, 0, 0, 0, 0], [0, 0.01, 0.002, 0, 0, 0]])

    chosen = sharpening(shelf, recipes, TABLES, 3)

    assert len(chosen) == 3
    assert {one.dye for one in chosen} <= {"dye 1", "dye 2"}  # dye 0 is known by five, the others are not asked for
    assert [one.band_after for one in chosen] == sorted((one.band_after for one in chosen), reverse=True)
    assert chosen[1].band_now == pytest.approx(chosen[0].band_after, rel=0.02)

    # the outside check: the swatches are really dyed, by the same invented world, and the shelf is fitted anew
    dyed = [
        one
        for proposal in chosen
        for one in ladder_swatches(rng, curves, 0.3, depths=(proposal.depth_owf,))
        if proposal.dye in one.depths_owf
    ]
    refitted = bands_95(fit_shelf([*known, *dyed], TABLES), recipes, TABLES)
    elsewhere = ladder_swatches(rng, curves[3:], 0.3, depths=(0.01,))
    other = [replace(one, depths_owf={f"dye {i + 3}": 0.01}) for i, one in enumerate(elsewhere)]
    in_vain = bands_95(fit_shelf([*known, *other], TABLES), recipes, TABLES)
    assert np.all(refitted < 0.9 * bands_95(shelf, recipes, TABLES))
    assert np.all(refitted < in_vain)
    # what was promised, the root of the mean square, against what the fit then says: it rests on the colour foretold
    assert chosen[-1].band_after == pytest.approx(np.sqrt(np.mean(refitted**2)), rel=0.25)


def test_no_depth_is_proposed_twice():
    rng = np.random.default_rng(3)
    shelf = fit_shelf(_shelf_of_six(rng)[1], TABLES)
    chosen = sharpening(shelf, np.array([[0, 0.005, 0, 0, 0, 0]]), TABLES, 20)
    assert len({one.depth_owf for one in chosen}) == len(chosen) <= len(LADDER_OWF)


def test_nothing_is_proposed_without_recipes():
    rng = np.random.default_rng(3)
    shelf = fit_shelf(_shelf_of_six(rng)[1], TABLES)
    assert sharpening(shelf, np.zeros((0, 6)), TABLES, 3) == ()
