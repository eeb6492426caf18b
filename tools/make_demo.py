"""Make the colours of the invented demo studio: `python tools/make_demo.py [FOLDER]`.

Nothing here is measured. A dye is a sum of bell-shaped absorption bands, in K/S at 1 % on weight of fibre, that builds
up less and less with depth and a little more on some bases; a base is a yellowish white; a mix adds K/S over that of
its base (single-constant Kubelka-Munk [1]); reflectances get a little smooth noise from a seeded generator, as a
reading would. One swatch was weighed wrong, and one tub is weaker than the one before, so that there is something to
find. Skeins of a past run are the colour of its recipe moved by a random step in Lab, and one odd skein by a larger
one. Lab values are computed by colour-science, for D65 and 10°.

Sources: [1] P. Kubelka, F. Munk, Ein Beitrag zur Optik der Farbanstriche, Z. tech. Phys. 12 (1931) 593-601.
"""

import csv
import sys
import tomllib
import warnings
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it announces optional parts that are not installed
    import colour

Array = NDArray[np.float64]

HERE = Path(__file__).resolve().parent.parent / "src" / "dyewright" / "services" / "demo_data"
SEED = 20260829
NM = np.arange(400.0, 701.0, 10.0)
LADDER_PERCENT = (0.1, 0.5, 1.0, 2.0)
NOISE_FRAC = 0.004
NOISE_WIDTH_NM = 25.0
MASS_SPREAD_G = 1.2

# Invented: (centre nm, width nm, K/S at 1 % on weight of fibre) of each band.
BANDS: dict[str, list[tuple[float, float, float]]] = {
    "Gorse": [(425, 38, 10.0)],
    "Marigold": [(462, 42, 9.0)],
    "Rowan": [(508, 38, 10.5), (420, 40, 2.5)],
    "Foxglove": [(532, 30, 10.0), (400, 30, 1.0)],
    "Heather": [(572, 42, 8.5), (400, 30, 0.8)],
    "Kingfisher": [(622, 40, 10.0), (575, 30, 3.0)],
    "Lagoon": [(655, 48, 9.0), (600, 40, 4.5), (410, 40, 0.7)],
    "Deepwater": [(606, 60, 9.5), (420, 60, 2.2)],
    "Pine": [(650, 48, 8.0), (425, 42, 5.0)],
    "Moss": [(432, 50, 7.0), (610, 80, 3.2)],
    "Bracken": [(440, 65, 8.0), (540, 70, 3.6)],
    "Soot": [(580, 110, 9.0), (440, 70, 6.0), (690, 60, 4.0)],
    "Bluebell": [(590, 45, 7.5), (640, 35, 3.5)],
}
# Invented: reflectance far in the red, how much is missing at 400 nm, and over how many nm that fades.
WHITES: dict[str, tuple[float, float, float]] = {
    "Shoreline wool–silk": (0.82, 0.30, 70.0),
    "Fellside wool": (0.78, 0.36, 75.0),
    "Towpath sock": (0.80, 0.28, 65.0),
    "Mist lace": (0.84, 0.26, 70.0),
}
# Invented: the depth in % at which half of what proportion would give has built up; and how well bases take dye.
HALF_PERCENT = {"Deepwater": 9.0, "Soot": 8.0, "Kingfisher": 14.0, "Lagoon": 12.0, "Rowan": 18.0}
USUAL_HALF_PERCENT = 25.0
STRENGTH = {"Towpath sock": 1.2, "Mist lace": 1.1}
FIRST_TUB, NEW_TUB = "19-C", "26-A"  # lots of the tubs of Lagoon
NEW_TUB_STRENGTH = 0.88
WRONGLY_WEIGHED = ("Bracken", 2.0, 1.4)  # noted as 2 %, but 1.4 % went in: just enough to be noticed
LADDERS_FROM = date(2026, 1, 10)  # a ladder each week
OTHER_BASES = {"Fellside wool": ("Rowan", "Moss"), "Towpath sock": ("Deepwater", "Foxglove", "Soot")}
MIXES = (
    {"Lagoon": 0.2, "Moss": 0.1, "Soot": 0.03},
    {"Lagoon": 0.42, "Moss": 0.2, "Soot": 0.08},
    {"Rowan": 0.4, "Lagoon": 0.4},
)


