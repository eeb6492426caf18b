"""Who may come in, and what a fresh machine shows."""

import sqlite3

import pytest
from starlette.testclient import TestClient


def test_a_fresh_machine_offers_the_demo_or_a_studio_of_ones_own(fresh):
    page = fresh.get("/")
    assert page.url.path == "/welcome"
    assert "Look round the demo" in page.text
    assert "Begin my own" in page.text


def test_a_studio_without_a_name_is_not_begun_and_the_sentence_says_so(fresh):
    page = fresh.post("/begin", data={"name": "  "})
    assert page.status_code == 422
    assert "needs a name" in page.text
    assert fresh.get("/").url.path == "/welcome"


def test_begun_once_the_studio_opens_on_today(own):
    page = own.get("/")
    assert page.status_code == 200
    assert "Test shed" in page.text
    assert own.get("/welcome").url.path == "/", "the welcome page has done its work"


def test_a_studio_without_swatches_is_led_to_its_leftovers(own):
    assert 'href="/shelf/swatches">three leftovers' in own.get("/").text
    own.post("/shelf/swatches/typed", data={"recipe": "undyed", "base": "Merino", "colour": "88 0 10"})
    assert "three leftovers" not in own.get("/").text


@pytest.mark.parametrize(
    ("path", "part"),
    [("/evenings/new", "Shelf"), ("/shelf/advice", "Shelf"), ("/reach", "Colours"), ("/colours/series", "Colours")],
)
def test_the_navigation_says_which_part_of_the_studio_a_page_is(fresh, path, part):
    assert f'aria-current="page">{part}</a>' in fresh.get(f"/demo{path}").text


def test_the_demo_says_that_it_is_invented(fresh):
    page = fresh.get("/demo/")
    assert page.status_code == 200
    assert "invented data" in page.text


def test_a_form_from_another_site_changes_nothing(own):
    answer = own.post("/shelf/dyes/new", data={"name": "Reed"}, headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert "Reed" not in own.get("/shelf").text


def test_a_foreign_host_name_is_refused(own):
    assert own.get("/", headers={"host": "studio.example"}).status_code == 403


@pytest.mark.parametrize("path", ["/", "/welcome", "/demo/", "/static/style.css", "/no-such-page"])
def test_every_answer_carries_the_content_policy(fresh, path):
    policy = fresh.get(path).headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "script-src" not in policy, "scripts fall under default-src: shipped files only"


def test_an_unknown_page_is_a_sentence_not_a_trace(own):
    page = own.get("/no-such-page")
    assert page.status_code == 404
    assert "There is no such page here." in page.text


def test_a_body_beyond_the_limit_is_refused_before_it_is_read(own):
    answer = own.post("/shelf/dyes/new", content=b"", headers={"content-length": "200000000"})
    assert answer.status_code == 413
    assert "200 MB" in answer.text
    assert "150 MB" in answer.text


def test_a_studio_whose_tables_are_gone_answers_with_a_sentence(own, tmp_path):
    with sqlite3.connect(tmp_path / "own.sqlite") as connection:
        connection.execute("DROP TABLE swatch")
    with TestClient(own.app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        page = client.get("/shelf")
    assert page.status_code == 500
    assert "The tool made a mistake here." in page.text


def test_the_demo_begins_anew_and_ones_own_studio_never_does(own):
    own.post("/demo/shelf/dyes/new", data={"name": "Zinnia"})
    assert "Zinnia" in own.get("/demo/shelf").text
    assert own.post("/demo/anew").url.path == "/demo/"
    assert "Zinnia" not in own.get("/demo/shelf").text
    assert own.post("/anew").status_code == 404
    assert "Test shed" in own.get("/").text
