"""The kinds of picture files: opened by what they hold, not by their name, checked, and ready to be read in strips.

Sources: [1] ISO/IEC 14496-12: a file type box `ftyp` stands first. [2] ITU-T H.273: colour primaries (table 2) and
transfer characteristics (table 3) by number. [3] ITU-T T.81 (JPEG): B.1.1.3 marker SOS; A.3.3 the mean of a block.
[4] ITU-T T.871 (JFIF): luma and chroma are rounded to whole numbers.
"""

import re
import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError
from dyewright.photo.light import Strip
from dyewright.photo.profile import EIGHT_BIT, SIXTEEN_BIT

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["BROKEN", "MAX_PIXELS", "Picture", "broken", "check_size", "opened"]

MAX_PIXELS = 100_000_000  # the limit before decoding: twice a 48-megapixel phone; ours, no source
MIN_SIDE = 64  # below this no skein holds enough pixels to speak of; ours
MOST_SCANS = 500  # of a progressive JPEG: an ordinary one has about 10, each is a pass over the picture; ours
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")
_LOSSY = {"JPEG", "MPO", "WEBP"}
_HEIC_BRANDS = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"MiHE"}
_HDR_CURVES = {16: "PQ", 18: "HLG"}  # [2]
_KINDS = "JPEG, PNG, TIFF of 8 or 16 bits, WEBP, HEIC, DNG or a camera's raw file"
_NO_COLOUR = "The photo has no colour, only grey: judge lightness by it, nothing else."
BROKEN = (OSError, SyntaxError, ValueError, EOFError, IndexError, TypeError)


@dataclass(frozen=True)
class Picture:
    """A decoded picture as it is stored: not yet upright, not yet light.

    `size` is rows and columns of what `strip` gives, `codes` how many values a channel can have. `reduction` is how
    many original pixels lie along one of it, where the file was decoded at a fraction; `full_size` is the original's.
    `primaries` is the number [2] of the primaries that a file without `icc` names, 1 for sRGB's.
    """

    strip: Strip
    size: tuple[int, int]
    full_size: tuple[int, int]
    media_type: str
    codes: int = EIGHT_BIT
    reduction: int = 1
    icc: bytes | None = None
    orientation: int = 1
    primaries: int = 1
    luma_chroma_steps: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()


def opened(data: bytes, title: str, quick_side_px: int | None = None) -> Picture:
    """Return what a file holds, decoded.

    Args:
        data: the file.
        title: what to call it in a message.
        quick_side_px: a JPEG may be decoded at a fraction, of which the longer side keeps at least this: fit to be
            shown and searched, not to be measured, since it averages stored values, not light.

    Raises:
        InputError: no picture, a broken one, above 100 megapixels or under 64 pixels a side.
    """
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        return _heif(data, title)
    image = _image(data, title)
    check_size(image.size, title)
    if image.format in {"JPEG", "MPO"} and data.count(b"\xff\xda") > MOST_SCANS:  # [3]
        raise InputError(
            f"{title} is a JPEG in more than {MOST_SCANS} passes, which no camera writes: save it anew", field="photo"
        )
    full_size = (image.height, image.width)
    if quick_side_px is not None:
        image.draft("RGB", (quick_side_px, quick_side_px))
    try:
        return _decoded(image, data, title, full_size)
    except BROKEN as error:
        raise error if isinstance(error, InputError) else broken(title) from error


def _image(data: bytes, title: str) -> "Image":
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():  # of 89 megapixels, or of a bent tag: our own sentences speak instead
            warnings.simplefilter("ignore")
            Image.init()  # else only some of the formats are known yet
            return Image.open(BytesIO(data), formats=_FORMATS)
    except Image.DecompressionBombError as error:
        raise _too_large(int(re.findall(r"\d+", str(error))[0]), title) from error
    except UnidentifiedImageError as error:
        raise InputError(
            f"{title} is not a picture this tool can read: it takes {_KINDS}; photograph the skeins again or export "
            "the photo as JPEG",
            field="photo",
        ) from error
    except BROKEN as error:
        raise broken(title) from error


def _decoded(image: "Image", data: bytes, title: str, full_size: tuple[int, int]) -> Picture:
    from PIL import ExifTags, Image

    kind = "JPEG" if image.format == "MPO" else image.format or ""  # several JPEGs in a row, the photo first
    steps = _luma_chroma_steps(image)
    icc = image.info.get("icc_profile")
    notes = _notes(image)
    is_deep = any("RGB" in str(tile.args) and ";16" in str(tile.args) for tile in getattr(image, "tile", ()))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        turned = image.getexif().get(ExifTags.Base.Orientation)
    image.load()
    rgb, rgb_icc = _rgb(image, icc, title)
    deep = _sixteen_bit(data) if is_deep else None
    return Picture(
        strip=_strips_of(rgb) if deep is None else _rows_of(deep),
        size=(rgb.height, rgb.width),
        full_size=full_size,
        media_type=Image.MIME[kind],
        codes=EIGHT_BIT if deep is None else SIXTEEN_BIT,
        reduction=max(1, round(full_size[0] / rgb.height)),
        icc=rgb_icc,
        orientation=turned if isinstance(turned, int) and 1 <= turned <= 8 else 1,
        luma_chroma_steps=steps,
        notes=notes,
    )


def _strips_of(image: "Image") -> Strip:
    """Return a reader that takes strips out of a picture: an array of the whole would double its room."""
    return lambda top, bottom: np.asarray(image.crop((0, top, image.width, bottom)))


def _rows_of(codes: NDArray[Any]) -> Strip:
    return lambda top, bottom: codes[top:bottom, :, :3]


