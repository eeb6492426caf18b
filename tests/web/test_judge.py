"""Judging by photo through the pages, as plain forms."""

import re
from datetime import UTC, datetime
from io import BytesIO
from time import monotonic, sleep
from uuid import UUID, uuid4

import pytest
from PIL import Image
from scenes import Scene, jpeg, render

from dyewright.core.model import Judgement
from dyewright.records import photos as records_of

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
        ({"chart": "corners", "corner_1": "10, 20"}, "four corners"),
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
    assert "Write it on the label" in page.text
    assert f'href="{run}"' in page.text
    assert marking.rsplit("/", 1)[1] in fresh.get(f"{run}/judge").text, "offered again among the run's photos"


@pytest.fixture
def verdict(own, picture):
    """The address of a verdict on the three skeins, the third of which is another colour."""
    marking = sent(own, picture).url.path
    boxes = {f"skein_{i}": ",".join(map(str, place)) for i, place in enumerate(PLACES, start=1)}
    return own.post(marking, data={"chart": "none", "tolerance": "1", "target": "", **boxes}).url.path


def test_skeins_are_shared_out_to_orders_on_the_page(own, verdict):
    page = own.get(f"{verdict}?orders=2").text
    assert re.search(r"Order 1: <strong>1, 2</strong>", page)
    assert "left over: 3" in page

    wrong = own.get(f"{verdict}?orders=two")
    assert wrong.status_code == 422
    assert 'value="two"' in wrong.text
    assert "how many skeins each needs" in wrong.text


def test_a_set_of_skeins_says_how_far_it_is_known(own, verdict):
    page = own.get(verdict).text
    low, high = re.findall(r'data-of="between">([\d.]+)–([\d.]+)<', page)[
        0
    ]  # of skeins 1 and 2, which were drawn alike

    together = re.search(r"<strong>1, 2</strong> together, largest difference [\d.]+ \(([\d.]+)–([\d.]+)\)", page)
    assert together is not None
    assert together.groups() == (low, high)


def test_a_verdict_is_traced_to_the_photo(own, verdict):
    page = own.get(verdict).text

    assert page.count('class="line"') == 3  # an outline for each skein
    tags = re.findall(r'class="seen-tag" style="left: ([\d.]+)%; top: ([\d.]+)%"', page)
    middles = [(x + w / 2, y) for x, y, w, _ in PLACES]  # in a photo of 1000 × 900 pixels
    assert [(float(x) * 10, float(y) * 9) for x, y in tags] == [pytest.approx(at, abs=1) for at in middles]
    hatched = own.get(f"{verdict}/left-out.png")
    assert hatched.content.startswith(b"\x89PNG")
    overlay = own.get(f"{verdict}/overlay.png")
    with Image.open(BytesIO(hatched.content)) as seen, Image.open(BytesIO(overlay.content)) as drawn:
        assert seen.size == drawn.size
    assert own.get(f"{verdict}/left-out.png?photo=2").status_code == 422
    assert own.get(f"{verdict}/left-out.png?photo=0").status_code == 422


def test_a_photo_without_a_run_has_no_label_to_write_on(own, verdict):
    assert "Write it on the label" not in own.get(verdict).text


def both(picture, name="photo"):
    return [(name, (f"{number}.jpg", picture, "image/jpeg")) for number in (1, 2)]


def until_read(client, path="/judge/waiting"):
    """Return the list of what waits once nothing does, as a reader reloads it."""
    until = monotonic() + 60
    while monotonic() < until:
        page = client.get(path)
        if "still to be read" not in page.text:
            return page
        sleep(0.1)
    pytest.fail("the photos were not read within a minute")


def test_several_photos_wait_in_line_each_by_itself(own, picture):
    page = own.post("/judge", files=both(picture), data={"how": "each"})

    assert page.url.path == "/judge/waiting"
    assert 'http-equiv="refresh"' in page.text, "without script the page looks again by itself"
    done = until_read(own)
    assert done.text.count("skein 3 is a lot of its own") == 2
    assert "refresh" not in done.text
    verdict = re.search(r'href="(/verdicts/[^"]+)"', done.text).group(1)
    assert "Do these three match?" in own.get(verdict).text


def test_the_list_counts_photos_that_could_not_be_read(fresh, picture):
    bare = BytesIO()
    Image.new("RGB", (400, 300), (230, 230, 228)).save(bare, "JPEG")
    files = [("photo", (name, content, "image/jpeg")) for name, content in (("a", picture), ("b", bare.getvalue()))]
    fresh.post("/demo/judge", files=files, data={"how": "each"})

    done = until_read(fresh, "/demo/judge/waiting").text
    assert "None waits; 1 could not be read." in done
    assert "no skein stands out from the ground" in done


def test_photos_of_one_lot_are_marked_on_one_page(own, picture):
    page = own.post("/judge", files=both(picture), data={"how": "together"})

    assert page.text.count("<figure") == 2
    fields = dict(re.findall(r'name="(skein_\d|more)" value="([^"]+)"', page.text))
    assert [text.startswith("2:") for name, text in sorted(fields.items()) if name != "more"] == [False] * 3 + [
        True
    ] * 3

    waits = own.post(page.url.path, data={"chart": "none", "tolerance": "1", **fields})
    assert waits.url.path == "/judge/waiting"
    read = until_read(own, f"{waits.url.path}?{waits.url.query.decode()}")
    assert "skeins of several photos can only be compared through a chart" in read.text
    again = re.search(r'href="(/judge/[^"]+)">Mark it by hand', read.text).group(1)
    assert own.get(again.replace("&amp;", "&")).text.count("<figure") == 2


