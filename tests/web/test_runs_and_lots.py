"""The pages of runs and lots, through the real application on a copy of the demo."""

import re
import sqlite3
from contextlib import closing
from uuid import uuid4

import pytest
from picture_files import HEIC_TWO_HALVES

from dyewright.services import foreseen

DEMO = "/demo"


@pytest.fixture
def pages(fresh):
    """The links of the list of runs, by title."""
    listed = fresh.get(f"{DEMO}/runs").text
    links = re.findall(r'href="(/demo/runs/[0-9a-f-]{36})".*?slip-title">([^<]+)<', listed, re.DOTALL)
    return {title: link for link, title in links}


def posted(client, link, form, **fields):
    return client.post(f"{link}/{form}", data={"id": str(uuid4()), **fields})


def test_the_list_shows_every_run_with_its_state_and_colour(fresh, pages):
    listed = fresh.get(f"{DEMO}/runs").text
    assert len(pages) == 15
    assert listed.count("kept as") == 12
    assert "meant to be dark greyish teal" in listed
    assert fresh.get(f"{DEMO}/runs?below=3").text.count("slip-title") == 2


def test_a_kept_run_shows_planned_against_happened(fresh, pages):
    page = fresh.get(pages["Choir shawls, sea-green 4 of 5"]).text
    for words in (
        "Kept as lot 9.",
        "ΔE00 from the target",
        "2\u202fmin late",
        "Telephone rang",
        "Sea-green 4, drop-off",
    ):
        assert words in page
    assert page.count("<svg") >= 2


def test_a_repeat_is_recomputed_for_another_weight(fresh, pages):
    link = pages["Choir shawls, sea-green 4 of 5"]
    answer = posted(fresh, link, "repeat", dry="200 g")
    assert answer.status_code == 200
    # By hand: 0.42 % of 200 g is 0.84 g.
    for words in ("Planned, not yet begun.", "repeats", "run 9", "0.42", "0.84", "200"):
        assert words in answer.text


def test_a_repeat_that_cannot_be_keeps_what_was_typed(fresh, pages):
    link = pages["Choir shawls, sea-green 4 of 5"]
    before = fresh.get(f"{DEMO}/runs").text
    for typed, sentence in [("5 zorks", "zorks"), ("0 g", "0"), ("9 kg", "too small")]:
        answer = posted(fresh, link, "repeat", dry=typed)
        assert answer.status_code == 422
        assert f'value="{typed}"' in answer.text
        assert sentence in re.search(r'<p class="wrong" role="alert">([^<]+)', answer.text)[1]
    assert fresh.get(f"{DEMO}/runs").text == before


def test_a_repeat_shows_what_was_noted_last_time(fresh, pages):
    page = fresh.get(pages["Harbour dusk"]).text
    assert "Hob on 7 of 9: too fast for sock yarn" in page  # of run 1, which it repeats
    assert "Last time" not in fresh.get(pages["Rowan hedge"]).text


def test_a_repeat_sent_twice_is_one_run(fresh, pages):
    link, key = pages["Rowan hedge"], str(uuid4())
    first, second = (fresh.post(f"{link}/repeat", data={"id": key}) for _ in range(2))
    assert first.url == second.url


def test_a_lot_is_kept_of_the_ticked_skeins(fresh, pages):
    link = pages["Choir shawls, sea-green 5 of 5"]
    answer = posted(
        fresh, link, "keep", skein_1="on", mass_1="3 1/2 oz", skein_3="on", mass_3="98.4 g", note="Choir, back row."
    )
    assert answer.status_code == 200
    assert "Kept as lot 13." in answer.text
    lot = fresh.get(re.search(r'href="(/demo/lots/[0-9a-f-]{36})"', answer.text)[1]).text
    assert "Choir, back row." in lot
    assert "99.2" in lot  # by hand: 3.5 oz of 28.3495 g
    assert "98.4" in lot
    again = posted(fresh, link, "keep", skein_2="on")
    assert "Kept as lot 13 and 13-B." in again.text


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, "at least one skein"),
        ({"skein_1": "on", "mass_1": "heavy"}, "heavy"),
        ({"skein_1": "on", "name": "9"}, "“9” is there already"),
        ({"skein_1": "on", "kept_on": "tomorrow"}, "“tomorrow” is not a day"),
    ],
)
def test_a_lot_that_cannot_be_kept_loses_nothing(fresh, pages, fields, sentence):
    answer = posted(fresh, pages["Choir shawls, sea-green 5 of 5"], "keep", note="my words", **fields)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="my words"' in answer.text


