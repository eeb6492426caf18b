"""Render the invented demo studio's picture: `python tools/render_shore.py [FOLDER]`.

Nobody held a camera: a shore at low tide is computed from a few Lab colours and smooth noise, far enough from any real
place. Colours are taken from it on the page of pictures.
"""

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter, zoom

from dyewright.core.colour import display_rgb
from dyewright.data.colour import load_observer_tables
from make_demo import HERE

Array = NDArray[np.float64]

WIDTH, HEIGHT = 1080, 720
SEED = 20261126
HORIZON, WATER_LINE, DRY_SAND = 0.34, 0.53, 0.70  # heights from the top, as shares
# Lab (D65, 10°) of everything in the picture; invented
SKY_HIGH, SKY_LOW, CLOUD = (70.0, -5.0, -18.0), (88.0, 0.0, 7.0), (90.0, -1.0, 1.0)
HEADLAND, SEA_FAR, SEA_NEAR, FOAM = (50.0, -4.0, -11.0), (57.0, -9.0, -16.0), (47.0, -17.0, -11.0), (91.0, -2.0, 1.0)
WET_SAND, SAND, SAND_SHADE = (50.0, 4.0, 13.0), (73.0, 5.0, 20.0), (60.0, 6.0, 18.0)
ROCK, ROCK_LIT, WEED, LICHEN = (19.0, 1.0, 1.0), (42.0, 1.0, 3.0), (36.0, -9.0, 27.0), (62.0, 18.0, 54.0)
HULL, HULL_SHADE, RAIL = (43.0, 50.0, 31.0), (27.0, 33.0, 18.0), (85.0, 0.0, 6.0)


def noise(rng: np.random.Generator, across: float, down: float, octaves: int = 5) -> Array:
    """Return smooth noise of unit spread; `across` and `down` are how many swells lie along each side."""
    total = np.zeros((HEIGHT, WIDTH))
    for octave in range(octaves):
        columns, rows = (max(4, int(count * 2**octave) + 3) for count in (across, down))
        coarse = rng.normal(size=(min(rows, HEIGHT), min(columns, WIDTH)))
        fine = zoom(coarse, (HEIGHT / coarse.shape[0], WIDTH / coarse.shape[1]), order=3)[:HEIGHT, :WIDTH]
        total += fine / 2**octave
    even: Array = (total - total.mean()) / total.std()
    return even


def ramp(values: Array, start: float, stop: float) -> Array:
    """Return 0 below start, 1 above stop, smooth between, one more axis for Lab."""
    t = np.clip((values - start) / (stop - start), 0.0, 1.0)
    return (t * t * (3 - 2 * t))[..., None]


def over(below: Array, above: Array | tuple[float, ...], cover: Array) -> Array:
    """Return one colour laid over another by its cover, 0 to 1."""
    return below + (np.asarray(above, float) - below) * cover


def shore(rng: np.random.Generator) -> Array:
    """Return the picture as Lab, from the sky down."""
    v, u = np.mgrid[0:HEIGHT, 0:WIDTH] / np.array([HEIGHT, WIDTH])[:, None, None]
    clouds = noise(rng, 3, 9)
    sky = over(np.asarray(SKY_HIGH) + np.zeros((HEIGHT, WIDTH, 3)), SKY_LOW, ramp(v, 0.02, HORIZON))
    sky = over(sky, CLOUD, 0.75 * ramp(clouds - 2.0 * np.abs(v - 0.17) / 0.17, -0.6, 1.4))
    hills = HORIZON - 0.045 * np.clip((u - 0.55) / 0.3, 0, 1) ** 0.7 * (1 + 0.25 * noise(rng, 6, 1)[0])
    picture = over(sky, HEADLAND, ramp(v - hills, 0.0, 0.004))
    swell = noise(rng, 5, 60)
    sea = over(np.asarray(SEA_FAR) + np.zeros_like(sky), SEA_NEAR, ramp(v, HORIZON, WATER_LINE))
    sea = sea + np.array([3.2, 0.6, 1.0]) * swell[..., None] * np.clip((v - HORIZON) / 0.1, 0.25, 1)[..., None]
    picture = over(picture, sea, ramp(v, HORIZON, HORIZON + 0.003))
    edge = WATER_LINE + 0.022 * noise(rng, 3, 1)[0] + 0.03 * (u - 0.5)
    return _boat(_rocks(_ground(picture, sky, v, edge, rng), u, v, rng), u, v)


