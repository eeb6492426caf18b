import io

import numpy as np
import pytest
from PIL import Image, ImageOps
from scenes import Scene, jpeg, render, saved

from dyewright.core.colour import delta_e00
from dyewright.core.model import Shape
from dyewright.errors import InputError
from dyewright.services.judging._chart import reference_of
from dyewright.services.judging.verdict import box_from_text, chart_from_text, judge, overlay

TEAL = np.array([45.0, -18.0, -12.0])
PLACES = [(80 + 180 * i, 330, 140, 480) for i in range(6)]
BOXES = [Shape.box(*place) for place in PLACES]
# The same, the same, and 1 of L*, 2 of a*, a clearly paler one, and the same again.
OFFSETS = np.array([(0, 0, 0), (0, 0, 0), (1, 0, 0), (0, 2, 0), (3, 2, 4), (0, 0, 0)])
TRUTH = TEAL + OFFSETS
CORNERS = Scene().chart_corners


def scene(labs=TRUTH, **options):
    chart = reference_of(None, is_older_chart=False).xyz
    skeins = [(place, tuple(lab)) for place, lab in zip(PLACES, labs, strict=False)]
    return Scene(**({"skeins": skeins, "chart_xyz": chart, "strand_px": 9, "noise": 0.006} | options))


def photo(**options):
    return jpeg(render(scene(**options)))


def differences(result):
    return np.array([pair.de00 for pair in result.pairs])


TRUE_DIFFERENCES = np.array([float(delta_e00(TRUTH[i], TRUTH[j])) for i in range(6) for j in range(i + 1, 6)])


@pytest.mark.parametrize(
    "camera",
    [
        {},
        {"gamma": 1.2},
        {"gamma": 0.85, "exposure": 0.5},
        {"gradient": (0.15, 0.05)},
        {"gradient": (-0.1, 0.1), "gamma": 1.15, "strand_px": 0},
    ],
)
def test_colours_and_differences_come_back_through_any_camera(camera):
    result = judge([photo(**camera)], chart=CORNERS, boxes=BOXES)

    labs = np.array([skein.lab for skein in result.skeins])
    # truth is what was drawn; the lit strands of the drawing are 0.3 of L* darker, JPEG and 8 bit add about 0.5; the
    # tone curve through six greys in 8 bits errs by 3 % of the fall of light in each channel: 0.2 at 26 %
    assert np.all(delta_e00(labs, TRUTH) < 1.5)
    assert np.all(np.abs(differences(result) - TRUE_DIFFERENCES) < 0.9)  # flat areas in JPEG: chroma in steps of 1/255
    inside = [p.low <= true <= p.high for p, true in zip(result.pairs, TRUE_DIFFERENCES, strict=True)]
    assert np.mean(inside) >= 0.8
    for skein, truth in zip(result.skeins, TRUTH, strict=True):
        assert np.all(np.array(skein.lab_low) <= truth)
        assert np.all(truth <= np.array(skein.lab_high))


def test_the_verdict_keeps_the_equal_ones_and_parts_the_other():
    result = judge([photo(gradient=(0.1, 0.05))], chart="auto", boxes=BOXES, target=tuple(TEAL))

    assert result.chart.found
    assert np.array(result.chart.corners) == pytest.approx(np.array(CORNERS), abs=8)
    together = next(group for group in result.sets if 1 in group)
    assert {1, 2, 6} <= set(together)
    assert (5,) in result.sets
    assert "skein 5 is a lot of its own" in result.verdict
    assert result.basis == "measured"
    assert result.skeins[4].to_target.de00 > result.skeins[0].to_target.de00
    assert result.light_uneven_frac == pytest.approx(np.exp(0.1 * 900 / 600) - 1, abs=0.02)  # 900 px apart, by hand


def test_no_skein_of_one_colour_is_said_to_differ():
    false = 0
    for seed in range(12):
        result = judge([photo(labs=[TEAL] * 6, seed=seed, gradient=(0.1, -0.05))], chart=CORNERS, boxes=BOXES)
        false += any(pair.low > result.tolerance for pair in result.pairs)
        assert len(result.sets) == 1

    assert false == 0


