"""Judging by photo through the pages, as plain forms."""

import re

import pytest
from scenes import Scene, jpeg, render

LABS = [(45, -18, -12), (45, -18, -12), (52, -14, -8)]
PLACES = [(140 + 260 * i, 330, 180, 480) for i in range(3)]


@pytest.fixture(scope="module")
def picture():
    skeins = list(zip(PLACES, LABS, strict=True))
    return jpeg(render(Scene(width=1000, skeins=skeins, strand_px=9, noise=0.006)))


def enclosing(text):
    """Return left, top, width and height of what an outline's field says."""
    points = [[float(part) for part in word.split(",")] for word in text.split()]
    (left, top), (right, bottom) = map(min, zip(*points, strict=True)), map(max, zip(*points, strict=True))
    return left, top, right - left, bottom - top


def sent(client, picture, where="/judge", name="skeins.jpg"):
    return client.post(where, files={"photo": (name, picture, "image/jpeg")})


def test_a_photo_is_taken_in_and_its_skeins_are_proposed(own, picture):
    page = sent(own, picture)

    assert page.status_code == 200
    assert re.fullmatch(r"/judge/[0-9a-f-]{36}", page.url.path)
    proposed = re.findall(r'name="skein_\d" value="([^"]+)"', page.text)
    assert len(proposed) == 3
    for text, place in zip(proposed, PLACES, strict=True):  # where the scene drew them; outlines lie a little inside
        assert enclosing(text) == pytest.approx(place, abs=15)


def test_judging_starts_from_the_tolerance_of_the_studio(own, picture):
    own.post("/shelf/settings", data={"name": "Test shed", "scale": "0.1 g", "tolerance": "1.5"})

    assert re.search(r'name="tolerance" type="text" value="1.5"', sent(own, picture).text)
    assert "1.5 ΔE00" in own.get("/shelf").text


def test_the_verdict_is_kept_and_shown_with_its_picture(own, picture):
    marking = sent(own, picture).url.path
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}

    page = own.post(marking, data={"chart": "none", "tolerance": "1.5", "target": "", **boxes})

    assert page.status_code == 200
    assert re.fullmatch(r"/verdicts/[0-9a-f-]{36}", page.url.path)
    assert "1 and 2 match; skein 3 is a lot of its own." in page.text
    assert "Do these three match?" in page.text
    assert "relative" in page.text
    overlay = own.get(f"{page.url.path}/overlay.png")
    assert overlay.content.startswith(b"\x89PNG")
    assert own.get(page.url.path).status_code == 200


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("notes.txt", b"run 12: blue 0.8 %", "notes.txt is not a picture this tool can read"),
        ("empty.jpg", b"", "empty"),
    ],
)
def test_what_is_no_photo_is_refused_where_it_was_chosen(own, name, content, said):
    page = sent(own, content, name=name)

    assert page.status_code == 422
    assert said in page.text
    assert "Take or choose a photo" in page.text


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"skein_2": "10, 20, 30"}, "is not four numbers"),
        ({"skein_2": "900, 20, 300, 300"}, "reaches beyond the photo of 1000 × 900 pixels"),
        ({"chart": "corners", "corner_1": "10, 20"}, "neither auto, none nor four corners"),
        ({"tolerance": "small"}, "is no number"),
        ({"tolerance": "-1"}, "it must be above 0"),
        ({"target": "teal"}, "is not understood"),
    ],
)
def test_a_wrong_mark_is_a_sentence_and_nothing_marked_is_lost(own, picture, change, said):
    marking = sent(own, picture).url.path
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}
    form = {"chart": "none", "tolerance": "1", "target": "", **boxes, **change}

    page = own.post(marking, data=form)

    assert page.status_code == 422
    assert said in page.text
    for name, value in form.items():
        if name != "chart":
            assert f'name="{name}"' in page.text
            assert f'value="{value}"' in page.text
    assert own.get(marking).status_code == 200, "the photo is still there"


def folded(page):
    """Return what is folded on a page by its words: whether it stands open."""
    parts = re.findall(r"<details([^>]*)>\s*<summary>(?:<span>)?([^<]+)", page.text)
    return {words.strip(): " open" in attributes for attributes, words in parts}


def test_pixels_are_folded_until_they_are_needed(own, picture):
    page = sent(own, picture)
    assert folded(page) == {"Outlines as numbers": False, "Colour chart": False}

    form = {"chart": "none", "tolerance": "1", "skein_1": "10, 20, 30"}
    assert folded(own.post(page.url.path, data=form))["Outlines as numbers"]
    form = {"chart": "corners", "corner_1": "10, 20", "tolerance": "1", "skein_1": "140, 330, 180, 480"}
    assert folded(own.post(page.url.path, data=form)) == {"Outlines as numbers": False, "Colour chart": True}
    empty = sent(own, jpeg(render(Scene(width=1000, skeins=[]))))
    assert folded(empty)["Outlines as numbers"], "nothing was found: without script, this is where boxes are said"


@pytest.mark.parametrize(("query", "here"), [("?then=swatches", ["Shelf"]), ("", [])])
def test_marking_for_swatches_belongs_to_the_shelf(own, picture, query, here):
    marking = sent(own, picture).url.path

    page = own.get(marking + query)
    assert re.findall(r'aria-current="page">(\w+)<', page.text) == here
    wrong = own.post(marking, data={"chart": "none", "skein_1": "10, 20", "then": query.removeprefix("?then=")})
    assert wrong.status_code == 422
    assert re.findall(r'aria-current="page">(\w+)<', wrong.text) == here


def test_a_photo_of_a_run_is_judged_for_the_run(fresh, picture):
    run = re.search(r'href="(/demo/runs/[0-9a-f-]{36})"', fresh.get("/demo/runs").text).group(1)
    marking = sent(fresh, picture, f"{run}/judge").url.path
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}

    page = fresh.post(marking, data={"chart": "none", "tolerance": "1.5", "target": "", **boxes})

    assert "Keep the lot" in page.text
    assert f'href="{run}"' in page.text
    assert marking.rsplit("/", 1)[1] in fresh.get(f"{run}/judge").text, "offered again among the run's photos"


def test_what_is_not_there_is_not_found(own):
    nobody = "00000000-0000-4000-8000-000000000000"
    for path in (f"/judge/{nobody}", f"/verdicts/{nobody}", f"/verdicts/{nobody}/overlay.png", f"/runs/{nobody}/judge"):
        assert own.get(path).status_code == 404
