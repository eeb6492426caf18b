"""Digital negatives and cameras' raw files, developed without any tone curve.

What is a raw file is read from its first bytes, not from its name: a photo kept in the studio has no name any more.

Sources: [1] DNG specification 1.4: tag DNGVersion. [2] TIFF 6.0, section 8: NewSubfileType and the first directory;
TIFF/EP (ISO 12234-2): photometric interpretation 32803 is a colour filter array, and a thumbnail comes first.
[3] The first bytes of the other kinds: LibRaw's `identify`, from memory.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from dyewright.errors import InputError
from dyewright.photo.light import averaged_light, reduction_for
from dyewright.photo.profile import Linearisation, linear_from_rec2020, linearisation

__all__ = ["Developed", "developed", "is_raw", "raw_size"]

_SIGNATURES = ((0, b"IIU\0"), (0, b"IIRO"), (0, b"IIRS"), (0, b"MMOR"), (0, b"FUJIFILM"), (8, b"CR\2"), (4, b"ftypcrx"))
_NEW_SUBFILE_TYPE, _PHOTOMETRIC, _DNG_VERSION = 254, 262, 50706  # [1], [2]
_THUMBNAIL, _COLOUR_FILTER_ARRAY = 1, 32803  # [2]


@dataclass(frozen=True)
class Developed:
    """A raw file as light: upright, with the clipped pixels, and how many sensor pixels lie along one of them.

    `red_to_blue` is how much redder than daylight the camera took the light to be, by its own white balance; None where
    the file does not say.
    """

    linear: NDArray[np.float32]
    clipped: NDArray[np.bool_]
    reduction: int
    red_to_blue: float | None


def is_raw(data: bytes) -> bool:
    """Return whether a file holds what a sensor saw, not a finished picture."""
    if any(data[at : at + len(sign)] == sign for at, sign in _SIGNATURES):
        return True
    if data[:4] not in {b"II*\0", b"MM\0*"}:
        return False
    tags = _first_directory(data)
    is_thumbnail_first = tags.get(_NEW_SUBFILE_TYPE) == _THUMBNAIL
    return _DNG_VERSION in tags or is_thumbnail_first or tags.get(_PHOTOMETRIC) == _COLOUR_FILTER_ARRAY


def _first_directory(data: bytes) -> dict[int, int]:
    """Return the tags of a TIFF's first directory, each with its value where that is one short or long number."""
    order = "<" if data[:1] == b"I" else ">"
    try:
        start = struct.unpack_from(f"{order}I", data, 4)[0]
        count = struct.unpack_from(f"{order}H", data, start)[0]
        entries = [struct.unpack_from(f"{order}HHI4s", data, start + 2 + 12 * i) for i in range(count)]
    except struct.error:
        return {}
    short = 3  # [2], section 2: the type of a 16-bit number
    return {
        tag: struct.unpack(f"{order}H", value[:2])[0] if kind == short else struct.unpack(f"{order}I", value)[0]
        for tag, kind, _, value in entries
    }


def raw_size(data: bytes, title: str) -> tuple[int, int]:
    """Return width and height of a raw file's picture, before it is developed.

    Raises:
        InputError: the file cannot be read as raw.
    """
    import rawpy

    try:
        with rawpy.imread(BytesIO(data)) as raw:
            return raw.sizes.width, raw.sizes.height
    except rawpy.LibRawError as error:
        raise _undevelopable(title, error) from error


def developed(data: bytes, title: str, most_pixels: int) -> Developed:
    """Return the light of a raw file.

    The camera's own white balance is applied and no tone curve; wide primaries keep saturated colours.

    Raises:
        InputError: the file cannot be developed.
    """
    import rawpy

    try:
        with rawpy.imread(BytesIO(data)) as raw:
            longest = max(raw.sizes.width, raw.sizes.height)
            red_to_blue = _red_to_blue(raw.camera_whitebalance, raw.daylight_whitebalance)
            codes = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                use_camera_wb=True,
                half_size=raw.sizes.width * raw.sizes.height > most_pixels,
                output_bps=16,
                output_color=rawpy.ColorSpace.Rec2020,
            )
    except rawpy.LibRawError as error:
        raise _undevelopable(title, error) from error
    halved = round(longest / max(codes.shape[:2]))  # a raw file without a mosaic is not halved
    further = reduction_for(codes.shape[0] * codes.shape[1], most_pixels)
    straight = linearisation(is_linear=True, codes=65536)
    how = Linearisation(straight.curves, linear_from_rec2020())
    linear, clipped = averaged_light(lambda top, bottom: codes[top:bottom], codes.shape[:2], how, further)
    return Developed(linear, clipped, halved * further, red_to_blue)


def _red_to_blue(taken: Sequence[float], daylight: Sequence[float]) -> float | None:
    """Return how much redder than daylight a light is, from the gains (red, green, blue …) that make greys of both."""
    gains = (taken[0], taken[2], daylight[0], daylight[2])
    if min(gains) <= 0:
        return None
    return float(gains[1] / gains[0] * gains[2] / gains[3])


def _undevelopable(title: str, error: Exception) -> InputError:
    said = error.args[0] if error.args else ""
    reason = said.decode("ascii", "replace") if isinstance(said, bytes) else str(said)
    return InputError(
        f"{title} is a raw file that cannot be developed here ({reason}): export it as JPEG or TIFF", field="photo"
    )
