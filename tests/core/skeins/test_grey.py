import numpy as np
import pytest
from cameras import camera, dyed_wool, lamp, patches_190, phone, samples_cie_224, true_lab, usual_wool

from dyewright.core.skeins import GREY_CARD, WHITE_PAPER, grey_calibration

WHITE = np.array([94.811, 100.0, 107.304])  # ASTM E308-01, table 5: D65, 10°


@pytest.mark.parametrize("surface", [GREY_CARD, WHITE_PAPER])
def test_the_surface_itself_comes_out_as_what_it_is(surface):
    rgb = np.array([0.31, 0.24, 0.17])

    calibration = grey_calibration(rgb, surface, WHITE, is_linear=False)

    assert calibration.lab(rgb) == pytest.approx(np.array(surface.lab), abs=1e-6)  # by definition


def test_a_grey_of_half_the_light_is_neutral_and_darker_as_cielab_says():
    rgb = np.array([0.31, 0.24, 0.17])

    lab = grey_calibration(rgb, GREY_CARD, WHITE, is_linear=True).lab(rgb / 2)

    # by hand: the card of L* 49.5 has Y = ((49.5 + 16) / 116)^3 = 18.003 %; half of it is L* = 116 * 0.09^(1/3) - 16
    assert lab == pytest.approx([116 * 0.090017 ** (1 / 3) - 16, 0, 0], abs=0.01)


@pytest.mark.parametrize(("surface", "reflectance"), [(GREY_CARD, 0.18), (WHITE_PAPER, 0.86)])
@pytest.mark.parametrize("is_raw", [True, False])
def test_the_interval_holds_what_a_card_can_tell(surface, reflectance, is_raw):
    colours = np.concatenate([dyed_wool(200, 21), usual_wool(200, 22), patches_190(), samples_cie_224()])
    held = []
    for seed, light in enumerate(["D65", "D50", "LED-B3", "FL2", "FL11", "A"]):
        render = phone(camera("Nikon 5100 (NPL)"), lamp(light), seed=seed, is_raw=is_raw, curve=0.2 + 0.15 * seed)
        card = render(np.full((1, 31), reflectance))[0]
        calibration = grey_calibration(card, surface, WHITE, is_linear=is_raw)
        read = calibration.lab(render(colours))
        held.append(np.abs(read - true_lab(colours)) <= 1.96 * calibration.colour_sd_lab(read))

    # The widths were set so that 95 of 100 are held over nine sensors, the lamps together; a single lamp may be worse.
    assert np.mean(held) >= 0.94
    assert np.mean(held) <= 0.998  # not wide beyond need
    assert min(np.mean(one) for one in held) >= 0.88
