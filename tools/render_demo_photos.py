"""Render the photos of the invented demo studio: `python tools/render_demo_photos.py [FOLDER]`.

Nobody held a camera: each is a picture computed from the demo's own numbers, skeins of known colour on a white board
beside a 24-patch chart, lit a little unevenly, with strands drawn as lit cylinders. Run tools/make_demo.py before.
"""

import csv
import sys
import tomllib
import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from make_demo import HERE, dyed, lab

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it announces optional parts that are not installed
    import colour

Array = NDArray[np.float64]

WIDTH, HEIGHT = 1280, 860
BOARD_FRAC = 0.80  # reflectance of the white board
GRADIENT = (0.06, -0.03)  # how the light falls off across and down
STRAND_PX, NOISE, SHADOW = 11.0, 0.004, 0.35
SKEIN_TOP, SKEIN_HEIGHT, SKEIN_WIDTH, GAP = 330, 470, 200, 60
CHART = (70, 50, 360, 240)  # x, y, width, height of the 24 patches; dark skin is at the top left
JUDGED_LATER_SPREAD = 0.5  # run 13 has no skeins on record yet: its photo shows them for the first time
SEED = 20261118
SRGB_FROM_XYZ = np.linalg.inv(np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]))
WHITE_10 = np.array([0.94811, 1.0, 1.07304])  # ASTM E308-01 table 5, D65 and 10°


def linear_of_lab(values: Array, white: Array) -> Array:
    """Return linear sRGB of a Lab colour whose white becomes the picture's white."""
    xyz = colour.Lab_to_XYZ(values, colour.XYZ_to_xy(white))
    at_d65 = xyz / white * np.array([0.9505, 1.0, 1.089])
    linear: Array = np.clip(SRGB_FROM_XYZ @ at_d65, 0.0, None)
    return linear


def strands(rng: np.random.Generator) -> tuple[Array, NDArray[np.bool_]]:
    """Return the shading of one skein, 0 to 1, and its outline: strands across, rounded at the ends."""
    y, x = np.mgrid[0:SKEIN_HEIGHT, 0:SKEIN_WIDTH].astype(float)
    waves = sum(
        rng.uniform(2.0, 5.0) * np.sin(2 * np.pi * (x / SKEIN_WIDTH * turns + y / SKEIN_HEIGHT * rng.uniform(-1, 1)))
        for turns in (0.5, 1.0, 2.0)
    )
    phase = ((y + waves + np.cumsum(rng.normal(0.0, 0.25, SKEIN_HEIGHT))[:, None]) / STRAND_PX) % 1.0
    across = np.abs(2.0 * phase - 1.0)
    cylinder = np.sqrt(1.0 - np.minimum(across, 0.94) ** 2)
    twist = 0.05 * np.sin(2 * np.pi * (x / 9.0 + 2.0 * phase))
    radius = 90.0
    edge_x = np.minimum(x, SKEIN_WIDTH - 1 - x)
    edge_y = np.minimum(y, SKEIN_HEIGHT - 1 - y)
    corner = np.hypot(np.maximum(radius - edge_x, 0.0), np.maximum(radius - edge_y, 0.0))
    roundness = np.clip(1.05 - 0.25 * (np.abs(x - SKEIN_WIDTH / 2) / (SKEIN_WIDTH / 2)) ** 3, 0.0, 1.0)
    return np.clip((0.45 + 0.55 * cylinder + twist) * roundness, 0.0, 1.05), corner <= radius


def render(skeins: list[Array], rng: np.random.Generator) -> Image.Image:
    """Return the picture of some skeins, Lab for D65 and 10°, beside the chart."""
    linear = np.full((HEIGHT, WIDTH, 3), BOARD_FRAC)
    draw_chart(linear)
    left = (WIDTH - len(skeins) * SKEIN_WIDTH - (len(skeins) - 1) * GAP) // 2
    for place, values in enumerate(skeins):
        shade, inside = strands(rng)
        x = left + place * (SKEIN_WIDTH + GAP)
        covered = np.zeros((HEIGHT, WIDTH))
        covered[SKEIN_TOP : SKEIN_TOP + SKEIN_HEIGHT, x : x + SKEIN_WIDTH] = inside
        linear *= (1.0 - SHADOW * gaussian_filter(np.roll(covered, (6, 3), (0, 1)), 9.0))[..., None]
        yarn = np.zeros_like(linear)
        yarn[SKEIN_TOP : SKEIN_TOP + SKEIN_HEIGHT, x : x + SKEIN_WIDTH] = (
            linear_of_lab(values, WHITE_10) * shade[..., None]
        )
        soft = gaussian_filter(covered, 0.7)[..., None]
        linear[:] = linear * (1.0 - soft) + np.where(yarn > 0.0, yarn, linear) * soft
    across, down = np.linspace(-1, 1, WIDTH), np.linspace(-1, 1, HEIGHT)
    linear *= np.exp(GRADIENT[0] * across[None, :] + GRADIENT[1] * down[:, None])[..., None]
    linear += rng.normal(0.0, NOISE, linear.shape) * np.sqrt(linear)
    seen = np.clip(linear, 0.0, 1.0)
    codes = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * np.maximum(seen, 1e-9) ** (1 / 2.4) - 0.055)
    return Image.fromarray(np.round(255 * codes).astype(np.uint8))


def draw_chart(linear: Array) -> None:
    """Draw the 24 patches by their published values into a dark frame."""
    x0, y0, width, height = CHART
    linear[y0 - 14 : y0 + height + 14, x0 - 14 : x0 + width + 14] = 0.025
    with (HERE.parents[1] / "data" / "chart_reference.csv").open(encoding="utf-8", newline="") as file:
        patches = [np.array([float(row[f"after_{axis}"]) for axis in "Lab"]) for row in csv.DictReader(file)]
    d50 = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    side = width // 6
    for place, values in enumerate(patches):
        xyz = colour.Lab_to_XYZ(values, colour.XYZ_to_xy(d50))
        at_d65 = colour.chromatic_adaptation(
            xyz, d50, np.array([0.9505, 1.0, 1.089]), method="Von Kries", transform="Bradford"
        )
        y, x = y0 + place // 6 * side, x0 + place % 6 * side
        linear[y + 4 : y + side - 4, x + 4 : x + side - 4] = np.clip(SRGB_FROM_XYZ @ at_d65, 0.0, 1.0)


def colours_of(demo: dict[str, Any], number: int, rng: np.random.Generator) -> list[Array]:
    """Return the skeins' colours of a run: as on record, else its recipe's with a small step for each."""
    with (HERE / "skeins.csv").open(encoding="utf-8", newline="") as file:
        kept = [
            np.array([float(row[axis]) for axis in "Lab"]) for row in csv.DictReader(file) if int(row["run"]) == number
        ]
    if kept:
        return kept
    run = demo["run"][number - 1]
    recipes = {colourway["name"]: colourway["recipe"] for colourway in demo["colourway"]}
    middle = lab(dyed(run["base"], run.get("recipe") or recipes[run["colourway"]]))
    return [middle + rng.normal(0.0, JUDGED_LATER_SPREAD, 3) for _ in range(run["skeins"])]


def main(folder: Path) -> None:
    """Render the photo of every run that has one into a folder."""
    demo = tomllib.loads((HERE / "demo.toml").read_text(encoding="utf-8"))
    for number, run in enumerate(demo["run"], start=1):
        if "photo" in run:
            rng = np.random.default_rng([SEED, number])
            picture = render(colours_of(demo, number, rng), rng)
            picture.save(folder / run["photo"], quality=84, subsampling=1, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
