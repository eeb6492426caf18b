"""Judging by photo in a real browser: choosing, marking by hand, waiting, the verdict."""

import base64
import re
import time

import pytest
from scenes import Scene, jpeg, render

pytestmark = pytest.mark.browser
PLACES = [(140 + 260 * i, 330, 180, 480) for i in range(3)]
SIZE = (1000, 900)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    labs = [(45, -18, -12), (45, -18, -12), (52, -14, -8)]
    path = tmp_path_factory.mktemp("photos") / "skeins.jpg"
    scene = Scene(width=SIZE[0], skeins=list(zip(PLACES, labs, strict=True)), strand_px=9, noise=0.006)
    path.write_bytes(jpeg(render(scene)))
    return path


@pytest.fixture
def marking(page, address, picture):
    page.goto(f"{address}/demo/judge")
    page.set_input_files("#photo", picture)
    page.click("text=Look at the photo")
    page.wait_for_selector("figure.marker svg polygon.shape", timeout=20_000)
    return page


def outline(page, number):
    """Return the points of a skein's field."""
    text = page.input_value(f"#skein_{number}")
    numbers = [float(part) for part in re.findall(r"-?[\d.]+", text)]
    if len(numbers) == 4:
        x, y, width, height = numbers
        return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def sides(points):
    (left, top), (right, bottom) = map(min, zip(*points, strict=True)), map(max, zip(*points, strict=True))
    return left, top, right - left, bottom - top


class Board:
    """The photo on the page, by its own pixels."""

    def __init__(self, page):
        self.page = page

    def on_screen(self, x, y):
        frame = self.page.locator("figure.marker svg").bounding_box()
        return frame["x"] + x * frame["width"] / SIZE[0], frame["y"] + y * frame["height"] / SIZE[1]

    def drag(self, start, end):
        self.page.evaluate("scrollTo(0, 0)")
        self.page.mouse.move(*self.on_screen(*start))
        self.page.mouse.down()
        self.page.mouse.move(*self.on_screen(*end), steps=5)
        self.page.mouse.up()

    def click(self, x, y):
        self.page.evaluate("scrollTo(0, 0)")
        self.page.mouse.click(*self.on_screen(x, y))


@pytest.fixture
def board(marking):
    return Board(marking)