def test_the_hard_edge_of_a_shadow_across_the_table_makes_no_skein_differ():
    codes = render(scene(labs=[TEAL] * 6))
    codes[:, 600:] = codes[:, 600:] * 0.7 ** (1 / 2.4)  # three skeins get 70 % of the light of the others and the chart

    result = judge([jpeg(codes)], chart=CORNERS, boxes=BOXES)

    assert all(pair.low == 0 for pair in result.pairs)
    assert len(result.sets) == 1


def test_a_skein_in_a_shadow_of_its_own_is_told_and_does_not_differ():
    codes = render(scene(labs=[TEAL] * 6, gradient=(0.1, 0.0)))
    codes[250:, :240] = codes[250:, :240] * 0.7 ** (1 / 2.4)  # 70 % of the light on the first skein and its ground

    result = judge([jpeg(codes)], chart=CORNERS, boxes=BOXES)

    assert "darker than the fall of light" in result.skeins[0].warnings[0]
    assert not any("shadow" in words for skein in result.skeins[2:] for words in skein.warnings)
    assert all(pair.low == 0 for pair in result.pairs)


def test_a_heavily_compressed_photo_makes_no_skein_differ():
    lows = []
    for seed in range(3):
        codes = render(scene(labs=[TEAL] * 6, seed=seed, gradient=(0.12, -0.05)))
        result = judge([saved(codes, "JPEG", quality=75, subsampling=2)], chart=CORNERS, boxes=BOXES)
        lows += [pair.low for pair in result.pairs]

    # chroma is stored in steps of 1.1 a block, strands or not: equal skeins come out 0.6 ΔE00 apart
    assert max(lows) == 0


def test_light_that_nothing_shows_moves_chroma_with_lightness():
    magenta = np.array([42.0, 48.0, -14.0])
    # the board is overexposed, so that it does not show the light, which falls by 21 % from one skein to the last
    codes = render(scene(labs=[magenta] * 6, board=1.4, gradient=(0.13, 0.0)))

    result = judge([jpeg(codes)], chart=CORNERS, boxes=BOXES)

    assert result.light_uneven_frac is None
    assert any("No plain ground" in note for note in result.notes)
    assert max(pair.de00 for pair in result.pairs) > 2
    assert all(pair.low == 0 for pair in result.pairs)


def test_without_a_chart_differences_remain_and_the_colours_are_relative():
    result = judge([photo(chart_xyz=None)], chart="none", boxes=BOXES, target=tuple(TEAL))

    assert result.basis == "relative"
    assert not result.chart.found
    assert all(skein.lab_low is None and skein.to_target is None for skein in result.skeins)
    inside = [p.low <= true <= p.high for p, true in zip(result.pairs, TRUE_DIFFERENCES, strict=True)]
    assert np.mean(inside) >= 0.8
    assert any("relative" in note for note in result.notes)
    assert any("target" in note for note in result.notes)


def test_a_chart_looked_for_and_not_found_is_said():
    result = judge([photo(chart_xyz=None)], boxes=BOXES)

    assert not result.chart.found
    assert "No chart was found" in result.chart.warnings[0]


def test_skeins_on_a_plain_ground_need_no_boxes():
    result = judge([photo()], chart=CORNERS)

    found = np.array([Shape(skein.outline).sides for skein in result.skeins])
    drawn = np.array([(x, y, x + w, y + h) for x, y, w, h in PLACES])
    assert found == pytest.approx(drawn, abs=12)  # outlines run a little inside the edge


def test_a_covered_patch_is_left_out_and_named():
    codes = render(scene())
    codes[100:160, 120:180] = (230, 60, 160)  # the second patch of the second row

    result = judge([saved(codes, "PNG")], chart=CORNERS, boxes=BOXES)

    assert any("purplish blue" in warning for warning in result.chart.warnings)
    assert delta_e00(np.array(result.skeins[0].lab), TEAL) < 1.3


