import io
import struct
import zlib

import numpy as np
import pytest
from picture_files import HEIC_TWO_HALVES, dng
from PIL import Image, ImageCms, ImageOps

from dyewright.errors import InputError
from dyewright.photo.load import MAX_PIXELS, WORKING_PIXELS, load_photo


def file_of(codes, file_format="PNG", **options):
    file = io.BytesIO()
    Image.fromarray(codes).save(file, format=file_format, **options)
    return file.getvalue()


def plain(colour, size=(80, 100)):
    return np.full((*size, 3), colour, np.uint8)


# IEC 61966-2-1, equation 6, worked by hand: ((188/255 + 0.055)/1.055)^2.4 = 0.5029; 10/255/12.92 = 0.003035
@pytest.mark.parametrize(("code", "light"), [(188, 0.5029), (10, 0.003035), (255, 1.0), (0, 0.0)])
@pytest.mark.parametrize("file_format", ["PNG", "JPEG", "TIFF", "WEBP", "BMP"])
def test_every_format_comes_out_in_linear_light(file_format, code, light):
    photo = load_photo(file_of(plain((code, code, code)), file_format))

    # JPEG and WEBP may move a grey by one code, 1.2 % of light here
    assert photo.linear.shape == (80, 100, 3)
    assert photo.linear.mean() == pytest.approx(light, rel=0.013, abs=2e-4)


def test_a_heic_photo_is_read():
    photo = load_photo(HEIC_TWO_HALVES)

    # IEC 61966-2-1 of the codes drawn: 200 is 0.5776, 60 0.0452, 180 0.4564, 90 0.1022; the codec moves a code by 1
    assert photo.media_type == "image/heic"
    assert photo.linear[40, 30, :2] == pytest.approx([0.5776, 0.0452], rel=0.03)
    assert photo.linear[40, 100, 1:] == pytest.approx([0.1022, 0.4564], rel=0.03)


def test_a_digital_negative_is_developed_without_a_tone_curve():
    cfa = np.empty((128, 192))
    cfa[0::2, 0::2], cfa[0::2, 1::2], cfa[1::2, 0::2], cfa[1::2, 1::2] = 0.5, 0.25, 0.25, 0.125

    photo = load_photo(dng(cfa))

    # the raw values themselves: the camera's space is linear sRGB by the file's own matrix
    assert photo.linear[60, 90] == pytest.approx([0.5, 0.25, 0.125], abs=0.002)
    assert photo.is_linear_file


def test_values_of_a_linear_file_are_light_already():
    photo = load_photo(file_of(plain((51, 102, 204))), is_linear=True)

    assert photo.linear[5, 5] == pytest.approx([0.2, 0.4, 0.8], abs=1e-6)  # 51/255, 102/255, 204/255


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_photo_is_turned_as_its_exif_says(orientation):
    codes = np.random.default_rng(3).integers(0, 255, (70, 110, 3), np.uint8)
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = file_of(codes, exif=exif)

    photo = load_photo(data)

    # Pillow's own exif_transpose as the other implementation
    upright = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))
    assert (photo.height_px, photo.width_px) == upright.shape[:2]
    by_code = load_photo(file_of(upright)).linear
    assert np.array_equal(photo.linear, by_code)


def test_an_embedded_srgb_profile_changes_nothing():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    codes = plain((200, 90, 30))

    with_profile = load_photo(file_of(codes, icc_profile=profile)).linear

    # the profile's curve is a table of the library's: 16 bit, so 1/65535 and the colorants' own rounding
    assert with_profile[0, 0] == pytest.approx(load_photo(file_of(codes)).linear[0, 0], abs=3e-4)


def display_p3_profile():
    """Build an ICC v4 profile with the primaries of Display P3 and sRGB's curve as a parametric curve."""

    def fixed(*values):
        return b"".join(struct.pack(">i", round(value * 65536)) for value in values)

    # colour-science 0.4.7: the matrix of its Display P3, adapted to the profile connection space by Bradford
    colorants = {
        b"rXYZ": (0.515119, 0.241189, -0.001050),
        b"gXYZ": (0.291978, 0.692244, 0.041879),
        b"bXYZ": (0.157103, 0.066567, 0.784071),
    }
    tags = {name: b"XYZ \0\0\0\0" + fixed(*value) for name, value in colorants.items()}
    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    offset, table, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, value in tags.items():
        table += name + struct.pack(">II", offset + len(body), len(value))
        body += value
    header = bytearray(128)
    header[0:4] = struct.pack(">I", offset + len(body))
    header[8:24] = b"\x04\x30\0\0mntrRGB XYZ "
    header[36:40] = b"acsp"
    header[68:80] = fixed(0.9642, 1.0, 0.8249)
    return bytes(header) + table + body


