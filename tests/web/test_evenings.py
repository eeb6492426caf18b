"""Swatch evenings through the pages, as plain forms: from the plan to the swatches on the shelf."""

import re

import numpy as np
import pytest
from scenes import Scene, jpeg, render

from dyewright.core.colour import light_of, xyz_from_reflectance
from dyewright.data.colour import load_chart, load_observer_tables

LABS = [(80, 2, 20), (66, -14, -8), (48, -16, -14)]
PLACES = [(520 + 190 * i, 330, 150, 420) for i in range(3)]
ROWS = {"jar.1.recipe": "undyed", "jar.2.recipe": "Lagoon 0.1 %", "jar.3.recipe": "Lagoon 1 %", "jar.3.seat": "Window"}
PLAN = {"name": "Lagoon's ladder", "held_on": "2026-11-26", "mass": "5 g", "liquor": "40:1", "stock": "1 %", **ROWS}


@pytest.fixture(scope="module")
def picture():
    weights, _ = light_of(load_observer_tables(), "D65", 10)
    chart = np.array([xyz_from_reflectance(np.array(patch.reflectance), weights) for patch in load_chart()])
    skeins = list(zip(PLACES, LABS, strict=True))
    return jpeg(render(Scene(skeins=skeins, chart_xyz=chart, strand_px=9, noise=0.006)))


@pytest.fixture
def shelf(own):
    """A studio with one yarn and one dye, and the number of the yarn."""
    own.post("/shelf/bases/new", data={"name": "Fellside wool", "fibres": "wool"})
    own.post("/shelf/dyes/new", data={"name": "Lagoon", "dye_class": "acid milling", "dye_lot": "26-A"})
    return own


@pytest.fixture
def planned(shelf):
    answer = shelf.post("/evenings/new", data={**PLAN, "base": "1"})
    assert answer.status_code == 200, answer.text
    assert answer.url.path == "/evenings/1"
    return shelf


def test_a_studio_without_yarn_is_told_what_comes_first(own):
    page = own.get("/evenings/new")
    assert page.status_code == 200
    assert "put the yarn there first" in page.text


def test_jars_are_proposed_before_anything_is_typed(shelf):
    page = shelf.get("/evenings/new").text
    assert 'name="jar.1.recipe" value="undyed"' in page
    assert "the undyed yarn is not measured yet" in page
    assert "no swatch of Lagoon yet" in page


def test_what_was_typed_stays_when_jars_are_proposed(shelf):
    page = shelf.get(
        "/evenings/new", params={"propose": "1", "base": "1", "jars": "3", "liquor": "35:1", "purpose": "own"}
    )
    assert 'name="liquor" type="text" value="35:1"' in page.text
    assert 'name="jars" type="text" value="3"' in page.text


def test_an_error_stands_at_its_jar_and_nothing_is_lost(shelf):
    page = shelf.post("/evenings/new", data={**PLAN, "base": "1", "jar.3.recipe": "Lagon 1 %"})
    assert page.status_code == 422
    assert "did you mean Lagoon" in page.text
    assert 'value="Lagon 1 %"' in page.text
    assert 'value="Window"' in page.text


def test_the_sheet_stands_on_its_page_and_on_paper(planned):
    page = planned.get("/evenings/1").text
    assert "Glass cracks" in page
    assert "respirator" in page
    assert "Window" in page
    assert "Lagoon, 1\u202f%" in page

    pdf = planned.get("/evenings/1/sheet.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF-")


def test_pot_jars_and_acid_are_as_typed(planned):
    kept = planned.post("/evenings/1/set-up", data={"jar": "1 L", "acid": "citric acid", "ph": "4"})
    assert kept.status_code == 200
    page = planned.get("/evenings/1")  # it stands so from now on
    assert "citric acid, as 10\u202f% solution" in page.text
    assert "of 1\u202fL" in page.text


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"jar": "200 mL"}, "full enough at 170\u202fmL"),
        ({"jar": "0 mL"}, "a jar holds more than 0 L"),
        ({"acid": "cola"}, "is not known"),
        ({"ph": "4"}, "Name it"),
        ({"pot": "77"}, "not on the shelf"),
    ],
)
def test_what_cannot_be_worked_out_is_said_on_the_page(planned, query, said):
    page = planned.post("/evenings/1/set-up", data=query)
    assert page.status_code == 422
    assert said in page.text
    assert planned.get("/evenings/1/sheet.pdf").status_code == 200  # as it was before


