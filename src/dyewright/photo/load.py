"""From a picture file to linear light: whatever a phone or a camera writes, refused with a sentence where it is broken.

The size is read from the file's header, and a picture beyond the limit is refused before it is decoded. A large one is
averaged in linear light by whole pixels while it is converted, in strips, so that memory stays bounded.
"""

import re
import struct
import warnings
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError
from dyewright.photo.profile import Linearisation, linear_from_rec2020, linearisation

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["MAX_PIXELS", "WORKING_PIXELS", "LoadedPhoto", "load_photo"]

MAX_PIXELS = 100_000_000  # the limit before decoding: twice a 48-megapixel phone; ours, no source
WORKING_PIXELS = 12_000_000  # what judging works on: strands stay apart, 12 bytes a pixel stay affordable; ours
MIN_SIDE = 64  # below this no skein holds enough pixels to speak of; ours
CLIPPED_CODE = 254  # a channel at 254 or 255 of 255 has lost its true value
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")
_RAW_SUFFIXES = {".dng", ".cr2", ".cr3", ".nef", ".arw", ".raf", ".orf", ".rw2", ".pef", ".srw"}
_KINDS = "JPEG, PNG, TIFF, WEBP, HEIC, DNG or a camera's raw file"
Scalar = TypeVar("Scalar", bound=np.generic)
_BROKEN = (OSError, SyntaxError, ValueError, EOFError, IndexError, TypeError, struct.error)


@dataclass(frozen=True)
class LoadedPhoto:
    """A picture in linear light, upright.

    `linear` holds (rows, columns, 3) values with sRGB's primaries, 1 at the file's own white; a colour outside sRGB has
    values below 0 or above 1. `clipped` marks pixels where a stored channel was at its end. `reduction` is how many
    original pixels lie along one pixel here; `width_px` and `height_px` are the upright original's. `luma_chroma_steps`
    are the steps, in 1/255, to which a lossy file rounded an even area's luma and chroma; None where it is not lossy.
    """

    linear: NDArray[np.float32]
    clipped: NDArray[np.bool_]
    reduction: int
    width_px: int
    height_px: int
    media_type: str
    is_linear_file: bool = False
    luma_chroma_steps: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()


def load_photo(source: bytes | Path, *, name: str | None = None, is_linear: bool = False) -> LoadedPhoto:
    """Return a picture file in linear light, upright.

    Args:
        source: the file's bytes, or its path.
        name: what to call it in a message; the path's name where absent.
        is_linear: the stored values are linear light (a linear TIFF), not sRGB-encoded.

    Raises:
        InputError: no picture, a broken one, above 100 megapixels or under 64 pixels a side.
    """
    title = name or (source.name if isinstance(source, Path) else "the photo")
    data = _read(source, title) if isinstance(source, Path) else source
    if not data:
        raise InputError(f"{title} is empty (0 bytes): send the photo again", field="photo", value=0)
    if Path(title).suffix.lower() in _RAW_SUFFIXES or _is_raw(data):
        return _load_raw(data, title)
    image = _opened(data, title)
    _check_size(image.size, title)
    return _converted(image, title, is_linear=is_linear)


def _read(path: Path, title: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"{title} cannot be read ({reason}): give the path of a photo", field="photo") from error


def _opened(data: bytes, title: str) -> "Image":
    from PIL import Image, UnidentifiedImageError

    try:
        if data[4:8] == b"ftyp":
            return _opened_heif(data)
        with warnings.catch_warnings():  # the library's own warning at 89 megapixels: our limit speaks instead
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
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
    except _BROKEN as error:
        raise _broken(title) from error


def _opened_heif(data: bytes) -> "Image":
    import pi_heif
    from PIL import Image

    heif = pi_heif.open_heif(BytesIO(data), convert_hdr_to_8bit=True)
    width, height = heif.size
    _check_size((width, height), "the photo")
    image: Image.Image = heif.to_pillow()
    image.format = "HEIF"
    return image


def _check_size(size: tuple[int, int], title: str) -> None:
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


def _broken(title: str) -> InputError:
    return InputError(
        f"{title} breaks off or is damaged and cannot be read to its end: send it again from the camera", field="photo"
    )


def _converted(image: "Image", title: str, *, is_linear: bool) -> LoadedPhoto:
    from PIL import ExifTags, Image

    mode, media = image.mode, Image.MIME.get(image.format or "", "image/heic")
    icc = image.info.get("icc_profile") if mode in {"RGB", "RGBA"} else None
    steps = _luma_chroma_steps(image)
    try:
        orientation = int(image.getexif().get(ExifTags.Base.Orientation, 1)) if image.format != "HEIF" else 1
        rgb, notes = _rgb8(image)
    except _BROKEN as error:
        raise _broken(title) from error
    how = linearisation(icc, is_linear=is_linear)
    if how is None:
        rgb, how = _through_profile(rgb, icc or b"")
    reduction = _reduction(rgb.size[0] * rgb.size[1])
    linear, clipped = _linear(np.asarray(rgb), how, reduction)
    width, height = rgb.size if orientation < 5 else rgb.size[::-1]
    return LoadedPhoto(
        linear=_upright(linear, orientation),
        clipped=_upright(clipped, orientation),
        reduction=reduction,
        width_px=width,
        height_px=height,
        media_type=media,
        is_linear_file=is_linear,
        luma_chroma_steps=steps,
        notes=(*notes, *filter(None, [how.note])),
    )


