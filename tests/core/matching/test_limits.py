from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic_shelf import BASE, TABLES, invented_curves, known_shelf, lab_of

from dyewright.core.colour import delta_e00, lab_from_xyz
from dyewright.core.matching import LEAST_OWF, Limits, Target, search
from dyewright.core.mixing import lab_of_mix, reflectance_from_k_over_s
from dyewright.errors import InputError, NoMatchError

RNG = np.random.default_rng(17)
DYES = 7
CURVES = invented_curves(RNG, DYES)
NAMES = tuple(f"dye {dye}" for dye in range(DYES))
SHELF = known_shelf(
    CURVES,
    dyes=NAMES,
    half_depth_owf=(0.1, 0.2, np.inf, 0.15, 0.3, 0.08, 0.12),
    strength=(1.0, 0.7, 1.2, 1.0, 1.0, 0.9, 1.1),
)
TARGETS = [(45.0, -20.0, -5.0), (55.0, 25.0, 20.0), (35.0, 5.0, -20.0), (22.0, 4.0, -6.0)]
PRICES = {name: 0.1 * (place + 1) for place, name in enumerate(NAMES)}
targets = st.tuples(st.floats(20, 80), st.floats(-40, 40), st.floats(-40, 40))
some_names = st.frozensets(st.sampled_from(NAMES), max_size=2)


def found(target=TARGETS[0], **how):
    return search(SHELF, Target(target), TABLES, Limits(**how))


def uses(solutions, name):
    return solutions.depths_owf[:, NAMES.index(name)] > 0


@settings(max_examples=25)
@given(targets, some_names, some_names, st.floats(0.002, 0.05), st.floats(0.002, 0.1))
def test_every_recipe_keeps_to_every_limit(target, must, never, deepest, total):
    least = {"dye 1": 0.0015, "dye 4": 0.0005}
    limits = Limits(
        must_use=must,
        never_use=never - must,
        deepest_owf=deepest,
        total_owf=total,
        least_owf=least,
        most_owf={"dye 2": 0.004},
    )
    try:
        solutions = search(SHELF, Target(target), TABLES, limits)
    except NoMatchError:
        return
    depths = solutions.depths_owf
    assert all(uses(solutions, name).all() for name in must)
    assert not any(uses(solutions, name).any() for name in never - must)
    assert depths.max() <= deepest * (1 + 1e-9)
    assert depths.sum(axis=1).max() <= total * (1 + 1e-9)
    assert depths[:, 2].max() <= 0.004 * (1 + 1e-9)
    for place, name in enumerate(NAMES):
        own = depths[depths[:, place] > 0, place]
        assert np.all(own >= least.get(name, LEAST_OWF) * (1 - 1e-5))


@settings(max_examples=15)
@given(targets, st.sampled_from(["never", "must", "deepest", "total", "cost", "least"]))
def test_one_limit_more_never_brings_a_recipe_nearer(target, which):
    more = {
        "never": {"never_use": frozenset({"dye 3"})},
        "must": {"must_use": frozenset({"dye 5"})},
        "deepest": {"deepest_owf": 0.01},
        "total": {"total_owf": 0.012},
        "cost": {"most_cost_per_kg": 4.0, "price_per_g": PRICES},
        "least": {"least_owf": dict.fromkeys(NAMES, 0.002)},
    }[which]
    free = found(target, total_owf=None)
    try:
        bound = found(target, **{"total_owf": None, **more})
    except NoMatchError:
        return
    # 0.02: the descent may end in another hollow where the target is far out of reach.
    assert bound.de00.min() >= free.de00.min() - 0.02


@pytest.mark.parametrize("target", TARGETS)
def test_a_bound_on_the_whole_recipe_is_met_as_near_as_by_a_grid(target):
    # Another way: the best of a fine grid over the two dyes, both bounds kept; built-up and weighed depths differ here.
    names = frozenset(NAMES[:2])
    how = {"must_use": names, "max_dyes": 2, "total_owf": 0.015, "most_cost_per_kg": 2.0, "price_per_g": PRICES}
    ours = found(target, **how).de00.min()
    one, two = np.meshgrid(np.linspace(LEAST_OWF, 0.015, 500), np.linspace(LEAST_OWF, 0.015, 500))
    grid = np.zeros((one.size, DYES))
    grid[:, 0], grid[:, 1] = one.ravel(), two.ravel()
    cost = 1000 * grid @ np.array(list(PRICES.values()))
    grid = grid[(grid.sum(axis=1) <= 0.015) & (cost <= 2.0)]
    best = delta_e00(target, lab_of_mix(SHELF, grid, TABLES)).min()
    # A step of the grid is worth 0.05 ΔE00 at most; a ceiling may cost the descent as much.
    assert ours == pytest.approx(best, abs=0.1)


def test_pairs_that_are_kept_apart_never_meet():
    apart = frozenset({frozenset({"dye 0", "dye 1"}), frozenset({"dye 2", "dye 3"})})
    for most in (3, 4):
        solutions = found(max_dyes=most, apart=apart)
        assert not np.any(uses(solutions, "dye 0") & uses(solutions, "dye 1"))
        assert not np.any(uses(solutions, "dye 2") & uses(solutions, "dye 3"))
        assert np.any(uses(solutions, "dye 0") & uses(solutions, "dye 2"))