def undyed(base: str) -> Array:
    """Return the reflectance of an undyed base."""
    red, missing, fade_nm = WHITES[base]
    white: Array = red - missing * np.exp(-(NM - 400.0) / fade_nm)
    return white


def dyed(base: str, percent: dict[str, float]) -> Array:
    """Return the reflectance of a recipe on a base, without noise."""
    white = undyed(base)
    k_s = (1.0 - white) ** 2 / (2.0 * white)  # [1], the opaque limit
    for dye, weighed in percent.items():
        counted = weighed * STRENGTH.get(base, 1.0)
        built_up = counted / (1.0 + counted / HALF_PERCENT.get(dye, USUAL_HALF_PERCENT))
        for centre, width, height in BANDS[dye]:
            k_s = k_s + built_up * height * np.exp(-0.5 * ((NM - centre) / width) ** 2)
    reflectance: Array = 1.0 + k_s - np.sqrt(k_s * (k_s + 2.0))
    return reflectance


def read(reflectance: Array, rng: np.random.Generator) -> Array:
    """Return a reflectance as an instrument with a little smooth noise would read it."""
    kernel = np.exp(-0.5 * ((NM[:, None] - NM[None, :]) / NOISE_WIDTH_NM) ** 2)
    noise = kernel @ rng.standard_normal(NM.size) / np.sqrt((kernel**2).sum(axis=1))
    seen: Array = np.clip(reflectance * (1.0 + NOISE_FRAC * noise), 0.0, 1.0)
    return seen


def lab(reflectance: Array) -> Array:
    """Return Lab for D65 and the 10° observer."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells that it interpolates
        shape = colour.SpectralShape(400, 700, 10)
        observer = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]
        spectrum = colour.SpectralDistribution(dict(zip(NM, reflectance, strict=True)))
        light = colour.SDS_ILLUMINANTS["D65"]
        xyz = colour.sd_to_XYZ(spectrum, observer.copy().align(shape), light.copy().align(shape)) / 100.0
        white = colour.CCS_ILLUMINANTS["CIE 1964 10 Degree Standard Observer"]["D65"]
        seen: Array = np.asarray(colour.XYZ_to_Lab(xyz, white))
        return seen


class Sample(NamedTuple):
    """A swatch: its base, its recipe as noted in per cent, the day, the tub's lot, and what really went in."""

    base: str
    noted: dict[str, float]
    dyed_on: date
    dye_lot: str
    went_in: dict[str, float]


def samples() -> list[Sample]:
    """Return every swatch: undyed bases, ladders, other bases, mixes, and one of a new tub."""
    shoreline = "Shoreline wool–silk"
    rows: list[tuple[str, dict[str, float], date]] = [(base, {}, LADDERS_FROM) for base in WHITES]
    week = timedelta(days=7)
    for number, dye in enumerate(BANDS):
        rows += [(shoreline, {dye: depth}, LADDERS_FROM + number * week) for depth in LADDER_PERCENT]
    later = LADDERS_FROM + len(BANDS) * week
    for number, (base, dyes) in enumerate(OTHER_BASES.items()):
        rows += [(base, {dye: depth}, later + number * week) for dye in dyes for depth in (0.5, 1.0)]
    rows += [(shoreline, dict(mix), later + 8 * week) for mix in MIXES]  # at the swatch evening, as the bridge below
    as_noted = [Sample(base, recipe, day, "", _went_in(recipe)) for base, recipe, day in rows]
    with_lots = [one._replace(dye_lot=_lot_text(one.noted)) for one in as_noted]
    bridge = Sample(shoreline, {"Lagoon": 1.0}, later + 8 * week, NEW_TUB, {"Lagoon": NEW_TUB_STRENGTH})
    return [*with_lots, bridge]