def _luma_chroma_steps(image: "Image") -> tuple[float, float] | None:
    """Return the steps of an even area's luma and chroma: a JPEG's first coefficient is eight times the mean of a block
    (ITU-T T.81, A.3.3), so its quantiser's step is an eighth in the mean, and 1 by the rounding of T.871 at least.
    """  # noqa: D205 - the sentence needs its source
    if image.format not in {"JPEG", "MPO", "HEIF", "WEBP"}:
        return None
    tables = getattr(image, "quantization", None) or {0: [8]}
    return max(1.0, tables[0][0] / 8), max(1.0, tables.get(1, tables[0])[0] / 8)


def _rgb8(image: "Image") -> tuple["Image", tuple[str, ...]]:
    """Return the decoded picture as 8-bit RGB, and what had to be said about it."""
    from PIL import Image

    image.load()
    if image.mode.startswith(("I", "F")):
        values = np.asarray(image, float)
        top = 65535.0 if image.mode.startswith("I") else max(float(values.max()), 1.0)
        grey = Image.fromarray(np.uint8(np.clip(values / top, 0, 1) * 255 + 0.5))
        return grey.convert("RGB"), ("The photo has no colour, only grey: judge lightness by it, nothing else.",)
    if image.mode in {"L", "LA", "1"}:
        return image.convert("RGB"), ("The photo has no colour, only grey: judge lightness by it, nothing else.",)
    return (image if image.mode == "RGB" else image.convert("RGB")), ()


def _through_profile(rgb: "Image", icc: bytes) -> tuple["Image", Linearisation]:
    """Convert by a profile of tables (no curves and matrix) to 8-bit sRGB; where even that fails, take it as sRGB."""
    from PIL import ImageCms

    plain = linearisation(None)
    if plain is None:  # pragma: no cover - sRGB always has its curves
        raise AssertionError
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(icc))
        target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
        converted = ImageCms.profileToProfile(rgb, source, target)
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        note = "The photo's colour profile could not be read; its values were taken as sRGB."
        return rgb, Linearisation(plain.curves, note=note)
    return converted or rgb, plain


def _reduction(pixels: int) -> int:
    return int(np.ceil(np.sqrt(pixels / WORKING_PIXELS)))


def _linear(
    codes: NDArray[np.uint8], how: Linearisation, reduction: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return linear light and the clipped pixels of an 8-bit picture, averaged over reduction × reduction pixels."""
    n = reduction
    rows, columns = codes.shape[0] // n, codes.shape[1] // n
    linear = np.empty((rows, columns, 3), np.float32)
    clipped = np.empty((rows, columns), bool)
    strip_rows = max(1, 256 // n)
    for top in range(0, rows, strip_rows):
        bottom = min(rows, top + strip_rows)
        strip = codes[top * n : bottom * n, : columns * n]
        full = np.logical_or.reduce([strip[..., channel] >= CLIPPED_CODE for channel in range(3)])
        light = np.empty(strip.shape, np.float32)
        for channel in range(3):
            light[..., channel] = how.curves[channel][strip[..., channel]]
        if n > 1:
            light = light.reshape(bottom - top, n, columns, n, 3).mean(axis=(1, 3))
            full = full.reshape(bottom - top, n, columns, n).any(axis=(1, 3))
        linear[top:bottom] = light if how.matrix is None else light @ how.matrix.T
        clipped[top:bottom] = full
    return linear, clipped


def _upright(pixels: NDArray[Scalar], orientation: int) -> NDArray[Scalar]:
    """Return pixels turned as the EXIF orientation tag (1 to 8) asks (CIPA DC-008, Exif 2.32, tag 0x0112)."""
    if orientation in {5, 6, 7, 8}:
        pixels = np.swapaxes(pixels, 0, 1)
    if orientation in {3, 4, 7, 8}:
        pixels = pixels[::-1]
    if orientation in {2, 3, 6, 7}:
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)


def _is_raw(data: bytes) -> bool:
    """Return whether a TIFF is a digital negative: tag DNGVersion (50706, DNG specification 1.4)."""
    from PIL import Image, UnidentifiedImageError

    if data[:4] not in {b"II*\0", b"MM\0*"}:
        return False
    try:
        Image.init()
        with Image.open(BytesIO(data), formats=("TIFF",)) as image:
            return 50706 in image.getexif()
    except (UnidentifiedImageError, Image.DecompressionBombError, *_BROKEN):
        return b"\xc6\x12" in data[:4096] or b"\x12\xc6" in data[:4096]


def _load_raw(data: bytes, title: str) -> LoadedPhoto:
    """Develop a raw file without any tone curve: the camera's own white balance, linear light, wide primaries."""
    import rawpy

    try:
        with rawpy.imread(BytesIO(data)) as raw:
            _check_size((raw.sizes.width, raw.sizes.height), title)
            is_halved = raw.sizes.width * raw.sizes.height > WORKING_PIXELS
            developed = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                use_camera_wb=True,
                half_size=is_halved,
                output_bps=16,
                output_color=rawpy.ColorSpace.Rec2020,
            )
    except rawpy.LibRawError as error:
        raise InputError(
            f"{title} is a raw file that cannot be developed here ({error}): export it as JPEG or TIFF", field="photo"
        ) from error
    reduction = 2 if is_halved else 1
    linear = np.asarray(developed / np.float32(65535), np.float32) @ linear_from_rec2020().T
    rows, columns = linear.shape[:2]
    return LoadedPhoto(
        linear=linear,
        clipped=np.any(developed >= 65534, axis=-1),
        reduction=reduction,
        width_px=columns * reduction,
        height_px=rows * reduction,
        media_type="image/x-raw",
        is_linear_file=True,
    )
