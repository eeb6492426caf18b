import numpy as np
import pytest

from dyewright.core.skeins import outside_camera, outside_words

# Display P3 to sRGB in linear light, from memory, to 4 digits: any wider space would serve here.
P3_TO_SRGB = np.array([[1.2249, -0.2249, 0.0], [-0.0420, 1.0419, 0.0], [-0.0197, -0.0786, 1.0979]])


def test_a_channel_at_its_floor_is_outside_and_a_dark_pixel_is_not():
    pixels = [[0.6, 0.0, 0.05], [0.6, 0.1, 0.05], [0.01, 0.0, 0.0], [0.0, 0.0, 0.0], [0.3, 0.2, 0.0003]]

    # By hand: codes 0 and 1 of 255 are up to 0.0003 (IEC 61966-2-1); of three lit pixels two have such a channel.
    assert outside_camera(pixels) == pytest.approx(2 / 3)


def test_a_colour_that_a_wider_file_holds_is_inside_it():
    held = np.array([[0.05, 0.5, 0.05]]) @ P3_TO_SRGB.T  # by construction: every channel of the file is above 0

    assert held[0].min() < 0
    assert outside_camera(held) == 1.0
    assert outside_camera(held, from_file=P3_TO_SRGB) == 0.0


def test_a_skein_in_the_dark_says_nothing_and_few_pixels_are_noise():
    assert outside_camera(np.zeros((10, 3))) == 0.0
    assert outside_words(0.05) == ""
    assert "In 40% of its pixels the colour is too vivid" in outside_words(0.4)
