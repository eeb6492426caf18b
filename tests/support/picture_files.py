"""Small picture files that no library at hand can write: a HEIC photo and a raw file."""

import base64
import struct

import numpy as np

# 128 × 80 pixels, left half sRGB (200, 60, 40), right half (40, 90, 180); encoded once with libheif.
HEIC_TWO_HALVES = base64.b64decode(
    "AAAAHGZ0eXBoZWljAAAAAG1pZjFoZWljbWlhZgAAAVZtZXRhAAAAAAAAACFoZGxyAAAAAAAAAABwaWN0AAAAAAAAAAAAAAAAAAAA"
    "ACJpbG9jAAAAAERAAAEAAQAAAAABegABAAAAAAAAAGIAAAAjaWluZgAAAAAAAQAAABVpbmZlAgAAAAABAABodmMxAAAAAA5waXRt"
    "AAAAAAABAAAA1mlwcnAAAAC3aXBjbwAAAHhodmNDAQNwAAAAkAAAAAAAHvAA/P34+AAADwNgAAEAGEABDAH//wNwAAADAJAAAAMA"
    "AAMAHroCQGEAAQArQgEBA3AAAAMAkAAAAwAAAwAeoBAgUWW6kkprm4CGgwIAAAMAMgAAAwACEGIAAQAHRAHBcrAiQAAAABNjb2xy"
    "bmNseAABAA0ABoAAAAAUaXNwZQAAAAAAAACAAAAAUAAAABBwaXhpAAAAAAMICAgAAAAXaXBtYQAAAAAAAAABAAEEgQIDBAAAAGpt"
    "ZGF0AAAAXigBrwT4QTJp2/+ZX///7gG9l/Ro0k9HGDOuZsP59/5H+Wsx//4Vru2txl+2UtmGwusj75wsZnyTcPXNNJv8BbJiHt/L"
    "xAGzZMFeBCDPoBfoFqOWav18+ce+LkWWa+A="
)


def turned_heic(quarter_turns: int) -> bytes:
    """Return that HEIC photo with a box (`irot`, ISO/IEC 23008-12, 6.5.10) that turns it anticlockwise."""
    data = HEIC_TWO_HALVES
    turn = struct.pack(">I4sB", 9, b"irot", quarter_turns)
    at = data.index(b"ipma") - 4  # the properties end where their assignment begins: this is the fifth
    data = data[:at] + turn + data[at:]
    assigned = data.index(b"ipma") + 4 + 4 + 4 + 2  # past the type, version and flags, count of items, item number
    count = data[assigned]
    end = assigned + 1 + count
    data = data[:assigned] + bytes([count + 1]) + data[assigned + 1 : end] + b"\x85" + data[end:]
    for name, grown in ((b"ipco", 9), (b"ipma", 1), (b"iprp", 10), (b"meta", 10)):
        size = data.index(name) - 4
        data = data[:size] + struct.pack(">I", struct.unpack_from(">I", data, size)[0] + grown) + data[size + 4 :]
    offset = data.index(b"iloc") + 4 + 4 + 2 + 2 + 2 + 2  # past type, version, sizes, count, item and reference: base
    moved = struct.unpack_from(">I", data, offset)[0] + 10
    return data[:offset] + struct.pack(">I", moved) + data[offset + 4 :]


def dng(cfa: np.ndarray, neutral_percent: tuple[int, int, int] = (100, 100, 100)) -> bytes:
    """Return a minimal digital negative (DNG 1.4) of raw values 0 to 1 in an RGGB mosaic, camera space linear sRGB.

    `neutral_percent` is what the camera took for grey: its tag AsShotNeutral.
    """
    height, width = cfa.shape
    raw = (cfa * 65535).round().astype("<u2").tobytes()
    xyz_to_srgb = (3.2406, -1.5372, -0.4986, -0.9689, 1.8758, 0.0415, 0.0557, -0.2040, 1.0570)  # IEC 61966-2-1
    matrix = b"".join(struct.pack("<ii", round(value * 10000), 10000) for value in xyz_to_srgb)
    neutral = b"".join(struct.pack("<II", value, 100) for value in neutral_percent)
    short, long, byte, text, rational, signed = 3, 4, 1, 2, 5, 10
    tags = [
        (254, long, 1, 0),
        (256, long, 1, width),
        (257, long, 1, height),
        (258, short, 1, 16),
        (259, short, 1, 1),
        (262, short, 1, 32803),
        (271, text, 5, b"None\0"),
        (272, text, 5, b"None\0"),
        (273, long, 1, -1),
        (274, short, 1, 1),
        (277, short, 1, 1),
        (278, long, 1, height),
        (279, long, 1, len(raw)),
        (284, short, 1, 1),
        (33421, short, 2, struct.pack("<HH", 2, 2)),
        (33422, byte, 4, bytes([0, 1, 1, 2])),
        (50706, byte, 4, bytes([1, 4, 0, 0])),
        (50707, byte, 4, bytes([1, 1, 0, 0])),
        (50708, text, 7, b"Camera\0"),
        (50714, short, 1, 0),
        (50717, long, 1, 65535),
        (50721, signed, 9, matrix),
        (50728, rational, 3, neutral),
        (50778, short, 1, 21),
    ]
    start = 8 + 2 + 12 * len(tags) + 4
    directory, beyond = struct.pack("<H", len(tags)), b""
    strip = start + sum(len(value) for *_, value in tags if isinstance(value, bytes) and len(value) > 4) + 1
    strip += strip % 2
    for tag, kind, count, value in tags:
        directory += struct.pack("<HHI", tag, kind, count)
        if not isinstance(value, bytes):
            directory += struct.pack("<I", strip if value == -1 else value)
        elif len(value) <= 4:
            directory += value.ljust(4, b"\0")
        else:
            directory += struct.pack("<I", start + len(beyond))
            beyond += value
    return (b"II*\0" + struct.pack("<I", 8) + directory + b"\0" * 4 + beyond).ljust(strip, b"\0") + raw
