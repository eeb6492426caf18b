"""What phones, cameras and programs write: read as it is meant, or refused in a sentence."""

import io
import struct
from types import SimpleNamespace

import cv2
import numpy as np
import pi_heif
import pytest
from picture_files import HEIC_TWO_HALVES, dng, turned_heic
from PIL import Image, ImageCms

from dyewright.errors import InputError
from dyewright.photo.load import load_photo, quick_photo

CODES = np.full((80, 100, 3), (200, 90, 30), np.uint8)
# IEC 61966-2-1, equation 6, by hand: ((200/255 + 0.055)/1.055)^2.4 = 0.5776; 90: 0.1022; 30: 0.0130
LIGHT = [0.5776, 0.1022, 0.0130]


def file_of(image, file_format, **options):
    file = io.BytesIO()
    image.save(file, format=file_format, **options)
    return file.getvalue()


def picture(codes=CODES):
    return Image.fromarray(codes)


@pytest.mark.parametrize("extension", [".png", ".tiff"])
def test_sixteen_bits_a_channel_keep_their_precision(extension):
    codes = np.full((80, 100, 3), 655, np.uint16)  # 655/65535/12.92 = 0.000774; cut to 8 bit it would be 2: 0.000607
    photo = load_photo(cv2.imencode(extension, codes)[1].tobytes())

    assert photo.linear[40, 50] == pytest.approx([0.000774] * 3, rel=1e-3)


def test_sixteen_bit_channels_are_in_their_order_and_alpha_is_dropped():
    codes = np.dstack([CODES.astype(np.uint16)[..., ::-1] * 257, np.full((80, 100), 9, np.uint16)])

    assert load_photo(cv2.imencode(".png", codes)[1].tobytes()).linear[40, 50] == pytest.approx(LIGHT, abs=1e-4)


def test_sixteen_bit_pictures_are_clipped_at_the_same_share_of_their_range():
    codes = np.full((80, 100, 3), 30000, np.uint16)
    codes[:10] = 65535  # 254/255 of 65535 is 65278
    codes[10:20] = 65200

    assert load_photo(cv2.imencode(".png", codes)[1].tobytes()).clipped.mean() == pytest.approx(10 / 80)


@pytest.mark.parametrize(
    "image",
    [picture().convert("RGBA"), picture().quantize(8), picture().convert("RGBA").quantize(8)],
    ids=["alpha", "palette", "palette with alpha"],
)
def test_transparency_and_palettes_read_as_their_colours(image):
    assert load_photo(file_of(image, "PNG")).linear[40, 50] == pytest.approx(LIGHT, abs=1e-3)


@pytest.mark.parametrize("options", [{}, {"compression": "tiff_lzw"}, {"compression": "jpeg", "quality": 98}])
def test_tiff_is_read_however_it_is_packed(options):
    assert load_photo(file_of(picture(), "TIFF", **options)).linear[40, 50] == pytest.approx(LIGHT, rel=0.02)


def test_of_a_photo_with_more_pictures_behind_it_the_photo_is_read():
    # a phone's JPEG with a depth or gain map holds it as a further picture (CIPA DC-007)
    data = file_of(picture(), "MPO", save_all=True, append_images=[picture(255 - CODES)])

    photo = load_photo(data)

    assert photo.media_type == "image/jpeg"
    assert photo.linear[40, 50] == pytest.approx(LIGHT, rel=0.02, abs=0.002)
    assert photo.notes == ()


@pytest.mark.parametrize("file_format", ["PNG", "WEBP"])
def test_a_moving_picture_says_that_its_first_was_read(file_format):
    data = file_of(picture(), file_format, save_all=True, append_images=[picture(255 - CODES)], lossless=True)

    photo = load_photo(data)

    assert photo.linear[40, 50] == pytest.approx(LIGHT, abs=1e-3)
    assert any("several pictures" in note for note in photo.notes)


@pytest.mark.parametrize("quarter_turns", range(4))
def test_a_heic_photo_is_turned_once(quarter_turns):
    photo = load_photo(turned_heic(quarter_turns))

    # ISO/IEC 23008-12, 6.5.10: anticlockwise by quarter turns; the red half of an unturned one lies left
    sizes = {0: (128, 80), 1: (80, 128), 2: (128, 80), 3: (80, 128)}
    red_at = {0: (0.5, 0.1), 1: (0.9, 0.5), 2: (0.5, 0.9), 3: (0.1, 0.5)}[quarter_turns]
    rows, columns = photo.linear.shape[:2]
    red = photo.linear[int(red_at[0] * rows), int(red_at[1] * columns)]
    assert (photo.width_px, photo.height_px) == sizes[quarter_turns]
    assert red[:2] == pytest.approx([0.5776, 0.0452], rel=0.03)  # codes 200 and 60


def test_a_heic_photo_reads_the_same_each_time():
    first = load_photo(HEIC_TWO_HALVES).linear

    assert all(np.array_equal(load_photo(HEIC_TWO_HALVES).linear, first) for _ in range(5))


def fake_heif(monkeypatch, codes, **info):
    class Heif:
        size = codes.shape[1::-1]

        def __array__(self, dtype=None, copy=None):
            return codes

    Heif.info = info
    monkeypatch.setattr(pi_heif, "open_heif", lambda *_, **__: Heif())
    return HEIC_TWO_HALVES


