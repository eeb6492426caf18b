"""One skein of a photo: its pixels cut out, light taken out, read, and what is unsure about its colour."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.colour import linear_from_srgb, srgb_from_linear
from dyewright.core.model import Shape
from dyewright.core.skeins import (
    Calibration,
    LightField,
    SkeinPixels,
    SkeinReading,
    inside_outline,
    log_light_slopes,
    outside_camera,
    outside_words,
    read_skein,
    straightened,
)
from dyewright.photo.load import LoadedPhoto
from dyewright.services.judging._ground import RING_FRAC

__all__ = ["Scene", "read_shape"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TO_LUMA_CHROMA = np.array([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]])  # ITU-T T.871, 7
BLOCK_PX = 16  # of a photo: JPEG's blocks are 8 × 8 samples (ITU-T T.81, A.1), of chroma taken at every other pixel
ROUNDING_PIXELS = 20_000  # enough to see how stored values scatter
LOSSY_FRAC = 0.0008  # of a channel: a lossy file smooths colour over strands and gaps (measured on drawn skeins)
OFF_FRAC = 0.05  # of light: 1 of L*, which an eye would take for another shade; ours
SKEIN_PIXELS = 120_000  # a larger skein is averaged down to about this many: strands stay apart in it


@dataclass(frozen=True)
class Scene:
    """A photo with everything that turns its pixels into colour; light is 1 where the colours are calibrated."""

    photo: LoadedPhoto
    calibration: Calibration
    field: LightField | None
    level: Floats

    def light(self, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
        """Return the light of each channel at places of the photo against where the colours are calibrated."""
        if self.field is None:
            return np.ones((*np.broadcast(x_px, y_px).shape, 3))
        return self.field.channels_at(x_px, y_px) / self.level


def read_shape(scene: Scene, shape: Shape, title: str) -> SkeinReading:
    """Return the colour of one skein; `title` is what to call it in a message.

    Raises:
        InputError: the outline is too small, or too much of what lies in it is clipped.
    """
    n = scene.photo.reduction
    left, top, right, bottom = (int(side / n) for side in shape.sides)
    rows, columns = slice(top, max(bottom, top + 1)), slice(left, max(right, left + 1))
    rgb, clipped, step = _shrunk(scene.photo.linear[rows, columns], scene.photo.clipped[rows, columns])
    y = _places(rows.start, rgb.shape[0], step) * n
    x = _places(columns.start, rgb.shape[1], step) * n
    light = scene.light(x[None, :], y[:, None])
    seen = straightened(scene.calibration.tone, np.asarray(rgb, float)) / light
    pixels = SkeinPixels(scene.calibration.xyz_of_light(seen), inside_outline(shape.outline, x, y), ~clipped, x, y)
    reading = read_skein(pixels, scene.calibration.white, title=title)
    rounding = _rounding_sd_lab(scene, rgb, pixels.is_inside, BLOCK_PX / (n * step), light.mean(axis=(0, 1)))
    off = _off_frac(scene.field, shape)
    local = 0.0 if scene.field is None else max(scene.field.local_frac, abs(off))
    slopes = log_light_slopes(reading.lab)
    lossy = 0.0 if scene.photo.luma_chroma_steps is None else LOSSY_FRAC
    left_over = np.sqrt(rounding**2 + (local * slopes.sum(axis=-1)) ** 2 + lossy**2 * np.sum(slopes**2, axis=-1))
    outside = outside_words(outside_camera(rgb[pixels.is_inside], from_file=scene.photo.from_file))
    return replace(
        reading,
        sd_lab=np.hypot(reading.sd_lab, left_over),
        warnings=(*reading.warnings, *filter(None, [outside, _off_words(off)])),
        grid=replace(reading.grid, sd_lab=np.hypot(reading.grid.sd_lab, left_over)),
    )


def _off_frac(field: LightField | None, shape: Shape) -> float:
    """Return by what share the ground round a skein is lighter than the fall of light would make it."""
    left, top, right, bottom = shape.sides
    return 0.0 if field is None else field.off_frac(shape.sides, RING_FRAC * min(right - left, bottom - top))


def _off_words(off_frac: float) -> str:
    if abs(off_frac) < OFF_FRAC:
        return ""
    way = "lighter" if off_frac > 0 else "darker"
    return (
        f"The ground round it is {100 * abs(off_frac):.0f} % {way} than the fall of light across the photo (a shadow, "
        "or the edge of one): its lightness is as unsure. Photograph the skeins again in one even light."
    )


def _places(start: int, count: int, step: int) -> Floats:
    return np.asarray(start + (np.arange(count) + 0.5) * step, float)


def _shrunk(rgb: NDArray[np.float32], clipped: Bools) -> tuple[NDArray[np.floating], Bools, int]:
    """Return a cut averaged over step × step of its pixels, so that about SKEIN_PIXELS are left."""
    step = max(1, round(float(np.sqrt(clipped.size / SKEIN_PIXELS))))
    rows, columns = clipped.shape[0] // step, clipped.shape[1] // step
    total = np.zeros((rows, columns, 3), np.float32)
    ended = np.zeros((rows, columns), bool)
    for down in range(step):
        for right in range(step):
            places = slice(down, rows * step, step), slice(right, columns * step, step)
            total += rgb[places]
            ended |= clipped[places]
    return np.divide(total, np.float32(step * step)), ended, step


def _rounding_sd_lab(
    scene: Scene, rgb: NDArray[np.floating], is_inside: Bools, block_px: float, light: Floats
) -> Floats:
    """Return the standard error in L*, a*, b* of an even area's colour through the rounding of stored values.

    Red, green and blue are rounded to 1/255. A lossy file rounds luma and two chromas before: of blocks, their means to
    its own steps (strands make pixels scatter, but hardly the means); of pixels, to 1/255, which larger steps hide.
    """
    is_linear, steps = scene.photo.is_linear_file, scene.photo.luma_chroma_steps
    stored = 255 * (np.maximum(rgb, 0) if is_linear else srgb_from_linear(np.maximum(rgb, 0)))
    inside = stored[is_inside]
    pixels = np.asarray(inside[:: max(1, len(inside) // ROUNDING_PIXELS)], float)
    errors = np.diag(_left_of_rounding(pixels, np.ones(3)))
    if steps is not None:
        means = _block_means(stored, is_inside, max(1, round(block_px)))
        sizes = np.array([steps[0], steps[1], steps[1]])
        of_means = _left_of_rounding(means @ TO_LUMA_CHROMA.T, sizes)
        of_pixels = np.where(sizes < 1, _left_of_rounding(pixels @ TO_LUMA_CHROMA.T, np.ones(3)), 0)
        errors = np.vstack([errors, np.hypot(of_means, of_pixels)[:, None] * np.linalg.inv(TO_LUMA_CHROMA).T])
    moved = (np.median(pixels, axis=0) + np.vstack([np.zeros(3), errors])) / 255
    labs = scene.calibration.lab((moved if is_linear else linear_from_srgb(moved)) / light)
    return np.asarray(np.linalg.norm(labs[1:] - labs[0], axis=0), float)


def _block_means(stored: NDArray[np.floating], is_inside: Bools, side: int) -> Floats:
    """Return the means of blocks that lie wholly inside a skein, shape (blocks, 3); all as one where none does."""
    rows, columns = (length // side for length in is_inside.shape)
    cut = slice(0, rows * side), slice(0, columns * side)
    within = is_inside[cut].reshape(rows, side, columns, side).all(axis=(1, 3))
    means = stored[cut].reshape(rows, side, columns, side, 3).mean(axis=(1, 3))[within]
    return np.asarray(means if len(means) else stored[is_inside].mean(axis=0, keepdims=True), float)


def _left_of_rounding(values: Floats, steps: Floats) -> Floats:
    """Return the standard error that rounding to steps leaves in the mean of values, shape (pixels, 3).

    An evenly spread rounding error has a standard deviation of 1/√12 of a step. Values that scatter with a standard
    deviation of s steps average all but exp(-2π²s²) of it out (B. Widrow, I. Kollár, Quantization Noise, Cambridge
    (2008), chapter 5: Gaussian dither). Two neighbouring steps alone, however mixed, show a variance of up to 1/4, so
    that only what lies above counts as scatter.
    """
    scatter = np.maximum(values.var(axis=0) / steps**2 - 0.25, 0)
    left: Floats = steps / np.sqrt(12) * np.exp(-2 * np.pi**2 * scatter)
    return left
