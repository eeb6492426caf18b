"""What a picture's numbers mean: from stored values to linear light with the primaries of sRGB.

Sources: [1] ICC.1:2022 (ISO 15076-1), 7 (header, tag table), 10.6 (curve), 10.18 (parametric curve), 10.31 (XYZ).
[2] IEC 61966-2-1 (sRGB): transfer function and primaries. [3] ITU-R BT.2020: primaries and white.
[4] ITU-T H.273: primaries by number.
The colorants of a profile are adapted to its D50 by the Bradford transform, as ICC.1:2022, annex E, recommends.

A phone writes photos in a wider colour space than sRGB and says so in an embedded profile. Converting to sRGB by 8 bit
would cut saturated dyes off; here the profile's own curves and colorants are applied in floating point, so that a
colour outside sRGB stays itself, with a value below 0 or above 1.
"""

import struct
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour.lab import bradford_matrix, linear_from_srgb, srgb_white, srgb_xyz_matrix

__all__ = [
    "EIGHT_BIT",
    "SIXTEEN_BIT",
    "Linearisation",
    "linear_from_primaries",
    "linear_from_rec2020",
    "linearisation",
    "profile_linearisation",
]

Floats = NDArray[np.float64]

REC2020_PRIMARIES = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))  # [3] table 3
_PRIMARIES = {  # [4] table 2, with the white of D65
    9: REC2020_PRIMARIES,
    12: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
PCS_WHITE = np.array([96.42, 100.0, 82.49])  # [1] 7.2.16: the D50 of the profile connection space
EIGHT_BIT, SIXTEEN_BIT = 256, 65536  # values a channel can have


@dataclass(frozen=True)
class Linearisation:
    """How stored values become linear light: a curve of a value a code, shape (3, codes), then a 3×3 matrix.

    `matrix` is None where the primaries are sRGB's own; `note` tells a reader what was assumed, empty where nothing.
    """

    curves: NDArray[np.float32]
    matrix: NDArray[np.float32] | None = None
    note: str = ""


def linear_from_primaries(number: int) -> NDArray[np.float32] | None:
    """Return the 3×3 matrix from linear light in the primaries of a number [4] to sRGB's; None where they are sRGB's.

    A number that no camera writes is taken as sRGB's.
    """
    primaries = _PRIMARIES.get(number)
    return None if primaries is None else _to_srgb(primaries)


def linear_from_rec2020() -> NDArray[np.float32]:
    """Return the 3×3 matrix from linear light in BT.2020's primaries to sRGB's; both have the white of D65."""
    return _to_srgb(REC2020_PRIMARIES)


def _to_srgb(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float32]:
    columns = np.stack([(x / y, 1.0, (1 - x - y) / y) for x, y in primaries], axis=1)
    to_xyz = columns * np.linalg.solve(columns, srgb_white())
    return _float32(np.linalg.solve(srgb_xyz_matrix(), to_xyz))


def linearisation(*, is_linear: bool = False, codes: int = EIGHT_BIT) -> Linearisation:
    """Return how a picture without a profile is linearised: as sRGB [2].

    Args:
        is_linear: the stored values are linear light already, in sRGB's primaries.
        codes: how many values a channel can have, 256 or 65536.
    """
    at = np.linspace(0, 1, codes)
    return Linearisation(np.tile(_float32(at if is_linear else linear_from_srgb(at)), (3, 1)))


def profile_linearisation(icc_profile: bytes, codes: int = EIGHT_BIT) -> Linearisation | None:
    """Return how a picture with this profile is linearised; None where the profile holds no curves and matrix."""
    try:
        return _from_matrix_profile(icc_profile, np.linspace(0, 1, codes))
    except (struct.error, KeyError, ValueError, IndexError):
        return None


def _from_matrix_profile(icc: bytes, at: Floats) -> Linearisation:
    tags = _tags(icc)
    curves = np.stack([_curve(tags[f"{channel}TRC"], at) for channel in "rgb"])
    to_pcs = np.stack([_xyz(tags[f"{channel}XYZ"]) for channel in "rgb"], axis=1)
    srgb_to_pcs = bradford_matrix(srgb_white(), PCS_WHITE) @ srgb_xyz_matrix()
    matrix = np.linalg.solve(srgb_to_pcs, 100 * to_pcs)
    is_srgb = bool(np.allclose(matrix, np.eye(3), atol=2e-3))  # the colorants are kept to about 1/65536 each
    return Linearisation(_float32(curves), None if is_srgb else _float32(matrix))


def _tags(icc: bytes) -> dict[str, bytes]:
    # [1] 7.3: a count at byte 128, then 12 bytes a tag: signature, offset, size
    if icc[16:20] != b"RGB " or icc[36:40] != b"acsp":
        raise ValueError("not an RGB profile")
    count = struct.unpack_from(">I", icc, 128)[0]
    entries = (struct.unpack_from(">4sII", icc, 132 + 12 * i) for i in range(min(count, 100)))
    return {name.decode("latin-1"): icc[offset : offset + size] for name, offset, size in entries}


def _xyz(tag: bytes) -> Floats:
    return np.array(struct.unpack_from(">3i", tag, 8)) / 65536.0  # [1] 10.31, s15Fixed16Number


def _curve(tag: bytes, at: Floats) -> Floats:
    """Return the linear values of a curve tag, of either kind, at stored values 0 to 1."""
    if tag[:4] == b"para":
        return _parametric(tag, at)
    if tag[:4] != b"curv":
        raise ValueError("not a curve")
    count = struct.unpack_from(">I", tag, 8)[0]  # [1] 10.6
    if count == 0:
        return at
    entries = np.array(struct.unpack_from(f">{count}H", tag, 12), float)
    if count == 1:
        gamma = float(entries[0]) / 256.0  # u8Fixed8Number
        return np.asarray(at**gamma, float)
    return np.interp(at, np.linspace(0, 1, count), entries / 65535.0)


def _parametric(tag: bytes, at: Floats) -> Floats:
    kind = struct.unpack_from(">H", tag, 8)[0]
    size = (1, 3, 4, 5, 7)[kind]  # [1] table 68
    g, a, b, c, d, e, f = (
        np.pad(np.array(struct.unpack_from(f">{size}i", tag, 12)) / 65536.0, (0, 7 - size))
        if size > 1
        else np.array([struct.unpack_from(">i", tag, 12)[0] / 65536.0, 1, 0, 0, 0, 0, 0])
    )
    if kind in {1, 2}:  # below -b/a the value is 0 (type 1) or c (type 2)
        d, e, f, c = -b / a, (0.0 if kind == 1 else c), (0.0 if kind == 1 else c), 0.0
    linear: Floats = np.where(d <= at, np.maximum(a * at + b, 0) ** g + e, c * at + f)
    return linear


def _float32(values: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, dtype=np.float32)
