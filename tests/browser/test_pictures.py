"""Picks on a picture in Chromium: dragged by mouse and finger, moved by arrow keys, kept with the page's address."""

import re
from importlib.resources import files

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser
SHORE = files("dyewright.services").joinpath("demo_data", "shore.jpg")


@pytest.fixture
def shore(page, address):
    page.goto(f"{address}/demo/colours/picture")
    page.set_input_files("#photo", {"name": "shore.jpg", "mimeType": "image/jpeg", "buffer": SHORE.read_bytes()})
    page.click("text=Take its colours")
    page.wait_for_selector("button.pick-at")
    return page


def place(page, number):
    """Return a pick's place as its field has it, in per cent."""
    return [float(part) for part in page.locator(f"[name='pick.{number}']").input_value().split(",")]


def words(page, number):
    return page.locator(".picture-colours h3").nth(number - 1).inner_text()


def on_screen(page, x, y):
    frame = page.locator(".picture").bounding_box()
    return frame["x"] + x / 100 * frame["width"], frame["y"] + y / 100 * frame["height"]


def test_pages_fit_their_width_and_axe_finds_nothing_serious(shore, address, faults_of):
    assert shore.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(shore) == []
    shore.get_by_label("Its name").fill("Low tide")
    shore.get_by_role("button", name="Keep the palette").click()
    expect(shore.get_by_role("heading", name="Low tide", exact=True)).to_be_visible()
    assert shore.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(shore) == []
    shore.goto(f"{address}/demo/colours/picture")
    assert shore.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults_of(shore) == []


def test_a_pick_dragged_onto_the_boat_turns_red_and_the_address_remembers_it(shore):
    sand = words(shore, 1)
    assert "red" not in sand
    start = place(shore, 1)
    shore.mouse.move(*on_screen(shore, *start))
    shore.mouse.down()
    shore.mouse.move(*on_screen(shore, 72, 55), steps=6)
    expect(shore.locator(".loupe")).to_be_visible()
    shore.mouse.move(*on_screen(shore, 72, 62.5), steps=3)
    shore.mouse.up()

    expect(shore.locator(".picture-colours h3").first).to_have_text(re.compile("red"))
    expect(shore.locator(".loupe")).to_be_hidden()
    assert place(shore, 1) == pytest.approx([72, 62.5], abs=1)  # a screen pixel of the phone is 0.3 %
    shore.reload()
    shore.wait_for_selector("button.pick-at")
    assert "red" in words(shore, 1)


def test_arrow_keys_move_the_focused_pick_and_it_keeps_the_focus(shore):
    pick = shore.locator("button.pick-at").nth(3)
    before = place(shore, 4)
    pick.focus()
    with shore.expect_response(re.compile("pick.4=")):
        shore.keyboard.press("ArrowRight")
    shore.keyboard.press("Shift+ArrowDown")
    shore.wait_for_load_state("networkidle")

    # A step is half a per cent, with Shift ten times that.
    assert place(shore, 4) == pytest.approx([before[0] + 0.5, before[1] + 5], abs=0.01)
    expect(pick).to_be_focused()
    assert re.search(r"^4, .+ at \d+ % across and \d+ % down$", pick.get_attribute("aria-label"))


def test_a_finger_takes_a_pick_by_48_pixels(shore):
    pick = shore.locator("button.pick-at").nth(4)
    box = pick.bounding_box()
    assert (box["width"], box["height"]) == (48, 48)
    shore.evaluate("scrollTo(0, 0)")
    start = on_screen(shore, *place(shore, 5))
    end = on_screen(shore, 20, 20)
    phone = shore.context.new_cdp_session(shore)
    phone.send("Emulation.setTouchEmulationEnabled", {"enabled": True})
    grip = (start[0] + 18, start[1] + 12)  # not the middle: within the 24 px all the same
    for kind, at in (("touchStart", grip), ("touchMove", (end[0], end[1])), ("touchMove", (end[0] + 18, end[1] + 12))):
        phone.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": at[0], "y": at[1]}]})
    phone.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    assert place(shore, 5) == pytest.approx([20, 20], abs=1.5)
    expect(shore.locator(".picture-colours h3").nth(4)).not_to_have_text(re.compile("red"))


def test_another_number_of_colours_brings_its_picks_and_keeps_typed_names(shore):
    shore.get_by_label("Its name").fill("Low tide")
    shore.get_by_text("Names of its colours").click()
    shore.locator("[name='name.1']").fill("dune")
    shore.select_option("#k", "6")

    expect(shore.locator("button.pick-at")).to_have_count(6)
    expect(shore.locator("[name='name.1']")).to_have_value("dune")
    expect(shore.get_by_label("Its name")).to_have_value("Low tide")


def test_a_wrong_place_is_said_at_once_and_stays_in_its_field(shore):
    shore.get_by_text("Where each colour is read").click()
    shore.locator("[name='pick.1']").fill("200, 3")
    shore.locator("[name='pick.1']").press("Tab")

    expect(shore.locator("[data-part=places] .wrong")).to_contain_text("is not two numbers from 0 to 100")
    expect(shore.locator("[name='pick.1']")).to_have_value("200, 3")


def test_the_switch_brings_the_palette_in_harmony_and_keeps_the_focus(shore):
    shore.get_by_text("Where each colour is read").click()
    shore.locator("[name='pick.3']").fill("5, 70")  # lichen: a vivid amber
    shore.get_by_label("in harmony").check(force=True)

    expect(shore.locator(".harmony")).to_be_visible()
    expect(shore.get_by_label("in harmony")).to_be_focused()
    expect(shore.locator(".verdict")).to_contain_text("in harmony")
    assert "fit=harmony" in shore.url
