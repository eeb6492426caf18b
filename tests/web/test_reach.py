"""The maps of what a shelf reaches, with the colourways of the book on them."""

import re
from html import unescape

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.files.swatches import write_swatches
from dyewright.services import reach_map

RNG = np.random.default_rng(8)
NAMES = ("Lagoon", "Rowan", "Gorse", "Heather")
TABLE = write_swatches([base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, len(NAMES)), 0.3)])
for number, name in enumerate(NAMES):
    TABLE = TABLE.replace(f"dye {number}", name)


def text_of(page):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))


@pytest.fixture
def stocked(own):
    assert own.post("/shelf/swatches", files={"file": ("swatches.csv", TABLE.encode(), "text/csv")}).status_code == 200
    return own


def keep(studio, target, name):
    page = studio.post("/colours", data={"target": target, "name": name, "depth.Lagoon": "0.5"})
    assert page.status_code == 200


def test_both_maps_are_drawn_in_neutral_grey_and_the_colours_of_dye(stocked):
    page = stocked.get("/reach")
    assert page.status_code == 200
    drawings = re.findall(r"<svg.*?</svg>", page.text, re.DOTALL)
    maps = [one for one in drawings if "clipPath" in one]
    assert len(maps) == 2
    for drawing in maps:
        strokes = re.findall(r'stroke="(#[0-9a-f]{6})"', drawing)
        assert strokes
        assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in strokes)
        assert len(re.findall(r'<rect[^>]+fill="#[0-9a-f]{6}"', drawing)) > 100
    assert "4 dyes on ecru" in text_of(page)


def test_a_colour_in_and_one_out_of_reach_are_told_apart_in_words(stocked):
    keep(stocked, "swatch 3", "Oat")
    keep(stocked, "50 90 -60", "Neon")
    text = text_of(stocked.get("/reach"))
    assert "1 of 2 colours lie within reach." in text
    assert "within reach" in text.split("Oat")[-1]
    # ΔE00 of so vivid a pink from any mix of dyes is far above 5; the words say which side it lies on.
    assert re.search(r"Neon .*? out of reach by ΔE00 \d+: (more vivid than the shelf gives|no mix has this hue)", text)


def test_a_colour_is_marked_on_the_map_of_its_own_lightness(stocked):
    keep(stocked, "60 0 10", "Oat")
    page = stocked.get("/reach", params={"lightness": "60", "hue": "90"})
    drawing = re.findall(r"<svg.*?</svg>", page.text, re.DOTALL)[-2]
    assert ">1</text>" in drawing
    far = stocked.get("/reach", params={"lightness": "20", "hue": "90"})
    assert ">1</text>" not in re.findall(r"<svg.*?</svg>", far.text, re.DOTALL)[-2]


def test_lighter_than_the_yarn_is_said(stocked):
    keep(stocked, "99 0 0", "Snow")
    assert "lighter than the undyed yarn" in text_of(stocked.get("/reach"))


def table_of(names):
    """Return the swatches of the undyed yarn and of some of the dyes."""
    head, *lines = TABLE.splitlines(keepends=True)
    gone = set(NAMES) - set(names)
    return "".join([head, *(line for line in lines if not any(name in line for name in gone))])


@pytest.fixture(params=[NAMES[:3], NAMES[:2]], ids=["three dyes", "two dyes"])
def sparse(own, request):
    """A shelf of few dyes, which reaches few hues."""
    files = {"file": ("swatches.csv", table_of(request.param).encode(), "text/csv")}
    assert own.post("/shelf/swatches", files=files).status_code == 200
    return own


def chosen(page, name):
    part = re.search(rf'<select id="{name}".*?</select>', page.text, re.DOTALL)[0]
    return int(re.search(r'<option value="(\d+)" selected', part)[1])


def painted(page):
    """Return how many pieces are painted on each of the two maps: patches of an area, or strokes of a line."""
    maps = re.findall(r"<svg[^>]*aria-label=\"Colours of.*?</svg>", page.text, re.DOTALL)
    return [len(re.findall(r'<rect x=|stroke-width="9"', one)) for one in maps]


NO_HUE = "Greys aside, no mix of these dyes has this hue. They are most vivid in"


def test_the_maps_open_where_there_is_something_to_see(sparse):
    pages = {hue: sparse.get("/reach", params={"hue": hue}) for hue in range(0, 360, 30)}
    assert {NO_HUE in text_of(page) for page in pages.values()} == {True, False}

    keep(sparse, "50 90 -60", "Neon")  # far out of reach: it does not choose the map
    page = sparse.get("/reach")
    assert NO_HUE not in text_of(page)
    assert min(painted(page)) > 5


def test_the_maps_open_on_the_first_colour_within_reach(sparse):
    keep(sparse, "50 90 -60", "Neon")
    keep(sparse, "swatch 4", "Own")  # a swatch of the first dye
    page = sparse.get("/reach")
    own = re.findall(r'href="/reach\?lightness=(\d+)&amp;hue=(\d+)">On the map', page.text)[1]
    # The named steps lie up to 10 apart in lightness and 45° in hue; beyond what is reached the colour's own is taken.
    assert abs(chosen(page, "lightness") - int(own[0])) <= 6
    assert abs((chosen(page, "hue") - int(own[1]) + 180) % 360 - 180) <= 23
    assert min(painted(page)) > 5


def test_an_empty_hue_leads_to_the_most_vivid_one(sparse):
    pages = (sparse.get("/reach", params={"hue": hue}) for hue in range(0, 360, 30))
    page = next(page for page in pages if NO_HUE in text_of(page))
    way = unescape(re.search(r'href="([^"]+)">Show that hue</a>', page.text)[1])
    there = sparse.get(way)
    assert painted(there)[1] > 5
    assert NO_HUE not in text_of(there)


@pytest.mark.parametrize(("lightness", "says"), [("99", "Nothing so light is reached"), ("1", "Nothing so dark is")])
def test_an_empty_lightness_is_said(sparse, lightness, says):
    page = sparse.get("/reach", params={"lightness": lightness})
    assert says in text_of(page)
    assert painted(page)[0] == 0


def test_one_dye_alone_has_no_map_of_a_hue(own):
    files = {"file": ("swatches.csv", table_of(NAMES[:1]).encode(), "text/csv")}
    assert own.post("/shelf/swatches", files=files).status_code == 200
    text = text_of(own.get("/reach"))
    assert "One dye alone gives a single colour at each lightness" in text
    assert NO_HUE not in text


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"lightness": "pale"}, "the lightness of a map is 'pale'"),
        ({"hue": "400"}, "a whole number from 0 to 360"),
        ({"base": "silk"}, "base 'silk' has no undyed swatch"),
    ],
)
def test_what_cannot_be_is_said(stocked, asked, says):
    page = stocked.get("/reach", params=asked)
    assert page.status_code == 422
    assert says in text_of(page)


def test_without_swatches_the_page_says_what_is_missing(own):
    page = own.get("/reach")
    assert page.status_code == 422
    assert "no swatch of a dye is on record yet" in text_of(page)


def test_what_a_shelf_reaches_is_worked_out_once(stocked):
    keep(stocked, "60 0 10", "Oat")
    stocked.get("/reach")
    first = reach_map._kept.cache_info()
    stocked.get("/reach", params={"lightness": "40"})
    second = reach_map._kept.cache_info()
    assert second.misses == first.misses
    assert second.hits > first.hits
