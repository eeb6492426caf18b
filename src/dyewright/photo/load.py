"""From a picture file to linear light: whatever a phone or a camera writes, refused with a sentence where it is broken.

The size is read from the file's header, and a picture beyond the limit is refused before it is decoded. A large one is
averaged in linear light by whole pixels while it is converted, in strips, so that memory stays bounded.
"""

from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError
from dyewright.photo.kinds import MAX_PIXELS, Picture, check_size, opened
from dyewright.photo.light import Strip, averaged_light, reduction_for, upright
from dyewright.photo.profile import (
    Linearisation,
    linear_from_primaries,
    linear_from_rec2020,
    linearisation,
    profile_linearisation,
)
from dyewright.photo.raw import developed, is_raw, raw_size

__all__ = ["MAX_PIXELS", "WORKING_PIXELS", "LoadedPhoto", "load_photo", "quick_photo"]

WORKING_PIXELS = 12_200_000  # what judging works on: a 12-megapixel photo whole, 12 bytes a pixel stay affordable; ours
QUICK_SIDE = 1500  # pixels of the longer side at least: enough to show, and to find skeins and a chart; ours
QUICK_PIXELS = 3_200_000


@dataclass(frozen=True)
class LoadedPhoto:
    """A picture in linear light, upright.

    `linear` holds (rows, columns, 3) values with sRGB's primaries, 1 at the file's own white; a colour outside sRGB has
    values below 0 or above 1. `clipped` marks pixels where a stored channel was at its end. `reduction` is how many
    original pixels lie along one pixel here; `width_px` and `height_px` are the upright original's. `luma_chroma_steps`
    are the steps, in 1/255, to which a lossy file rounded an even area's luma and chroma; None where it is not lossy.
    `from_file` took the file's own primaries to sRGB's; None where they are the same. `red_to_blue` is how much redder
    than daylight the light was by a raw file's white balance, which has been taken out; None where it is not known.
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
    from_file: NDArray[np.float32] | None = None
    red_to_blue: float | None = None


def load_photo(source: bytes | Path, *, name: str | None = None, is_linear: bool = False) -> LoadedPhoto:
    """Return a picture file in linear light, upright.

    Args:
        source: the file's bytes, or its path.
        name: what to call it in a message; the path's name where absent.
        is_linear: the stored values are linear light (a linear TIFF), not sRGB-encoded.

    Raises:
        InputError: no picture, a broken one, above 100 megapixels or under 64 pixels a side.
    """
    data, title = _data(source, name)
    if is_raw(data):
        return _load_raw(data, title)
    return _converted(opened(data, title), WORKING_PIXELS, is_linear=is_linear)


def quick_photo(source: bytes | Path, *, name: str | None = None) -> LoadedPhoto:
    """Return a picture file at a fraction of its size, sooner: to be shown and searched, never to be measured.

    A JPEG is decoded at a half, a quarter or an eighth, which averages stored values, not light.

    Raises:
        InputError: as `load_photo`.
    """
    data, title = _data(source, name)
    if is_raw(data):
        return _load_raw(data, title)
    return _converted(opened(data, title, QUICK_SIDE), QUICK_PIXELS, is_linear=False)


def _data(source: bytes | Path, name: str | None) -> tuple[bytes, str]:
    title = name or (source.name if isinstance(source, Path) else "the photo")
    data = _read(source, title) if isinstance(source, Path) else source
    if not data:
        raise InputError(f"{title} is empty (0 bytes): send the photo again", field="photo", value=0)
    return data, title


def _read(path: Path, title: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"{title} cannot be read ({reason}): give the path of a photo", field="photo") from error


def _converted(picture: Picture, most_pixels: int, *, is_linear: bool) -> LoadedPhoto:
    strip, how = _linearised(picture, is_linear=is_linear)
    rows, columns = picture.size
    further = reduction_for(rows * columns, most_pixels)
    linear, clipped = averaged_light(strip, picture.size, how, further)
    height, width = picture.full_size if picture.orientation <= 4 else picture.full_size[::-1]
    return LoadedPhoto(
        linear=upright(linear, picture.orientation),
        clipped=upright(clipped, picture.orientation),
        reduction=picture.reduction * further,
        width_px=width,
        height_px=height,
        media_type=picture.media_type,
        is_linear_file=is_linear,
        luma_chroma_steps=picture.luma_chroma_steps,
        notes=(*picture.notes, *filter(None, [how.note])),
        from_file=how.matrix,
    )


def _linearised(picture: Picture, *, is_linear: bool) -> tuple[Strip, Linearisation]:
    """Return the strips to read and how they become light."""
    if is_linear or not picture.icc:
        how = linearisation(is_linear=is_linear, codes=picture.codes)
        return picture.strip, replace(how, matrix=None if is_linear else linear_from_primaries(picture.primaries))
    how_by_profile = profile_linearisation(picture.icc, picture.codes)
    if how_by_profile is not None:
        return picture.strip, how_by_profile
    return _through_tables(picture, picture.icc)


def _through_tables(picture: Picture, icc: bytes) -> tuple[Strip, Linearisation]:
    """Convert by a profile of tables (no curves and matrix) to 8-bit sRGB; where even that fails, take it as sRGB."""
    from PIL import Image, ImageCms

    def converted(top: int, bottom: int) -> NDArray[np.uint8]:
        codes = picture.strip(top, bottom)
        eight_bit = codes if codes.dtype == np.uint8 else (codes >> 8).astype(np.uint8)
        return np.asarray(transform.apply(Image.fromarray(np.ascontiguousarray(eight_bit))))

    try:
        source = ImageCms.ImageCmsProfile(BytesIO(icc))
        transform = ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), "RGB", "RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        note = "The photo's colour profile could not be read; its values were taken as sRGB."
        return picture.strip, replace(linearisation(codes=picture.codes), note=note)
    return converted, linearisation()


def _load_raw(data: bytes, title: str) -> LoadedPhoto:
    check_size(raw_size(data, title), title)
    raw = developed(data, title, WORKING_PIXELS)
    rows, columns = raw.clipped.shape
    return LoadedPhoto(
        linear=raw.linear,
        clipped=raw.clipped,
        reduction=raw.reduction,
        width_px=columns * raw.reduction,
        height_px=rows * raw.reduction,
        media_type="image/x-raw",
        is_linear_file=True,
        from_file=linear_from_rec2020(),
        red_to_blue=raw.red_to_blue,
    )