def test_four_stained_patches_are_found_together():
    codes = render(scene())
    stains = {(60, 40): (40, 200, 90), (240, 40): (220, 210, 60), (180, 100): (30, 60, 160), (300, 160): (90, 90, 40)}
    for (x, y), stain in stains.items():
        codes[y : y + 60, x : x + 60] = stain

    result = judge([saved(codes, "PNG")], chart=CORNERS, boxes=BOXES)

    warning = " ".join(result.chart.warnings)
    for name in ("dark skin", "foliage", "moderate red", "magenta"):  # by the grid of 60 px, row by row
        assert name in warning
    assert result.chart.left_out_de00_median < 1.0
    assert delta_e00(np.array(result.skeins[0].lab), TEAL) < 1.3


@pytest.mark.parametrize(("columns", "count"), [(3, 6), (4, 8)])
def test_every_patch_under_one_tag_is_named_and_the_rest_still_reads(columns, count):
    codes = render(scene())
    codes[40:160, 60 : 60 + 60 * columns] = (40, 200, 90)

    result = judge([saved(codes, "PNG")], chart=CORNERS, boxes=BOXES)

    unused = [patch.name for patch in result.chart.patches if patch.why_unused]
    rows = (np.arange(24).reshape(4, 6)[:2, :columns]).ravel()  # by the grid of 60 px
    assert unused == [result.chart.patches[i].name for i in rows]
    assert len(unused) == count
    assert all(name in " ".join(result.chart.warnings) for name in unused)
    assert delta_e00(np.array(result.skeins[0].lab), TEAL) < 1.5


def test_a_chart_mostly_covered_by_one_thing_is_refused():
    codes = render(scene())
    codes[40:160, 60:420] = (40, 200, 90)  # twelve patches

    with pytest.raises(InputError, match="does not read as one"):
        judge([saved(codes, "PNG")], chart=CORNERS, boxes=BOXES)


def test_an_overexposed_patch_is_left_out_and_named():
    codes = render(scene(exposure=1.25))

    result = judge([saved(codes, "PNG")], chart=CORNERS, boxes=BOXES)

    assert any("overexposed" in warning and "white" in warning for warning in result.chart.warnings)
    assert delta_e00(np.array(result.skeins[0].lab), TEAL) < 1.5


def test_a_mirrored_or_turned_chart_is_refused():
    codes = render(scene())
    mirrored = np.asarray(ImageOps.mirror(Image.fromarray(codes)))
    a, b, c, d = ((1200 - x, y) for x, y in CORNERS)

    with pytest.raises(InputError, match="mirrored"):
        judge([saved(mirrored, "PNG")], chart=(b, a, d, c), boxes=[Shape.box(20, 500, 60, 60)])
    with pytest.raises(InputError, match="wrong end"):
        judge([saved(codes, "PNG")], chart=CORNERS[2:] + CORNERS[:2], boxes=BOXES)
    with pytest.raises(InputError, match="does not r"):
        judge([saved(codes, "PNG")], chart=((600, 400), (900, 400), (900, 600), (600, 600)), boxes=BOXES)


def test_corners_that_begin_a_quarter_turn_off_are_refused_with_where_to_begin():
    turned = CORNERS[1:] + CORNERS[:1]

    with pytest.raises(InputError, match="clockwise from the dark-skin patch"):
        judge([photo()], chart=turned, boxes=BOXES)


def test_two_photos_are_joined_through_the_chart():
    other = photo(gamma=1.15, exposure=0.6, seed=7)
    boxes = [
        *BOXES[:2],
        *(Shape(box.outline, photo=2) for box in (BOXES[0], BOXES[4])),
    ]

    result = judge([photo(), other], boxes=boxes)

    pairs = {(pair.a, pair.b): pair for pair in result.pairs}
    assert [skein.photo for skein in result.skeins] == [1, 1, 2, 2]
    assert pairs[1, 3].low <= 0.3  # the same skein, photographed twice
    assert pairs[1, 4].low <= float(delta_e00(TRUTH[0], TRUTH[4])) <= pairs[1, 4].high
    # through this chart, drawn to its own reference in even light, joining costs next to nothing; it never gains
    assert pairs[1, 3].high - pairs[1, 3].de00 > 0.95 * (pairs[1, 2].high - pairs[1, 2].de00)
    assert len(result.charts) == 2


