"""The page of series: ends typed or taken, a triangle, doses, and everything typed kept when something is wrong."""

import re
from html import unescape

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.files.swatches import write_swatches

RNG = np.random.default_rng(8)
TABLE = write_swatches([base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 3), 0.3)])
for number, name in enumerate(("Lagoon", "Rowan", "Gorse")):
    TABLE = TABLE.replace(f"dye {number}", name)


def text_of(page):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))


def numbers_in(html):
    return re.findall(r'<b class="series-number in-(?:black|white)">(\d+)</b>', html)


@pytest.fixture
def stocked(own):
    assert own.post("/shelf/swatches", files={"file": ("swatches.csv", TABLE.encode(), "text/csv")}).status_code == 200
    return own


def test_the_page_asks_for_its_ends_first(stocked):
    page = stocked.get("/colours/series")
    assert page.status_code == 200
    assert "The first skein" in page.text
    assert "What goes into each pot" not in page.text


def test_a_series_shows_its_skeins_edge_to_edge_with_their_doses(stocked):
    page = stocked.get(
        "/colours/series", params={"from": "undyed", "to": "Lagoon=1+Rowan=0.2", "skeins": "6", "weight": "20 g"}
    )
    assert page.status_code == 200
    field = re.search(r'<div class="series-row.*?</div>', page.text, re.DOTALL)[0]
    assert len(re.findall(r'style="background: #[0-9a-f]{6}"', field)) == 6
    assert numbers_in(field) == ["1", "2", "3", "4", "5", "6"]
    text = text_of(page)
    assert "6 skeins, each ΔE" in text
    assert "Lagoon 1 %, Rowan 0.2 %" in text
    assert "; as measured; to the next" in text  # the undyed skein is not foretold and has no band
    # By hand: 1 % of 20 g is 0.2 g; the scale steps by 0.1 g, so it comes from a 1 % stock, 20 mL.
    assert "Lagoon, as 1 % stock: 20 mL" in text
    assert "respirator" in text


def test_what_cannot_be_measured_is_said(stocked):
    page = stocked.get(
        "/colours/series", params={"from": "undyed", "to": "Lagoon=0.05", "skeins": "5", "weight": "5 g"}
    )
    assert "cannot be measured well" in text_of(page)


def test_ends_may_be_swatches_and_colours(stocked):
    page = stocked.get("/colours/series", params={"from": "swatch 2", "to": "#405060", "skeins": "4"})
    assert page.status_code == 200
    assert "4 skeins" in text_of(page)


def test_an_end_may_be_a_colourway(stocked):
    kept = stocked.post("/colours", data={"target": "50 -10 -10", "name": "Harbour", "depth.Lagoon": "0.5"})
    assert kept.status_code == 200
    number = re.search(r"/colours/(\d+)", str(kept.url))[1]
    assert "as the first" in stocked.get("/colours/series").text
    page = stocked.get("/colours/series", params={"from": f"colourway {number}", "to": "Rowan=1", "skeins": "3"})
    assert "Lagoon 0.5 %" in text_of(page)


def test_three_dyes_make_a_triangle(stocked):
    asked = {"shape": "grid", "a": "Lagoon", "b": "Rowan", "c": "Gorse", "c-depth": "0,5", "side": "3"}
    page = stocked.get("/colours/series", params=asked)
    assert page.status_code == 200
    assert len(re.findall(r'<div class="series-row', page.text)) == 3
    assert "6 skeins, neighbours ΔE" in text_of(page)
    assert "Gorse 0.5 %" in text_of(page)


def test_each_square_of_a_triangle_bears_the_number_of_its_line_in_the_list(stocked):
    page = stocked.get("/colours/series", params={"shape": "grid", "a": "Lagoon", "b": "Rowan", "c": "Gorse"})
    rows = re.findall(r'<div class="series-row.*?</div>', page.text, re.DOTALL)
    listed = re.findall(r'<span class="doses-number">(\d+)</span>', page.text)
    assert [number for row in rows for number in numbers_in(row)] == listed == [str(n) for n in range(1, 16)]
    spoken = [re.search(r'role="img" aria-label="([^"]+)"', row)[1] for row in rows]
    assert [re.findall(r"(\d+): ", words) for words in spoken] == [numbers_in(row) for row in rows]


def test_a_number_is_black_on_a_light_colour_and_white_on_a_dark_one(stocked):
    page = stocked.get("/colours/series", params={"from": "undyed", "to": "20 0 -10", "skeins": "9"})
    inks = re.findall(r'class="series-number in-(\w+)"', page.text)
    # the undyed yarn is lighter than L* 50, the last skein darker; in between it changes once
    assert inks == sorted(inks)
    assert {inks[0], inks[-1]} == {"black", "white"}


def test_a_row_too_fine_for_numbers_has_none(stocked):
    page = stocked.get("/colours/series", params={"from": "undyed", "to": "Lagoon=1", "skeins": "30"})
    assert numbers_in(page.text) == []


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"from": "undyed", "to": "Plum=1"}, "dye 'Plum' has no swatch"),
        ({"from": "mauvish", "to": "Lagoon=1"}, "the colour 'mauvish' is not understood"),
        ({"from": "undyed", "to": "Lagoon=1", "skeins": "many"}, "'many' is no number of skeins"),
        ({"from": "undyed", "to": "Lagoon=1", "skeins": "1"}, "it has 2 to 60"),
        ({"from": "undyed", "to": "undyed"}, "both ends look alike"),
        ({"from": "undyed", "to": "Lagoon=1", "weight": "0 g"}, "above 0 g"),
        ({"shape": "grid", "a": "Lagoon", "b": "Rowan"}, "a dye for each corner"),
        ({"shape": "grid", "a": "Lagoon", "b": "Rowan", "c": "Rowan"}, "a dye stands twice"),
        ({"shape": "grid", "a": "Lagoon", "b": "Rowan", "c": "Gorse", "side": "2"}, "it has 3 to 11"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(stocked, asked, says):
    page = stocked.get("/colours/series", params=asked)
    assert page.status_code == 422
    assert says in text_of(page)
    for value in asked.values():
        assert value in unescape(page.text)


def test_without_swatches_the_page_says_what_is_missing(own):
    page = own.get("/colours/series", params={"from": "undyed", "to": "45 -20 -5"})
    assert page.status_code == 422
    assert "no swatch of a dye is on record yet" in text_of(page)