class Finger:
    """A finger on the photo, through the browser's own touch events."""

    def __init__(self, page):
        self.board = Board(page)
        self.phone = page.context.new_cdp_session(page)
        self.phone.send("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def swipe(self, *places):
        self.board.page.evaluate("scrollTo(0, 0)")
        self.touch("touchStart", places[0])
        for place in places[1:]:
            self.touch("touchMove", place)
        self.touch("touchEnd")

    def touch(self, kind, *places):
        points = [dict(zip("xy", self.board.on_screen(*place), strict=True)) for place in places]
        self.phone.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_a_verdict_comes_of_the_proposed_marks(marking, faults_of):
    assert faults_of(marking) == []
    assert marking.evaluate("document.documentElement.scrollWidth <= innerWidth")

    marking.click("#marks button.main")

    marking.wait_for_selector(".answer .verdict", timeout=20_000)
    assert "skein 3 is a lot of its own" in marking.inner_text(".answer .verdict")
    assert marking.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(marking) == []
    marking.check("input[value=left-out]")
    marking.locator("img.left-out").wait_for(state="visible")


def test_photos_are_dropped_on_the_page_and_shown_before_they_are_sent(page, address, picture):
    page.goto(f"{address}/demo/judge")
    content = base64.b64encode(picture.read_bytes()).decode()
    page.evaluate(
        """content => {
            const bytes = Uint8Array.from(atob(content), (letter) => letter.charCodeAt(0));
            const carried = new DataTransfer();
            carried.items.add(new File([bytes], "dropped.jpg", { type: "image/jpeg" }));
            const how = { dataTransfer: carried, bubbles: true, cancelable: true };
            for (const kind of ["dragover", "drop"]) document.body.dispatchEvent(new DragEvent(kind, how));
        }""",
        content,
    )
    page.wait_for_selector("[data-chosen] img")
    assert "dropped.jpg" in page.inner_text("[data-chosen]")
    assert not page.locator("[data-how]").is_visible(), "one photo leaves nothing to ask"

    page.click("text=Look at the photo")
    page.wait_for_selector("figure.marker svg polygon.shape", timeout=20_000)
    page.click("#marks button.main")

    page.wait_for_url("**/verdicts/*", timeout=20_000)


def test_without_the_network_the_choice_stays_and_is_sent_later(page, address, picture):
    page.goto(f"{address}/demo/judge")
    page.set_input_files("#photo", picture)
    page.context.set_offline(True)
    page.click("text=Look at the photo")

    page.wait_for_selector("[data-wrong] .wrong")
    assert "cannot be reached" in page.inner_text("[data-wrong]")
    assert "skeins.jpg" in page.inner_text("[data-chosen]")

    page.context.set_offline(False)
    page.click("button:has-text('Send again')")
    page.wait_for_selector("figure.marker svg polygon.shape", timeout=20_000)


def test_what_is_no_photo_is_told_beside_the_choice(page, address, tmp_path):
    notes = tmp_path / "notes.jpg"
    notes.write_text("run 12: blue 0.8 %")
    page.goto(f"{address}/demo/judge")
    page.set_input_files("#photo", notes)
    page.click("text=Look at the photo")

    page.wait_for_selector("[data-wrong] .wrong")
    assert "not a picture this tool can read" in page.inner_text("[data-wrong]")


@pytest.mark.parametrize("page", [1280], indirect=True, ids=["desk"])  # the line is the same on a phone
def test_ten_photos_wait_in_line_and_other_pages_answer_meanwhile(page, address, picture):
    page.goto(f"{address}/demo/judge")
    content = picture.read_bytes()
    files = [{"name": f"{number}.jpg", "mimeType": "image/jpeg", "buffer": content} for number in range(10)]
    page.set_input_files("#photo", files)
    page.click("text=Judge 10 photos")
    page.wait_for_url("**/judge/waiting", timeout=60_000)
    assert "still to be read" in page.inner_text("#waiting .verdict")

    other = page.context.new_page()
    slowest = 0.0
    while "All are read" not in page.inner_text("#waiting .verdict"):
        start = time.monotonic()
        other.goto(f"{address}/demo/lots")
        slowest = max(slowest, time.monotonic() - start)
        other.wait_for_timeout(200)
    # A page of the demo takes a tenth of a second by itself; a busy machine is given the rest. A page that waited for
    # the line would take ten times a photo's second.
    assert slowest < 5
    assert page.locator("#waiting .slip-title", has_text="skein 3 is a lot of its own").count() == 10
    other.close()


def test_an_outline_is_moved_bent_undone_and_taken_out(marking, board):
    before = sides(outline(marking, 1))
    middle = (before[0] + before[2] / 2, before[1] + before[3] / 2)
    board.drag(middle, (middle[0] + 30, middle[1] - 20))
    moved = sides(outline(marking, 1))
    # a drag of 30 and 20 photo pixels; a screen pixel of the phone is 3 of them
    assert moved == pytest.approx([before[0] + 30, before[1] - 20, *before[2:]], abs=4)

    right = max(outline(marking, 1))  # the rightmost point is pulled out
    board.drag(right, (right[0] + 40, right[1]))
    assert sides(outline(marking, 1))[2] == pytest.approx(moved[2] + 40, abs=8)

    marking.click("[data-tool=undo]")
    assert sides(outline(marking, 1)) == moved
    marking.click("[data-tool=undo]")
    assert sides(outline(marking, 1)) == before
    assert not marking.locator("[data-tool=undo]").is_visible()

    second = marking.input_value("#skein_2")
    marking.get_by_text("Outlines as numbers").click()
    marking.click("[aria-label='Take out skein 1']")
    assert marking.input_value("#skein_1") == second, "the later ones move up"


def test_a_wrong_outline_is_taken_out_beside_the_photo(marking, board):
    assert not marking.locator("[data-tool=out]").is_visible()
    left, top, width, height = sides(outline(marking, 1))
    second = marking.input_value("#skein_2")

    board.drag((left + width / 2, top + height / 2), (left + width / 2, top + height / 2))  # a tap
    marking.click("[data-tool=out]")
    assert marking.input_value("#skein_1") == second, "the later ones move up"

    marking.click("[data-tool=undo]")
    assert marking.input_value("#skein_2") == second


def test_a_box_is_drawn_gets_a_point_and_loses_it(marking, board):
    board.drag((40, 60), (300, 200))
    assert sides(outline(marking, 4)) == pytest.approx([40, 60, 260, 140], abs=4)
    assert len(outline(marking, 4)) == 4

    board.drag((170, 60), (170, 20))  # the middle of its upper edge becomes a point
    assert len(outline(marking, 4)) == 5
    assert min(y for _, y in outline(marking, 4)) == pytest.approx(20, abs=4)

    marking.click("[data-tool=point]")
    assert len(outline(marking, 4)) == 4
    assert sides(outline(marking, 4)) == pytest.approx([40, 60, 260, 140], abs=4)


def test_an_outline_is_tapped_together_point_by_point(marking, board):
    marking.click("[data-tool=draw]")
    corners = [(60, 60), (320, 60), (320, 220), (60, 220)]
    for x, y in corners[:3]:
        board.click(x, y)
    assert marking.input_value("#skein_4") == "", "not closed yet"
    board.click(*corners[3])
    marking.click("text=Close the outline")

    assert sides(outline(marking, 4)) == pytest.approx([60, 60, 260, 160], abs=4)
    assert marking.get_attribute("[data-tool=draw]", "aria-pressed") == "false"


def test_what_is_typed_is_drawn(marking):
    marking.get_by_text("Outlines as numbers").click()
    marking.fill("#skein_1", "200,300 320,300 260,420")
    marking.wait_for_selector("polygon.shape[points='200,300 320,300 260,420']", state="attached")


def test_corners_of_a_chart_can_be_placed(marking):
    marking.click("summary:has-text('Colour chart')")
    marking.check("input[value=corners]")

    marking.wait_for_selector("polygon.is-chart", state="attached")
    assert marking.input_value("#corner_1") == "300, 270"  # 0.3 of 1000 × 900
    marking.fill("#corner_1", "100, 120")
    assert marking.locator("polygon.is-chart").get_attribute("points").startswith("100,120")


def test_a_finger_pulls_a_point_of_a_chosen_skein_and_else_scrolls(marking):
    finger = Finger(marking)
    before = outline(marking, 1)
    left, top, width, height = sides(before)
    middle = (left + width / 2, top + height / 2)

    finger.swipe(middle, (middle[0] + 30, middle[1]), (middle[0] + 60, middle[1]))
    assert outline(marking, 1) == before, "a skein that is not chosen lets the page scroll"

    finger.swipe(middle)  # a tap
    marking.wait_for_selector("polygon.is-chosen", state="attached")
    right = max(before)
    finger.swipe(right, (right[0] + 20, right[1]), (right[0] + 45, right[1]))
    assert sides(outline(marking, 1))[2] == pytest.approx(width + 45, abs=10)


def test_a_finger_draws_a_skein_after_asking_for_it_and_else_scrolls(marking):
    finger = Finger(marking)
    finger.swipe((40, 60), (200, 150), (300, 200))
    assert marking.input_value("#skein_4") == "", "a swipe over the empty photo is for scrolling"

    marking.click("[data-tool=draw]")
    finger.swipe((40, 60), (200, 150), (300, 200))
    assert sides(outline(marking, 4)) == pytest.approx([40, 60, 260, 140], abs=4)
    assert marking.get_attribute("[data-tool=draw]", "aria-pressed") == "false"


def test_two_fingers_and_a_button_bring_the_photo_closer(marking):
    width = lambda: marking.locator("figure.marker svg").bounding_box()["width"]  # noqa: E731 - a shorthand of this test
    whole = width()
    finger = Finger(marking)
    finger.touch("touchStart", (400, 450), (600, 450))
    finger.touch("touchMove", (300, 450), (700, 450))
    finger.touch("touchEnd")
    assert width() == pytest.approx(2 * whole, rel=0.05)  # the fingers are twice as far apart
    assert [outline(marking, number) for number in (1, 2, 3)], "nothing was moved by it"

    marking.click("[data-tool=closer]")
    assert width() == pytest.approx(whole, abs=1)
    assert marking.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_outlines_are_moved_at_the_right_place_when_seen_closer(marking, board):
    before = sides(outline(marking, 2))
    middle = (before[0] + before[2] / 2, before[1] + before[3] / 2)
    board.click(*middle)
    marking.click("[data-tool=closer]")
    board.drag(middle, (middle[0] + 24, middle[1] + 12))
    assert sides(outline(marking, 2)) == pytest.approx([before[0] + 24, before[1] + 12, *before[2:]], abs=3)