def test_two_photos_without_a_chart_cannot_be_joined():
    with pytest.raises(InputError, match="photo 1 shows no chart"):
        judge([photo(chart_xyz=None), photo(chart_xyz=None)], chart="none", boxes=BOXES)


def test_the_older_chart_is_another_reference():
    older = reference_of(None, is_older_chart=True).xyz
    picture = photo(chart_xyz=older)

    right = judge([picture], chart=CORNERS, boxes=BOXES, is_older_chart=True)
    wrong = judge([picture], chart=CORNERS, boxes=BOXES)

    assert right.chart.left_out_de00_median < wrong.chart.left_out_de00_median


def test_own_chart_values_are_used(tmp_path):
    from dyewright.data.colour import load_chart

    values = tmp_path / "mine.csv"
    lines = [",".join(f"{value}" for value in patch.lab_before_2014) for patch in load_chart()]
    values.write_text("L,a,b\n" + "\n".join(lines), encoding="utf-8")
    picture = photo(chart_xyz=reference_of(None, is_older_chart=True).xyz)

    own = judge([picture], chart=CORNERS, boxes=BOXES, chart_values=values)
    older = judge([picture], chart=CORNERS, boxes=BOXES, is_older_chart=True)

    assert own.skeins == older.skeins
    assert any("mine.csv" in note for note in own.notes)


def test_the_overlay_is_the_photo_with_outlines_in_black_and_white():
    picture = photo()
    result = judge([picture], chart=CORNERS, boxes=BOXES)

    with Image.open(io.BytesIO(overlay(picture, result))) as image:
        codes = np.asarray(image.convert("RGB"))
        assert (image.format, image.size) == ("PNG", (1200, 900))
    x, y, _, h = PLACES[0]
    column = codes[y + h // 2, x - 6 : x + 7]
    assert {(255, 255, 255), (20, 20, 20)} <= {tuple(pixel) for pixel in column.tolist()}


@pytest.mark.parametrize(
    ("boxes", "said"),
    [
        ([Shape.box(1100, 300, 200, 200)], "reaches beyond the photo of 1200 × 900"),
        ([Shape.box(-4, 300, 200, 200)], "reaches beyond"),
        ([Shape.box(100, 400, 8, 8)], "draw it larger"),
        ([Shape.box(100, 400, 90, 90, photo=2)], "a box is on photo 2, but 1 are given"),
    ],
)
def test_boxes_that_hold_no_skein_are_refused(boxes, said):
    with pytest.raises(InputError, match=said) as caught:
        judge([photo()], chart="none", boxes=boxes)

    assert caught.value.field == "box"


@pytest.mark.parametrize("tolerance", [0, -1, float("nan"), float("inf")])
def test_a_tolerance_must_be_above_nothing(tolerance):
    with pytest.raises(InputError, match="the tolerance is"):
        judge([photo()], boxes=BOXES, tolerance=tolerance)


def test_an_empty_board_without_chart_says_what_to_do():
    with pytest.raises(InputError, match="no skein stands out"):
        judge([photo(labs=[], chart_xyz=None)])


def test_texts():
    assert box_from_text(" 1,2.5,30,40") == Shape.box(1, 2.5, 30, 40)
    assert box_from_text("2:1,2,30,40") == Shape.box(1, 2, 30, 40, photo=2)
    assert chart_from_text("Auto") == "auto"
    assert chart_from_text("1,2 3,4 5,6 7,8") == ((1, 2), (3, 4), (5, 6), (7, 8))


@pytest.mark.parametrize("text", ["", "1,2,3", "a,b,c,d", "1,2,0,4", "1,2,-3,4", "1,2,nan,4", "0:1,2,3,4", "x:1,2,3,4"])
def test_a_box_that_is_none(text):
    with pytest.raises(InputError, match="the box"):
        box_from_text(text)


@pytest.mark.parametrize("text", ["", "yes", "1,2 3,4 5,6", "1,2 3,4 5,6 7", "1,2 3,4 5,6 nan,8"])
def test_a_chart_that_is_none(text):
    with pytest.raises(InputError, match="the chart"):
        chart_from_text(text)
