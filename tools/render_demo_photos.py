"""Render the photos of the invented demo studio: `python tools/render_demo_photos.py [FOLDER]`.

Nobody held a camera: each is a picture computed from the demo's own numbers by the renderer that the judge is tried on,
skeins of known colour on a grey board beside a 24-patch chart in a window's light. Run tools/make_demo.py before.
"""

import csv
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from make_demo import HERE, dyed, lab

sys.path.insert(0, str(HERE.parents[3] / "tests" / "support"))
from yarn_scenes import Conditions, Form, Truth, make, spectra

Array = NDArray[np.float64]

MEGAPIXELS = 1.2
JUDGED_LATER_SPREAD = 0.5  # run 13 has no skeins on record yet: its photo shows them for the first time
SEED = 20261118
BY_A_WINDOW = Conditions(
    ground="grey board",
    chart_side="left",
    chart_cm=22.0,
    chart_turn_deg=90.0,
    view_cm=78.0,
    peak=0.96,
    direct_frac=0.12,
    far_cm=260.0,
    vignette_frac=0.03,
)
DYES = spectra.Dyeing((425.0, 525.0, 620.0), (40.0, 35.0, 45.0), (0.3, 0.3, 0.3))  # a yellow, a red, a blue


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
        if "photo" not in run:
            continue
        colours = colours_of(demo, number, np.random.default_rng([SEED, number]))
        truth = Truth(
            number=len(colours),
            form=Form.HANK,
            dyeings=tuple(DYES.matched(values) for values in colours),
        )
        scene = make(SEED + number, truth=truth, conditions=BY_A_WINDOW, megapixels=MEGAPIXELS)
        (folder / run["photo"]).write_bytes(scene.jpeg)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
