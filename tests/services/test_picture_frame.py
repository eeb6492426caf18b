"""Reading colours off a picture: at a place, by area, through a chart or as the camera made them."""

import io
from datetime import UTC, datetime
from shutil import copy
from uuid import uuid4

import numpy as np
import pytest
from PIL import Image
from scenes import Scene, jpeg, render, saved

from dyewright.core.colour import delta_e00
from dyewright.errors import InputError
from dyewright.photo import load
from dyewright.records.engine import open_records
from dyewright.services.judging._chart import reference_of
from dyewright.services.photos import keep_photo
from dyewright.services.picture import frame as picture_frame
from dyewright.services.picture.frame import area_shares, frame_jpeg, kept_frame, look_at_picture, read_pick

READ = [
    ((200, 60, 40), (46.54, 54.53, 43.23)),
    ((40, 90, 180), (39.64, 15.76, -52.63)),
    ((230, 200, 90), (81.24, -1.85, 57.59)),
]


@pytest.fixture
def framed(tmp_path, migrated_file):
    """Return a picture as a studio holds it once its bytes were taken in."""
    records = open_records(f"sqlite:///{copy(migrated_file, tmp_path / 'studio.sqlite')}")

    def kept(content):
        with records.begin() as session:
            one = keep_photo(
                session, look_at_picture(content), photo_id=uuid4(), run_id=None, taken_at=datetime.now(UTC)
            )
            return kept_frame(session, one.id)

    yield kept
    records.close()


def flat(*colours, width=240, height=160, shares=None):
    """Return upright stripes of flat sRGB colours as the bytes of a PNG."""
    codes = np.empty((height, width, 3), np.uint8)
    edges = np.round(np.cumsum([0, *(shares or [1 / len(colours)] * len(colours))]) * width).astype(int)
    for code, left, right in zip(colours, edges[:-1], edges[1:], strict=True):
        codes[:, left:right] = code
    return saved(codes, "PNG")


def test_a_grey_is_read_as_the_lightness_worked_out_by_hand(framed):
    reading = read_pick(framed(flat((119, 119, 119))), 0.5, 0.5)
    # By hand: ((119/255 + 0.055)/1.055)^2.4 = 0.18447; L* = 116 × 0.18447^(1/3) − 16 = 50.03; grey has a* = b* = 0.
    assert reading.lab == pytest.approx((50.03, 0, 0), abs=0.02)
    assert reading.de00_95 is None, "without a chart nobody knows how far off it is"
    assert not reading.is_washed_out


# colour-science 0.4.7: sRGB to XYZ, Bradford from sRGB's D65 (0.3127, 0.3290) to that of the 10° observer, Lab there.
@pytest.mark.parametrize(("code", "lab"), READ)
def test_a_colour_is_read_as_another_implementation_has_it(framed, code, lab):
    # 0.05: the oracle rounds sRGB's matrix to four digits; the white of the 2° observer instead would be off by 2.
    assert read_pick(framed(flat(code)), 0.3, 0.6).lab == pytest.approx(lab, abs=0.05)


def test_a_scratch_across_the_disc_does_not_move_its_colour(framed):
    plain = flat((119, 119, 119), width=1200, height=800)
    codes = np.asarray(Image.open(io.BytesIO(plain))).copy()
    codes[398:402] = (255, 0, 0)  # 4 of the 14 rows of the disc: under half
    assert read_pick(framed(saved(codes, "PNG")), 0.5, 0.5).lab == pytest.approx((50.03, 0, 0), abs=0.02)


def test_the_place_counts_from_the_upper_left(framed):
    frame = framed(flat((200, 60, 40), (40, 90, 180)))
    assert read_pick(frame, 0.02, 0.5).lab[1] > 40, "the left half is red"
    assert read_pick(frame, 1.0, 1.0).lab[2] < -30, "the right half is blue, up to the very corner"


@pytest.mark.parametrize("place", [(-0.01, 0.5), (0.5, 1.01), (float("nan"), 0.5)])
def test_a_place_off_the_picture_is_refused(framed, place):
    with pytest.raises(InputError, match="outside the picture"):
        read_pick(framed(flat((119, 119, 119))), *place)


def test_white_without_a_drawing_is_said_to_be_washed_out(framed):
    frame = framed(flat((255, 255, 255), (119, 119, 119)))
    assert read_pick(frame, 0.2, 0.5).is_washed_out
    assert not read_pick(frame, 0.8, 0.5).is_washed_out


def test_areas_are_shared_out_to_the_colours_most_like_them(framed):
    frame = framed(flat((119, 119, 119), (200, 60, 40), shares=(0.75, 0.25)))
    labs = [read_pick(frame, 0.3, 0.5).lab, read_pick(frame, 0.9, 0.5).lab]
    # As drawn: three quarters grey, one quarter red; counted on every fourth pixel at most.
    assert area_shares(frame, labs) == pytest.approx((0.75, 0.25), abs=0.01)


def test_a_large_picture_is_held_small_and_read_only_once(framed, monkeypatch):
    codes = np.full((1500, 3000, 3), 119, np.uint8)
    content = saved(codes, "PNG")
    read = []
    monkeypatch.setattr(
        picture_frame, "load_photo", lambda *args, **named: read.append(1) or load.load_photo(*args, **named)
    )
    frame = framed(content)
    shown = Image.open(io.BytesIO(frame_jpeg(frame)))
    assert shown.size == (1000, 500)  # 3000 / 1200 rounded up is every 3 × 3 pixels as one
    assert (frame.photo.width_px, frame.photo.height_px) == (3000, 1500)
    assert len(read) == 1, "taken in and shown, the file was read once"


@pytest.fixture(scope="module")
def with_chart():
    skeins = [((500, 100, 300, 300), (45.0, -18.0, -12.0)), ((850, 100, 300, 300), (60.0, 25.0, 30.0))]
    chart = reference_of(None, is_older_chart=False).xyz
    return jpeg(render(Scene(skeins=skeins, chart_xyz=chart, gamma=1.1, noise=0.003)))


def test_a_chart_in_the_picture_makes_its_colours_measured(framed, with_chart):
    frame = framed(with_chart)
    assert frame.is_measured
    for place, lab in (((650 / 1200, 250 / 900), (45, -18, -12)), ((1000 / 1200, 250 / 900), (60, 25, 30))):
        reading = read_pick(frame, *place)
        assert delta_e00(reading.lab, lab) < reading.de00_95, "the drawn colour lies inside the interval that is given"
        assert 0.5 < reading.de00_95 < 8  # twice to four times the 1 to 2 that a sound chart's patches miss by
    relative = framed(jpeg(render(Scene(skeins=[((500, 100, 300, 300), (45.0, -18.0, -12.0))]))))
    assert not relative.is_measured


def test_the_chart_itself_is_no_part_of_the_palette(framed, with_chart):
    frame = framed(with_chart)
    rows, columns = frame.is_usable.shape
    inside = frame.is_usable[int(rows * 160 / 900), int(columns * 240 / 1200)]
    assert not inside, "the middle of the chart, drawn from 60 to 420 across and 40 to 280 down"
    assert frame.is_usable[int(rows * 250 / 900), int(columns * 650 / 1200)]
    covered = 1 - frame.is_usable.mean()
    # The chart is 360 × 240 of 1200 × 900, 8 %; its frame makes it 1.3 times as wide and high: 13.5 %.
    assert covered == pytest.approx(0.135, abs=0.02)
