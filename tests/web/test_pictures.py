"""Colours out of a picture through the pages, as plain forms."""

import re
import time
from html import unescape

import numpy as np
import pytest
from scenes import saved

TEAL, SAND, NEON = (70, 120, 125), (200, 175, 140), (0, 255, 60)


def stripes(*codes, width=90, height=120):
    picture = np.empty((height, width * len(codes), 3), np.uint8)
    for place, code in enumerate(codes):
        picture[:, width * place : width * (place + 1)] = code
    return saved(picture, "PNG")


def taken_in(client, content, studio="/demo", name="shore.png"):
    return client.post(f"{studio}/colours/picture", files={"photo": (name, content, "image/png")})


@pytest.fixture
def page(fresh):
    return taken_in(fresh, stripes(TEAL, SAND, NEON))


def places(page):
    return dict(re.findall(r'name="(pick\.\d)" value="([^"]+)"', page.text))


def text_of(page):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))


def test_a_photo_is_taken_in_and_its_colours_stand_beside_the_shelfs(page):
    assert page.status_code == 200
    assert re.fullmatch(r"/demo/colours/picture/[0-9a-f-]{36}", page.url.path)
    assert len(places(page)) == 3
    said = text_of(page)
    assert "An intention, not a measurement." in said
    assert "Your shelf reaches two of the three" in said
    assert "Off by ΔE00" in said
    assert "in 19 of 20 pots" in said


def test_the_picture_itself_is_served_and_may_be_kept_by_the_browser(fresh, page):
    seen = fresh.get(f"{page.url.path}/seen.jpg")
    assert seen.content.startswith(b"\xff\xd8")
    assert "immutable" in seen.headers["cache-control"]


def test_a_moved_pick_is_answered_with_the_parts_that_change(fresh, page):
    asked = {**places(page), "pick.1": "95, 50", "pick.2": "50, 50", "pick.3": "10, 50"}
    parts = fresh.get(page.url.path, params=asked, headers={"HX-Request": "true"})
    assert parts.status_code == 200
    assert "<html" not in parts.text
    assert set(re.findall(r'data-part="(\w+)"', parts.text)) == {"verdict", "strip", "colours", "places", "names"}
    assert places(parts) == {"pick.1": "95.0, 50.0", "pick.2": "50.0, 50.0", "pick.3": "10.0, 50.0"}


def test_without_a_script_a_click_on_the_small_picture_moves_a_pick(fresh, page):
    assert 'type="image"' in page.text
    clicked = {**places(page), "move": "2", "at.x": "30", "at.y": "40", "at.height": "133"}
    moved = fresh.get(page.url.path, params=clicked)
    assert places(moved)["pick.2"] == "10.0, 30.1"  # 30 of 300 px across, 40 of 133 px down


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"k": "40"}, "a palette here has 3 to 8"),
        ({"weight": "a lot"}, "a lot"),
        ({"base": "Moon wool"}, "Moon wool"),
        ({"pick.2": "here"}, "is not two numbers from 0 to 100"),
    ],
)
def test_a_wrong_field_has_its_sentence_and_what_was_typed_stays(fresh, page, change, said):
    [(field, text)] = change.items()
    answer = fresh.get(page.url.path, params={**places(page), **change})
    assert answer.status_code == 422
    assert said in text_of(answer)
    wrong = re.search(rf'<(?:input|select)[^>]*name="{re.escape(field)}"[^>]*>', answer.text)[0]
    assert 'aria-invalid="true"' in wrong
    if field not in {"k", "base"}:  # those are chosen from a list
        assert f'value="{text}"' in wrong


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("notes.txt", b"a shore at low tide", "notes.txt is not a picture this tool can read"),
        ("empty.jpg", b"", "empty"),
        ("icon.png", stripes(TEAL, width=20, height=20), "at least 64"),
    ],
)
def test_what_is_no_photo_is_refused_where_it_was_chosen(own, name, content, said):
    answer = taken_in(own, content, studio="", name=name)
    assert answer.status_code == 422
    assert said in answer.text
    assert "Take or choose a photo" in answer.text


