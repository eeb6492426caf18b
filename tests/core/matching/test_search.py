from itertools import combinations, pairwise
from math import comb

import numpy as np
import pytest
from scipy.optimize import minimize
from synthetic_shelf import BASE, TABLES, invented_curves, known_shelf, lab_of, random_mixes

from dyewright.core.colour import delta_e00
from dyewright.core.matching import DEEPEST_OWF, LEAST_OWF, Limits, Target, search

RNG = np.random.default_rng(11)
DYES = 9
CURVES = invented_curves(RNG, DYES)


SHELF = known_shelf(CURVES)
# Two mixes of the shelf itself, plain colours, and one that no shelf like this reaches.
TARGETS = [
    *map(tuple, lab_of(BASE + random_mixes(RNG, 2, DYES) @ CURVES).tolist()),
    (45.0, -20.0, -5.0),
    (55.0, 25.0, 20.0),
    (35.0, 5.0, -20.0),
    (75.0, 2.0, 30.0),
]


def best_by_slsqp(curves, target):
    """Return the least ΔE00 that scipy's SLSQP finds from three starts, depths in per cent."""

    def error(percent):
        return float(delta_e00(target, lab_of(BASE + percent / 100 @ curves)))

    bounds = [(100 * LEAST_OWF, 100 * DEEPEST_OWF)] * len(curves)
    starts = (np.full(len(curves), start) for start in (0.1, 0.5, 2.0))
    return min(
        minimize(error, start, bounds=bounds, method="SLSQP", options={"ftol": 1e-9, "maxiter": 200}).fun
        for start in starts
    )


@pytest.mark.parametrize("target", TARGETS, ids=str)
def test_every_good_combination_is_as_good_as_slsqp_finds_it(target):
    found = search(SHELF, Target(target), TABLES)
    triples = list(combinations(range(DYES), 3))
    for place in np.random.default_rng(1).choice(len(triples), 15, replace=False):
        dyes = list(triples[place])
        theirs = best_by_slsqp(CURVES[dyes], target)
        if theirs > 8:
            continue
        # Of a triple our best may stand under a smaller set, when a dye is best left out.
        inside = np.all(np.delete(found.depths_owf, dyes, axis=1) == 0, axis=1)
        # scipy 1.17 SLSQP, best of three starts; 0.05 ΔE00 is a tenth of what is seen, and either may stop early.
        assert found.de00[inside].min() <= theirs + 0.05


def test_a_colour_made_from_the_shelf_is_found_again():
    # Truth by construction: three depths of three dyes.
    wanted = np.zeros(DYES)
    wanted[[1, 4, 6]] = 0.006, 0.002, 0.010
    found = search(SHELF, Target(tuple(lab_of(BASE + wanted @ CURVES).tolist())), TABLES)

    assert found.de00[0] < 1e-3
    own = np.flatnonzero(np.all((found.depths_owf > 0) == (wanted > 0), axis=1))
    assert found.de00[own].min() < 1e-3
    assert found.depths_owf[own][0] == pytest.approx(wanted, abs=1e-5)


def test_what_is_told_is_the_true_difference():
    for target in TARGETS:
        found = search(SHELF, Target(target), TABLES)
        labs = lab_of(BASE + found.depths_owf @ CURVES)
        assert found.de00 == pytest.approx(delta_e00(target, labs), abs=1e-9)


def test_all_small_combinations_are_tried_in_order_and_within_bounds():
    found = search(SHELF, Target((45, -20, -5)), TABLES)

    assert found.combinations == comb(9, 1) + comb(9, 2) + comb(9, 3)
    assert all(one <= two for one, two in pairwise(found.de00))
    assert np.all((found.depths_owf >= 0) & (found.depths_owf <= DEEPEST_OWF))
    assert np.all(np.count_nonzero(found.depths_owf, axis=1) <= found.sizes)


def test_four_dyes_are_never_worse_than_three():
    target = Target(TARGETS[4])
    three = search(SHELF, target, TABLES, Limits(max_dyes=3))
    four = search(SHELF, target, TABLES, Limits(max_dyes=4))
    assert four.combinations == three.combinations + comb(9, 4)
    assert four.de00[0] <= three.de00[0] + 1e-6


def test_a_shelf_of_one_dye_is_searched_too():
    found = search(known_shelf(CURVES[:1]), Target((45, -20, -5)), TABLES)
    assert found.combinations == 1


def test_a_target_no_surface_can_have_still_gets_the_nearest():
    found = search(SHELF, Target((50, 120, 0)), TABLES)
    assert np.isfinite(found.de00).all()
    assert found.de00[0] > 10
