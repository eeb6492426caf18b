import numpy as np
import pytest
from scenes import Scene, render, saved

from dyewright.errors import InputError
from dyewright.photo.chart import find_charts, sample_chart
from dyewright.photo.load import load_photo

# 24 patches of which each is its own grey-to-colour step, so that a wrong place is seen; invented.
PATCHES = np.stack([np.linspace(5, 35, 24), np.linspace(40, 8, 24), np.linspace(10, 40, 24)[::-1]], axis=1)
SLANTED = ((180, 120), (820, 60), (900, 520), (120, 470))


def photo_of(patches=PATCHES, corners=SLANTED, **scene):
    return load_photo(saved(render(Scene(chart_xyz=patches, chart_corners=corners, **scene)), "PNG"))


def seen(photo):
    """The patches' own light: their middles, looked up by hand through the scene's corners of an upright chart."""
    return sample_chart(photo, SLANTED).rgb


@pytest.mark.parametrize("error_px", [0, 7])  # 1 % of the chart's width
def test_each_patch_is_read_at_its_place(error_px):
    upright = ((100, 100), (700, 100), (700, 500), (100, 500))
    photo = photo_of(corners=upright, noise=0.0)
    moved = np.array(upright) + error_px * np.array([(1, -1), (-1, 1), (1, 1), (-1, -1)])

    sample = sample_chart(photo, moved)

    for number in range(24):  # patch centres of a 600 × 400 grid: 100 + 100·column + 50, worked by hand
        row, column = divmod(number, 6)
        pixel = photo.linear[100 + 100 * row + 50, 100 + 100 * column + 50]
        assert sample.rgb[number] == pytest.approx(pixel, abs=1e-6)


def test_perspective_is_taken_out():
    upright = sample_chart(photo_of(corners=((100, 100), (700, 100), (700, 500), (100, 500))), _corners(600, 400))

    slanted = sample_chart(photo_of(), SLANTED)

    assert slanted.rgb == pytest.approx(upright.rgb, abs=0.006)  # noise 0.002·sqrt(light) and 8-bit steps


def _corners(width, height):
    return ((100, 100), (100 + width, 100), (100 + width, 100 + height), (100, 100 + height))


def test_corners_of_the_board_serve_as_well():
    frame = 25 / 600 * 600  # the scene's frame is a quarter of a patch wide: 25 px of patches of 100 px
    photo = photo_of(corners=_corners(600, 400))
    board = (
        (100 - frame, 100 - frame),
        (700 + frame, 100 - frame),
        (700 + frame, 500 + frame),
        (100 - frame, 500 + frame),
    )

    assert sample_chart(photo, board).rgb == pytest.approx(sample_chart(photo, _corners(600, 400)).rgb, abs=0.006)


def test_a_patch_with_glare_and_one_with_a_shadow_edge_are_told():
    codes = render(Scene(chart_xyz=PATCHES, chart_corners=_corners(600, 400)))
    codes[125:175, 125:175] = 255
    codes[125:175, 425:450] //= 3

    sample = sample_chart(load_photo(saved(codes, "PNG")), _corners(600, 400))

    assert sample.clipped_frac[0] > 0.9
    assert sample.clipped_frac[1:].max() == 0
    assert sample.spread_frac[3] > 0.25
    assert np.delete(sample.spread_frac, [0, 3]).max() < 0.1


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (((180, 120), (820, 60), (1300, 520), (120, 470)), "lies outside the photo of 1200 × 900"),
        (((-5, 120), (820, 60), (900, 520), (120, 470)), "lies outside"),
        (((820, 60), (180, 120), (120, 470), (900, 520)), "anticlockwise"),
        (((180, 120), (900, 520), (820, 60), (120, 470)), "cross"),
        (((100, 100), (130, 100), (130, 120), (100, 120)), r"patch of the chart is 5\.0 pixels"),
        (((100, 100), (130, 100), (130, 120)), "four corners"),
        (((100, 100), (float("nan"), 100), (130, 120), (100, 120)), "four corners"),
    ],
)
def test_corners_that_cannot_be_right_are_refused(corners, said):
    with pytest.raises(InputError, match=said) as caught:
        sample_chart(photo_of(), corners)

    assert caught.value.field == "chart"


def test_no_chart_is_found_where_there_is_none():
    photo = load_photo(saved(render(Scene(skeins=[((200, 200, 300, 500), (45, -20, -10))])), "PNG"))

    assert find_charts(photo) == ()
