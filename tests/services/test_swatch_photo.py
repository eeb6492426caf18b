import pytest

from dyewright.services.swatches.from_photo import PHOTO_WITHOUT_CHART_DE00, skein_noise


def test_a_verdicts_interval_becomes_a_standard_deviation():
    # By hand at L* 50, a* b* 0, where ΔE00 counts L* once (S_L = 1), a* one and a half times (Sharma et al. 2005,
    # eq. 4 and 5, at chroma 0) and b* once: half-widths 1.96 of 95 in 100 are standard deviations of 1, so that the
    # mean square over three components is (1 + 2.25 + 1)/3 = 1.417, its root 1.19.
    seen = {"lab": [50, 0, 0], "lab_low": [48.04, -1.96, -1.96], "lab_high": [51.96, 1.96, 1.96]}
    assert skein_noise(seen) == pytest.approx(1.19, abs=0.01)


def test_without_a_chart_a_colour_is_worth_little():
    assert skein_noise({"lab": [50, 0, 0], "lab_low": None, "lab_high": None}) == PHOTO_WITHOUT_CHART_DE00
