"""A worked camera case: 24 photographed patches with their reference, from OpenCV contrib's test of its module mcc."""

import csv

import numpy as np
import pytest

from dyewright.core.colour import lab_from_xyz, srgb_white, srgb_xyz_matrix
from dyewright.core.skeins import calibrate

pytestmark = pytest.mark.shared


@pytest.fixture(scope="module")
def worked(shared_data):
    with (shared_data / "ccm_worked.csv").open(encoding="utf-8", newline="") as file:
        table = np.array([[float(value) for value in row] for row in list(csv.reader(file))[1:]])
    return {
        "codes": table[:, 0:3],
        "linear": table[:, 3:6],
        "xyz": np.maximum(table[:, 6:9], 1e-4) @ srgb_xyz_matrix().T,
    }


def test_an_independent_solver_finds_no_better_matrix(worked):
    from scipy.optimize import minimize

    from dyewright.core.colour import delta_e00

    calibration = calibrate(worked["linear"], worked["xyz"], srgb_white(), is_linear=True)
    reference = lab_from_xyz(worked["xyz"], srgb_white())

    def error(matrix):
        seen = np.maximum(worked["linear"] @ matrix.reshape(3, 3).T, 0)
        return float(np.sum(delta_e00(reference, lab_from_xyz(seen, srgb_white())) ** 2))

    best = minimize(error, calibration.matrix.ravel(), method="Powell", options={"maxiter": 40, "xtol": 1e-5})

    # scipy's Powell on the exact CIEDE2000 sum of squares: one linear solve with the metric frozen at the reference
    # may be above that optimum, since errors here are large (a warm lamp); more than a quarter would be a fault
    ours = np.sqrt(error(calibration.matrix.ravel()) / 24)
    assert ours <= 1.25 * np.sqrt(best.fun / 24)


def test_the_grey_row_does_as_well_as_the_known_curve(worked):
    known = calibrate(worked["linear"], worked["xyz"], srgb_white(), is_linear=True)

    straightened = calibrate((worked["codes"] / 255) ** 2.4, worked["xyz"], srgb_white())

    # The case's own linearisation is a gamma of 2.2; a wrong 2.4 must be put right by the grey row.
    assert np.nanmedian(straightened.left_out_de00) <= np.nanmedian(known.left_out_de00) + 0.3
