"""The forecast of a run as its pages show it, and how what is seen at the pot moves it."""

import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest


@pytest.fixture
def run(fresh):
    """The address of the demo's planned run."""
    return re.search(r'href="(/demo/runs/[0-9a-f-]{36})"', fresh.get("/demo/").text.split("Planned")[1])[1]


def send(client, run, *events):
    batch = [{"id": str(uuid4()), "happened_at": at.isoformat(), **event} for at, event in events]
    answer = client.post(f"{run}/events", json={"events": batch}).json()
    assert {receipt["outcome"] for receipt in answer["results"]} == {"recorded"}


def expected(page):
    return re.search(r'class="verdict">(.*?)</p>', page)[1]


def test_the_answer_stands_before_the_chart_and_what_it_rests_on_after(fresh, run):
    page = fresh.get(f"{run}/forecast").text

    marks = ('class="verdict"', "of 20 pots", "<svg", "Felting", "From class defaults")
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)
    assert "<html" in page


def test_htmx_gets_the_block_alone(fresh, run):
    answer = fresh.get(f"{run}/forecast", headers={"HX-Request": "true"})

    assert answer.text.lstrip().startswith("<section")
    assert "HX-Request" in answer.headers["vary"]


def test_the_drawing_follows_its_theme_and_the_one_in_the_page_follows_the_page(fresh, run):
    dim, light = (fresh.get(f"{run}/forecast.svg?theme={theme}&width_px=300") for theme in ("dim", "light"))

    assert dim.headers["content-type"] == "image/svg+xml"
    assert dim.text != light.text
    assert "var(--ink)" in fresh.get(f"{run}/forecast").text


@pytest.mark.parametrize("query", ["theme=neon", "width_px=5", "width_px=99999"])
def test_a_drawing_that_cannot_be_is_refused(fresh, run, query):
    assert fresh.get(f"{run}/forecast.svg?{query}").status_code == 422


def test_an_unknown_run_is_not_found(fresh):
    assert fresh.get(f"/demo/runs/{uuid4()}/forecast").status_code == 404


def test_a_look_at_the_bath_moves_the_forecast_and_undoing_it_moves_it_back(fresh, run):
    heat_on = datetime.now(UTC) - timedelta(minutes=50)
    send(fresh, run, (heat_on, {"kind": "started", "detail": {}}))
    before = expected(fresh.get(f"{run}/forecast").text)
    look = str(uuid4())
    seen = {"id": look, "kind": "clarity", "detail": {"exhaustion": 0.75}}
    send(fresh, run, (heat_on + timedelta(minutes=40), seen))

    after = fresh.get(f"{run}/forecast").text
    assert expected(after) != before
    assert "in at 40 min. Before anything was seen: expect" in after
    assert "From class defaults, pots of this studio and what was seen in this bath" in after
    assert "now, 50 min" in after

    send(fresh, run, (datetime.now(UTC), {"kind": "correction", "corrects": look}))
    assert expected(fresh.get(f"{run}/forecast").text) == before


def test_a_bath_seen_clear_says_so(fresh, run):
    heat_on = datetime.now(UTC) - timedelta(minutes=80)
    clear = {"kind": "clarity", "detail": {"exhaustion": 31 / 32}}
    send(fresh, run, (heat_on, {"kind": "started", "detail": {}}), (heat_on + timedelta(minutes=70), clear))

    assert "Seen clear at 70 min" in fresh.get(f"{run}/forecast").text


def test_a_look_before_heat_on_or_long_after_breaks_nothing(fresh, run):
    heat_on = datetime.now(UTC) - timedelta(hours=9)
    look = {"kind": "clarity", "detail": {"exhaustion": 0.5}}
    send(
        fresh,
        run,
        (heat_on, {"kind": "started", "detail": {}}),
        (heat_on - timedelta(minutes=5), look),
        (heat_on + timedelta(hours=8), look),
    )

    page = fresh.get(f"{run}/forecast")
    assert page.status_code == 200
    assert "Before anything was seen" not in page.text
