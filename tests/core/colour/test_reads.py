import numpy as np
import pytest

from dyewright.core.colour import noise_of_reads


def test_readings_that_agree_are_surer_than_one_but_not_without_end():
    # By hand, half of 0.3² being 0.045: no scatter leaves 9·0.045/(9 + 3) = 0.03375 a reading, over 2 readings 0.0169;
    # with the half that all share sqrt(0.045 + 0.0169) = 0.2488.
    assert noise_of_reads([[50, 0, 0]] * 2, 0.3) == pytest.approx(0.2488, abs=1e-4)
    # Forty of them: 9·0.045/(9 + 117)/40 = 0.00008; sqrt(0.04508) = 0.2123.
    assert noise_of_reads([[50, 0, 0]] * 40, 0.3) == pytest.approx(0.2123, abs=1e-4)


def test_readings_that_scatter_are_less_sure_than_usual():
    # By hand at L* 50, a* b* 0, where S_L is 1 and ΔE00 is ΔL*: 48 and 52 are 2 off each, squares 8;
    # (9·0.045 + 8)/(9 + 3) = 0.700 a reading, over 2 readings 0.350; sqrt(0.045 + 0.350) = 0.6287.
    assert noise_of_reads([[48, 0, 0], [52, 0, 0]], 0.3) == pytest.approx(0.6287, abs=1e-3)


def test_many_readings_find_the_true_noise():
    # Scatter of standard deviation 2 about a grey at L* 50, where ΔE00 stretches a* by 1.5 (Sharma et al. 2005, eq. 4
    # and 5, at chroma 0): pooled 2·sqrt((1 + 2.25 + 1)/3) = 2.38, known to 6 % from a hundred (1/sqrt(600)); with what
    # all share sqrt(0.045 + 2.38²/100) = 0.319.
    labs = np.array([50, 0, 0]) + np.random.default_rng(2).normal(0, 2.0, (100, 3))
    assert noise_of_reads(labs, 0.3) == pytest.approx(0.319, rel=0.08)
