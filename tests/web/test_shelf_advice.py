"""Shelf advice: candidates typed, pasted or uploaded, weighed against a palette; nothing is written."""

import re
from html import unescape

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.files.swatches import write_swatches

RNG = np.random.default_rng(8)
CURVES = invented_curves(RNG, 5)
NAMES = ("Lagoon", "Rowan", "Gorse", "Saffron", "Plum")


def named(text):
    for number, name in enumerate(NAMES):
        text = text.replace(f"dye {number},", f"{name},")
    return text


EVERY = ladder_swatches(RNG, CURVES, 0.3)
TABLE = named(write_swatches([base_swatch(), *EVERY[:15]]))
CANDIDATES = named(write_swatches(EVERY[15:]))


def text_of(page):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))


@pytest.fixture
def stocked(own):
    assert own.post("/shelf/swatches", files={"file": ("swatches.csv", TABLE.encode(), "text/csv")}).status_code == 200
    return own


def lab_of(swatch):
    return " ".join(f"{value:.1f}" for value in swatch.lab)


def test_the_form_says_what_it_takes(stocked):
    page = stocked.get("/shelf/advice")
    assert page.status_code == 200
    assert "What you think of adding" in page.text


def test_a_dye_whose_colour_is_wanted_is_the_one_to_add(stocked):
    targets = f"{lab_of(EVERY[17])}\n{lab_of(EVERY[2])}"  # Saffron at 1 %, which is no mix of the three, and Lagoon's
    page = stocked.post("/shelf/advice", data={"targets": targets}, files={"table": ("more.csv", CANDIDATES.encode())})
    assert page.status_code == 200
    assert "With Saffron 2 of 2 colours come within ΔE00 2; today 1." in text_of(page)
    assert "in 19 of 20 cases" in text_of(page)


def test_candidates_may_be_typed_and_pasted(stocked):
    typed = stocked.post(
        "/shelf/advice",
        data={"targets": lab_of(EVERY[17]), "candidates": f"Saffron lab {lab_of(EVERY[17])} at 1 %\nMouse #8a8478"},
    )
    assert "With Saffron 1 of 1 colour comes within ΔE00 2; today 0." in text_of(typed)
    assert "known by one colour only: Mouse, Saffron" in text_of(typed)
    pasted = stocked.post("/shelf/advice", data={"targets": lab_of(EVERY[17]), "candidates": CANDIDATES})
    assert "With Saffron 1 of 1 colour comes" in text_of(pasted)


def test_what_is_reached_needs_nothing_bought(stocked):
    page = stocked.post("/shelf/advice", data={"targets": lab_of(EVERY[2]), "candidates": "Mouse lab 50 0 5"})
    assert "reaches 1 colour already: nothing needs to be bought" in text_of(page)
    assert "Which swatch to dye next" in page.text


def test_advice_writes_nothing(stocked):
    stocked.post("/shelf/advice", data={"targets": "50 0 0", "candidates": "Mouse lab 50 0 5 at 1 %"})
    assert "Mouse" not in stocked.get("/shelf").text
    assert "On record: 16" in stocked.get("/shelf/swatches").text


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"candidates": "Mouse lab 50 0 5"}, "0 colours were named"),
        ({"targets": "50 0 0"}, "no candidate was named"),
        ({"targets": "50 0 0", "candidates": "Mouse"}, "'Mouse' is no candidate"),
        ({"targets": "50 0 0", "candidates": "Mouse lab 50 0 5 at 0 %"}, "above 0 % and up to 100 %"),
        ({"targets": "50 0 0", "candidates": "Lagoon lab 50 0 5"}, "Lagoon is on the shelf already"),
        ({"targets": "mauve", "candidates": "Mouse lab 50 0 5"}, "the colour 'mauve' is not understood"),
        ({"targets": "50 0 0\n" * 13, "candidates": "Mouse lab 50 0 5"}, "13 colours were named"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(stocked, form, says):
    page = stocked.post("/shelf/advice", data=form)
    assert page.status_code == 422
    assert says in text_of(page)
    for value in form.values():
        assert value.split("\n")[0] in unescape(page.text)


def test_a_photo_as_table_is_refused(stocked):
    page = stocked.post(
        "/shelf/advice", data={"targets": "50 0 0"}, files={"table": ("skein.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF\0")}
    )
    assert page.status_code == 422
    assert "skein.jpg" in text_of(page)