def test_a_colour_leads_on_to_its_mix_and_one_out_of_reach_to_over_dyeing(fresh, page):
    links = [unescape(link) for link in re.findall(r'href="(/demo/colours/(?:new|overdye)\?[^"]+)"', page.text)]
    assert sorted(link.split("?")[0] for link in links) == ["/demo/colours/new"] * 3 + ["/demo/colours/overdye"]
    for link in links:
        answer = fresh.get(link)
        assert answer.status_code == 200
        assert "an intention, not a measurement" in text_of(answer) or "overdye" in link


def test_the_way_to_advice_takes_the_palette_along(fresh, page):
    link = unescape(re.search(r'href="(/demo/shelf/advice\?[^"]+)"', page.text)[1])
    asked = fresh.get(link).text
    targets = re.search(r'<textarea id="targets"[^>]*>([^<]+)', asked)[1]
    assert targets.count("lab ") == 3
    palette = fresh.get("/demo/palettes/1")
    link = unescape(re.search(r'href="(/demo/shelf/advice\?[^"]+)"', palette.text)[1])
    assert re.search(r'<option value="1" selected>Shore at low tide', fresh.get(link).text)


def test_a_palette_is_kept_shown_listed_and_taken_out(fresh, page):
    kept = fresh.post(page.url.path, data={**places(page), "name": "Low tide", "name.1": "pool"})
    assert re.fullmatch(r"/demo/palettes/\d+", kept.url.path)
    assert "pool" in text_of(kept)
    assert "an intention, not a measurement" in text_of(kept)
    assert f"{page.url.path}/seen.jpg" in kept.text

    plan = unescape(re.search(r'href="(/demo/plan\?[^"#]+)', kept.text)[1])
    assert "Low tide" in fresh.get(plan).text
    assert "Low tide" in fresh.get("/demo/colours/picture").text
    assert "Low tide · pool" in fresh.get("/demo/colours").text
    assert fresh.get(kept.url.path, params={"weight": "600 g"}).status_code == 200
    assert fresh.get(kept.url.path, params={"weight": "plenty"}).status_code == 422

    fresh.post(f"{kept.url.path}/remove")
    assert fresh.get(kept.url.path).status_code == 404
    assert "Low tide · pool" in fresh.get("/demo/colours").text, "its colourways stay"


def test_a_palette_without_a_name_or_with_a_taken_one_is_asked_again(fresh, page):
    nameless = fresh.post(page.url.path, data={**places(page), "name": "", "name.2": "dune"})
    assert nameless.status_code == 422
    assert "give the palette a name" in nameless.text
    assert 'value="dune"' in nameless.text

    fresh.post(page.url.path, data={**places(page), "name": "Low tide"})
    again = fresh.post(page.url.path, data={**places(page), "name": "Low tide"})
    assert again.status_code == 422
    assert "is there already" in again.text
    assert 'value="Low tide"' in again.text


def test_a_studio_without_swatches_gets_the_colours_and_is_told_what_is_missing(own):
    page = taken_in(own, stripes(TEAL, SAND, NEON), studio="")
    assert page.status_code == 200
    assert len(places(page)) == 3
    assert "Bring in swatches" in page.text
    kept = own.post(page.url.path, data={**places(page), "name": "Some day"})
    assert kept.status_code == 200
    assert "no recipe yet" in kept.text


def test_what_is_not_there_is_not_found(own):
    nobody = "00000000-0000-4000-8000-000000000000"
    for path in (f"/colours/picture/{nobody}", f"/colours/picture/{nobody}/seen.jpg", "/palettes/7"):
        assert own.get(path).status_code == 404


def test_the_page_of_a_12_megapixel_photo_and_a_moved_pick_come_soon(fresh):
    rng = np.random.default_rng(6)
    coarse = rng.integers(20, 235, (30, 40, 3), dtype=np.uint8)
    content = saved(coarse.repeat(100, axis=0).repeat(100, axis=1), "JPEG", quality=90)

    start = time.perf_counter()
    page = taken_in(fresh, content)
    whole_s = time.perf_counter() - start
    times = []
    for step in range(5):
        asked = {**places(page), "pick.1": f"{20 + step}, 50"}
        start = time.perf_counter()
        fresh.get(page.url.path, params=asked, headers={"HX-Request": "true"})
        times.append(time.perf_counter() - start)

    # The goals are 2 s and 150 ms, reached on a quiet machine (1.6 s, 70 ms); five times that here, for tests share it.
    assert whole_s < 10
    assert sorted(times)[2] < 0.75
