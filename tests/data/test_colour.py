import csv
import importlib.util
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from dyewright.data._reader import provenance
from dyewright.data.colour import load_chart, load_observer_tables

TOOL = Path(__file__).resolve().parents[2] / "tools" / "derive_colour_tables.py"
TABLES = ("observer_weights", "chart_reference", "chart_reflectance")


@pytest.fixture(scope="module")
def derived():
    pytest.importorskip("colour", reason="colour-science, the source of the tables, is not installed")
    spec = importlib.util.spec_from_file_location("derive_colour_tables", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.derived_tables()


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.filterwarnings("ignore")  # colour-science reports optional parts that are not installed
def test_shipped_table_is_what_the_tool_derives(derived, table):
    text = files("dyewright.data").joinpath(f"{table}.csv").read_text(encoding="utf-8")

    assert list(csv.reader(text.splitlines())) == derived[table]


@pytest.mark.parametrize("table", TABLES)
def test_each_table_says_where_it_comes_from(table):
    assert "colour-science 0.4.7" in provenance(table).reference


def test_observer_tables_cover_five_lights_and_both_observers():
    tables = load_observer_tables()

    assert set(tables.weights) == {(s, o) for s in ("D65", "A", "FL11", "LED-B3", "D50") for o in (2, 10)}
    assert all(w.shape == (31, 3) for w in tables.weights.values())


# CIE 015 white points (Y = 100) from sums at 1 nm, as colour-science 0.4.7 gives them. Rounding of the 31 shipped
# weights to 5 decimals allows 31 * 0.000005 = 0.0002; the figures have three decimals.
WHITES = {
    ("D65", 2): (95.047, 100, 108.883),
    ("D65", 10): (94.811, 100, 107.305),
    ("A", 2): (109.849, 100, 35.591),
    ("A", 10): (111.143, 100, 35.206),
    ("D50", 2): (96.424, 100, 82.513),
    ("FL11", 10): (103.821, 100, 65.558),
    ("LED-B3", 10): (103.310, 100, 67.907),
}


@pytest.mark.parametrize(("light", "white"), WHITES.items())
def test_white_points_are_the_published_ones(light, white):
    assert load_observer_tables().whites[light] == pytest.approx(white, abs=0.0012)


def test_whites_lie_near_the_printed_ones_of_astm_e308():
    # ASTM E308, from memory: D65/10 94.811 100 107.304; A/10 111.144 100 35.200; FL11/10 103.863 100 65.607, printed
    # for other interval rules: 0.05 of 100 would still show a swapped light or observer.
    whites = load_observer_tables().whites
    assert whites["D65", 10] == pytest.approx((94.811, 100, 107.304), abs=0.002)
    assert whites["A", 10] == pytest.approx((111.144, 100, 35.200), abs=0.01)
    assert whites["FL11", 10] == pytest.approx((103.863, 100, 65.607), abs=0.05)


def test_chart_has_the_makers_values_of_both_dates():
    chart = load_chart()

    assert [patch.number for patch in chart] == list(range(1, 25))
    # The chart maker's published Lab (D50, 2°), after and before November 2014.
    assert chart[0].lab_after_2014 == (37.54, 14.37, 14.92)
    assert chart[14].lab_after_2014 == (42.43, 51.05, 28.62)
    assert chart[18].lab_after_2014 == (95.19, -1.03, 2.93)
    assert chart[23].lab_after_2014 == (20.64, 0.07, -0.46)
    assert chart[0].lab_before_2014 == (37.99, 13.56, 14.06)
    assert chart[14].lab_before_2014 == (42.10, 53.38, 28.19)
    assert chart[18].lab_before_2014 == (96.54, -0.43, 1.19)
    assert chart[23].lab_before_2014 == (20.46, -0.08, -0.97)


def test_chart_spectra_belong_to_the_patches():
    spectra = np.array([patch.reflectance for patch in load_chart()])

    assert spectra.shape == (24, 31)
    assert np.all((spectra > 0) & (spectra < 1))
    assert spectra[18, 2:].min() > 0.8  # the white patch; its titanium dioxide absorbs below 420 nm
    assert spectra[23].max() < 0.04  # the black one
    assert spectra[14, -1] > 10 * spectra[14, 10]  # red reflects red