def test_a_wide_colour_space_keeps_what_srgb_cannot_hold():
    photo = load_photo(file_of(plain((0, 255, 0)), icc_profile=display_p3_profile()))

    # colour-science 0.4.7, RGB_to_RGB([0, 1, 0], 'Display P3', 'sRGB') without clipping
    assert photo.linear[0, 0] == pytest.approx([-0.2249, 1.0421, -0.0786], abs=0.002)


def test_greys_of_a_wide_colour_space_stay_grey():
    photo = load_photo(file_of(plain((128, 128, 128)), icc_profile=display_p3_profile()))

    # the same curve as sRGB's: ((128/255 + 0.055)/1.055)^2.4 = 0.2159
    assert photo.linear[0, 0] == pytest.approx([0.2159] * 3, abs=0.001)


def test_a_damaged_profile_is_said_and_the_values_taken_as_srgb():
    photo = load_photo(file_of(plain((128, 128, 128)), icc_profile=b"nonsense" * 40))

    assert photo.linear[0, 0] == pytest.approx([0.2159] * 3, abs=0.001)
    assert any("profile could not be read" in note for note in photo.notes)


def test_a_large_photo_is_averaged_in_linear_light_within_the_working_size():
    codes = np.zeros((4000, 6000, 3), np.uint8)
    codes[:, ::2] = 255  # columns of black and white: half the light, not half the code

    photo = load_photo(file_of(codes, compress_level=1))

    assert photo.reduction == 2
    assert photo.linear[..., 0].size <= WORKING_PIXELS
    assert photo.linear.mean() == pytest.approx(0.5, abs=1e-4)
    assert (photo.width_px, photo.height_px) == (6000, 4000)


def test_clipped_pixels_are_marked():
    codes = plain((100, 100, 100))
    codes[10:20, 30:40] = (100, 255, 100)

    photo = load_photo(file_of(codes))

    assert photo.clipped.sum() == 100
    assert photo.clipped[15, 35]


def test_the_steps_of_a_lossy_file_are_read_from_its_own_tables():
    # ITU-T T.81, annex K: tables K.1 and K.2 begin with 16 and 17, which quality 50 uses as they are; an eighth each.
    # libjpeg takes a tenth of them, rounded, at quality 95: 1.6 and 1.7 become 2
    assert load_photo(file_of(plain((9, 90, 200)), "JPEG", quality=50)).luma_chroma_steps == (2, 17 / 8)
    assert load_photo(file_of(plain((9, 90, 200)), "JPEG", quality=95)).luma_chroma_steps == (2 / 8, 2 / 8)
    assert load_photo(file_of(plain((9, 90, 200)))).luma_chroma_steps is None


def test_a_grey_photo_says_that_it_has_no_colour():
    photo = load_photo(file_of(np.full((80, 80), 128, np.uint8)))

    assert any("no colour" in note for note in photo.notes)


def bare_png(width, height):
    """Return a PNG that claims a size and holds next to nothing."""

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("width", "height", "said"), [(10_000, 10_000, "100"), (12_000, 9_000, "108"), (60_000, 40_000, "2400")]
)
def test_a_hundred_megapixels_are_refused_before_decoding(width, height, said):
    with pytest.raises(InputError, match=f"big has {said} megapixels; the limit is under 100") as caught:
        load_photo(bare_png(width, height), name="big")

    assert caught.value.value == width * height
    assert caught.value.limit == MAX_PIXELS


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"Run 12: blue, 0.8 %\nclear at 40 min\n", "not a picture"),
        (b"%PDF-1.7 nothing", "not a picture"),
        (file_of(plain((9, 90, 200), (300, 300)), "JPEG")[:700], "damaged"),
        (file_of(np.random.default_rng(1).integers(0, 255, (200, 200, 3), np.uint8))[:9000], "damaged"),
        (HEIC_TWO_HALVES[:300], "damaged"),
        (dng(np.full((64, 64), 0.5))[:2000], "raw file"),
        (file_of(plain((1, 2, 3), (20, 30))), "at least 64"),
    ],
)
def test_what_is_no_usable_photo_is_refused_in_a_sentence(data, said):
    with pytest.raises(InputError, match=said) as caught:
        load_photo(data, name="notes.txt")

    assert "notes.txt" in caught.value.message
    assert caught.value.field == "photo"


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match=r"gone\.jpg cannot be read"):
        load_photo(tmp_path / "gone.jpg")


def test_a_raw_file_says_how_red_its_light_was_by_its_white_balance():
    cfa = np.full((128, 192), 0.25)

    # By hand: what was taken for grey has 0.9 of red and 0.3 of blue; daylight's grey is even in this camera's space,
    # which is linear sRGB under D65.
    assert load_photo(dng(cfa, (90, 60, 30))).red_to_blue == pytest.approx(3.0, rel=0.02)
    assert load_photo(dng(cfa)).red_to_blue == pytest.approx(1.0, rel=0.02)
    assert load_photo(file_of(plain((51, 102, 204)))).red_to_blue is None