def _lot_text(noted: dict[str, float]) -> str:
    """Return the lots of a swatch's tubs as a swatch table holds them, of Lagoon's first tub where it is in it."""
    if "Lagoon" not in noted:
        return ""
    return FIRST_TUB if len(noted) == 1 else f"Lagoon={FIRST_TUB}"


def _went_in(recipe: dict[str, float]) -> dict[str, float]:
    dye, noted, weighed = WRONGLY_WEIGHED
    return {dye: weighed} if recipe == {dye: noted} else recipe


def write_swatches(file: Path, rng: np.random.Generator) -> None:
    """Write the swatch table: one row a swatch, reflectances from 0 to 1."""
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        columns = ["dye", "depth_percent", "base", "dyed_on", "dye_lot", "source", "note"]
        writer.writerow([*columns, *(f"R{nm:.0f}" for nm in NM)])
        for one in samples():
            mix = "+".join(f"{dye}={depth}" for dye, depth in one.noted.items())
            name, depth = (mix, "") if len(one.noted) > 1 else ("".join(one.noted), f"{sum(one.noted.values()):g}")
            curve = read(dyed(one.base, one.went_in), rng)
            about = [name, depth, one.base, one.dyed_on.isoformat(), one.dye_lot, "invented", "Invented data."]
            writer.writerow([*about, *(f"{value:.4f}" for value in curve)])


def write_skeins(file: Path, demo: dict[str, Any], rng: np.random.Generator) -> None:
    """Write the judged colours of the skeins of every run that was kept."""
    recipes = {colourway["name"]: colourway["recipe"] for colourway in demo["colourway"]}
    sizes = {base["name"]: base["skein_g"] for base in demo["base"]}
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["run", "skein", "mass_g", "L", "a", "b", "matching_set"])
        for number, run in enumerate(demo["run"], start=1):
            if "heat_on" not in run or not run.get("is_kept", True):
                continue
            middle = lab(dyed(run["base"], run.get("recipe") or recipes[run["colourway"]]))
            middle = middle + rng.normal(0.0, 0.6, 3)  # no dyeing repeats exactly
            odd, far = run.get("odd", (0, 0.0))
            for skein in range(1, run["skeins"] + 1):
                moved = middle + rng.normal(0.0, run["spread"] / np.sqrt(3.0), 3)
                if skein == odd:
                    moved = moved + far * np.array([-0.9, 0.3, 0.3])
                mass = sizes[run["base"]] + rng.normal(0.0, MASS_SPREAD_G)
                writer.writerow(
                    [number, skein, f"{mass:.1f}", *(f"{value:.2f}" for value in moved), "B" if skein == odd else "A"]
                )


def write_targets(file: Path, demo: dict[str, Any]) -> None:
    """Write the colour that each colourway's recipe gives, and that of each undyed base."""
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["of", "name", "L", "a", "b"])
        for base in WHITES:
            writer.writerow(["base", base, *(f"{value:.2f}" for value in lab(undyed(base)))])
        for colourway in demo["colourway"]:
            seen = lab(dyed(colourway["base"], colourway["recipe"]))
            writer.writerow(["colourway", colourway["name"], *(f"{value:.2f}" for value in seen)])


def main(folder: Path) -> None:
    """Write the three tables into a folder."""
    demo = tomllib.loads((HERE / "demo.toml").read_text(encoding="utf-8"))
    rng = np.random.default_rng(SEED)
    write_swatches(folder / "swatches.csv", rng)
    write_skeins(folder / "skeins.csv", demo, rng)
    write_targets(folder / "colours.csv", demo)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