def _ground(picture: Array, sky: Array, v: Array, edge: Array, rng: np.random.Generator) -> Array:
    """Lay wet sand that mirrors the sky, dry sand with ripples, and the sea's foam over the picture."""
    mirror = np.roll(sky[::-1], -int(0.1 * HEIGHT), axis=0)
    wet = over(np.asarray(WET_SAND) + np.zeros_like(sky), mirror, 0.33 + 0.12 * np.tanh(noise(rng, 3, 20))[..., None])
    ripples = np.tanh(1.4 * noise(rng, 7, 70, 4) * np.clip((v - 0.6) / 0.3, 0.2, 1))
    dry = over(np.asarray(SAND) + np.zeros_like(sky), SAND_SHADE, 0.5 + 0.5 * ripples[..., None])
    grain = np.array([1.6, 0.3, 0.5]) * rng.normal(size=(HEIGHT, WIDTH, 1))
    dryness = ramp(v + 0.035 * noise(rng, 4, 6), DRY_SAND - 0.05, DRY_SAND + 0.05)
    picture = over(picture, over(wet, dry + grain, dryness), ramp(v - edge, 0.0, 0.006))
    lace = ramp(noise(rng, 30, 90, 3), -0.4, 1.0)
    for behind, cover in ((0.004, 0.95), (-0.022, 0.6), (-0.048, 0.4)):
        line = np.exp(-(((v - edge - behind) / 0.006) ** 2))[..., None]
        picture = over(picture, FOAM, cover * line * lace)
    return picture


def _rocks(picture: Array, u: Array, v: Array, rng: np.random.Generator) -> Array:
    """Lay rocks with weed and lichen over the lower left."""
    rough = noise(rng, 7, 6, 6)
    height = 1.3 * np.exp(-(((u - 0.08) / 0.26) ** 2) - ((v - 0.78) / 0.17) ** 2) + 0.13 * rough
    height += 0.62 * np.exp(-(((u - 0.43) / 0.06) ** 2) - ((v - 0.83) / 0.045) ** 2)
    cover = ramp(height, 0.50, 0.53)
    shadow = gaussian_filter(np.roll(cover[..., 0], (14, 16), (0, 1)), 9.0)[..., None]
    picture = picture * (1 - 0.38 * shadow * np.array([1.0, 0.4, 0.4]))
    light = np.gradient(gaussian_filter(rough, 2.0), axis=0)
    stone = over(np.asarray(ROCK) + np.zeros_like(picture), ROCK_LIT, ramp(-light, -0.01, 0.05))
    stone = over(stone, WEED, 0.85 * ramp(noise(rng, 9, 9, 5) + 6 * (v[...] - 0.86), 0.1, 0.9))
    stone = over(stone, LICHEN, 0.9 * ramp(noise(rng, 12, 12, 4) - 9 * (v - 0.66), 1.1, 1.7))
    return over(picture, stone, cover)


def _boat(picture: Array, u: Array, v: Array) -> Array:
    """Lay a small red boat, aground, with its shadow and its reflection."""
    x, y = (u - 0.72) / 0.095, (v - 0.625) / 0.042
    keel = 1.0 - 0.75 * np.abs(np.clip(x, -1.3, 1.3)) ** 2.6
    sheer = -0.9 - 0.35 * x**2
    hull = (y < keel) & (y > sheer) & (np.abs(x) < 1.0 + 0.12 * -y)
    soft = gaussian_filter(hull.astype(float), 0.9)[..., None]
    under = np.exp(-((x / 1.15) ** 4) - ((y - 1.15) / 0.30) ** 2)[..., None]
    picture = over(picture, (30.0, 4.0, 6.0), 0.6 * under)
    mirrored = np.exp(-((x / 0.9) ** 4) - ((y - 2.1) / 0.7) ** 2)[..., None]
    picture = over(picture, HULL_SHADE, 0.35 * mirrored)
    side = over(np.asarray(HULL) + np.zeros_like(picture), HULL_SHADE, ramp(y - 0.25 * x, -0.2, 1.0))
    picture = over(picture, side, soft)
    rail = gaussian_filter((np.abs(y - sheer - 0.12) < 0.10).astype(float) * hull, 0.7)[..., None]
    return over(picture, RAIL, rail)


def main(folder: Path) -> None:
    """Render the picture into a folder."""
    rng = np.random.default_rng(SEED)
    white = load_observer_tables().whites["D65", 10]
    codes, _ = display_rgb(gaussian_filter(shore(rng), (0.7, 0.7, 0)), white)
    picture = Image.fromarray(np.round(255 * codes).astype(np.uint8))
    picture.save(folder / "shore.jpg", quality=76, subsampling=2, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
