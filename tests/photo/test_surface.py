import io

import numpy as np
import pytest
from PIL import Image

from dyewright.errors import InputError
from dyewright.photo.load import load_photo
from dyewright.photo.surface import sample_ground, sample_surface

CARD = ((100, 60), (220, 60), (220, 160), (100, 160))


def loaded(codes):
    file = io.BytesIO()
    Image.fromarray(np.uint8(codes)).save(file, format="PNG")
    return load_photo(file.getvalue())


def drawn(ground=220, card=120):
    codes = np.full((240, 320, 3), ground, np.uint8)
    codes[60:160, 100:220] = card
    return codes


@pytest.mark.parametrize("corners", [CARD, CARD[::-1], CARD[2:] + CARD[:2]])
def test_a_card_is_read_between_its_corners_in_any_order_round_it(corners):
    sample = sample_surface(loaded(drawn()), corners)

    # sRGB, by hand: ((120/255 + 0.055) / 1.055)^2.4 = 0.1878
    assert sample.rgb == pytest.approx([0.1878] * 3, abs=1e-3)
    assert sample.clipped_frac == 0
    assert sample.spread_frac == pytest.approx(0, abs=1e-6)


def test_a_shadow_across_a_card_shows_in_its_spread_and_glare_in_its_clipped_part():
    codes = drawn()
    codes[60:160, 160:220] = 70
    codes[60:90, 100:160] = 255

    sample = sample_surface(loaded(codes), CARD)

    assert sample.spread_frac > 0.3
    assert sample.clipped_frac > 0.05


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (((100, 60), (220, 160), (220, 60), (100, 160)), "cross"),
        (((100, 60), (420, 60), (420, 160), (100, 160)), "lies outside the photo of 320 × 240 pixels"),
        (((100, 60), (104, 60), (104, 160), (100, 160)), "a side of the card or paper is 4 pixels"),
        (((100, 60), (220, 60), (220, 160)), "needs four corners"),
    ],
)
def test_wrong_corners_are_refused_with_a_way_out(corners, said):
    with pytest.raises(InputError, match=said):
        sample_surface(loaded(drawn()), corners)


def test_the_ground_is_what_the_edge_shows_wherever_it_lies_open():
    sample = sample_ground(loaded(drawn()))

    assert sample.corners is None
    assert sample.rgb == pytest.approx([0.7157] * 3, abs=2e-3)  # by hand: ((220/255 + 0.055) / 1.055)^2.4


def test_a_photo_of_many_colours_has_no_ground():
    random = np.random.default_rng(1)
    codes = np.repeat(np.repeat(random.integers(0, 256, (24, 32, 3)), 10, axis=0), 10, axis=1)

    with pytest.raises(InputError, match="of one plain ground"):
        sample_ground(loaded(codes))