@pytest.mark.parametrize(
    ("kind", "value", "shown"),
    [
        ("temperature", "180 F", "bath at 82.2 °C"),
        ("clarity", "7/8", "88 % of the dye is in"),
        ("clarity", "93 %", "93 % of the dye is in"),
        ("clarity", "1/2 at 68 C", "50 % of the dye is in at 68 °C"),
        ("temperature", "88 C, knob 5 of 9", "bath at 88 °C, knob at 5 of 9"),
        ("rinsed", "3", "clear in rinse 3"),
        ("ph", "4.6", "pH 4.6"),
        ("addition", "white vinegar, 20 mL", "added: white vinegar, 20 mL"),
        ("note", "found on the paper", "found on the paper"),
    ],
)
def test_the_paper_sheet_is_entered_late(fresh, pages, kind, value, shown):
    link = pages["Choir shawls, sea-green 5 of 5"]
    answer = posted(fresh, link, "late", kind=kind, value=value, at="2026-11-18T10:44")
    assert answer.status_code == 200
    line = re.search(rf"run-when\">10:44</span>\s*<span>{re.escape(shown)}", answer.text)
    assert line, answer.text[answer.text.find("What happened") :][:2000]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"kind": "temperature", "value": "hot", "at": "2026-11-18T10:44"}, "hot"),
        ({"kind": "clarity", "value": "7/0", "at": "2026-11-18T10:44"}, "7/0"),
        ({"kind": "note", "value": "x", "at": "noon"}, "“noon” is not a day and time"),
        ({"kind": "note", "value": "x", "at": "2100-01-01T00:00"}, "lies ahead"),
        ({"kind": "waltz", "value": "x", "at": "2026-11-18T10:44"}, "“waltz” is not something to record"),
        ({"kind": "temperature", "value": "300", "at": "2026-11-18T10:44"}, "Did you mean 30\u202f°C?"),
        ({"kind": "clarity", "value": "1/2 at 680 C", "at": "2026-11-18T10:44"}, "Did you mean 68\u202f°C?"),
        ({"kind": "clarity", "value": "870 %", "at": "2026-11-18T10:44"}, "870 % of the dye cannot be in"),
        ({"kind": "rinsed", "value": "25", "at": "2026-11-18T10:44"}, "Did you mean 2 rinses or 5 rinses?"),
        ({"kind": "ph", "value": "46", "at": "2026-11-18T10:44"}, "Did you mean pH 4.6?"),
    ],
)
def test_a_late_entry_that_cannot_be_keeps_what_was_typed(fresh, pages, fields, sentence):
    answer = posted(fresh, pages["Choir shawls, sea-green 5 of 5"], "late", **fields)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert f'value="{fields["value"]}"' in answer.text
    assert '<details id="late" open>' in answer.text


def test_a_late_entry_that_is_right_after_all_is_entered_when_that_is_ticked(fresh, pages):
    link = pages["Choir shawls, sea-green 5 of 5"]
    typed = {"kind": "rinsed", "value": "20", "at": "2026-11-18T12:44"}
    assert 'name="sure"' in posted(fresh, link, "late", **typed).text
    assert "clear in rinse 20" in posted(fresh, link, "late", sure="on", **typed).text


