import io

import numpy as np
import pytest
from PIL import Image
from scenes import Scene, jpeg, render, saved

from dyewright.photo.draw import drawn, first_overlay, without_outlines
from dyewright.photo.load import load_photo

SKEINS = [((90, 60, 300, 330), (45, -18, -12)), ((600, 80, 300, 330), (60, 20, 10))]
BOX = ((100.0, 80.0), (380.0, 80.0), (380.0, 380.0), (100.0, 380.0))


def opened(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), int)


def test_a_picture_shows_the_colours_that_were_stored():
    codes = render(Scene(skeins=SKEINS))

    shown = opened(drawn(load_photo(saved(codes, "PNG")), []))

    assert shown.shape == codes.shape
    assert np.abs(shown - codes).max() <= 1  # there and back through linear light; IEC 61966-2-1 both ways


def test_outlines_are_black_and_white_and_numbered():
    photo = load_photo(saved(render(Scene(skeins=SKEINS)), "PNG"))

    changed = np.any(opened(drawn(photo, [("1", BOX)])) != opened(drawn(photo, [])), axis=-1)
    shown = opened(drawn(photo, [("1", BOX)]))[changed]

    assert np.abs(shown - shown.mean(axis=1, keepdims=True)).max() < 1  # no colour but the dye's
    assert changed[80, 240]
    assert changed[230, 100]
    assert not changed[200:300, 200:300].any()


def test_what_was_not_read_is_veiled_and_hatched_and_nothing_else():
    photo = load_photo(saved(render(Scene(skeins=SKEINS)), "PNG"))
    left_out = np.zeros((450, 600), bool)  # of the whole picture, at half its size
    left_out[50:100, 60:120] = True

    plain, shown = opened(drawn(photo, [])), opened(drawn(photo, [], left_out=left_out))
    changed = np.any(plain != shown, axis=-1)

    assert changed[100:200, 120:240].mean() > 0.95
    changed[100:200, 120:240] = False
    assert not changed.any()
    part = shown[100:200, 120:240].reshape(-1, 3)
    assert {(255, 255, 255), (20, 20, 20)} <= {tuple(pixel) for pixel in part.tolist()}


def test_the_first_overlay_numbers_what_looks_like_skeins():
    data = jpeg(render(Scene(skeins=SKEINS)))

    shown, plain = opened(first_overlay(data)), opened(without_outlines(load_photo(data)))

    changed = np.abs(shown - plain).max(axis=-1) > 60
    for (x, y, wide, high), _ in SKEINS:
        assert changed[y - 12 : y + 12, x + 40 : x + wide - 40].any(axis=0).mean() > 0.9  # a line along its top
        assert not changed[y + 60 : y + high - 60, x + 60 : x + wide - 60].any()


@pytest.mark.parametrize("orientation", [1, 8])
def test_a_page_gets_at_most_1600_pixels_a_side_upright(orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = io.BytesIO()
    Image.new("RGB", (3000, 2000), (90, 90, 90)).save(file, "JPEG", exif=exif)

    size = Image.open(io.BytesIO(without_outlines(load_photo(file.getvalue())))).size

    assert size == ((1600, 1067) if orientation == 1 else (1067, 1600))
