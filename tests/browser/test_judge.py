"""Marking a photo by hand in a real browser."""

import pytest
from scenes import Scene, jpeg, render

pytestmark = pytest.mark.browser
PLACES = [(140 + 260 * i, 330, 180, 480) for i in range(3)]


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    labs = [(45, -18, -12), (45, -18, -12), (52, -14, -8)]
    path = tmp_path_factory.mktemp("photos") / "skeins.jpg"
    scene = Scene(width=1000, skeins=list(zip(PLACES, labs, strict=True)), strand_px=9, noise=0.006)
    path.write_bytes(jpeg(render(scene)))
    return path


@pytest.fixture
def marking(page, address, picture):
    page.goto(f"{address}/demo/judge")
    page.set_input_files("#photo", picture)
    page.click("text=Look at the photo")
    page.wait_for_selector("#marker svg rect.shape", timeout=10_000)
    return page


def box(page, number):
    return [float(part) for part in page.input_value(f"#skein_{number}").split(",")]


def test_a_verdict_comes_of_the_proposed_marks(marking, faults_of):
    assert faults_of(marking) == []
    assert marking.evaluate("document.documentElement.scrollWidth <= innerWidth")

    marking.click("#marks button.main")

    marking.wait_for_selector(".verdict")
    assert "skein 3 is a lot of its own" in marking.inner_text(".verdict")
    assert marking.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(marking) == []


def test_a_box_is_moved_sized_drawn_and_taken_out(marking):
    frame = marking.locator("#marker").bounding_box()
    scale = frame["width"] / 1000
    screen = lambda x, y: (frame["x"] + x * scale, frame["y"] + y * scale)  # noqa: E731 - a shorthand of this test

    def drag(start, end):
        marking.mouse.move(*screen(*start))
        marking.mouse.down()
        marking.mouse.move(*screen(*end), steps=5)
        marking.mouse.up()

    before = box(marking, 1)
    middle = (before[0] + before[2] / 2, before[1] + before[3] / 2)
    drag(middle, (middle[0] + 30, middle[1] - 20))
    moved = box(marking, 1)
    # a drag of 30 and 20 photo pixels; a screen pixel of the phone is 3 of them
    assert moved == pytest.approx([before[0] + 30, before[1] - 20, *before[2:]], abs=4)

    drag((moved[0] + moved[2], moved[1] + moved[3]), (moved[0] + moved[2] - 40, moved[1] + moved[3] - 60))
    assert box(marking, 1)[2:] == pytest.approx([moved[2] - 40, moved[3] - 60], abs=8)

    drag((40, 60), (300, 200))
    assert box(marking, 4) == pytest.approx([40, 60, 260, 140], abs=4)

    marking.get_by_text("Boxes as numbers").click()
    marking.click("[aria-label='Take out skein 1']")
    assert box(marking, 1) == pytest.approx(PLACES[1], abs=8), "the later ones move up"

    marking.fill("#skein_1", "200, 300, 100, 120")
    assert marking.locator("rect.shape").first.get_attribute("x") == "200"


def test_corners_of_a_chart_can_be_placed(marking):
    marking.check("input[value=corners]")

    marking.wait_for_selector("#marker svg polygon.shape")
    marking.get_by_text("Corners as numbers").click()
    assert marking.input_value("#corner_1") == "300, 270"  # 0.3 of 1000 × 900
    marking.fill("#corner_1", "100, 120")
    assert marking.locator("polygon.shape").get_attribute("points").startswith("100,120")


def test_a_finger_draws_a_skein_after_asking_for_it_and_else_scrolls(marking):
    frame = marking.locator("#marker").bounding_box()
    scale = frame["width"] / 1000
    phone = marking.context.new_cdp_session(marking)
    phone.send("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def swipe(*places):
        kinds = ["touchStart", *["touchMove"] * (len(places) - 1)]
        for kind, (x, y) in zip(kinds, places, strict=True):
            point = {"x": frame["x"] + x * scale, "y": frame["y"] + y * scale}
            phone.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [point]})
        phone.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    swipe((40, 60), (200, 150), (300, 200))
    assert marking.input_value("#skein_4") == "", "a swipe over the empty photo is for scrolling"

    marking.click("#draw")
    marking.evaluate("scrollTo(0, 0)")
    swipe((40, 60), (200, 150), (300, 200))
    assert box(marking, 4) == pytest.approx([40, 60, 260, 140], abs=4)
    assert marking.get_attribute("#draw", "aria-pressed") == "false"
