"""The picture for the shop, made from rendered scenes whose colours are known, and read back by other libraries."""

import re
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from uuid import uuid4

import numpy as np
import pytest
from cameras import colour_science
from PIL import Image, ImageCms
from scenes import WHITE, Scene, jpeg, render

from dyewright.core.model import Judgement, Shape
from dyewright.errors import InputError
from dyewright.photo.load import load_photo
from dyewright.services.judging._chart import read_chart, reference_of
from dyewright.services.judging.shop_picture import ShopWish, Sitting, as_taken, shop_page, shop_picture, wish
from dyewright.services.judging.verdict import judge
from dyewright.services.plain import plain

colour = colour_science()
CHART = reference_of(None, is_older_chart=False).xyz
CORNERS = Scene().chart_corners
TEAL, PLUM = (45.0, -18.0, -12.0), (35.0, 22.0, -14.0)
PLACES = ((120, 340, 200, 480), (500, 340, 200, 480))
SCREEN_WHITE = np.array([0.3127, 0.3290])  # IEC 61966-2-1
NEVER = datetime(2026, 3, 1, tzinfo=UTC)


@cache
def sat(content, *, chart=CORNERS, places=PLACES):
    """A verdict on a photo as the studio keeps it."""
    result = judge([content], chart=chart, boxes=[Shape.box(*place) for place in places])
    marks = {"chart": "none"} if chart == "none" else {}
    return Sitting(Judgement(uuid4(), None, uuid4(), NEVER, plain(result), "0", marks), content, 1)


def scene(**options):
    skeins = list(zip(PLACES, (TEAL, PLUM), strict=True))
    return Scene(**({"skeins": skeins, "chart_xyz": CHART, "gradient": (0.12, 0.05), "gamma": 1.1} | options))


def read_back(content):
    """Codes 0 to 1 of a JPEG."""
    return np.asarray(Image.open(BytesIO(content)).convert("RGB"), float) / 255


def lab_of_codes(codes):
    return colour.XYZ_to_Lab(colour.sRGB_to_XYZ(codes), SCREEN_WHITE)


def wanted_on_screen(xyz):
    """What the screen is to show for XYZ under D65 for 10°: adapted by colour-science's own Bradford transform."""
    white = colour.xy_to_XYZ(SCREEN_WHITE)
    adapted = colour.chromatic_adaptation(
        np.asarray(xyz) / 100, WHITE / 100, white, method="Von Kries", transform="Bradford"
    )
    return colour.XYZ_to_Lab(adapted, SCREEN_WHITE), np.linalg.solve(
        colour.models.RGB_COLOURSPACE_sRGB.matrix_RGB_to_XYZ, adapted.T
    ).T


def patch_middles(codes):
    """The mean code of the middle of each patch; the picture is the whole photo at its own size."""
    middles = []
    for row in range(4):
        for column in range(6):
            x, y = 60 + 60 * column + 30, 40 + 60 * row + 30
            middles.append(codes[y - 10 : y + 10, x - 10 : x + 10].mean(axis=(0, 1)))
    return np.array(middles)


def test_the_charts_patches_read_back_as_what_they_are_to_within_the_fit():
    at = sat(jpeg(render(scene())))
    picture = shop_picture(at, ShopWish("photo", 2048))

    lab, linear = wanted_on_screen(CHART)
    shows = np.all((linear > 0) & (linear < 1), axis=1)
    off = colour.delta_E(lab, lab_of_codes(patch_middles(read_back(picture.jpeg))), method="CIE 2000")
    fitted = read_chart(load_photo(at.content), CORNERS, reference_of(None, is_older_chart=False)).calibration.fit_de00
    assert shows.sum() >= 22
    # 8 bits and JPEG add up to 0.5 on the darkest patch. As the camera rendered them, patches are 9 off on average.
    assert off[shows].mean() < fitted.mean() + 0.3
    assert off[shows].max() < fitted.max() + 0.6


def test_the_yarn_shows_its_measured_colour_whatever_the_camera_made_of_it():
    content = jpeg(render(scene(exposure=0.55)))
    at = sat(content)
    picture, before = (
        read_back(one)
        for one in (shop_picture(at, ShopWish("photo", 2048)).jpeg, as_taken(at, ShopWish("photo", 2048)))
    )

    for (x, y, w, h), lab in zip(PLACES, (TEAL, PLUM), strict=True):
        xyz = colour.Lab_to_XYZ(np.array(lab), colour.XYZ_to_xy(WHITE / 100)) * 100
        wanted, _ = wanted_on_screen(xyz)
        inside = (slice(y + 20, y + h - 20), slice(x + 20, x + w - 20))
        shown, taken = (lab_of_codes(codes[inside].mean(axis=(0, 1))) for codes in (picture, before))
        assert colour.delta_E(wanted, shown, method="CIE 2000") < 2.5  # the calibration's own error on yarn (2.4 here)
        assert colour.delta_E(wanted, taken, method="CIE 2000") > 6  # the camera's: dark, and its own primaries


