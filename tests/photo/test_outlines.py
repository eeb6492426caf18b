import cv2
import numpy as np
import pytest
from scenes import Scene, render, saved
from yarn_scenes import GROUNDS, Dyeing, Form, Truth, make

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


def test_ground_that_a_shadow_leaves_out_is_no_skein():
    """Under a wide shadow the lit rest stands out from the ground, between the chart and the shadow's edge."""
    scene = make(5, truth=Truth(number=4, form=Form.CAKE), conditions={"ground": "grey board", "dusk_frac": 0.25})

    assert len(find_shapes(load_photo(scene.jpeg), scene.chart_corners)) == 4


def test_a_patterned_ground_gives_no_guess():
    random = np.random.default_rng(2)
    codes = np.kron(random.integers(0, 255, (18, 24, 3), np.uint8), np.ones((50, 50, 1), np.uint8))

    assert find_shapes(load_photo(saved(codes, "PNG"))) == ()


def filled(outline, scene_size):
    mask = np.zeros(scene_size, np.uint8)
    return cv2.fillPoly(mask, [np.array(outline).round().astype(np.int32)], 1) > 0


def compared(scene):
    """Return for each true outline its best overlap with a found one (intersection over union), and the found ones."""
    photo = load_photo(scene.jpeg)
    size = photo.height_px, photo.width_px
    found = find_shapes(photo, scene.chart_corners)
    masks = [filled(shape.outline, size) for shape in found]
    true = [filled(outline, size) for outline in scene.outlines]
    return [max(((a & b).sum() / (a | b).sum() for b in masks), default=0.0) for a in true], found


# Truth: the outlines the renderer drew from, which shares no code with this. 0.7 leaves room for a twisted skein's
# waist and the fluff round loose fibre; a box round a cake overlaps it by π/4 = 0.785 at best, and tops no hank.
@pytest.mark.parametrize(
    ("ground", "form", "number"),
    [
        ("white paper", Form.TWISTED, 4),
        ("white paper", Form.LOOSE, 6),
        ("grey board", Form.CAKE, 5),
        ("wood", Form.HANK, 6),
        ("wood", Form.SWATCH, 3),
        ("cloth", Form.TWISTED, 4),
    ],
)
def test_skeins_are_outlined_as_they_lie_on_any_ground(ground, form, number):
    conditions = {"ground": ground, "has_labels": False}
    truth = Truth(number=number, form=form)
    scene = make(4000 + 10 * list(GROUNDS).index(ground) + number, truth=truth, conditions=conditions, megapixels=1.5)

    overlaps, found = compared(scene)

    assert min(overlaps) > 0.7
    assert len(found) == number


def test_undyed_yarn_is_found_on_white_paper():
    undyed = Dyeing((450, 550, 620), (60, 60, 60), (1e-4, 1e-4, 1e-4), cream=0.1)
    truth = Truth(number=4, form=Form.HANK, off_de00=(0,) * 4, dyeing=undyed)

    overlaps, found = compared(make(4100, truth=truth, conditions={"ground": "white paper"}, megapixels=1.5))

    assert min(overlaps) > 0.8
    assert len(found) == 4


def test_twenty_skeins_are_found():
    overlaps, found = compared(make(4200, truth=Truth(number=20, form=Form.CAKE), megapixels=1.5))

    assert min(overlaps) > 0.7
    assert len(found) == 20


def table(rows=900, columns=1200, light=0.75):
    return np.full((rows, columns, 3), light)


def lay_yarn(picture, corners, colour, strand_px=9):
    """Lay a polygon of yarn, shaded in strands, on a picture of linear light."""
    mask = cv2.fillPoly(np.zeros(picture.shape[:2], np.uint8), [np.array(corners, np.int32)], 1) > 0
    y = np.arange(picture.shape[0])[:, None]
    shade = 1 + 0.25 * np.sin(2 * np.pi * y / strand_px) * np.ones(picture.shape[1])
    picture[mask] = (np.array(colour) * shade[..., None])[mask]


