import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from dyewright.core.colour import (
    ciede2000_metric,
    delta_cmc,
    delta_e00,
    delta_e76,
    delta_e94_textile,
    delta_grey_scale,
    difference_words,
    lab_from_lch,
    lab_from_xyz,
    lch_from_lab,
    xyz_from_lab,
)
from dyewright.data.colour import load_observer_tables

WHITE = load_observer_tables().whites["D65", 10]
LAB = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)).map(np.array)
XYZ = arrays(float, 3, elements=st.floats(1e-4, 120))


@given(LAB)
def test_a_colour_does_not_differ_from_itself(lab):
    for formula in (delta_e76, delta_e00, delta_cmc, delta_e94_textile, delta_grey_scale):
        assert formula(lab, lab) == 0
    assert difference_words(lab, lab) == "no difference to see"


@given(LAB, LAB)
def test_ciede2000_is_symmetric_and_never_negative(one, two):
    # The rounding of two orders of summation, on values to about 150.
    assert abs(delta_e00(one, two) - delta_e00(two, one)) < 1e-9
    assert delta_e00(one, two) >= 0


@given(XYZ)
def test_xyz_comes_back_from_lab(xyz):
    assert np.allclose(xyz_from_lab(lab_from_xyz(xyz, WHITE), WHITE), xyz, rtol=1e-9, atol=1e-9)


@given(LAB)
def test_lab_comes_back_from_lch(lab):
    assert np.allclose(lab_from_lch(lch_from_lab(lab)), lab, atol=1e-9)


@given(LAB, st.tuples(*[st.floats(-1, 1)] * 3).map(np.array))
def test_the_frozen_metric_is_ciede2000_close_by(lab, direction):
    step = 0.01 * direction
    # To first order in a step of 0.01: the weights change by less than a hundredth over it.
    frozen = np.linalg.norm(ciede2000_metric(lab) @ step)
    assert abs(frozen - delta_e00(lab, lab + step)) < 0.02 * frozen + 1e-6
