"""Experiments through the pages, as plain forms: from what is varied to what was learnt."""

import re

import numpy as np
import pytest
from scenes import Scene, jpeg, render

from dyewright.core.colour import light_of, xyz_from_reflectance
from dyewright.data.colour import load_chart, load_observer_tables

PLAN = {
    "factor": "pH",
    "name": "How much acid",
    "base": "1",
    "dye.1.name": "Lagoon",
    "dye.1.depth": "1 %",
    "sample": "5 g",
    "liquor": "40:1",
    "values": "4, 5.5, 7",
}
LABS = [(48, -16, -14), (50, -16, -14), (66, -14, -8)]
PLACES = [(520 + 190 * i, 330, 150, 420) for i in range(3)]


@pytest.fixture
def shelf(own):
    """A studio with one yarn, one dye and a pot."""
    own.post("/shelf/bases/new", data={"name": "Fellside wool", "fibres": "wool"})
    own.post("/shelf/dyes/new", data={"name": "Lagoon", "dye_class": "acid milling", "dye_lot": "26-A"})
    own.post("/shelf/pots/new", data={"name": "Small pot", "volume": "8 L", "heating": "induction", "power": "1800 W"})
    return own


@pytest.fixture
def planned(shelf):
    answer = shelf.post("/experiments/new", data={**PLAN, "keep": "1"})
    assert answer.status_code == 200, answer.text
    assert answer.url.path == "/experiments/1"
    return shelf


def test_the_way_there_from_runs_and_shelf(own):
    assert 'href="/experiments"' in own.get("/runs").text
    assert 'href="/experiments"' in own.get("/shelf").text
    assert "None yet" in own.get("/experiments").text


def test_an_empty_studio_may_plan_too(own):
    page = own.get("/experiments/new")
    assert page.status_code == 200
    assert "untreated wool, not on the shelf" in page.text
    assert 'role="alert"' not in page.text
    told = own.post("/experiments/new", data={**PLAN, "base": "", "dye.1.name": "Blue jar", "look": "1"})
    assert told.status_code == 200
    assert "Can it show a difference?" in told.text


def test_what_is_varied_changes_and_what_was_typed_stays(shelf):
    page = shelf.post("/experiments/new", data={**PLAN, "switch": "depth", "sample": "7 g"}).text
    assert re.search(r'value="depth"[^>]*aria-pressed="true"', page)
    assert 'value="7 g"' in page
    assert 'value="Lagoon"' in page
    assert 'name="values" type="text" value=""' in page  # a pH is no depth
    assert 'placeholder="0.25\u202f%"' in page  # by hand: a quarter of 1 %


def test_it_is_foretold_before_anything_is_kept(shelf):
    page = shelf.post("/experiments/new", data={**PLAN, "look": "1"})
    assert page.status_code == 200
    assert "What changes along" in page.text
    assert "Each jar gets its own acid" in page.text
    assert "None yet" in shelf.get("/experiments").text


@pytest.mark.parametrize("button", ["look", "keep"])
def test_an_error_stands_at_its_field_and_nothing_is_lost(shelf, button):
    page = shelf.post("/experiments/new", data={**PLAN, "values": "4, 5", "twin": "1", button: "1"})
    assert page.status_code == 422
    assert "3 to 7 different steps" in page.text
    assert 'value="4, 5"' in page.text
    assert re.search(r'name="twin" value="1" checked', page.text)
    assert not re.search(r'name="blank" value="1" checked', page.text)  # it was not ticked


def test_a_plan_and_a_run_can_be_varied(shelf):
    page = shelf.get("/plan", params={"yarn.dry": "100 g", "dye.1.name": "Lagoon", "dye.1.depth": "0.5 %", "base": "1"})
    assert "Vary one thing" in page.text
    card = re.search(r'action="/experiments/new"><input type="hidden" name="card" value="([^"]*)"', page.text)[1]
    card = card.replace("&#34;", '"').replace("&#39;", "'")
    begun = shelf.post("/experiments/new", data={"card": card, "base": "1", "of": "Lagoon half"})
    assert begun.status_code == 200
    assert "All else as in Lagoon half" in begun.text
    assert "Can it show a difference?" in begun.text
    shelf.post("/plan/keep", data={"card": card, "run_id": "7d2f2c1e-4f0f-4c39-9a51-0f6f3a6f0001", "base": "1"})
    run = shelf.get("/runs/7d2f2c1e-4f0f-4c39-9a51-0f6f3a6f0001")
    link = re.search(r'href="(/experiments/new\?run=[^"]+)"', run.text)[1]
    assert "Can it show a difference?" in shelf.get(link).text
    assert shelf.get("/experiments/new?run=none").status_code == 422


