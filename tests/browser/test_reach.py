"""Series, maps and shelf advice in Chromium: they fit a phone, and nothing serious stands in a reader's way."""

import pytest

PAGES = (
    "/demo/colours/series",
    "/demo/colours/series?from=undyed&to=35+-15+-20&skeins=7",
    "/demo/colours/series?shape=grid&a=Gorse&b=Deepwater&c=Foxglove&side=8",
    "/demo/colours/series?from=teal&to=x",
    "/demo/reach",
    "/demo/reach?lightness=70&hue=92",
    "/demo/shelf/advice",
)

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_their_width_and_axe_finds_nothing_serious(page, address, faults_of, path):
    page.goto(address + path)
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert faults_of(page) == []


def test_advice_is_asked_for_and_given(page, address, faults_of):
    page.goto(f"{address}/demo/shelf/advice")
    page.get_by_label("and colours, one a line").fill("60 -55 40")
    page.get_by_label("Dyes, one a line").fill("Spring green lab 60 -55 40 at 1 %\nMouse #8a8478 at 1 %")
    page.get_by_role("button", name="Advise me").click()

    assert page.get_by_text("With Spring green 1 of 1 colour comes within").is_visible()
    page.get_by_text("Colour by colour").first.click()
    assert faults_of(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_series_begins_from_a_colour_that_is_kept(page, address):
    page.goto(f"{address}/demo/colours/series")
    page.get_by_text("An end from what you have").click()
    page.locator("li", has_text="Harbour dusk").first.get_by_role("link", name="as the first").click()
    page.get_by_label("The last skein").fill("80 0 20")
    page.get_by_role("button", name="Space them evenly").click()
    assert page.get_by_text("7 skeins, each ΔE").is_visible()