def judged(client, picture):
    """Give the photo to the evening, judge it with its chart, and return the verdict's number."""
    mark = client.post("/evenings/1/photo", files={"photo": ("skeins.jpg", picture, "image/jpeg")})
    assert mark.status_code == 200, mark.text
    corners = dict(re.findall(r'name="(corner_\d)" value="([^"]+)"', mark.text))
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}
    verdict = client.post(mark.url.path, data={"chart": "corners", "tolerance": "1", "target": "", **corners, **boxes})
    assert verdict.status_code == 200, verdict.text
    assert f'{verdict.url.path.removeprefix("/verdicts/")}">The jars of Lagoon' in verdict.text  # the way back
    return verdict.url.path.removeprefix("/verdicts/")


def test_one_photo_makes_every_jar_a_swatch(planned, picture):
    judgement = judged(planned, picture)
    page = planned.get("/evenings/1/jars", params={"judgement": judgement})
    proposed = dict(re.findall(r'<select id="(region\.\d)".*?value="(\d*)" selected', page.text, re.DOTALL))
    assert proposed == {"region.1": "1", "region.2": "2", "region.3": "3"}
    assert page.text.count("evening-crop") == 3

    done = planned.post(f"/evenings/1/jars?judgement={judgement}", data={**proposed, "source": "colorimeter"})
    assert done.url.path == "/evenings/1"
    assert "3 of 3 jars are swatches" in done.text
    table = planned.get("/shelf/swatches.csv").text
    rows = table.splitlines()
    assert len(rows) == 1 + 3
    assert sum("26-A" in row for row in rows) == 2  # the tub in use, on the dyed ones
    column = rows[0].split(",").index("L")
    for row, lab in zip(rows[1:], LABS, strict=True):  # as drawn in the scene; a chart reads yarn to a few ΔE00
        assert float(row.split(",")[column]) == pytest.approx(lab[0], abs=6)

    planned.post(f"/evenings/1/jars?judgement={judgement}", data={**proposed, "source": "colorimeter"})
    assert len(planned.get("/shelf/swatches.csv").text.splitlines()) == 1 + 3

    cards = planned.get("/evenings/1/cards.pdf")
    assert cards.content.startswith(b"%PDF-")
    assert "all kept as swatches" in planned.get("/evenings").text


def test_two_skeins_cannot_be_one_jar(planned, picture):
    judgement = judged(planned, picture)
    page = planned.post(f"/evenings/1/jars?judgement={judgement}", data={"region.1": "2", "region.2": "2"})
    assert page.status_code == 422
    assert "jar 2 is given twice" in page.text


def test_colours_may_be_typed_instead(planned):
    typed = {"lab.1": "85 1 12", "lab.2": "70 -12 -8", "source": "colorimeter"}
    done = planned.post("/evenings/1/jars", data=typed)
    assert "2 of 3 jars are swatches" in done.text
    assert "not judged yet" in done.text


def test_no_photo_no_cards(planned):
    assert planned.get("/evenings/1/cards.pdf").status_code == 422
    page = planned.post("/evenings/1/photo", files={"photo": ("notes.txt", b"run 12", "text/plain")})
    assert page.status_code == 422
    assert "notes.txt is not a picture" in page.text


def test_an_evening_can_be_taken_away_and_its_swatches_stay(planned):
    planned.post("/evenings/1/jars", data={"lab.2": "70 -12 -8", "source": "colorimeter"})
    page = planned.post("/evenings/1/remove")
    assert page.url.path == "/evenings"
    assert "None yet" in page.text
    assert len(planned.get("/shelf/swatches.csv").text.splitlines()) == 1 + 1
    assert planned.get("/evenings/1").status_code == 404
