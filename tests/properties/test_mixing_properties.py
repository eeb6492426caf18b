from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic_shelf import TABLES, invented_curves, known_shelf

from dyewright.core.mixing import (
    build_up,
    depth_of_build_up,
    depth_vector,
    k_over_s,
    lab_of_mix,
    predict,
    reflectance_from_k_over_s,
)

DYES = 3
CURVES = invented_curves(np.random.default_rng(1), DYES)
SHELF = known_shelf(
    CURVES,
    dyes=("Blue", "Red", "Yellow"),
    half_depth_owf=(0.05, np.inf, 0.3),
    power=(0.85, 1.0, 1.1),
    strength=(1.2, 1.0, 0.8),
    surface_frac=0.004,
)
DEPTHS = st.lists(st.floats(0, 0.06), min_size=DYES, max_size=DYES).map(np.array)


@given(st.floats(1e-5, 1))
def test_reflectance_comes_back_from_k_over_s(reflectance):
    assert np.isclose(reflectance_from_k_over_s(k_over_s(reflectance)), reflectance, rtol=1e-9)


@given(DEPTHS, st.integers(0, DYES - 1), st.floats(1e-5, 0.02))
def test_more_dye_is_never_lighter(depths, which, more):
    deeper = depths + more * np.eye(DYES)[which]
    assert np.all(predict(SHELF, deeper) <= predict(SHELF, depths))
    assert lab_of_mix(SHELF, deeper, TABLES)[0] <= lab_of_mix(SHELF, depths, TABLES)[0]


@given(st.integers(0, DYES - 1), st.floats(1e-4, 0.06), st.floats(1.001, 3))
def test_a_deeper_shade_of_one_dye_is_darker(which, depth, factor):
    pale, deep = (lab_of_mix(SHELF, one * np.eye(DYES)[which], TABLES)[0] for one in (depth, depth * factor))
    assert deep < pale


@given(DEPTHS)
def test_weighed_depths_come_back_from_built_up_ones(depths):
    assert np.allclose(depth_of_build_up(SHELF, build_up(SHELF, depths)), depths, rtol=1e-9, atol=1e-15)


@given(DEPTHS)
def test_a_build_up_stays_below_its_half_depth(depths):
    built = build_up(SHELF, depths)
    assert np.all(built < np.array(SHELF.half_depth_owf))
    assert np.all(np.isinf(depth_of_build_up(SHELF, [0.05, 0.0, 0.3])[[0, 2]]))


@given(DEPTHS, st.floats(0.5, 2))
def test_a_stronger_dye_counts_as_more_of_it(depths, factor):
    stronger = replace(SHELF, strength=tuple(factor * one for one in SHELF.strength))
    assert np.allclose(build_up(stronger, depths), build_up(SHELF, factor * depths))


@given(DEPTHS)
def test_reflectance_stays_between_0_and_the_bases_own(depths):
    curve = predict(SHELF, depths)
    assert np.all(curve > 0)
    assert np.all(curve <= predict(SHELF, np.zeros(DYES)) + 1e-12)


@settings(max_examples=30)
@given(st.permutations(["Blue", "Red", "Yellow"]))
def test_the_order_of_a_recipe_does_not_matter(order):
    mix = {"Blue": 0.01, "Red": 0.002, "Yellow": 0.005}
    assert np.array_equal(depth_vector(SHELF, mix), depth_vector(SHELF, {name: mix[name] for name in order}))
