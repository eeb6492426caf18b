import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000
from synthetic_shelf import TABLES, invented_curves, known_shelf

from dyewright.core.colour import delta_e00
from dyewright.core.matching import Target
from dyewright.core.matching.series import MOST_SKEINS, common_ends, series_between, triangle_grid
from dyewright.core.mixing import lab_of_mix
from dyewright.errors import InputError

DYES = 8
SHELF = known_shelf(invented_curves(np.random.default_rng(2), DYES), half_depth_owf=(0.1,) * DYES)
ALONE = np.eye(DYES)


@settings(max_examples=30)
@given(
    dyes=st.lists(st.integers(0, DYES - 1), min_size=2, max_size=2, unique=True),
    percents=st.tuples(st.floats(0.1, 3), st.floats(0.1, 3)),
    skeins=st.integers(3, 12),
)
def test_every_step_of_a_series_is_the_same_to_the_eye(dyes, percents, skeins):
    start, end = (ALONE[dye] * percent / 100 for dye, percent in zip(dyes, percents, strict=True))
    found = series_between(SHELF, start, end, skeins, TABLES)

    # The steps again, by scikit-image 0.26.
    steps = deltaE_ciede2000(found.labs[:-1], found.labs[1:])
    assert np.ptp(steps) < 0.01 * steps.mean() + 1e-6
    assert np.allclose(found.steps_de00, steps, atol=1e-6)
    assert np.allclose(found.depths_owf[[0, -1]], [start, end], atol=1e-9)
    assert np.allclose(lab_of_mix(SHELF, found.depths_owf, TABLES), found.labs)


def test_a_ladder_of_one_dye_goes_deeper_step_by_step_from_the_undyed_yarn():
    found = series_between(SHELF, np.zeros(DYES), ALONE[1] * 0.02, 7, TABLES)
    depths = found.depths_owf[:, 1]
    assert np.all(np.diff(depths) > 0)
    assert np.all(np.diff(found.labs[:, 0]) < 0)
    # Even to the eye is far from even on the scale: half of the way down takes less than a fifth of the dye.
    assert depths[3] < 0.2 * depths[-1]


def test_even_steps_differ_from_steps_even_in_depth():
    found = series_between(SHELF, ALONE[0] * 0.001, ALONE[0] * 0.03, 6, TABLES)
    plain = lab_of_mix(SHELF, np.linspace(0.001, 0.03, 6)[:, None] * ALONE[0], TABLES)
    steps = delta_e00(plain[:-1], plain[1:])
    assert np.ptp(found.steps_de00) < 0.01 * found.steps_de00.mean()
    assert steps.max() > 2 * steps.min()


def test_ends_that_can_be_matched_are_met_by_dyes_in_common():
    one, two = (
        tuple(lab_of_mix(SHELF, depths, TABLES).tolist())
        for depths in (ALONE[0] * 0.004 + ALONE[1] * 0.002, ALONE[1] * 0.001 + ALONE[2] * 0.01)
    )
    ends = common_ends(SHELF, Target(one), Target(two), TABLES)
    used = (ends.start_owf > 0) | (ends.end_owf > 0)
    assert used.sum() <= 4
    for recipe, lab, de00 in ((ends.start_owf, one, ends.start_de00), (ends.end_owf, two, ends.end_de00)):
        assert delta_e00(lab_of_mix(SHELF, recipe, TABLES), lab) == pytest.approx(de00, abs=1e-6)
        assert de00 < 0.6  # both are mixes of this shelf; half a ΔE00 may go for fewer dyes


def test_a_recipe_that_stands_is_kept():
    stands = ALONE[3] * 0.005
    ends = common_ends(SHELF, stands, Target((50.0, 10.0, 10.0)), TABLES)
    assert np.array_equal(ends.start_owf, stands)
    assert ends.start_de00 == 0
    assert ((ends.start_owf > 0) | (ends.end_owf > 0)).sum() <= 4


def test_an_end_may_be_the_undyed_yarn():
    bare = tuple(lab_of_mix(SHELF, np.zeros(DYES), TABLES).tolist())
    ends = common_ends(SHELF, Target(bare), ALONE[3] * 0.005, TABLES)
    assert not ends.start_owf.any()


@pytest.mark.parametrize("steps", [2, 3, 5])
def test_a_triangle_has_even_edges_and_all_its_places(steps):
    corners = ALONE[:3] * np.array([[0.01], [0.02], [0.01]])
    found = triangle_grid(SHELF, corners, steps, TABLES)

    assert len(found.labs) == (steps + 1) * (steps + 2) // 2
    assert len(found.neighbours) == 3 * steps * (steps + 1) // 2  # by hand: the sides of the small triangles
    assert np.all(found.places.sum(axis=1) == steps)
    for corner in range(3):
        (place,) = np.flatnonzero(found.places[:, corner] == steps)
        assert np.allclose(found.depths_owf[place], corners[corner], atol=1e-9)
        on_edge = np.flatnonzero(found.places[:, corner] == 0)
        order = on_edge[np.argsort(found.places[on_edge, (corner + 1) % 3])]
        edge = delta_e00(found.labs[order[:-1]], found.labs[order[1:]])
        assert np.ptp(edge) < 0.01 * edge.mean()


def test_the_inside_of_a_triangle_is_evener_than_plain_shares():
    corners = ALONE[:3] * np.array([[0.01], [0.02], [0.01]])
    found = triangle_grid(SHELF, corners, 5, TABLES)
    plain = lab_of_mix(SHELF, found.places / 5 @ corners, TABLES)
    steps = delta_e00(plain[found.neighbours[:, 0]], plain[found.neighbours[:, 1]])
    assert found.steps_de00.std() / found.steps_de00.mean() < 0.7 * steps.std() / steps.mean()
    assert np.all(found.depths_owf >= 0)


@pytest.mark.parametrize("skeins", [1, MOST_SKEINS + 1])
def test_a_number_of_skeins_that_cannot_be_is_refused(skeins):
    with pytest.raises(InputError, match=f"{skeins} skein"):
        series_between(SHELF, ALONE[0] * 0.01, ALONE[1] * 0.01, skeins, TABLES)


def test_ends_that_look_alike_are_refused():
    with pytest.raises(InputError, match="look alike"):
        series_between(SHELF, ALONE[0] * 0.01, ALONE[0] * 0.01001, 5, TABLES)


@pytest.mark.parametrize("steps", [1, 11])
def test_a_grid_of_too_few_or_many_steps_is_refused(steps):
    with pytest.raises(InputError, match=f"a grid of {steps + 1} skeins a side"):
        triangle_grid(SHELF, ALONE[:3] * 0.01, steps, TABLES)
