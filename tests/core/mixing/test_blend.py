import numpy as np
import pytest

from dyewright.core.mixing import k_over_s
from dyewright.core.mixing.blend import BlendRule, blended_reflectance, fit_blend_constant
from dyewright.errors import InputError

RED = np.linspace(0.05, 0.7, 31)
BLUE = np.linspace(0.5, 0.03, 31)
RULES = list(BlendRule)


def test_stearns_noechel_worked_by_hand():
    # f(0.04) = 0.96 / (0.15·0.03 + 0.01) = 0.96 / 0.0145 = 66.2069; f(0.64) = 0.36 / (0.15·0.63 + 0.01) = 3.44498.
    # Half of each: f = 34.82594, R = (1 - 0.01·0.85·34.82594) / (1 + 0.15·34.82594) = 0.703980 / 6.223891 = 0.113109.
    assert blended_reflectance([[0.04], [0.64]], [0.5, 0.5]) == pytest.approx(0.113109, abs=1e-6)


def test_friele_worked_by_hand():
    # K/S of 0.2 is 0.64 / 0.4 = 1.6, of 0.5 0.25. exp(-0.27·1.6) = 0.649209, exp(-0.27·0.25) = 0.934728; a quarter and
    # three quarters: 0.863348; -ln / 0.27 = 0.544212; R = 1.544212 - sqrt(1.544212² - 1) = 0.367526.
    seen = blended_reflectance([[0.2], [0.5]], [0.25, 0.75], rule=BlendRule.FRIELE)
    assert seen == pytest.approx(0.367526, abs=2e-6)


@pytest.mark.parametrize("rule", RULES)
def test_a_blend_of_one_colour_is_that_colour(rule):
    assert blended_reflectance([RED, RED], [0.3, 0.7], rule=rule) == pytest.approx(RED)
    assert blended_reflectance([RED, BLUE], [1.0, 0.0], rule=rule) == pytest.approx(RED)


@pytest.mark.parametrize("rule", RULES)
def test_a_blend_lies_between_spots_side_by_side_and_dyes_in_one_fibre(rule):
    # The two limits: the mean of the reflectances, and single-constant theory by shares.
    shares = np.array([0.4, 0.6])
    seen = blended_reflectance([RED, BLUE], shares, rule=rule)
    side_by_side = shares @ [RED, BLUE]
    ratio = shares @ k_over_s([RED, BLUE])
    assert np.all(seen <= side_by_side + 1e-12)
    assert np.all(k_over_s(seen) <= ratio + 1e-9)


@pytest.mark.parametrize(("rule", "constant"), [(BlendRule.STEARNS_NOECHEL, 0.25), (BlendRule.FRIELE, 0.4)])
def test_the_constant_is_found_again(rule, constant):
    blends = [
        ([RED, BLUE], shares, blended_reflectance([RED, BLUE], shares, rule=rule, constant=constant))
        for shares in ([0.5, 0.5], [0.2, 0.8])
    ]
    assert fit_blend_constant(blends, rule=rule) == pytest.approx(constant, abs=1e-3)


@pytest.mark.parametrize("shares", [[0.5, 0.4], [1.2, -0.2], [1.0]])
def test_shares_that_make_no_whole_are_named(shares):
    with pytest.raises(InputError, match="shares"):
        blended_reflectance([RED, BLUE], shares)