def test_a_script_sends_photos_ahead_and_one_sent_twice_is_kept_once(own, picture):
    sent_as = "00000000-0000-4000-8000-000000000001"
    for _ in range(2):
        answer = own.post("/judge/photos", files={"photo": ("a.jpg", picture)}, data={"sent_as": sent_as})
        assert answer.json() == {"id": sent_as}
    page = own.post("/judge", data={"kept": sent_as, "at_once": "yes"}).json()["page"]

    at_once = own.get(page)
    assert "Looking for the skeins" in at_once.text
    asks = re.search(r'hx-get="([^"]+)"', at_once.text).group(1)
    found = own.get(asks, params={"more": "", "then": ""}, headers={"HX-Request": "true"})
    assert "<html" not in found.text
    assert len(re.findall(r'name="skein_\d" value="[^"]+"', found.text)) == 3


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({}, "no photo was chosen"),
        ({"kept": "nobody"}, "names no photos"),
        ({"kept": "x" * 300}, "names no photos"),
    ],
)
def test_a_form_without_a_photo_says_so(own, form, said):
    page = own.post("/judge", data=form)

    assert page.status_code == 422
    assert said in page.text
    assert own.post("/judge/photos", files={"photo": ("a.jpg", b"no")}, data={"sent_as": "x"}).status_code == 422


def test_a_verdict_is_marked_again_from_what_it_was_given_from(own, picture):
    marking = sent(own, picture).url.path
    boxes = {f"skein_{i}": ", ".join(map(str, place)) for i, place in enumerate(PLACES[:2], start=1)}
    outline = "660,330 840,330 840,810 750,700 660,810"  # an outline of five points, on the third skein
    form = {
        "chart": "none",
        "tolerance": "1.25",
        "target": "lab 50 -15 -8",
        "yarn": "damp",
        **boxes,
        "skein_3": outline,
    }
    verdict = own.post(marking, data=form)
    assert "The yarn was still damp" in verdict.text

    again = own.get(re.search(r'href="([^"]+)">Mark again', verdict.text).group(1)).text

    for name, value in form.items():
        assert f'value="{value}"' in again, name
    assert re.search(r'value="damp" checked', again)


def test_what_judging_by_itself_found_can_be_marked_again(own, picture):
    own.post("/judge", files=both(picture), data={"how": "each"})
    verdict = re.search(r'href="(/verdicts/[^"]+)"', until_read(own).text).group(1)

    again = own.get(re.search(r'href="([^"]+)">Mark again', own.get(verdict).text).group(1)).text

    found = re.findall(r'name="skein_\d" value="([^"]+)"', again)
    assert [enclosing(text) for text in found] == [pytest.approx(place, abs=15) for place in PLACES]


def test_a_verdict_of_an_earlier_version_is_still_shown(own, picture):
    photo_id = UUID(sent(own, picture).url.path.rsplit("/", 1)[1])
    door = next(route.app for route in own.app.routes if getattr(route, "path", None) == "").state.door
    # a verdict as the first version kept it: no ways, no parts, no marks, no grey scale
    result = {
        "chart": {"found": False, "corners": None, "fit_de00_median": None, "left_out_de00_median": None,
                  "left_out_de00_p95": None, "warnings": ["No chart was looked for."], "photo": 1},
        "skeins": [{"id": 1, "outline": [[10, 10], [90, 10], [90, 90], [10, 90]], "lab": [45.0, -18.0, -12.0],
                    "lab_low": None, "lab_high": None, "evenness": {"de00_p95": 0.4, "rating": "even"},
                    "to_target": None, "hex": "#386f78", "colour_words": "greyish teal", "left_out_frac": 0.2}],
        "pairs": [], "sets": [[1]], "verdict": "One skein.", "advice": ["Accept it."], "basis": "relative",
        "tolerance": 1.0, "charts": [], "light_uneven_frac": None, "notes": [],
    }  # fmt: skip
    kept = Judgement(uuid4(), None, photo_id, datetime(2026, 3, 1, tzinfo=UTC), result, "0.1")
    with door.records().begin() as session:
        records_of.add_judgement(session, kept)

    page = own.get(f"/verdicts/{kept.id}")

    assert page.status_code == 200
    assert "Accept it." in page.text
    assert own.get(f"/judge/{photo_id}?verdict={kept.id}").status_code == 200
    assert own.get(f"/verdicts/{kept.id}/overlay.png").content.startswith(b"\x89PNG")
    assert own.get(f"/verdicts/{kept.id}/overlay.png?photo=2").status_code == 404


def test_what_is_not_there_is_not_found(own):
    nobody = "00000000-0000-4000-8000-000000000000"
    for path in (f"/judge/{nobody}", f"/verdicts/{nobody}", f"/verdicts/{nobody}/overlay.png", f"/runs/{nobody}/judge",
                 f"/judge/waiting?of={nobody}", f"/judge/{nobody}?at_once=yes"):  # fmt: skip
        assert own.get(path).status_code == 404
