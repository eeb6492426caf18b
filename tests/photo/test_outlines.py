import numpy as np
import pytest
from scenes import Scene, render, saved

from dyewright.photo.load import load_photo
from dyewright.photo.outlines import find_shapes

TEAL, PALE = (45, -18, -12), (78, -8, 10)


def boxes_of(**scene):
    boxes = find_shapes(load_photo(saved(render(Scene(**scene)), "PNG")))
    return [(left, top, right - left, bottom - top) for left, top, right, bottom in (box.sides for box in boxes)]


@pytest.mark.parametrize(("strand_px", "gradient"), [(0, (0, 0)), (9, (0, 0)), (9, (0.2, 0.1))])
def test_skeins_are_found_row_by_row(strand_px, gradient):
    drawn = [(90, 60, 200, 330), (420, 80, 200, 330), (760, 60, 250, 330), (120, 480, 220, 340), (600, 500, 240, 340)]
    scene = Scene(skeins=[(box, TEAL) for box in drawn], strand_px=strand_px, gradient=gradient)

    found = boxes_of(**vars(scene))

    # a pixel of the working copy is 3 px of the scene, and an opening of 7 of them shaves nothing off a rectangle
    assert np.array(found) == pytest.approx(np.array(drawn), abs=7)


def test_pale_skeins_stand_out_from_white():
    assert len(boxes_of(skeins=[((200, 200, 300, 400), PALE)])) == 1


@pytest.mark.parametrize("width", [1000, 1200])
def test_an_undyed_skein_is_found_beside_dark_ones(width):
    drawn = [(90, 200, 200, 500), (420, 200, 200, 500), (740, 200, 180, 500)]
    labs = [(87, 0, 11), (30, -10, -20), TEAL]
    found = boxes_of(width=width, skeins=list(zip(drawn, labs, strict=True)), strand_px=9, noise=0.006)
    assert np.array(found) == pytest.approx(np.array(drawn), abs=10)


def test_an_empty_board_has_no_skein():
    assert boxes_of(gradient=(0.1, 0.1)) == []


def test_a_patterned_ground_gives_no_guess():
    random = np.random.default_rng(2)
    codes = np.kron(random.integers(0, 255, (18, 24, 3), np.uint8), np.ones((50, 50, 1), np.uint8))

    assert find_shapes(load_photo(saved(codes, "PNG"))) == ()
