import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic_shelf import BASE, TABLES, invented_curves

from dyewright.core.mixing import ShelfModel, depth_vector, k_over_s, lab_of_mix, predict, reflectance_from_k_over_s

DYES = 3
CURVES = invented_curves(np.random.default_rng(1), DYES)
SHELF = ShelfModel(
    dyes=("Blue", "Red", "Yellow"),
    base="ecru",
    curves=CURVES,
    log_covariance=np.zeros((DYES, 31, 31)),
    base_k_over_s=BASE,
    swatch_counts=(5,) * DYES,
    deepest_owf=(0.04,) * DYES,
    fit_de00=(0.0,) * DYES,
    is_spectral=True,
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


@given(DEPTHS)
def test_reflectance_stays_between_0_and_the_bases_own(depths):
    curve = predict(SHELF, depths)
    assert np.all(curve > 0)
    assert np.all(curve <= reflectance_from_k_over_s(BASE) + 1e-12)


@settings(max_examples=30)
@given(st.permutations(["Blue", "Red", "Yellow"]))
def test_the_order_of_a_recipe_does_not_matter(order):
    mix = {"Blue": 0.01, "Red": 0.002, "Yellow": 0.005}
    assert np.array_equal(depth_vector(SHELF, mix), depth_vector(SHELF, {name: mix[name] for name in order}))