def test_ten_bit_heic_keeps_its_precision_and_its_primaries(monkeypatch):
    codes = np.zeros((80, 100, 3), np.uint16)
    codes[..., 1] = 65535
    data = fake_heif(monkeypatch, codes, nclx_profile={"color_primaries": 12, "transfer_characteristics": 13})

    # colour-science 0.4.7, RGB_to_RGB([0, 1, 0], 'Display P3', 'sRGB') without clipping
    assert load_photo(data).linear[40, 50] == pytest.approx([-0.2249, 1.0421, -0.0786], abs=0.002)


@pytest.mark.parametrize(("transfer", "name"), [(16, "PQ"), (18, "HLG")])  # ITU-T H.273, table 3
def test_an_hdr_curve_is_refused_with_the_way_out(monkeypatch, transfer, name):
    data = fake_heif(monkeypatch, CODES, nclx_profile={"color_primaries": 9, "transfer_characteristics": transfer})

    with pytest.raises(InputError, match=f"HDR curve {name}.*turn HDR off"):
        load_photo(data, name="IMG_1.HEIC")


def test_ink_values_without_a_profile_are_refused():
    with pytest.raises(InputError, match=r"printing ink.*export it as RGB"):
        load_photo(file_of(picture().convert("CMYK"), "JPEG"))


def test_a_jpeg_of_hundreds_of_passes_is_refused_before_it_is_decoded():
    data = file_of(picture(), "JPEG", progressive=True)

    assert load_photo(data).linear[40, 50] == pytest.approx(LIGHT, rel=0.02, abs=0.002)
    with pytest.raises(InputError, match="passes"):
        load_photo(data[:-2] + b"\xff\xda\x00\x08" * 501 + b"\xff\xd9")


def test_the_content_counts_not_the_name():
    assert load_photo(file_of(picture(), "JPEG"), name="IMG_1.DNG").media_type == "image/jpeg"
    assert load_photo(dng(np.full((64, 64), 0.5)), name="IMG_1.jpg").media_type == "image/x-raw"


@pytest.mark.parametrize(
    ("start", "kind"),
    [
        (b"II*\0\x10\0\0\0CR\x02\0", "raw file"),
        (b"FUJIFILMCCD-RAW 0201", "raw file"),
        (b"\0\0\0\x18ftypcrx ", "raw file"),
        (b"\0\0\0\x18ftypmp42", "not a picture"),
        (b"\0\0\0\x18ftypavif", "not a picture"),
        (b"<!doctype html>", "not a picture"),
        (b"PK\x03\x04", "not a picture"),
        (b"GIF89a", "not a picture"),
    ],
)
def test_what_only_begins_like_a_file_is_refused_in_a_sentence(start, kind):
    with pytest.raises(InputError, match=kind) as caught:
        load_photo(start + bytes(600), name="sent.bin")

    assert "sent.bin" in caught.value.message


def test_a_raw_file_with_a_thumbnail_first_is_not_read_as_its_thumbnail():
    # TIFF 6.0, section 8: NewSubfileType 1 is a reduced picture of another one in the file
    data = bytearray(file_of(picture(), "TIFF"))
    start = struct.unpack_from("<I", data, 4)[0]
    first = struct.unpack_from("<H", data, start + 2)[0]
    assert first == 256  # the picture's width, to make place for the other tag
    struct.pack_into("<HHII", data, start + 2, 254, 4, 1, 1)

    with pytest.raises(InputError, match="raw file that cannot be developed"):
        load_photo(bytes(data))


def test_an_orientation_beyond_eight_is_none():
    exif = Image.Exif()
    exif[0x0112] = 99

    photo = load_photo(file_of(picture(), "JPEG", exif=exif))

    assert (photo.width_px, photo.height_px) == (100, 80)


def test_bent_exif_does_not_hide_the_photo():
    assert load_photo(file_of(picture(), "JPEG", exif=b"Exif\0\0II*\0\xff\xff\xff\x7f")).width_px == 100


def test_a_profile_of_tables_is_applied(monkeypatch):
    # no library at hand writes one: what its transform returns is put in its place
    swapped = SimpleNamespace(apply=lambda image: Image.fromarray(np.asarray(image)[..., ::-1].copy()))
    monkeypatch.setattr(ImageCms, "ImageCmsProfile", lambda _: None)
    monkeypatch.setattr(ImageCms, "buildTransform", lambda *_: swapped)

    photo = load_photo(file_of(picture(), "PNG", icc_profile=b"a profile of tables" * 20))

    assert photo.linear[40, 50] == pytest.approx(LIGHT[::-1], abs=1e-3)


def test_a_common_twelve_megapixel_photo_is_worked_on_whole():
    assert load_photo(file_of(Image.new("RGB", (4032, 3024)), "JPEG")).reduction == 1


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_quick_photo_lies_where_the_photo_does(orientation):
    codes = np.full((3000, 4000, 3), 180, np.uint8)
    codes[600:1500, 400:1200] = (30, 90, 160)
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = file_of(picture(codes), "JPEG", exif=exif, quality=95)

    quick, full = quick_photo(data), load_photo(data)

    assert quick.reduction == 2
    assert (quick.width_px, quick.height_px) == (full.width_px, full.height_px)
    for row, column in ((1000, 800), (2600, 1500), (900, 2500)):
        place = quick.linear[row // 2, column // 2] if orientation == 1 else quick.linear[column // 2, row // 2]
        same = full.linear[row, column] if orientation == 1 else full.linear[column, row]
        assert place == pytest.approx(same, abs=0.01)