def test_an_event_is_undone_and_stays_marked(fresh, pages):
    link = pages["Choir shawls, sea-green 5 of 5"]
    page = fresh.get(link).text
    wrong = re.search(r'name="corrects" value="([0-9a-f-]{36})"><button class="text" aria-label="Undo: bath at', page)[
        1
    ]
    answer = posted(fresh, link, "undo", corrects=wrong)
    assert re.search(r"<s>bath at \d+ °C</s>", answer.text)
    refused = posted(fresh, link, "undo", corrects=wrong)
    assert (refused.status_code, "undone already" in refused.text) == (422, True)


def test_a_photo_is_kept_shown_and_given_back(fresh, pages):
    link = pages["Choir shawls, two spares of sea-green 5"]
    content = HEIC_TWO_HALVES  # a kind that browsers do not show: the page gets a JPEG of it
    answer = fresh.post(
        f"{link}/photo", data={"id": str(uuid4())}, files={"photo": ("skeins.heic", content, "image/heic")}
    )
    assert answer.status_code == 200
    photo = re.search(r'src="(/demo/photos/[0-9a-f-]{36})\.jpg"', answer.text)[1]
    assert fresh.get(f"{photo}.jpg").content.startswith(b"\xff\xd8\xff")  # JPEG's first bytes, ITU-T T.81 B.1.1.3
    assert fresh.get(f"{photo}/original").content == content
    refused = fresh.post(
        f"{link}/photo", data={"id": str(uuid4())}, files={"photo": ("letter.txt", b"Dear", "text/plain")}
    )
    assert refused.status_code == 422
    assert 'role="alert"' in refused.text


def test_a_photo_that_is_undone_is_shown_no_more(fresh, pages):
    link = pages["Choir shawls, sea-green 5 of 5"]
    page = fresh.get(link).text
    photo = re.search(r'name="corrects" value="([0-9a-f-]{36})"><button class="text" aria-label="Undo: photo"', page)[1]
    assert ".jpg" in page
    assert ".jpg" not in posted(fresh, link, "undo", corrects=photo).text


def test_the_lot_book_finds_and_says_when_it_does_not(fresh):
    assert fresh.get(f"{DEMO}/lots").text.count("slip-title") == 12
    assert "1 lot found" in fresh.get(f"{DEMO}/lots?words=telephone").text
    assert "No lot answers to that." in fresh.get(f"{DEMO}/lots?words=xyzzy").text
    refused = fresh.get(f"{DEMO}/lots?near=teal&words=choir")
    assert (refused.status_code, "“teal” is not a colour" in refused.text) == (422, True)
    assert 'value="choir"' in refused.text
    fragment = fresh.get(f"{DEMO}/lots?words=telephone", headers={"HX-Request": "true"}).text
    assert "<html" not in fragment
    assert fragment.count("slip-title") == 1


def test_a_new_studio_has_empty_pages(own):
    assert "Nothing was dyed yet." in own.get("/runs").text
    assert "Nothing is kept yet." in own.get("/lots").text


@pytest.mark.parametrize("page", ["runs", "lots", "photos"])
def test_what_is_not_there_is_said(fresh, page):
    ending = ".jpg" if page == "photos" else ""
    answer = fresh.get(f"{DEMO}/{page}/{uuid4()}{ending}")
    assert answer.status_code == 404
    assert "in this studio" in answer.text


def test_others_can_write_while_a_repeat_is_planned(fresh, pages, tmp_path, monkeypatch):
    plan, tried = foreseen.plan, []

    def watched(*arguments, **named):
        with closing(sqlite3.connect(tmp_path / "demo.sqlite", timeout=0, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")  # raises where another connection holds the write lock
            tried.append(other.execute("ROLLBACK"))
        return plan(*arguments, **named)

    monkeypatch.setattr(foreseen, "plan", watched)
    again = posted(fresh, pages["Last bracken"], "repeat", dry="150 g")
    assert again.status_code == 200
    assert "Repeats run 3." in again.text
    assert tried
