"""The colour pages in Chromium: the slider shows its consequence, other light is looked at, nothing spills over."""

import re

import pytest

PAGES = ("/demo/colours", "/demo/colours/new", "/demo/colours/new?target=45+-20+-5", "/demo/shelf/swatches")

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_their_width_and_axe_finds_nothing_serious(page, address, faults_of, path):
    page.goto(address + path)
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert faults_of(page) == []


def test_a_slider_moves_the_foretold_colour_and_the_grams(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    foretold = page.locator("[data-under=D65] > div").nth(1)
    before = foretold.evaluate("node => getComputedStyle(node).backgroundColor")
    slider = page.locator("[data-slider]").first
    slider.get_by_role("slider").focus()
    with page.expect_response(re.compile("/colours/mixture")):
        page.keyboard.press("End")

    page.wait_for_function(
        "before => getComputedStyle(document.querySelectorAll('[data-under=D65] > div')[1]).backgroundColor !== before",
        arg=before,
    )
    top = slider.locator("input[type=hidden]").input_value()
    number = slider.locator("input[inputmode]").input_value()
    assert float(number) == pytest.approx(float(top))
    assert f"{number.rstrip('0').rstrip('.')}" in page.locator("[data-part=answer] a").get_attribute("href")


def test_the_pair_is_looked_at_under_a_lamp(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    assert page.locator("[data-under=D65]").is_visible()
    page.get_by_role("radio", name="Lamp").check()
    assert page.locator("[data-under=A]").is_visible()
    assert not page.locator("[data-under=D65]").is_visible()


def test_a_recipe_slip_puts_its_dyes_in_hand(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    slip = page.locator(".recipes a").nth(1)
    dyes = slip.locator(".slip-dyes").inner_text()
    slip.click()
    page.wait_for_load_state()
    assert [name.inner_text() for name in page.locator(".slider-name").all()] == [
        re.sub(r" [\d.]+\s%$", "", part) for part in dyes.split(", ")
    ]
    assert page.locator(".recipes a[aria-current=true] .slip-dyes").inner_text() == dyes


def test_a_colour_is_kept_with_the_depths_as_moved(page, address):
    page.goto(f"{address}/demo/colours/new?target=45+-20+-5")
    page.locator("[data-slider] input[inputmode]").first.fill("0.4")
    page.get_by_label("Name of the colour").fill("Evening slack water")
    page.get_by_role("button", name="Keep the colour").click()
    page.wait_for_url(re.compile(r"/demo/colours/\d+$"))
    assert page.get_by_role("heading", level=1).inner_text() == "Evening slack water"
    assert page.locator("[data-slider] input[inputmode]").first.input_value() == "0.4"
