import re
from pathlib import Path

import pytest

from dyewright.units import SPOONS, scales

PAGE = Path(__file__).parents[2] / "docs" / "units.md"
SECTIONS = {
    "Mass (g)": scales.MASS,
    "Length (m)": scales.LENGTH,
    "Power (W)": scales.POWER,
    "Time (min)": scales.DURATION,
    "Temperature (degrees)": scales.TEMPERATURE,
    "Heating rate (°C/min)": scales.RAMP,
    "Turning (per min)": scales.TURNS,
    "Share (fraction)": scales.FRACTION,
    "Liquor ratio (L/kg)": scales.LIQUOR,
    "Strength of a solution (g/L)": scales.CONCENTRATION,
    "Alkalinity (mg/L as CaCO3)": scales.ALKALINITY,
    "Amount a litre of bath (g/L)": scales.BATH_MASS,
    "Volume a litre of bath (L/L)": scales.BATH_VOLUME,
}


def table(heading):
    section = PAGE.read_text(encoding="utf-8").split(f"### {heading}\n")[1].split("\n#")[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("| `")]
    return {tuple(re.findall(r"`([^`]+)`", row[0])): [cell.strip() for cell in row[1:]] for row in rows}


@pytest.mark.parametrize("heading", SECTIONS)
def test_the_table_of_units_is_the_programs(heading):
    documented = {names: float(cells[0]) for names, cells in table(heading).items()}

    assert documented == pytest.approx(dict(SECTIONS[heading].units), rel=1e-7)  # the page's digits


def test_the_table_of_volumes_is_the_programs():
    documented = {names: float(cells[0]) for names, cells in table("Volume (L)").items()}
    scale = scales.volume_scale("metric")
    without_spoons = {n: v for n, v in {**scale.units, **scale.also}.items() if n not in SPOONS["metric"]}

    assert documented == pytest.approx(without_spoons, rel=1e-9)


@pytest.mark.parametrize(("column", "spoons"), list(enumerate(["metric", "US", "UK", "Australian"])))
def test_the_table_of_spoons_is_the_programs(column, spoons):
    rows = table("Spoons and cups (mL)")
    documented = {names: float(cells[column]) / 1000 for names, cells in rows.items() if cells[column]}

    assert documented == pytest.approx(dict(SPOONS[spoons]), rel=1e-9)


def test_every_set_of_spoons_has_a_column():
    assert set(SPOONS) == {"metric", "US", "UK", "Australian"}