def test_the_ground_is_neutral_even_and_not_washed_out():
    picture = shop_picture(sat(jpeg(render(scene(gradient=(0.25, 0.1))))), ShopWish("photo", 2048))

    codes = read_back(picture.jpeg)
    ends = np.array([codes[500:800, left : left + 60].mean(axis=(0, 1)) for left in (20, 1120)])
    # The board is 85 % of white: sRGB code 0.929 by IEC 61966-2-1, (0.85^(1/2.4) * 1.055 - 0.055).
    # The chart's fit misses white by up to 2 of L*, a*, b*: 0.025 of the code.
    assert ends == pytest.approx(0.929, abs=0.025)
    assert np.ptp(ends, axis=1).max() < 0.025  # neutral
    assert np.abs(ends[0] - ends[1]).max() < 0.025  # even: as it was lit, the ends differ by 0.2
    assert any("23" in line and "ground shows as" in line for line in picture.done)


def test_without_a_chart_the_paper_is_made_neutral_and_the_page_says_so():
    at = sat(jpeg(render(scene(chart_xyz=None, exposure=0.5))), chart="none")
    picture = shop_picture(at, ShopWish("photo", 2048))

    codes = read_back(picture.jpeg)[850:890, 100:1100]
    assert codes.mean(axis=(0, 1)) == pytest.approx(0.935, abs=0.01)  # 0.86 of light, by IEC 61966-2-1
    assert "Neutral by the paper only" in picture.done[0]


def test_without_a_chart_on_coloured_ground_it_is_refused_with_a_way_out():
    skeins = [((0, 0, 1200, 900), (60.0, 5.0, 45.0)), *zip(PLACES, (TEAL, PLUM), strict=True)]
    at = sat(jpeg(render(scene(chart_xyz=None, skeins=skeins))), chart="none")

    with pytest.raises(InputError, match="white paper"):
        shop_picture(at, ShopWish())
    assert "24-patch chart" in str(shop_page(at, ShopWish())["refusal"])


def test_colours_outside_the_screens_range_are_told_by_skein():
    vivid = (62.0, 75.0, 85.0)  # an orange that sRGB has not: its linear blue is below 0
    at = sat(jpeg(render(scene(skeins=list(zip(PLACES, (TEAL, vivid), strict=True)), strand_px=9))))
    picture = shop_picture(at, ShopWish())

    [line] = picture.outside  # the teal one is inside
    assert line.startswith("Skein 2 is more vivid")
    [share, off] = [float(found) for found in re.findall(r"in (\d+) %.* by ([\d.]+) ΔE00", line)[0]]
    # By coloraide, chroma taken back in OkLCh costs the lit strands 8.2 ΔE00; those in shade lose less.
    assert 50 < share <= 100
    assert 1 < off < 8.2


def test_the_file_says_srgb_and_nothing_of_camera_day_or_place():
    exif = Image.Exif()
    exif[0x010F] = "A phone"
    exif[0x8825] = {1: "N", 2: (47.0, 22.0, 0.0)}
    content = jpeg(render(scene()), exif=exif)
    assert Image.open(BytesIO(content)).getexif()

    picture = Image.open(BytesIO(shop_picture(sat(content), ShopWish()).jpeg))

    assert not picture.getexif()
    assert "sRGB" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(BytesIO(picture.info["icc_profile"])))
    assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "icc_profile"}


@pytest.mark.parametrize(
    ("typed", "size"),
    [
        ({}, (633, 538)),  # by hand: 580 × 480 round both, a margin of 6 % of 580 on each side, cut at the photo's foot
        ({"part": "1", "square": "on"}, (538, 538)),  # by hand: 480 and twice 28.8, rounded outwards
        ({"part": "photo"}, (1200, 900)),
    ],
)
def test_it_is_cut_as_wished_and_never_enlarged(typed, size):
    picture = shop_picture(sat(jpeg(render(scene()))), wish(typed))
    assert (picture.width_px, picture.height_px) == pytest.approx(size, abs=20)


@pytest.mark.parametrize(
    ("typed", "words"), [({"size": "9"}, "1200 or 2048"), ({"part": "x"}, "no part"), ({"photo": "0"}, "no photo")]
)
def test_a_wish_that_is_not_offered_is_refused(typed, words):
    with pytest.raises(InputError, match=words):
        wish(typed)


def test_a_skein_that_is_not_there_is_refused():
    with pytest.raises(InputError, match="no skein 7"):
        shop_picture(sat(jpeg(render(scene()))), ShopWish("7"))