def _sixteen_bit(data: bytes) -> NDArray[np.uint16] | None:
    """Return a PNG or TIFF with its 16 bits a channel, which Pillow cuts to 8; None where that cannot be had."""
    import cv2

    codes = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if codes is None or codes.dtype != np.uint16 or codes.ndim != 3:
        return None
    return np.asarray(codes[..., 2::-1], np.uint16)


def _notes(image: "Image") -> tuple[str, ...]:
    is_moving = image.format in {"PNG", "WEBP"} and getattr(image, "n_frames", 1) > 1
    notes = [_NO_COLOUR] if image.mode.startswith(("I", "F", "L", "1")) and image.mode != "LAB" else []
    return (*notes, *(["The file holds several pictures; the first was read."] if is_moving else []))


def _rgb(image: "Image", icc: bytes | None, title: str) -> tuple["Image", bytes | None]:
    """Return the picture as 8-bit RGB, with the profile that its values still have to go through."""
    from PIL import Image

    if image.mode.startswith(("I", "F")):
        values = np.asarray(image, float)
        top = 65535.0 if image.mode.startswith("I") else max(float(values.max()), 1.0)
        return Image.fromarray(np.uint8(np.clip(values / top, 0, 1) * 255 + 0.5)).convert("RGB"), None
    if image.mode == "CMYK":
        return _from_ink(image, icc, title), None
    if image.mode in {"LAB", "HSV"}:
        raise InputError(
            f"{title} holds {image.mode} values, which no camera writes: export it as JPEG or as RGB TIFF",
            field="photo",
            value=image.mode,
        )
    is_colour = image.mode in {"RGB", "RGBA", "P", "PA"}
    if image.mode == "P" and "transparency" in image.info:
        image = image.convert("RGBA")
    return (image if image.mode == "RGB" else image.convert("RGB")), icc if is_colour else None


def _from_ink(image: "Image", icc: bytes | None, title: str) -> "Image":
    from PIL import ImageCms

    try:
        source = ImageCms.ImageCmsProfile(BytesIO(icc or b""))
        converted = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        converted = None
    if converted is None:
        raise InputError(
            f"{title} holds values for printing ink (CMYK) without a profile that says their colour: send the "
            "camera's own photo, or export it as RGB",
            field="photo",
            value="CMYK",
        )
    return converted


def _heif(data: bytes, title: str) -> Picture:
    """Return a HEIC photo: the library turns it upright by the file's own boxes, so its Exif is not asked again."""
    import pi_heif

    try:
        heif = pi_heif.open_heif(BytesIO(data), convert_hdr_to_8bit=False)
        check_size(heif.size, title)
        nclx, icc = heif.info.get("nclx_profile") or {}, heif.info.get("icc_profile")
        _check_curve(int(nclx.get("transfer_characteristics", 2)), title, has_icc=icc is not None)
        codes = np.array(heif)[:, : heif.size[0]]  # a copy: the library frees its own; its rows may be padded
    except BROKEN as error:
        raise error if isinstance(error, InputError) else broken(title) from error
    if codes.ndim == 2:
        codes = np.repeat(codes[..., None], 3, axis=-1)
    return Picture(
        strip=_rows_of(codes),
        size=codes.shape[:2],
        full_size=codes.shape[:2],
        media_type="image/heic",
        codes=SIXTEEN_BIT if codes.dtype == np.uint16 else EIGHT_BIT,
        icc=icc,
        primaries=int(nclx.get("color_primaries", 1)),
        luma_chroma_steps=(1.0, 1.0),
    )


def _check_curve(transfer: int, title: str, *, has_icc: bool) -> None:
    if transfer in _HDR_CURVES and not has_icc:
        raise InputError(
            f"{title} is stored with the HDR curve {_HDR_CURVES[transfer]}, whose light depends on the display: turn "
            "HDR off in the camera, or export the photo as JPEG",
            field="photo",
            value=_HDR_CURVES[transfer],
        )


def _luma_chroma_steps(image: "Image") -> tuple[float, float] | None:
    """Return the steps of the means of a block's luma and chroma, in 1/255; None where the file is not lossy.

    A JPEG's first coefficient is eight times the mean of a block [3], so its quantiser's step is an eighth in the mean.
    """
    if image.format not in _LOSSY:
        return None
    tables = getattr(image, "quantization", None) or {0: [8]}
    return tables[0][0] / 8, tables.get(1, tables[0])[0] / 8


def check_size(size: tuple[int, int], title: str) -> None:
    """Refuse a picture, given as width and height, that is too large or too small.

    Raises:
        InputError: 100 megapixels or more, or under 64 pixels a side.
    """
    width, height = size
    if width * height >= MAX_PIXELS:
        raise _too_large(width * height, title)
    if min(width, height) < MIN_SIDE:
        raise InputError(
            f"{title} is {width} × {height} pixels; judging needs at least {MIN_SIDE} a side: send the photo itself, "
            "not its preview",
            field="photo",
            value=min(width, height),
            limit=MIN_SIDE,
        )


def _too_large(pixels: int, title: str) -> InputError:
    return InputError(
        f"{title} has {pixels / 1e6:.0f} megapixels; the limit is under {MAX_PIXELS / 1e6:.0f}: "
        "save it smaller (12 megapixels are plenty) and send it again",
        field="photo",
        value=pixels,
        limit=MAX_PIXELS,
    )


def broken(title: str) -> InputError:
    """Return the error for a file that cannot be read to its end."""
    return InputError(
        f"{title} breaks off or is damaged and cannot be read to its end: send it again from the camera", field="photo"
    )
