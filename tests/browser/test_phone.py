"""What a phone's width must not take away."""

import pytest
from playwright.sync_api import expect


@pytest.mark.browser
def test_the_head_takes_two_lines_and_always_says_that_data_is_invented(page, address):
    page.goto(f"{address}/demo/")
    assert page.locator(".top").bounding_box()["height"] <= 96  # two lines of at least 44 px
    mark = page.locator(".whose .invented")
    assert mark.evaluate("element => element.scrollWidth <= element.clientWidth")
    assert mark.bounding_box()["x"] + mark.bounding_box()["width"] <= page.viewport_size["width"]


@pytest.mark.browser
def test_ways_to_begin_come_before_old_lots(page, address):
    page.goto(f"{address}/demo/")
    begin = page.get_by_role("heading", name="Or begin with").bounding_box()
    kept = page.get_by_role("heading", name="Kept last").bounding_box()
    assert begin["y"] < kept["y"]


@pytest.mark.browser
def test_the_answer_is_on_the_screen_when_the_sheet_is_made(page, address):
    page.goto(f"{address}/demo/")
    page.get_by_label("Dry yarn").fill("250 g")
    page.get_by_label("Dye and depth").fill("Lagoon 0.8 %")
    page.get_by_role("button", name="Make the sheet").click()
    expect(page.locator("#sheet-title")).to_be_in_viewport()
    expect(page.get_by_role("button", name="Keep this plan")).to_be_in_viewport()


@pytest.mark.browser
def test_an_error_far_down_a_form_is_brought_into_view(page, address):
    page.goto(f"{address}/demo/colours/new")
    page.get_by_label("The colour", exact=True).fill("47 -21 -9")
    page.get_by_label("Dry yarn").fill("heavy")
    page.get_by_role("button", name="Find recipes").click()
    expect(page.locator(".wrong")).to_be_in_viewport()
    expect(page.get_by_label("Dry yarn")).to_be_focused()
    expect(page.get_by_label("The colour", exact=True)).to_have_value("47 -21 -9")


@pytest.mark.browser
def test_every_swatch_can_be_removed_without_scrolling_sideways(page, address):
    page.goto(f"{address}/demo/shelf/swatches")
    assert page.locator(".ladders").first.evaluate("element => element.scrollWidth <= element.clientWidth")
    page.locator(".rung").first.click()
    expect(page.get_by_role("button", name="Remove this swatch")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
