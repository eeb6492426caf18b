"""What of a judged photo was not read: shadow, glare, washed out, and the rim of each outline."""

from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.model import Shape
from dyewright.core.skeins import SkeinReading, inside_outline
from dyewright.errors import InputError
from dyewright.photo.draw import drawn
from dyewright.photo.load import LoadedPhoto
from dyewright.services.judging._photo import Seen
from dyewright.services.judging._skein import read_shape
from dyewright.services.judging.shop_picture import seen_again, sitting

__all__ = ["left_out_png"]

SIDE_PX = 1600  # of the mask's longer side: as fine as the picture is drawn


def left_out_png(session: Session, judgement_id: UUID, number: int = 1) -> bytes:
    """Return the `number`-th photo of a verdict with what was not read hatched, read again as it was judged.

    Raises:
        NotFoundError: no such verdict.
        InputError: it has fewer photos, or this version cannot read the photo as the verdict's did.
    """
    seen = seen_again(sitting(session, judgement_id, number))
    return drawn(seen.scene.photo, [], [], _left_out(seen))


def _left_out(seen: Seen) -> NDArray[np.bool_]:
    """Return which pixels inside the outlines were not read, as a mask of the whole photo."""
    photo = seen.scene.photo
    scale = min(1.0, SIDE_PX / max(photo.width_px, photo.height_px))
    mask = np.zeros((round(photo.height_px * scale), round(photo.width_px * scale)), bool)
    for shape in seen.boxes:
        _add(mask, scale, photo, shape, _read(seen, shape))
    return mask


def _read(seen: Seen, shape: Shape) -> SkeinReading | None:
    try:
        return read_shape(seen.scene, shape, "this skein")
    except InputError:  # nothing of it can be read: then all of it was left out
        return None


def _add(mask: NDArray[np.bool_], scale: float, photo: LoadedPhoto, shape: Shape, reading: SkeinReading | None) -> None:
    """Put into the mask what of one outline was not read."""
    import cv2

    n = photo.reduction
    left, top, right, bottom = (int(int(side / n) * n * scale) for side in shape.sides)
    rows = slice(top, min(max(bottom, top + 1), mask.shape[0]))
    columns = slice(left, min(max(right, left + 1), mask.shape[1]))
    size = (columns.stop - columns.start, rows.stop - rows.start)
    lit = np.zeros(size[::-1], bool)
    if reading is not None:
        lit = cv2.resize(reading.is_lit.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST).astype(bool)
    x = (np.arange(columns.start, columns.stop) + 0.5) / scale
    y = (np.arange(rows.start, rows.stop) + 0.5) / scale
    mask[rows, columns] |= inside_outline(shape.outline, x, y) & ~lit