def shapes_on(picture):
    noisy = picture + np.random.default_rng(7).normal(0, 0.003, picture.shape)
    codes = np.uint8(255 * np.clip(noisy, 0, 1) ** (1 / 2.2) + 0.5)
    return find_shapes(load_photo(saved(codes, "PNG")))


def box(left, top, right, bottom):
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


TEAL_LIGHT, CREAM_LIGHT, BLACK_LIGHT = (0.05, 0.2, 0.3), (0.6, 0.58, 0.5), (0.02, 0.02, 0.02)


def test_cast_shadows_are_no_part_of_skeins():
    picture = table()
    for n in range(3):
        shade = np.zeros(picture.shape[:2], np.float32)
        cv2.fillPoly(shade, [np.array(box(140 + 350 * n, 230, 340 + 350 * n, 730), np.int32)], 0.5)
        picture *= 1 - cv2.GaussianBlur(shade, (0, 0), 4)[..., None]
    for n, colour in enumerate((TEAL_LIGHT, CREAM_LIGHT, BLACK_LIGHT)):
        lay_yarn(picture, box(100 + 350 * n, 200, 300 + 350 * n, 700), colour)

    found = [shape.sides for shape in shapes_on(picture)]

    laid = np.array([(100 + 350 * n, 200, 300 + 350 * n, 700) for n in range(3)])
    assert np.array(found) == pytest.approx(laid, abs=9)


def test_a_shadow_alone_is_no_skein():
    picture = table()
    picture[300:600, 300:700] *= 0.5

    assert shapes_on(picture) == ()


def test_a_thumb_at_the_edge_is_no_skein_and_a_cut_off_skein_is_one():
    picture = table()
    cv2.ellipse(picture, (1190, 700), (120, 70), 0, 0, 360, (0.6, 0.35, 0.25), cv2.FILLED)
    lay_yarn(picture, box(0, 200, 200, 700), TEAL_LIGHT)
    lay_yarn(picture, box(500, 200, 700, 700), TEAL_LIGHT)

    assert len(shapes_on(picture)) == 2


def test_an_open_hank_is_outlined_round_its_hole():
    picture = table()
    circle = np.linspace(0, 2 * np.pi, 60)
    ring = [(600 + r * np.cos(t), 450 + r * np.sin(t)) for r, way in ((350, 1), (240, -1)) for t in way * circle]
    lay_yarn(picture, ring, TEAL_LIGHT)

    [shape] = shapes_on(picture)

    inside = filled(shape.outline, (900, 1200))
    assert not inside[400:500, 500:700].any()
    assert inside.sum() == pytest.approx(np.pi * (350**2 - 240**2), rel=0.08)  # the ring's area; a pixel off the rim
    assert len(shape.outline) <= 60


@pytest.mark.parametrize("gap_px", [0, 6])
def test_two_cakes_that_meet_are_two(gap_px):
    picture = table()
    turn = np.linspace(0, 2 * np.pi, 80)
    for x in (400, 700 + gap_px):
        lay_yarn(picture, [(x + 150 * np.cos(t), 450 + 150 * np.sin(t)) for t in turn], TEAL_LIGHT)

    assert len(shapes_on(picture)) == 2


def test_a_white_tie_does_not_cut_a_skein_in_two():
    picture = table()
    lay_yarn(picture, box(300, 350, 900, 550), TEAL_LIGHT)
    picture[345:555, 600:608] = 0.74

    [shape] = shapes_on(picture)

    assert shape.sides == pytest.approx((300, 350, 900, 550), abs=9)


def test_dark_ground_gives_no_skeins_out_of_noise():
    picture = table(light=0.02)
    lay_yarn(picture, box(400, 250, 650, 700), (0.4, 0.25, 0.1))

    assert len(shapes_on(picture)) == 1


def test_a_chart_that_fills_the_photo_leaves_no_ground_and_no_skein():
    photo = load_photo(saved(np.full((300, 400, 3), 120, np.uint8), "PNG"))

    assert find_shapes(photo, np.array([(0, 0), (400, 0), (400, 300), (0, 300)], float)) == ()