def test_sheet_and_tags_are_printed(planned):
    page = planned.get("/experiments/1").text
    assert "Glass cracks" in page
    assert "respirator" in page
    for name in ("sheet", "labels"):
        pdf = planned.get(f"/experiments/1/{name}.pdf")
        assert pdf.headers["content-type"] == "application/pdf"
        assert pdf.content.startswith(b"%PDF-")
    assert planned.get("/experiments/1/cards.pdf").status_code == 422


def test_runs_are_made_once(planned):
    for _ in range(2):
        planned.post("/experiments/1/runs")
    runs = planned.get("/runs").text
    assert runs.count("How much acid: ") == 3
    assert "Make a run of each sample" not in planned.get("/experiments/1").text


def test_what_was_seen_is_kept_and_told(planned):
    seen = {"heat_on": "2026-03-01T10:00", "clear.1": "40", "clear.2": "66", "end.3": "0.75", "end.1": "0.96875"}
    page = planned.post("/experiments/1/readings", data=seen)
    assert page.status_code == 200
    assert "At pH 7 a quarter of the dye stayed in the bath" in page.text
    assert 'name="clear.2" type="text" value="66"' in page.text
    wrong = planned.post("/experiments/1/readings", data={**seen, "half.2": "soon"})
    assert wrong.status_code == 422
    assert 'value="soon"' in wrong.text


def test_one_photo_gives_every_sample_its_colour(planned):
    weights, _ = light_of(load_observer_tables(), "D65", 10)
    chart = np.array([xyz_from_reflectance(np.array(patch.reflectance), weights) for patch in load_chart()])
    skeins = list(zip(PLACES, LABS, strict=True))
    picture = jpeg(render(Scene(skeins=skeins, chart_xyz=chart, strand_px=9, noise=0.006)))
    mark = planned.post("/experiments/1/photo", files={"photo": ("skeins.jpg", picture, "image/jpeg")})
    corners = dict(re.findall(r'name="(corner_\d)" value="([^"]+)"', mark.text))
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}
    verdict = planned.post(mark.url.path, data={"chart": "corners", "tolerance": "1", "target": "", **corners, **boxes})
    judgement = verdict.url.path.removeprefix("/verdicts/")
    assert f'{judgement}">The samples of How much acid' in verdict.text

    page = planned.get("/experiments/1/colours", params={"judgement": judgement})
    proposed = dict(re.findall(r'<select id="(region\.\d)".*?value="(\d*)" selected', page.text, re.DOTALL))
    assert proposed == {"region.1": "1", "region.2": "2", "region.3": "3"}
    assert "Keep them as swatches too" not in page.text  # only depths are

    done = planned.post(f"/experiments/1/colours?judgement={judgement}", data={**proposed, "source": "colorimeter"})
    assert done.url.path == "/experiments/1"
    assert "to the next" in done.text
    assert "At pH 7 the yarn is" in done.text
    assert planned.get("/experiments/1/cards.pdf").content.startswith(b"%PDF-")
    assert "all read" in planned.get("/experiments").text

    twice = planned.post(f"/experiments/1/colours?judgement={judgement}", data={"region.1": "2", "region.2": "2"})
    assert twice.status_code == 422
    assert "sample 2 is given twice" in twice.text


def test_an_experiment_can_be_taken_away_and_its_runs_stay(planned):
    planned.post("/experiments/1/runs")
    page = planned.post("/experiments/1/remove")
    assert page.url.path == "/experiments"
    assert "None yet" in page.text
    assert planned.get("/runs").text.count("How much acid: ") == 3
    assert planned.get("/experiments/1").status_code == 404
