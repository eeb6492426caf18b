"""Derive the shipped colour tables from the published data that colour-science carries.

Run it as `python tools/derive_colour_tables.py` after `pip install colour-science`; it rewrites three tables in
`src/dyewright/data`. `tests/data/test_colour.py` runs the same functions and compares them with what is shipped.

Sources: [1] CIE 015:2018, observers and illuminants, as colour-science 0.4.7 tabulates them. [2] ASTM E308 and E2022:
weights at 10 nm from data at 1 nm, and the rule that weights beyond the measured range are added to the last one
inside it. [3] the 24-patch chart: ISO 17321-1 spectra and the maker's Lab values of both dates, from the same package.
"""

import csv
import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(__file__).resolve().parents[1] / "src" / "dyewright" / "data"
ILLUMINANTS = ("D65", "A", "FL11", "LED-B3", "D50")
OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
CHART_DATES = {
    "after_2014": "ColorChecker24 - After November 2014",
    "before_2014": "ColorChecker24 - Before November 2014",
}
WAVELENGTHS_NM = range(400, 701, 10)

Table = list[list[str]]


def folded_weights(illuminant: str, observer: int) -> NDArray[np.float64]:
    """Return the weights at 400 to 700 nm by 10 nm, shape (31, 3), with the tails added to the ends [2]."""
    import colour
    from colour.colorimetry import tristimulus_weighting_factors_ASTME2022

    fine = colour.SpectralShape(360, 780, 1)
    weights = np.array(
        tristimulus_weighting_factors_ASTME2022(
            colour.MSDS_CMFS[OBSERVERS[observer]].copy().align(fine),
            colour.SDS_ILLUMINANTS[illuminant].copy().align(fine),
            colour.SpectralShape(360, 780, 10),
        ),
        np.float64,
    )
    folded = weights[4:35].copy()  # 400 to 700 nm
    folded[0] += weights[:4].sum(axis=0)
    folded[-1] += weights[35:].sum(axis=0)
    return folded


def observer_rows() -> Table:
    """Return the rows of observer_weights.csv."""
    return [
        [illuminant, str(observer), str(nm), *(f"{value:.5f}" for value in row)]
        for illuminant in ILLUMINANTS
        for observer in OBSERVERS
        for nm, row in zip(WAVELENGTHS_NM, folded_weights(illuminant, observer), strict=True)
    ]


def chart_lab(date: str) -> dict[str, NDArray[np.float64]]:
    """Return the Lab (D50, 2°) of each patch for one date, in the chart's reading order."""
    import colour

    chart = colour.CCS_COLOURCHECKERS[CHART_DATES[date]]
    return {
        name: np.array(colour.XYZ_to_Lab(colour.xyY_to_XYZ(xyy), chart.illuminant)) for name, xyy in chart.data.items()
    }


def chart_rows() -> Table:
    """Return the rows of chart_reference.csv."""
    after, before = chart_lab("after_2014"), chart_lab("before_2014")
    return [
        [str(number), name.strip(), *(f"{value:.2f}" for value in (*lab, *before_lab))]
        for number, ((name, lab), before_lab) in enumerate(zip(after.items(), before.values(), strict=True), start=1)
    ]


def chart_spectra_rows() -> Table:
    """Return the rows of chart_reflectance.csv."""
    import colour

    shape = colour.SpectralShape(400, 700, 10)
    spectra = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    return [
        [str(number), *(f"{value:.4f}" for value in spectrum.copy().align(shape).values)]
        for number, spectrum in enumerate(spectra.values(), start=1)
    ]


HEADERS: dict[str, list[str]] = {
    "observer_weights": ["illuminant", "observer_deg", "wavelength_nm", "wx", "wy", "wz"],
    "chart_reference": ["patch", "name", "after_L", "after_a", "after_b", "before_L", "before_a", "before_b"],
    "chart_reflectance": ["patch", *(f"R{nm}" for nm in WAVELENGTHS_NM)],
}


def derived_tables() -> dict[str, Table]:
    """Return every table by its file's stem, header first."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # colour-science reports optional parts that are not installed
        rows = {
            "observer_weights": observer_rows(),
            "chart_reference": chart_rows(),
            "chart_reflectance": chart_spectra_rows(),
        }
    return {stem: [HEADERS[stem], *table] for stem, table in rows.items()}


def main() -> None:
    """Write the tables."""
    for stem, table in derived_tables().items():
        with (DATA / f"{stem}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(table)
        print(f"{stem}.csv: {len(table) - 1} rows")


if __name__ == "__main__":
    main()
