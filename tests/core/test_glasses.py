import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.colour import linear_from_srgb, srgb_from_linear
from dyewright.core.glasses import absorbance, read_glasses
from dyewright.core.model import ClarityReading, Observed
from dyewright.errors import InputError
from dyewright.services.forecasting.foretell import forecast
from dyewright.services.planning import read_card

BLUE = np.array([0.9, 0.45, 0.12])  # absorbance of the start in red, green, blue
YELLOW = np.array([0.03, 0.12, 0.8])
LAMP = np.array([0.8, 0.72, 0.55])  # a warm lamp: every channel is lit differently
MILLING = read_card("""
[yarn]
dry = "100 g"
[[dye]]
class = "acid milling"
depth = "1 %"
[water]
alkalinity = "95 mg/L"
""")
RUNGS = (1.0, 0.5, 0.25, 0.125, 0.0625)


def through(absorbances, curve=1.0):
    """A glass under the lamp by the Beer-Lambert law; `curve` bends the picture as a phone's tone curve does."""
    return (LAMP * 10.0**-absorbances) ** curve


def photographed(linear, rng):
    """The median of an area that was stored with 8 bits and noise."""
    stored = np.clip(srgb_from_linear(linear) * 255 + rng.normal(0, 2, (400, 3)), 0, 255).round()
    return np.median(linear_from_srgb(stored / 255), axis=0)


@pytest.mark.parametrize("curve", [0.8, 1.0, 1.3])
@pytest.mark.parametrize("left", [0.8, 0.4, 0.2, 0.09])
def test_a_single_dye_is_read_to_less_than_half_a_rung_whatever_the_tone_curve(left, curve):
    rng = np.random.default_rng(3)
    ladder = [(share, photographed(through(share * BLUE, curve), rng)) for share in RUNGS]
    water = photographed(through(0 * BLUE, curve), rng)

    reading = read_glasses(photographed(through(left * BLUE, curve), rng), water, ladder)

    rungs_off = np.log2((1 - reading.exhaustion.mid) / left)
    assert abs(rungs_off) < 0.5
    assert reading.exhaustion.low <= 1 - left <= reading.exhaustion.high
    assert not reading.is_mixed
    assert reading.has_ladder


def test_without_a_ladder_the_law_stands_in_and_the_doubt_is_wide():
    ladder = [(1.0, through(BLUE))]
    reading = read_glasses(through(0.3 * BLUE), through(0 * BLUE), ladder)

    assert reading.exhaustion.mid == pytest.approx(0.7, abs=0.01)  # exact by the law, there being no noise here
    assert not reading.has_ladder
    assert reading.exhaustion.high - reading.exhaustion.low > 0.2


def test_dyes_that_have_gone_in_unequally_are_told():
    start = BLUE + YELLOW
    ladder = [(share, through(share * start)) for share in RUNGS]
    reading = read_glasses(through(0.1 * BLUE + 0.6 * YELLOW), through(0 * BLUE), ladder)

    assert reading.is_mixed
    assert reading.exhaustion.low < 0.9  # what the blue alone has done
    assert reading.exhaustion.low < 1 - (0.1 * 1.47 + 0.6 * 0.95) / 2.42 < reading.exhaustion.high  # by hand: all dye


def test_a_bath_like_the_start_or_darker_has_given_up_nothing():
    ladder = [(share, through(share * BLUE)) for share in RUNGS]
    for left in (1.0, 1.6):
        assert read_glasses(through(left * BLUE), through(0 * BLUE), ladder).exhaustion.mid == pytest.approx(
            0, abs=1e-6
        )


def test_a_bath_like_water_is_clear():
    ladder = [(share, through(share * BLUE)) for share in RUNGS]
    assert read_glasses(through(0 * BLUE), through(0 * BLUE), ladder).exhaustion.mid > 0.99


@given(st.lists(st.floats(0.005, 1), min_size=2, max_size=2).filter(lambda pair: pair[0] < pair[1]))
def test_a_paler_glass_has_never_given_up_less(pair):
    ladder = [(share, through(share * BLUE)) for share in RUNGS]
    paler, darker = (read_glasses(through(left * BLUE), through(0 * BLUE), ladder) for left in pair)
    assert paler.exhaustion.mid >= darker.exhaustion.mid - 1e-9


def test_absorbance_is_the_logarithm_of_what_goes_through():
    assert absorbance([0.1, 0.01, 1.0], [1.0, 1.0, 1.0]) == pytest.approx([1.0, 2.0, 0.0])  # by hand


@pytest.mark.parametrize(
    ("ladder", "words"),
    [
        ([(0.5, through(0.5 * BLUE))], "lacks the starting bath"),
        ([(1.0, through(BLUE)), (1.0, through(BLUE))], "another share"),
        ([(1.0, through(0.02 * BLUE))], "as pale as the water"),
    ],
)
def test_a_ladder_that_cannot_be_read_is_refused(ladder, words):
    with pytest.raises(InputError, match=words):
        read_glasses(through(0.5 * BLUE), through(0 * BLUE), ladder)


def pictured(shares, start, rng, *, falls_off=0.1):
    """Linear light of glasses in a row by chance: a lens darker at its edges, a lamp from one side, fillings that
    differ, a tone curve, 8 bits. An own drawing of a photo, apart from the reader's formulas."""
    places = rng.permutation(np.linspace(-1.0, 1.0, len(shares)))
    light = (1 - falls_off * places**2) * (1 + rng.normal(0, 0.03) * places) * rng.normal(1, 0.005, places.size)
    linear = through(np.outer(np.asarray(shares) * rng.normal(1, 0.01, places.size), start)) * light[:, None]
    bent = srgb_from_linear(np.clip(linear, 0, 1))
    bent = bent - rng.uniform(0, 0.06) * np.sin(2 * np.pi * bent)  # darker shadows, brighter lights
    return linear_from_srgb(np.round(255 * bent) / 255)


def test_a_rung_that_the_lens_makes_paler_than_water_is_no_hindrance():
    ladder = [(1.0, through(0.5 * BLUE)), (0.5, through(0.25 * BLUE))]
    ladder += [(0.125, through(-0.005 * np.ones(3))), (0.0625, through(-0.02 * np.ones(3)))]

    reading = read_glasses(through(0.35 * BLUE), through(0 * BLUE), ladder)

    assert reading.exhaustion.mid == pytest.approx(0.3, abs=0.01)  # exact by the law: 0.35 of 0.5 is left of it


def test_nine_of_ten_bands_hold_the_truth_where_lens_lamp_and_tone_curve_are_a_phones():
    rng = np.random.default_rng(11)
    held = []
    for _ in range(300):
        left, start = 2.0 ** -rng.uniform(0.2, 5.0), rng.uniform(0.4, 1.4) * rng.permutation(BLUE)
        seen = pictured([left, 0.0, *RUNGS], start, rng)
        reading = read_glasses(seen[0], seen[1], list(zip(RUNGS, seen[2:], strict=True)))
        held.append(reading.exhaustion.low <= 1 - left <= reading.exhaustion.high)
    assert np.mean(held) >= 0.9  # what the band says of itself


def test_a_rough_photo_moves_a_forecast_less_than_a_look_by_eye():
    eye, photo = (forecast(MILLING, Observed(clarities=(ClarityReading(45.0, 0.5, doubt),))) for doubt in (None, 1.5))
    before = eye.before.mostly_clear_at_min.mid
    moved = abs(photo.mostly_clear_at_min.mid - before)
    assert 0 < moved < abs(eye.mostly_clear_at_min.mid - before)