def test_a_dose_too_small_to_measure_is_raised_or_its_dye_dropped():
    free = found(max_dyes=3)
    least = dict.fromkeys(NAMES, 0.003)
    bound = found(max_dyes=3, least_owf=least)
    assert np.any((free.depths_owf[:20] > 0) & (free.depths_owf[:20] < 0.003))
    assert np.all((bound.depths_owf == 0) | (bound.depths_owf >= 0.003 * (1 - 1e-5)))
    assert set(bound.sizes.tolist()) == {1, 2, 3}


def test_of_a_curve_the_other_lights_count_too():
    # Truth by construction: the target is made of dyes that are not on the shelf.
    other = invented_curves(np.random.default_rng(5), 3)
    curve = reflectance_from_k_over_s(BASE + np.array([0.004, 0.003, 0.002]) @ other)
    target = Target(tuple(lab_of(BASE + np.array([0.004, 0.003, 0.002]) @ other).tolist()), curve)
    day, all_three = (
        search(SHELF, target, TABLES, Limits(max_dyes=4, lights=lights)) for lights in (("D65",), ("D65", "A", "FL11"))
    )
    assert all(one <= two for one, two in pairwise(all_three.miss))
    assert np.all(all_three.miss >= all_three.de00)
    assert all_three.miss[0] < miss_of(day, target).min() + 1e-6
    assert day.miss == pytest.approx(day.de00)


def miss_of(solutions, target):
    total = solutions.de00**2
    for light in ("A", "FL11"):
        weights, white = TABLES.weights[light, 10], TABLES.whites[light, 10]
        labs = lab_of_mix(SHELF, solutions.depths_owf, TABLES, illuminant=light)
        total = total + (0.3 * delta_e00(lab_from_xyz(target.reflectance @ weights, white), labs)) ** 2
    return np.sqrt(total)


def test_a_surface_that_shines_is_taken_into_account():
    glossy = replace(SHELF, surface_frac=0.02)
    wanted = np.zeros(DYES)
    wanted[[0, 4]] = 0.03, 0.02
    solutions = search(glossy, Target(tuple(lab_of_mix(glossy, wanted, TABLES).tolist())), TABLES)
    own = np.all((solutions.depths_owf > 0) == (wanted > 0), axis=1)
    # Truth by construction; the weighed depths come back through the bend and the strengths of the dyes.
    assert solutions.depths_owf[own][0] == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({"max_dyes": 5}, "a recipe of 5 dyes was asked for; it can have 1 to 4"),
        ({"max_dyes": 0}, "a recipe of 0 dyes was asked for"),
        ({"deepest_owf": 0.0}, "the deepest that one dye may go was given as 0 %"),
        ({"deepest_owf": float("nan")}, "the deepest that one dye may go was given as nan %"),
        ({"total_owf": 2.0}, "all dyes of a recipe together was given as 200 %"),
        ({"must_use": frozenset({"Sky"})}, "dye 'Sky' has no swatch on this shelf; it knows dye 0, dye 1"),
        ({"never_use": frozenset({"Sky"})}, "dye 'Sky' has no swatch on this shelf"),
        ({"never_use": frozenset(NAMES)}, "the limits leave no dye of this shelf"),
        ({"must_use": frozenset(NAMES[:4])}, "4 dyes must be in the recipe, which may have 3"),
        ({"must_use": frozenset({"dye 1"}), "never_use": frozenset({"dye 1"})}, "dye 1 must be in the recipe, but"),
        (
            {"must_use": frozenset({"dye 1"}), "most_owf": {"dye 1": 0.001}, "least_owf": {"dye 1": 0.002}},
            "too little left to be measured",
        ),
        (
            {"must_use": frozenset({"dye 1", "dye 2"}), "apart": frozenset({frozenset({"dye 1", "dye 2"})})},
            "dye 1 and dye 2 must both be in the recipe, but do not go into one bath",
        ),
    ],
)
def test_limits_that_cannot_be_are_refused_in_one_sentence(how, says):
    with pytest.raises(InputError) as error:
        found(**how)
    assert says in error.value.message


def test_dyes_without_a_price_stay_out_under_a_ceiling_of_cost():
    prices = {name: price for name, price in PRICES.items() if name != "dye 0"}
    solutions = found(most_cost_per_kg=5.0, price_per_g=prices)
    assert not uses(solutions, "dye 0").any()
    cost = 1000 * solutions.depths_owf @ np.array([prices.get(name, 0) for name in NAMES])
    assert cost.max() <= 5.0 * (1 + 1e-9)


def test_a_ceiling_below_every_least_dose_leaves_nothing():
    with pytest.raises(NoMatchError, match="no combination of dyes keeps to the limits"):
        found(total_owf=0.001, least_owf=dict.fromkeys(NAMES, 0.002))
